// ---- readout ----------------------------------------------------------------------------------
const cells = [];
function buildReadout() {
  const body = $("readout").tBodies[0];
  movers.forEach((m, i) => {
    const row = body.insertRow();
    const head = document.createElement("th");
    head.scope = "row";
    head.append(swatch(i), m.name);
    row.append(head);
    cells.push(["", "number", "number", "number", "number extra", "number extra", "number extra"].map((kind) => {
      const cell = row.insertCell();
      cell.className = kind;
      return cell;
    }));
  });
}

function swatch(i) {
  const svg = node("svg", { width: 30, height: 10, class: "swatch", "aria-hidden": "true" });
  node("line", { class: `series c${hueOf(i)}`, x1: 1, x2: 29, y1: 5, y2: 5, "stroke-dasharray": dashOf(i).join(" ") }, svg);
  return svg;
}

// What is not known at a time is a dash.
const shown = (v, digits) => !Number.isFinite(v) ? "-" : (Math.abs(v) < 0.5 * 10 ** -digits ? 0 : v).toFixed(digits);

function tellReadout() {
  movers.forEach((m, i) => {
    const pose = poseAt(m, now);
    // Rounded first: half a turn is 180.0, never -180.0.
    const turned = Math.round(((pose.h + m.turned) * 1800) / Math.PI) / 10;
    const degrees = 180 - ((((180 - turned) % 360) + 360) % 360);
    const turning = (v) => `${shown((v * 180) / Math.PI / m.hinge, 1)}\u00b0`;
    const along = m.hinge ? [`${turning(pose.v)}/s`, `${turning(pose.a)}/s\u00b2`, turning(pose.s)] : [shown(pose.v * KMH, 2), shown(pose.a, 2), shown(pose.s, 2)];
    const told = [pose.phase, ...along, shown(pose.x, 2), shown(pose.y, 2), shown(degrees, 1)];
    told.forEach((words, k) => {
      if (cells[i][k].textContent !== words) cells[i][k].textContent = words;
    });
  });
}

const MOMENTS = moments();
function tellMoment() {
  // Only what has happened: nothing is announced before its time.
  const near = MOMENTS.filter((one) => one.t <= now + 1e-6 && now - one.t < 0.3).map((one) => one.words);
  const words = near.join("; ");
  if ($("said").textContent !== words) $("said").textContent = words;
}

// ---- the story: the whole, both partners of what comes next, and back --------------------------
const STORY_BEFORE_S = 4;
const STORY_AFTER_S = 1.5;
// Encounters no farther apart than this (s) are looked at together.
const SAME_MOMENT_S = 0.05;
// Of the way to where the view should stand it goes this share in a second, roughly.
const STORY_EASE = 2.5;
let telling = true;

function storyView() {
  const all = main.stretched(runPoints());
  const told = data.encounters.filter((e) => e.place && e.t !== null && now >= e.t - STORY_BEFORE_S && now <= e.t + STORY_AFTER_S);
  if (!told.length || now < 1e-9) return all;
  // The nearest in time, with those of the same moment.
  const next = told.reduce((best, e) => (Math.abs(e.t - now) < Math.abs(best.t - now) ? e : best));
  const near = main.framing(told.filter((e) => Math.abs(e.t - next.t) < SAME_MOMENT_S).flatMap((e) => partners(e, now)), 60, 14);
  return near.scale > all.scale ? near : all;
}

function story(passed) {
  if (!telling) return;
  const to = storyView();
  if (!Number.isFinite(passed) || stillness.matches) return main.stand(to);
  const u = 1 - Math.exp(-STORY_EASE * passed);
  const between = (a, b) => a + (b - a) * u;
  main.stand({ x: between(main.x, to.x), y: between(main.y, to.y), turn: to.turn, scale: main.scale * (to.scale / main.scale) ** u, across: between(main.across, to.across) });
}

// Round the next encounter, slowly, again and again.
let loop = null;
function looped(on) {
  const found = data.encounters.filter((one) => one.t !== null);
  const next = found.find((one) => one.t >= now - 1e-6) || found[found.length - 1];
  loop = on && next ? [Math.max(next.t - 2, 0), Math.min(next.t + 1.2, END_S)] : null;
  $("loop").setAttribute("aria-pressed", String(Boolean(loop)));
  if (!loop) return;
  $("pace").value = "0.25";
  setTime(loop[0]);
  play();
}

// ---- time -------------------------------------------------------------------------------------
const stillness = window.matchMedia("(prefers-reduced-motion: reduce)");
let playing = false;
let last = 0;

function setTime(t, passed = 0) {
  now = clamp(Number(t) || 0, 0, END_S);
  story(playing ? passed : Infinity);
  main.draw();
  if (closeUp.on) {
    if ($("close-up-of").value === "next") aimCloseUp();
    closeUp.draw();
  }
  if (!plays) return;
  $("clock").textContent = `${now.toFixed(3)} s`;
  $("scrub").value = String(now);
  $("scrub").setAttribute("aria-valuetext", `${now.toFixed(2)} seconds after go`);
  for (const move of charts) move();
  tellReadout();
  tellMoment();
  tellBreakOff();
}

function pause() {
  playing = false;
  if (plays) $("play").textContent = "Play";
}

function play() {
  if (!plays || playing) return;
  if (now >= END_S - 1e-9) setTime(START_S);
  playing = true;
  last = performance.now();
  $("play").textContent = "Pause";
  requestAnimationFrame(tick);
}

function tick(at) {
  if (!playing) return;
  const passed = Math.max(at - last, 0) / 1000;
  last = Math.max(at, last);
  setTime(loop && now >= loop[1] ? loop[0] : now + passed * Number($("pace").value), passed);
  if (now >= END_S && !loop) pause();
  else requestAnimationFrame(tick);
}

function step(by) {
  pause();
  setTime(now + by);
}

function jump(way) {
  const ahead = MOMENTS.filter((one) => (way > 0 ? one.t > now + 1e-4 : one.t < now - 1e-4));
  if (ahead.length) step((way > 0 ? ahead[0] : ahead[ahead.length - 1]).t - now);
}
