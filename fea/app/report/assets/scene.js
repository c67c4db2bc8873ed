// The scene of both stacks: field, bent shape, cut, pick. Data come packed from the page itself.
import * as THREE from 'three';
import { OrbitControls } from 'orbit';

const AXES = ['x', 'y', 'z'];

async function unpack(text, Kind) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate'));
  return new Kind(await new Response(stream).arrayBuffer());
}

async function load(packed) {
  const body = {
    nodes: packed.nodes,
    points: await unpack(packed.points, Float32Array),
    displacement: await unpack(packed.displacement, Float32Array),
    fields: await Promise.all(packed.fields.map((f) => unpack(f, Float32Array))),
  };
  for (const name of ['triangles', 'edges', 'cells'])
    if (packed[name]) body[name] = await unpack(packed[name], Uint32Array);
  return body;
}

// Colours in steps that differ in lightness, so that they are told apart with any colour vision.
const MAGNITUDE = [[0.96, 0.95, 0.90], [0.80, 0.87, 0.72], [0.45, 0.74, 0.66], [0.16, 0.52, 0.62],
  [0.16, 0.29, 0.52], [0.17, 0.07, 0.30]];
const SIGNED = [[0.05, 0.19, 0.42], [0.25, 0.53, 0.76], [0.67, 0.82, 0.91], [0.96, 0.96, 0.96],
  [0.96, 0.73, 0.58], [0.82, 0.36, 0.24], [0.45, 0.04, 0.12]];

function colour(t, map) {
  const at = Math.min(Math.max(t, 0), 1) * (map.length - 1);
  const i = Math.min(Math.floor(at), map.length - 2), f = at - i;
  return map[i].map((c, k) => c + f * (map[i + 1][k] - c));
}

function paint(values, scale, into) {
  const c = new THREE.Color();
  for (let i = 0; i < values.length; i++) {
    c.setRGB(...colour((values[i] - scale.low) / (scale.high - scale.low), scale.map),
      THREE.SRGBColorSpace);
    into[3 * i] = c.r; into[3 * i + 1] = c.g; into[3 * i + 2] = c.b;
  }
}

// Ends of the scale: all but the topmost 0.2 % of the nodes, so that one sharp edge does not
// take the colour from all the rest.
function scaleOf(stacks, index, signed) {
  const sizes = stacks.flatMap((s) => Array.from(s.body.fields[index], Math.abs)).sort((a, b) => a - b);
  const high = sizes[Math.floor(0.998 * (sizes.length - 1))] || 1;
  return { low: signed ? -high : 0, high, map: signed ? SIGNED : MAGNITUDE };
}

function mirrors(names) {
  const signs = [[1, 1]];
  if (names.includes('x')) signs.push(...signs.map(([a, b]) => [-a, b]));
  if (names.includes('y')) signs.push(...signs.map(([a, b]) => [a, -b]));
  return signs;
}

// Section of tetrahedra by the plane where coordinate `axis` is `at`, in the unloaded shape.
function section(volume, axis, at, factor, field) {
  const { points, cells, displacement } = volume, place = [], values = [];
  const corner = (a, b) => {
    const da = points[3 * a + axis] - at, db = points[3 * b + axis] - at, t = da / (da - db);
    const p = [0, 1, 2].map((k) => {
      const u = points[3 * a + k] + factor * displacement[3 * a + k];
      return u + t * (points[3 * b + k] + factor * displacement[3 * b + k] - u);
    });
    return [p, field[a] + t * (field[b] - field[a])];
  };
  const add = (...corners) => corners.forEach(([p, v]) => { place.push(...p); values.push(v); });
  for (let c = 0; c < cells.length; c += 4) {
    const above = [], below = [];
    for (let k = 0; k < 4; k++)
      (points[3 * cells[c + k] + axis] >= at ? above : below).push(cells[c + k]);
    if (above.length === 0 || below.length === 0) continue;
    if (above.length === 2) {
      const [a, b] = above, [d, e] = below;
      const q = [corner(a, d), corner(a, e), corner(b, e), corner(b, d)];
      add(q[0], q[1], q[2]); add(q[0], q[2], q[3]);
    } else {
      const [one, rest] = above.length === 1 ? [above[0], below] : [below[0], above];
      add(...rest.map((other) => corner(one, other)));
    }
  }
  return [new Float32Array(place), new Float32Array(values)];
}

async function start(root) {
  const data = JSON.parse(document.getElementById('scene-data').textContent);
  const stacks = await Promise.all(data.stacks.map(async (s) => ({
    ...s, body: await load(s), inner: s.volume ? await load(s.volume) : null,
  })));
  const ui = (name) => root.querySelector(`[data-ui="${name}"]`);
  const canvas = ui('canvas'), told = ui('told');
  const renderer = new THREE.WebGLRenderer({ canvas, antialias: true, });
  renderer.localClippingEnabled = true;
  const scene = new THREE.Scene();
  const camera = new THREE.PerspectiveCamera(28, 1, 0.01, 100);
  camera.up.set(0, 0, 1);
  scene.add(new THREE.HemisphereLight(0xffffff, 0xb0b8c0, 2.4), camera);
  const lamp = new THREE.DirectionalLight(0xffffff, 1.2);
  lamp.position.set(0.4, 0.6, 1);
  camera.add(lamp);
  // Sections are taken a hair inside what is kept: faces of elements lie in the mirror planes.
  const plane = new THREE.Plane(new THREE.Vector3(-1, 0, 0), 0);
  const state = { field: 0, factor: data.magnification, axis: -1, at: 0, pick: null };
  const box = new THREE.Box3();

  for (const s of stacks) {
    s.geometry = new THREE.BufferGeometry();
    s.geometry.setAttribute('position', new THREE.BufferAttribute(s.body.points.slice(), 3));
    s.geometry.setAttribute('color', new THREE.BufferAttribute(new Float32Array(3 * s.nodes), 3));
    s.geometry.setIndex(new THREE.BufferAttribute(s.body.triangles, 1));
    s.lines = new THREE.BufferGeometry();
    s.lines.setAttribute('position', s.geometry.getAttribute('position'));
    s.lines.setIndex(new THREE.BufferAttribute(s.body.edges, 1));
    s.skin = new THREE.MeshLambertMaterial({ vertexColors: true, side: THREE.DoubleSide,
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
    s.ink = new THREE.LineBasicMaterial();
    s.images = mirrors(s.mirrors).map(([a, b]) => {
      const mesh = new THREE.Mesh(s.geometry, s.skin), cut = new THREE.Mesh(
        new THREE.BufferGeometry(), new THREE.MeshBasicMaterial({ vertexColors: true, side: THREE.DoubleSide }));
      const group = new THREE.Group();
      group.add(mesh, new THREE.LineSegments(s.lines, s.ink), cut);
      group.scale.set(a, b, 1);
      scene.add(group);
      return { a, b, mesh, cut };
    });
    s.geometry.computeBoundingBox();
    for (const [a, b] of mirrors(s.mirrors))
      box.union(s.geometry.boundingBox.clone().applyMatrix4(new THREE.Matrix4().makeScale(a, b, 1)));
  }
  const steel = new THREE.MeshLambertMaterial({ color: 0xa9b4bd });
  const bar = ([x, y, z0, z1, d], sides) => {
    const shape = new THREE.CylinderGeometry(d / 2, d / 2, z1 - z0, sides).rotateX(Math.PI / 2);
    const mesh = new THREE.Mesh(shape, steel);
    mesh.position.set(x, y, (z0 + z1) / 2);
    scene.add(mesh);
  };
  data.rods.forEach((r) => bar(r, 24));
  data.nuts.forEach((n) => bar(n, 6));
  const dot = new THREE.Mesh(new THREE.SphereGeometry(1, 16, 12), new THREE.MeshBasicMaterial({ color: 0xc2185b }));
  dot.visible = false;
  scene.add(dot);

  const middle = box.getCenter(new THREE.Vector3()), size = box.getSize(new THREE.Vector3()).length();
  dot.scale.setScalar(size / 160);
  camera.near = size / 100; camera.far = size * 20;
  const controls = new OrbitControls(camera, canvas);
  const look = (x, y, z) => {
    camera.position.set(x, y, z).normalize().multiplyScalar(size * 2.1).add(middle);
    controls.target.copy(middle);
    controls.update();
  };
  const draw = () => { renderer.render(scene, camera); };
  // Ground and lines are those of the canvas in the style sheet, which may follow the scheme.
  const dress = () => {
    const { backgroundColor: ground, color: ink } = getComputedStyle(canvas);
    renderer.setClearColor(ground === 'rgba(0, 0, 0, 0)' ? 0xffffff : new THREE.Color(ground));
    for (const s of stacks) s.ink.color.set(ink);
    draw();
  };
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', dress);
  controls.addEventListener('change', draw);

  function fit() {
    const width = canvas.clientWidth, height = canvas.clientHeight;
    renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    renderer.setSize(width, height, false);
    camera.aspect = width / height;
    camera.updateProjectionMatrix();
    draw();
  }

  function cuts() {
    const on = state.axis >= 0;
    const material = on ? [plane] : [];
    if (on) {
      plane.normal.set(0, 0, 0).setComponent(state.axis, state.axis === 1 ? 1 : -1);
      plane.constant = state.axis === 1 ? -state.at : state.at;
    }
    for (const s of stacks) {
      s.skin.clippingPlanes = s.ink.clippingPlanes = material;
      for (const image of s.images) {
        image.cut.visible = on && s.inner !== null;
        if (!image.cut.visible) continue;
        const sign = [image.a, image.b, 1][state.axis];
        const [place, values] = section(s.inner, state.axis, sign * (state.at + (state.axis === 1 ? 1 : -1) * 1e-5 * size), state.factor, s.inner.fields[state.field]);
        const colours = new Float32Array(place.length);
        paint(values, state.scale, colours);
        image.values = values;
        image.cut.geometry.dispose();
        image.cut.geometry = new THREE.BufferGeometry();
        image.cut.geometry.setAttribute('position', new THREE.BufferAttribute(place, 3));
        image.cut.geometry.setAttribute('color', new THREE.BufferAttribute(colours, 3));
      }
    }
    steel.clippingPlanes = material;
  }

  function update() {
    const field = data.fields[state.field];
    state.scale = scaleOf(stacks, state.field, field.signed);
    for (const s of stacks) {
      const position = s.geometry.getAttribute('position'), { points, displacement, fields } = s.body;
      for (let i = 0; i < points.length; i++)
        position.array[i] = points[i] + state.factor * displacement[i];
      position.needsUpdate = true;
      s.geometry.computeVertexNormals();
      s.geometry.computeBoundingSphere();
      paint(fields[state.field], state.scale, s.geometry.getAttribute('color').array);
      s.geometry.getAttribute('color').needsUpdate = true;
    }
    cuts();
    const { low, high, map } = state.scale, unit = field.unit || 'demand / limit';
    ui('legend').style.background = `linear-gradient(to right, ${map.map((c) =>
      `rgb(${c.map((v) => Math.round(255 * v))})`).join(',')})`;
    ui('low').textContent = `${low.toPrecision(3)} ${unit}`;
    ui('high').textContent = `${high.toPrecision(3)} ${unit} and beyond`;
    ui('factor-value').textContent = `${Number(state.factor.toPrecision(3))} times`;
    ui('at-value').textContent = state.axis < 0 ? 'no cut' : `${AXES[state.axis]} = ${shown(state.at)} ${data.length[1]}`;
    draw();
  }

  function shown(metres) { return (metres / data.length[0]).toFixed(data.length[1] === 'in' ? 2 : 0); }

  function tell(hit, s, image) {
    const field = data.fields[state.field], { a, b, c } = hit.face, p = hit.point.clone();
    const local = hit.object.worldToLocal(hit.point.clone()), w = new THREE.Vector3();
    const position = hit.object.geometry.getAttribute('position');
    const v = [a, b, c].map((i) => new THREE.Vector3().fromBufferAttribute(position, i));
    THREE.Triangle.getBarycoord(local, ...v, w);
    const values = hit.object === image.cut ? image.values : s.body.fields[state.field];
    const value = w.x * values[a] + w.y * values[b] + w.z * values[c];
    let at = p;
    if (hit.object === image.mesh) {
      const q = s.body.points, f = (k) => w.x * q[3 * a + k] + w.y * q[3 * b + k] + w.z * q[3 * c + k];
      at = new THREE.Vector3(image.a * f(0), image.b * f(1), f(2));
    }
    dot.position.copy(p); dot.visible = true;
    told.textContent = `${s.name}: ${field.label} ${Number(value.toPrecision(4))} ${field.unit} at (${
      [at.x, at.y, at.z].map(shown).join(', ')} ${data.length[1]})`;
    draw();
  }

  const ray = new THREE.Raycaster();
  function pick(x, y) {
    const edge = canvas.getBoundingClientRect();
    ray.setFromCamera(new THREE.Vector2(2 * (x - edge.left) / edge.width - 1, 1 - 2 * (y - edge.top) / edge.height), camera);
    const owners = new Map();
    for (const s of stacks) for (const image of s.images) {
      owners.set(image.mesh, [s, image]);
      if (image.cut.visible) owners.set(image.cut, [s, image]);
    }
    const hit = ray.intersectObjects([...owners.keys()], false).find((h) =>
      state.axis < 0 || owners.get(h.object)[1].cut === h.object || plane.distanceToPoint(h.point) >= 0);
    if (hit) tell(hit, ...owners.get(hit.object));
    else { told.textContent = 'Nothing there.'; dot.visible = false; draw(); }
  }
  let down = null;
  canvas.addEventListener('pointerdown', (e) => { down = [e.clientX, e.clientY]; });
  canvas.addEventListener('pointerup', (e) => {
    if (down && Math.hypot(e.clientX - down[0], e.clientY - down[1]) < 4) pick(e.clientX, e.clientY);
  });
  canvas.addEventListener('keydown', (e) => {
    const turn = { ArrowLeft: [0.1, 0], ArrowRight: [-0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] }[e.key];
    const zoom = { '+': 0.9, '-': 1.1 }[e.key];
    const edge = canvas.getBoundingClientRect();
    if (e.key === 'Enter') pick(edge.left + edge.width / 2, edge.top + edge.height / 2);
    if (!turn && !zoom && e.key !== 'Enter') return;
    e.preventDefault();
    const away = camera.position.clone().sub(controls.target);
    const round = new THREE.Spherical().setFromVector3(new THREE.Vector3(away.x, away.z, -away.y));
    if (turn) { round.theta += turn[0]; round.phi = Math.min(Math.max(round.phi - turn[1], 0.05), 3.09); }
    if (zoom) round.radius *= zoom;
    const t = new THREE.Vector3().setFromSpherical(round);
    camera.position.set(t.x, -t.z, t.y).add(controls.target);
    controls.update(); draw();
  });

  data.fields.forEach((f, i) => ui('field').add(new Option(f.label, i)));
  ui('field').addEventListener('change', (e) => { state.field = Number(e.target.value); update(); });
  ui('factor').max = String(2 * data.magnification);
  ui('factor').step = String(data.magnification / 50);
  ui('factor').value = String(state.factor);
  ui('factor').addEventListener('input', (e) => { state.factor = Number(e.target.value); update(); });
  const where = () => {
    const k = state.axis, t = Number(ui('at').value) / 100;
    if (k >= 0) state.at = box.min.getComponent(k) + t * (box.max.getComponent(k) - box.min.getComponent(k));
    update();
  };
  ui('axis').addEventListener('change', (e) => {
    state.axis = AXES.indexOf(e.target.value); ui('at').disabled = state.axis < 0; where();
  });
  ui('at').addEventListener('input', where);
  const views = { front: [0, -1, 0.05], side: [1, 0, 0.05], above: [0, -0.02, 1], below: [0, -0.02, -1], slanted: [0.62, -1, 0.42] };
  root.querySelectorAll('[data-look]').forEach((b) => b.addEventListener('click', () => { look(...views[b.dataset.look]); draw(); }));
  look(...views.slanted);
  update();
  dress();
  new ResizeObserver(fit).observe(canvas);
  fit();
  root.dataset.ready = 'yes';
}

const root = document.getElementById('scene');
if (root) start(root).catch((error) => {
  root.dataset.ready = 'no';
  root.querySelector('[data-ui="told"]').textContent =
    `The scene cannot be shown here (${error.message}); the pictures above show the same fields.`;
});
