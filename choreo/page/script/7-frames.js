// ---- the run as pictures: one animated PNG, or numbered frames in a zip ---------------------------
const FRAMES_PER_S = 10;
// Of a long run fewer pictures a second are kept, so that they stay a file one can send.
const MOST_FRAMES = 400;
const CRC = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
  return c;
});
const crcOf = (bytes) => (bytes.reduce((c, byte) => CRC[(c ^ byte) & 255] ^ (c >>> 8), 0xffffffff) ^ 0xffffffff) >>> 0;

// Numbers as bytes: [value, bytes] each, the most significant first, or last.
function packed(numbers, little = false) {
  const out = [];
  for (const [value, count] of numbers) {
    for (let k = 0; k < count; k += 1) out.push(Math.floor(value / 256 ** (little ? k : count - 1 - k)) % 256);
  }
  return Uint8Array.from(out);
}

function joinedBytes(parts) {
  const out = new Uint8Array(parts.reduce((sum, one) => sum + one.length, 0));
  let at = 0;
  for (const one of parts) {
    out.set(one, at);
    at += one.length;
  }
  return out;
}

// Chunks of a PNG file (kind, data), and one written: length, kind, data, sum over kind and data (PNG, 3rd ed., 5.3).
function* chunksOf(png) {
  const view = new DataView(png.buffer);
  for (let at = 8; at < png.length;) {
    const long = view.getUint32(at);
    yield [String.fromCharCode(...png.subarray(at + 4, at + 8)), png.subarray(at + 8, at + 8 + long)];
    at += 12 + long;
  }
}

function chunk(kind, bytes) {
  const body = joinedBytes([Uint8Array.from(kind, (one) => one.charCodeAt(0)), bytes]);
  return joinedBytes([packed([[bytes.length, 4]]), body, packed([[crcOf(body), 4]])]);
}

// PNG files of one size as one that is animated, again and again (PNG, 3rd ed., 11.3.6).
function animated(pngs, wide, high, milliseconds) {
  const header = [...chunksOf(pngs[0])].find(([kind]) => kind === "IHDR")[1];
  const out = [pngs[0].subarray(0, 8), chunk("IHDR", header), chunk("acTL", packed([[pngs.length, 4], [0, 4]]))];
  let number = 0;
  const next = () => { number += 1; return number - 1; };
  pngs.forEach((png, k) => {
    out.push(chunk("fcTL", packed([[next(), 4], [wide, 4], [high, 4], [0, 4], [0, 4], [milliseconds, 2], [1000, 2], [0, 1], [0, 1]])));
    for (const [kind, bytes] of chunksOf(png)) {
      if (kind === "IDAT") out.push(k ? chunk("fdAT", joinedBytes([packed([[next(), 4]]), bytes])) : chunk("IDAT", bytes));
    }
  });
  return joinedBytes([...out, chunk("IEND", new Uint8Array())]);
}

// Files as one zip, stored as they are: PNG is packed already (APPNOTE 6.3, 4.3).
function zipped(files) {
  const [out, list] = [[], []];
  let at = 0;
  for (const [name, bytes] of files) {
    const named = new TextEncoder().encode(name);
    // Version 2.0, no flags, stored, 1 January 1980: when it was made is in the plan's own words.
    const told = [[20, 2], [0, 2], [0, 2], [0, 2], [33, 2], [crcOf(bytes), 4], [bytes.length, 4], [bytes.length, 4], [named.length, 2], [0, 2]];
    const local = joinedBytes([packed([[0x04034b50, 4], ...told], true), named, bytes]);
    list.push(packed([[0x02014b50, 4], [20, 2], ...told, [0, 2], [0, 2], [0, 2], [0, 4], [at, 4]], true), named);
    out.push(local);
    at += local.length;
  }
  const directory = joinedBytes(list);
  const end = packed([[0x06054b50, 4], [0, 2], [0, 2], [files.length, 2], [files.length, 2], [directory.length, 4], [at, 4], [0, 2]], true);
  return joinedBytes([...out, directory, end]);
}

// The view at a time as a PNG, the time written on it.
function pictured(t, passed) {
  now = t;
  story(passed);
  main.draw();
  const p = main.pen;
  p.font = '700 15px system-ui, "DejaVu Sans", sans-serif';
  p.textBaseline = "alphabetic";
  p.fillStyle = ink.ink;
  p.fillText(`${t.toFixed(2)} s`, 12, 24);
  return new Promise((done) => main.canvas.toBlob((blob) => blob.arrayBuffer().then((all) => done(new Uint8Array(all))), "image/png"));
}

// All of the run, or what is looped. Gives the pictures and how long (ms) each stands.
async function pictures(tell) {
  const [from, until] = loop || [0, END_S];
  const count = clamp(Math.round((until - from) * FRAMES_PER_S), 1, MOST_FRAMES);
  const step = (until - from) / count;
  const made = [];
  const back = now;
  pause();
  for (let k = 0; k <= count; k += 1) {
    tell(`Picture ${k + 1} of ${count + 1}`);
    made.push(await pictured(from + step * k, k ? step : Infinity));
  }
  setTime(back);
  return { made, milliseconds: Math.round(1000 * step) };
}

async function saveRun(ending, button) {
  const tell = (words) => { $("kept").textContent = words; };
  button.disabled = true;
  try {
    const { made, milliseconds } = await pictures(tell);
    const bytes = ending === "png"
      ? animated(made, main.canvas.width, main.canvas.height, milliseconds)
      : zipped(made.map((png, k) => [`frame-${String(k + 1).padStart(4, "0")}.png`, png]));
    keep(new Blob([bytes], { type: ending === "png" ? "image/png" : "application/zip" }), ending, "run");
    tell(`${made.length} pictures, one each ${milliseconds} ms of the run.`);
  } finally {
    button.disabled = false;
  }
}
