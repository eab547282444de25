// ---- the time's charts ------------------------------------------------------------------------
const SVG = "http://www.w3.org/2000/svg";
function node(name, attributes, parent, words) {
  const one = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, value);
  if (words !== undefined) one.textContent = words;
  if (parent) parent.append(one);
  return one;
}

const charts = [];
const narrow = () => window.innerWidth < 700;
// Room left of every chart; present values stand in a column of their own, so that nothing moves while they change.
let GUTTER = 76;
let RIGHT = 104;
const gutter = () => GUTTER;
// How wide each chart's place is, looked up once for all: a look after each drawing lays the page out again.
const widths = new Map();
const placeOf = (host) => widths.get(host.id) || host.clientWidth;

// A chart's name is its caption's; where a choice stands in the caption, what is chosen.
function titleOf(host) {
  const caption = host.parentElement.querySelector("figcaption");
  const choice = caption.querySelector("select");
  return choice && choice.selectedIndex >= 0 ? choice.options[choice.selectedIndex].textContent : caption.textContent.trim();
}

// What a chart says in words, for who doesn't see it.
function summed(svg, words) {
  const id = `${svg.parentElement.id}-summary`;
  svg.prepend(node("desc", { id }, null, words));
  svg.setAttribute("aria-describedby", id);
}

function axisOf(host, high) {
  const wide = Math.max(placeOf(host), 200);
  const left = gutter();
  const x = (t) => left + ((wide - left - RIGHT) * t) / END_S;
  const t = (px) => clamp(((px - left) / (wide - left - RIGHT)) * END_S, 0, END_S);
  host.replaceChildren();
  const svg = node("svg", { width: wide, height: high, viewBox: `0 0 ${wide} ${high}`, role: "img", "aria-label": titleOf(host) }, null);
  host.append(svg);
  const step = nice((END_S * 70) / (wide - left));
  return { svg, wide, high, left, x, t, step };
}

function finish(axis) {
  const line = node("line", { class: "cursor-line", y1: 0, y2: axis.high }, axis.svg);
  const hover = node("line", { class: "hover-line", y1: 0, y2: axis.high, visibility: "hidden" }, axis.svg);
  const time = node("text", { class: "strong halo", y: axis.high - 3, "text-anchor": "middle", visibility: "hidden" }, axis.svg);
  const move = () => {
    line.setAttribute("x1", axis.x(now));
    line.setAttribute("x2", axis.x(now));
  };
  // Only a press or a drag moves the time; a mouse on its way shows a light cursor with the time there.
  const seek = (event) => {
    if (event.type === "pointermove" && !event.buttons) {
      const at = axis.t(event.clientX - axis.svg.getBoundingClientRect().left);
      for (const one of [hover, time]) one.setAttribute("visibility", "visible");
      hover.setAttribute("x1", axis.x(at));
      hover.setAttribute("x2", axis.x(at));
      time.setAttribute("x", axis.x(at));
      time.textContent = `${at.toFixed(2)} s`;
      return;
    }
    const box = axis.svg.getBoundingClientRect();
    pause();
    setTime(axis.t(event.clientX - box.left));
  };
  axis.svg.addEventListener("pointermove", seek);
  axis.svg.addEventListener("pointerdown", seek);
  axis.svg.addEventListener("pointerleave", () => {
    for (const one of [hover, time]) one.setAttribute("visibility", "hidden");
  });
  charts.push(move);
  move();
}

function verticals(axis, top, bottom) {
  for (const e of data.encounters) node("line", { class: "moment-line", x1: axis.x(e.t), x2: axis.x(e.t), y1: top, y2: bottom }, axis.svg);
  for (const i of data.instants) node("line", { class: "moment-line instant", x1: axis.x(i.t), x2: axis.x(i.t), y1: top, y2: bottom }, axis.svg);
}

function moments() {
  const all = [{ t: 0, words: "go" }];
  for (const m of movers) if (m.pieces.length && m.launch > 0) all.push({ t: m.launch, words: `launch of ${m.name}` });
  for (const one of data.triggers) all.push({ t: one.t, words: `${one.name} fires` }, { t: one.acts, words: `${one.name} acts` });
  for (const one of [...data.encounters, ...data.instants]) all.push({ t: one.t, words: one.name });
  for (const m of movers) for (const [t, words, kind] of m.events) if (kind === "phase end") all.push({ t, words: `${words}, ${m.name}` });
  all.push(...roomMoments(), ...spotMoments());
  if (before) all.push(...momentsBefore());
  if (run) for (const [t, words] of run.moments) all.push({ t, words: `${words}, as run` });
  return all.filter((one) => one.t <= END_S + 1e-6).sort((a, b) => a.t - b.t);
}

function score() {
  const host = $("score");
  const small = narrow();
  const row = small ? 46 : rows.score;
  const heads = headsOf();
  const lanes = headLanes(heads, placeOf(host) || 300);
  const top = headRoom(placeOf(host) || 300);
  const axis = axisOf(host, top + row * movers.length + (small ? 22 : 4));
  const foot = top + row * movers.length;
  movers.forEach((m, i) => scoreRow(axis, m, i, top + row * i, row, small));
  verticals(axis, top - 4, foot);
  flags(axis, top - 4);
  for (const one of data.triggers) {
    if (!one.on.length) continue;
    const from = top + row * one.watch + row / 2;
    for (const target of one.on) {
      const to = top + row * target + row / 2;
      node("path", { class: "moment-line link", fill: "none", d: `M${axis.x(one.t)} ${from}L${axis.x(one.acts)} ${to}` }, axis.svg);
      node("circle", { class: "f5", r: 3.5, cx: axis.x(one.t), cy: from }, axis.svg);
      node("path", { class: "f5", d: `M${axis.x(one.acts)} ${to}l-5 ${to > from ? -8 : 8}h10z` }, axis.svg);
    }
    node("text", { class: "strong halo", x: axis.x(one.t) - 6, y: from + (one.on.some((o) => o > one.watch) ? row / 2 + 3 : -row / 2 + 6), "text-anchor": "end" }, axis.svg, brief(one.name));
  }
  heads.forEach((one, k) => {
    const x = axis.x(one.t);
    const end = x > axis.wide - 90;
    const y = top - 8 - 15 * lanes[k];
    if (lanes[k]) node("line", { class: "row-line", x1: x, x2: x, y1: y + 3, y2: top - 4 }, axis.svg);
    node("text", { class: "strong halo", x, y, "text-anchor": end ? "end" : "middle" }, axis.svg, brief(one.name));
  });
  if (small) times(axis, foot + 15);
  finish(axis);
  summed(axis.svg, [...moving.map(({ m }) => `${m.name}: ${m.phases.map((phase, k) => `${phase} from ${m.pieces.find((p) => p[6] === k)[0].toFixed(2)} s`).join(", ")}`), ...heads.map((one) => `${one.name} at ${one.t.toFixed(2)} s`)].join(". "));
}

// The time axis is named once, at the foot of the last chart; on a phone, where one chart is seen at a time, under each.
function times(axis, y) {
  for (let t = 0; t <= END_S + 1e-9; t += axis.step) {
    if (axis.x(t) < axis.wide - RIGHT + 6) node("text", { x: axis.x(t), y, "text-anchor": "middle" }, axis.svg, `${+t.toFixed(2)}`);
  }
  node("text", { x: axis.wide - RIGHT + 12, y }, axis.svg, RIGHT > 60 ? "s after go" : "s");
}

const headsOf = () => [...data.encounters, ...data.instants].sort((a, b) => a.t - b.t);
const headRoom = (wide) => 8 + 15 * Math.max(0, ...headLanes(headsOf(), wide).map((lane) => lane + 1));

// Names above the score that would run into each other go a line up.
function headLanes(heads, wide) {
  const ends = [];
  return heads.map((one) => {
    const x = gutter() + ((wide - gutter() - RIGHT) * one.t) / END_S;
    const half = brief(one.name).length * 4.1 + 6;
    let lane = 0;
    while (ends[lane] !== undefined && ends[lane] > x - half) lane += 1;
    ends[lane] = x + half;
    return lane;
  });
}

function scoreRow(axis, m, i, y, row, small) {
  const base = y + row - 6;
  const tall = row - (small ? 20 : 10);
  node("line", { class: "row-line", x1: axis.left, x2: axis.wide - RIGHT, y1: base, y2: base }, axis.svg);
  node("text", { class: "strong", x: 2, y: small ? y + 11 : base - 6 }, axis.svg, brief(m.name, small ? 30 : GUTTER > 60 ? 11 : 7));
  if (!m.pieces.length) {
    node("text", { x: axis.left + 6, y: base - 4 }, axis.svg, "stands");
    return;
  }
  if (m.launch > 0) {
    node("rect", { class: `c${hueOf(i)}`, fill: "none", "stroke-dasharray": "2 3", x: axis.left, width: axis.x(m.launch) - axis.left, y: base - 9, height: 9 }, axis.svg);
    if (axis.x(m.launch) - axis.left > 40) node("text", { class: "halo", x: axis.left + 5, y: base - 12 }, axis.svg, m.start[1] > 0 ? "rolls" : "waits");
  }
  m.phases.forEach((phase, k) => {
    const own = m.pieces.filter((p) => p[6] === k);
    const [from, to] = [own[0][0], own[own.length - 1][0] + own[own.length - 1][1]];
    let d = `M${axis.x(from)} ${base}`;
    for (const p of own) {
      for (let n = 0; n <= 6; n += 1) {
        const t = p[0] + (p[1] * n) / 6;
        const u = (p[1] * n) / 6;
        const v = p[3] + u * (p[4] + (u * p[5]) / 2);
        d += `L${axis.x(t).toFixed(1)} ${(base - (tall * Math.max(v, 0)) / Math.max(m.peak, 0.01)).toFixed(1)}`;
      }
    }
    node("path", { class: `block-shape c${hueOf(i)} f${hueOf(i)}`, d: `${d}L${axis.x(to)} ${base}Z` }, axis.svg);
    const wide = axis.x(to) - axis.x(from);
    if (wide > phase.length * 6.6 + 8) node("text", { class: "strong", x: axis.x(from) + wide / 2, y: base - 5, "text-anchor": "middle" }, axis.svg, phase);
  });
  if (before) scoreBefore(axis, i, base, tall, Math.max(m.peak, 0.01));
}

// Every chart's times: an even grid and every end of a piece, so that no corner is cut.
const TIMES = (() => {
  const all = [];
  for (let i = 0; i <= 400; i += 1) all.push((END_S * i) / 400);
  for (const m of [...movers, ...(before ? before.movers : [])]) for (const p of m.pieces) all.push(p[0], p[0] + p[1], Math.max(p[0] - 1e-6, 0));
  return all.filter((t) => t >= 0 && t <= END_S).sort((a, b) => a - b);
})();

function chart(id, series, { least = 0, most = -Infinity, every = 0, beyond = null, bands = [], unit = "", digits = 1 }) {
  const last = id === "chart-room" || narrow();
  const high = (narrow() ? 150 : rows.chart) + (last ? 16 : 0);
  const foot = last ? 18 : 4;
  const axis = axisOf($(id), high);
  const values = series.map((one) => TIMES.map(one.f));
  const finite = values.flat().filter(Number.isFinite);
  let min = Math.min(least, ...finite);
  let max = Math.max(most, ...finite, min + 0.001);
  const step = every || nice((max - min) / (high > 100 ? 4 : 2));
  const first = Math.ceil(min / step - 1e-9) * step;
  if (!every) {
    min = Math.floor(min / step + 1e-9) * step;
    max = Math.ceil(max / step - 1e-9) * step;
  }
  const y = (v) => 6 + ((high - 6 - foot) * (max - v)) / (max - min);
  if (beyond) {
    for (const [from, to] of beyond) {
      const [a, b] = [y(Math.min(to, max)), y(Math.max(from, min))];
      if (b > a) node("rect", { class: "beyond", x: axis.left, width: axis.wide - axis.left - RIGHT, y: a, height: b - a }, axis.svg);
      const edge = y(Math.abs(from) < Math.abs(to) ? from : to);
      node("line", { class: "limit-line", x1: axis.left, x2: axis.wide - RIGHT, y1: edge, y2: edge }, axis.svg);
    }
    if (high > 110) {
      node("text", { x: axis.wide - RIGHT - 4, y: y(most) + 11, "text-anchor": "end" }, axis.svg, "over the limit");
      node("text", { x: axis.wide - RIGHT - 4, y: y(least) - 3, "text-anchor": "end" }, axis.svg, "over the limit");
    }
  }
  for (let v = every ? first : min; v <= max + 1e-9; v += step) {
    node("line", { class: Math.abs(v) < 1e-9 ? "zero-line" : "grid-line", x1: axis.left, x2: axis.wide - RIGHT, y1: y(v), y2: y(v) }, axis.svg);
    node("text", { x: axis.left - 6, y: y(v) + 4, "text-anchor": "end" }, axis.svg, `${+v.toFixed(3)}`);
  }
  for (let t = 0; t <= END_S + 1e-9; t += axis.step) {
    node("line", { class: "grid-line", x1: axis.x(t), x2: axis.x(t), y1: 6, y2: high - foot }, axis.svg);
  }
  if (last) times(axis, high - 4);
  if (bands.length) drawBands(axis, y, bands, min, max, high - foot);
  verticals(axis, 6, high - foot);
  flags(axis, 8);
  series.forEach((one, k) => {
    let d = "";
    let pen = false;
    TIMES.forEach((t, n) => {
      const v = values[k][n];
      if (!Number.isFinite(v)) {
        pen = false;
        return;
      }
      d += `${pen ? "L" : "M"}${axis.x(t).toFixed(1)} ${y(v).toFixed(1)}`;
      pen = true;
    });
    if (!d) return;
    node("path", { class: `series c${hueOf(one.hue)}`, "stroke-dasharray": dashOf(one.dash ?? one.hue).join(" "), "stroke-width": one.thin ? 1 : 2.2, d }, axis.svg);
  });
  const told = series.filter((one) => one.words);
  const dots = told.map((one) => node("circle", { class: `f${hueOf(one.hue)} dot`, r: 4 }, axis.svg));
  finish(axis);
  // Name and present value at the end of the line, one under the other however near the lines end.
  const rise = Math.min(13, (high - foot - 4) / Math.max(told.length, 1));
  const ends = told.map((one) => y(Number.isFinite(one.f(END_S)) ? one.f(END_S) : 0));
  const places = spread(ends, rise, 11, high - foot);
  const cells = told.map((one, k) => {
    const name = brief(one.words, 9);
    // A name that would run into its value is drawn narrower.
    const narrower = name.length * 6.9 > RIGHT - 58 ? { textLength: RIGHT - 58, lengthAdjust: "spacingAndGlyphs" } : {};
    if (RIGHT > 60) node("text", { class: `f${hueOf(one.hue)} strong`, x: axis.wide - RIGHT + 6, y: places[k], ...narrower }, axis.svg, name);
    return node("text", { class: RIGHT > 60 ? "value" : `value f${hueOf(one.hue)}`, x: axis.wide - 2, y: places[k], "text-anchor": "end" }, axis.svg);
  });
  const move = () => {
    const at = told.map((one) => one.f(now));
    dots.forEach((dot, k) => {
      dot.setAttribute("cx", axis.x(now));
      dot.setAttribute("cy", y(Number.isFinite(at[k]) ? at[k] : 0));
      cells[k].textContent = (told[k].tell || shown)(at[k], digits);
    });
  };
  charts.push(move);
  move();
  summed(axis.svg, told.map((one) => {
    const own = values[series.indexOf(one)].filter(Number.isFinite);
    return own.length ? `${one.words}: ${shown(Math.min(...own), digits)} to ${shown(Math.max(...own), digits)}${unit}` : `${one.words}: nothing known`;
  }).join(". "));
}

// Heights no nearer to each other than a line of text, in the order in which they were, within the chart.
function spread(heights, rise, least, most) {
  const order = heights.map((_, k) => k).sort((a, b) => heights[a] - heights[b]);
  const placed = [];
  let free = least;
  for (const k of order) {
    placed[k] = Math.max(heights[k] + 4, free);
    free = placed[k] + rise;
  }
  const over = Math.max(0, free - rise - most);
  return placed.map((one) => Math.max(one - over, least));
}

const moving = movers.map((m, i) => ({ m, i })).filter(({ m }) => m.pieces.length);

function speedChart() {
  const planned = moving.map(({ m, i }) => ({ f: (t) => stateAt(m, t).v * KMH, hue: i, words: run ? "" : brief(m.name), ...(run && { dash: 2, thin: true }) }));
  chart("chart-speed", [...(before ? speedsBefore() : []), ...planned, ...(run ? runSpeeds() : [])], { unit: " km/h" });
}

function accelChart() {
  if ($("accel-as").value === "off") {
    offChart("chart-accel", "off", " km/h", 2);
    return;
  }
  const share = $("accel-as").value === "share";
  const series = [];
  for (const { m, i } of moving) {
    const one = (t) => {
      const { a, v } = stateAt(m, t);
      if (!share) return a;
      return a >= 0 ? (100 * a) / accelLimit(m, v) : (100 * a) / m.limits.brake;
    };
    series.push({ f: one, hue: i, words: brief(m.name) });
    const side = (t) => sideways(m, poseAt(m, t));
    if (TIMES.some((t) => side(t) > 0.05)) {
      const limit = m.limits.lateral;
      if (!share || limit) series.push({ f: (t) => (share ? (100 * side(t)) / limit : side(t)), hue: i, dash: 2, words: moving.length > 1 ? `${brief(m.name, 4)} side` : "sideways" });
    }
    if (!share) {
      series.push({ f: (t) => accelLimit(m, stateAt(m, t).v), hue: i, thin: true, words: "" });
      series.push({ f: () => -m.limits.brake, hue: i, thin: true, words: "" });
    }
  }
  const options = share
    ? { least: -125, most: 125, every: rows.chart > 110 ? 50 : 100, unit: " %", digits: 0, beyond: [[100, 1e4], [-1e4, -100]] }
    : { unit: " m/s2", digits: 2 };
  chart("chart-accel", series, options);
}

const nearestPair = waits ? waits.pair : room.nearest && [room.nearest.a, room.nearest.b];
const NEAREST_PAIR = nearestPair ? [{ of: nearestPair[0], with: nearestPair[1] }] : [];
const pairs = [...new Map([...data.encounters, ...NEAREST_PAIR].map((e) => [[e.of, e.with].sort().join("/"), e])).values()];

// Pairs are told by whom their first movers meet, else by the first ones, whichever tells them apart.
function pairNames() {
  for (const key of ["with", "of"]) {
    const names = pairs.map((e) => movers[e[key]].name);
    if (new Set(names.map((one) => brief(one, 9))).size === names.length) return names;
  }
  return pairs.map((e) => `${brief(movers[e.of].name, 4)}/${brief(movers[e.with].name, 4)}`);
}

function roomChart() {
  const choice = $("room-as").value;
  let series;
  if (choice === "beside") {
    offChart("chart-room", "beside", " m", 3);
    return;
  }
  if (choice === "between") {
    const names = pairNames();
    series = pairs.map((e, k) => ({
      f: (t) => {
        const [a, b] = [movers[e.of], movers[e.with]];
        return clearance(cornersAt(a, poseAt(a, t)), cornersAt(b, poseAt(b, t)));
      },
      // Rounded down, as everywhere: no clearance is told that is not there.
      tell: least, hue: k + 3, words: pairs.length > 1 ? names[k] : "apart",
    }));
    if (before) series.push(...apartBefore());
  } else if (choice === "station") {
    series = moving.map(({ m, i }) => ({ f: (t) => stateAt(m, t).s - m.start[0], hue: i, words: brief(m.name) }));
  } else {
    const e = data.encounters[Number(choice)];
    series = [[e.of, e.s_of], [e.with, e.s_with]].map(([i, s]) => ({ f: (t) => s - stateAt(movers[i], t).s, hue: i, words: brief(movers[i].name) }));
  }
  chart("chart-room", series, { unit: " m", digits: 2 });
}

function fillRoomChoices() {
  const choice = $("room-as");
  const add = (value, words) => choice.append(new Option(words, value));
  if (pairs.length) add("between", "clearance between bodies, m");
  data.encounters.forEach((e, k) => add(String(k), `way left to ${e.name}, m`));
  add("station", "way made from the start mark, m");
}
