// Opens a file in Debian's Chromium and keeps account of what it asks for.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

const args = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export async function openPage(file, options = {}) {
  const profile = mkdtempSync(join(tmpdir(), 'earshot-browser-'));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.EARSHOT_CHROMIUM || '/usr/bin/chromium',
    args,
    viewport: { width: 1280, height: 860 },
    ...options,
  });
  const requests = [];
  const faults = [];
  context.on('request', (request) => requests.push(request.url()));
  const page = await context.newPage();
  page.on('pageerror', (error) => faults.push(String(error)));
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') {
      faults.push(message.text());
    }
  });
  await page.goto(pathToFileURL(file).href);
  const close = async () => {
    await context.close();
    rmSync(profile, { recursive: true, force: true });
  };
  return { page, requests, faults, close };
}
