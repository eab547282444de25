// ---- what there is to show -------------------------------------------------------------------
const data = JSON.parse(document.getElementById("plan-data").textContent);
const movers = data.movers;
// What only some pages have, each with a part of the script of its own: a recorded run, a plan to compare with.
const run = data.run || null;
const before = data.before || null;
const plays = movers.some((m) => m.pieces.length > 0);
const END_S = Math.max(data.end, 1);
// Where it opens and begins again: of a recorded run where the recording begins, before that nothing is known.
const BEGUN = run ? run.movers.filter((one) => one && one.t.length).map((one) => one.t[0]) : [];
const START_S = BEGUN.length ? Math.min(Math.max(Math.min(...BEGUN), 0), END_S) : 0;
const KMH = 3.6;
const DASHES = [[], [9, 4], [2, 3], [10, 3, 2, 3], [5, 5], [14, 4]];
// Ends what this page listens to, where another plan takes its place.
const replaced = new AbortController();
const $ = (id) => document.getElementById(id);
const clamp = (v, low, high) => Math.min(Math.max(v, low), high);
const dashOf = (i) => DASHES[i % DASHES.length];
const hueOf = (i) => i % 6;
const brief = (words, most = 22) => (words.length > most ? `${words.slice(0, most - 1)}\u2026` : words);

// ---- motion: exact cubics in time, cubics through sampled poses in station --------------------
function pieceAt(m, t) {
  let found = 0;
  for (let i = 0; i < m.pieces.length; i += 1) if (m.pieces[i][0] <= t) found = i;
  return m.pieces[found];
}

function stateAt(m, t) {
  if (!m.start) return null;
  const [s0, v0] = m.start;
  if (!m.pieces.length) return { s: s0, v: 0, a: 0, phase: "stands" };
  const first = m.pieces[0][0];
  if (t < first) return { s: s0 - v0 * (first - t), v: v0, a: 0, phase: v0 > 0 ? "rolls" : "waits" };
  const piece = pieceAt(m, t);
  const last = piece === m.pieces[m.pieces.length - 1];
  const over = last && t - piece[0] > piece[1];
  const u = over ? piece[1] : t - piece[0];
  const [, , s, v, a, j] = piece;
  const state = {
    s: s + u * (v + u * (a / 2 + (u * j) / 6)),
    v: v + u * (a + (u * j) / 2),
    a: a + u * j,
    phase: m.phases[piece[6]],
  };
  if (over) {
    state.v = state.v > 1e-6 ? state.v : 0;
    state.s += state.v * (t - piece[0] - piece[1]);
    state.a = 0;
    state.phase = state.v > 0 ? "rolls on" : "at rest";
  }
  return state;
}

// Whether a mover goes along its heading (1) or against it (-1) at a station: it changes at its turns.
function wayOn(m, s) {
  return m.turns.filter((one) => one > s).length % 2 ? -1 : 1;
}

function poseOn(m, s) {
  const n = m.s.length;
  if (s <= m.s[0] || s >= m.s[n - 1]) {
    const i = s <= m.s[0] ? 0 : n - 1;
    const over = wayOn(m, s) * (s - m.s[i]);
    return { x: m.x[i] + over * Math.cos(m.h[i]), y: m.y[i] + over * Math.sin(m.h[i]), h: m.h[i], k: 0 };
  }
  let low = 0;
  let high = n - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (m.s[middle] <= s) low = middle;
    else high = middle;
  }
  const step = m.s[high] - m.s[low];
  const u = (s - m.s[low]) / step;
  const p0 = (1 + 2 * u) * (1 - u) * (1 - u);
  const way = wayOn(m, m.s[low] + step / 2) * step;
  const m0 = u * (1 - u) * (1 - u) * way;
  const p1 = u * u * (3 - 2 * u);
  const m1 = u * u * (u - 1) * way;
  const [a, b] = [m.h[low], m.h[high]];
  return {
    x: p0 * m.x[low] + m0 * Math.cos(a) + p1 * m.x[high] + m1 * Math.cos(b),
    y: p0 * m.y[low] + m0 * Math.sin(a) + p1 * m.y[high] + m1 * Math.sin(b),
    h: a + u * (b - a),
    k: (b - a) / step,
  };
}

function poseAt(m, t) {
  const state = stateAt(m, t);
  return state && { ...state, ...poseOn(m, state.s) };
}

function cornersAt(m, pose) {
  const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
  return m.corners.map(([x, y]) => [pose.x + c * x - s * y, pose.y + s * x + c * y]);
}

// Sideways acceleration that asks as much of the tyres on level ground: on a bank the floor takes a part of it.
const GRAVITY = 9.80665;
function sideways(m, pose) {
  const out = pose.v * pose.v * Math.abs(pose.k);
  const bank = (m.banks || []).find(([from, to]) => pose.s >= from && pose.s <= to);
  if (!bank) return out;
  const [c, s] = [Math.cos(bank[2]), Math.sin(bank[2])];
  return (GRAVITY * Math.abs(out * c - GRAVITY * s)) / (GRAVITY * c + out * s);
}

// Banked stretches that follow each other are one: from and to where, the steepest bank in rad, the middle of its longest.
function banksOf(m) {
  const found = [];
  for (const [from, to, bank] of m.banks || []) {
    const last = found[found.length - 1];
    const one = last && from - last.to < 1e-2 ? last : { from, to, most: 0, long: 0, at: 0 };
    if (one !== last) found.push(one);
    one.to = to;
    const steeper = bank > one.most + 1e-6;
    if (steeper || (bank > one.most - 1e-6 && to - from > one.long)) Object.assign(one, { most: bank, long: to - from, at: (from + to) / 2 });
  }
  return found;
}

const sidesOf = (ring) => ring.map((corner, i) => [corner, ring[(i + 1) % ring.length]]);

// The nearest points of two convex bodies that keep apart; of sides that face each other, the middle.
function nearestPoints(a, b) {
  const found = [];
  for (const [p, q, turned] of [[a, b, false], [b, a, true]]) {
    for (const [x, y] of p) {
      for (const [[x1, y1], [x2, y2]] of sidesOf(q)) {
        const [dx, dy] = [x2 - x1, y2 - y1];
        const u = clamp(((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy), 0, 1);
        const foot = [x1 + u * dx, y1 + u * dy];
        const d = Math.hypot(x - foot[0], y - foot[1]);
        found.push(turned ? { d, from: foot, to: [x, y] } : { d, from: [x, y], to: foot });
      }
    }
  }
  const d = Math.min(...found.map((one) => one.d));
  const ties = found.filter((one) => one.d < d + 1e-6);
  const middle = (key) => [0, 1].map((k) => {
    const all = ties.map((one) => one[key][k]);
    return (Math.min(...all) + Math.max(...all)) / 2;
  });
  return { d, from: middle("from"), to: middle("to") };
}

// Distance of two convex polygons: zero where no side keeps them apart, else nearest corner to side.
function clearance(a, b) {
  return overlap(a, b) ? 0 : nearestPoints(a, b).d;
}

function overlap(a, b) {
  for (const q of [a, b]) {
    for (let i = 0; i < q.length; i += 1) {
      const [x1, y1] = q[i];
      const [x2, y2] = q[(i + 1) % q.length];
      const along = (p) => p.map(([x, y]) => (x - x1) * (y2 - y1) - (y - y1) * (x2 - x1));
      const [one, other] = [along(a), along(b)];
      if (Math.max(...one) < Math.min(...other) || Math.max(...other) < Math.min(...one)) return false;
    }
  }
  return true;
}

function accelLimit(m, v) {
  const table = m.limits.accel;
  if (v <= table[0][0]) return table[0][1];
  for (let i = 1; i < table.length; i += 1) {
    const [[v0, a0], [v1, a1]] = [table[i - 1], table[i]];
    if (v <= v1) return a0 + ((a1 - a0) * (v - v0)) / (v1 - v0);
  }
  return table[table.length - 1][1];
}

// ---- colours come from the style, so that light and dark have one home ------------------------
let ink = {};
function readColours() {
  const style = getComputedStyle(document.documentElement);
  const get = (name) => style.getPropertyValue(`--${name}`).trim();
  ink = { ink: get("ink"), soft: get("soft"), rule: get("rule"), grid: get("grid"), paper: get("paper"), sheet: get("sheet"), zone: get("zone"), bad: get("bad") };
  ink.movers = [0, 1, 2, 3, 4, 5].map((i) => get(`m${i}`));
}
