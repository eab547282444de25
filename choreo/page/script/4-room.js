// ---- the ground, and the room that a plan needs of it -----------------------------------------
const ground = data.ground || { areas: [], obstacles: [] };
const room = data.space || { zone: [], noReturn: [], nearest: null, sights: [], cones: [], lanes: [] };
// Of a plan whose room is still being computed: how many rows, which pair and how much space the one before had.
const waits = data.waits || null;
const partyRows = waits ? waits.rows : room.noReturn.length;
const RIM_PX = 7;
const SIGHT_RAYS = 64;
// How long (s) before and after its moment a least clearance is shown.
const NEAR_MOMENT_S = 0.3;
// Windows end this much (s) before the encounter at the latest.
const AT_ENCOUNTER_S = 0.002;
let zoneOn = true;
const partyOf = (who) => (who < 0 ? "all together" : `${brief(movers[who].name)} alone`);
const least = (v) => (Math.floor(v * 100 + 1e-6) / 100).toFixed(2);

function trace(view, polygons) {
  const p = view.pen;
  p.beginPath();
  for (const ring of polygons.flat()) {
    ring.forEach(([x, y], i) => {
      const [px, py] = view.at(x, y);
      if (i) p.lineTo(px, py);
      else p.moveTo(px, py);
    });
    p.closePath();
  }
}

function drawGround(view) {
  for (const area of ground.areas) {
    trace(view, area.polygons);
    view.pen.fillStyle = ink.sheet;
    view.pen.fill("evenodd");
  }
}

function drawEdges(view) {
  for (const area of ground.areas) {
    trace(view, area.polygons);
    view.stroke(ink.soft, 1.6, [12, 4, 2, 4]);
    if (area.words && view.wide) view.label(area.words, ...view.at(...area.at), ink.soft, 2, 3);
  }
  for (const one of ground.obstacles) {
    trace(view, one.polygons);
    view.pen.fillStyle = ink.soft;
    view.pen.globalAlpha = 0.35;
    view.pen.fill("evenodd");
    view.pen.globalAlpha = 1;
    view.stroke(ink.soft, 1.6);
    view.label(one.words, ...view.at(...one.at), ink.ink, 2, 3);
  }
}

function drawCourse(view) {
  const p = view.pen;
  for (const edge of room.lanes) {
    p.beginPath();
    edge.forEach(([x, y], i) => {
      const [px, py] = view.at(x, y);
      if (i) p.lineTo(px, py);
      else p.moveTo(px, py);
    });
    view.stroke(ink.soft, 1, [3, 3]);
  }
  for (const cone of room.cones) {
    const [x, y] = view.at(...cone.at);
    const r = cone.touched ? 5 : 3;
    p.beginPath();
    p.moveTo(x, y - r);
    p.lineTo(x + r, y + r);
    p.lineTo(x - r, y + r);
    p.closePath();
    if (cone.touched) view.stroke(ink.ink, 2.5);
    else {
      p.fillStyle = ink.ink;
      p.fill();
    }
  }
}

function drawZone(view) {
  if (!zoneOn || !room.zone.length) return;
  const p = view.pen;
  trace(view, room.zone);
  p.save();
  p.clip("evenodd");
  // A rim inside the edge: which side is kept out of is seen, and what lies within stays clear to read.
  p.globalAlpha = 0.28;
  view.stroke(ink.zone, 2 * RIM_PX);
  p.restore();
  trace(view, room.zone);
  view.stroke(ink.zone, 1.6);
}

// ---- breaking off -----------------------------------------------------------------------------
// What a crew does first comes first: everybody stops.
const PARTIES = [...room.noReturn].sort((a, b) => a.t - b.t || Math.sign(a.who + 0.5) - Math.sign(b.who + 0.5));
const ENDS = PARTIES.filter((one) => one.until !== null);

// What shares a moment shares a mark.
function joined(marks) {
  const found = new Map();
  for (const { key, words, ...rest } of marks) {
    if (!found.has(key)) found.set(key, { ...rest, words: [] });
    found.get(key).words.push(words);
  }
  return [...found.values()].map((one) => ({ ...one, words: one.words.join(", ") }));
}

// On the path of whoever stops; where all do, on that of one that would meet the other.
const RETURN_MARKS = joined(ENDS.flatMap((one) => {
  const i = one.who < 0 ? one.pair.find((k) => movers[k].pieces.length) : one.who;
  return i === undefined ? [] : [{ key: `${i} ${one.until}`, i, t: one.until, words: one.who < 0 ? "all" : brief(movers[i].name, 12) }];
}));

const RETURN_MOMENTS = joined(ENDS.map((one) => ({
  key: String(one.until), t: one.until, words: partyOf(one.who),
}))).map((one) => ({ t: one.t, words: `no return: ${one.words}` }));

function drawNoReturn(view) {
  for (const { i, t, words } of RETURN_MARKS) {
    const m = movers[i];
    const pose = poseOn(m, stateAt(m, t).s);
    const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
    const reach = Math.max(2, 13 / (view.scale * view.across));
    for (const off of [-2.5 / view.scale, 2.5 / view.scale]) {
      const [x, y] = [pose.x + c * off, pose.y + s * off];
      view.line([[x + s * reach, y - c * reach], [x - s * reach, y + c * reach]]);
      view.stroke(ink.movers[hueOf(i)], now >= t ? 3 : 1.7);
    }
    view.label(`no return: ${words}`, ...view.at(pose.x, pose.y), ink.movers[hueOf(i)], 18, 2);
  }
}

function breakOff(t) {
  const next = Math.min(...PARTIES.map((one) => one.t).filter((at) => at >= t - 1e-9));
  const group = PARTIES.filter((one) => one.t === next);
  if (!group.length) return { open: true, words: "" };
  const [open, later] = [[], []];
  for (const one of group) {
    const inside = one.windows.find(([from, to]) => t >= from - 1e-6 && t <= to + 1e-6);
    const ahead = one.windows.find(([from]) => from > t);
    if (inside) {
      const left = Math.max(Math.floor((inside[1] - t) * 10 + 1e-6) / 10, 0).toFixed(1);
      open.push(`${partyOf(one.who)} (${inside[1] > one.t - AT_ENCOUNTER_S ? `up to ${brief(one.encounter)}` : `${left} s left`})`);
    } else if (ahead) later.push(`${partyOf(one.who)} from ${ahead[0].toFixed(2)} s on`);
  }
  const words = open.length ? `Can still be broken off by: ${open.join(", ")}` : `Can no longer be broken off before ${brief(group[0].encounter)}`;
  return { open: open.length > 0, words: words + (later.length ? `; ${later.join(", ")}` : "") };
}

function tellBreakOff() {
  const { open, words } = waits ? { open: false, words: "Breaking off: being computed for this plan" } : breakOff(now);
  const host = $("break-off-now");
  if (host.textContent !== words) host.textContent = words;
  host.classList.toggle("closed", !open);
}

function flags(axis, top) {
  for (const one of ENDS) {
    const kind = one.who < 0 ? "flag-all" : `f${hueOf(one.who)}`;
    const flag = node("path", { class: kind, d: `M${axis.x(one.until)} ${top}l-4.5 -7h9z` }, axis.svg);
    node("title", {}, flag, `no return: ${partyOf(one.who)}, ${one.until.toFixed(3)} s`);
  }
}

function breakOffChart() {
  if (!partyRows) return;
  const small = narrow();
  const row = small ? 36 : rows.breakOff;
  const several = new Set(room.noReturn.map((one) => one.encounter)).size > 1;
  const axis = axisOf($("break-off"), 8 + row * partyRows + (small ? 18 : 2));
  const foot = 8 + row * partyRows;
  verticals(axis, 2, foot);
  if (waits) node("text", { class: "strong halo", x: axis.left + 6, y: 8 + row - 6 }, axis.svg, "being computed");
  PARTIES.forEach((one, k) => {
    const base = 8 + row * k + row - 4;
    const [fill, line] = one.who < 0 ? ["flag-all", "moment-line"] : [`f${hueOf(one.who)}`, `c${hueOf(one.who)}`];
    node("line", { class: "row-line", x1: axis.left, x2: axis.wide - RIGHT, y1: base, y2: base }, axis.svg);
    const who = one.who < 0 ? (small || GUTTER > 60 ? "all together" : "all") : small ? partyOf(one.who) : brief(movers[one.who].name, GUTTER > 60 ? 11 : 7);
    node("text", { class: "strong", x: 2, y: small ? base - 16 : base - 2 }, axis.svg, small && several ? `${who}, ${brief(one.encounter)}` : who);
    for (const [from, to] of one.windows) {
      node("rect", { class: `block-shape ${fill} ${line}`, x: axis.x(from), width: Math.max(axis.x(to) - axis.x(from), 1), y: base - 11, height: 11 }, axis.svg);
    }
    const told = several && !small ? ` (${brief(one.encounter)})` : "";
    let last = one.windows.length ? axis.x(one.windows[one.windows.length - 1][1]) : axis.left;
    let words = one.windows.length ? `up to ${brief(one.encounter)}` : "never";
    if (one.until !== null) {
      const x = (last = axis.x(one.until));
      node("line", { class: `return-line ${line}`, x1: x, x2: x, y1: base - 14, y2: base + 2 }, axis.svg);
      words = `no return ${one.until.toFixed(2)} s`;
    }
    // No values stand right of this chart: words go on there. Only where even a few don't fit they stand on the bar.
    const fits = Math.floor((axis.wide - last - 8) / 6.4);
    const tight = fits < Math.min((words + told).length, 16);
    node("text", { class: "strong halo", x: tight ? last - 6 : last + 6, y: base - 2, "text-anchor": tight ? "end" : "start" }, axis.svg, tight ? words + told : brief(words + told, fits));
  });
  if (small) times(axis, foot + 13);
  finish(axis);
  summed(axis.svg, PARTIES.map((one) => `${partyOf(one.who)}: ${one.windows.map(([from, to]) => `${from.toFixed(2)} to ${to.toFixed(2)} s`).join(", ") || "never"}`).join(". "));
}

// ---- the distance measured at an encounter ----------------------------------------------------
// Shown from this long (s) before an encounter until this long after it.
const DIMENSION_BEFORE_S = 1.5;
const DIMENSION_AFTER_S = 0.5;
function drawDimension(view) {
  const one = data.encounters.find((e) => e.t !== null && now >= e.t - DIMENSION_BEFORE_S && now <= e.t + DIMENSION_AFTER_S);
  if (!one) return;
  const [a, b] = [one.of, one.with].map((k) => cornersAt(movers[k], poseAt(movers[k], now)));
  if (overlap(a, b)) return;
  const { d, from, to } = nearestPoints(a, b);
  const [[x1, y1], [x2, y2]] = [view.at(...from), view.at(...to)];
  const long = Math.hypot(x2 - x1, y2 - y1);
  if (long < 8) return;
  const [ux, uy] = [(x2 - x1) / long, (y2 - y1) / long];
  const p = view.pen;
  p.beginPath();
  p.moveTo(x1, y1);
  p.lineTo(x2, y2);
  for (const [x, y] of [[x1, y1], [x2, y2]]) {
    p.moveTo(x - 6 * uy, y + 6 * ux);
    p.lineTo(x + 6 * uy, y - 6 * ux);
  }
  view.stroke(ink.ink, 1.4);
  view.label(`${least(d)} m`, (x1 + x2) / 2, (y1 + y2) / 2, ink.ink, 8, 0);
}

// ---- nearest pair and sight lines -------------------------------------------------------------
function drawNearest(view) {
  const one = room.nearest;
  if (!one || Math.abs(now - one.t) > NEAR_MOMENT_S) return;
  const [x, y] = view.at(...one.at);
  view.pen.beginPath();
  view.pen.arc(x, y, 10, 0, 7);
  view.stroke(ink.ink, 1.8, [3, 2]);
  view.label(`least clearance ${least(one.least)} m`, x, y, ink.ink, 14, 1);
}

// Along a ray from the eye, the share of its way at which it meets a side; Infinity where it doesn't.
function along([ex, ey], [dx, dy], [x1, y1], [x2, y2]) {
  const [sx, sy] = [x2 - x1, y2 - y1];
  const cross = dx * sy - dy * sx;
  if (Math.abs(cross) < 1e-12) return Infinity;
  const way = ((x1 - ex) * sy - (y1 - ey) * sx) / cross;
  const side = ((x1 - ex) * dy - (y1 - ey) * dx) / cross;
  return way > 0 && side >= 0 && side <= 1 ? way : Infinity;
}

// What of the target is seen: ends of rays that reach it, in runs that nothing hides.
function seen(one) {
  const pose = poseAt(movers[one.from], now);
  const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
  const eye = [pose.x + c * one.eye[0] - s * one.eye[1], pose.y + s * one.eye[0] + c * one.eye[1]];
  const body = (m) => cornersAt(m, poseAt(m, now));
  const target = body(movers[one.to]);
  const mean = [0, 1].map((k) => target.reduce((sum, corner) => sum + corner[k], 0) / target.length - eye[k]);
  const angles = target.map(([x, y]) => Math.atan2(mean[0] * (y - eye[1]) - mean[1] * (x - eye[0]), mean[0] * (x - eye[0]) + mean[1] * (y - eye[1])));
  const [low, high] = [Math.min(...angles), Math.max(...angles)];
  const others = movers.filter((m, i) => i !== one.from && i !== one.to).map(body);
  const hiding = [...others, ...ground.obstacles.flatMap((o) => o.polygons.map((rings) => rings[0]))].flatMap(sidesOf);
  const runs = [];
  let open = false;
  for (let k = 0; k <= SIGHT_RAYS; k += 1) {
    const turn = low + ((high - low) * (k + 0.5)) / (SIGHT_RAYS + 1);
    const ray = [mean[0] * Math.cos(turn) - mean[1] * Math.sin(turn), mean[0] * Math.sin(turn) + mean[1] * Math.cos(turn)];
    const reach = Math.min(...sidesOf(target).map((side) => along(eye, ray, ...side)));
    const free = Number.isFinite(reach) && hiding.every((side) => along(eye, ray, ...side) > reach);
    if (free && !open) runs.push([]);
    if (free) runs[runs.length - 1].push([eye[0] + ray[0] * reach, eye[1] + ray[1] * reach]);
    open = free;
  }
  return { eye, runs };
}

function drawSights(view) {
  for (const one of room.sights) {
    if (!one.episodes.some(([from, to]) => now >= from - 1e-6 && now <= to + 1e-6)) continue;
    const { eye, runs } = seen(one);
    for (const run of runs) {
      view.line([eye, ...run], true);
      view.pen.fillStyle = ink.ink;
      view.pen.globalAlpha = 0.14;
      view.pen.fill();
      view.pen.globalAlpha = 1;
      for (const end of [run[0], run[run.length - 1]]) {
        view.line([eye, end]);
        view.stroke(ink.ink, 1.1, [4, 3]);
      }
    }
    if (runs.length) view.label(one.name, ...view.at((eye[0] + runs[0][0][0]) / 2, (eye[1] + runs[0][0][1]) / 2), ink.ink, 8, 2);
  }
}

function roomMoments() {
  const all = [...RETURN_MOMENTS];
  const one = room.nearest;
  if (one) all.push({ t: one.t, words: `least clearance, ${movers[one.a].name} and ${movers[one.b].name}` });
  for (const sight of room.sights) if (sight.first !== null) all.push({ t: sight.first, words: `${sight.name}: first seen` });
  return all;
}
