"use strict";
/* The page in the field: one clock, one lens in hand, and everything that follows from them. */
(function () {
  const read = (id) => { const block = document.getElementById(id); return block ? JSON.parse(block.textContent) : null; };
  const part = (id) => document.getElementById(id), root = document.documentElement;
  const field = read("field-data"), texts = read("text-data"), ground = read("ground-data");
  const section = part("field"), bar = document.querySelector(".bar");
  if (!field.turns.length) { section.hidden = bar.hidden = true; document.querySelector(".now").hidden = true; return; }

  function makeSolver() {
    const carried = read("carried");
    if (carried === null || typeof fieldSolver !== "function") return null;
    try { return fieldSolver(carried); } catch { return null; }
  }
  const clock = fieldClock(field), words = fieldWords(field), kept = fieldKept(field);
  const stands = fieldStands(field, makeSolver(), kept), now = fieldNow(field, clock, words, stands, () => tick());
  const figures = fieldFigures(field, words, stands, clock), map = fieldMap(field, stands);
  const said = part("said"), minuteSaid = part("minute-said");
  clock.ahead_s = Number.isFinite(kept.value.ahead_s) ? kept.value.ahead_s : 0;

  let hand = null;
  const pressed = () => { for (const button of document.querySelectorAll("[data-hand]")) button.setAttribute("aria-pressed", String(Number(button.dataset.hand) === hand)); };
  /* First the stands, which one waits for; the tables and the map when those are on the screen. */
  const changed = () => { figures.follow(); tick(); setTimeout(() => { figures.late(); map.follow(); table(); }); };
  const correct = fieldCorrect(field, words, stands, kept, changed);
  const ticks = fieldTicks(field, clock, texts, kept, (told) => { said.textContent = told; });
  fieldWhere(field, clock, words, texts, {
    declination_deg: ground.declination_deg,
    stand() {
      const turn = field.turns[now.nextTurn(clock.now_s())];
      if (!turn) return null;
      const stand = stands.known && stands.corrected(turn.index) ? stands.at(turn.steps_s.for, turn.index) : turn.stand;
      return stand && Number.isFinite(stand.lat) ? { ...stand, name: `The ${turn.label} stand${stands.corrected(turn.index) ? ", as corrected" : ""}` } : null;
    },
    mark: map.here,
  });

  /* Only the turn's change is said aloud, not each minute. */
  let spoken = null;
  function tick() {
    const shown = now.show(hand ?? field.turns[0].index), turn = field.turns[shown.next];
    if (!shown.moved || !turn) return;
    if (spoken !== null) said.textContent = `Next: ${turn.label}.`;
    spoken = turn.index;
    document.dispatchEvent(new CustomEvent("hand", { detail: turn.index }));
  }
  function table() {
    const fold = part("fold-night"), body = part("night-table");
    if (!fold.open || !stands.known) return;
    const turn = field.turns.find((one) => one.index === hand);
    body.replaceChildren(...stands.late(hand, 300).filter((stand) => Number.isFinite(stand.distance_m)).map((stand) => {
      const row = document.createElement("tr"), parts = turn ? words.step(...stands.step(turn, stand)) : null;
      const limit = stand.limits?.length ? LIMIT_WORDS[stand.limits[0]] ?? stand.limits[0] : "good";
      [clock.hm(stand.time_s), words.length(stand.distance_m), words.needle(stand.outward_compass_deg), parts ? words.listed(parts) : "", limit].forEach((text, i) => {
        const cell = document.createElement(i ? "td" : "th");
        if (!i) cell.scope = "row";
        cell.textContent = text;
        row.append(cell);
      });
      return row;
    }));
  }
  part("fold-night").addEventListener("toggle", table);
  document.addEventListener("lens", (event) => {
    if (event.detail === hand || !field.turns.some((turn) => turn.index === event.detail)) return;
    const first = hand === null, due = field.turns[now.nextTurn(clock.now_s())].index;
    hand = event.detail;
    /* The page opens with its first lens; in the hand is the one whose turn it is. */
    if (first && due !== hand) { map.follow(); document.dispatchEvent(new CustomEvent("hand", { detail: due })); return; }
    pressed();
    if (first) map.follow();
    correct.inHand(hand);
    tick();
    table();
  });
  for (const button of document.querySelectorAll("[data-hand]")) button.addEventListener("click", () => document.dispatchEvent(new CustomEvent("hand", { detail: Number(button.dataset.hand) })));

  /* The minute by hand, and the clock's own error. */
  const tell = (text) => { minuteSaid.textContent = text; tick(); };
  const held = (time_s) => { clock.held_s = time_s; part("minute-hand").value = clock.hm(time_s); tell(`Shown for ${clock.hm(time_s)} ${clock.letters(time_s)}, ${clock.day(time_s)}.`); };
  let twice = 0;
  part("minute-set").addEventListener("click", () => {
    const found = /^\s*(\d{1,2})[:.h ]?(\d{2})\s*$/.exec(part("minute-hand").value), hours = Number(found?.[1]), minutes = Number(found?.[2]);
    if (!found || hours > 23 || minutes > 59) return tell("Write the time as 00:37.");
    const moments = clock.moments(60 * hours + minutes);
    if (!moments.length) return tell("The clocks skip that time this night.");
    const at_s = moments[moments.length > 1 ? twice++ % 2 : 0];
    held(at_s);
    if (moments.length > 1) tell(`The clocks show ${clock.hm(at_s)} twice this night; this is the one in ${clock.letters(at_s)}. Press “Show” again for the other.`);
  });
  part("minute-back").addEventListener("click", () => held(clock.now_s() - 300));
  part("minute-on").addEventListener("click", () => held(clock.now_s() + 300));
  part("minute-now").addEventListener("click", () => { clock.held_s = null; part("minute-hand").value = ""; tell("By the clock again."); });
  part("clock-set").addEventListener("click", () => {
    const text = part("clock-ahead").value.trim().replace(",", ".").replace("−", "-"), minutes = text === "" ? 0 : Number(text);
    if (!Number.isFinite(minutes) || Math.abs(minutes) > 1440) return tell("Write the minutes by which the phone's clock is fast, or with a minus slow: from -1440 to 1440.");
    kept.value.ahead_s = clock.ahead_s = Math.round(60 * minutes);
    kept.save();
    tell(minutes === 0 ? "The phone's clock is taken to be right." : `The phone's clock is taken to be ${words.span(clock.ahead_s)} ${minutes > 0 ? "fast" : "slow"}.`);
  });
  if (clock.ahead_s !== 0) part("clock-ahead").value = String(clock.ahead_s / 60);

  /* A clock that goes back while the page is open was set by somebody. */
  let before_s = Date.now() / 1000;
  function watch() {
    const device_s = Date.now() / 1000;
    if (device_s < before_s - 30) minuteSaid.textContent = said.textContent = `The phone's clock went back by ${words.span(before_s - device_s)}; see that it is right.`;
    before_s = device_s;
    tick();
  }
  setInterval(watch, 5000);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { watch(); stayAwake(); } });

  /* The screen stays on where the phone has such a lock; it is given up when the page is hidden. */
  const awake = part("awake"), awakeSaid = part("awake-said");
  let wanted = false, lock = null;
  async function stayAwake() {
    if (!wanted) { await lock?.release(); lock = null; return; }
    try { lock = await navigator.wakeLock.request("screen"); awakeSaid.textContent = "It stays on."; } catch { wanted = false; awake.setAttribute("aria-pressed", "false"); awakeSaid.textContent = "This phone refuses; set its own screen time."; }
  }
  if (!("wakeLock" in navigator)) { awake.disabled = true; awakeSaid.textContent = "Not in this browser; set the phone's own screen time."; }
  awake.addEventListener("click", () => { wanted = !wanted; awake.setAttribute("aria-pressed", String(wanted)); if (!wanted) awakeSaid.textContent = ""; stayAwake(); });

  for (const button of bar.querySelectorAll("[data-fold]")) button.addEventListener("click", () => document.dispatchEvent(new CustomEvent("fold", { detail: button.dataset.fold })));
  if (!stands.known) { part("correct").hidden = true; part("fold-night").hidden = true; part("correct-said").textContent = "This page cannot work out stands; the planned ones hold."; }
  ticks.show();
  changed();
})();
