// Height and width by the ways that `backbearing measure` knows: fields, and marks in a photograph.
import { Trouble, ask, tell } from "/script/ask.js";
import { Photograph } from "/script/photograph.js";
import { made, saying, turned } from "/script/subject.js";

let changes = {};
let ways = null;
let result = null;
const photograph = new Photograph();
const what = made("select", { id: "measure-what" }, made("option", { value: "height", textContent: "Its height" }), made("option", { value: "width", textContent: "Its width" }));
const way = made("select", { id: "measure-way" });
const asked = made("div", { id: "measure-asked", className: "row" });
const more = made("div", { id: "measure-more", className: "row" });
const says = made("p", { id: "measure-says", className: "says", aria: { live: "polite" } });
const go = made("button", { type: "button", id: "measure-go", textContent: "Work it out" });
const take = made("button", { type: "button", id: "measure-take", textContent: "Take it into the draft", disabled: true });
const field = (label, input) => made("label", {}, label, input);
const { told, guarded } = saying(says);

const panel = made("details", { id: "measure" },
  made("summary", { textContent: "Measure its height or width" }),
  made("div", { className: "row" }, field("What", what), field("By", way)),
  photograph.box,
  asked,
  made("details", {}, made("summary", { textContent: "What may be left out" }), more),
  made("div", { className: "row" }, go, take),
  says);
document.getElementById("subject-panel").append(panel);

const chosen = () => ways[what.value][way.value].asked;
const first = (words) => `${words[0].toUpperCase()}${words.slice(1)}`;

function drawWays() {
  way.replaceChildren(...Object.entries(ways[what.value]).map(([value, one]) => made("option", { value, textContent: one.line })));
  drawAsked();
}

function drawAsked() {
  const plain = chosen().filter((one) => one.kind !== "spot" && one.key !== "picture");
  const box = (one) => {
    const input = made("input", { name: one.key, maxLength: 200, autocomplete: "off", inputMode: one.kind === "number" || one.kind === "angle" ? "decimal" : "text" });
    return field(first(one.words) + (one.kind === "angle" ? "; degrees, or per cent with %" : ""), input);
  };
  asked.replaceChildren(...plain.filter((one) => one.needed || one.offered).map(box));
  more.replaceChildren(...plain.filter((one) => !one.needed && !one.offered).map(box));
  photograph.want(chosen().filter((one) => one.kind === "spot"));
  take.disabled = true;
  told("");
}

function answers() {
  const given = {};
  const numbers = new Set(chosen().filter((one) => one.kind === "number" || one.kind === "angle").map((one) => one.key));
  for (const input of [...asked.querySelectorAll("input"), ...more.querySelectorAll("input")]) {
    const text = input.value.trim();
    if (text === "") continue;
    if (!numbers.has(input.name)) { given[input.name] = text; continue; }
    const percent = text.endsWith("%") && input.name.endsWith("_deg");
    const value = Number((percent ? text.slice(0, -1) : text).trim().replace(",", "."));
    if (!Number.isFinite(value)) throw new Trouble(`“${text.slice(0, 40)}” is no number.`);
    given[percent ? input.name.replace(/_deg$/, "_percent") : input.name] = value;
  }
  return { ...given, ...photograph.answers() };
}

go.addEventListener("click", guarded(async () => {
  take.disabled = true;
  const found = await tell("/api/measure", { what: what.value, way: way.value, answers: answers(), changes });
  if (!found) return;
  result = found;
  told([found.says, ...found.notes.map((note) => `${first(note)}.`), found.care].join(" "));
  take.disabled = false;
}));
take.addEventListener("click", () => {
  turned(result.changes);
  take.disabled = true;
});
what.addEventListener("change", drawWays);
way.addEventListener("change", drawAsked);
photograph.onTrouble = (problem) => told(problem.message, true);

document.addEventListener("desk-night", ({ detail }) => { changes = detail.changes; });
panel.addEventListener("toggle", guarded(async () => {
  if (!panel.open || ways) return;
  ways = await ask("ways", "/api/measure/ways");
  drawWays();
}));
