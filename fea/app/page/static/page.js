// The page: asks the server of this machine, and nobody else.
import { draw, find, make, mark, button, reveal } from './form.js';
import { base, drawSliders, resetSliders, setUnits, showPrediction, showVerified } from './plates.js';
import { showJobs, showModel, showRuns } from './runs.js';

const $ = (id) => document.getElementById(id);
const token = document.querySelector('meta[name=page-token]').content;
const state = { form: null, data: null, text: '', mistakes: [], names: new Set(), case: null, edited: false };

async function ask(path, given) {
  const request = given === undefined ? {} : { method: 'POST', body: JSON.stringify(given),
    headers: { 'content-type': 'application/json', 'x-page-token': token } };
  let response, answer;
  try {
    response = await fetch(path, request);
    answer = await response.json();
  } catch { throw new Error('The server has ended. Start platestack page again and open the address it prints.'); }
  if (response.status === 403) throw new Error('The server was started again. Open the address that it printed.');
  if (!response.ok) throw Object.assign(new Error(answer.error), { problems: answer.problems });
  return answer;
}

const tell = (words) => { if ($('told').textContent !== words) $('told').textContent = words; };
const guarded = (work) => {
  let busy = false;  // pressed twice is asked once
  return async (event) => {
    event?.preventDefault?.();
    if (busy) return;
    busy = true;
    try { tell(''); await work(event); } catch (error) { tell(error.message); }
    busy = false;
  };
};

// Of requests that follow each other fast, only the newest is sent once the last is answered.
function newest(work, wait) {
  let timer = null, busy = false, again = false;
  const go = async () => {
    if (busy) { again = true; return; }
    busy = true;
    try { await work(); } catch (error) { tell(error.message); }
    busy = false;
    if (again) { again = false; go(); }
  };
  return () => { clearTimeout(timer); timer = setTimeout(go, wait); };
}

function lines(problems) {
  return problems.map((p) => make('li', {}, p.key ? button(p.key, () => { const at = find($('form'), p.key); if (at) { as('form'); reveal(at); } }, { class: 'link' }) : '',
    ` given ${p.given}; ${p.allowed}`));
}

function sound(good) {
  $('instant').classList.toggle('stale', !good);
  $('sound').inert = !good;
  if (good) $('sound').hidden = false;
}

// Nothing that was typed, opened or slid since stands in what was answered.
async function current(given) {
  const data = state.data, sent = JSON.stringify(data);
  const answer = await ask('check', { data, text: state.text, ...given });
  return data === state.data && (!given || sent === JSON.stringify(data)) ? answer : null;
}

function show(answer, { keepText = false, sliding = false } = {}) {
  state.text = answer.text;
  state.case = answer.case;
  if (!keepText && document.activeElement !== $('text')) $('text').value = answer.text;
  state.mistakes = answer.problems;
  mark($('form'), answer.problems);
  const good = answer.problems.length === 0;
  $('verdict').replaceChildren(good ? make('p', { class: 'sound' }, 'The case is sound and can run.')
    : make('ul', { class: 'faults' }, ...lines(answer.problems)));
  sound(good);
  if (!good) return;
  $('drawing').replaceChildren(document.importNode(new DOMParser().parseFromString(answer.drawing, 'image/svg+xml').documentElement, true));
  setUnits(answer.stock, answer.shown);
  if (!sliding) drawSliders(answer, slide);
  showPrediction(answer.prediction);
  $('back').hidden = !base.moved(answer.prediction);
  verified();
}

const check = newest(async () => {
  const answer = await current();
  if (answer) show(answer);
}, 150);

let moved = null;
const sliding = newest(async () => {
  try {
    const answer = await current({ thicknesses: moved });
    if (!answer) return;
    state.data = answer.data;
    form();
    show(answer, { sliding: true });
    tell('');
  } catch (error) { tell(error.problems?.length ? error.problems.map((p) => `${p.key}: given ${p.given}; ${p.allowed}`).join(' · ') : error.message); }
}, 0);
const slide = (thicknesses) => { moved = thicknesses; state.edited = true; sliding(); };

function form() { draw($('form'), state.form, state.data, () => { state.edited = true; check(); }); }

function edit(answer, words = '') {
  state.data = answer.data;
  state.text = answer.text;
  state.case = null;
  $('text').value = answer.text;
  state.edited = false;
  $('work').hidden = false;
  $('instant').append($('jobs'));
  for (const link of document.querySelectorAll('[data-later]')) link.hidden = false;
  $('begin').classList.add('begun');
  $('form').replaceChildren();
  base.forget();
  $('sound').hidden = true;
  form();
  check();
  tell(words);
  $('work').scrollIntoView({ block: 'start' });
}

function as(way) {
  document.querySelector(`[name=as][value=${way}]`).checked = true;
  $('form').hidden = way !== 'form';
  $('as-text').hidden = way !== 'text';
}

const retype = newest(async () => {
  const text = $('text').value;
  try {
    const { data } = await ask('open', { text });
    if (text !== $('text').value) return;
    state.data = data;
    state.text = text;
    form();
    const answer = await current();
    if (answer) show(answer, { keepText: true });
  } catch (error) {
    if (text !== $('text').value) return;
    $('verdict').replaceChildren(make('ul', { class: 'faults' }, make('li', {}, error.message)));
    sound(false);
  }
}, 250);

// Names that are free: run 1, run 2, ...
function name() {
  for (let i = 1; ; i++) if (!state.names.has(`run ${i}`)) return `run ${i}`;
}

function replaces() {
  const given = $('start').elements.name.value.trim();
  $('replaces').textContent = state.finished?.has(given) ? `This replaces the existing run “${given}”.` : '';
}

function verified() {
  showVerified(state.runs?.find((r) => r.case && r.case === state.case));
}

async function refresh() {
  const now = await ask('state');
  state.runs = now.runs;
  state.finished = new Set(now.runs.map((r) => r.name));
  state.names = new Set([...state.finished, ...now.jobs.filter((j) => ['waiting', 'running'].includes(j.state)).map((j) => j.name)]);
  const field = $('start').elements.name;
  if (document.activeElement !== field && (!field.value || (field.value === field.dataset.own && state.names.has(field.value)))) field.value = field.dataset.own = name();
  replaces();
  showJobs(now.jobs, cancel);
  showRuns(now.runs, $('finished'), dossier);
  showModel(now.model, makeModel, forget);
  if (state.model === 'making' && now.model.state === 'ready' && state.data) check();
  state.model = now.model.state;
  verified();
}

const after = (work) => guarded(async (event) => { await work(event); await refresh(); });
const cancel = (number) => after(() => ask('cancel', { number }));
const dossier = (name) => after(() => ask('dossier', { name }));
const makeModel = after(() => ask('model', { data: state.data, text: state.text }));
const forget = after(() => ask('forget', {}));

$('starter').addEventListener('submit', guarded(async (event) => {
  const press = event.target.querySelector('button'), words = press.textContent;
  press.textContent = 'Sizing …';
  const answer = await ask('start', Object.fromEntries(new FormData(event.target)))
    .finally(() => { press.textContent = words; });
  for (const field of event.target.elements) if (field.name) field.toggleAttribute('aria-invalid', false);
  for (const { key } of answer.problems ?? []) event.target.elements[key]?.setAttribute('aria-invalid', 'true');
  $('starter').querySelector('.faults').replaceChildren(...(answer.problems ?? []).map((p) => make('li', {}, `${p.key}: given ${p.given}; ${p.allowed}`)));
  if (answer.data) edit(answer, `Proposed: ${answer.words}.`);
}));
$('file').addEventListener('change', guarded(async (event) => {
  const [file] = event.target.files;
  if (!file) return;
  if (file.size > 200000 || !file.name.toLowerCase().endsWith('.toml')) throw new Error(`${file.name}: allowed: a case file (.toml) of up to 200 kB`);
  edit(await ask('open', { text: await file.text() }));
}));
$('save').addEventListener('click', () => {
  const address = URL.createObjectURL(new Blob([$('text').value], { type: 'application/toml' }));
  make('a', { href: address, download: 'case.toml' }).click();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
  state.edited = false;
});
$('form').addEventListener('submit', (event) => event.preventDefault());
$('text').addEventListener('input', () => { state.edited = true; retype(); });
$('back').addEventListener('click', () => { resetSliders(base.thicknesses()); slide(base.thicknesses()); });
for (const radio of document.querySelectorAll('[name=as]')) radio.addEventListener('change', () => as(radio.value));
$('start').elements.name.addEventListener('input', replaces);
$('start').addEventListener('submit', after(async (event) => {
  const field = event.target.elements.name;
  await ask('run', { data: state.data, text: state.text, name: field.value });
  state.edited = false;
  field.value = '';
  field.dataset.own = '';
}));

async function begin() {
  const { form: description, cases, stock, units } = await ask('form');
  state.form = description;
  setUnits(stock, units);
  $('cases').replaceChildren(...cases.map((c) => make('li', {}, button(c, guarded(async () => edit(await ask('open', { case: c })))))));
  if (!cases.length) $('cases').replaceChildren(make('li', { class: 'note' }, 'None in this directory yet.'));
  for (const link of document.querySelectorAll('[data-later]')) link.hidden = true;
  await refresh();
  document.body.dataset.ready = 'yes';
  watch();
}

async function watch() {
  for (let words = ''; ;) {
    await new Promise((resume) => setTimeout(resume, 1000));
    if (document.hidden) continue;
    try {
      await refresh();
      if (words && $('told').textContent === words) tell('');
      words = '';
    } catch (error) { tell(words = error.message); }
  }
}
// What is in no file and in no run would be gone with the page.
addEventListener('beforeunload', (event) => { if (state.edited) event.preventDefault(); });
begin().catch((error) => tell(error.message));
