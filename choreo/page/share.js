"use strict";
// Everybody on a shared circuit: kinds of lap are sampled once, and each vehicle's laps say when its clock runs.
const data = JSON.parse(document.getElementById("share-data").textContent);
const byId = (id) => document.getElementById(id);
const style = getComputedStyle(document.documentElement);
const css = (name) => style.getPropertyValue(name).trim();
const laps = Object.keys(data.kinds).length > 0;
// What the diagram shows at first: more than a few laps are a comb.
let now = 0, playing = false, last = 0, from = 0, span = laps && data.end > 2400 ? 1200 : data.end;

const two = (n) => String(n).padStart(2, "0");
const clock = (t) => {
  const s = Math.floor(data.clock + t + 1e-6);
  return two(Math.floor(s / 3600) % 24) + ":" + two(Math.floor(s / 60) % 60) + ":" + two(s % 60);
};
// The first index whose value is more than x, in a rising list.
const above = (list, x) => {
  let low = 0, high = list.length;
  while (low < high) { const m = (low + high) >> 1; if (list[m] > x) high = m; else low = m + 1; }
  return low;
};
const mix = (a, b, u) => a + u * (b - a);
const linear = (xs, ys, x) => {
  const i = Math.min(Math.max(above(xs, x), 1), xs.length - 1);
  const u = xs[i] > xs[i - 1] ? Math.min(Math.max((x - xs[i - 1]) / (xs[i] - xs[i - 1]), 0), 1) : 0;
  return mix(ys[i - 1], ys[i], u);
};
// Where a vehicle is: null when it is not on the track.
const at = (user, t) => {
  const i = above(user.begins, t) - 1;
  if (i < 0) return null;
  const [kind, days, own] = user.laps[i];
  if (t > days[days.length - 1]) return null;
  const lap = data.kinds[kind], into = linear(days, own, t);
  const k = Math.min(Math.max(above(lap.t, into), 1), lap.t.length - 1);
  const u = Math.min((into - lap.t[k - 1]) / (lap.t[k] - lap.t[k - 1]), 1);
  const stands = linear(days, own, t + 0.2) - into < 0.01;
  return { x: mix(lap.x[k - 1], lap.x[k], u), y: mix(lap.y[k - 1], lap.y[k], u), s: lap.s[k - 1], on: lap.on[k - 1],
    v: stands ? 0 : mix(lap.v[k - 1], lap.v[k], u), waits: stands };
};
const doing = (user, t) => {
  const place = user.stays.find((one) => t >= one[1] && t < one[2]);
  const here = at(user, t);
  const wait = user.waits.find((one) => t >= one[1] && t < one[1] + one[2]);
  if (wait) return "waits: " + wait[0];
  if (here && here.on > 0) return "in " + data.excursions[here.on - 1];
  if (here) return "on the main path";
  if (place) return "at " + place[0];
  return t < user.start ? "not started" : t >= user.end ? "done" : "between places";
};
const LEFT = 62;
const STEPS_S = [1, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600];
// The next of 1, 2, 5, 10 ... that is no less.
const round = (x) => {
  const tens = 10 ** Math.floor(Math.log10(x));
  return tens * [1, 2, 5, 10].find((one) => one * tens >= x - 1e-9);
};
const HUES = 6;
const colour = (i) => css("--m" + (i % HUES));
// Six colours can be told apart; who comes after the sixth is drawn hollow.
const hollow = (i) => Math.floor(i / HUES) % 2 === 1;

const sized = (canvas) => {
  const ratio = window.devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
  if (canvas.width !== Math.round(w * ratio)) { canvas.width = Math.round(w * ratio); canvas.height = Math.round(h * ratio); }
  const c = canvas.getContext("2d");
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, w, h);
  c.font = "12px system-ui, sans-serif";
  return [c, w, h];
};
const ways = Object.values(data.kinds);
const corners = data.zones.flatMap((zone) => zone.rings.flat());
const xs = [...ways.flatMap((w) => w.x), ...corners.map((p) => p[0])], ys = [...ways.flatMap((w) => w.y), ...corners.map((p) => p[1])];
const box = xs.length ? [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)] : null;

const drawView = () => {
  const [c, w, h] = sized(byId("view"));
  const scale = Math.min((w - 60) / (box[1] - box[0] || 1), (h - 50) / (box[3] - box[2] || 1));
  const px = (x) => w / 2 + (x - (box[0] + box[1]) / 2) * scale, py = (y) => h / 2 - (y - (box[2] + box[3]) / 2) * scale;
  c.strokeStyle = css("--soft"); c.lineWidth = 1.5;
  for (const way of ways) {
    c.beginPath();
    way.x.forEach((x, i) => (i ? c.lineTo(px(x), py(way.y[i])) : c.moveTo(px(x), py(way.y[i]))));
    c.stroke();
  }
  for (const zone of data.zones) {
    const runs = zone.spans.some((one) => now >= one[0] && now < one[1]);
    c.strokeStyle = css("--mark"); c.fillStyle = css("--mark"); c.setLineDash(runs ? [] : [4, 4]);
    for (const ring of zone.rings) {
      c.beginPath();
      ring.forEach((p, i) => (i ? c.lineTo(px(p[0]), py(p[1])) : c.moveTo(px(p[0]), py(p[1]))));
      c.stroke();
      if (runs) { c.globalAlpha = 0.25; c.fill(); c.globalAlpha = 1; }
    }
    c.setLineDash([]);
    c.fillText(zone.name + (runs ? " runs" : ""), px(zone.rings[0][0][0]) + 4, py(zone.rings[0][0][1]) - 4);
  }
  data.users.forEach((user, i) => {
    const here = at(user, now);
    if (!here) return;
    c.fillStyle = colour(i);
    c.beginPath(); c.arc(px(here.x), py(here.y), 6, 0, 7); c.fill();
    if (hollow(i)) { c.fillStyle = css("--sheet"); c.beginPath(); c.arc(px(here.x), py(here.y), 3.5, 0, 7); c.fill(); c.fillStyle = colour(i); }
    c.fillText(user.name, px(here.x) + 8, py(here.y) - 6);
  });
};
// The diagram's canvas with times of day below, so many that they have room; then what is drawn on it, and the time shown.
const overTime = (draw) => {
  const [c, w, h] = sized(byId("lines"));
  const bottom = h - 20, px = (t) => LEFT + (t - from) / span * (w - LEFT - 8);
  c.fillStyle = css("--soft"); c.strokeStyle = css("--grid"); c.lineWidth = 1;
  const apart = STEPS_S.find((one) => one * (w - LEFT) / span > 80) || 7200;
  c.textAlign = "center";
  for (let t = Math.ceil((data.clock + from) / apart - 1e-9) * apart - data.clock; t <= from + span + 1e-6; t += apart)
    if (px(t) < w - 30) { c.beginPath(); c.moveTo(px(t), bottom); c.lineTo(px(t), bottom + 4); c.stroke(); c.fillText(clock(t), px(t), h - 4); }
  draw(c, w, bottom, px);
  c.strokeStyle = css("--mark"); c.lineWidth = 1.5;
  c.beginPath(); c.moveTo(px(now), 8); c.lineTo(px(now), bottom); c.stroke();
};
const within = (c, w, bottom, draw) => {
  c.save(); c.beginPath(); c.rect(LEFT, 0, w - LEFT - 8, bottom + 20); c.clip();
  draw();
  c.restore(); c.setLineDash([]);
};
const drawLines = () => overTime((c, w, bottom, px) => {
  const py = (s) => bottom - s / data.lap * (bottom - 8);
  c.textAlign = "right";
  for (let s = 0, step = round(data.lap / 5); s <= data.lap; s += step) {
    c.beginPath(); c.moveTo(LEFT, py(s)); c.lineTo(w - 8, py(s)); c.stroke();
    c.fillText(+s.toFixed(2) + " m", LEFT - 6, py(s) + 4);
  }
  c.textAlign = "left";
  const line = (user) => {
    for (const [kind, days, own] of user.laps) {
      if (days[days.length - 1] < from || days[0] > from + span) continue;
      const lap = data.kinds[kind];
      let before = -1;
      for (let k = 0; k < lap.t.length; k++) {
        const x = px(linear(own, days, lap.t[k])), y = py(lap.s[k]);
        if (lap.on[k] !== before) {
          if (before >= 0) { c.lineTo(x, y); c.stroke(); }
          c.setLineDash(lap.on[k] ? [3, 3] : []); c.beginPath(); c.moveTo(x, y); before = lap.on[k];
        } else c.lineTo(x, y);
      }
      c.stroke();
    }
  };
  within(c, w, bottom, () => data.users.forEach((user, i) => {
    c.strokeStyle = colour(i); c.lineWidth = hollow(i) ? 3.6 : 1.4;
    line(user);
    if (hollow(i)) { c.strokeStyle = css("--sheet"); c.lineWidth = 1.4; line(user); }
  }));
});
// Where nobody drives laps: a row for each, a bar for each stay at a place, a thin line for each wait.
const drawStays = () => overTime((c, w, bottom, px) => {
  const high = (bottom - 8) / data.users.length, top = (i) => 8 + i * high;
  c.textAlign = "right";
  data.users.forEach((user, i) => c.fillText(user.name, LEFT - 6, top(i) + high / 2 + 4));
  c.textAlign = "left";
  within(c, w, bottom, () => data.users.forEach((user, i) => {
    c.strokeStyle = c.fillStyle = colour(i); c.lineWidth = 1.4;
    for (const [, begin, lasts] of user.waits) {
      c.setLineDash([3, 3]); c.beginPath(); c.moveTo(px(begin), top(i) + high / 2); c.lineTo(px(begin + lasts), top(i) + high / 2); c.stroke();
    }
    c.setLineDash([]);
    for (const [place, begin, end] of user.stays) {
      const x = px(begin), wide = px(end) - x;
      c.globalAlpha = 0.25; c.fillRect(x, top(i) + 3, wide, high - 6); c.globalAlpha = 1;
      c.strokeRect(x, top(i) + 3, wide, high - 6);
      if (c.measureText(place).width < wide - 6) { c.fillStyle = css("--ink"); c.fillText(place, x + 4, top(i) + high / 2 + 4); c.fillStyle = colour(i); }
    }
  }));
});
const visited = data.users.some((user) => user.stays.length);
const rows = data.users.map((user, i) => {
  const row = document.createElement("tr");
  row.innerHTML = '<th scope="row"></th><td></td><td class="number"></td><td class="number"></td>';
  row.cells[0].className = "m" + (i % HUES) + (hollow(i) ? " hollow" : "");
  row.cells[0].textContent = user.name;
  byId("who").tBodies[0].append(row);
  return row;
});
const show = () => {
  if (now < from || now > from + span) from = Math.min(Math.max(now - span / 8, 0), Math.max(data.end - span, 0));
  byId("clock").textContent = clock(now);
  byId("scrub").value = now;
  data.users.forEach((user, i) => {
    const here = at(user, now);
    rows[i].cells[1].textContent = doing(user, now);
    rows[i].cells[2].textContent = here ? (here.v * 3.6).toFixed(1) : "-";
    rows[i].cells[3].textContent = here ? here.s.toFixed(0) : "-";
  });
  if (box) { drawView(); drawLines(); } else if (visited) drawStays();
};
const tick = (stamp) => {
  if (!playing) return;
  now = Math.min(now + (stamp - last) / 1000 * Number(byId("pace").value), data.end);
  last = stamp;
  if (now >= data.end) toggle();
  show();
  if (playing) requestAnimationFrame(tick);
};
const toggle = () => {
  playing = !playing;
  byId("play").textContent = playing ? "Pause" : "Play";
  if (playing) { if (now >= data.end) now = 0; last = performance.now(); requestAnimationFrame(tick); }
};
for (const [name, seconds] of [["all of it", data.end], ["1 h", 3600], ["20 min", 1200], ["5 min", 300]])
  if (seconds <= data.end) byId("window").add(new Option(name, seconds, false, seconds === span));
byId("window").addEventListener("change", () => {
  span = Number(byId("window").value); from = Math.min(Math.max(now - span / 4, 0), data.end - span); show();
});
byId("scrub").max = data.end;
byId("scrub").addEventListener("input", () => { now = Number(byId("scrub").value); show(); });
byId("play").addEventListener("click", toggle);
byId("lines").addEventListener("pointerdown", (e) => {
  now = Math.min(Math.max(from + (e.offsetX - LEFT) / (byId("lines").clientWidth - LEFT - 8) * span, 0), data.end); show();
});
document.addEventListener("keydown", (e) => {
  if (e.key === " " && e.target.tagName !== "BUTTON" && e.target.tagName !== "SELECT") { e.preventDefault(); toggle(); }
});
window.addEventListener("resize", show);
if (!box) {
  byId("view").hidden = true;
  byId("who").className = "places";
  byId("on-circuit").hidden = !visited;
  byId("lines").setAttribute("aria-label", "Who is where over time; dashed: waiting");
  byId("lines").style.height = 32 + 30 * data.users.length + "px";
  byId("hint").textContent = "A row for each: bars are stays at places, dashed lines are waits.";
  byId("window").parentElement.hidden = true;
}
// Without a timetable nothing plays.
if (!box && !visited) for (const part of document.querySelectorAll(".transport-bar, .playing")) part.hidden = true;
else show();
