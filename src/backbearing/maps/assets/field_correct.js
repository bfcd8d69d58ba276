"use strict";
/* The corrections: read from the form, kept, shown wherever a number follows from them. */
function fieldCorrect(field, words, stands, kept, changed) {
  const form = document.getElementById("correct"), said = document.getElementById("correct-said");
  const rows = [...form.querySelectorAll("[data-key]")];
  let hand = -1;
  const store = (row, lens) => {
    const all = kept.value.corrections ??= {};
    return row.dataset.own !== undefined ? (all.lenses ??= {})[lens] ??= {} : all.all ??= {};
  };
  const typed = () => kept.value.typed ??= {};
  const typedKey = (row) => row.dataset.own !== undefined ? `${row.dataset.key} ${hand}` : row.dataset.key;

  /* One number as a person types it; undefined for none, NaN for what is none. */
  function read(input) {
    const text = input.value.trim().replace(",", ".").replace("−", "-");
    return text === "" ? undefined : /^[+-]?(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN;
  }
  const within = (value, least, most) => value >= least && value <= most;
  const lengthWords = (least_m, most_m) => `write a number from ${words.small(least_m)} to ${words.small(most_m, 0)}`;
  function lengthOf(value, least_m, most_m) {
    const metres = words.metres(value);
    if (!within(metres, least_m, most_m)) throw new Error(lengthWords(least_m, most_m));
    return metres;
  }
  const inHand = () => field.turns.find((one) => one.index === hand) ?? field.turns[0];
  /* A kind of row: from what was typed to the keys of the solver, or a sentence of what is wrong. */
  const KINDS = {
    height: ([value]) => ({ subject_height_m: lengthOf(value, 0.1, 1000) }),
    width: ([value]) => ({ subject_width_m: lengthOf(value, 0.1, 1000) }),
    readings([upper, lower, value]) {
      const away_m = lengthOf(value, 0.5, 5000);
      if (!within(upper, -89, 89) || !within(lower, -89, 89) || upper <= lower) throw new Error("the top must read higher than the foot, both from -89 to 89 degrees");
      const tall_m = stands.solver.heightFrom(upper, lower, away_m);
      if (!within(tall_m, 0.1, 1000)) throw new Error("these readings make no height; read both once more");
      return { subject_height_m: tall_m };
    },
    back: ([value]) => ({ distance_m: lengthOf(value, 0.5, 20000) }),
    ground: ([value]) => ({ ground_step_m: lengthOf(value, -100, 100) }),
    eye: ([value]) => ({ eye_height_m: lengthOf(value, 0.05, 30) }),
    focal([value]) { if (!within(value, 4, 2000)) throw new Error("write a focal length from 4 to 2000 mm"); return { focal_mm: value }; },
    share([value]) { if (!within(value, 1, 95)) throw new Error("write a share from 1 to 95 per cent"); return { share: value / 100 }; },
    compass([value]) {
      if (!within(value, 0, 360)) throw new Error("write a bearing from 0 to 360 degrees");
      return { compass_error_deg: stands.solver.compassErrorFrom(value, inHand().stand) };
    },
    skyline([value]) {
      if (!within(value, -30, 80)) throw new Error("write an altitude from -30 to 80 degrees");
      const { lat, lon, bearing_deg } = inHand().stand;
      return { skyline_deg: value, skyline_azimuth_deg: bearing_deg, skyline_from: { lat, lon } };
    },
  };
  const keysOf = { height: ["subject_height_m"], readings: ["subject_height_m"], width: ["subject_width_m"], back: ["distance_m"], ground: ["ground_step_m"], eye: ["eye_height_m"], focal: ["focal_mm"], share: ["share"], compass: ["compass_error_deg"], skyline: ["skyline_deg", "skyline_azimuth_deg", "skyline_from"] };

  function told(row) {
    const value = store(row, hand)[keysOf[row.dataset.kind][0]];
    if (value === undefined || !typed()[typedKey(row)]) return "";
    if (row.dataset.kind === "readings") return `as corrected: ${words.small(value, 2)} tall`;
    if (row.dataset.kind === "compass") return `as corrected: the needle shows ${words.fixed(Math.abs(value), 1)}° too ${value >= 0 ? "much" : "little"}`;
    return "as corrected";
  }
  function fill() {
    for (const row of rows) {
      const values = typed()[typedKey(row)] ?? [];
      [...row.querySelectorAll("input")].forEach((input, i) => { if (document.activeElement !== input) input.value = values[i] ?? ""; });
      const corrected = values.length > 0;
      row.classList.toggle("corrected", corrected);
      row.querySelector(".said").textContent = told(row);
      row.querySelector(".said").classList.remove("wrong");
      row.querySelector("[data-back]").disabled = !corrected;
    }
    document.getElementById("correct-none").disabled = !stands.any();
  }
  function drop(row) {
    for (const key of keysOf[row.dataset.kind]) delete store(row, hand)[key];
    delete typed()[typedKey(row)];
    // Two ways to one number: the height is typed, or follows from two readings.
    for (const other of rows) if (other !== row && keysOf[other.dataset.kind][0] === keysOf[row.dataset.kind][0]) delete typed()[typedKey(other)];
  }
  function wrong(row, why) {
    const spot = row.querySelector(".said");
    spot.textContent = `Not taken: ${why}.`;
    spot.classList.add("wrong");
  }
  function settle(words_) {
    stands.forget();
    kept.save();
    fill();
    changed();
    said.textContent = words_;
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const bad = [];
    for (const row of rows) {
      const inputs = [...row.querySelectorAll("input")], values = inputs.map(read), old = typed()[typedKey(row)] ?? [];
      if (inputs.every((input, i) => input.value.trim() === (old[i] ?? ""))) continue;
      if (values.every((value) => value === undefined)) { drop(row); continue; }
      if (values.some((value) => value === undefined)) { bad.push([row, "a number is missing", inputs[values.indexOf(undefined)]]); continue; }
      if (values.some(Number.isNaN)) { bad.push([row, "that is no number; write one such as 7 or 7.5", inputs[values.findIndex(Number.isNaN)]]); continue; }
      try {
        const found = KINDS[row.dataset.kind](values);
        if (Object.values(found).some((value) => typeof value === "number" && !Number.isFinite(value))) throw new Error("nothing follows from that");
        drop(row);
        Object.assign(store(row, hand), found);
        typed()[typedKey(row)] = inputs.map((input) => input.value.trim());
      } catch (problem) { bad.push([row, problem.message, inputs[0]]); }
    }
    const shown = bad.map(([row]) => [row, [...row.querySelectorAll("input")].map((input) => input.value)]);
    settle(bad.length ? "Not everything was taken; see the rows." : stands.any() ? "Corrected: all stands follow." : "All as planned.");
    for (const [row, values] of shown) [...row.querySelectorAll("input")].forEach((input, i) => { input.value = values[i]; });
    for (const [row, why] of bad) wrong(row, why);
    bad[0]?.[2].focus();
  });
  for (const row of rows) row.querySelector("[data-back]").addEventListener("click", () => { drop(row); for (const input of row.querySelectorAll("input")) input.value = ""; settle("Put back as planned."); row.querySelector("input").focus(); });
  document.getElementById("correct-none").addEventListener("click", () => {
    delete kept.value.corrections;
    delete kept.value.typed;
    for (const input of form.querySelectorAll("input")) input.value = "";
    settle("All as planned.");
  });
  return { fill, inHand(lens) { if (lens === hand) return; hand = lens; fill(); } };
}

/* Every number on the page that a correction moves, rewritten in place, and put back. */
function fieldFigures(field, words, stands, clock) {
  const first = new Map();
  const put = (spot, text) => {
    if (!spot) return;
    if (!first.has(spot)) first.set(spot, [...spot.childNodes].map((node) => node.cloneNode(true)));
    if (spot.textContent !== text) spot.textContent = text;
  };
  const restore = () => { for (const [spot, nodes] of first) spot.replaceChildren(...nodes.map((node) => node.cloneNode(true))); first.clear(); };
  function figures(turn, stand) {
    const compass = stand.outward_compass_deg, out = (stand.bearing_deg + 180) % 360;
    const none = !Number.isFinite(stand.distance_m), back = (text) => none ? "no stand" : text;
    return {
      needle: none ? "no stand" : words.needle(compass),
      true: `${words.fixed(out, 1)}°`,
      distance: none ? "" : words.length(stand.distance_m),
      paces: none || !turn.pace_m ? "" : `${words.fixed(stand.distance_m / turn.pace_m, 1)} paces`,
      "Walk out": back(`${words.needle(compass)} by compass; ${words.fixed(out, 1)}° true`),
      Distance: back(`${words.length(stand.distance_m)} from the middle of the subject${turn.pace_m ? `, ${words.fixed(stand.distance_m / turn.pace_m, 1)} paces of ${words.small(turn.pace_m, 2)}` : ""}`),
      "Facing back": back(`${words.needle(stand.compass_deg)} by compass; ${words.fixed(stand.bearing_deg, 1)}° true`),
      Tilt: back(`${words.tilt(stand.pitch_deg)} at the frame's middle`),
      Play: back(`${words.small(stand.play_m, 2)} sideways, or ${words.fixed(stand.play_minutes, 1)} min`),
      Exposure: back(`${words.shutter(stand.shutter_s)} at f/${turn.f_number}${turn.iso ? `, ISO ${turn.iso}` : ""}${turn.frames ? `, ${turn.frames} frames` : ""}`),
      "Focus on": back(`a star; sharp from ${words.length(stand.hyperfocal_m / 2)} on when focused at ${words.length(stand.hyperfocal_m)}`),
      skyline: back(`${words.fixed(Math.abs(stand.clearance_deg), 1)}° ${stand.clearance_deg >= 0 ? "over it" : "under it"}`),
    };
  }
  let standsAt = [];
  return { follow, late: () => standsAt.forEach(([turn, stand]) => late(turn, stand)) };
  function follow() {
    restore();
    standsAt = [];
    for (const spot of document.querySelectorAll("[data-mark], [data-any]")) spot.textContent = "";
    if (!stands.any() || !stands.known) return;
    for (const spot of document.querySelectorAll("[data-any]")) spot.textContent = spot.dataset.any || "as corrected";
    for (const turn of field.turns) {
      if (!stands.corrected(turn.index)) continue;
      const stand = stands.at(turn.steps_s.for, turn.index), said = figures(turn, stand);
      for (const part of [...document.querySelectorAll(`.page [data-lens="${turn.index}"]:is(tr, .next-turn)`), document.getElementById(`lens-${turn.index}`)]) {
        if (!part) continue;
        for (const spot of part.querySelectorAll("[data-out]")) put(spot, said[spot.dataset.out]);
        for (const row of part.querySelectorAll("dl.hand > div")) {
          const name = row.firstElementChild.textContent, text = name.endsWith("and skyline") ? said.skyline : said[name];
          if (text !== undefined) put(row.lastElementChild, text);
        }
        for (const mark of part.querySelectorAll("[data-mark]")) mark.textContent = stand.outside ? "no stand as corrected" : "as corrected";
      }
      standsAt.push([turn, stand]);
    }
  }
  function late(turn, stand) {
    const row = document.querySelectorAll("#session .late tbody tr")[field.turns.indexOf(turn)];
    if (!row) return;
    field.late_minutes.forEach((minutes, i) => {
      const then = stands.at(turn.steps_s.for + 60 * minutes, turn.index);
      const why = then?.limits?.length ? `too late: ${LIMIT_WORDS[then.limits[0]] ?? then.limits[0]}` : "";
      const { left_m, nearer_m } = stands.solver.offset(stand, then);
      put(row.cells[i + 1], then?.outside ?? (why || words.listed(words.step(left_m, nearer_m) ?? [])));
    });
  }
}
