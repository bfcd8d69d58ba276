// Many subjects: a file of candidates ranked beside the desk, its rows and its marks on the map.
/* global L */
import { Trouble, ask, tell } from "/script/ask.js";
import { change, ground, state, trouble } from "/script/desk.js";

const $ = (id) => document.getElementById(id);
const guarded = (work) => (...given) => Promise.resolve(work(...given)).catch(trouble);
const map = ground.map;
const marks = L.layerGroup();
const NUMBERED = 9;

let stream;
let page = 0;
let leftOfTheOld = [];
let spoken = 0;

map.createPane("candidates").style.zIndex = 440;
const renderer = L.svg({ pane: "candidates", padding: 0.3 });

function text(kind, said, name = "") {
  const box = document.createElement(kind);
  box.textContent = said;
  if (name) box.className = name;
  return box;
}

function minutesOf(seconds) {
  if (seconds === null) return "";
  return seconds < 90 ? `, some ${Math.max(1, Math.round(seconds))} s to go` : `, some ${Math.round(seconds / 60)} minutes to go`;
}

// A reader hears the progress now and then, not at every step.
function say(said, always = true) {
  const now = Date.now();
  if (!always && now - spoken < 4000) return;
  spoken = now;
  if ($("many-says").textContent !== said) $("many-says").textContent = said;
}

function show(run) {
  const running = run.state === "running";
  $("many-start").hidden = running;
  $("many-stop").hidden = !running;
  $("many-resume").hidden = run.state !== "stopped";
  $("many-progress").hidden = !running;
  $("many-bar").max = Math.max(1, run.total);
  $("many-bar").value = run.done;
  $("many-bar").textContent = `${run.done} of ${run.total}`;
  if (running) say(run.total ? `${run.file}: ${run.done} of ${run.total} ranked${minutesOf(run.left_seconds)}.` : `Reading ${run.file} …`, run.done === 0);
  if (run.state === "stopped") say(`${run.file}: stopped${run.total ? ` at ${run.done} of ${run.total}` : ""}. What is finished is kept; go on when you like.`);
  if (run.state === "failed") say(run.error);
}

function follow() {
  stream?.close();
  stream = new EventSource("/stream/candidates");
  stream.onmessage = guarded(async (event) => {
    const run = JSON.parse(event.data);
    show(run);
    if (run.state === "running") return;
    stream.close();
    if (run.has_ranking) await showRanking();
  });
  stream.onerror = () => {
    stream.close();
    trouble(new Trouble("The desk does not answer. Was it closed in the terminal?"));
  };
}

async function showRanking() {
  page = 0;
  const found = await turnPage(0);
  if (!found) return;
  const { facts } = found;
  const failed = facts.failed ? `; ${facts.failed} without a stand or a minute, at the end` : "";
  say(`${facts.source}: ${facts.ranked} ranked over ${facts.nights} nights${failed}.`);
  $("many-facts").textContent = `Nights from ${facts.first_night}, times of ${facts.zone}. ${facts.notes[0] ?? ""}`;
  const left = $("many-left");
  left.hidden = facts.left_out === 0;
  left.open = false;
  left.querySelector("summary").textContent = `Rows of the file left out: ${facts.left_out}`;
  left.querySelector("ul").replaceChildren();
  left.dataset.page = "0";
  await drawMarks();
}

async function turnPage(wanted) {
  const found = await ask("ranking", "/api/ranking", { page: wanted, what: "ranked" });
  if (!found?.facts) return null;
  page = wanted;
  $("many-rows").replaceChildren(...found.rows.map(row));
  $("many-pages").hidden = found.pages < 2;
  $("many-before").disabled = page === 0;
  $("many-after").disabled = page >= found.pages - 1;
  const first = page * 50 + 1;
  $("many-where").textContent = `${first} to ${first + found.rows.length - 1} of ${found.count}`;
  return found;
}

function row(one) {
  const item = document.createElement("li");
  const name = one.name || one.row;
  const button = text("button", name);
  button.type = "button";
  button.addEventListener("click", guarded(() => choose(one)));
  const guess = one.height_is_guess ? " (a guess)" : "";
  const size = one.height_m === null ? one.kind : `${one.kind}, ${one.height_m.toFixed(1)} m${guess}`;
  if (one.rank === null) {
    item.className = "failed";
    item.append(text("span", "–", "rank"), button, text("span", `${size}: ${one.failure}`, "facts"));
    return item;
  }
  const when = one.best_time ? `${one.night_label} at ${one.best_time.slice(11, 16)}` : one.night_label;
  const lens = one.best_lens_mm === null ? "" : `, ${one.best_lens_mm} mm from ${one.distance_m === null ? "?" : Math.round(one.distance_m)} m`;
  button.setAttribute("aria-label", `Rank ${one.rank}: ${name}. Make it the subject`);
  item.append(text("span", String(one.rank), "rank"), button, text("span", `${size}; score ${Math.round(one.score)}; ${when}${lens}; ${one.good_nights} good nights`, "facts"));
  const why = text("details", "", "why");
  why.append(text("summary", `Why rank ${one.rank}`), text("p", one.reasons));
  if (one.cautions) why.append(text("p", `Mind: ${one.cautions}.`));
  item.append(why);
  return item;
}

async function choose(one) {
  const subject = { lat: one.lat, lon: one.lon, name: one.name || one.row, kind: one.kind, outline: "" };
  if (one.height_m !== null) subject.height_m = one.height_m;
  if (one.width_m !== null) subject.width_m = one.width_m;
  await change(one.best_night ? { subject, night: { evening: one.best_night } } : { subject });
  const there = state.night?.subject;
  if (!there || there.lat !== one.lat) return;
  ground.fit(state.night);
  const old = leftOfTheOld.length ? ` Still of the old subject, in the file: ${leftOfTheOld.join(", ")}. See to it before you trust the picture.` : "";
  say(`${subject.name} is the subject now, its best night is shown.${old}`);
  document.querySelector("section.ground").scrollIntoView({ block: "nearest" });
}

async function drawMarks() {
  const found = await ask("ranking-marks", "/api/ranking/marks");
  if (!found) return;
  marks.clearLayers();
  // The first lie on top.
  for (const one of [...found.marks].reverse()) {
    const first = one.rank <= NUMBERED;
    const dot = L.circleMarker([one.lat, one.lon], { pane: "candidates", renderer, radius: first ? 6 : 4, weight: 1.5, className: `candidate ${first ? "" : "late"}` });
    const label = text("span", `${one.rank}. ${one.name || one.row}`);
    dot.bindTooltip(label);
    dot.on("click", guarded(async () => {
      const at = await ask("ranking-row", "/api/ranking", { page: Math.floor((one.rank - 1) / 50), what: "ranked" });
      const whole = at?.rows.find((other) => other.rank === one.rank);
      if (whole) await choose(whole);
    }));
    dot.addTo(marks);
    if (!first) continue;
    const icon = L.divIcon({ html: text("span", String(one.rank), "candidate-rank"), className: "", iconSize: [0, 0] });
    L.marker([one.lat, one.lon], { icon, pane: "candidates", interactive: false, keyboard: false }).addTo(marks);
  }
  marks.addTo(map);
}

async function more() {
  const left = $("many-left");
  const at = Number(left.dataset.page);
  const found = await ask("left-out", "/api/ranking", { page: at, what: "left_out" });
  if (!found) return;
  left.querySelector("ul").append(...found.rows.map((one) => text("li", one.reason)));
  left.dataset.page = String(at + 1);
  left.querySelector("button").hidden = at + 1 >= found.pages;
}

$("many-ask").addEventListener("submit", (event) => event.preventDefault());
$("many-start").addEventListener("click", guarded(async () => {
  const file = $("many-file").value;
  if (!file) { say("There is no file of candidates in the outing's folder: put a .csv, .geojson, .gpkg, .gpx, .kml or .osm.pbf there."); return; }
  show(await tell("/api/candidates/start", { file, changes: state.changes }));
  $("many-stop").focus();
  follow();
}));
$("many-resume").addEventListener("click", guarded(async () => {
  show(await tell("/api/candidates/resume", {}));
  $("many-stop").focus();
  follow();
}));
$("many-stop").addEventListener("click", guarded(async () => {
  show(await tell("/api/candidates/stop", {}));
  $("many-resume").focus();
}));
$("many-before").addEventListener("click", guarded(() => turnPage(page - 1)));
$("many-after").addEventListener("click", guarded(() => turnPage(page + 1)));
$("many-left").addEventListener("toggle", guarded(() => $("many-left").open && $("many-left").dataset.page === "0" && more()));
$("many-left").querySelector("button").addEventListener("click", guarded(more));

guarded(async () => {
  const found = await ask("candidates", "/api/candidates");
  leftOfTheOld = found.left_of_the_old;
  $("many-file").replaceChildren(...found.files.map((name) => Object.assign(text("option", name), { value: name })));
  $("many-ask").hidden = found.files.length === 0 && !found.run.file;
  if ($("many-ask").hidden) say("No file of candidates lies in the outing's folder. Put one there (.csv, .geojson, .gpkg, .gpx, .kml or .osm.pbf), load the page again, and it is ranked here.");
  if (found.run.file) $("many-file").value = found.run.file;
  show(found.run);
  if (found.run.state === "running") follow();
  if (found.run.has_ranking) await showRanking();
  document.documentElement.dataset.candidates = "ready";
})();
