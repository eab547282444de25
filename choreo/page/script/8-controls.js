// The close-up stays this long (s) at an encounter before it goes on to the next.
const NEXT_AFTER_S = 1.0;

// ---- controls ---------------------------------------------------------------------------------
// What is looked at: "story", "whole", "free", a mover ("ride:subject") or an encounter by its name.
let viewed = "story";
function watch(what) {
  const rider = movers.findIndex((m) => m.start && `ride:${m.name}` === what);
  const place = data.encounters.find((one) => one.place && one.name === what);
  const spot = [...SPOTS, ...LACKS].find((one) => one.name === what);
  if (rider < 0 && !place && !spot && !["story", "whole", "free"].includes(what)) return;
  viewed = what;
  telling = what === "story";
  main.ride = rider;
  main.sides.clear();
  $("ride").value = place || spot ? "free" : what;
  if (rider >= 0) main.scale = clamp(main.scale, 6, 400);
  else main.turn = 0;
  if (telling) story(Infinity);
  if (what === "whole") main.stand(main.stretched(runPoints()));
  if (place) main.stand(main.framing(partners(place, place.t === null ? now : place.t), 40, 14));
  if (spot) main.stand(main.framing(pointsOf(spot), 60, 12));
  main.draw();
}

// From a message to its place: the moment, and a view of it.
function showSpot(one) {
  if (plays && one.t !== undefined && one.t !== null) step(one.t - now);
  watch(one.name);
  if (closeUp.on) closeUp.draw();
  main.canvas.scrollIntoView({ block: "nearest" });
}

function whole() {
  watch("whole");
}

function near() {
  const found = data.encounters.filter((one) => one.place);
  if (!found.length) return;
  watch((found.find((one) => one.t >= now - 1e-6) || found[found.length - 1]).name);
}

// The hand on the view: no story goes on, but who is ridden with stays.
function free() {
  if (main.ride < 0) watch("free");
}

function closer(factor, ...at) {
  free();
  main.zoom(factor, ...at);
}

function showZone(on) {
  zoneOn = on;
  $("zone").checked = on;
  main.draw();
  if (closeUp.on) closeUp.draw();
}

function pointers(view) {
  const held = new Map();
  const canvas = view.canvas;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    held.set(event.pointerId, [event.clientX, event.clientY]);
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    // One finger scrolls the page; two move the view.
    if (!before || (event.pointerType === "touch" && held.size < 2)) return;
    const others = [...held].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
    const here = [event.clientX, event.clientY];
    held.set(event.pointerId, here);
    if (others.length) {
      const [ox, oy] = others[0];
      const box = canvas.getBoundingClientRect();
      free();
      view.pan((here[0] - before[0]) / 2, (here[1] - before[1]) / 2);
      view.zoom(Math.hypot(here[0] - ox, here[1] - oy) / Math.max(Math.hypot(before[0] - ox, before[1] - oy), 1), (here[0] + ox) / 2 - box.left, (here[1] + oy) / 2 - box.top);
    } else {
      watch("free");
      view.pan(here[0] - before[0], here[1] - before[1]);
    }
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => held.delete(event.pointerId));
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas && !event.ctrlKey) return;
    event.preventDefault();
    const box = canvas.getBoundingClientRect();
    closer(Math.exp(-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
  }, { passive: false });
}

function panKey(event) {
  const by = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] }[event.key];
  if (!by) return false;
  watch("free");
  main.pan(...by);
  return true;
}

function timeKey(event) {
  const shift = event.shiftKey ? 10 : 1;
  const acts = {
    ArrowLeft: () => step(-0.05 * shift), ArrowRight: () => step(0.05 * shift), ",": () => step(-0.005), ".": () => step(0.005),
    Home: () => step(START_S - now), End: () => step(END_S), "[": () => jump(-1), "]": () => jump(1),
    s: () => { $("pace").value = $("pace").value === "0.1" ? "1" : "0.1"; },
  };
  const act = acts[event.key] || acts[event.key.toLowerCase()];
  if (!plays || !act) return false;
  act();
  return true;
}

function viewKey(event) {
  const acts = {
    "+": () => closer(1.3), "=": () => closer(1.3), "-": () => closer(1 / 1.3), 0: whole, e: near, f: fullScreen,
    k: () => showZone(!zoneOn),
    r: () => {
      const riders = ["story", ...movers.filter((m) => m.start).map((m) => `ride:${m.name}`)];
      watch(riders[(riders.indexOf(viewed) + 1) % riders.length]);
    },
    l: () => plays && looped(!loop),
  };
  const act = acts[event.key.toLowerCase()];
  if (!act) return false;
  act();
  return true;
}

function keys(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const on = event.target;
  if (/^(SELECT|TEXTAREA)$/.test(on.tagName)) return;
  if (event.key === " ") {
    if (!plays || /^(BUTTON|SUMMARY)$/.test(on.tagName) || on.type === "checkbox") return;
    if (playing) pause();
    else play();
  } else if (!(on === main.canvas && panKey(event)) && !timeKey(event) && !viewKey(event)) return;
  event.preventDefault();
}

// An edge that the whole run's view doesn't show needs no sign among those of the others.
let edgeSign = null;
function leaveOutEdge() {
  const all = main.stretched(runPoints());
  const [wide, high] = [main.w / all.scale / 2, main.h / (all.scale * all.across) / 2];
  const seen = ground.areas.flatMap((area) => area.polygons.flat()).flatMap(sidesOf).some(([[x1, y1], [x2, y2]]) =>
    Math.min(x1, x2) < all.x + wide && Math.max(x1, x2) > all.x - wide && Math.min(y1, y2) < all.y + high && Math.max(y1, y2) > all.y - high);
  if (!edgeSign || seen) return;
  edgeSign.remove();
  lay();
}

function legend() {
  const host = $("legend");
  if (waits) {
    host.innerHTML = waits.legend;
    return;
  }
  const add = (sign, words) => {
    const item = document.createElement("li");
    item.append(sign, words);
    host.append(item);
    return item;
  };
  movers.forEach((m, i) => add(swatch(i), `${m.name}${m.stands && m.kind ? " (stands)" : ""}`));
  const sign = (draw) => {
    const svg = node("svg", { width: 30, height: 14, "aria-hidden": "true" });
    draw(svg);
    return svg;
  };
  const band = (opacity, dash) => sign((svg) => node("line", { class: "c5", x1: 0, x2: 30, y1: 7, y2: 7, "stroke-width": 10, "stroke-opacity": opacity, "stroke-dasharray": dash }, svg));
  if (run) {
    add(sign((svg) => node("rect", { class: "c5 f5", "fill-opacity": 0.42, x: 3, y: 2, width: 24, height: 10 }, svg)), "as run");
    add(sign((svg) => node("rect", { class: "c5", fill: "none", "stroke-dasharray": "4 3", x: 3, y: 2, width: 24, height: 10 }, svg)), "by plan");
  }
  if (before) add(sign((svg) => node("rect", { class: "c5", fill: "none", "stroke-dasharray": "4 3", x: 3, y: 2, width: 24, height: 10 }, svg)), "before");
  if (plays) {
    add(band(0.2, ""), "run-up");
    if (movers.some((m) => m.runway && m.runway[1] > 0)) add(band(0.5, ""), "between encounters");
    add(band(0.35, "5 4"), "run-out");
    add(sign((svg) => node("path", { class: "c5", "stroke-width": 2, d: "M10 2l10 10M10 12l10-10" }, svg)), "start mark");
  }
  if (movers.some((m) => banksOf(m).length)) add(sign((svg) => node("path", { class: "c5", fill: "none", "stroke-width": 1.3, d: "M1 3h28M5 3v8M12 3v8M19 3v8M26 3v8" }, svg)), "banked, strokes downhill");
  if (data.triggers.some((one) => one.s !== null)) add(sign((svg) => node("line", { class: "moment-line link", x1: 15, x2: 15, y1: 0, y2: 14 }, svg)), "trigger line");
  if (data.encounters.some((e) => e.place)) add(sign((svg) => node("path", { class: "c5", fill: "none", "stroke-width": 1.5, d: "M15 0v14M5 7h20M20 7a5 5 0 1 1 -10 0a5 5 0 1 1 10 0" }, svg)), "encounter");
  if (data.encounters.some((e) => e.doubted)) add(sign((svg) => node("path", { class: "bad-sign", d: "M9 1l12 12M9 13l12-12" }, svg)), "simulation disagrees");
  if (room.noReturn.some((one) => one.until !== null)) add(sign((svg) => node("path", { class: "c5", "stroke-width": 1.7, d: "M13 0v14M17 0v14" }, svg)), "point of no return");
  if (room.cones.length) add(sign((svg) => node("path", { class: "c5 f5", d: "M15 2l5 10h-10z" }, svg)), "cone");
  if (room.cones.some((one) => one.touched)) add(sign((svg) => node("path", { class: "c5", fill: "none", "stroke-width": 2.5, d: "M15 2l5 10h-10z" }, svg)), "cone touched");
  if (room.zone.length) add(sign((svg) => node("path", { class: "zone-sign", d: "M1 1h28v12H1z" }, svg)), "keep-out zone");
  if (SPOTS.length) add(sign((svg) => node("circle", { class: "bad-sign", cx: 15, cy: 7, r: 5.5 }, svg)), "forbids the run");
  if (data.outside.length) add(sign((svg) => node("path", { class: "bad-sign", d: "M2 13l12 -12M9 13l12 -12M16 13l12 -12" }, svg)), "off the drivable ground");
  if (LACKS.length) add(sign((svg) => node("line", { class: "bad-sign wide", x1: 0, x2: 30, y1: 7, y2: 7, "stroke-dasharray": "4 3" }, svg)), "way that is missing");
  if (ground.areas.length) edgeSign = add(sign((svg) => node("line", { class: "c5", x1: 0, x2: 30, y1: 7, y2: 7, "stroke-dasharray": "12 4 2 4" }, svg)), "edge of drivable ground");
  if (ground.obstacles.length) add(sign((svg) => node("rect", { class: "c5 f5", "fill-opacity": 0.35, x: 5, y: 2, width: 20, height: 10 }, svg)), "obstacle");
}

function choices() {
  movers.forEach((m, i) => {
    if (m.start) $("ride").append(new Option(m.name, `ride:${m.name}`));
  });
  const of = $("close-up-of");
  if (data.encounters.some((e) => e.place && e.t !== null)) of.append(new Option("next encounter", "next"));
  data.encounters.forEach((e, k) => { if (e.place) of.append(new Option(e.name, `e${k}`)); });
  movers.forEach((m, i) => { if (m.start && plays) of.append(new Option(m.name, `m${i}`)); });
  closeUp.on = of.options.length > 0;
  $("close-up-box").hidden = !closeUp.on;
  if (!closeUp.on) $("close-up-box").style.display = "none";
  $("near").disabled = !data.encounters.some((e) => e.place);
  if (!plays) return;
  for (const [value, words] of [["0.05", "1/20"], ["0.1", "1/10"], ["0.25", "1/4"], ["0.5", "1/2"], ["1", "real time"], ["2", "2 times"], ["4", "4 times"]]) $("pace").append(new Option(words, value));
  $("pace").value = "1";
  MOMENTS.forEach((one) => $("moment").append(new Option(`${one.t.toFixed(2)} s  ${brief(one.words, 60)}`, String(one.t))));
  $("scrub").max = String(END_S);
  fillRoomChoices();
  if (run) offerRun();
}

function aimCloseUp() {
  const value = $("close-up-of").value;
  const k = Number(value.slice(1));
  const met = data.encounters.filter((e) => e.place && e.t !== null).sort((a, b) => a.t - b.t);
  const next = value === "next" ? met.find((e) => e.t >= now - NEXT_AFTER_S) || met[met.length - 1] : value[0] === "e" ? data.encounters[k] : null;
  if (next) lookAt(closeUp, { mover: -1, points: partners(next, next.t === null ? now : next.t) }, 8);
  else lookAt(closeUp, { mover: k }, Math.max(3.2 * Math.max(...movers[k].corners.flat().map(Math.abs)) * 2, 5));
}

function fullScreen() {
  const stage = document.querySelector(".one-screen");
  if (document.fullscreenElement) document.exitFullscreen();
  else if (stage.requestFullscreen) stage.requestFullscreen();
}

function wire() {
  $("fit").onclick = whole;
  $("near").onclick = near;
  $("closer").onclick = () => closer(1.4);
  $("wider").onclick = () => closer(1 / 1.4);
  $("ride").onchange = (event) => watch(event.target.value);
  $("copy-link").onclick = copyLink;
  $("save-svg").onclick = () => keep(new Blob([svgOf(main)], { type: "image/svg+xml" }), "svg");
  $("save-png").onclick = () => main.canvas.toBlob((blob) => keep(blob, "png"), "image/png");
  for (const [id, ending] of [["save-run", "png"], ["save-frames", "zip"]]) {
    $(id).hidden = !plays;
    $(id).onclick = () => saveRun(ending, $(id));
  }
  $("full").onclick = fullScreen;
  $("ahead").onchange = (event) => {
    main.ahead = event.target.checked;
    if (!main.ahead) main.turn = 0;
    main.draw();
  };
  $("zone").onchange = (event) => showZone(event.target.checked);
  $("zone-box").hidden = !(waits ? waits.around : room.zone).length;
  pointers(main);
  document.addEventListener("keydown", keys, { signal: replaced.signal });
  if (closeUp.on) $("close-up-of").onchange = () => { aimCloseUp(); closeUp.draw(); };
  if (!plays) return;
  $("play").onclick = () => (playing ? pause() : play());
  $("loop").onclick = () => looped(!loop);
  $("loop").disabled = !data.encounters.some((e) => e.t !== null);
  $("to-start").onclick = () => step(START_S - now);
  $("back").onclick = () => step(-0.05);
  $("forth").onclick = () => step(0.05);
  $("scrub").oninput = (event) => { pause(); setTime(event.target.value); };
  $("moment").onchange = (event) => {
    if (event.target.value !== "") step(Number(event.target.value) - now);
    event.target.value = "";
  };
  $("break-off-box").hidden = $("break-off-now").hidden = !partyRows;
  $("chart-of").onchange = (event) => {
    for (const one of document.querySelectorAll(".time-axis figure")) one.classList.toggle("shown", Boolean(one.querySelector(`#${event.target.value}`)));
    layCharts();
  };
  if (!partyRows) $("chart-of").querySelector("[value=break-off]").remove();
  $("accel-as").onchange = layCharts;
  $("room-as").onchange = layCharts;
  if ($("print")) $("print").onclick = () => window.print();
}

// How high rows and charts are: what the strip has left, shared out, and never too low to read.
const rows = { score: 36, breakOff: 22, chart: 128 };
function shareOut() {
  const strip = document.querySelector(".strip");
  const wide = strip.clientWidth;
  GUTTER = narrow() ? 42 : wide < 330 ? 52 : 82;
  RIGHT = wide < 330 ? 50 : 104;
  const all = ["score", "break-off", "chart-speed", "chart-accel", "chart-room"];
  if (!narrow()) for (const id of all) $(id).replaceChildren();
  widths.clear();
  for (const id of all) widths.set(id, $(id).clientWidth);
  if (narrow()) return;
  const boxes = [strip.querySelector(".scroll"), $("break-off-now"), $("time-axis")];
  const bare = boxes.reduce((sum, one) => sum + (one.hidden ? 0 : one.offsetHeight + 4), 0);
  const parties = partyRows;
  // The names above the score, the times below the last chart, and what each chart keeps free at its edges.
  const free = strip.clientHeight - bare - 12 - headRoom(placeOf($("score")) || 300) - 4 - (parties ? 10 : 0) - 16;
  rows.score = clamp(free / (movers.length + 2 * 3 + parties / 2), 20, 36);
  rows.breakOff = clamp(rows.score * 0.6, 16, 22);
  rows.chart = clamp((free - rows.score * movers.length - rows.breakOff * parties) / 3, 34, 170);
}

function layCharts() {
  if (!plays) return;
  charts.length = 0;
  shareOut();
  score();
  speedChart();
  accelChart();
  roomChart();
  breakOffChart();
}

// Whatever stands above it, the view with its charts fills the rest of the screen.
function fillScreen() {
  const top = document.querySelector(".one-screen").getBoundingClientRect().top + window.scrollY;
  document.documentElement.style.setProperty("--head", `${Math.min(top, window.innerHeight / 2) + 8}px`);
}

function lay() {
  readColours();
  fillScreen();
  main.size();
  if (closeUp.on) {
    closeUp.size();
    aimCloseUp();
  }
  layCharts();
  setTime(now);
}

choices();
legend();
offerSpots(showSpot);
if (plays) buildReadout();
wire();
lay();
leaveOutEdge();
watch("story");
openAddress();
window.addEventListener("hashchange", openAddress, { signal: replaced.signal });
let wide = window.innerWidth;
window.addEventListener("resize", () => {
  lay();
  if (window.innerWidth !== wide) watch(viewed === "free" ? "whole" : viewed);
  wide = window.innerWidth;
}, { signal: replaced.signal });
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", lay, { signal: replaced.signal });

// For scripts and tests: the time, and where everybody is at it.
window.choreo = Object.freeze({
  setTime: (t) => { pause(); setTime(t); },
  time: () => now,
  end: () => END_S,
  playing: () => playing,
  zone: () => zoneOn,
  view: () => ({ x: main.x, y: main.y, scale: main.scale, across: main.across, ride: main.ride, viewed }),
  svg: () => svgOf(main),
  bodies: () => Object.fromEntries(movers.filter((m) => m.start).map((m) => [m.name, main.drawnCorners(m, poseAt(m, now)).map((one) => main.at(...one))])),
  spots: () => SPOTS.map((one) => ({ ...one, pixel: main.at(...one.at) })),
  outside: () => data.outside,
  before: () => (before ? Object.fromEntries(before.movers.map((m) => [m.name, poseAt(m, now)])) : null),
  labels: () => main.told,
  poses: () => Object.fromEntries(movers.filter((m) => m.start).map((m) => {
    const pose = poseAt(m, now);
    return [m.name, { x_m: pose.x, y_m: pose.y, heading_rad: pose.h, station_m: pose.s, speed_mps: pose.v, accel_mps2: pose.a, sideways_mps2: sideways(m, pose), pixel: main.at(pose.x, pose.y) }];
  })),
});
