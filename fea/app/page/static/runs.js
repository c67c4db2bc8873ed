// Runs: those under way, those done, and those chosen to be compared.
import { button, make, refill } from './form.js';
import { limitWords, fill, percent, quantity, use } from './plates.js';

const $ = (id) => document.getElementById(id);
const chosen = new Set();
let seen = '', runs = [];

// Browsers keep pictures of one address: a run that takes the place of another has other ones.
const at = (run, file) => `runs/${encodeURIComponent(run.name)}/${encodeURIComponent(file)}?${run.age}`;
const live = (job) => ['waiting', 'running'].includes(job.state);

export function showJobs(jobs, cancel) {
  const kept = new Map([...$('jobs').children].map((row) => [row.dataset.number, row]));
  const rows = jobs.slice(0, 8).map((job) => {
    const words = { waiting: 'waits for the run before it', running: job.step || 'starts', done: job.kind === 'dossier' ? `dossier made in ${job.seconds} s: it is among the files` : `done in ${job.seconds} s: ${job.words === 'done' ? 'no checked limit exceeded' : job.words}` }[job.state] ?? `${job.state}: ${job.words}`;
    let row = kept.get(String(job.number));
    if (!row) {
      row = make('li', { 'data-job': job.name, 'data-number': job.number }, make('b', {}, job.name), make('progress', { 'aria-label': `Progress of ${job.name}`, max: 16, value: 0 }), make('span', {}, make('span', { role: 'status' }), make('span', { class: 'time' })),
        button('Cancel', cancel(job.number), { 'aria-label': `Cancel ${job.name}` }), make('a', { href: `#run-${encodeURIComponent(job.name)}`, class: 'see' }, 'See it'));
    }
    row.dataset.state = job.state;
    row.querySelector('progress').value = Math.min(job.steps, 15);
    row.querySelector('progress').hidden = !live(job);
    put(row.querySelector('[role=status]'), words);
    put(row.querySelector('.time'), job.state === 'running' ? ` · ${job.seconds} s` : '');
    row.querySelector('button').hidden = !live(job);
    row.querySelector('a').hidden = job.state !== 'done';
    return row;
  });
  if (rows.length !== kept.size || rows.some((row, i) => row !== $('jobs').children[i])) refill($('jobs'), ...rows);
}

const put = (place, words) => { if (place.textContent !== words) place.textContent = words; };

export function showModel(model, begin, forget) {
  const place = $('model'), reducible = place.dataset.reducible === 'yes', told = place.dataset.told === 'yes';
  const key = JSON.stringify([model, reducible, told]);
  if (place.dataset.seen === key) return;
  place.dataset.seen = key;
  if (model.state === 'making') {
    if (!place.querySelector('progress')) place.replaceChildren(make('progress', { 'aria-label': 'Making the reduced model' }), make('span', { role: 'status' }), make('span', { class: 'time' }), button('Cancel', forget, { 'aria-label': 'Cancel the reduced model' }));
    put(place.querySelector('[role=status]'), model.step);
    put(place.querySelector('.time'), `${model.seconds} s`);
  } else if (!reducible || told) place.replaceChildren();
  else place.replaceChildren(button('Sharpen with a reduced model', begin), make('span', { class: 'note' },
    model.state === 'failed' ? `It failed: ${model.step}` : model.state === 'ready' ? 'The existing model was made for another press.'
      : 'Takes many solves now, a minute or more for a small press; then each thickness is answered at once, with a bound of the error.'));
}

function card(run, dossier) {
  if (run.fault) return make('p', { class: 'fault' }, `${run.name}: ${run.fault}`);
  const pick = make('input', { type: 'checkbox', id: `pick-${run.name}`, checked: chosen.has(run.name), 'data-compare': run.name,
    onchange: (e) => { chosen[e.target.checked ? 'add' : 'delete'](run.name); compared(); } });
  const scene = make('div', { class: 'scene-place' });
  const open = () => {
    const shown = scene.childElementCount > 0;
    scene.replaceChildren(...(shown ? [] : [make('iframe', { src: `scene/${encodeURIComponent(run.name)}?${run.age}`, title: `${run.name} in three dimensions` })]));
    see.textContent = shown ? 'Show in 3-D' : 'Hide the 3-D scene';
  };
  const see = button('Show in 3-D', open, { class: 'main', 'data-scene': run.name });
  const figure = (name) => run.figures.find((f) => f.name === name);
  const head = ['crosshead', 'bed'].map((s) => `${s} ${figure(`${s}: mid-span deflection`)?.text}, ${figure(`${s}: peak von Mises stress`)?.text}`).join(' · ');
  const details = make('details', { 'data-run': run.name, id: `run-${encodeURIComponent(run.name)}` },
    make('summary', {}, make('b', {}, run.name), make('span', {}, ` ${run.press} `), make('span', { class: run.exceeded ? 'chip over' : 'chip' },
      run.exceeded ? `${run.exceeded} ${run.exceeded === 1 ? 'limit' : 'limits'} exceeded` : 'no checked limit exceeded'), make('span', { class: 'note block' }, head)),
    run.changes.length ? make('div', {}, make('h3', {}, 'What to change'), make('ul', {}, ...run.changes.map((words) => make('li', {}, words))), make('p', { class: 'note' }, 'One value each, by quick figures; run the case again.')) : '',
    ...run.ideal.map((words) => make('p', { class: 'ideal' }, words)),
    make('p', { class: 'actions' }, run.scene ? see : '', make('a', { class: 'as-button', href: at(run, 'all.zip'), download: `${run.name}.zip` }, 'All files as ZIP'),
      run.files.includes('dossier.html') ? make('a', { class: 'as-button', href: at(run, 'dossier.pdf'), download: `${run.name} dossier.pdf` }, 'Dossier as PDF')
        : button('Make the dossier', dossier(run.name))), scene,
    make('div', { class: 'pair' },
      make('div', {}, make('h3', {}, 'Checks, the closest first'), make('ul', { class: 'uses' }, ...run.checks.slice(0, 12).map((c) => make('li', { class: c.utilisation > 1 ? 'over' : '' },
        make('span', {}, c.name), make('b', {}, percent(c.utilisation)), use(c.utilisation), make('span', { class: 'note' }, `${limitWords(c)}${c.utilisation > 1 ? ': exceeded' : ''}`))))),
      make('div', {}, make('h3', {}, 'Pictures'), make('div', { class: 'pictures' }, ...run.files.filter((f) => f.endsWith('.png')).map((f) => make('a', { href: at(run, f), target: '_blank' },
        make('img', { src: at(run, f), alt: `${f.slice(0, -4).replaceAll('_', ' ')} of ${run.name}`, loading: 'lazy' })))))),
    make('details', { class: 'more' }, make('summary', {}, `${run.files.length} files`), make('ul', { class: 'files' }, ...run.files.map((f) => make('li', {}, make('a', { href: at(run, f), download: f }, f))))),
    run.cautions.length ? make('details', { class: 'more' }, make('summary', {}, `${run.cautions.length} cautions`), make('ul', { class: 'note' }, ...run.cautions.map((c) => make('li', {}, c)))) : '');
  return make('div', { class: 'run' }, make('label', { class: 'pick', for: pick.id }, pick, make('span', {}, 'compare', make('span', { class: 'unseen' }, ` ${run.name}`))), details);
}

export function showRuns(list, place, dossier) {
  const key = JSON.stringify(list);
  if (key === seen) return;
  seen = key;
  runs = list;
  const open = new Set([...place.querySelectorAll('details[data-run][open]')].map((d) => d.dataset.run));
  const scenes = new Map([...place.querySelectorAll('.scene-place')].filter((s) => s.childElementCount).map((s) => [s.closest('details').dataset.run, s]));
  refill(place, ...(list.length ? list.map((run) => card(run, dossier)) : [make('p', { class: 'note' }, 'None yet. A full solve of a case appears here, with its pictures, its 3-D scene and all its files.')]));
  for (const details of place.querySelectorAll('details[data-run]')) {
    details.open = open.has(details.dataset.run);
    if (scenes.has(details.dataset.run)) details.querySelector('[data-scene]')?.click();
  }
  for (const name of chosen) if (!list.some((r) => r.name === name)) chosen.delete(name);
  compared();
}

function difference(now, first) {
  if (now == null || !first || now === first) return '';
  const part = now / first - 1;
  return Math.abs(part) < 0.0005 ? '' : make('span', { class: 'change' }, ` ${part > 0 ? '+' : '−'}${Number(Math.abs(100 * part).toPrecision(2))}\u00a0%`);
}

function compared() {
  const own = runs.filter((r) => chosen.has(r.name) && !r.fault).reverse();
  $('compare').hidden = own.length < 1;
  for (const link of document.querySelectorAll('nav [data-compare]')) link.hidden = own.length < 1;
  if (!own.length) return;
  const rows = ['crosshead', 'bed'].map((s) => [`${s}: plates`, ...own.map((r) => r.plates[s].map((t) => quantity(t, 'm')).join(' + '))]);
  for (const f of own[0].figures) {
    rows.push([f.name, ...own.map((r) => {
      const mine = r.figures.find((one) => one.name === f.name);
      if (!mine) return 'not known';
      return make('td', {}, make('b', {}, mine.text), difference(mine.value, f.value));
    })]);
  }
  rows.push(['closest to a limit', ...own.map((r) => {
    const worst = r.checks[0];
    return make('td', { class: worst?.utilisation > 1 ? 'over' : '' }, ...(worst ? [make('b', {}, percent(worst.utilisation)), ` ${worst.name}`] : ['not known']));
  })]);
  for (const picture of ['stress.png', 'deflection.png'])
    if (own.some((r) => r.files.includes(picture))) rows.push([`${picture.slice(0, -4)}, each on its own scale`, ...own.map((r) => make('td', {}, r.files.includes(picture) ? make('img', { src: at(r, picture), alt: `${picture.slice(0, -4)} of ${r.name}`, loading: 'lazy' }) : 'no picture'))]);
  fill($('compared'), ['', ...own.map((r) => r.name)], rows);
}
