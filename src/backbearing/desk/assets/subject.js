// What the subject is, where it stands in any notation, what the bag holds, what stands behind.
import { Trouble, ask } from "/script/ask.js";
import { upload } from "/script/upload.js";

const box = document.getElementById("subject-panel");
let changes = {};
let facts = null;

export const made = (kind, given = {}, ...inside) => {
  const { aria, ...plain } = given;
  const one = Object.assign(document.createElement(kind), plain);
  for (const [key, value] of Object.entries(aria ?? {})) one.setAttribute(`aria-${key}`, value);
  one.append(...inside);
  return one;
};
export const turned = (detail) => document.dispatchEvent(new CustomEvent("desk-change", { detail }));
const field = (label, input, wide = false) => made("label", { className: wide ? "wide" : "" }, label, input);

const says = made("p", { className: "says", aria: { live: "polite" } });
// What goes wrong in a panel is said in its own line.
export const saying = (line) => {
  const told = (words, wrong = false) => { line.textContent = words; line.classList.toggle("cannot", wrong); };
  const guarded = (work) => async (...given) => {
    try {
      await work(...given);
    } catch (problem) {
      if (!(problem instanceof Trouble)) console.error(problem);
      told(problem instanceof Trouble ? problem.message : "Something on this page went wrong; load it again.", true);
    }
  };
  return { told, guarded };
};
const { told, guarded } = saying(says);

const place = made("input", { id: "place", maxLength: 200, autocomplete: "off" });
const name = made("input", { id: "subject-name", maxLength: 200, autocomplete: "off" });
const kind = made("input", { id: "subject-kind", maxLength: 80, autocomplete: "off" });
const kinds = made("datalist", { id: "subject-kinds" });
kind.setAttribute("list", kinds.id);
const outline = made("select", { id: "subject-outline" });
const outlineFile = made("input", { type: "file", id: "outline-file", accept: ".svg" });
const target = made("input", { id: "target", maxLength: 80, autocomplete: "off" });
const targets = made("datalist", { id: "targets" });
target.setAttribute("list", targets.id);
const camera = made("input", { id: "camera", maxLength: 200, autocomplete: "off" });
const bodies = made("datalist", { id: "bodies" });
camera.setAttribute("list", bodies.id);
const lenses = made("div", { id: "lenses", className: "row" });
const newLens = made("input", { id: "new-lens", maxLength: 80, autocomplete: "off", placeholder: "35 f/2" });
const kitLenses = made("datalist", { id: "kit-lenses" });
newLens.setAttribute("list", kitLenses.id);
const addLens = made("button", { type: "button", id: "add-lens", textContent: "Add the lens" });

box.append(
  made("div", { className: "row" }, field("Its place, in any notation", place, true), field("Behind it", target, true), targets),
  says,
  made("details", { id: "subject-more" },
    made("summary", { textContent: "What it is, its outline, the bag" }),
    made("div", { className: "row" }, field("Called", name), field("What it is", kind), kinds, field("Outline", outline), field("Outline from an SVG file", outlineFile)),
    made("p", { id: "subject-shape", className: "says" }),
    made("div", { className: "row" }, field("Camera", camera, true), bodies),
    lenses,
    made("div", { className: "row" }, field("Another lens", newLens), kitLenses, addLens)),
);

place.addEventListener("change", guarded(async () => {
  const found = await ask("place", "/api/place", { text: place.value });
  if (!found) return;
  told(found.says);
  const subject = { lat: found.lat, lon: found.lon };
  if (found.sigma_m !== null) subject.position_sigma_m = Math.round(found.sigma_m);
  turned({ subject });
}));
name.addEventListener("change", () => turned({ subject: { name: name.value } }));
kind.addEventListener("change", () => turned({ subject: { kind: kind.value } }));
outline.addEventListener("change", () => turned({ subject: { outline: outline.value } }));
// A draft that does not hold is asked about first: the page keeps what it has.
const tried = async (detail) => {
  const asked = { ...changes };
  for (const [section, keys] of Object.entries(detail)) asked[section] = { ...asked[section], ...keys };
  const found = await ask("subject-tried", "/api/subject", { changes: asked });
  if (!found) return;
  told("");
  turned(detail);
};
target.addEventListener("change", guarded(() => tried({ target: { typed: target.value } })));
camera.addEventListener("change", guarded(() => tried({ camera: { typed: camera.value } })));
outlineFile.addEventListener("change", guarded(async () => {
  const [file] = outlineFile.files;
  if (!file) return;
  const found = await upload("/upload/outline", file);
  outlineFile.value = "";
  await tried({ subject: { outline: found.name } });
}));

// The lenses there are to be: the file's own by number, and new ones as they were typed.
function list() {
  return changes.lens?.list ?? facts.focal_lengths_mm.map((_, i) => ({ was: i + 1 }));
}
const lensesTo = (entries) => tried({ lens: { list: entries } });

addLens.addEventListener("click", guarded(async () => {
  if (!newLens.value.trim()) return told("No lens is named: write a focal length such as 35.", true);
  await lensesTo([...list(), { typed: newLens.value.trim() }]);
  newLens.value = "";
}));

// The kept lenses come first and the new ones after them, as the file will have them.
function drawLenses() {
  const entries = list();
  const own = entries.filter((one) => one.was);
  const order = [...own, ...entries.filter((one) => !one.was)];
  const counted = order.length === facts.lenses.length;
  lenses.replaceChildren(...order.map((one, i) => {
    const label = counted ? facts.lenses[i] : one.typed;
    const focal = made("input", { type: "number", min: 1, max: 2000, step: "any", value: counted ? facts.focal_lengths_mm[i] : "", disabled: !counted });
    focal.addEventListener("change", guarded(() => {
      const changed = one.was ? { was: one.was, focal_length_mm: Number(focal.value) } : { typed: focal.value };
      return lensesTo(order.map((other) => (other === one ? changed : other)));
    }));
    const out = made("button", { type: "button", textContent: "Take out", aria: { label: `Take out the ${label}` }, disabled: order.length < 2 });
    out.addEventListener("click", guarded(() => lensesTo(order.filter((other) => other !== one))));
    return made("div", { className: "lens" }, field(`Focal length, mm: ${label}`, focal), out);
  }));
}

const fill = (input, value) => { if (input !== document.activeElement) input.value = value; };
const options = (values) => values.map((value) => made("option", { value }));

document.addEventListener("desk-night", guarded(async ({ detail }) => {
  changes = detail.changes;
  const found = await ask("subject", "/api/subject", { changes });
  if (!found) return;
  facts = found;
  fill(place, found.place);
  fill(name, found.name);
  fill(kind, found.kind);
  fill(target, found.target);
  fill(camera, found.camera);
  kinds.replaceChildren(...options(found.kinds));
  targets.replaceChildren(...options(found.targets));
  bodies.replaceChildren(...options(found.bodies));
  kitLenses.replaceChildren(...options(found.kit_lenses));
  outline.replaceChildren(made("option", { value: "", textContent: "None: as its kind" }), ...found.outlines.map((value) => made("option", { value, textContent: value })));
  outline.value = found.outline;
  document.getElementById("subject-shape").textContent = found.shape;
  drawLenses();
}));
