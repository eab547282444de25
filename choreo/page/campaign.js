"use strict";
(() => {
// ---- what there is -----------------------------------------------------------------------------
const $ = (id) => document.getElementById(id);
const data = JSON.parse($("campaign-data").textContent);
const SIGNS = { feasible: "✓", infeasible: "✗", "not clear": "✗", undecided: "?", faulty: "!" };
const STEPS = 6;
let chosen = -1;
let plans = null;

function made(kind, words, of) {
  const one = document.createElement(kind);
  if (words !== undefined) one.textContent = words;
  if (of) one.className = of;
  return one;
}

// Plans are one deflated text for all: alike ones take little. It is unpacked when the first one is asked for.
async function unpacked() {
  if (plans) return plans;
  const bytes = Uint8Array.from(atob(data.plans), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  plans = JSON.parse(await new Response(stream).text());
  return plans;
}

// ---- the matrix --------------------------------------------------------------------------------
const distinct = (list) => [...new Set(list)];

function figureOf(variant) {
  const value = variant.figures[$("figure").value];
  return value === undefined ? null : value;
}

function range() {
  const values = data.variants.map(figureOf).filter((v) => typeof v === "number");
  return [Math.min(...values), Math.max(...values)];
}

function step(value, [low, high]) {
  return high > low ? Math.min(STEPS - 1, Math.floor((STEPS * (value - low)) / (high - low))) : 0;
}

function shown(value) {
  if (typeof value !== "number") return value;
  return value.toFixed(Math.abs(value) >= 100 ? 0 : Math.abs(value) >= 10 ? 1 : 2);
}

function paint(cell, variant, ends) {
  const value = figureOf(variant);
  const verdict = variant.verdict;
  const state = verdict === "feasible" ? "" : `${verdict}, `;
  cell.className = "cell ";
  if ($("figure").value === "verdict" || value === null) {
    cell.className += `${verdict.replace(" ", "-")}-cell`;
    cell.textContent = SIGNS[verdict];
    cell.setAttribute("aria-label", `${variant.name}: ${verdict}`);
    return;
  }
  const at = typeof value === "number" ? step(value, ends) : data.stagings.indexOf(value) % STEPS;
  cell.className += `s${at}`;
  cell.textContent = shown(value);
  cell.setAttribute("aria-label", `${variant.name}: ${state}${shown(value)}`);
}

function scale(ends) {
  const host = $("scale");
  host.replaceChildren();
  if ($("figure").value === "verdict") {
    for (const [verdict, count] of Object.entries(data.counts)) {
      host.append(made("li", `${SIGNS[verdict]} ${verdict}: ${count}`, `${verdict.replace(" ", "-")}-cell`));
    }
  } else if (Number.isFinite(ends[0])) {
    for (let i = 0; i < (ends[1] > ends[0] ? STEPS : 1); i += 1) {
      const at = (k) => shown(ends[0] + (k * (ends[1] - ends[0])) / STEPS);
      host.append(made("li", ends[1] > ends[0] ? `${at(i)} to ${at(i + 1)}` : at(0), `s${i}`));
    }
  }
}

const cells = [];
function layRun(run) {
  const box = made("div", undefined, "run");
  const head = made("div", undefined, "run-head");
  head.append(made("h3", run.name));
  const names = run.names;
  const of = data.variants.map((v, i) => [v, i]).filter(([v]) => v.run === run.name);
  const across = document.createElement("select");
  names.forEach((name) => across.append(new Option(name, name)));
  if (names.length) {
    const most = names.reduce((a, b) => (distinct(of.map(([v]) => v.values[b])).length >= distinct(of.map(([v]) => v.values[a])).length ? b : a));
    across.value = most;
    const label = made("label", "across ");
    label.append(across);
    head.append(label);
  }
  box.append(head);
  const table = document.createElement("table");
  box.append(table);
  const lay = () => {
    table.replaceChildren();
    const others = names.filter((name) => name !== across.value);
    const columns = names.length ? distinct(of.map(([v]) => v.values[across.value])) : [""];
    const key = (v) => others.map((name) => v.values[name]).join("\n");
    const rows = distinct(of.map(([v]) => key(v)));
    const top = table.createTHead().insertRow();
    (others.length ? others : [""]).forEach((name) => { const th = made("th", name); th.scope = "col"; top.append(th); });
    columns.forEach((value) => { const th = made("th", value, "number"); th.scope = "col"; top.append(th); });
    const body = table.createTBody();
    for (const row of rows) {
      const line = body.insertRow();
      row.split("\n").forEach((words) => { const th = made("th", words); th.scope = "row"; line.append(th); });
      for (const column of columns) {
        const place = line.insertCell();
        const found = of.find(([v]) => key(v) === row && (!names.length || v.values[across.value] === column));
        if (!found) continue;
        const cell = made("button");
        cell.type = "button";
        cell.setAttribute("aria-pressed", String(found[1] === chosen));
        cell.onclick = () => choose(found[1]);
        cells[found[1]] = cell;
        place.append(cell);
      }
    }
    paintAll();
  };
  across.onchange = lay;
  lay();
  return box;
}

function paintAll() {
  const ends = range();
  cells.forEach((cell, i) => { if (cell) paint(cell, data.variants[i], ends); });
  scale(ends);
}

// ---- one variant -------------------------------------------------------------------------------
async function choose(index) {
  const variant = data.variants[index];
  chosen = index;
  cells.forEach((cell, i) => { if (cell) cell.setAttribute("aria-pressed", String(i === index)); });
  $("chosen").hidden = false;
  $("name").textContent = variant.name;
  $("told").textContent = variant.told;
  const body = $("marks").tBodies[0];
  body.replaceChildren();
  for (const mark of variant.marks) {
    const row = body.insertRow();
    mark.forEach((words, k) => row.append(k ? made("td", words, k < 5 ? "number" : "") : made("th", words)));
  }
  $("marks-box").hidden = !variant.marks.length;
  const frame = $("plays");
  frame.hidden = variant.plan < 0;
  if (variant.plan < 0) return;
  const plan = (await unpacked())[variant.plan];
  if (chosen !== index) return;
  const text = JSON.stringify(plan).replace(/</g, "\\u003c").replace(/>/g, "\\u003e").replace(/&/g, "\\u0026");
  frame.style.height = "";
  frame.srcdoc = data.shell.replace("@DATA@", () => text);
  frame.onload = () => {
    const inside = frame.contentDocument;
    if (inside) frame.style.height = `${inside.documentElement.scrollHeight + 20}px`;
  };
}

for (const name of data.figures) $("figure").append(new Option(name, name));
$("figure").onchange = paintAll;
for (const run of data.runs) $("runs").append(layRun(run));
paintAll();
if (data.opens) choose(0);

// For scripts and tests.
window.choreo = Object.freeze({ choose, chosen: () => chosen, figure: (name) => { $("figure").value = name; paintAll(); } });
})();
