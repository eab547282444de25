// ---- what is kept: the picture as SVG or PNG, and an address that opens where one looks ----------
const escaped = (words) => String(words).replace(/[&<>"]/g, (one) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[one]);
const short = (v) => +v.toFixed(2);

// Stands in for a canvas' pen and writes down as SVG what a view draws.
class SvgPen {
  constructor(pen) {
    this.pen = pen;
    this.out = [];
    this.clips = 0;
    this.kept = [];
    this.dash = [];
    this.way = [];
    this.state = { moved: "", clip: "" };
    Object.assign(this, { globalAlpha: 1, fillStyle: "#000", strokeStyle: "#000", lineWidth: 1, lineJoin: "miter", font: pen.font, textBaseline: "alphabetic", textAlign: "start" });
  }

  // As a canvas keeps them: where one is, what is cut off, and with what one draws.
  save() {
    const { globalAlpha, fillStyle, strokeStyle, lineWidth, lineJoin, font, textBaseline, textAlign } = this;
    this.kept.push({ state: { ...this.state }, globalAlpha, fillStyle, strokeStyle, lineWidth, lineJoin, font, textBaseline, textAlign });
  }
  restore() { Object.assign(this, this.kept.pop()); }
  setTransform() { this.state = { moved: "", clip: "" }; }
  translate(x, y) { this.state.moved += `translate(${short(x)} ${short(y)})`; }
  rotate(angle) { this.state.moved += `rotate(${short((angle * 180) / Math.PI)})`; }
  setLineDash(dash) { this.dash = dash; }
  measureText(words) { this.pen.font = this.font; return this.pen.measureText(words); }
  beginPath() { this.way = []; }
  moveTo(x, y) { this.way.push(`M${short(x)} ${short(y)}`); }
  lineTo(x, y) { this.way.push(`L${short(x)} ${short(y)}`); }
  closePath() { this.way.push("Z"); }

  // Only whole circles are drawn.
  arc(x, y, r) {
    const [left, right, turn] = [short(x - r), short(x + r), `A${short(r)} ${short(r)} 0 1 1`];
    this.way.push(`M${right} ${short(y)}${turn} ${left} ${short(y)}${turn} ${right} ${short(y)}Z`);
  }

  put(element, kind, style, inner = "") {
    const { moved, clip } = this.state;
    const placed = (moved && ` transform="${moved}"`) + (clip && ` clip-path="url(#${clip})"`);
    this.out.push(`<${element}${placed} ${style} ${kind}-opacity="${this.globalAlpha}"${inner ? `>${inner}</${element}>` : "/>"}`);
  }

  fill(rule = "nonzero") { this.put("path", "fill", `d="${this.way.join("")}" fill="${escaped(this.fillStyle)}" fill-rule="${rule}"`); }
  stroke() { this.put("path", "stroke", `d="${this.way.join("")}" ${this.lined()}`); }
  fillRect(x, y, w, h) { this.put("rect", "fill", `x="${x}" y="${y}" width="${w}" height="${h}" fill="${escaped(this.fillStyle)}"`); }
  lined() { return `fill="none" stroke="${escaped(this.strokeStyle)}" stroke-width="${this.lineWidth}" stroke-linejoin="${this.lineJoin}" stroke-dasharray="${this.dash.join(" ") || "none"}"`; }

  clip(rule) {
    this.clips += 1;
    this.state.clip = `c${this.clips}`;
    this.out.push(`<clipPath id="c${this.clips}"><path clip-rule="${rule}" d="${this.way.join("")}"/></clipPath>`);
  }

  written(x, y) {
    const anchor = { center: "middle", right: "end", end: "end" }[this.textAlign] || "start";
    return `x="${short(x)}" y="${short(y)}" text-anchor="${anchor}" dominant-baseline="${this.textBaseline === "middle" ? "central" : "alphabetic"}" style="font:${escaped(this.font).replace(/&quot;/g, "'")}"`;
  }

  fillText(words, x, y) { this.put("text", "fill", `${this.written(x, y)} fill="${escaped(this.fillStyle)}"`, escaped(words)); }
  strokeText(words, x, y) { this.put("text", "stroke", `${this.written(x, y)} ${this.lined()}`, escaped(words)); }
}

function svgOf(view) {
  const pen = view.pen;
  view.pen = new SvgPen(pen);
  view.draw();
  const drawn = view.pen.out.join("\n");
  view.pen = pen;
  view.draw();
  const named = `<title>${escaped(data.title)}, ${now.toFixed(3)} s after go</title>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${short(view.w)}" height="${short(view.h)}" viewBox="0 0 ${short(view.w)} ${short(view.h)}">${named}\n${drawn}\n</svg>\n`;
}

function keep(blob, ending, what = `${now.toFixed(2)}s`) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = `${data.title.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "plan"}-${what}.${ending}`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

// ---- an address that opens at a time and a view --------------------------------------------------
function address() {
  return `#t=${now.toFixed(2)}&view=${encodeURIComponent(viewed)}`;
}

function copyLink() {
  history.replaceState(null, "", address());
  const told = (words) => { $("kept").textContent = words; };
  if (!navigator.clipboard) return told("The link stands in the address bar.");
  navigator.clipboard.writeText(location.href).then(() => told("Link copied."), () => told("The link stands in the address bar."));
}

function openAddress() {
  const asked = new URLSearchParams(location.hash.slice(1));
  if (asked.has("view")) watch(asked.get("view"));
  if (asked.has("t")) setTime(asked.get("t"));
  if (asked.has("view")) watch(asked.get("view"));
}
