'use strict';
(() => {
  const table = document.getElementById('gangs');
  const gangs = [...table.tBodies];
  const find = document.getElementById('find'), press = document.getElementById('press');
  const due = document.getElementById('due'), look = document.getElementById('look');
  const order = document.getElementById('order'), shown = document.getElementById('shown'), nothing = document.getElementById('nothing');
  const buttons = [...table.querySelectorAll('thead button')];
  const words = ['id', 'due', 'press'];
  let by = 'rank', falls = false;

  function filter() {
    const wanted = find.value.toLowerCase().split(/\s+/).filter(w => w);
    let n = 0;
    for (const g of gangs) {
      const d = g.dataset;
      const fits = wanted.every(w => d.find.includes(w)) && (!press.value || d.press === press.value) &&
        (!due.value || d.due && d.due <= due.value) && (!look.checked || d.rank < 4);
      g.hidden = !fits;
      if (fits) n++;
    }
    nothing.hidden = n > 0;
    shown.textContent = n === gangs.length ? 'All ' + n + ' gangs are shown.' : n + ' of ' + gangs.length + ' gangs are shown.';
  }

  // Gangs without a figure stand last, whichever way it goes.
  function compare(a, b) {
    const x = a.dataset[by], y = b.dataset[by], sign = falls ? -1 : 1;
    if (x === '' || y === '') return (x === '') - (y === '');
    return sign * (words.includes(by) ? x.localeCompare(y) : x - y);
  }

  function sort(key, fall) {
    by = key;
    falls = fall;
    gangs.sort((a, b) => compare(a, b) || a.dataset.place - b.dataset.place);
    table.append(...gangs);
    for (const b of buttons) {
      const on = b.dataset.by === by;
      b.parentElement.setAttribute('aria-sort', on ? (falls ? 'descending' : 'ascending') : 'none');
    }
    order.value = by + (falls ? ' falls' : '');
  }

  for (const e of [find, press, due, look]) e.addEventListener('input', filter);
  for (const b of buttons) {
    b.disabled = false;
    // What is largest is what one looks for; of names and dates the first.
    b.addEventListener('click', () => sort(b.dataset.by, b.dataset.by === by ? !falls : !words.includes(b.dataset.by)));
  }
  order.addEventListener('change', () => {
    const [key, fall] = order.value.split(' ');
    sort(key, fall === 'falls');
  });
  document.getElementById('all').addEventListener('click', () => {
    find.value = '';
    press.value = '';
    due.value = '';
    look.checked = false;
    filter();
    find.focus();
  });
  document.getElementById('print').addEventListener('click', () => window.print());
  document.addEventListener('keydown', e => {
    if (e.key === '/' && !['INPUT', 'SELECT'].includes(document.activeElement.tagName)) {
      e.preventDefault();
      find.focus();
    }
  });
  // A link to a gang that is filtered away shows it all the same.
  for (const a of document.querySelectorAll('a[href^="#gang-"]')) {
    a.addEventListener('click', () => { document.getElementById(a.hash.slice(1)).hidden = false; });
  }
  document.getElementById('controls').hidden = false;
  filter();
})();
