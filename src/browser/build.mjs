// Bundles the page into one template and writes it as a C++ source: node build.mjs OUT.cpp

import { createHash } from 'node:crypto';
import { readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const here = dirname(fileURLToPath(import.meta.url));
const out = process.argv[2];

async function bundle(entry) {
  const result = await build({
    absWorkingDir: here,
    entryPoints: [entry],
    bundle: true,
    minify: true,
    write: false,
    format: 'iife',
    // The same files that Node.js takes when it tests the modules.
    mainFields: ['main'],
    target: ['es2020', 'safari15', 'chrome90', 'firefox90'],
    loader: { '.png': 'dataurl' },
    // The licences of the libraries ask that their notices go with every copy.
    legalComments: 'inline',
    charset: 'ascii',
    logLevel: 'warning',
  });
  return result.outputFiles[0].text.trim();
}

// What a policy with this hash allows is this very text and nothing else.
function allowed(text) {
  return `'sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}'`;
}

const script = await bundle('main.js');
const style = await bundle('page.css');
if (/<\/(script|style)/i.test(script + style)) {
  throw new Error('the bundle would end the element that holds it');
}

const policy = [
  "default-src 'none'",
  `script-src ${allowed(script)}`,
  `style-src ${allowed(style)}`,
  'img-src data:',
  "base-uri 'none'",
  "form-action 'none'",
].join('; ');

const page = readFileSync(join(here, 'page.html'), 'utf8')
  .replace('{{policy}}', () => policy)
  .replace('{{style}}', () => style)
  .replace('{{script}}', () => script);

const mark = 'EARSHOT_PAGE';
if (page.includes(`)${mark}"`)) {
  throw new Error('the page holds the mark that ends a C++ string');
}
// In pieces: compilers limit the length of one literal. None may start within a character, which
// plain ASCII makes sure of.
if (/[^\x00-\x7f]/.test(page)) {
  throw new Error('the page must be plain ASCII; write other characters as entities');
}
const pieces = page.match(/[^]{1,16000}/g).map((piece) => `R"${mark}(${piece})${mark}"`);
writeFileSync(
  out,
  `#include "report/files/browser_page.hpp"\n\nnamespace earshot::report {\n\n` +
    `std::string_view browser_template() {\n    return ${pieces.join('\n')};\n}\n\n` +
    `} // namespace earshot::report\n`,
);
