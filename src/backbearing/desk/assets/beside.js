// Light, air, sky, trees and cloud at the stand in hand: what the outing has, folded under the answer.
const NAMES = [["lamp", "The lamp"], ["air", "Air"], ["behind", "Sky behind"], ["skyline", "Trees"], ["cloud", "Cloud"]];

const box = document.getElementById("beside");
const made = (name, text) => Object.assign(document.createElement(name), { textContent: text });

document.addEventListener("desk-minute", ({ detail }) => {
  const known = NAMES.filter(([key]) => detail?.beside?.[key]);
  box.hidden = known.length === 0;
  box.querySelector("dl").replaceChildren(...known.flatMap(([key, name]) => [made("dt", name), ...detail.beside[key].says.map((text) => made("dd", text))]));
});
