// A picture of the head of a page, as a reader first sees it.
//
//   node picture.mjs PATH/review.html OUT.png [height px, default 1500] [dark]
import { existsSync } from 'node:fs';
import { resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { chromium } from 'playwright-core';

const [file, out, height = '1500', theme = 'light'] = process.argv.slice(2);
if (!file || !out || !existsSync(file)) {
  console.error('Usage: node picture.mjs PATH/review.html OUT.png [height] [dark]');
  process.exit(2);
}
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
    '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});
const context = await browser.newContext({
  viewport: { width: 900, height: Number(height) },
  colorScheme: theme,
});
const page = await context.newPage();
await page.goto(pathToFileURL(resolve(file)).href);
await page.screenshot({ path: resolve(out) });
await browser.close();
