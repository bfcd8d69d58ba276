"use strict";
/* What was really done, and when: kept on the phone, and given out as a small file. */
function fieldTicks(field, clock, texts, kept, changed) {
  const part = (id) => document.getElementById(id), buttons = [...document.querySelectorAll("[data-tick]")];
  const ticks = () => kept.value.ticks ??= {};
  const keyOf = (button) => button.dataset.lens === undefined ? button.dataset.tick : `${button.dataset.lens} ${button.dataset.tick}`;
  const known = (value) => Number.isFinite(value) && value > 0 && value < 1e11;

  function show() {
    let done = 0;
    for (const button of buttons) {
      const at_s = ticks()[keyOf(button)], is = known(at_s);
      done += is;
      button.setAttribute("aria-pressed", String(is));
      button.querySelector(".tick-time").textContent = is ? clock.hm(at_s) : "–:––";
    }
    part("ticks-count").textContent = done ? ` ${done} of ${buttons.length}` : "";
    part("ticks-where").textContent = kept.where === "phone" ? "A press notes the time, a second press takes it back. Kept on this phone." : "A press notes the time, a second press takes it back. This phone keeps nothing for a page: it is in the page's address; bookmark the page, or save the file, before you close it.";
  }
  for (const button of buttons) button.addEventListener("click", () => {
    const key = keyOf(button), is = known(ticks()[key]);
    if (is) delete ticks()[key]; else ticks()[key] = Math.round(clock.true_s());
    kept.save();
    show();
    changed(`${button.firstElementChild.textContent}${is ? ": taken back" : ` ${clock.hm(ticks()[key])}`}.`);
  });

  /* What was corrected, as numbers alone. */
  function corrections() {
    const numbers = (own) => Object.fromEntries(Object.entries(own ?? {}).filter(([, value]) => Number.isFinite(value)));
    const { all, lenses } = kept.value.corrections ?? {};
    return { all: numbers(all), lenses: Object.fromEntries(Object.entries(lenses ?? {}).map(([lens, own]) => [lens, numbers(own)])) };
  }
  function document_() {
    const rows = [];
    for (const [key, at_s] of Object.entries(ticks())) {
      if (!known(at_s)) continue;
      const space = key.search(/ (?!shut)/), of = /^\d+ /.test(key), turn = of ? field.turns.find((one) => String(one.index) === key.slice(0, space)) : null;
      if (of && !turn) continue;
      rows.push({ what: of ? key.slice(space + 1) : key, turn: turn?.number ?? null, lens: turn?.label ?? null, time: new Date(at_s * 1000).toISOString().slice(0, 19) + "Z" });
    }
    rows.sort((a, b) => a.time < b.time ? -1 : a.time > b.time ? 1 : 0);
    return JSON.stringify({ format: "backbearing-ticks", version: 1, outing: texts[field.outing], evening: field.evening, zone: field.zone, phone_clock_fast_s: Math.round(clock.ahead_s), ticks: rows, corrections: corrections() }, null, 1) + "\n";
  }
  part("ticks-save").addEventListener("click", () => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([document_()], { type: "application/json" }));
    link.download = `ticks-${field.evening}.json`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    part("ticks-said").textContent = `Saved as ${link.download}. Where this phone saves nothing, show the text and copy it.`;
  });
  part("ticks-show").addEventListener("click", () => {
    const area = part("ticks-text");
    area.hidden = !area.hidden;
    part("ticks-show").textContent = area.hidden ? "Show as text" : "Hide the text";
    if (area.hidden) return;
    area.value = document_();
    area.focus();
    area.select();
  });
  return { show };
}
