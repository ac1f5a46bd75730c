// Checks of a rendered review in a real browser.
//
//   node check.mjs PATH/review.html               checks the page
//   node check.mjs --self-test PATH/review.html   breaks copies of it, one way
//                                                 each, and asks that the right
//                                                 check catches each
//   node check.mjs --comma PATH/review.html       a page whose decimals follow a
//                                                 comma
//
// Needs `npm ci` in this folder, Chromium (CHROMIUM=path, default
// /usr/bin/chromium) and pdftotext. Ends with "N passed, N failed"; exit code 1
// where one failed, 2 where nothing could be checked.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { CHECKS } from './checks.mjs';
import { BREAKAGES } from './breakages.mjs';

const FLAGS = [
  '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
  '--disable-background-networking', '--disable-component-update', '--disable-sync',
];

function stop(words) {
  console.error(words);
  process.exit(2);
}

/** What the checks share: browser, axe's source, a folder for what they write. */
async function tools() {
  const chromium = process.env.CHROMIUM ?? '/usr/bin/chromium';
  if (!existsSync(chromium)) stop(`No browser at ${chromium}: set CHROMIUM.`);
  try {
    execFileSync('pdftotext', ['-v'], { stdio: 'ignore' });
  } catch {
    stop('No pdftotext: install poppler-utils.');
  }
  const here = new URL('./node_modules/', import.meta.url);
  if (!existsSync(here)) stop('No node_modules: run `npm ci` in tests/browser.');
  const playwright = await import('playwright-core');
  const axe = readFileSync(new URL('axe-core/axe.min.js', here), 'utf8');
  const folder = mkdtempSync(join(tmpdir(), 'browser-check-'));
  const browser = await playwright.chromium.launch({ executablePath: chromium, args: FLAGS });
  return { browser, axe, folder, decimal: args.includes('--comma') ? ',' : '.' };
}

/** Runs one check; the words of what is wrong, or null. */
async function outcome(check, kit, url) {
  try {
    return (await check.run(kit, url)) || null;
  } catch (error) {
    return `could not be checked: ${error.message}`;
  }
}

async function checkPage(kit, file) {
  const url = pathToFileURL(file).href;
  const failures = [];
  for (const check of CHECKS) {
    const wrong = await outcome(check, kit, url);
    console.log(wrong ? `FAILED  ${check.name}: ${wrong}` : `ok      ${check.name}`);
    if (wrong) failures.push(check.name);
  }
  return [CHECKS.length - failures.length, failures.length];
}

/** Each breakage must be caught by its check, which must pass the sound page. */
async function selfTest(kit, file) {
  const sound = readFileSync(file, 'utf8');
  let [passed, failed] = [0, 0];
  for (const breakage of BREAKAGES) {
    const check = CHECKS.find((c) => c.name === breakage.caughtBy);
    const broken = breakage.apply(sound);
    const copy = join(kit.folder, 'broken.html');
    writeFileSync(copy, broken);
    const before = await outcome(check, kit, pathToFileURL(file).href);
    const after = await outcome(check, kit, pathToFileURL(copy).href);
    const caught = broken !== sound && !before && after && breakage.says.test(after);
    const words = caught ? after : `sound page: ${before}; broken page: ${after}`;
    console.log(`${caught ? 'caught ' : 'MISSED '} ${breakage.name}: ${words}`);
    if (caught) passed += 1;
    else failed += 1;
  }
  return [passed, failed];
}

const args = process.argv.slice(2);
const file = args.filter((a) => !a.startsWith('--'))[0];
if (!file || !existsSync(file)) stop('Name a review.html that exists.');
const kit = await tools();
const run = args.includes('--self-test') ? selfTest : checkPage;
const [passed, failed] = await run(kit, resolve(file));
await kit.browser.close();
rmSync(kit.folder, { recursive: true, force: true });
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
