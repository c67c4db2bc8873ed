// Thickness sliders, and the figures that they move.
import { make } from './form.js';

const $ = (id) => document.getElementById(id);
let shown = {};
let stock = [];

/** Plates that are sold (m), and the units of the case: SI unit to scale and name. */
export function setUnits(thicknesses, units) {
  stock = thicknesses;
  shown = units;
  document.getElementById('stock')?.remove();
  document.body.append(make('datalist', { id: 'stock' }, ...stock.map((t) => make('option', { value: t / shown.m[0] }))));
}

export function quantity(value, unit, digits = 4) {
  if (value == null) return 'not known';
  const [scale, name] = shown[unit] ?? [1, unit];
  return `${plain(value / scale, digits)} ${name}`.trim();
}

/** As `geometry.units.plain`. */
export function plain(value, digits = 4) {
  const whole = Math.abs(value) >= 10 ** digits - 0.5 && Math.abs(value) < 1e9;
  return whole ? Math.round(value).toLocaleString('en') : `${Number(value.toPrecision(digits))}`;
}

/** As `geometry.units.percent`: no rounding across the limit. */
export const percent = (part) => `${part >= 0.995 && part < 1.005 && part !== 1 ? (part < 1 ? Math.floor(1000 * part) : Math.ceil(1000 * part)) / 10 : Math.round(100 * part)}\u00a0%`;
/** What a use is measured against: a maximum, or a minimum that must be reached. */
export const limitWords = (c) => (c.sense === 'at least' ? `≥ ${c.limit_name ?? c.limit}` : `of ${c.limit_name ?? c.limit}`);

// A bar of what is used of a limit; past the limit it is full and says so by colour and words.
export function use(value, low = value, high = value) {
  const fill = make('i'), band = make('i', { class: 'band' }), share = (x) => Math.min(100, Math.max(0, 100 * x));
  fill.style.width = `${share(value)}%`;
  band.style.left = `${share(low)}%`;
  band.style.width = `${share(high) - share(low)}%`;
  return make('span', { class: low > 1 ? 'use over' : 'use', 'aria-hidden': 'true' }, fill, ...(high > low ? [band] : []));
}

const SAID = { within: '', open: '; open: a full solve decides', exceeded: ': exceeded' };
const VERDICTS = { within: 'All limits hold by these figures, over the whole of their bands.', open: 'Open: only a full solve decides on the limits marked so.', exceeded: 'Exceeded by these figures, whatever a full solve says.' };
const uses = (c) => (c.high - c.low > 0.005 ? `${percent(c.low)} to ${percent(c.high)}` : percent(c.use));

// What the sliders started from.
let start = null;
export const base = {
  forget() { start = null; },
  thicknesses() { return structuredClone(start.thicknesses); },
  moved(prediction) { return start !== null && start.prediction.mass !== prediction.mass; },
};

export function drawSliders(answer, slide) {
  start = { thicknesses: structuredClone(answer.thicknesses), prediction: answer.prediction };
  const now = structuredClone(answer.thicknesses);
  $('sliders').replaceChildren(...Object.entries(now).flatMap(([stack, values]) => values.map((t, i) => {
    const id = `slide-${stack}-${i}`, count = answer.counts[stack][i];
    const out = make('output', { for: id }, quantity(t, 'm'));
    const unit = shown.m[0], step = shown.m[1] === 'in' ? 1 / 16 : 1, whole = (x) => Math.round(x / unit / step) * step;
    const low = Math.max(step, whole(t / 2)), high = whole(2 * t);
    const what = values.length > 1 ? `${stack}, entry ${i + 1}` : stack;
    return make('div', { class: 'slider' }, make('label', { for: id }, `${what}: ${count === 1 ? '1 plate' : `${count} plates`} of`),
      make('input', { id, type: 'range', min: low, max: high, step, value: t / unit, list: 'stock', 'data-slider': `${stack} ${i + 1}`,
        oninput: (e) => { now[stack][i] = Number(e.target.value) * unit; out.textContent = quantity(now[stack][i], 'm'); slide(structuredClone(now)); } }), out);
  })));
}

export function resetSliders(thicknesses) {
  for (const input of $('sliders').querySelectorAll('input')) {
    const [stack, i] = input.dataset.slider.split(' ');
    input.value = thicknesses[stack][i - 1] / shown.m[0];
    input.nextElementSibling.textContent = quantity(thicknesses[stack][i - 1], 'm');
  }
}

function change(now, before) {
  if (now == null || before == null || Math.abs(now / before - 1) < 0.0005) return '';
  const part = now / before - 1;
  return make('span', { class: 'change' }, `${part > 0 ? '+' : '−'}${Number(Math.abs(100 * part).toPrecision(2))}\u00a0%`);
}

// Red only what is exceeded whatever a full solve says; between, the figure is open.
function against(value, limit, range, unit, before) {
  if (value == null) return make('td', {}, 'not known');
  const [low, high] = range ?? [value, value];
  return make('td', { class: low > limit ? 'over' : '' }, make('b', {}, quantity(value, unit)), ' ', change(value, before),
    use(value / limit, low / limit, high / limit), make('span', { class: 'note' }, `${percent(value / limit)} of ${quantity(limit, unit)}${low <= limit && high > limit ? '; open' : ''}`));
}

export function fill(table, head, rows) {
  table.tHead.replaceChildren(make('tr', {}, ...head.map((h) => (h === '' ? make('td') : make('th', { scope: 'col' }, h)))));
  table.tBodies[0].replaceChildren(...rows.map(([name, ...cells]) => make('tr', {}, make('th', { scope: 'row' }, name),
    ...cells.map((c) => (c instanceof Node ? c : make('td', {}, c))))));
}

export function showPrediction(p) {
  $('ideal').replaceChildren(...p.ideal.map((words) => make('p', { class: 'ideal' }, words)));
  const names = Object.keys(p.stacks), all = names.map((n) => p.stacks[n]), was = start.prediction;
  const range = (s) => {
    if (!s.range) return 'not known';
    if (s.by !== 'beam') {
      const part = 50 * (s.range[1] - s.range[0]) / s.deflection;
      return part < 0.01 ? 'within 0.01\u00a0%' : `within ${Number(part.toPrecision(2))}\u00a0%`;
    }
    return `${quantity(s.range[0], 'm')} to ${quantity(s.range[1], 'm')}`;
  };
  const cost = p.cost && `${plain(p.cost.total)} ${p.cost.currency}${p.cost.missing.length ? ', in part' : ''}`;
  fill($('predicted'), ['', ...names], [
    ['mid-span deflection', ...names.map((n) => against(p.stacks[n].deflection, p.stacks[n].deflection_limit, p.stacks[n].range, 'm', was.stacks[n]?.deflection))],
    ['how sure', ...all.map((s) => make('td', {}, range(s), make('span', { class: 'note block' }, s.by === 'beam' ? 'by beam theory' : `by the ${s.by}`)))],
    ['peak stress', ...names.map((n) => { const s = p.stacks[n], cell = against(s.stress, s.stress_limit, s.stress_range, 'Pa', was.stacks[n]?.stress); if (s.stress_range) cell.append(make('span', { class: 'note block' }, `${quantity(s.stress_range[0], 'Pa')} to ${quantity(s.stress_range[1], 'Pa')}, by beam theory`)); return cell; })],
    ['mass', ...names.map((n) => make('td', {}, quantity(p.stacks[n].mass, 'kg'), ' ', change(p.stacks[n].mass, was.stacks[n]?.mass)))],
    ['whole press', make('td', { colspan: 2 }, quantity(p.mass, 'kg'), ' ', change(p.mass, was.mass), ` with cylinder · ${quantity(p.height, 'm')} high over the rods · `,
      p.cost ? `${cost} by the prices in the case ` : 'cost not known: no prices in the case', p.cost ? change(p.cost.total, was.cost?.total) : '')],
  ]);
  const same = new Set(all.map((s) => s.way));
  $('ways').replaceChildren(...(same.size === 1 ? [make('p', {}, all[0].way)] : names.map((n) => make('p', {}, `${n}: ${p.stacks[n].way}`))));
  $('model').dataset.reducible = all.some((s) => s.reducible) ? 'yes' : 'no';
  $('model').dataset.told = all.some((s) => s.by !== 'beam') ? 'yes' : 'no';
  $('quick-verdict').textContent = p.limits.length ? VERDICTS[p.verdict] : 'No figures by beam theory: only a full solve says whether the limits hold.';
  $('limits').replaceChildren(...p.limits.slice(0, 5).map((c) => make('li', { class: c.verdict === 'exceeded' ? 'over' : '' },
    make('span', {}, c.name), make('b', {}, uses(c)), use(c.use, c.low, c.high), make('span', { class: 'note' }, `${limitWords(c)}${SAID[c.verdict]}`))));
}

// What a full solve of just this case said.
export function showVerified(run) {
  $('predicted').querySelector('.verified')?.remove();
  if (!run) return;
  const names = [...$('predicted').tHead.querySelectorAll('th')].map((h) => h.textContent);
  const cells = names.map((n) => {
    const f = run.figures.find((one) => one.name === `${n}: mid-span deflection`);
    return make('td', {}, make('b', {}, f.text));
  });
  $('predicted').tBodies[0].firstChild.after(make('tr', { class: 'verified' }, make('th', { scope: 'row' }, 'solved in full'), ...cells));
}
