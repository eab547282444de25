// ---- what is drawn ----------------------------------------------------------------------------
// The ticks of an encounter make room for its bodies this long (s) before and after it.
const TICKS_OPEN_S = 1.5;
// Strokes of a banked stretch: how far apart, how long, how many.
const [BANK_APART_PX, BANK_PX, BANK_MOST] = [9, 9, 300];
const bankWords = (one) => `banked ${+((one.most * 180) / Math.PI).toFixed(1)} deg`;

class View extends Camera {
  draw() {
    this.follow();
    const p = this.pen;
    p.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    p.fillStyle = ink.paper;
    p.fillRect(0, 0, this.w, this.h);
    this.taken = [];
    this.wanted = [];
    this.told = [];
    drawGround(this);
    this.grid();
    drawZone(this);
    drawEdges(this);
    drawCourse(this);
    movers.forEach((m, i) => this.path(m, i));
    movers.forEach((m, i) => this.banked(m, i));
    movers.forEach((m, i) => this.marks(m, i));
    data.triggers.forEach((one) => this.trigger(one));
    drawNoReturn(this);
    drawSights(this);
    data.clouds.forEach((one) => this.cloud(one));
    if (before) drawBefore(this);
    movers.forEach((m, i) => this.body(m, i, poseAt(m, now), run !== null));
    if (run) drawRun(this);
    data.encounters.forEach((one) => this.encounter(one));
    drawNearest(this);
    drawSpots(this);
    drawDimension(this);
    movers.forEach((m, i) => this.name(m, i));
    this.labels();
    this.frame();
  }

  cloud(one) {
    one.movers.forEach((name, k) => {
      const i = movers.findIndex((m) => m.name === name);
      this.pen.globalAlpha = 0.25;
      for (const [x, y, h] of one.poses[k]) {
        this.line(cornersAt(movers[i], { x, y, h }), true);
        this.stroke(ink.movers[hueOf(i)], 0.8);
      }
      this.pen.globalAlpha = 1;
    });
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
      const width = clamp(m.width * this.scale * this.across, 7, 60);
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

  // As maps draw slopes: short strokes from the path down to its inside, as far apart as they can be told apart.
  banked(m, i) {
    const colour = ink.movers[hueOf(i)];
    for (const one of banksOf(m)) {
      const long = one.to - one.from;
      const step = long / clamp(Math.floor((long * this.scale) / BANK_APART_PX), 1, BANK_MOST);
      for (let s = one.from + step / 2; s < one.to; s += step) {
        const pose = poseOn(m, s);
        const down = Math.sign(pose.k);
        const [x, y] = this.at(pose.x, pose.y);
        const [u, v] = this.at(pose.x - down * Math.sin(pose.h), pose.y + down * Math.cos(pose.h));
        const reach = BANK_PX / (Math.hypot(u - x, v - y) || 1);
        this.pen.beginPath();
        this.pen.moveTo(x, y);
        this.pen.lineTo(x + reach * (u - x), y + reach * (v - y));
        this.stroke(colour, 1);
      }
      const middle = poseOn(m, one.at);
      this.label(bankWords(one), ...this.at(middle.x, middle.y), colour, 14, 2);
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
    const reach = Math.max(3, 16 / (this.scale * this.across));
    this.line([[pose.x + s * reach, pose.y - c * reach], [pose.x - s * reach, pose.y + c * reach]]);
    this.stroke(ink.ink, now >= one.t ? 3.4 : 1.8, now >= one.t ? [] : [6, 3]);
    const [x, y] = this.at(pose.x, pose.y);
    this.label(`${one.name}${now >= one.acts ? " acted" : now >= one.t ? " fires" : ""}`, x, y, ink.ink, 22, 2);
  }

  body(m, i, pose, ghost = false) {
    if (!pose) return;
    const colour = ink.movers[hueOf(i)];
    const p = this.pen;
    const corners = this.drawnCorners(m, pose);
    this.line(corners, true);
    if (ghost) {
      this.stroke(colour, 1.4, [4, 3]);
      return;
    }
    p.fillStyle = colour;
    p.globalAlpha = 0.42;
    p.fill();
    p.globalAlpha = 1;
    this.stroke(colour, 2);
    if (m.width * this.scale * this.across * this.enlarged() >= 5) this.features(m, pose, colour);
    const [x, y] = this.at(pose.x, pose.y);
    if (!m.pieces.length && m.width * this.scale * this.across < 4) {
      // What stands and is a speck: a ring says where to look.
      p.beginPath();
      p.arc(x, y, 8, 0, 7);
      this.stroke(colour, 1.6, dashOf(i));
    }
    const box = bounds([...corners.map((one) => this.at(...one)), [x - 9, y - 9], [x + 9, y + 9]]);
    this.taken.push([box.x0, box.y0, box.x1, box.y1]);
  }

  // What tells a body and its front at a glance: windscreen and rear window, handlebar, head and shoulders.
  features(m, pose, colour) {
    const [c, s] = [Math.cos(pose.h), Math.sin(pose.h)];
    const on = (a, b) => [pose.x + c * a - s * b, pose.y + s * a + c * b];
    const larger = this.enlarged();
    const alongs = m.corners.map((one) => larger * one[0]);
    const [low, high] = [Math.min(...alongs), Math.max(...alongs)];
    // Of one that drives backwards the front lies behind.
    const ahead = Math.sign(m.front) || 1;
    const share = (u) => (ahead > 0 ? low + u * (high - low) : high - u * (high - low));
    const half = (larger * m.width) / 2;
    const thick = clamp(larger * m.width * this.scale * 0.12, 1.2, 4);
    if (m.kind === "pedestrian") {
      const [px, py] = this.at(...on((low + high) / 2, 0));
      this.pen.beginPath();
      this.pen.arc(px, py, clamp(0.6 * half * this.scale, 2, 60), 0, 7);
      this.pen.fillStyle = colour;
      this.pen.fill();
      this.line([on(share(0.55), half * 0.95), on(share(1), 0), on(share(0.55), -half * 0.95)]);
      this.stroke(colour, thick);
      return;
    }
    if (m.kind === "bicycle" || m.kind === "motorcycle") {
      this.line([on(share(0.02), 0), on(share(0.98), 0)]);
      this.stroke(colour, thick * 1.4);
      this.line([on(share(0.68), half * 0.9), on(share(0.76), 0), on(share(0.68), -half * 0.9)]);
      this.stroke(colour, thick);
      return;
    }
    if (m.kind === "obstacle") return;
    this.line([on(share(0.58), half * 0.72), on(share(0.74), half * 0.88), on(share(0.74), -half * 0.88), on(share(0.58), -half * 0.72)], true);
    this.pen.fillStyle = ink.sheet;
    this.pen.fill();
    this.stroke(colour, thick * 0.7);
    this.line([on(share(0.14), half * 0.72), on(share(0.14), -half * 0.72)]);
    this.stroke(colour, thick);
    const [px, py] = this.at(pose.x, pose.y);
    this.pen.beginPath();
    this.pen.arc(px, py, 2.2, 0, 7);
    this.pen.fillStyle = colour;
    this.pen.fill();
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
    const box = bounds(this.drawnCorners(m, pose).map((one) => this.at(...one)));
    const reach = Math.max((box.y1 - box.y0) / 2, 9) + 4;
    this.label(m.name, (box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2, ink.movers[hueOf(i)], reach, 0);
  }

  encounter(one) {
    if (!one.place) return;
    const [x, y] = this.at(...one.place);
    const p = this.pen;
    // Ticks stand outside the bodies that meet there; the place itself is a dot.
    const [right, left, below, above] = this.clearOf(one, x, y);
    p.beginPath();
    for (const [dx, dy, r] of [[1, 0, right], [-1, 0, left], [0, 1, below], [0, -1, above]]) {
      p.moveTo(x + dx * r, y + dy * r);
      p.lineTo(x + dx * (r + 8), y + dy * (r + 8));
    }
    const color = one.doubted ? ink.bad : ink.ink;
    this.stroke(color, one.t !== null && now >= one.t ? 2.8 : 1.6);
    p.beginPath();
    p.arc(x, y, 2.4, 0, 7);
    p.fillStyle = color;
    p.fill();
    if (one.doubted) this.crossedOut(x, y);
    this.taken.push([x - left - 8, y - 4, x + right + 8, y + 4], [x - 4, y - above - 8, x + 4, y + below + 8]);
    this.label(one.doubted ? `${one.name}: disagrees` : one.name, x, y, color, Math.max(above, below) + 10, 1);
  }

  crossedOut(x, y) {
    const p = this.pen;
    p.beginPath();
    for (const k of [1, -1]) {
      p.moveTo(x - 8, y - 8 * k);
      p.lineTo(x + 8, y + 8 * k);
    }
    this.stroke(ink.bad, 2);
  }

  // How far (px) the ticks stand from the place, right, left, below, above: clear of the bodies round the encounter.
  clearOf(one, x, y) {
    const clear = [5, 5, 5, 5];
    if (one.t === null || Math.abs(now - one.t) > TICKS_OPEN_S) return clear;
    for (const k of [one.of, one.with]) {
      const box = bounds(cornersAt(movers[k], poseAt(movers[k], one.t)).map((corner) => this.at(...corner)));
      if (x < box.x0 - 2 || x > box.x1 + 2 || y < box.y0 - 2 || y > box.y1 + 2) continue;
      [box.x1 - x, x - box.x0, box.y1 - y, y - box.y0].forEach((reach, i) => { clear[i] = Math.max(clear[i], reach + 4); });
    }
    return clear;
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
      const spot = this.spot(one, wide, words);
      if (!spot) continue;
      this.taken.push(spot);
      this.told.push([words, spot]);
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

  // The side that a label had is tried first: it changes sides only when it must.
  spot(one, wide, words) {
    const high = 16;
    for (let ring = 0; ring < 4; ring += 1) {
      const off = one.away + ring * 17;
      const tries = [
        [one.x - wide / 2, one.y - off - high], [one.x - wide / 2, one.y + off],
        [one.x + one.away * 0.7, one.y - off - high], [one.x - wide - one.away * 0.7, one.y - off - high],
        [one.x + one.away * 0.7, one.y + off], [one.x - wide - one.away * 0.7, one.y + off],
      ];
      const had = this.sides.get(words);
      const order = had < tries.length ? [tries[had], ...tries] : tries;
      for (const [x, y] of order) {
        const box = [x - 3, y, x + wide + 3, y + high];
        const inside = box[0] >= 2 && box[1] >= 2 && box[2] <= this.w - 2 && box[3] <= this.h - 2;
        const free = this.taken.every((t) => box[2] < t[0] || box[0] > t[2] || box[3] < t[1] || box[1] > t[3]);
        if (inside && free && !this.onFurniture(box)) {
          this.sides.set(words, tries.findIndex((one) => one[0] === x && one[1] === y));
          return box;
        }
      }
    }
    return null;
  }

  onFurniture(box) {
    const arrow = box[2] > this.w - 66 && box[1] < 74;
    const bar = box[0] < 150 && box[3] > this.h - 34;
    return arrow || bar;
  }
}

const main = new View($("plan"), true);
const closeUp = new View($("close-up"), false);

// Both bodies of an encounter at a time, and its place.
function partners(e, t) {
  const points = e.place ? [e.place] : [];
  for (const k of [e.of, e.with]) if (movers[k].start) points.push(...cornersAt(movers[k], poseAt(movers[k], t)));
  return points;
}

function lookAt(view, what, reach) {
  if (what.mover >= 0) {
    view.ride = what.mover;
    view.across = 1;
    view.scale = Math.min(view.w, view.h) / reach;
    return;
  }
  view.ride = -1;
  view.stand(view.framing(what.points, 26, reach));
}
