// The page: asks the server of this machine, and nobody else.
import { draw, make, mark } from './form.js';

const $ = (id) => document.getElementById(id);
const token = document.querySelector('meta[name=page-token]').content;
const SHOWN = { Pa: [1e6, 'MPa'], m: [1e-3, 'mm'], N: [1e3, 'kN'] };
const state = { form: null, data: null, thicknesses: {}, runs: [], chosen: new Set(), seen: '' };

export function quantity(value, unit, digits = 4) {
  if (value == null) return 'not known';
  const [scale, name] = SHOWN[unit] ?? [1, unit];
  return `${Number((value / scale).toPrecision(digits))} ${name}`.trim();
}

async function ask(path, given) {
  const request = given === undefined ? {} : { method: 'POST', body: JSON.stringify(given),
    headers: { 'content-type': 'application/json', 'x-page-token': token } };
  let response;
  try { response = await fetch(path, request); } catch { throw new Error('The server has ended; start platestack page again.'); }
  const answer = await response.json();
  if (!response.ok) throw Object.assign(new Error(answer.error), { problems: answer.problems });
  return answer;
}

const tell = (words) => { $('told').textContent = words; };
const guarded = (work) => async (event) => {
  event?.preventDefault?.();
  try { tell(''); await work(event); } catch (error) { tell(error.message); }
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
  return problems.map((p) => make('li', {}, `${p.key ? `${p.key}: ` : ''}given ${p.given}; ${p.allowed}`));
}

const check = newest(async () => {
  const answer = await ask('/check', { data: state.data });
  $('text').textContent = answer.text;
  mark($('form'), answer.problems);
  const good = answer.problems.length === 0;
  $('verdict').replaceChildren(good ? make('p', {}, 'The case is sound and can run.')
    : make('ul', { class: 'faults' }, ...lines(answer.problems)));
  $('plates').hidden = !good;
  if (!good) return;
  $('drawing').replaceChildren(document.importNode(new DOMParser().parseFromString(answer.drawing, 'image/svg+xml').documentElement, true));
  state.thicknesses = answer.thicknesses;
  sliders();
  predicted(answer.prediction);
}, 200);

function edit(data) {
  state.data = data;
  $('case').hidden = false;
  $('form').replaceChildren();
  draw($('form'), state.form, data, check);
  check();
}

function sliders() {
  const groups = Object.entries(state.thicknesses).map(([stack, values]) => make('fieldset', {}, make('legend', {}, stack),
    ...values.map((t, i) => {
      const out = make('output', {}, quantity(t, 'm'));
      const low = Math.max(1, Math.round(500 * t)), high = Math.round(2000 * t);
      const id = `slide-${stack}-${i}`;
      return make('div', {}, make('label', { for: id }, `entry ${i + 1} of plates of the ${stack}`), out, make('input', { id, type: 'range', min: low, max: high, step: 1, value: 1000 * t,
        'data-slider': `${stack} ${i + 1}`, oninput: (e) => {
          state.thicknesses[stack][i] = Number(e.target.value) / 1000;
          out.textContent = quantity(state.thicknesses[stack][i], 'm');
          slide();
        } }));
    })));
  $('sliders').replaceChildren(...groups);
}

const slide = newest(async () => {
  predicted(await ask('/predict', { data: state.data, thicknesses: state.thicknesses }));
  tell('');
}, 0);

function fill(table, head, rows) {
  table.tHead.replaceChildren(make('tr', {}, ...head.map((h) => make('th', { scope: 'col' }, h))));
  table.tBodies[0].replaceChildren(...rows.map(([name, ...cells]) => make('tr', {}, make('th', { scope: 'row' }, name),
    ...cells.map((c) => c instanceof Node ? c : make('td', {}, c)))));
}

function against(value, limit, unit) {
  return make('td', { class: value > limit ? 'over' : '' }, value == null ? 'not known' : `${quantity(value, unit)} of ${quantity(limit, unit)}`);
}

function predicted(p) {
  $('way').textContent = `Instant, ${p.way}. Not a full solve: verify by a run.`;
  const names = Object.keys(p.stacks), all = names.map((n) => p.stacks[n]);
  fill($('predicted'), ['', ...names], [
    ['mid-span deflection', ...all.map((s) => against(s.deflection, s.deflection_limit, 'm'))],
    ['a full solve is expected at', ...all.map((s) => s.band ? `${quantity(s.band[0], 'm', 3)} to ${quantity(s.band[1], 'm', 3)}` : 'not known')],
    ['nominal bending stress', ...all.map((s) => against(s.stress, s.stress_limit, 'Pa'))],
    ['mass of the stack', ...all.map((s) => quantity(s.mass, 'kg'))],
    ['mass of the press, without cylinder', quantity(p.mass, 'kg'), ''],
    ['height over the rods', quantity(p.height, 'm'), ''],
    ['cost', p.cost == null ? 'not known: no prices' : String(p.cost), ''],
  ]);
}

function jobs(list) {
  $('jobs').replaceChildren(...list.filter((j) => j.state !== 'done').slice(0, 12).map((j) => {
    const live = ['waiting', 'running'].includes(j.state);
    return make('li', { 'data-job': j.name, 'data-state': j.state }, `${j.name}: ${j.state} ${j.step} ${live ? '' : j.words} `,
      j.state === 'running' ? make('progress', { 'aria-label': `Progress of ${j.name}`, max: 16, value: Math.min(j.steps, 15) }) : '',
      live ? make('button', { type: 'button', onclick: guarded(async () => { await ask('/cancel', { number: j.number }); await refresh(); }) }, 'Cancel') : '');
  }));
}

function finished(list) {
  const key = JSON.stringify(list);
  if (key === state.seen) return;
  state.seen = key;
  state.runs = list;
  const cards = list.map((run) => {
    if (run.fault) return make('p', { class: 'fault' }, `${run.name}: ${run.fault}`);
    const choose = make('input', { type: 'checkbox', checked: state.chosen.has(run.name), onchange: (e) => {
      state.chosen[e.target.checked ? 'add' : 'delete'](run.name); compared(); } });
    const at = (f) => `/runs/${encodeURIComponent(run.name)}/${encodeURIComponent(f)}`;
    return make('details', { class: 'table', 'data-run': run.name }, make('summary', {}, `${run.name}: ${run.press}; ${
      run.exceeded ? `${run.exceeded} limits exceeded` : 'no checked limit exceeded'}`),
      make('div', { class: 'columns' }, ...run.files.filter((f) => f.endsWith('.png')).map((f) => make('img', { src: at(f), alt: `${f.slice(0, -4)} of ${run.name}`, loading: 'lazy' }))),
      make('ul', {}, ...run.checks.slice(0, 12).map((c) => make('li', { class: c.utilisation > 1 ? 'over' : '' },
        `${c.name}: ${Math.round(100 * c.utilisation)} % of ${c.limit_name}`))),
      make('p', {}, 'Files: ', ...run.files.flatMap((f) => [make('a', { href: at(f), download: f }, f), ' ']),
        make('a', { href: at('all.zip'), download: `${run.name}.zip` }, 'all as ZIP')),
      make('ul', { class: 'note' }, ...run.cautions.map((c) => make('li', {}, c))),
      run.scene ? make('button', { type: 'button', onclick: () => {
        $('shown').hidden = false;
        $('shown').replaceChildren(make('h3', {}, `${run.name} in three dimensions`), make('iframe', { src: `/scene/${encodeURIComponent(run.name)}`, title: `Scene of ${run.name}` }));
        $('shown').scrollIntoView();
      } }, `Show ${run.name} in 3-D`) : '',
      make('label', {}, choose, ` compare ${run.name}`));
  });
  $('finished').replaceChildren(...(cards.length ? cards : [make('p', { class: 'note' }, 'None yet.')]));
  compared();
}

function compared() {
  const chosen = state.runs.filter((r) => state.chosen.has(r.name) && !r.fault);
  $('compared').hidden = chosen.length < 1;
  if (!chosen.length) return;
  const rows = ['crosshead', 'bed'].map((s) => [`${s}: plates`, ...chosen.map((r) => r.plates[s].map((t) => quantity(t, 'm')).join(' + '))]);
  rows.push(...chosen[0].figures.map((f, i) => [f.name, ...chosen.map((r) => {
    const { value, unit, error } = r.figures[i];
    return quantity(value, unit) + (error ? ` ± ${quantity(error, unit, 2)}` : '');
  })]));
  rows.push(['highest use of a limit', ...chosen.map((r) => {
    const w = r.checks[0];
    return make('td', { class: w.utilisation > 1 ? 'over' : '' }, `${Math.round(100 * w.utilisation)} %: ${w.name}`);
  })]);
  fill($('compared'), ['', ...chosen.map((r) => r.name)], rows);
}

async function refresh() {
  const now = await ask('/state');
  jobs(now.jobs);
  finished(now.runs);
}

$('starter').addEventListener('submit', guarded(async (event) => {
  const answer = await ask('/start', Object.fromEntries(new FormData(event.target)));
  $('starter').querySelector('.faults').replaceChildren(...lines(answer.problems ?? []));
  if (answer.data) { edit(answer.data); tell(answer.words); $('case').scrollIntoView(); }
}));
$('open').addEventListener('click', guarded(async () => edit((await ask('/open', { case: $('cases').value })).data)));
$('file').addEventListener('change', guarded(async (event) => {
  const [file] = event.target.files;
  if (!file) return;
  if (file.size > 900000 || !file.name.endsWith('.toml')) throw new Error(`${file.name}: allowed: a TOML case file of less than 900 kB`);
  edit((await ask('/open', { text: await file.text() })).data);
}));
$('save').addEventListener('click', () => {
  const address = URL.createObjectURL(new Blob([$('text').textContent], { type: 'application/toml' }));
  make('a', { href: address, download: 'case.toml' }).click();
  setTimeout(() => URL.revokeObjectURL(address), 1000);
});
$('form').addEventListener('submit', (event) => event.preventDefault());
$('take').addEventListener('click', guarded(async () => edit((await ask('/take_over', { data: state.data, thicknesses: state.thicknesses })).data)));
$('start').addEventListener('submit', guarded(async (event) => {
  const data = (await ask('/take_over', { data: state.data, thicknesses: state.thicknesses })).data;
  const answer = await ask('/run', { data, name: new FormData(event.target).get('name') });
  tell(`Run ${answer.job.name} is in the queue; see Runs.`);
  await refresh();
}));

async function begin() {
  const { form, cases } = await ask('/form');
  state.form = form;
  $('cases').replaceChildren(...cases.map((c) => make('option', {}, c)));
  $('open').disabled = cases.length === 0;
  await refresh();
  document.body.dataset.ready = 'yes';
  setInterval(() => refresh().catch((error) => tell(error.message)), 1000);
}
begin().catch((error) => tell(error.message));
