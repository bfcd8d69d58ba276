// Light, air, sky, trees and cloud at the stand in hand, folded under the answer, asked for when open.
import { ask } from "/script/ask.js";
import { guarded, state } from "/script/desk.js";

const NAMES = [["lamp", "The lamp"], ["lights", "Places for lights"], ["blue_hour", "Blue hour"], ["air", "Air"], ["behind", "Sky behind"], ["skyline", "Trees"], ["cloud", "Cloud"]];

const fold = document.getElementById("beside"), list = fold.querySelector("dl");
const made = (name, text) => Object.assign(document.createElement(name), { textContent: text });

// Of which stand the list tells: nothing while it is that of a minute before.
let told = "";

const show = guarded(async () => {
  const { changes, time, lens, revision } = state, asked = JSON.stringify([changes, time, lens, revision]);
  if (fold.hidden || !fold.open || told === asked) return;
  fold.setAttribute("aria-busy", "true");
  const said = await ask("light", "/api/light", { changes, time, lens });
  // Null is a question that a newer one overtook, or no stand: a minute's own answer hides the fold.
  if (!said) return;
  told = asked;
  const known = NAMES.filter(([key]) => said[key]);
  list.replaceChildren(...known.flatMap(([key, name]) => [made("dt", name), ...said[key].says.map((text) => made("dd", text))]));
  fold.setAttribute("aria-busy", "false");
});

fold.addEventListener("toggle", show);
document.addEventListener("desk-minute", ({ detail }) => {
  fold.hidden = !detail;
  show();
});
