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

const words = (name) => name.replaceAll('_', ' ');

// What a new entry of a list or table starts with.
function blank(entry) {
  if (entry.kind === 'table' || entry.kind === 'map') return {};
  if (entry.kind === 'list') return entry.length ? Array(entry.length).fill('0 mm') : [];
  if (entry.kind === 'one of') return { shape: Object.keys(entry.tables)[0] };
  return entry.example ?? '';
}

export function draw(root, description, data, changed) {
  const redraw = () => { draw(root, description, data, changed); changed(); };
  const open = new Set([...root.querySelectorAll('details[open]')].map((d) => d.dataset.key));
  const put = (into, key, value) => {
    if (value === undefined) { if (Array.isArray(into)) into.splice(key, 1); else delete into[key]; } else into[key] = value;
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
    const common = { id, 'data-key': path, 'aria-describedby': `${id}-fault` };
    let control;
    if (choices) {
      const now = value === true ? 'yes' : value === false ? 'no' : given;
      const all = choices.includes(now) || now === '' ? choices : [now, ...choices];
      control = make('select', { ...common, onchange: (e) => take(e.target.value) },
        make('option', { value: '' }, entry.default ? `${entry.default} (default)` : 'left out'),
        ...all.map((c) => make('option', { value: c, selected: c === now }, c)));
    } else {
      control = make('input', { ...common, value: given, title: entry.allowed, required: entry.required,
        placeholder: entry.default ? `${entry.default} (default)` : entry.required ? entry.example : 'left out',
        oninput: (e) => take(e.target.value) });
    }
    return make('div', {}, make('label', { for: id }, label, control), make('div', { id: `${id}-fault`, class: 'fault' }));
  }

  function list(entry, into, key, path, label) {
    const items = into[key];
    if (items === undefined || !Array.isArray(items)) {
      const add = () => { into[key] = entry.length ? blank(entry) : [blank(entry.item)]; redraw(); };
      if (typeof items === 'string') return leaf({ kind: 'text' }, into, key, path, label);
      return make('p', {}, `${label}: `, make('button', { type: 'button', onclick: add }, `Give ${label}`));
    }
    const rows = items.map((item, i) => make('div', {},
      node(entry.item, items, i, `${path}[${i + 1}]`, entry.length === 2 ? 'xy'[i] : `${label} ${i + 1}`),
      entry.length ? '' : make('button', { type: 'button', 'aria-label': `Remove ${label} ${i + 1}`, onclick: () => {
        items.splice(i, 1); if (!items.length) delete into[key]; redraw(); } }, 'Remove')));
    const more = make('button', { type: 'button', onclick: () => { items.push(blank(entry.item)); redraw(); } }, `Add to ${label}`);
    const all = make('button', { type: 'button', onclick: () => { delete into[key]; redraw(); } }, `Leave out ${label}`);
    return make('fieldset', { 'data-key': path }, make('legend', {}, label), ...rows, entry.length ? all : more);
  }

  function folded(path, label, words, ...content) {
    const isOpen = open.has(path) || (root.childElementCount === 0 && ['press'].includes(path));
    return make('details', { class: 'table', 'data-key': path, open: isOpen }, make('summary', {}, label),
      words ? make('p', { class: 'note' }, words) : '', ...content);
  }

  function table(entry, into, key, path, label) {
    const here = into[key];
    // A table of which nothing is given is drawn empty, and kept only once something stands in it.
    const own = here !== null && typeof here === 'object' ? here : {};
    const fields = entry.fields.map((f) => node(f, attached(own, into, key), f.name, path ? `${path}.${f.name}` : f.name, words(f.name)));
    const drop = here !== undefined && !entry.required && !Array.isArray(into)
      ? make('button', { type: 'button', onclick: () => { delete into[key]; redraw(); } }, `Leave out ${label}`) : '';
    return folded(path, label, entry.words, ...fields, drop);
  }

  // Writing a first value into a table that is not there yet puts the table there.
  function attached(own, into, key) {
    return new Proxy(own, {
      set(target, name, value) { target[name] = value; into[key] = target; return true; },
      deleteProperty(target, name) { delete target[name]; if (!Object.keys(target).length && !Array.isArray(into)) delete into[key]; return true; },
    });
  }

  function map(entry, into, key, path, label) {
    const own = into[key] ?? {};
    const rows = Object.keys(own).map((name) => make('div', {}, table(entry.item, own, name, `${path}.${name}`, name),
      make('button', { type: 'button', onclick: () => { delete own[name]; redraw(); } }, `Remove ${name}`)));
    const input = make('input', { 'aria-label': `Name of a new entry of ${label}` });
    const add = () => { if (input.value.trim()) { into[key] = { ...own, [input.value.trim()]: {} }; redraw(); } };
    return folded(path, label, '', ...rows, input, make('button', { type: 'button', onclick: add }, 'Add'));
  }

  function oneOf(entry, into, key, path, label) {
    const shape = into[key]?.shape ?? Object.keys(entry.tables)[0];
    return table(entry.tables[shape] ?? Object.values(entry.tables)[0], into, key, path, label);
  }

  function shapes(entry, into, key, path, label) {
    if (!entry.tables) return '';
    const choose = make('select', { 'aria-label': `Shape of ${label}`, onchange: (e) => { into[key] = { shape: e.target.value }; redraw(); } },
      ...Object.keys(entry.tables).map((s) => make('option', { value: s, selected: s === into[key]?.shape }, s)));
    return make('label', {}, `shape of ${label}`, choose);
  }

  function node(entry, into, key, path, label) {
    if (typeof into[key] === 'string' && ['table', 'one of'].includes(entry.kind))
      return leaf({ kind: 'text', allowed: '"5 x 60 mm", or a table' }, into, key, path, label);
    if (entry.kind === 'one of') return make('div', {}, shapes(entry, into, key, path, label), oneOf(entry, into, key, path, label));
    return ({ table, list, map }[entry.kind] ?? leaf)(entry, into, key, path, label);
  }

  const drawn = description.fields.map((f) => node(f, data, f.name, f.name, words(f.name)));
  root.replaceChildren(...drawn);
}

// Put each mistake beside its control, or beside the table that holds it.
export function mark(root, problems) {
  for (const old of root.querySelectorAll('[aria-invalid]')) old.removeAttribute('aria-invalid');
  for (const old of root.querySelectorAll('.fault')) old.textContent = '';
  for (const { key, given, allowed } of problems) {
    const control = root.querySelector(`:is(input, select)[data-key="${CSS.escape(key)}"]`);
    if (!control) continue;
    control.setAttribute('aria-invalid', 'true');
    document.getElementById(control.getAttribute('aria-describedby')).textContent = `given ${given}; ${allowed}`;
  }
}
