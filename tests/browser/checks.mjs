// What is checked. A check's `run` gives back the words of what is wrong, or
// nothing.
import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';

const THEMES = ['light', 'dark'];
const WIDTHS = [1000, 390, 320];
/** WCAG 2.2 A and AA, and axe's best practice. */
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** Opens the page, hands it to `use`, and closes it again. */
async function withPage(kit, url, { width = 1000, theme = 'light', forced = 'none' }, use) {
  const context = await kit.browser.newContext({
    viewport: { width, height: 900 },
    colorScheme: theme,
    forcedColors: forced,
  });
  const page = await context.newPage();
  const heard = { errors: [], requests: [] };
  page.on('console', (m) => m.type() === 'error' && heard.errors.push(m.text()));
  page.on('pageerror', (e) => heard.errors.push(String(e)));
  page.on('request', (r) => heard.requests.push(r.url()));
  await page.goto(url);
  const found = await use(page, heard);
  await context.close();
  return found;
}

const unfold = (page) =>
  page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));

async function axe(kit, page) {
  await unfold(page);
  await page.evaluate(kit.axe);
  const violations = await page.evaluate(async (tags) => {
    const result = await window.axe.run(document, { runOnly: tags });
    return result.violations.map((v) => `${v.id} (${v.nodes.length}, first ${v.nodes[0].target})`);
  }, RULES);
  return violations.join('; ');
}

const accessible = THEMES.flatMap((theme) => WIDTHS.map((width) => ({
  name: `axe finds nothing, ${theme}, ${width} px`,
  run: (kit, url) => withPage(kit, url, { theme, width }, (page) => axe(kit, page)),
})));

const quiet = {
  name: 'nothing is reported on the console',
  run: (kit, url) => withPage(kit, url, {}, async (page, heard) => {
    await unfold(page);
    const button = page.locator('th button').first();
    if (await button.count()) await button.click();
    return heard.errors.join('; ');
  }),
};

/** From an index to a month's page beside it, and that page is there. */
const toMonth = (url, href) =>
  /^\d{4}-\d{2}\/review\.html$/.test(href) && existsSync(new URL(href, url));

const alone = {
  name: 'no request leaves the page',
  run: (kit, url) => withPage(kit, url, {}, async (page, heard) => {
    await unfold(page);
    await page.waitForTimeout(300);
    const links = await page.$$eval('a[href]', (all) =>
      all.map((a) => a.getAttribute('href')).filter((href) => !href.startsWith('#')));
    const lost = links.filter((href) => !toMonth(url, href));
    const strangers = heard.requests.filter((r) => r !== url && !r.startsWith('data:'));
    return [...strangers, ...lost].join('; ');
  }),
};

/** Whether all that is unfolded fits the width. */
async function sideways(page) {
  await unfold(page);
  const [wide, room] = await page.evaluate(() =>
    [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
  return wide > room ? `the page is ${wide} px wide in ${room} px` : '';
}

const noSideways = {
  name: 'nothing scrolls sideways at 320 px',
  run: (kit, url) => withPage(kit, url, { width: 320 }, sideways),
};

/** Width between the margins of 13 mm that the style sheet sets, in px of 1/96 inch. */
const SHEETS = { A4: (210 - 26) / 25.4, Letter: 8.5 - 26 / 25.4 };

const onPaper = Object.entries(SHEETS).map(([format, inches]) => ({
  name: `printed on ${format}, nothing is wider than the paper`,
  run: (kit, url) => withPage(kit, url, { width: Math.floor(inches * 96) }, async (page) => {
    await page.emulateMedia({ media: 'print' });
    return sideways(page);
  }),
}));

/** Marks and words of drawings that the reader's own colours make too weak:
    3:1 for marks, 4.5:1 for words (WCAG 2.2, 1.4.3 and 1.4.11). Grid and ground
    only guide the eye, and a wash has an edge of full strength. */
const forcedWeak = (page) => page.evaluate(() => {
  const parts = (colour) => colour.match(/[\d.]+/g).map(Number);
  const light = (colour) => {
    const [r, g, b] = parts(colour).map((v) => v / 255)
      .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ground = getComputedStyle(document.documentElement).backgroundColor;
  const contrast = (a, b) => (Math.max(light(a), light(b)) + 0.05) / (Math.min(light(a), light(b)) + 0.05);
  const found = new Set();
  let seen = 0;
  for (const mark of document.querySelectorAll('figure svg [class]')) {
    const kind = mark.getAttribute('class').match(/^([fsd])-(\w+)/);
    if (!kind || !mark.getClientRects().length || ['grid', 'paper'].includes(kind[2])) continue;
    const style = getComputedStyle(mark);
    const opacity = Number(kind[1] === 'f' ? style.fillOpacity : style.strokeOpacity);
    if (kind[1] === 'f' && opacity < 0.5) continue;
    const ink = kind[1] === 'f' ? style.fill : style.stroke;
    const mixed = parts(ink).slice(0, 3).map((v, i) => opacity * v + (1 - opacity) * parts(ground)[i]);
    const least = mark.tagName === 'text' ? 4.5 : 3;
    const is = contrast(`rgb(${mixed})`, ground);
    seen += 1;
    if (is < least) found.add(`${kind[0]} ${is.toFixed(1)}:1`);
  }
  const active = matchMedia('(forced-colors: active)').matches;
  if (!active) return 'the browser forces no colours';
  return seen ? [...found].join('; ') : 'no mark was seen';
});

const forcedColours = THEMES.map((theme) => ({
  name: `drawings stand out in the reader's own colours, ${theme}`,
  run: (kit, url) => withPage(kit, url, { theme, forced: 'active' }, forcedWeak),
}));

/** Words of a drawing that are smaller than this are no words. */
const SMALLEST = 10;

const large = {
  name: `words of drawings are ${SMALLEST} px at least, 320 px`,
  run: (kit, url) => withPage(kit, url, { width: 320 }, (page) => page.evaluate((least) => {
    const shown = [...document.querySelectorAll('figure svg text')].filter((t) => t.getClientRects().length);
    const size = (t) => parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a;
    const small = shown.filter((t) => size(t) < least);
    return small.length ? `"${small[0].textContent}" is ${size(small[0]).toFixed(1)} px, and ${small.length - 1} more` : '';
  }, SMALLEST)),
};

/** The numbers of a column, top down, as a reader sees them: "\u2212$2.30" is under
    "$0.00", "34 min" under "1,040 min", "9,7" under "12,5" where the page's
    decimals follow a comma. Where a cell shows something else (a month), all
    their keys. */
const columnOf = (kit, table, i) => table.evaluate((t, [column, decimal]) => {
  const cells = [...t.tBodies[0].rows].map((row) => row.cells[column]);
  const one = decimal === ',' ? /^\D*\d[\d.\s']*(,\d+)?\D*$/ : /^\D*\d[\d,\s']*(\.\d+)?\D*$/;
  const seen = (cell) => {
    const text = cell.textContent.trim();
    if (cell.classList.contains('thin') || !/\d/.test(text)) return null;
    if (!one.test(text) || /^[^\d]*\p{L}/u.test(text)) return NaN;
    const size = Number(text.replaceAll(decimal, '_').replace(/[^\d_]/g, '').replace('_', '.'));
    return text.includes('\u2212') ? -size : size;
  };
  const numbers = cells.map(seen);
  const keys = cells.map((c) => (c.dataset.v === undefined ? null : Number(c.dataset.v)));
  return numbers.some(Number.isNaN) && keys.some((k) => k !== null) ? keys : numbers;
}, [i, kit.decimal]);

function outOfOrder(keys, sign) {
  const numbers = keys.filter((k) => k !== null);
  const gap = keys.indexOf(null);
  if (gap >= 0 && keys.slice(gap).some((k) => k !== null)) return 'a row without a figure is not last';
  const wrong = numbers.findIndex((k, i) => i > 0 && sign * (k - numbers[i - 1]) < 0);
  return wrong < 0 ? '' : `${numbers[wrong]} follows ${numbers[wrong - 1]}`;
}

/** Presses keys on each number heading of a table. */
async function sortTable(kit, page, table) {
  const headings = table.locator('thead th');
  for (let i = 0; i < (await headings.count()); i += 1) {
    const heading = headings.nth(i);
    if (!(await heading.evaluate((h) => h.classList.contains('n')))) continue;
    const button = heading.locator('button');
    if (!(await button.count())) return 'a heading has no button';
    await button.focus();
    for (const [key, order, sign] of [['Enter', 'ascending', 1], ['Space', 'descending', -1]]) {
      await page.keyboard.press(key);
      if ((await heading.getAttribute('aria-sort')) !== order) return `${key} did not sort ${order}`;
      const wrong = outOfOrder(await columnOf(kit, table, i), sign);
      if (wrong) return `sorted ${order}, ${wrong}`;
    }
    const said = await table.locator('thead th[aria-sort]').count();
    if (said !== 1) return `${said} headings say that they are sorted`;
  }
  return '';
}

async function sortByKeyboard(kit, page) {
  await unfold(page);
  const tables = await page.locator('table[data-sort]').all();
  if (!tables.length) return 'no table can be sorted';
  for (const table of tables) {
    const wrong = await sortTable(kit, page, table);
    if (wrong) return `${await table.locator('caption').innerText()}: ${wrong}`;
  }
  return '';
}

const sorts = {
  name: 'tables sort by keyboard',
  run: (kit, url) => withPage(kit, url, {}, (page) => sortByKeyboard(kit, page)),
};

/** Words of one drawing that touch, or that its edge cuts: by the ink of their
    letters, as a line's box is taller than what is written in it. Letters closer
    than 1.5 px read as one word. */
const overlaps = (page) => page.evaluate(() => {
  const GAP = 1.5;
  const found = [];
  const pen = document.createElement('canvas').getContext('2d');
  const ink = (text) => {
    const style = getComputedStyle(text);
    pen.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const { actualBoundingBoxAscent: up, actualBoundingBoxDescent: down } = pen.measureText(text.textContent);
    const to = text.getScreenCTM();
    const start = text.getStartPositionOfChar(0);
    const base = new DOMPoint(start.x, start.y).matrixTransform(to).y;
    const { left, right } = text.getBoundingClientRect();
    return { words: text.textContent, left, right, top: base - up * to.d, bottom: base + down * to.d };
  };
  const meets = (a, b) => a.left < b.right + GAP && b.left < a.right + GAP
    && a.top < b.bottom + GAP && b.top < a.bottom + GAP;
  for (const svg of document.querySelectorAll('figure > svg')) {
    if (!svg.getClientRects().length) continue;
    const texts = [...svg.querySelectorAll('text')].filter((t) => t.textContent.trim()).map(ink);
    const sheet = svg.getBoundingClientRect();
    texts.forEach((text, i) => {
      if (text.left < sheet.left - 1 || text.right > sheet.right + 1
        || text.top < sheet.top - 1 || text.bottom > sheet.bottom + 1) found.push(`"${text.words}" is cut off`);
      for (const other of texts.slice(i + 1)) {
        if (meets(text, other)) found.push(`"${text.words}" lies on or touches "${other.words}"`);
      }
    });
  }
  return found.join('; ');
});

const legible = WIDTHS.map((width) => ({
  name: `no words of a drawing touch others or are cut off, ${width} px`,
  run: (kit, url) => withPage(kit, url, { width }, overlaps),
}));

/** The pages of the print-out, as text. */
async function printed(kit, page, format) {
  const file = join(kit.folder, 'print.pdf');
  await page.pdf({ path: file, format, printBackground: true });
  return execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8', maxBuffer: 1 << 28 }).split('\f');
}

const squeeze = (text) => text.replace(/\s+/g, ' ');

async function summaryAlone(kit, page, format) {
  // The index of several months has no summary.
  if (await page.locator('#trend').count()) return '';
  const pages = (await printed(kit, page, format)).map(squeeze);
  const head = squeeze(await page.locator('#minute').innerText());
  if (!pages[0].includes(head)) return `"${head}" is not on page one`;
  const last = page.locator('.minute li, .minute p').last();
  const closing = squeeze(await last.innerText()).slice(0, 30);
  if (!pages[0].includes(closing)) return `page one ends before "${closing}"`;
  const next = page.locator('main > h2, main > section:not(.minute) h2').first();
  const after = (await next.count()) ? squeeze(await next.innerText()) : '';
  return after && pages[0].includes(after) ? `"${after}" is on page one too` : '';
}

async function tablesOpen(kit, page, format) {
  const pages = squeeze((await printed(kit, page, format)).join(' '));
  const captions = await page.$$eval('details caption', (all) => all.map((c) => c.textContent));
  const lost = captions.map(squeeze).filter((c) => !pages.includes(c.slice(0, 40)));
  return lost.length ? `not printed: ${lost.join('; ')}` : '';
}

/** Lengthens the longest table to 150 rows, which fill three pages at least,
    prints, and looks for its headings. */
async function headingsRepeat(kit, page, format) {
  const words = await page.evaluate(() => {
    const tables = [...document.querySelectorAll('table')];
    const size = (t) => t.tBodies[0].rows.length;
    const longest = tables.sort((a, b) => size(b) - size(a))[0];
    if (!longest) return null;
    const body = longest.tBodies[0];
    const rows = [...body.rows];
    while (size(longest) < 150) body.append(...rows.map((r) => r.cloneNode(true)));
    longest.tHead.rows[0].cells[0].append(' Repeated');
    const button = longest.tHead.rows[0].cells[0].querySelector('button');
    if (button) button.append(' Repeated');
    return 'Repeated';
  });
  if (!words) return '';
  const pages = await printed(kit, page, format);
  const seen = pages.filter((p) => p.includes(words)).length;
  return seen >= 3 ? '' : `the headings of a table of 150 rows are on ${seen} page`;
}

const prints = ['A4', 'Letter'].flatMap((format) => [
  [`printed on ${format}, the summary is alone on page one`, summaryAlone],
  [`printed on ${format}, folded tables are open`, tablesOpen],
  [`printed on ${format}, headings of tables repeat`, headingsRepeat],
].map(([name, look]) => ({
  name,
  run: (kit, url) => withPage(kit, url, {}, (page) => look(kit, page, format)),
})));

export const CHECKS = [
  ...accessible, ...forcedColours, quiet, alone, noSideways, ...onPaper, sorts, ...legible, large, ...prints,
];
