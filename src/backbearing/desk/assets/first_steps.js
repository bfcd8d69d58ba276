// The empty sheet: three sentences, each a field that is typed or clicked, and then the desk.
import { Trouble, ask, tell } from "/script/ask.js";
import { FirstMap } from "/script/first_map.js";
import { Bringing, choice, megabytes, rasterWords } from "/script/ground_choice.js";
import { upload } from "/script/upload.js";

const $ = (id) => document.getElementById(id);
const form = $("first");
const FIELDS = ["place", "name", "kind", "height", "width", "within_km", "night", "lenses", "camera"];
const made = (kind, facts = {}, ...inside) => {
  const one = Object.assign(document.createElement(kind), facts);
  one.append(...inside);
  return one;
};
let ground = "";
let kept = false;
let rasters = [];

function trouble(problem) {
  if (!(problem instanceof Trouble)) console.error(problem);
  $("trouble").textContent = problem instanceof Trouble ? problem.message : "Something on this page went wrong; load it again.";
  $("trouble").hidden = false;
}
const guarded = (work) => (...given) => Promise.resolve(work(...given)).catch(trouble);

const map = new FirstMap($("first-map"), ({ lat, lng }) => {
  form.elements.place.value = `${lat.toFixed(6)}, ${(((lng + 540) % 360) - 180).toFixed(6)}`;
  look();
});

function draft() {
  const said = { ground };
  for (const name of FIELDS) said[name] = form.elements[name].value;
  return said;
}

// What has not been typed yet is not called wrong.
function tellField(name, typed, { ok, says }) {
  const box = $(`${name}-says`);
  box.textContent = ok || typed ? says : "";
  box.classList.toggle("cannot", !ok && typed);
}

const look = guarded(async () => {
  const answers = draft();
  const found = await tell("/api/first/look", { draft: answers });
  if (!found) return;
  $("trouble").hidden = true;
  const { said } = found;
  tellField("place", answers.place.trim() !== "", said.place);
  tellField("subject", answers.height.trim() !== "", said.subject);
  tellField("ground", answers.ground !== "", said.ground);
  tellField("lenses", answers.lenses.trim() !== "", said.lenses);
  tellField("camera", answers.camera.trim() !== "", said.camera);
  tellField("night", true, said.night);
  if (kept !== found.kept) { kept = found.kept; drawRasters(); }
  map.show(found.ground, found.at);
  $("map-says").textContent = found.ground ? "A click, or Enter for the middle of the map, puts the subject there." : "The map appears with the ground.";
  await bringing.before(said.place.ok);
});

const bringing = new Bringing({ button: $("fetch"), stop: $("fetch-stop"), bar: $("fetch-bar"), says: $("fetch-says") }, {
  asked: () => { const { place, within_km } = draft(); return { place, within_km }; },
  done: async (ended) => {
    if (ended.state === "done" && !ground) ground = "kept";
    await look();
    drawRasters();
  },
  guarded,
});

function drawRasters() {
  const legend = $("rasters").querySelector("legend");
  const rows = rasters.map((one) => choice(one.name, rasterWords(one), { chosen: ground, problem: one.problem }));
  if (kept) rows.push(choice("kept", "Public ground that is kept on this computer", { chosen: ground }));
  if (!rows.length) rows.push(made("p", { className: "says", textContent: "No raster lies in the folder yet." }));
  $("rasters").replaceChildren(legend, ...rows);
}
$("rasters").addEventListener("change", (event) => { ground = event.target.value; look(); });

$("raster-file").addEventListener("change", guarded(async () => {
  const [file] = $("raster-file").files;
  if (!file) return;
  $("upload-says").textContent = `${file.name}, ${megabytes(file.size / 1e6)}, is on its way …`;
  try {
    const found = await upload("/upload/ground", file);
    rasters.push(found);
    ground = found.name;
    $("upload-says").textContent = `It lies in the folder as ${found.name}.`;
    drawRasters();
    await look();
  } catch (problem) {
    $("upload-says").textContent = problem.message;
  }
  $("raster-file").value = "";
}));

$("zip-file").addEventListener("change", guarded(async () => {
  const [file] = $("zip-file").files;
  if (!file) return;
  $("zip-says").className = "says";
  $("zip-says").textContent = "It is looked at and unpacked …";
  try {
    await upload("/upload/zip", file);
    location.assign("/");
  } catch (problem) {
    $("zip-says").className = "says cannot";
    $("zip-says").textContent = problem.message;
  }
  $("zip-file").value = "";
}));

// A lens or body of the kit is put into the field it belongs to, and taken out again.
function drawKit(kit) {
  $("bodies").replaceChildren(...kit.bodies.map((value) => made("option", { value })));
  const lenses = () => form.elements.lenses.value.split(/[,;]/).map((one) => one.trim()).filter(Boolean);
  const press = (name, held, turn) => {
    const button = made("button", { type: "button", textContent: name });
    const mark = () => button.setAttribute("aria-pressed", String(held()));
    button.addEventListener("click", () => { turn(); look(); });
    form.addEventListener("input", mark);
    form.addEventListener("click", mark);
    mark();
    return button;
  };
  $("kit").replaceChildren(
    ...kit.bodies.map((name) => press(name, () => form.elements.camera.value === name, () => { form.elements.camera.value = form.elements.camera.value === name ? "" : name; })),
    ...kit.lenses.map((name) => press(name, () => lenses().includes(name), () => {
      const now = lenses();
      form.elements.lenses.value = (now.includes(name) ? now.filter((one) => one !== name) : [...now, name]).join(", ");
    })),
  );
  if (kit.problem) $("kit").append(made("p", { className: "says cannot", textContent: kit.problem }));
  $("kit").hidden = !$("kit").childNodes.length;
}

function drawOutings(outings) {
  $("outings").hidden = !outings.length;
  $("outing-list").replaceChildren(...outings.map((one) => {
    if (one.problem) return made("li", {}, made("p", { textContent: `${one.name}: ${one.problem}` }));
    const button = made("button", { type: "button", textContent: `${one.title}, ${one.name}` });
    button.addEventListener("click", guarded(async () => { await tell("/api/open", { name: one.name }); location.assign("/"); }));
    return made("li", {}, button);
  }));
}

let typing;
form.addEventListener("input", (event) => {
  if (event.target.type === "radio" || event.target.type === "file") return;
  clearTimeout(typing);
  typing = setTimeout(look, 250);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  make();
});

async function make() {
  $("make").disabled = true;
  $("make-says").className = "says";
  $("make-says").textContent = "Looking for the night, and writing the outing …";
  try {
    await tell("/api/first/make", { draft: draft() });
    location.assign("/");
  } catch (problem) {
    $("make").disabled = false;
    $("make-says").className = "says cannot";
    $("make-says").textContent = problem.message;
  }
}

$("theme").addEventListener("click", () => {
  const red = document.documentElement.dataset.theme !== "red";
  document.documentElement.dataset.theme = red ? "red" : "day";
  $("theme").setAttribute("aria-pressed", String(red));
});
$("stop").addEventListener("click", guarded(async () => {
  await tell("/api/stop", {});
  document.body.replaceChildren(made("p", { textContent: "The desk is closed. What was answered is kept in the folder." }));
}));

guarded(async () => {
  const found = await ask("first", "/api/first");
  if (!found) return;
  $("folder").textContent = `In the folder ${found.folder}`;
  rasters = found.rasters;
  const usable = rasters.filter((one) => !one.problem);
  ground = found.draft.ground || (usable.length === 1 ? usable[0].name : "");
  for (const name of FIELDS) form.elements[name].value = found.draft[name];
  $("kinds").replaceChildren(...found.kinds.map((value) => made("option", { value })));
  drawOutings(found.outings);
  drawRasters();
  drawKit(found.kit);
  await look();
  const now = await ask("fetch", "/api/fetch");
  document.documentElement.dataset.ready = "yes";
  if (now?.state === "running") await bringing.follow();
})();
