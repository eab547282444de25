// ---- another plan under this one: its bodies as dashed outlines, its speeds as thin dashed lines ----
const PALE = 0.6;
// Encounters nearer to each other than this (m) stand in one place.
const SAME_PLACE_M = 0.05;
const hueBefore = (k) => before.as[k];
const isNow = (k) => before.as[k] < movers.length;

function drawBefore(view) {
  before.movers.forEach((m, k) => {
    const i = hueBefore(k);
    view.pen.globalAlpha = PALE;
    view.line(view.stretch(m, m.s[0], m.s[m.s.length - 1]));
    view.stroke(ink.movers[hueOf(i)], 1, [2, 5]);
    view.pen.globalAlpha = 1;
    view.marks(m, i);
    const pose = poseAt(m, now);
    view.body(m, i, pose, true);
    const here = isNow(k) ? poseAt(movers[i], now) : null;
    if (!pose || (here && Math.hypot(pose.x - here.x, pose.y - here.y) * view.scale < 24)) return;
    const box = bounds(cornersAt(m, pose).map((one) => view.at(...one)));
    view.label(`${m.name}, before`, (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2, ink.movers[hueOf(i)], Math.max((box.y1 - box.y0) / 2, 9) + 4, 3);
  });
  for (const one of before.encounters) {
    const same = data.encounters.find((e) => e.name === one.name && e.place);
    if (!one.place || (same && Math.hypot(one.place[0] - same.place[0], one.place[1] - same.place[1]) < SAME_PLACE_M)) continue;
    const [x, y] = view.at(...one.place);
    view.pen.beginPath();
    view.pen.arc(x, y, 6, 0, 7);
    view.stroke(ink.ink, 1.4, [3, 2]);
    view.label(`${one.name}, before`, x, y, ink.ink, 12, 3);
  }
}

const speedsBefore = () => before.movers.map((m, k) => ({ m, k })).filter(({ m }) => m.pieces.length)
  .map(({ m, k }) => ({ f: (t) => stateAt(m, t).v * KMH, hue: hueBefore(k), dash: 2, thin: true, words: "" }));

// Over a mover's blocks the speed that it had, as a dashed line of the same scale.
function scoreBefore(axis, i, base, tall, peak) {
  const k = before.as.indexOf(i);
  if (k < 0 || !before.movers[k].pieces.length) return;
  const m = before.movers[k];
  const d = TIMES.map((t, n) => `${n ? "L" : "M"}${axis.x(t).toFixed(1)} ${(base - (tall * Math.min(stateAt(m, t).v, peak)) / peak).toFixed(1)}`);
  node("path", { class: `c${hueOf(i)} was`, fill: "none", "stroke-dasharray": "3 3", d: d.join("") }, axis.svg);
}

function apartBefore() {
  return pairs.flatMap((e) => {
    const [a, b] = [e.of, e.with].map((i) => before.movers[before.as.indexOf(i)]);
    return a && b ? [{ f: (t) => clearance(cornersAt(a, poseAt(a, t)), cornersAt(b, poseAt(b, t))), hue: 5, dash: 2, thin: true, words: "" }] : [];
  });
}

const momentsBefore = () => before.encounters.map((one) => ({ t: one.t, words: `${one.name}, before` }));
