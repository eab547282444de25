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

const shown = (v, digits) => (Math.abs(v) < 0.5 * 10 ** -digits ? 0 : v).toFixed(digits);

function tellReadout() {
  movers.forEach((m, i) => {
    const pose = poseAt(m, now);
    // Rounded first: half a turn is 180.0, never -180.0.
    const turned = Math.round(((pose.h + m.turned) * 1800) / Math.PI) / 10;
    const degrees = 180 - ((((180 - turned) % 360) + 360) % 360);
    const told = [pose.phase, shown(pose.v * KMH, 2), shown(pose.a, 2), shown(pose.s, 2), shown(pose.x, 2), shown(pose.y, 2), shown(degrees, 1)];
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

// ---- time -------------------------------------------------------------------------------------
let playing = false;
let last = 0;

function setTime(t) {
  now = clamp(Number(t) || 0, 0, END_S);
  main.draw();
  if (closeUp.on) closeUp.draw();
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
  if (now >= END_S - 1e-9) setTime(0);
  playing = true;
  last = performance.now();
  $("play").textContent = "Pause";
  requestAnimationFrame(tick);
}

function tick(at) {
  if (!playing) return;
  const passed = Math.max(at - last, 0) / 1000;
  last = Math.max(at, last);
  setTime(now + passed * Number($("pace").value));
  if (now >= END_S) pause();
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
