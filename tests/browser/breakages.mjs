// Ways to break a page, each with the check that must catch it and what that
// check must say.
import { createHash } from 'node:crypto';

const hash = (text) => `sha256-${createHash('sha256').update(text, 'utf8').digest('base64')}`;

/** Changes style sheet or script and names the new one in the policy, so that
    only the change itself can be caught. */
function inside(page, tag, change) {
  const pattern = new RegExp(`<${tag}>([\\s\\S]*?)</${tag}>`);
  const old = page.match(pattern)[1];
  const fresh = change(old);
  if (fresh === old) throw new Error(`nothing to break in <${tag}>`);
  return page.replace(pattern, () => `<${tag}>${fresh}</${tag}>`).replace(hash(old), hash(fresh));
}

const style = (from, to) => (page) => inside(page, 'style', (css) => css.replace(from, to));

export const BREAKAGES = [
  {
    name: 'a script with a slip in it',
    caughtBy: 'tables sort by keyboard',
    says: /no button/,
    apply: (page) => inside(page, 'script', (js) => js.replace("button.type = 'button'", "button.type = 'button'))")),
  },
  {
    name: 'a script that sorts numbers the wrong way round',
    caughtBy: 'tables sort by keyboard',
    says: /follows/,
    apply: (page) => inside(page, 'script', (js) => js.replace('sign * (a - b)', 'sign * (b - a)')),
  },
  {
    name: 'a script that the policy does not know',
    caughtBy: 'nothing is reported on the console',
    says: /Content Security Policy/,
    apply: (page) => page.replace('</body>', '<script>1</script></body>'),
  },
  {
    name: 'a drawing without a name',
    caughtBy: 'axe finds nothing, light, 1000 px',
    says: /svg-img-alt/,
    apply: (page) => page.replace(/(<svg class="wide"[^>]*?) aria-labelledby="[^"]*"><title[^>]*>[^<]*<\/title>/, '$1>'),
  },
  {
    name: 'weak words, in the dark theme alone',
    caughtBy: 'axe finds nothing, dark, 390 px',
    says: /color-contrast/,
    apply: style('--muted: #a9b2bb', '--muted: #4a5058'),
  },
  {
    name: 'a picture from elsewhere',
    caughtBy: 'no request leaves the page',
    says: /127\.0\.0\.1/,
    apply: (page) => page
      .replace('img-src data:', 'img-src data: http://127.0.0.1:9')
      .replace('</main>', '<img alt="" src="http://127.0.0.1:9/pixel.png"></main>'),
  },
  {
    name: 'a block wider than a phone',
    caughtBy: 'nothing scrolls sideways at 320 px',
    says: /px wide/,
    apply: style(/$/, '\n.lead { min-width: 30rem; }'),
  },
  {
    name: 'one ink that forced colours wipe out',
    caughtBy: "drawings stand out in the reader's own colours, light",
    says: /main 1\.0:1/,
    apply: style('--main: CanvasText', '--main: Canvas'),
  },
  {
    name: 'a table wider than paper',
    caughtBy: 'printed on A4, nothing is wider than the paper',
    says: /px wide/,
    apply: style('table { min-width: 0;', 'table { min-width: 60rem;'),
  },
  {
    name: 'drawings shrunk on small phones',
    caughtBy: 'words of drawings are 10 px at least, 320 px',
    says: /px, and/,
    apply: style('width: calc(100% + 1.4rem)', 'width: 80%'),
  },
  {
    name: 'words of a drawing on others',
    caughtBy: 'no words of a drawing touch others or are cut off, 1000 px',
    says: /lies on/,
    apply: (page) => page.replace(/(<text class="f-muted" x=")[^"]*(" y=")[^"]*("[^>]*>[^<]*<\/text>\n<text class="f-muted" x=")([^"]*)(" y=")([^"]*)"/, '$1$4$2$6$3$4$5$6"'),
  },
  {
    name: 'words of a drawing a hair apart',
    caughtBy: 'no words of a drawing touch others or are cut off, 390 px',
    says: /lies on or touches/,
    apply: style('svg text {', 'svg text { font-size: 1.2em;'),
  },
  {
    name: 'a drawing that its edge cuts',
    caughtBy: 'no words of a drawing touch others or are cut off, 320 px',
    says: /is cut off/,
    apply: (page) => page.replace(/(<svg class="narrow"[^>]*viewBox="0 0 )360 /, '$1300 '),
  },
  {
    name: 'a summary that does not end its page',
    caughtBy: 'printed on A4, the summary is alone on page one',
    says: /page one too/,
    apply: style('break-after: page;', 'padding: 0; } figure, .do, .minute ul, .minute ol { display: none;'),
  },
  {
    name: 'tables that stay folded on paper',
    caughtBy: 'printed on Letter, folded tables are open',
    says: /not printed/,
    apply: (page) => inside(
      inside(page, 'script', (js) => js.replace('fold.open = true', 'fold.open = false')),
      'style',
      (css) => css.replace('details::details-content', '.nothing'),
    ),
  },
  {
    name: 'headings that are printed once',
    caughtBy: 'printed on Letter, headings of tables repeat',
    says: /on [01] page/,
    apply: style('display: table-header-group', 'display: table-row-group'),
  },
];
