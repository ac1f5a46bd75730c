// Puts a button into each heading of a sortable table. A column with keys
// (data-v) sorts by them, other numbers by what they show ("34 min",
// "\u2212$2.30"), others by their words; cells without any stay last either way.
// Without this script tables stand as they are.
(() => {
  // A sign, no letter before the digits and no digit after them: the page's
  // maker leaves a column's keys out just where this tells each number.
  // Decimals follow a point, or what data-sort says.
  const point = /^([\u2212+-]?)[^\p{L}\d]*(\d(?:[\d,'\s]*\d)?)(?:\.(\d+))?\D*$/u;
  const comma = /^([\u2212+-]?)[^\p{L}\d]*(\d(?:[\d.'\s]*\d)?)(?:,(\d+))?\D*$/u;
  const number = (text, mark) => {
    const found = (mark === ',' ? comma : point).exec(text);
    if (!found) return null;
    const size = Number(`${found[2].replace(/\D/g, '')}.${found[3] ?? 0}`);
    return found[1] && found[1] !== '+' ? -size : size;
  };
  const key = (row, i, keyed, mark) => {
    const cell = row.cells[i];
    if (keyed) return cell.dataset.v === undefined ? null : Number(cell.dataset.v);
    const words = cell.tagName === 'TD' ? cell.classList.contains('w') : !cell.classList.contains('n');
    const text = cell.classList.contains('thin') ? '' : cell.textContent.trim();
    if (words) return text || null;
    return number(text, mark);
  };
  const order = (a, b, sign) => {
    if (a === null || b === null) return (a === null) - (b === null);
    if (typeof a === 'number' && typeof b === 'number') return sign * (a - b);
    return sign * String(a).localeCompare(String(b), 'en', { numeric: true });
  };
  for (const table of document.querySelectorAll('table[data-sort]')) {
    const headings = [...table.tHead.rows[0].cells];
    headings.forEach((heading, i) => {
      const button = document.createElement('button');
      button.type = 'button';
      button.append(...heading.childNodes);
      heading.append(button);
      button.addEventListener('click', () => {
        const up = heading.getAttribute('aria-sort') !== 'ascending';
        for (const other of headings) other.removeAttribute('aria-sort');
        heading.setAttribute('aria-sort', up ? 'ascending' : 'descending');
        const rows = [...table.tBodies[0].rows];
        const keyed = rows.some((row) => row.cells[i].dataset.v !== undefined);
        const of = (row) => key(row, i, keyed, table.dataset.sort);
        rows.sort((a, b) => order(of(a), of(b), up ? 1 : -1));
        table.tBodies[0].append(...rows);
      });
    });
  }
  // Paper cannot be unfolded: open what is closed, and close it again.
  let closed = [];
  addEventListener('beforeprint', () => {
    closed = [...document.querySelectorAll('details:not([open])')];
    for (const fold of closed) fold.open = true;
  });
  addEventListener('afterprint', () => {
    for (const fold of closed) fold.open = false;
  });
})();
