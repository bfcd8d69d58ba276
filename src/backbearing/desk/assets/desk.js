// The desk: one subject, one night and one minute, shared by all its drawings.
import { Trouble, ask, tell } from "/script/ask.js";
import { Frames, reason } from "/script/frames.js";
import { FromThere } from "/script/from_there.js";
import { Ground } from "/script/ground.js";
import { Night } from "/script/night.js";
import { Profile } from "/script/profile.js";
import { Season } from "/script/season.js";
import { Turns } from "/script/turns.js";

const $ = (id) => document.getElementById(id);
export const state = { changes: {}, lens: 0, time: null, night: null, revision: "" };
const changed = () => Object.keys(state.changes).length > 0;

export function trouble(problem) {
  if (!(problem instanceof Trouble)) console.error(problem);
  $("trouble").textContent = problem instanceof Trouble ? problem.message : "Something on this page went wrong; load it again.";
  $("trouble").hidden = false;
}

export const guarded = (work) => (...given) => Promise.resolve(work(...given)).catch(trouble);

const profile = new Profile($("profile"), $("lens-rows"), (time) => turn(time));
const frames = new Frames($("frames"), (lens) => { state.lens = lens; drawNight(false); }, (key, value) => set("framing", key, value));
const season = new Season($("season"), $("season-says"), (evening) => set("night", "evening", evening));
export const ground = new Ground($("ground"), $("under"), moveSubject, guarded((lens, at) => standAt(lens, at)));

function set(section, key, value) {
  state.changes = { ...state.changes, [section]: { ...state.changes[section], [key]: value } };
  load();
}

// Several keys of several sections at once, as another module of the page asks.
export function change(sections) {
  const merged = { ...state.changes };
  for (const [section, keys] of Object.entries(sections)) merged[section] = { ...merged[section], ...keys };
  state.changes = merged;
  return load();
}

function moveSubject({ lat, lng }) {
  const lon = ((lng + 540) % 360) - 180;
  state.changes = { ...state.changes, subject: { ...state.changes.subject, lat: Number(lat.toFixed(7)), lon: Number(lon.toFixed(7)) } };
  load();
}

// One question is answered after another; while one is under way only the newest waits, so that a
// hand that drags sees every answer there is time for.
let loading = null;
let reload = null;
const load = guarded((first = false) => {
  if (loading) {
    reload ??= loading.catch(() => {}).then(() => { reload = null; return load(first); });
    return reload;
  }
  loading = loadOnce(first).finally(() => { loading = null; });
  return loading;
});

async function loadOnce(first) {
  const before = state.night?.evening;
  const found = await ask("night", "/api/night", { changes: state.changes });
  if (!found) return;
  $("trouble").hidden = true;
  state.night = new Night(found);
  turns.forget();
  state.revision = found.revision;
  state.lens = Math.min(state.lens, found.lenses.length - 1);
  if (state.time === null || before !== found.evening) state.time = firstGood(state.night, state.lens);
  state.time = Math.min(state.night.end, Math.max(state.night.start, state.time));
  drawNight(first === true);
  $("undo").disabled = !found.can_undo || changed();
  $("keep").disabled = !changed();
  document.dispatchEvent(new CustomEvent("desk-night", { detail: { night: found, changes: state.changes } }));
  clearTimeout(seasonLater);
  if (first === true) askSeason();
  else seasonLater = setTimeout(askSeason, 1200);
}

let seasonLater;
const askSeason = guarded(async () => {
  const nights = await ask("season", "/api/season", { changes: state.changes });
  if (nights) season.draw(nights, state.night.evening);
});

function firstGood(night, lens) {
  const longest = [...night.lenses[lens].usable].sort((a, b) => b[1] - b[0] - (a[1] - a[0]))[0];
  const middle = longest ? (longest[0] + longest[1]) / 2 : (night.start + night.end) / 2;
  return Math.round(middle / 60) * 60;
}

function drawNight(fit) {
  const { night, lens } = state;
  document.title = `${night.name}: the desk`;
  $("name").textContent = night.name;
  $("night-label").textContent = `${night.night_label}, times of ${night.zone}`;
  $("evening").value = night.evening;
  for (const field of $("knobs").elements) {
    if (!field.name || field === document.activeElement) continue;
    const [section, key] = field.name.split(".");
    field.value = night[section][key] ?? "";
  }
  $("minute").min = Math.ceil(night.start / 60) * 60;
  $("minute").max = night.end;
  profile.draw(night, lens);
  frames.draw(night, lens);
  ground.draw(night, lens, fit);
  turn(state.time);
}

export function turn(time) {
  const { night, lens } = state;
  state.time = time;
  $("minute").value = time;
  $("minute").setAttribute("aria-valuetext", night.clock(time));
  profile.turn(time);
  ground.turn(night, lens, time);
  frames.turn(night, time);
  answer(night, lens, time);
  document.dispatchEvent(new Event("desk-turn"));
  settle();
}

function answer(night, lens, time) {
  const now = night.at(lens, time);
  const parts = [night.clock(time), night.lenses[lens].label];
  const box = $("answer");
  if (now.distance === null) {
    box.textContent = `${parts.join(", ")}: no stand at this minute`;
    return;
  }
  parts.push(`${now.distance.toFixed(1)} m, aim ${night.aim(now.bearing)}`);
  const over = now.altitude !== null && now.skyline !== null ? now.altitude - now.skyline : null;
  const tail = now.usable ? `clears by ${over.toFixed(1)}°; ${Math.floor(now.left)} minutes left` : reason(now.limits);
  box.textContent = `${parts.join(", ")}; `;
  const last = document.createElement("span");
  last.textContent = tail;
  if (!now.usable) last.className = "cannot";
  box.append(last);
}

// One minute is settled after another; while one is under way only the newest waits.
let underway = false;
let waiting = false;
const settle = guarded(async () => {
  if (underway) { waiting = true; return; }
  underway = true;
  try {
    await settleOnce();
  } finally {
    underway = false;
    if (waiting) { waiting = false; settle(); }
  }
});

async function settleOnce() {
  const { changes, time, lens } = state;
  const red = document.documentElement.dataset.theme === "red";
  const stands = await frames.settle(changes, time, red);
  if (!stands) return;
  document.dispatchEvent(new CustomEvent("desk-minute", { detail: stands[lens] ?? null }));
  const said = stands[lens]?.cautions ?? [];
  $("cautions").querySelector("ul").replaceChildren(...said.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

const turns = new Turns($("turns"), $("price"), {
  state,
  profile,
  guarded,
  show: (lens, time) => show(lens, time),
});
$("evening-plan").addEventListener("click", guarded(() => turns.ask()));

$("find").addEventListener("change", () => {
  const wanted = $("find").value.trim().toLowerCase();
  const one = ground.places?.find((place) => place.properties.name.toLowerCase() === wanted);
  if (one) ground.goTo(one);
});

const show = (lens, time) => {
  state.lens = lens;
  state.time = Math.min(state.night.end, Math.max(state.night.start, time));
  drawNight(false);
};
const fromThere = new FromThere($("from-there"), { state, ground, show });
const standAt = (lens, at) => fromThere.ask(at);

$("minute").addEventListener("input", () => turn(Number($("minute").value)));
$("minute").addEventListener("keydown", (event) => {
  if (!event.shiftKey || !event.key.startsWith("Arrow")) return;
  event.preventDefault();
  const step = event.key === "ArrowLeft" || event.key === "ArrowDown" ? -900 : 900;
  turn(Math.min(state.night.end, Math.max(state.night.start, state.time + step)));
});
$("evening").addEventListener("change", () => $("evening").value && set("night", "evening", $("evening").value));
$("knobs").addEventListener("submit", (event) => event.preventDefault());
$("knobs").addEventListener("change", (event) => {
  const [section, key] = event.target.name.split(".");
  if (event.target.value !== "") set(section, key, Number(event.target.value));
});
$("keep").addEventListener("click", guarded(async () => {
  await tell("/api/keep", { changes: state.changes, revision: state.revision });
  state.changes = {};
  await load();
}));
$("undo").addEventListener("click", guarded(async () => {
  await tell("/api/undo", { revision: state.revision });
  const { key } = await ask("ground-now", "/api/ground");
  if (key !== ground.key) await openGround();
  await load();
}));
const isRed = () => document.documentElement.dataset.theme === "red";
$("theme").setAttribute("aria-pressed", String(isRed()));
$("theme").addEventListener("click", () => {
  document.documentElement.dataset.theme = isRed() ? "day" : "red";
  $("theme").setAttribute("aria-pressed", String(isRed()));
  try {
    localStorage.setItem("light", document.documentElement.dataset.theme);
  } catch { /* Nothing is remembered then. */ }
  settle();
});
$("stop").addEventListener("click", guarded(async () => {
  await tell("/api/stop", {});
  document.body.replaceChildren(Object.assign(document.createElement("p"), { textContent: "The desk is closed. What was kept is in the outing file." }));
}));

// Other modules of the page turn the draft by this: sections of keys, laid over what is there.
document.addEventListener("desk-change", ({ detail }) => {
  const changes = { ...state.changes };
  for (const [section, keys] of Object.entries(detail)) changes[section] = { ...changes[section], ...keys };
  state.changes = changes;
  load();
});

let width = window.innerWidth;
window.addEventListener("resize", () => {
  if (!state.night || window.innerWidth === width) return;
  width = window.innerWidth;
  drawNight(false);
  if (season.nights) season.draw(season.nights, state.night.evening);
});

async function openGround() {
  const { product, credit } = await ground.open();
  // Others credit beside it what they lay over the ground.
  if (!$("credit-ground")) $("credit").prepend(Object.assign(document.createElement("span"), { id: "credit-ground" }));
  $("credit-ground").textContent = [product, credit].filter(Boolean).join(", ");
}

// The file was written elsewhere on this page: the ground under it may be another.
export async function again() {
  await openGround();
  await load(true);
}

guarded(async () => {
  await openGround();
  state.changes = (await ask("draft", "/api/draft"))?.changes ?? {};
  await load(true);
  const places = await ask("places", "/api/places");
  if (places) {
    ground.drawPlaces(places);
    const names = [...new Set(places.features.map((one) => one.properties.name).filter(Boolean))];
    $("found").replaceChildren(...names.map((name) => Object.assign(document.createElement("option"), { value: name })));
  }
  document.documentElement.dataset.ready = "yes";
})();
