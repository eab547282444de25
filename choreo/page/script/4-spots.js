// ---- where a plan must not be run, and where the way that is missing would lie ------------------
const RING_PX = 13;
const SPOTS = data.spots.map((one, k) => one && { ...one, name: `spot ${k + 1}`, sign: String(k + 1) }).filter(Boolean);
const LACKS = data.lacks.map((one) => ({ ...one, name: `missing ${one.budget + 1}` }));

function hatched(view, polygons) {
  const p = view.pen;
  trace(view, polygons);
  p.save();
  p.clip("evenodd");
  p.beginPath();
  for (let x = -view.h; x < view.w; x += 8) {
    p.moveTo(x, view.h);
    p.lineTo(x + view.h, 0);
  }
  view.stroke(ink.bad, 1.6);
  p.restore();
  trace(view, polygons);
  view.stroke(ink.bad, 1.6);
}

function drawSpots(view) {
  if (data.outside.length) hatched(view, data.outside);
  for (const one of LACKS) {
    const m = movers[one.mover];
    view.line(view.stretch(m, one.from, one.to));
    view.stroke(ink.bad, 7, [4, 3]);
    const middle = poseOn(m, (one.from + one.to) / 2);
    view.label(one.words, ...view.at(middle.x, middle.y), ink.bad, 9, 0);
  }
  for (const one of SPOTS) {
    if (one.pose && Math.abs(now - one.t) < NEAR_MOMENT_S) {
      const [x, y, h] = one.pose;
      view.line(cornersAt(movers[one.mover], { x, y, h }), true);
      view.stroke(ink.bad, 2, [6, 3]);
    }
    const [x, y] = view.at(...one.at);
    view.pen.beginPath();
    view.pen.arc(x, y, RING_PX, 0, 7);
    view.stroke(ink.bad, 3);
    view.pen.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      view.pen.moveTo(x + dx * RING_PX, y + dy * RING_PX);
      view.pen.lineTo(x + dx * (RING_PX + 7), y + dy * (RING_PX + 7));
    }
    view.stroke(ink.bad, 3);
    view.label(`${one.sign}: ${one.words}`, x, y, ink.bad, RING_PX + 8, 0);
  }
}

// What a view of one shows: the place, and who is near it by then.
function pointsOf(one) {
  if (one.budget !== undefined) return [one.from, one.to].map((s) => poseOn(movers[one.mover], s)).map(({ x, y }) => [x, y]);
  const points = [one.at];
  if (one.pose) points.push(...cornersAt(movers[one.mover], { x: one.pose[0], y: one.pose[1], h: one.pose[2] }));
  if (one.pose) points.push(...cornersAt(movers[one.mover], poseAt(movers[one.mover], one.t)));
  return points;
}

const spotMoments = () => SPOTS.filter((one) => one.t !== null).map((one) => ({ t: one.t, words: `${one.sign}: ${one.words}` }));

// Beside every message whose place is known, a button that leads there.
function offerSpots(show) {
  const button = (host, one) => {
    if (!host) return;
    const made = document.createElement("button");
    made.type = "button";
    made.className = "where";
    made.textContent = "Show where";
    made.onclick = () => show(one);
    host.append(" ", made);
  };
  const told = document.querySelectorAll(".screen .failed li");
  for (const one of SPOTS) button(told[Number(one.sign) - 1], one);
  const budgets = document.querySelectorAll(".reasons .budget h3");
  for (const one of LACKS) button(budgets[one.budget], one);
}
