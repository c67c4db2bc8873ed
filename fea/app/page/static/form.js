// The form of a case, drawn from the description that the server makes from the schema.
// `data` is the case as plain data; each control writes into it and calls `changed`.

let numbers = 0;

export function make(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith('on')) node.addEventListener(key.slice(2), value);
    else if (value === true) node.setAttribute(key, '');
    else if (value !== false && value != null) node.setAttribute(key, value);
  }
  node.append(...children);
  return node;
}

const about = (node) => node.closest('[data-key], [data-run], [data-number]');
const key = (node) => { const { key, run, number } = about(node)?.dataset ?? {}; return key ?? run ?? number; };
const called = (node) => JSON.stringify([node.tagName, key(node), node.getAttribute('aria-label') ?? node.labels?.[0]?.textContent ?? node.textContent]);

// Draw a place anew; the keyboard stays at the control that it was at, or near it.
export function refill(place, ...nodes) {
  const held = document.activeElement, was = place.contains(held) && [called(held), key(held)];
  place.replaceChildren(...nodes);
  if (!was || place.contains(document.activeElement)) return;
  const there = [...place.querySelectorAll('a, button, input, select, summary')];
  (there.find((node) => called(node) === was[0]) ?? there.find((node) => key(node) === was[1]))?.focus({ preventScroll: true });
}

export const button = (words, onclick, more = {}) => make('button', { type: 'button', onclick, ...more }, words);
const words = (name) => name.replaceAll('_', ' ');
const isTable = (value) => value !== null && typeof value === 'object' && !Array.isArray(value);

// What a new entry of a list or table starts with.
function blank(entry) {
  if (entry.kind === 'table' || entry.kind === 'map') return {};
  if (entry.kind === 'list') return entry.length ? Array(entry.length).fill('0 mm') : [];
  if (entry.kind === 'one of') return { shape: Object.keys(entry.tables)[0] };
  return entry.example ?? '';
}

export function draw(root, description, data, changed) {
  const opened = new Set([...root.querySelectorAll('details[open]')].map((d) => d.dataset.key));
  const first = root.childElementCount === 0;
  const redraw = () => { draw(root, description, data, changed); changed(); };
  const put = (into, key, value) => {
    if (value !== undefined) into[key] = value;
    else if (Array.isArray(into)) into.splice(key, 1);
    else delete into[key];
  };

  function leaf(entry, into, key, path, label) {
    const id = `field-${numbers++}`, value = into[key];
    const given = value == null ? '' : typeof value === 'object' ? JSON.stringify(value) : String(value);
    const take = (text) => {
      const number = (entry.kind === 'number' || entry.whole) && text.trim() !== '' && !Number.isNaN(Number(text));
      if (entry.kind === 'yes or no') put(into, key, { yes: true, no: false }[text]);
      else put(into, key, text === '' ? undefined : number ? Number(text) : text);
      changed();
    };
    const choices = entry.kind === 'yes or no' ? ['yes', 'no'] : entry.choices;
    const common = { id, 'data-key': path, 'aria-describedby': `${id}-fault ${id}-hint` };
    const left = entry.default ? `default ${entry.default}` : 'left out';
    let control;
    if (choices) {
      const now = value === true ? 'yes' : value === false ? 'no' : given;
      const all = choices.includes(now) || now === '' ? choices : [now, ...choices];
      control = make('select', { ...common, onchange: (e) => take(e.target.value) }, make('option', { value: '' }, left),
        ...all.map((c) => make('option', { value: c, selected: c === now }, c)));
    } else {
      control = make('input', { ...common, value: given, 'aria-required': entry.required ? 'true' : null,
        placeholder: entry.required ? `such as ${entry.example ?? 'a name'}` : left, oninput: (e) => take(e.target.value) });
    }
    return make('div', { class: 'field' }, make('label', { for: id }, label), control,
      make('p', { id: `${id}-hint`, class: 'hint' }, entry.allowed ?? ''), make('p', { id: `${id}-fault`, class: 'fault' }));
  }

  function list(entry, into, key, path, label) {
    const items = into[key];
    if (typeof items === 'string') return leaf({ kind: 'text' }, into, key, path, label);
    if (!Array.isArray(items)) {
      return make('div', { class: 'field', 'data-key': path }, make('span', {}, label),
        button('Give', () => { into[key] = entry.length ? blank(entry) : [blank(entry.item)]; redraw(); }, { 'aria-label': `Give ${label}`, class: 'quiet' }));
    }
    const rows = items.map((item, i) => make('div', { class: 'entry' },
      node(entry.item, items, i, `${path}[${i + 1}]`, entry.length === 2 ? 'xy'[i] : `${label} ${i + 1}`),
      entry.length ? '' : button('Remove', () => { items.splice(i, 1); if (!items.length) delete into[key]; redraw(); },
        { 'aria-label': `Remove ${label} ${i + 1}`, class: 'quiet' })));
    const more = entry.length ? button('Leave out', () => { delete into[key]; redraw(); }, { 'aria-label': `Leave out ${label}`, class: 'quiet' })
      : button('Add one', () => { items.push(blank(entry.item)); redraw(); }, { 'aria-label': `Add to ${label}`, class: 'quiet' });
    return make('fieldset', { 'data-key': path }, make('legend', {}, label), ...rows, more);
  }

  function folded(key, kind, label, ...content) {
    return make('details', { class: kind, 'data-key': key, open: opened.has(key) || (first && key === 'press') },
      make('summary', {}, label), ...content);
  }

  // What is given stands first; what is left out folds away below it.
  function table(entry, into, key, path, label) {
    const here = into[key], own = isTable(here) ? here : {};
    const fields = [[], []];
    for (const f of entry.fields) {
      if (f.name === 'shape' && entry.shaped) continue;
      const given = f.required || own[f.name] !== undefined;
      fields[given ? 0 : 1].push(node(f, attached(own, into, key), f.name, path ? `${path}.${f.name}` : f.name, words(f.name)));
    }
    const drop = here !== undefined && !entry.required && !Array.isArray(into)
      ? button(`Leave out ${label}`, () => { delete into[key]; redraw(); }, { class: 'quiet' }) : '';
    const rest = fields[0].length && fields[1].length
      ? [folded(`${path}/more`, 'more', `${fields[1].length} more values`, ...fields[1])] : fields[1];
    const note = entry.words ? make('p', { class: 'note' }, entry.words) : '';
    return folded(path, here === undefined ? 'table absent' : 'table', label, note, ...fields[0], ...rest, drop);
  }

  // Writing a first value into a table that is not there yet puts the table there.
  function attached(own, into, key) {
    return new Proxy(own, {
      set(target, name, value) { target[name] = value; into[key] = target; return true; },
      deleteProperty(target, name) { delete target[name]; if (!Object.keys(target).length && !Array.isArray(into)) delete into[key]; return true; },
    });
  }

  function map(entry, into, key, path, label) {
    const own = isTable(into[key]) ? into[key] : {};
    const rows = Object.keys(own).map((name) => make('div', { class: 'entry' }, table(entry.item, own, name, `${path}.${name}`, name),
      button('Remove', () => { delete own[name]; redraw(); }, { 'aria-label': `Remove ${name}`, class: 'quiet' })));
    const input = make('input', { 'aria-label': `Name of a new entry of ${label}`, placeholder: 'name of a new one' });
    const add = () => { if (input.value.trim()) { into[key] = { ...own, [input.value.trim()]: {} }; redraw(); } };
    return folded(path, into[key] === undefined ? 'table absent' : 'table', label, ...rows,
      make('div', { class: 'entry' }, input, button('Add', add, { 'aria-label': `Add to ${label}`, class: 'quiet' })));
  }

  function oneOf(entry, into, key, path, label) {
    const shape = into[key]?.shape ?? Object.keys(entry.tables)[0];
    const id = `field-${numbers++}`;
    const choose = make('select', { id, onchange: (e) => { into[key] = { shape: e.target.value }; redraw(); } },
      ...Object.keys(entry.tables).map((s) => make('option', { value: s, selected: s === shape }, s)));
    const chosen = { ...(entry.tables[shape] ?? Object.values(entry.tables)[0]), shaped: true };
    return make('div', {}, make('div', { class: 'field' }, make('label', { for: id }, `shape of ${label}`), choose),
      table(chosen, into, key, path, label));
  }

  function node(entry, into, key, path, label) {
    if (typeof into[key] === 'string' && ['table', 'one of'].includes(entry.kind))
      return leaf({ kind: 'text', allowed: '"5 x 60 mm" or "60 mm"' }, into, key, path, label);
    return ({ table, list, map, 'one of': oneOf }[entry.kind] ?? leaf)(entry, into, key, path, label);
  }

  const drawn = [[], []];
  for (const f of description.fields)
    drawn[f.required || data[f.name] !== undefined ? 0 : 1].push(node(f, data, f.name, f.name, words(f.name)));
  refill(root, ...drawn[0], drawn[1].length ? make('h3', {}, 'Also, if you like') : '', ...drawn[1]);
}

// Put each mistake beside its control, and tell the folds that hold it.
export function mark(root, problems) {
  for (const old of root.querySelectorAll('[aria-invalid]')) old.removeAttribute('aria-invalid');
  for (const old of root.querySelectorAll('[data-faulty]')) delete old.dataset.faulty;
  for (const old of root.querySelectorAll('.fault')) old.textContent = '';
  for (const { key, given, allowed } of problems) {
    const place = find(root, key);
    for (let up = place; up && up !== root; up = up.parentElement) if (up.tagName === 'DETAILS') up.dataset.faulty = 'yes';
    if (!place?.matches('input, select')) continue;
    place.setAttribute('aria-invalid', 'true');
    document.getElementById(place.id + '-fault').textContent = `given ${given}; ${allowed}`;
  }
}

// The control of a key, or the nearest table or list about it.
export function find(root, key) {
  for (let at = key; at; at = at.replace(/(\.[^.]*|\[\d+\]|^[^.[]+)$/, '')) {
    const found = root.querySelector(`[data-key="${CSS.escape(at)}"]`);
    if (found) return found;
  }
  return null;
}

export function reveal(place) {
  for (let up = place; up; up = up.parentElement) if (up.tagName === 'DETAILS') up.open = true;
  (place.matches('input, select') ? place : place.querySelector('summary, input, select, button')).focus();
  place.scrollIntoView({ block: 'center' });
}
