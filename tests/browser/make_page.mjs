// Makes the pages that the tests open: node make_page.mjs FOLDER SAMPLES GENERATOR EARSHOT MAKE_PAGE

import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';

const [folder, samples, generate, earshot, makePage] = process.argv.slice(2);
const run = (program, ...words) => execFileSync(program, words, { cwd: folder, stdio: 'inherit' });

mkdirSync(folder, { recursive: true });

// The invented valley with its net, in UTM.
for (const file of ['valley-scenario.toml', 'valley-places.csv']) {
  copyFileSync(join(samples, file), join(folder, file));
}
run(generate, 'valley', 'valley.tif');
const stations = ['Veldrath Top', 'Ombrel Mill', 'Tarnicourt Camp', 'Sisk Clinic Tent', 'Nessavin', 'Drumacre Farm'];
run(
  earshot,
  'map',
  '--scenario',
  'valley-scenario.toml',
  ...stations.flatMap((station) => ['--at', station]),
  '--range',
  '12km',
  '--bands',
  'margin,chance,heard,serving',
  '--out',
  'map.tif',
);
run(makePage, 'valley-scenario.toml', 'map.tif', 'page.html');

// Real ground in degrees, one station, and the chance of contact.
const ground = join(samples, 'cumberland_3arcsec.tif');
run(
  earshot,
  'map',
  '--terrain',
  ground,
  '--at',
  '36.5792,-84.2108',
  '--name',
  'Ridge station',
  '--frequency',
  '146MHz',
  '--power',
  '5W',
  '--range',
  '18km',
  '--bands',
  'margin,chance',
  '--out',
  'ridge.tif',
);
run(makePage, ground, 'ridge.tif', 'ridge.html');
