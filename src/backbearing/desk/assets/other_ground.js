// The ground under the outing: which raster it is, and another one in its place.
import { ask, tell } from "/script/ask.js";
import { Bringing, choice, rasterWords } from "/script/ground_choice.js";
import { again, guarded as shown } from "/script/desk.js";
import { made, saying } from "/script/subject.js";
import { upload } from "/script/upload.js";

const fold = document.getElementById("other-ground");
const box = fold.querySelector("div");
let night = null;
let found = null;
let chosen = "";

const says = made("p", { className: "says", id: "other-ground-says", aria: { live: "polite" } });
const { told, guarded } = saying(says);

const now = made("p", { id: "ground-now" });
const rows = made("fieldset", { id: "grounds" }, made("legend", { className: "sr", textContent: "Ground to take" }));
const take = made("button", { type: "button", id: "take-ground", textContent: "Stand it on this ground", disabled: true });
const file = made("input", { type: "file", id: "raster-file", accept: ".tif,.tiff" });
const bring = made("button", { type: "button", id: "bring-ground", textContent: "Bring public ground", disabled: true });
const stop = made("button", { type: "button", id: "bring-stop", textContent: "Stop", hidden: true });
const within = made("input", { id: "bring-within", maxLength: 6, inputMode: "decimal", placeholder: "as far as land can show" });
const bar = made("progress", { max: 1, value: 0, hidden: true, aria: { label: "Ground brought" } });
const bringSays = made("p", { className: "says", id: "bring-says", aria: { live: "polite" } });
box.append(
  now, rows, take, says,
  made("div", { className: "row" }, made("label", { className: "wide" }, "Or a raster from elsewhere on this computer: it is copied into the folder", file)),
  made("div", { className: "row" }, bring, stop, made("label", {}, "Within, km", within)),
  bar, bringSays,
);

const bringing = new Bringing({ button: bring, stop, bar, says: bringSays }, {
  asked: () => ({ place: found.place, within_km: within.value }),
  done: (ended) => { if (ended.state === "done") chosen = "kept"; return look(); },
  guarded,
});
within.addEventListener("change", guarded(() => bringing.before(found !== null)));

// Which of those offered lies under the outing now; nothing where it is another.
const under = () => found.rasters.find((one) => one.under)?.name ?? (found.kept_under ? "kept" : "");

const look = async () => {
  const given = await ask("grounds", "/api/grounds", { changes: night.changes });
  if (!given) return;
  found = given;
  now.textContent = `It stands on ${found.now}.`;
  const offered = [...found.rasters.filter((one) => !one.problem && one.holds).map((one) => one.name), ...(found.kept ? ["kept"] : [])];
  if (!offered.includes(chosen)) chosen = under();
  const list = found.rasters.map((one) => choice(one.name, rasterWords(one), {
    chosen, problem: one.problem || (one.holds ? "" : "it does not hold the subject"),
  }));
  if (found.kept) list.push(choice("kept", "Public ground that is kept on this computer", { chosen }));
  if (!list.length) list.push(made("p", { className: "says", textContent: "No other raster lies in the folder yet." }));
  rows.replaceChildren(rows.firstElementChild, ...list);
  mark();
  await bringing.before(true);
};

function mark() {
  take.disabled = !chosen || chosen === under();
}

rows.addEventListener("change", (event) => { chosen = event.target.value; mark(); });
take.addEventListener("click", guarded(async () => {
  take.disabled = true;
  told("The nights are worked out on the new ground …");
  try {
    await tell("/api/grounds", { ground: chosen, revision: night.night.revision, changes: night.changes });
  } catch (problem) {
    mark();
    throw problem;
  }
  await shown(again)();
  await look();
  told("Done; Step back lays the old ground under it again.");
}));
file.addEventListener("change", guarded(async () => {
  const [one] = file.files;
  if (!one) return;
  told(`${one.name} is on its way …`);
  try {
    const given = await upload("/upload/ground", one);
    chosen = given.name;
    await look();
    told(chosen === given.name ? `It lies in the folder as ${given.name}.` : `It lies in the folder as ${given.name}, and does not hold the subject.`);
  } finally {
    file.value = "";
  }
}));

// Nothing is looked up before somebody opens the fold.
document.addEventListener("desk-night", guarded(async ({ detail }) => {
  night = detail;
  if (fold.open) await look();
}));
fold.addEventListener("toggle", guarded(async () => { if (fold.open && night) await look(); }));
