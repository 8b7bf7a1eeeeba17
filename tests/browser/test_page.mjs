// The page in Chromium, opened from disk. What it shows is held against the map's GeoTIFF, read
// with GDAL's own gdallocationinfo.

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { readFileSync, statSync } from 'node:fs';
import { createRequire } from 'node:module';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';
import { openPage } from './browser.mjs';

const folder = process.env.EARSHOT_PAGE_FOLDER;
const file = join(folder, 'page.html');
const map = join(folder, 'map.tif');
const axe = createRequire(import.meta.url)('axe-core').source;

let page;
let requests;
let faults;
let close;

before(async () => {
  ({ page, requests, faults, close } = await openPage(file));
  await page.waitForSelector('html[data-ready]');
});
after(() => close());

// What the bands of a raster hold at a position in degrees; -9999 for nothing.
function raster(source, latitude, longitude) {
  const words = execFileSync('gdallocationinfo', ['-valonly', '-wgs84', source, String(longitude), String(latitude)], { encoding: 'utf8' });
  return words.trim() === '' ? [-9999] : words.trim().split('\n').map(Number);
}

const plain = (text) => text.replaceAll('\u2212', '-');
const fact = async (label) => plain(await page.locator(`#reading dt:text-is("${label}") + dd`).textContent());
const margin = async () => Number.parseFloat(plain(await page.textContent('#margin')));
const position = async () => (await fact('Position')).split(', ').map(Number);

// A mark of how the map looks, to see whether it changes.
async function looks() {
  await page.evaluate(() => document.activeElement.blur());
  await page.mouse.move(1, 1);
  await page.waitForTimeout(600);
  const picture = await page.locator('#map').screenshot();
  return createHash('sha256').update(picture).digest('hex');
}

test('it asks for nothing but itself, and nothing can make it', async () => {
  assert.deepEqual(requests, [pathToFileURL(file).href]);
  assert.deepEqual(faults, []);
  let connections = 0;
  const server = createServer((socket) => {
    connections += 1;
    socket.destroy();
  });
  await new Promise((resolve) => {
    server.listen(0, '127.0.0.1', resolve);
  });
  await page.evaluate(async (address) => {
    await new Promise((resolve) => {
      const image = new Image();
      image.onerror = resolve;
      image.onload = resolve;
      image.src = `${address}/picture.png`;
    });
    await fetch(address).catch(() => {});
  }, `http://127.0.0.1:${server.address().port}`);
  server.close();
  assert.equal(connections, 0);
  // What the policy has just complained of is not the page's own doing.
  requests.length = 1;
  faults.length = 0;
});

test('it is small enough to hand around', () => {
  assert.ok(statSync(file).size < 8e6, `${statSync(file).size} bytes`);
});

test('a click shows the margin that the raster holds there', async () => {
  const box = await page.locator('#map').boundingBox();
  let read = 0;
  for (const [across, down] of [[0.35, 0.35], [0.5, 0.5], [0.62, 0.41], [0.44, 0.77], [0.7, 0.6], [0.3, 0.72], [0.58, 0.2], [0.66, 0.83]]) {
    await page.mouse.click(box.x + across * box.width, box.y + down * box.height);
    // A second click at once would be a double click, which zooms.
    await page.waitForTimeout(600);
    if ((await page.locator('#margin').count()) === 0) {
      continue;
    }
    const [marginDb, , , serving] = raster(map, ...(await position()));
    assert.ok(Math.abs((await margin()) - marginDb) <= 0.1, `${await margin()} for ${marginDb}`);
    const stations = ['Veldrath Top', 'Ombrel Mill', 'Tarnicourt Camp', 'Sisk Clinic Tent', 'Nessavin', 'Drumacre Farm'];
    if (serving > 0) {
      assert.equal(await fact('Best heard'), stations[serving - 1]);
    }
    read += 1;
  }
  assert.ok(read >= 5, `${read} of the clicks met known cells`);
});

test('the cell read is the one under the pointer', async () => {
  // The second argument of raster() above comes from the page itself, so the place has to be
  // checked as well: zoomed in on a station, the pointer on its mark reads its own position.
  await page.locator('#stations button', { hasText: 'Ombrel Mill' }).click();
  const [latitude, longitude] = await position();
  // dem-samples/valley-places.csv; half of a cell of 30 m is 0.00014 degrees of latitude.
  assert.ok(Math.abs(latitude - 35.489252) < 0.00015);
  assert.ok(Math.abs(longitude - 16.919453) < 0.00018);
  const mark = await page.locator('.leaflet-marks-pane .mark').nth(1).boundingBox();
  await page.mouse.click(mark.x + mark.width / 2, mark.y + mark.height / 2);
  await page.waitForTimeout(600);
  const [again, east] = await position();
  // One pixel of the whole map is about 1.4 cells.
  assert.ok(Math.abs(again - latitude) < 0.0006 && Math.abs(east - longitude) < 0.0007);
});

test('places all over the map read as the raster does, in its own class', async () => {
  // Asked for through the field for positions.
  const cells = [];
  for (let i = 0; i < 60; i += 1) {
    cells.push([35.4 + 0.0037 * ((i * 17) % 60), 16.8 + 0.0041 * ((i * 29) % 60)]);
  }
  let read = 0;
  for (const [latitude, longitude] of cells) {
    await page.fill('.go-to input', `${latitude.toFixed(6)}, ${longitude.toFixed(6)}`);
    await page.click('.go-to button');
    const [marginDb] = raster(map, latitude, longitude);
    if (marginDb === -9999) {
      assert.equal(await page.locator('#margin').count(), 0);
      continue;
    }
    assert.ok(Math.abs((await margin()) - marginDb) <= 0.1);
    // Readability of a margin: docs/woods-and-noise.md.
    const level = [16, 6, 0, -3, -6].findIndex((least) => marginDb >= least);
    const words = await page.textContent('#reading .meaning');
    assert.match(words, new RegExp(`readability ${level < 0 ? 0 : 5 - level} of 5`));
    read += 1;
  }
  assert.ok(read > 40, `${read}`);
});

test('heights are those of the ground', async () => {
  await page.fill('.go-to input', '35.50, 16.90');
  await page.click('.go-to button');
  const [height] = raster(join(folder, 'valley.tif'), 35.5, 16.9);
  assert.equal(await fact('Ground'), `${Math.round(height)} m above sea level`);
});

test('the grid square is the one that GDAL finds', async () => {
  await page.fill('.go-to input', '35.50, 16.90');
  await page.click('.go-to button');
  const [latitude, longitude] = await position();
  const [east, north] = execFileSync('gdaltransform', ['-s_srs', 'EPSG:4326', '-t_srs', 'EPSG:32633', '-output_xy'], {
    input: `${longitude} ${latitude}\n`,
    encoding: 'utf8',
  })
    .trim()
    .split(' ')
    .map(Number);
  const [square, easting, northing] = (await fact('MGRS')).split(' ');
  assert.equal(square, '33SXV');
  // Positions are shown to 0.00001 degrees, about a metre.
  assert.ok(Math.abs(Number(easting) - (east % 100000)) < 2);
  assert.ok(Math.abs(Number(northing) - (north % 100000)) < 2);
});

test('layers go on and off', async () => {
  for (const layer of ['coverage', 'relief', 'stations', 'places', 'links', 'contours', 'graticule']) {
    const box = page.locator(`#layer-${layer}`);
    const first = await looks();
    await box.click();
    const second = await looks();
    assert.notEqual(second, first, `${layer} changes nothing`);
    await box.click();
    assert.equal(await looks(), first, `${layer} does not come back`);
  }
  await page.locator('#layer-stations').uncheck();
  assert.equal(await page.locator('.label.station').count(), 0);
  await page.locator('#layer-stations').check();
  assert.equal(await page.locator('.label.station').count(), 6);
});

test('the map zooms and moves', async () => {
  const first = await looks();
  await page.click('.leaflet-control-zoom-in');
  assert.notEqual(await looks(), first);
  await page.click('.leaflet-control-zoom-out');
  assert.equal(await looks(), first);
});

test('labels cover neither one another nor a mark', async () => {
  const boxes = await page.evaluate(() =>
    [...document.querySelectorAll('.label:not(.hidden)')].map((label) => {
      const { left, top, right, bottom } = label.getBoundingClientRect();
      return { left, top, right, bottom, text: label.textContent };
    }),
  );
  assert.ok(boxes.length >= 8);
  for (const a of boxes) {
    for (const b of boxes) {
      assert.ok(a === b || a.left >= b.right || b.left >= a.right || a.top >= b.bottom || b.top >= a.bottom, `${a.text} on ${b.text}`);
    }
  }
});

test('the keyboard does all that a mouse does', async () => {
  await page.reload();
  await page.waitForSelector('html[data-ready]');
  const focused = () => page.evaluate(() => document.activeElement.id || document.activeElement.textContent);
  let steps = 0;
  while ((await focused()) !== 'map' && steps < 20) {
    await page.keyboard.press('Tab');
    steps += 1;
  }
  assert.equal(await focused(), 'map');
  assert.ok(await page.locator('.cross').isVisible());
  await page.keyboard.press('+');
  await page.waitForTimeout(400);
  await page.keyboard.press('ArrowLeft');
  await page.waitForTimeout(400);
  await page.keyboard.press('Enter');
  const [marginDb] = raster(map, ...(await position()));
  assert.ok(Math.abs((await margin()) - marginDb) <= 0.1);
  assert.match(plain(await page.textContent('#status')), /margin [-+]?\d+\.\d dB, chance of contact/);
  // On from the map, over the zoom buttons, to the field and the list of stations.
  for (steps = 0; (await page.evaluate(() => document.activeElement.getAttribute('aria-pressed'))) === null && steps < 20; steps += 1) {
    await page.keyboard.press('Tab');
  }
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  assert.equal(await page.evaluate(() => document.activeElement.getAttribute('aria-pressed')), 'true');
  assert.ok(await page.locator('#reading svg.section').isVisible());
});

test('the ground in the picture of a path is that of the path', async () => {
  // The picture at a click and the one of the path card are drawn from different data: the page's
  // own heights, and the program's profile. At a station's place they show the same obstacle.
  await page.locator('#stations button', { hasText: 'Ombrel Mill' }).click();
  await page.locator('#reading button', { hasText: 'Nessavin' }).click();
  const own = await page.textContent('#reading figcaption p');
  const card = await page.locator('#paths article', { hasText: 'Nessavin to Ombrel Mill' }).locator('figcaption p').first().textContent();
  const numbers = (text) => text.match(/[\d.]+/g).map(Number);
  assert.match(own, /No line of sight/);
  assert.match(card, /No line of sight/);
  // The antenna at the mill stands 9 m up, the listener's 1.5 m.
  assert.ok(Math.abs(numbers(own)[0] - numbers(card)[0]) < 0.3, `${own} ${card}`);
  assert.ok(Math.abs(numbers(own)[1] - numbers(card)[1]) < 6, `${own} ${card}`);
});

test('axe finds nothing', async () => {
  for (const viewport of [{ width: 1280, height: 860 }, { width: 390, height: 844 }]) {
    await page.setViewportSize(viewport);
    if (await page.locator('#handle').isVisible()) {
      await page.click('#handle'); // brings the sheet up over the map
    }
    await page.locator('summary').first().click();
    await page.evaluate(axe);
    const found = await page.evaluate(() => window.axe.run({ resultTypes: ['violations'] }));
    const words = found.violations.map((each) => `${each.id}: ${each.nodes.map((node) => node.html).slice(0, 3).join(' | ')}`);
    assert.deepEqual(words, []);
    assert.ok(found.passes.length > 15);
  }
});

test('a narrow screen is not scrolled sideways', async () => {
  await page.setViewportSize({ width: 360, height: 740 });
  const [content, screen] = await page.evaluate(() => [document.documentElement.scrollWidth, window.innerWidth]);
  assert.ok(content <= screen, `${content} on ${screen}`);
});

test('on a phone the map fills the screen, and the sheet scrolls by itself', async (t) => {
  const phone = await openPage(file, { viewport: { width: 390, height: 844 } });
  t.after(() => phone.close());
  await phone.page.waitForSelector('html[data-ready]');
  const map = await phone.page.locator('#map').boundingBox();
  assert.equal(map.width, 390);
  assert.ok(map.height >= 0.7 * 844, `${map.height} of 844`);
  const scrolls = () => phone.page.evaluate(() => [document.documentElement, document.body].some((each) => each.scrollHeight > window.innerHeight));
  assert.equal(await scrolls(), false);
  assert.equal(await phone.page.locator('#sheet').isVisible(), false);
  await phone.page.click('#handle');
  assert.ok(await phone.page.locator('#reading').isVisible());
  assert.equal(await scrolls(), false);
  await phone.page.evaluate(() => document.querySelector('#net').scrollIntoView());
  const table = phone.page.locator('.matrix');
  assert.ok(await table.isVisible());
  // The table is wider than the screen, and moves under its names alone.
  const name = table.locator('tbody th').first();
  const before = await name.boundingBox();
  const cell = table.locator('tbody tr').first().locator('td').last();
  const away = (await cell.boundingBox()).x;
  await table.evaluate((element) => {
    element.parentElement.scrollLeft = 1000;
  });
  if (await table.evaluate((element) => element.scrollWidth > element.parentElement.clientWidth)) {
    assert.ok((await cell.boundingBox()).x < away);
  }
  assert.equal((await name.boundingBox()).x, before.x);
  await phone.page.click('#handle');
  assert.equal(await phone.page.locator('#sheet').isVisible(), false);
  assert.deepEqual(phone.faults, []);
});

test('the printed page has the map on it', async () => {
  await page.setViewportSize({ width: 1280, height: 860 });
  await page.waitForTimeout(400);
  const pdf = join(folder, 'printed.pdf');
  await page.pdf({ path: pdf, format: 'A4', printBackground: true });
  execFileSync('pdftoppm', ['-r', '50', '-f', '1', '-l', '1', '-singlefile', pdf, join(folder, 'printed')]);
  // A P6 picture: three bytes for each pixel after the third line.
  const picture = readFileSync(join(folder, 'printed.ppm'));
  const [, width, height] = picture.subarray(0, 30).toString('latin1').match(/^P6\s+(\d+)\s+(\d+)\s+255\s/).map(Number);
  const pixels = picture.subarray(picture.length - 3 * width * height);
  let violet = 0;
  for (let at = 0; at < pixels.length; at += 3) {
    // The strongest class is far bluer than it is green (OKLCH hue 285), as nothing else is.
    violet += pixels[at + 2] - pixels[at + 1] > 60 ? 1 : 0;
  }
  assert.ok(violet > 0.1 * width * height, `${violet} of ${width * height}`);
});

test('a finished map in degrees, of one station alone', async (t) => {
  const ridge = await openPage(join(folder, 'ridge.html'));
  t.after(() => ridge.close());
  await ridge.page.waitForSelector('html[data-ready]');
  const ground = execFileSync('gdalinfo', ['-json', join(folder, 'ridge.tif')], { encoding: 'utf8' });
  assert.match(JSON.parse(ground).coordinateSystem.wkt, /^GEOGCRS/);
  let read = 0;
  for (let i = 0; i < 40; i += 1) {
    const latitude = 36.45 + 0.0065 * ((i * 7) % 40);
    const longitude = -84.36 + 0.0075 * ((i * 11) % 40);
    await ridge.page.fill('.go-to input', `${latitude.toFixed(6)}, ${longitude.toFixed(6)}`);
    await ridge.page.click('.go-to button');
    const [marginDb, chance] = raster(join(folder, 'ridge.tif'), latitude, longitude);
    if (marginDb === -9999) {
      continue;
    }
    const shown = await ridge.page.locator('.figures .number').allTextContents();
    assert.ok(Math.abs(Number.parseFloat(plain(shown[0])) - marginDb) <= 0.1, `${shown[0]} for ${marginDb}`);
    if (chance >= 1 && chance <= 99) {
      assert.ok(Math.abs(Number.parseFloat(shown[1]) - chance) <= 0.51, `${shown[1]} for ${chance}`);
    }
    read += 1;
  }
  assert.ok(read > 25, `${read}`);
  assert.deepEqual(ridge.faults, []);
  await ridge.page.evaluate(axe);
  const found = await ridge.page.evaluate(() => window.axe.run({ resultTypes: ['violations'] }));
  assert.deepEqual(found.violations.map((each) => each.id), []);
});

test('nothing went wrong on the way', () => {
  assert.deepEqual(faults, []);
  assert.ok(requests.every((url) => url === pathToFileURL(file).href), requests.join(' '));
});
