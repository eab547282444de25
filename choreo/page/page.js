"use strict";
(() => {
  // ---- what there is to show -------------------------------------------------------------------
  const data = JSON.parse(document.getElementById("plan-data").textContent);
  const movers = data.movers;
  const plays = movers.some((m) => m.pieces.length > 0);
  const END_S = Math.max(data.end, 1);
  const KMH = 3.6;
  const DASHES = [[], [9, 4], [2, 3], [10, 3, 2, 3], [5, 5], [14, 4]];
  const $ = (id) => document.getElementById(id);
  const clamp = (v, low, high) => Math.min(Math.max(v, low), high);
  const dashOf = (i) => DASHES[i % DASHES.length];
  const hueOf = (i) => i % 6;
  const brief = (words, most = 22) => (words.length > most ? `${words.slice(0, most - 1)}\u2026` : words);

  // ---- motion: exact cubics in time, cubics through sampled poses in station --------------------
  function pieceAt(m, t) {
    let found = 0;
    for (let i = 0; i < m.pieces.length; i += 1) if (m.pieces[i][0] <= t) found = i;
    return m.pieces[found];
  }

  function stateAt(m, t) {
    if (!m.start) return null;
    const [s0, v0] = m.start;
    if (!m.pieces.length) return { s: s0, v: 0, a: 0, phase: "stands" };
    const first = m.pieces[0][0];
    if (t < first) return { s: s0 - v0 * (first - t), v: v0, a: 0, phase: v0 > 0 ? "rolls" : "waits" };
    const piece = pieceAt(m, t);
    const last = piece === m.pieces[m.pieces.length - 1];
    const over = last && t - piece[0] > piece[1];
    const u = over ? piece[1] : t - piece[0];
    const [, , s, v, a, j] = piece;
    const state = {
      s: s + u * (v + u * (a / 2 + (u * j) / 6)),
      v: v + u * (a + (u * j) / 2),
      a: a + u * j,
      phase: m.phases[piece[6]],
    };
    if (over) {
      state.v = state.v > 1e-6 ? state.v : 0;
      state.s += state.v * (t - piece[0] - piece[1]);
      state.a = 0;
      state.phase = state.v > 0 ? "rolls on" : "at rest";
    }
    return state;
  }

  function poseOn(m, s) {
    const n = m.s.length;
    if (s <= m.s[0] || s >= m.s[n - 1]) {
      const i = s <= m.s[0] ? 0 : n - 1;
      const over = s - m.s[i];
      return { x: m.x[i] + over * Math.cos(m.h[i]), y: m.y[i] + over * Math.sin(m.h[i]), h: m.h[i], k: 0 };
    }
    let low = 0;
    let high = n - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (m.s[middle] <= s) low = middle;
      else high = middle;
    }
    const step = m.s[high] - m.s[low];
    const u = (s - m.s[low]) / step;
    const p0 = (1 + 2 * u) * (1 - u) * (1 - u);
    const m0 = u * (1 - u) * (1 - u) * step;
    const p1 = u * u * (3 - 2 * u);
    const m1 = u * u * (u - 1) * step;
    const [a, b] = [m.h[low], m.h[high]];
    return {
      x: p0 * m.x[low] + m0 * Math.cos(a) + p1 * m.x[high] + m1 * Math.cos(b),
      y: p0 * m.y[low] + m0 * Math.sin(a) + p1 * m.y[high] + m1 * Math.sin(b),
      h: a + u * (b - a),
      k: (b - a) / step,
    };
  }

  function poseAt(m, t) {
    const state = stateAt(m, t);
    return state && { ...state, ...poseOn(m, state.s) };
  }

  function cornersAt(m, pose) {
    const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
    return m.corners.map(([x, y]) => [pose.x + c * x - s * y, pose.y + s * x + c * y]);
  }

  // Distance of two convex polygons: zero where no side keeps them apart, else nearest corner to side.
  function clearance(a, b) {
    if (overlap(a, b)) return 0;
    let least = Infinity;
    for (const [p, q] of [[a, b], [b, a]]) {
      for (const [x, y] of p) {
        for (let i = 0; i < q.length; i += 1) {
          const [x1, y1] = q[i];
          const [x2, y2] = q[(i + 1) % q.length];
          const [dx, dy] = [x2 - x1, y2 - y1];
          const u = clamp(((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy), 0, 1);
          least = Math.min(least, Math.hypot(x - x1 - u * dx, y - y1 - u * dy));
        }
      }
    }
    return least;
  }

  function overlap(a, b) {
    for (const q of [a, b]) {
      for (let i = 0; i < q.length; i += 1) {
        const [x1, y1] = q[i];
        const [x2, y2] = q[(i + 1) % q.length];
        const along = (p) => p.map(([x, y]) => (x - x1) * (y2 - y1) - (y - y1) * (x2 - x1));
        const [one, other] = [along(a), along(b)];
        if (Math.max(...one) < Math.min(...other) || Math.max(...other) < Math.min(...one)) return false;
      }
    }
    return true;
  }

  function accelLimit(m, v) {
    const table = m.limits.accel;
    if (v <= table[0][0]) return table[0][1];
    for (let i = 1; i < table.length; i += 1) {
      const [[v0, a0], [v1, a1]] = [table[i - 1], table[i]];
      if (v <= v1) return a0 + ((a1 - a0) * (v - v0)) / (v1 - v0);
    }
    return table[table.length - 1][1];
  }

  // ---- colours come from the style, so that light and dark have one home ------------------------
  let ink = {};
  function readColours() {
    const style = getComputedStyle(document.documentElement);
    const get = (name) => style.getPropertyValue(`--${name}`).trim();
    ink = { ink: get("ink"), soft: get("soft"), rule: get("rule"), grid: get("grid"), paper: get("paper"), sheet: get("sheet") };
    ink.movers = [0, 1, 2, 3, 4, 5].map((i) => get(`m${i}`));
  }

  // ---- views of the plane -----------------------------------------------------------------------
  let now = 0;

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
    if (!points.length) for (const m of movers) points.push([m.x[0], m.y[0]], [m.x[m.x.length - 1], m.y[m.y.length - 1]]);
    return points;
  }

  class View {
    constructor(canvas, wide) {
      Object.assign(this, { canvas, wide, x: 0, y: 0, scale: 10, turn: 0, ride: -1, ahead: false });
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

    fit(points, room = 46) {
      const box = bounds(points);
      this.turn = 0;
      this.x = (box.x0 + box.x1) / 2;
      this.y = (box.y0 + box.y1) / 2;
      const [wide, high] = [Math.max(box.x1 - box.x0, 4), Math.max(box.y1 - box.y0, 4)];
      this.scale = Math.min((this.w - 2 * Math.min(room, this.w / 6)) / wide, (this.h - 2 * room) / high);
    }

    at(x, y) {
      const [dx, dy] = [x - this.x, y - this.y];
      const [c, s] = [Math.cos(this.turn), Math.sin(this.turn)];
      return [this.w / 2 + (dx * c - dy * s) * this.scale, this.h / 2 - (dx * s + dy * c) * this.scale];
    }

    from(px, py) {
      const [u, v] = [(px - this.w / 2) / this.scale, (this.h / 2 - py) / this.scale];
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
      this.x = x;
      this.y = y;
      this.draw();
    }

    follow() {
      if (this.ride < 0) return;
      const pose = poseAt(movers[this.ride], now);
      if (!pose) return;
      this.x = pose.x;
      this.y = pose.y;
      this.turn = this.ahead ? Math.PI / 2 - pose.h : 0;
    }

    draw() {
      this.follow();
      const p = this.pen;
      p.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
      p.fillStyle = ink.paper;
      p.fillRect(0, 0, this.w, this.h);
      this.taken = [];
      this.wanted = [];
      this.grid();
      this.outline();
      movers.forEach((m, i) => this.path(m, i));
      movers.forEach((m, i) => this.marks(m, i));
      data.triggers.forEach((one) => this.trigger(one));
      movers.forEach((m, i) => this.body(m, i));
      data.encounters.forEach((one) => this.encounter(one));
      movers.forEach((m, i) => this.name(m, i));
      this.labels();
      this.frame();
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

    outline() {
      if (data.outline.length < 2) return;
      this.line(data.outline, true);
      this.stroke(ink.soft, 1.6, [12, 4, 2, 4]);
    }

    stroke(colour, width, dash = []) {
      const p = this.pen;
      p.strokeStyle = colour;
      p.lineWidth = width;
      p.setLineDash(dash);
      p.stroke();
      p.setLineDash([]);
    }

    stretch(m, from, to) {
      const points = [];
      const put = (s) => {
        const q = poseOn(m, s);
        points.push([q.x, q.y]);
      };
      put(from);
      for (let i = 1; i < m.s.length; i += 1) {
        const [a, b] = [m.s[i - 1], m.s[i]];
        if (b <= from || a >= to) continue;
        const bends = Math.abs(m.h[i] - m.h[i - 1]);
        const parts = bends < 1e-6 ? 1 : clamp(Math.ceil((b - a) * this.scale / 12), 1, 40);
        for (let k = 1; k <= parts; k += 1) {
          const s = a + ((b - a) * k) / parts;
          if (s > from && s < to) put(s);
        }
      }
      put(to);
      return points;
    }

    path(m, i) {
      if (!m.path && m.stands) return;
      const colour = ink.movers[hueOf(i)];
      const p = this.pen;
      if (m.runway && m.pieces.length) {
        const [up, mid, out] = m.runway;
        const s0 = m.start[0];
        const width = clamp(m.width * this.scale, 7, 60);
        const band = (from, to, alpha, dash) => {
          if (to - from <= 0) return;
          this.line(this.stretch(m, from, to));
          p.globalAlpha = alpha;
          this.stroke(colour, width, dash);
          p.globalAlpha = 1;
        };
        band(s0, s0 + up, 0.14, []);
        band(s0 + up, s0 + up + mid, 0.34, []);
        band(s0 + up + mid, s0 + up + mid + out, 0.22, [5, 4]);
      }
      const [low, high] = [m.s[0], m.s[m.s.length - 1]];
      this.line(this.stretch(m, low, high));
      this.stroke(colour, 1.3, dashOf(i));
      for (const s of m.path || []) this.pathEnd(poseOn(m, s), colour);
      if (m.pieces.length) {
        const here = stateAt(m, now).s;
        if (here > m.start[0] + 0.01) {
          this.line(this.stretch(m, m.start[0], here));
          this.stroke(colour, 2.6);
        }
      }
    }

    pathEnd(pose, colour) {
      const [x, y] = this.at(pose.x, pose.y);
      const angle = pose.h + this.turn;
      const [dx, dy] = [6 * Math.sin(angle), 6 * Math.cos(angle)];
      this.pen.beginPath();
      this.pen.moveTo(x - dx, y - dy);
      this.pen.lineTo(x + dx, y + dy);
      this.stroke(colour, 2);
    }

    marks(m, i) {
      if (!m.start) return;
      const pose = poseOn(m, m.start[0]);
      if (m.pieces.length) {
        this.line(cornersAt(m, pose), true);
        this.stroke(ink.movers[hueOf(i)], 1.2, [3, 3]);
      }
      const [x, y] = this.at(pose.x, pose.y);
      const p = this.pen;
      p.beginPath();
      p.moveTo(x - 5, y - 5);
      p.lineTo(x + 5, y + 5);
      p.moveTo(x - 5, y + 5);
      p.lineTo(x + 5, y - 5);
      this.stroke(ink.movers[hueOf(i)], 2);
      this.taken.push([x - 6, y - 6, x + 6, y + 6]);
    }

    trigger(one) {
      if (one.s === null) return;
      const pose = poseOn(movers[one.watch], one.s);
      const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
      const reach = Math.max(3, 16 / this.scale);
      this.line([[pose.x + s * reach, pose.y - c * reach], [pose.x - s * reach, pose.y + c * reach]]);
      this.stroke(ink.ink, now >= one.t ? 3.4 : 1.8, now >= one.t ? [] : [6, 3]);
      const [x, y] = this.at(pose.x, pose.y);
      this.label(`${one.name}${now >= one.acts ? " acted" : now >= one.t ? " fires" : ""}`, x, y, ink.ink, 22, 2);
    }

    body(m, i) {
      const pose = poseAt(m, now);
      if (!pose) return;
      const colour = ink.movers[hueOf(i)];
      const p = this.pen;
      const corners = cornersAt(m, pose);
      this.line(corners, true);
      p.fillStyle = colour;
      p.globalAlpha = 0.42;
      p.fill();
      p.globalAlpha = 1;
      this.stroke(colour, 2);
      const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
      const half = m.width / 2;
      const tail = m.front - Math.min(half * 1.2, m.front);
      const tip = [[tail, half], [m.front, 0], [tail, -half]].map(([a, b]) => [pose.x + c * a - s * b, pose.y + s * a + c * b]);
      this.line(tip);
      this.stroke(colour, 1.6);
      const [x, y] = this.at(pose.x, pose.y);
      p.beginPath();
      p.arc(x, y, 2.6, 0, 7);
      p.fillStyle = colour;
      p.fill();
      // At the scale of a whole runway a body is a speck: a ring says where to look.
      if (m.width * this.scale < 7) {
        p.beginPath();
        p.arc(x, y, 8, 0, 7);
        this.stroke(colour, 1.6, dashOf(i));
      }
      const reach = Math.max((m.width * this.scale) / 2, 9);
      this.taken.push([x - reach, y - reach, x + reach, y + reach]);
    }

    name(m, i) {
      const pose = poseAt(m, now);
      if (!pose) {
        if (!m.path) return;
        const mid = poseOn(m, nearestStation(m, data.look[0] || [0, 0]) / 2);
        const [x, y] = this.at(mid.x, mid.y);
        this.label(`path of ${m.name}`, x, y, ink.movers[hueOf(i)], 12, 1);
        return;
      }
      const [x, y] = this.at(pose.x, pose.y);
      const reach = Math.max((Math.max(m.width, Math.abs(Math.sin(pose.h + this.turn)) * m.front) * this.scale) / 2, 8) + 4;
      this.label(m.name, x, y, ink.movers[hueOf(i)], reach, 0);
    }

    encounter(one) {
      if (!one.place) return;
      const [x, y] = this.at(...one.place);
      const p = this.pen;
      p.beginPath();
      p.arc(x, y, 7, 0, 7);
      p.moveTo(x - 12, y);
      p.lineTo(x + 12, y);
      p.moveTo(x, y - 12);
      p.lineTo(x, y + 12);
      this.stroke(ink.ink, one.t !== null && now >= one.t ? 2.6 : 1.5);
      this.taken.push([x - 9, y - 9, x + 9, y + 9]);
      this.label(one.name, x, y, ink.ink, 16, 1);
    }

    label(words, x, y, colour, away, rank) {
      this.wanted.push({ words, x, y, colour, away, rank });
    }

    labels() {
      const p = this.pen;
      p.font = '600 12.5px system-ui, "DejaVu Sans", sans-serif';
      p.textBaseline = "middle";
      const wanted = this.wanted.sort((a, b) => a.rank - b.rank);
      for (const one of wanted) {
        const words = brief(one.words, 28);
        const wide = p.measureText(words).width;
        if (one.x < -20 || one.x > this.w + 20 || one.y < -20 || one.y > this.h + 20) continue;
        const spot = this.spot(one, wide);
        if (!spot) continue;
        this.taken.push(spot);
        const [x, y] = [spot[0] + 3, (spot[1] + spot[3]) / 2];
        if (Math.abs(y - one.y) > one.away + 12) {
          p.beginPath();
          p.moveTo(one.x, one.y);
          p.lineTo(clamp(one.x, spot[0], spot[2]), y > one.y ? spot[1] : spot[3]);
          this.stroke(one.colour, 0.9);
        }
        p.lineWidth = 4;
        p.strokeStyle = ink.paper;
        p.lineJoin = "round";
        p.strokeText(words, x, y);
        p.fillStyle = one.colour;
        p.fillText(words, x, y);
      }
    }

    spot(one, wide) {
      const high = 16;
      for (let ring = 0; ring < 4; ring += 1) {
        const off = one.away + ring * 17;
        const tries = [
          [one.x - wide / 2, one.y - off - high], [one.x - wide / 2, one.y + off],
          [one.x + one.away * 0.7, one.y - off - high], [one.x - wide - one.away * 0.7, one.y - off - high],
          [one.x + one.away * 0.7, one.y + off], [one.x - wide - one.away * 0.7, one.y + off],
        ];
        for (const [x, y] of tries) {
          const box = [x - 3, y, x + wide + 3, y + high];
          const inside = box[0] >= 2 && box[1] >= 2 && box[2] <= this.w - 2 && box[3] <= this.h - 2;
          const free = this.taken.every((t) => box[2] < t[0] || box[0] > t[2] || box[3] < t[1] || box[1] > t[3]);
          if (inside && free && !this.onFurniture(box)) return box;
        }
      }
      return null;
    }

    onFurniture(box) {
      const arrow = box[2] > this.w - 44 && box[1] < 62;
      const bar = box[0] < 150 && box[3] > this.h - 34;
      return arrow || bar;
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
      const [cx, cy] = [this.w - 24, 34];
      p.save();
      p.translate(cx, cy);
      p.rotate(-this.turn);
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

  const main = new View($("plan"), true);
  const closeUp = new View($("close-up"), false);

  function nearPoints(e) {
    const reach = 9;
    const [x, y] = e.place;
    return [[x - reach, y - reach / 2], [x + reach, y + reach / 2]];
  }

  function lookAt(view, what, reach) {
    if (what.mover >= 0) {
      view.ride = what.mover;
      view.scale = Math.min(view.w, view.h) / reach;
      return;
    }
    view.ride = -1;
    view.turn = 0;
    [view.x, view.y] = what.place;
    view.scale = Math.min(view.w, view.h * 1.4) / reach;
  }

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
  const gutter = () => (window.innerWidth < 640 ? 42 : 84);
  const RIGHT = 14;

  function axisOf(host, high) {
    const wide = Math.max(host.clientWidth, 200);
    const left = gutter();
    const x = (t) => left + ((wide - left - RIGHT) * t) / END_S;
    const t = (px) => clamp(((px - left) / (wide - left - RIGHT)) * END_S, 0, END_S);
    host.replaceChildren();
    const svg = node("svg", { width: wide, height: high, viewBox: `0 0 ${wide} ${high}` }, null);
    host.append(svg);
    const step = nice((END_S * 70) / (wide - left));
    return { svg, wide, high, left, x, t, step };
  }

  function finish(axis) {
    const line = node("line", { class: "cursor-line", y1: 0, y2: axis.high }, axis.svg);
    const move = () => {
      line.setAttribute("x1", axis.x(now));
      line.setAttribute("x2", axis.x(now));
    };
    const seek = (event) => {
      // While it plays, a mouse on its way elsewhere must not stop it: then only a press counts.
      if (playing && event.type === "pointermove" && !event.buttons) return;
      const box = axis.svg.getBoundingClientRect();
      pause();
      setTime(axis.t(event.clientX - box.left));
    };
    axis.svg.addEventListener("pointermove", seek);
    axis.svg.addEventListener("pointerdown", seek);
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
    for (const m of movers) for (const [t, words] of m.events) if (/^end of/.test(words)) all.push({ t, words: `${words}, ${m.name}` });
    return all.filter((one) => one.t <= END_S + 1e-6).sort((a, b) => a.t - b.t);
  }

  function score() {
    const host = $("score");
    const small = window.innerWidth < 640;
    const row = small ? 46 : 36;
    const heads = [...data.encounters, ...data.instants].sort((a, b) => a.t - b.t);
    const lanes = headLanes(heads, host.clientWidth || 300);
    const top = 8 + 15 * (heads.length ? Math.max(...lanes) + 1 : 0);
    const axis = axisOf(host, top + row * movers.length + 22);
    const foot = top + row * movers.length;
    movers.forEach((m, i) => scoreRow(axis, m, i, top + row * i, row, small));
    verticals(axis, top - 4, foot);
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
    for (let t = 0; t <= END_S + 1e-9; t += axis.step) {
      node("text", { x: axis.x(t), y: foot + 15, "text-anchor": "middle" }, axis.svg, `${+t.toFixed(2)}${t === 0 ? " s" : ""}`);
    }
    finish(axis);
  }

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
    node("text", { class: "strong", x: 2, y: small ? y + 11 : base - 6 }, axis.svg, brief(m.name, small ? 30 : 11));
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
  }

  // Every chart's times: an even grid and every end of a piece, so that no corner is cut.
  const TIMES = (() => {
    const all = [];
    for (let i = 0; i <= 400; i += 1) all.push((END_S * i) / 400);
    for (const m of movers) for (const p of m.pieces) all.push(p[0], p[0] + p[1], Math.max(p[0] - 1e-6, 0));
    return all.filter((t) => t >= 0 && t <= END_S).sort((a, b) => a - b);
  })();

  function chart(id, series, { high = 128, least = 0, most = -Infinity, every = 0, beyond = null, unit = "", digits = 1 }) {
    const axis = axisOf($(id), high);
    const values = series.map((one) => TIMES.map(one.f));
    const finite = values.flat().filter(Number.isFinite);
    let min = Math.min(least, ...finite);
    let max = Math.max(most, ...finite, min + 0.001);
    const step = every || nice((max - min) / 4);
    const first = Math.ceil(min / step - 1e-9) * step;
    if (!every) {
      min = Math.floor(min / step + 1e-9) * step;
      max = Math.ceil(max / step - 1e-9) * step;
    }
    const y = (v) => 8 + ((high - 26) * (max - v)) / (max - min);
    if (beyond) {
      for (const [from, to] of beyond) {
        const [a, b] = [y(Math.min(to, max)), y(Math.max(from, min))];
        if (b > a) node("rect", { class: "beyond", x: axis.left, width: axis.wide - axis.left - RIGHT, y: a, height: b - a }, axis.svg);
        const edge = y(Math.abs(from) < Math.abs(to) ? from : to);
        node("line", { class: "limit-line", x1: axis.left, x2: axis.wide - RIGHT, y1: edge, y2: edge }, axis.svg);
      }
      node("text", { x: axis.wide - RIGHT - 4, y: y(most) + 11, "text-anchor": "end" }, axis.svg, "over the limit");
      node("text", { x: axis.wide - RIGHT - 4, y: y(least) - 3, "text-anchor": "end" }, axis.svg, "over the limit");
    }
    for (let v = every ? first : min; v <= max + 1e-9; v += step) {
      node("line", { class: Math.abs(v) < 1e-9 ? "zero-line" : "grid-line", x1: axis.left, x2: axis.wide - RIGHT, y1: y(v), y2: y(v) }, axis.svg);
      node("text", { x: axis.left - 6, y: y(v) + 4, "text-anchor": "end" }, axis.svg, `${+v.toFixed(3)}`);
    }
    for (let t = 0; t <= END_S + 1e-9; t += axis.step) {
      node("line", { class: "grid-line", x1: axis.x(t), x2: axis.x(t), y1: 8, y2: high - 18 }, axis.svg);
      node("text", { x: axis.x(t), y: high - 4, "text-anchor": "middle" }, axis.svg, `${+t.toFixed(2)}`);
    }
    verticals(axis, 8, high - 18);
    const placed = [];
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
      if (one.words) nameOn(axis, one, values[k], y, placed, high);
    });
    const told = series.filter((one) => one.words);
    const dots = told.map((one) => node("circle", { class: `f${hueOf(one.hue)} dot`, r: 4 }, axis.svg));
    finish(axis);
    const words = $(`${id}-now`);
    const move = () => {
      const at = told.map((one) => one.f(now));
      dots.forEach((dot, k) => {
        dot.setAttribute("cx", axis.x(now));
        dot.setAttribute("cy", y(Number.isFinite(at[k]) ? at[k] : 0));
      });
      words.textContent = told.map((one, k) => `${one.words} ${shown(at[k], digits)}${unit}`).join("   ");
    };
    charts.push(move);
    move();
  }

  // A series is named on its line, at a place where no other name stands.
  function nameOn(axis, one, values, y, placed, high) {
    const wide = one.words.length * 6.2 + 8;
    const peak = Math.max(...values.filter(Number.isFinite).map(Math.abs));
    for (const share of [0.3, 0.5, 0.7, 0.15, 0.85, 0.4, 0.6]) {
      const n = Math.round(share * (TIMES.length - 1));
      const v = values[n];
      if (!Number.isFinite(v) || (peak > 0 && Math.abs(v) < peak * 0.2)) continue;
      const x = axis.x(TIMES[n]);
      for (const off of [-5, 14]) {
        const box = [x - wide / 2, y(v) + off - 11, x + wide / 2, y(v) + off + 3];
        const inside = box[0] > axis.left && box[2] < axis.wide - RIGHT && box[1] > 0 && box[3] < high - 18;
        if (inside && placed.every((b) => box[2] < b[0] || box[0] > b[2] || box[3] < b[1] || box[1] > b[3])) {
          placed.push(box);
          node("text", { class: `halo f${hueOf(one.hue)}`, x, y: y(v) + off, "text-anchor": "middle" }, axis.svg, one.words);
          return;
        }
      }
    }
  }

  const moving = movers.map((m, i) => ({ m, i })).filter(({ m }) => m.pieces.length);

  function speedChart() {
    chart("chart-speed", moving.map(({ m, i }) => ({ f: (t) => stateAt(m, t).v * KMH, hue: i, words: brief(m.name) })), { unit: " km/h" });
  }

  function accelChart() {
    const share = $("accel-as").value === "share";
    const series = [];
    for (const { m, i } of moving) {
      const one = (t) => {
        const { a, v } = stateAt(m, t);
        if (!share) return a;
        return a >= 0 ? (100 * a) / accelLimit(m, v) : (100 * a) / m.limits.brake;
      };
      series.push({ f: one, hue: i, words: brief(m.name) });
      const side = (t) => {
        const pose = poseAt(m, t);
        return pose.v * pose.v * Math.abs(pose.k);
      };
      if (TIMES.some((t) => side(t) > 0.05)) {
        const limit = m.limits.lateral;
        if (!share || limit) series.push({ f: (t) => (share ? (100 * side(t)) / limit : side(t)), hue: i, dash: 2, words: `${brief(m.name)}, sideways` });
      }
      if (!share) {
        series.push({ f: (t) => accelLimit(m, stateAt(m, t).v), hue: i, thin: true, words: "" });
        series.push({ f: () => -m.limits.brake, hue: i, thin: true, words: "" });
      }
    }
    const options = share
      ? { least: -125, most: 125, every: 50, unit: " %", digits: 0, beyond: [[100, 1e4], [-1e4, -100]] }
      : { unit: " m/s2", digits: 2 };
    chart("chart-accel", series, { high: 160, ...options });
  }

  const pairs = [...new Map(data.encounters.map((e) => [`${e.of}/${e.with}`, e])).values()];

  function roomChart() {
    const choice = $("room-as").value;
    let series;
    if (choice === "between") {
      series = pairs.map((e, k) => ({
        f: (t) => {
          const [a, b] = [movers[e.of], movers[e.with]];
          return clearance(cornersAt(a, poseAt(a, t)), cornersAt(b, poseAt(b, t)));
        },
        hue: k + 3, words: `${brief(movers[e.of].name, 16)} to ${brief(movers[e.with].name, 16)}`,
      }));
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
      const degrees = ((((pose.h * 180) / Math.PI - 180) % 360) - 360) % 360 + 180;
      const told = [pose.phase, shown(pose.v * KMH, 2), shown(pose.a, 2), shown(pose.s, 2), shown(pose.x, 2), shown(pose.y, 2), shown(degrees, 1)];
      told.forEach((words, k) => {
        if (cells[i][k].textContent !== words) cells[i][k].textContent = words;
      });
    });
  }

  const MOMENTS = moments();
  function tellMoment() {
    const near = MOMENTS.filter((one) => Math.abs(one.t - now) < 0.06).map((one) => one.words);
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

  // ---- controls ---------------------------------------------------------------------------------
  function ride(i) {
    main.ride = i;
    $("ride").value = i < 0 ? "" : String(i);
    if (i >= 0) main.scale = clamp(main.scale, 6, 400);
    else main.turn = 0;
    main.draw();
  }

  function whole() {
    ride(-1);
    main.fit(runPoints());
    main.draw();
  }

  function near() {
    const found = data.encounters.filter((one) => one.place);
    if (!found.length) return;
    const next = found.find((one) => one.t >= now - 1e-6) || found[found.length - 1];
    ride(-1);
    main.fit(nearPoints(next), 24);
    main.draw();
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
      if (!before) return;
      const others = [...held].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
      const here = [event.clientX, event.clientY];
      held.set(event.pointerId, here);
      if (others.length) {
        const [ox, oy] = others[0];
        view.zoom(Math.hypot(here[0] - ox, here[1] - oy) / Math.max(Math.hypot(before[0] - ox, before[1] - oy), 1));
      } else {
        if (view.ride >= 0) ride(-1);
        view.pan(here[0] - before[0], here[1] - before[1]);
      }
    });
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => held.delete(event.pointerId));
    canvas.addEventListener("wheel", (event) => {
      if (document.activeElement !== canvas && !event.ctrlKey) return;
      event.preventDefault();
      const box = canvas.getBoundingClientRect();
      view.zoom(Math.exp(-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
  }

  function panKey(event) {
    const by = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] }[event.key];
    if (!by) return false;
    if (main.ride >= 0) ride(-1);
    main.pan(...by);
    return true;
  }

  function timeKey(event) {
    const shift = event.shiftKey ? 10 : 1;
    const acts = {
      ArrowLeft: () => step(-0.05 * shift), ArrowRight: () => step(0.05 * shift), ",": () => step(-0.005), ".": () => step(0.005),
      Home: () => step(-END_S), End: () => step(END_S), "[": () => jump(-1), "]": () => jump(1),
      s: () => { $("pace").value = $("pace").value === "0.1" ? "1" : "0.1"; },
    };
    if (!plays || !acts[event.key]) return false;
    acts[event.key]();
    return true;
  }

  function viewKey(event) {
    const acts = {
      "+": () => main.zoom(1.3), "=": () => main.zoom(1.3), "-": () => main.zoom(1 / 1.3), 0: whole, e: near,
      r: () => ride(main.ride + 1 < movers.length ? main.ride + 1 : -1),
    };
    if (!acts[event.key]) return false;
    acts[event.key]();
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

  function legend() {
    const host = $("legend");
    const add = (sign, words) => {
      const item = document.createElement("li");
      item.append(sign, words);
      host.append(item);
    };
    movers.forEach((m, i) => add(swatch(i), `${m.name}${m.stands && m.kind ? " (stands)" : ""}`));
    const sign = (draw) => {
      const svg = node("svg", { width: 30, height: 14, "aria-hidden": "true" });
      draw(svg);
      return svg;
    };
    const band = (opacity, dash) => sign((svg) => node("line", { class: "c5", x1: 0, x2: 30, y1: 7, y2: 7, "stroke-width": 10, "stroke-opacity": opacity, "stroke-dasharray": dash }, svg));
    if (plays) {
      add(band(0.2, ""), "run-up");
      if (movers.some((m) => m.runway && m.runway[1] > 0)) add(band(0.5, ""), "between encounters");
      add(band(0.35, "5 4"), "run-out");
      add(sign((svg) => node("path", { class: "c5", "stroke-width": 2, d: "M10 2l10 10M10 12l10-10" }, svg)), "start mark");
    }
    if (data.triggers.some((one) => one.s !== null)) add(sign((svg) => node("line", { class: "moment-line link", x1: 15, x2: 15, y1: 0, y2: 14 }, svg)), "trigger line");
    if (data.encounters.some((e) => e.place)) add(sign((svg) => node("path", { class: "c5", fill: "none", "stroke-width": 1.5, d: "M15 0v14M5 7h20M20 7a5 5 0 1 1 -10 0a5 5 0 1 1 10 0" }, svg)), "encounter");
    if (data.outline.length) add(sign((svg) => node("line", { class: "c5", x1: 0, x2: 30, y1: 7, y2: 7, "stroke-dasharray": "12 4 2 4" }, svg)), "edge of the site");
  }

  function choices() {
    movers.forEach((m, i) => {
      if (m.start) $("ride").append(new Option(m.name, String(i)));
    });
    const of = $("close-up-of");
    data.encounters.forEach((e, k) => { if (e.place) of.append(new Option(e.name, `e${k}`)); });
    movers.forEach((m, i) => { if (m.start && plays) of.append(new Option(m.name, `m${i}`)); });
    const contact = data.encounters.findIndex((e) => e.place && e.kind === "contact");
    if (contact >= 0) of.value = `e${contact}`;
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
  }

  function aimCloseUp() {
    const value = $("close-up-of").value;
    const k = Number(value.slice(1));
    const sizes = (list) => Math.max(...list.map((m) => Math.max(...m.corners.flat().map(Math.abs)) * 2));
    if (value[0] === "e") {
      const e = data.encounters[k];
      lookAt(closeUp, { mover: -1, place: e.place }, Math.max(2.6 * sizes([movers[e.of], movers[e.with]]), 8));
    } else lookAt(closeUp, { mover: k }, Math.max(3.2 * sizes([movers[k]]), 5));
  }

  function wire() {
    $("fit").onclick = whole;
    $("near").onclick = near;
    $("closer").onclick = () => main.zoom(1.4);
    $("wider").onclick = () => main.zoom(1 / 1.4);
    $("ride").onchange = (event) => ride(event.target.value === "" ? -1 : Number(event.target.value));
    $("ahead").onchange = (event) => {
      main.ahead = event.target.checked;
      if (!main.ahead) main.turn = 0;
      main.draw();
    };
    pointers(main);
    document.addEventListener("keydown", keys);
    if (closeUp.on) $("close-up-of").onchange = () => { aimCloseUp(); closeUp.draw(); };
    if (!plays) return;
    $("play").onclick = () => (playing ? pause() : play());
    $("to-start").onclick = () => step(-END_S);
    $("back").onclick = () => step(-0.05);
    $("forth").onclick = () => step(0.05);
    $("scrub").oninput = (event) => { pause(); setTime(event.target.value); };
    $("moment").onchange = (event) => {
      if (event.target.value !== "") step(Number(event.target.value) - now);
      event.target.value = "";
    };
    $("accel-as").onchange = layCharts;
    $("room-as").onchange = layCharts;
    if (document.body.classList.contains("prints-sheet")) $("print").onclick = () => window.print();
    else $("print").hidden = true;
  }

  function layCharts() {
    if (!plays) return;
    charts.length = 0;
    score();
    speedChart();
    accelChart();
    roomChart();
  }

  function lay() {
    readColours();
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
  if (plays) buildReadout();
  wire();
  lay();
  whole();
  let wide = window.innerWidth;
  window.addEventListener("resize", () => {
    lay();
    if (window.innerWidth !== wide) whole();
    wide = window.innerWidth;
  });
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", lay);

  // For scripts and tests: the time, and where everybody is at it.
  window.choreo = Object.freeze({
    setTime: (t) => { pause(); setTime(t); },
    time: () => now,
    end: () => END_S,
    playing: () => playing,
    view: () => ({ x: main.x, y: main.y, scale: main.scale, ride: main.ride }),
    poses: () => Object.fromEntries(movers.filter((m) => m.start).map((m) => {
      const pose = poseAt(m, now);
      return [m.name, { x_m: pose.x, y_m: pose.y, heading_rad: pose.h, station_m: pose.s, speed_mps: pose.v, accel_mps2: pose.a, pixel: main.at(pose.x, pose.y) }];
    })),
  });
})();
