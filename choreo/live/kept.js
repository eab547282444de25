// ---- what stays when another plan takes the place of this one ------------------------------------
const CHOSEN = ["pace", "close-up-of", "chart-of", "accel-as", "room-as"];
const folded = () => [...document.querySelectorAll(".screen details")];

function kept() {
  const inside = document.activeElement && document.activeElement.closest(".screen");
  const always = { zone: zoneOn, ahead: main.ahead, open: folded().map((one) => one.open), focus: inside ? document.activeElement.id : "", scroll: window.scrollY };
  if (!plays) return always;
  const zone = bounds(room.zone.flat(2));
  const around = room.zone.length ? [[zone.x0, zone.y0], [zone.x1, zone.y1]] : [];
  return {
    ...always, t: now, playing, looping: Boolean(loop), viewed,
    camera: { x: main.x, y: main.y, scale: main.scale, turn: main.turn, across: main.across },
    chosen: CHOSEN.map((id) => [id, $(id).value]),
    // What keeps its place while the room of the next plan is being computed.
    waits: waits || { rows: partyRows, around, pair: nearestPair, legend: $("legend").innerHTML },
  };
}

function leave() {
  pause();
  replaced.abort();
}

function adopt(before) {
  folded().forEach((one, i) => { if (before.open && before.open[i]) one.open = true; });
  if ("zone" in before) showZone(before.zone);
  $("ahead").checked = main.ahead = Boolean(before.ahead);
  if (plays && before.chosen) {
    let other = false;
    for (const [id, value] of before.chosen) {
      if ($(id).value === value || ![...$(id).options].some((one) => one.value === value)) continue;
      $(id).value = value;
      other = true;
    }
    if (other) $("chart-of").onchange({ target: $("chart-of") });
    if (closeUp.on) aimCloseUp();
    watch(before.viewed);
    // A view that the hand has moved stands where it stood; a rider's is as near as it was.
    if (viewed === "free") main.stand(before.camera);
    else if (main.ride >= 0) main.scale = before.camera.scale;
    if (before.looping) looped(true);
    setTime(before.t);
    if (before.playing) play();
    else pause();
  }
  if (before.focus && $(before.focus)) $(before.focus).focus({ preventScroll: true });
  if (before.scroll) window.scrollTo(0, before.scroll);
}

return { kept, leave, adopt };
