// ---- a page that keeps up with its server; without one it stays what it is -------------------------
const of = (id) => document.getElementById(id);
const AGAIN_MS = 700;
// A slider that was just moved here isn't set from elsewhere for so long.
const OWN_MS = 1200;
let shown = null;
let memory = {};
let state = null;
let wire = null;
let pictures = 0;
let moved = 0;
let slowest = 0;
let quickest = 0;
let lastPicture = 0;
let drawing = 0;
// The screen of a plan before its script has put anything into it; what sliders show of one whose room is not known yet.
let bare = "";
let early = null;
// Why the server has closed the wire: too many pages are open (its code for "try again later").
const TOO_MANY = 1013;
let closed = 0;
const foot = new CSSStyleSheet();
document.adoptedStyleSheets = [foot];

const say = (message) => {
  if (wire && wire.readyState === WebSocket.OPEN) wire.send(JSON.stringify(message));
};

function leave() {
  if (!shown) return;
  memory = { ...memory, ...shown.kept() };
  shown.leave();
}

function lay(data) {
  of("plan-data").textContent = JSON.stringify(data);
  shown = playPlan();
  shown.adopt(memory);
}

function put(picture) {
  const began = performance.now();
  leave();
  early = null;
  for (const old of document.querySelectorAll("body > .sheet")) old.remove();
  const screen = document.querySelector(".screen");
  screen.innerHTML = picture.screen;
  screen.insertAdjacentHTML("afterend", picture.sheet);
  document.title = picture.title;
  document.body.className = picture.classes;
  foot.replaceSync(picture.foot);
  marks();
  bare = document.querySelector(".one-screen").innerHTML;
  lay(picture.data);
  pictures += 1;
  lastPicture = Date.now();
  drawing = performance.now() - began;
  if (moved) slowest = performance.now() - moved;
  moved = 0;
}

// ---- what the server says ------------------------------------------------------------------------
const text = (slider, value) => `${+value.toPrecision(6)} ${slider.unit}`;

function whatIf(drawn) {
  const what = Object.keys(drawn).map((name) => {
    const slider = state.sliders.find((one) => one.name === name);
    return slider ? `${name} ${text(slider, drawn[name])} instead of ${text(slider, slider.value)}` : name;
  });
  return `What if ${what.join(" and ")}`;
}

function told() {
  if (!state) return "";
  if (early) return `${whatIf(early)}: feasible; its room is being computed.`;
  const names = Object.keys(state.drawn);
  const count = state.faults.length;
  if (count) {
    const rest = state.old ? "What is shown is the last plan there was, an old one." : "There is no plan yet.";
    return `${state.file}: ${count} fault${count > 1 ? "s" : ""}. ${rest}`;
  }
  if (state.busy && !names.length) return `${state.file}: planning${pictures ? ", the plan shown is the one before" : ""}.`;
  if (names.length) {
    return `${whatIf(state.drawn)}: ${state.verdict}.`;
  }
  return `${state.file} as saved: ${state.verdict}. ${state.told}.`;
}

function marks() {
  const list = document.body.classList;
  const online = Boolean(wire && wire.readyState === WebSocket.OPEN);
  list.toggle("offline", !online);
  list.toggle("old", Boolean(state && state.old && !early));
  list.toggle("faulty", Boolean(state && state.faults.length && !early));
  list.toggle("what-if", Boolean(early || (state && Object.keys(state.drawn).length)));
  list.toggle("room-waits", Boolean(early));
  // Of a plan that is not the file's no run sheet is printed.
  if (state && state.old && list.contains("prints-sheet")) list.replace("prints-sheet", "prints-page");
  else if (state && !state.old && document.querySelector("body > .sheet")) list.replace("prints-page", "prints-sheet");
  const words = online ? told() : closed === TOO_MANY ? "Too many pages show this file. Close one of them." : "The server has stopped. This page goes on with the plan that it has, and looks for the server.";
  if (of("live-status").textContent !== words) of("live-status").textContent = words;
  const varies = Boolean(state && Object.keys(state.what_if).length);
  of("write").disabled = of("reset").disabled = !online || !varies;
  of("add-slider").disabled = !online;
  for (const one of document.querySelectorAll(".slider :is(input, button)")) one.disabled = !online;
}

function tellFaults() {
  const host = of("live-faults");
  const items = state.faults.map((fault) => {
    const item = document.createElement("li");
    const place = document.createElement("b");
    place.textContent = fault.place ? `${fault.place}: ` : "";
    item.append(place, `${fault.text}. ${fault.advice}`.replace(/\.\. /, ". "));
    return item;
  });
  const before = [...host.children].map((one) => one.textContent).join("\n");
  host.hidden = !items.length;
  if (items.map((one) => one.textContent).join("\n") !== before) host.replaceChildren(...items);
}

// ---- sliders -------------------------------------------------------------------------------------
const rails = new Map();
let asked = "";

function rail(slider) {
  const box = document.createElement("div");
  const id = `slider-${rails.size}-${Date.now()}`;
  const label = document.createElement("label");
  const input = document.createElement("input");
  const output = document.createElement("output");
  const away = document.createElement("button");
  box.className = "slider";
  label.htmlFor = output.htmlFor = input.id = id;
  label.textContent = slider.name;
  input.type = "range";
  input.step = "1";
  away.type = "button";
  away.textContent = "\u00d7";
  away.setAttribute("aria-label", `Remove the slider of ${slider.name}`);
  box.append(label, input, output, away);
  const one = { box, input, output, slider, at: 0, waits: false };
  input.addEventListener("input", () => {
    one.at = performance.now();
    moved = moved || one.at;
    tellValue(one);
    if (one.waits) return;
    one.waits = true;
    // Of all moves within a moment the last is asked for.
    setTimeout(() => {
      one.waits = false;
      say({ do: "move", name: one.slider.name, value: valueOf(one) });
    }, 8);
  });
  away.onclick = () => say({ do: "drop", name: one.slider.name });
  of("sliders").append(box);
  return one;
}

const valueOf = ({ slider, input }) => +(slider.value + Number(input.value) * slider.step).toPrecision(9);

function tellValue(one) {
  const value = valueOf(one);
  const words = text(one.slider, value);
  one.box.classList.toggle("moved", value !== one.slider.value);
  one.output.replaceChildren(words);
  if (value !== one.slider.value) {
    const file = document.createElement("small");
    file.textContent = ` file ${text(one.slider, one.slider.value)}`;
    one.output.append(file);
  }
  one.input.setAttribute("aria-valuetext", `${words}, in the file ${text(one.slider, one.slider.value)}`);
}

function tellSliders() {
  const names = new Set(state.sliders.map((one) => one.name));
  for (const [name, one] of rails) {
    if (names.has(name)) continue;
    one.box.remove();
    rails.delete(name);
  }
  for (const slider of state.sliders) {
    if (!rails.has(slider.name)) rails.set(slider.name, rail(slider));
    const one = rails.get(slider.name);
    one.slider = slider;
    if (performance.now() - one.at > OWN_MS || !(slider.name in state.what_if)) {
      const value = slider.name in state.what_if ? state.what_if[slider.name] : slider.value;
      [one.input.min, one.input.max] = [String(slider.least), String(slider.most)];
      one.input.value = String(Math.round((value - slider.value) / slider.step));
    }
    tellValue(one);
    if (asked === slider.name) {
      one.input.focus();
      asked = "";
    }
  }
  const choice = of("add-slider");
  const words = ["", ...state.offered];
  if (words.join() === [...choice.options].map((one) => one.value).join()) return;
  choice.replaceChildren(...words.map((name) => new Option(name || "add a slider", name)));
}

// ---- what is known before the whole picture: verdict, motion, marks; what is not known yet says so ---
function glimpse(first) {
  const figures = document.querySelector(".figures");
  // Where there is no plan before or after, the whole picture is as quick.
  if (!figures || !first.data || !shown || !bare) return;
  leave();
  early = first.shown;
  of("live-faults").hidden = true;
  document.body.className = first.classes;
  document.querySelector(".stamp").textContent = `${first.sign} ${first.headline}`;
  document.querySelector(".plan-id code").textContent = first.fingerprint;
  document.querySelector(".summary").textContent = first.summary;
  const known = new Map(first.figures.map(([name, ...rest]) => [name, rest]));
  for (const tile of figures.children) {
    const [value, more] = known.get(tile.querySelector("dt").textContent) || ["\u2026", "being computed"];
    const small = document.createElement("small");
    small.textContent = more;
    tile.querySelector("dd").replaceChildren(`${value} `, small);
  }
  document.querySelector(".one-screen").innerHTML = bare;
  marks();
  lay({ ...first.data, waits: memory.waits });
  if (moved) quickest = performance.now() - moved;
}

// ---- the wire ------------------------------------------------------------------------------------
function take(message) {
  state = message.state;
  tellSliders();
  tellFaults();
  of("live-note").textContent = state.note;
  if (message.picture) put(message.picture);
  marks();
}

function connect() {
  wire = new WebSocket(`ws://${location.host}${location.pathname}socket`);
  wire.onmessage = (event) => {
    const message = JSON.parse(event.data);
    // Whatever becomes of it here, the next is waited for.
    try {
      if (message.first) glimpse(message.first);
      else take(message);
    } finally {
      say({ do: "drawn" });
    }
  };
  wire.onclose = (event) => {
    closed = event.code;
    marks();
    setTimeout(connect, AGAIN_MS);
  };
}

of("add-slider").onchange = (event) => {
  asked = event.target.value;
  if (asked) say({ do: "pick", name: asked });
  event.target.value = "";
};
of("write").onclick = () => say({ do: "write" });
of("reset").onclick = () => {
  for (const one of rails.values()) one.at = 0;
  say({ do: "reset" });
};
// Keys on a slider are the slider's, not those of the plan view.
of("live").addEventListener("keydown", (event) => event.stopPropagation());
connect();

// For scripts and tests: what has been drawn, and how long the last move of a slider took (ms).
window.choreoLive = Object.freeze({ pictures: () => pictures, slider: () => slowest, glimpse: () => quickest, drawnAt: () => lastPicture, drawing: () => drawing, state: () => state });
