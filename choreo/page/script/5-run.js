// ---- a recorded run over the plan: filled bodies as run, dashed outlines by plan ---------------

function recordedAt(i, t) {
  const one = run.movers[i];
  if (!one || !one.t.length || t < one.t[0] || t > one.t[one.t.length - 1]) return null;
  let low = 0;
  let high = one.t.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (one.t[middle] <= t) low = middle;
    else high = middle;
  }
  const step = one.t[high] - one.t[low];
  const u = step > 0 ? (t - one.t[low]) / step : 0;
  const found = {};
  for (const key of ["x", "y", "h", "v", "off", "beside"]) {
    const [a, b] = [one[key][low], one[key][high]];
    found[key] = a === null || b === null ? NaN : a + u * (b - a);
  }
  return found;
}

const recorded = (i, key) => (t) => (recordedAt(i, t) || {})[key] ?? NaN;
const runMovers = () => movers.map((m, i) => ({ m, i })).filter(({ i }) => run.movers[i]);

function drawRun(view) {
  for (const { m, i } of runMovers()) {
    const pose = recordedAt(i, now);
    if (pose && Number.isFinite(pose.x + pose.h)) view.body(m, i, pose);
  }
}

// What is off, with the bands that it has to keep. Far outside of them a line runs along the chart's edge.
function offChart(id, key, unit, digits) {
  const bands = run.bands.filter((one) => one.key === key);
  const ends = bands.flatMap((one) => [one.low, one.high]).filter((v) => v !== null).map(Math.abs);
  const reach = ends.length ? 3 * Math.max(...ends) : Infinity;
  const series = runMovers().filter(({ m }) => m.pieces.length).map(({ m, i }) => ({
    f: (t) => clamp(recorded(i, key)(t), -reach, reach), hue: i, words: brief(m.name),
  }));
  chart(id, series, { unit, digits, bands, least: ends.length ? -1.2 * Math.max(...ends) : 0, most: ends.length ? 1.2 * Math.max(...ends) : 0 });
}

function drawBands(axis, y, bands, min, max, foot) {
  for (const one of bands) {
    const [from, to] = [axis.x(clamp(one.from, 0, END_S)), axis.x(clamp(one.until, 0, END_S))];
    const [top, low] = [y(Math.min(one.high ?? max, max)), y(Math.max(one.low ?? min, min))];
    node("rect", { class: `corridor f${hueOf(one.mover)} c${hueOf(one.mover)}`, x: from, width: Math.max(to - from, 1), y: top, height: Math.max(low - top, 1) }, axis.svg);
    for (const [a, b] of one.broken) {
      node("rect", { class: "broken", x: axis.x(clamp(a, 0, END_S)) - 1, width: Math.max(axis.x(clamp(b, 0, END_S)) - axis.x(clamp(a, 0, END_S)), 0) + 2, y: 2, height: foot }, axis.svg);
    }
  }
}

function runSpeeds() {
  return runMovers().filter(({ m }) => m.pieces.length).map(({ m, i }) => ({ f: (t) => recorded(i, "v")(t) * KMH, hue: i, dash: 0, words: brief(m.name) }));
}

function offerRun() {
  const add = (id, value, words) => {
    $(id).prepend(new Option(words, value));
    $(id).value = value;
    $(id).previousSibling.textContent = "Chart: ";
  };
  add("accel-as", "off", "speed off its plan, as run, km/h");
  $("readout").tHead.rows[0].cells[0].textContent = "mover, by plan";
  add("room-as", "beside", "beside the path, as run, m");
}
