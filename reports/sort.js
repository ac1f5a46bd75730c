// Puts a button into each heading of a sortable table. Cells with a key
// (data-v) sort by it, numbers by what they show ("34 min", "\u2212$2.30"), others
// by their words; cells of a number column that hold no number stay last either
// way. Without this script tables stand as they are.
(() => {
  // A sign, no letter before the digits and no digit after them: the page's
  // maker leaves the key out just where this tells the number.
  const shown = /^([\u2212+-]?)[^\p{L}\d]*(\d[\d,]*(?:\.\d+)?)\D*$/u;
  const number = (text) => {
    const found = shown.exec(text);
    if (!found) return null;
    return (found[1] && found[1] !== '+' ? -1 : 1) * Number(found[2].replaceAll(',', ''));
  };
  const key = (row, i) => {
    const cell = row.cells[i];
    if (cell.dataset.v !== undefined) return Number(cell.dataset.v);
    const words = cell.tagName === 'TD' ? cell.classList.contains('w') : !cell.classList.contains('n');
    const text = cell.classList.contains('thin') ? '' : cell.textContent.trim();
    if (words) return text || null;
    return number(text);
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
        rows.sort((a, b) => order(key(a, i), key(b, i), up ? 1 : -1));
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
