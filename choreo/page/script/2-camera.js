// ---- views of the plane -----------------------------------------------------------------------
let now = START_S;
// The widest body is drawn no narrower than this where a run can be stretched across; by no more than this factor.
const LEAST_BODY_PX = 12;
const MOST_STRETCH = 6;

function bounds(points) {
  const box = { x0: Infinity, x1: -Infinity, y0: Infinity, y1: -Infinity };
  for (const [x, y] of points) {
    box.x0 = Math.min(box.x0, x);
    box.x1 = Math.max(box.x1, x);
    box.y0 = Math.min(box.y0, y);
    box.y1 = Math.max(box.y1, y);
  }
  return box;
}

function runPoints() {
  const points = [...data.look];
  for (const m of movers) {
    if (!m.start) continue;
    const far = m.pieces.length ? stateAt(m, END_S).s : m.start[0];
    const count = m.pieces.length ? 60 : 1;
    for (let i = 0; i <= count; i += 1) {
      const pose = poseOn(m, m.start[0] + ((far - m.start[0]) * i) / count);
      points.push(...cornersAt(m, pose));
    }
  }
  for (const e of data.encounters) if (e.place) points.push(e.place);
  for (const m of before ? before.movers : []) if (m.start) points.push(...[m.start[0], ...(m.pieces.length ? [stateAt(m, END_S).s] : [])].flatMap((s) => cornersAt(m, poseOn(m, s))));
  if (zoneOn) points.push(...(waits ? waits.around : room.zone.flat(2)));
  for (const one of [...SPOTS, ...LACKS]) points.push(...pointsOf(one));
  if (!points.length) for (const m of movers) points.push([m.x[0], m.y[0]], [m.x[m.x.length - 1], m.y[m.y.length - 1]]);
  return points;
}

// Of those that drive; a door is as long as it is wide.
const widestBody = () => Math.max(...movers.filter((m) => m.pieces.length && !m.hinge).map((m) => m.width), 0);

class Camera {
  constructor(canvas, wide) {
    Object.assign(this, { canvas, wide, x: 0, y: 0, scale: 10, turn: 0, across: 1, ride: -1, ahead: false, sides: new Map() });
    this.pen = canvas.getContext("2d");
  }

  size() {
    const box = this.canvas.getBoundingClientRect();
    const ratio = Math.max(window.devicePixelRatio || 1, 1);
    this.w = Math.max(box.width, 40);
    this.h = Math.max(box.height, 40);
    this.canvas.width = Math.round(this.w * ratio);
    this.canvas.height = Math.round(this.h * ratio);
    this.ratio = ratio;
  }

  // Where a view must stand to show all points; `room` in px stays free round them.
  framing(points, room = 46, least = 4) {
    const box = bounds(points);
    const [wide, high] = [Math.max(box.x1 - box.x0, least), Math.max(box.y1 - box.y0, least)];
    const scale = Math.min((this.w - 2 * Math.min(room, this.w / 6)) / wide, (this.h - 2 * Math.min(room, this.h / 6)) / high);
    return { x: (box.x0 + box.x1) / 2, y: (box.y0 + box.y1) / 2, scale, turn: 0, across: 1, high };
  }

  fit(points, room = 46) {
    this.stand(this.framing(points, room));
  }

  stand({ x, y, scale, turn, across }) {
    Object.assign(this, { x, y, scale, turn, across });
  }

  // A long thin run is drawn wider than it is, as far as there is room, so that bodies can be seen.
  stretched(points) {
    const found = this.framing(points);
    const widest = widestBody();
    const wanted = (this.w < 500 ? LEAST_BODY_PX / 2 : LEAST_BODY_PX) / (widest * found.scale || 1);
    const free = (this.h - 2 * Math.min(46, this.h / 6)) / (found.high * found.scale);
    return { ...found, across: clamp(Math.min(wanted, free), 1, MOST_STRETCH) };
  }

  // By how much bodies are drawn larger than they are, so that the widest can be told for what it is; written on the picture.
  enlarged() {
    if (!this.wide) return 1;
    const widest = widestBody();
    const least = this.w < 500 ? LEAST_BODY_PX / 2 : LEAST_BODY_PX;
    return widest ? Math.max(1, least / (widest * this.scale * this.across)) : 1;
  }

  drawnCorners(m, pose) {
    const k = this.enlarged();
    return cornersAt(k > 1 ? { corners: m.corners.map(([x, y]) => [k * x, k * y]) } : m, pose);
  }

  at(x, y) {
    const [dx, dy] = [x - this.x, y - this.y];
    const [c, s] = [Math.cos(this.turn), Math.sin(this.turn)];
    return [this.w / 2 + (dx * c - dy * s) * this.scale, this.h / 2 - (dx * s + dy * c) * this.scale * this.across];
  }

  from(px, py) {
    const [u, v] = [(px - this.w / 2) / this.scale, (this.h / 2 - py) / (this.scale * this.across)];
    const [c, s] = [Math.cos(this.turn), Math.sin(this.turn)];
    return [this.x + u * c + v * s, this.y - u * s + v * c];
  }

  zoom(factor, px = this.w / 2, py = this.h / 2) {
    const [x, y] = this.from(px, py);
    this.scale = clamp(this.scale * factor, 0.05, 400);
    const [nx, ny] = this.from(px, py);
    if (this.ride < 0) {
      this.x += x - nx;
      this.y += y - ny;
    }
    this.draw();
  }

  pan(px, py) {
    this.ride = -1;
    const [x, y] = this.from(this.w / 2 - px, this.h / 2 - py);
    // However wide the drag, something of the run stays in view.
    const box = bounds(runPoints());
    const room = 0.25 / this.scale;
    this.x = clamp(x, box.x0 - room * this.w, box.x1 + room * this.w);
    this.y = clamp(y, box.y0 - (room * this.h) / this.across, box.y1 + (room * this.h) / this.across);
    this.draw();
  }

  follow() {
    if (this.ride < 0) return;
    const pose = poseAt(movers[this.ride], now);
    if (!pose) return;
    this.across = 1;
    this.x = pose.x;
    this.y = pose.y;
    this.turn = this.ahead ? Math.PI / 2 - pose.h : 0;
  }

  line(points, close = false) {
    const p = this.pen;
    p.beginPath();
    points.forEach(([x, y], i) => {
      const [px, py] = this.at(x, y);
      if (i) p.lineTo(px, py);
      else p.moveTo(px, py);
    });
    if (close) p.closePath();
  }

  stroke(colour, width, dash = []) {
    const p = this.pen;
    p.strokeStyle = colour;
    p.lineWidth = width;
    p.setLineDash(dash);
    p.stroke();
    p.setLineDash([]);
  }

  grid() {
    const p = this.pen;
    const step = nice(70 / this.scale);
    const reach = Math.hypot(this.w, this.h) / this.scale / 2;
    p.strokeStyle = ink.grid;
    p.lineWidth = 1;
    p.setLineDash([]);
    for (let x = Math.ceil((this.x - reach) / step) * step; x <= this.x + reach; x += step) {
      this.line([[x, this.y - reach], [x, this.y + reach]]);
      p.stroke();
    }
    for (let y = Math.ceil((this.y - reach) / step) * step; y <= this.y + reach; y += step) {
      this.line([[this.x - reach, y], [this.x + reach, y]]);
      p.stroke();
    }
  }

  frame() {
    const p = this.pen;
    const length = nice((this.wide ? 90 : 60) / this.scale);
    const px = length * this.scale;
    const y = this.h - 12;
    p.beginPath();
    p.moveTo(12, y - 6);
    p.lineTo(12, y);
    p.lineTo(12 + px, y);
    p.lineTo(12 + px, y - 6);
    this.stroke(ink.ink, 1.6);
    p.font = '12px system-ui, "DejaVu Sans", sans-serif';
    p.fillStyle = ink.ink;
    p.textBaseline = "alphabetic";
    p.fillText(`${+length.toPrecision(3)} m`, 17, y - 5);
    // What is not to scale stands at the right, above the scale's bar where it would run into that.
    const larger = this.enlarged();
    const told = [];
    if (this.across > 1.005) told.push(`drawn ${this.across.toFixed(1)} times as high as wide`);
    if (larger > 1.005) told.push(`bodies drawn ${larger.toFixed(1)} times as large`);
    const meets = told.some((words) => p.measureText(words).width > this.w - 10 - px - 24);
    p.textAlign = "right";
    told.forEach((words, k) => p.fillText(words, this.w - 10, y - 16 * k - (meets ? 18 : 0)));
    p.textAlign = "start";
    const [cx, cy] = [this.w - 34, 40];
    p.save();
    p.translate(cx, cy);
    p.rotate(Math.PI / 2 - data.north - this.turn);
    p.beginPath();
    p.moveTo(0, -18);
    p.lineTo(6, 10);
    p.lineTo(0, 5);
    p.lineTo(-6, 10);
    p.closePath();
    this.stroke(ink.ink, 1.5);
    p.beginPath();
    p.moveTo(0, -18);
    p.lineTo(6, 10);
    p.lineTo(0, 5);
    p.closePath();
    p.fillStyle = ink.ink;
    p.fill();
    p.textAlign = "center";
    p.font = '700 12px system-ui, "DejaVu Sans", sans-serif';
    p.fillText("N", 0, -20);
    p.restore();
    p.textAlign = "start";
  }
}

function nearestStation(m, [x, y]) {
  let best = 0;
  for (let i = 0; i < m.s.length; i += 1) {
    if (Math.hypot(m.x[i] - x, m.y[i] - y) < Math.hypot(m.x[best] - x, m.y[best] - y)) best = i;
  }
  return m.s[best];
}

function nice(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((f) => f * power).find((v) => v >= least * 0.999);
}
