"use strict";
(async function () {
  const byId = (id) => document.getElementById(id);
  const texts = JSON.parse(byId("text-data").textContent);
  for (const spot of document.querySelectorAll("[data-text]")) spot.textContent = texts[Number(spot.dataset.text)];
  const root = document.documentElement, page = document.querySelector(".page"), said = byId("said");
  const wide = matchMedia("(min-width: 900px)");
  let told;
  try { told = await unpackRanking(byId("packed-data").textContent); } catch (problem) { byId("count").textContent = problem.message; return; }

  const map = map_ground;
  map.setMinZoom(5).setMaxZoom(18);
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) map.options.zoomAnimation = map.options.fadeAnimation = false;
  map.getContainer().setAttribute("role", "region");
  map.getContainer().setAttribute("aria-label", "Map of the subjects. Arrow keys move it, plus and minus zoom. Everything on it stands as text in the list.");
  L.control.scale({ imperial: false, maxWidth: 130, position: "bottomleft" }).addTo(map);
  map.fitBounds(told.box, { animate: false });
  const marks = new MarkLayer(told, (row) => open(row, true));

  function el(tag, text, kind) { const made = document.createElement(tag); if (text !== undefined) made.textContent = text; if (kind) made.className = kind; return made; }
  function named(i) { const made = el("bdi", told.name[i] || "without a name"); return made; }
  const lasting = (minutes) => minutes >= 60 ? `${Math.floor(minutes / 60)} h ${String(Math.round(minutes % 60)).padStart(2, "0")}` : `${Math.round(minutes)} min`;
  const metres = (m) => m >= 1000 ? `${(m / 1000).toFixed(1)}\u00a0km` : `${m.toFixed(m < 100 ? 1 : 0)}\u00a0m`;

  const asked = () => ({
    night: Number(byId("night").value), lens: Number(byId("lens").value), land: byId("land").value, kind: Number(byId("kind").value),
    least: Math.max(1, Number(byId("least").value) || 1), order: byId("order").value, name: byId("name").value.trim().toLocaleLowerCase(),
  });
  const LAND = { any: null, open: ["open"], ask: ["open", "ask first"], notclosed: ["open", "ask first", "unknown"] };
  let order = [], minutes = new Map(), shown = 40, chosen = -1;

  function sift() {
    const want = asked(), land = LAND[want.land], rest = [], none = [];
    order = []; minutes = new Map();
    for (let i = 0; i < told.count; i++) {
      if (!told.rank[i]) { none.push(i); continue; }
      const fits = (want.kind < 0 || told.kind[i] === want.kind) && (!land || land.includes(told.access[i])) && (!want.name || told.name[i].toLocaleLowerCase().includes(want.name));
      const clear = fits ? told.best(i, want.night, want.lens) : 0;
      /* Minutes are kept in steps, rounded down: a subject is never shown as clearer than it is. */
      if (fits && clear + told.step > want.least) { order.push(i); minutes.set(i, clear); } else rest.push(i);
    }
    const walk = (i) => told.walk_m[i] === null ? Infinity : told.walk_m[i];
    if (want.order === "minutes") order.sort((a, b) => minutes.get(b) - minutes.get(a) || told.rank[a] - told.rank[b]);
    else if (want.order === "walk") order.sort((a, b) => walk(a) - walk(b) || told.rank[a] - told.rank[b]);
    else order.sort((a, b) => told.rank[a] - told.rank[b]);
    shown = 40;
    marks.show(order, rest, none);
    byId("count").textContent = order.length === 0
      ? `None of ${told.count} fits these filters; ${none.length} cannot work in these nights at all.`
      : `${order.length} of ${told.count} fit${order.length === 1 ? "s" : ""}; ${none.length} cannot work in these nights.`;
    list();
  }

  function list() {
    const rows = order.slice(0, shown), want = asked();
    byId("ranked").replaceChildren(...rows.map((i, k) => {
      const row = el("li"), button = el("button");
      button.type = "button"; button.dataset.row = i; button.classList.toggle("chosen", i === chosen);
      const who = el("span", undefined, "who");
      who.append(named(i));
      const under = el("span", undefined, "under");
      const when = want.night < 0 && told.best_night[i] >= 0 ? `best ${told.nights[told.best_night[i]]}, ${told.best_time[i]}` : `up to ${lasting(minutes.get(i))} that night`;
      under.textContent = [told.kinds[told.kind[i]], when, told.best_lens[i] >= 0 ? `${told.lenses[told.best_lens[i]]} mm` : "", told.walk_m[i] === null ? "walk not known" : `walk ${metres(told.walk_m[i])}`].filter(Boolean).join(" · ");
      button.append(el("span", String(k + 1), "place-number"), who, el("span", lasting(minutes.get(i)), "when-clear"), under);
      button.addEventListener("click", () => open(i, false));
      row.append(button);
      return row;
    }));
    byId("more").hidden = order.length <= shown;
  }

  function bars(i) {
    const box = el("div", undefined, "bars");
    told.parts.forEach((words, k) => {
      const value = told.parts_of[i][k], line = el("span", undefined, "track-line");
      if (value !== null) { const bar = el("i"); bar.style.width = `${Math.round(value * 100)}%`; line.append(bar); }
      box.append(el("span", words), line, el("span", value === null ? "not known" : String(Math.round(value * 100)), "value"));
    });
    return box;
  }

  function season(i) {
    const ns = "http://www.w3.org/2000/svg", n = told.nights.length, lens = asked().lens, svg = document.createElementNS(ns, "svg");
    svg.setAttribute("class", "season"); svg.setAttribute("viewBox", `0 0 ${n} 62`); svg.setAttribute("preserveAspectRatio", "none"); svg.setAttribute("role", "img");
    let most = 60, good = 0;
    const values = told.nights.map((_, d) => told.inNight(i, d, lens));
    for (const v of values) { most = Math.max(most, v); good += v >= asked().least; }
    svg.setAttribute("aria-label", `Clear minutes night by night: ${good} nights with at least ${asked().least}, the longest ${lasting(Math.max(...values))}.`);
    values.forEach((v, d) => {
      if (!v) return;
      const bar = document.createElementNS(ns, "rect"), tall = 58 * v / most;
      bar.setAttribute("x", d + 0.08); bar.setAttribute("width", 0.84); bar.setAttribute("y", 60 - tall); bar.setAttribute("height", tall); bar.setAttribute("fill", "currentColor");
      svg.append(bar);
    });
    const floor = document.createElementNS(ns, "rect");
    floor.setAttribute("x", 0); floor.setAttribute("width", n); floor.setAttribute("y", 60.6); floor.setAttribute("height", 1); floor.setAttribute("fill", "currentColor"); floor.setAttribute("opacity", ".5");
    svg.append(floor);
    const ends = el("p", undefined, "season-ends");
    ends.append(el("span", told.nights[0]), el("span", `tallest bar ${lasting(most)}`), el("span", told.nights[n - 1]));
    return [svg, ends];
  }

  function open(i, fromMap) {
    chosen = i;
    marks.choose(i);
    for (const button of byId("ranked").querySelectorAll("button")) button.classList.toggle("chosen", Number(button.dataset.row) === i);
    const box = byId("opened"), close = el("button", "Close", "close"), heading = el("h2");
    close.type = "button";
    close.addEventListener("click", () => { box.hidden = true; chosen = -1; marks.choose(-1); list(); });
    heading.append(named(i));
    const size = told.height_m[i] === null ? "" : `, ${metres(told.height_m[i])} tall${told.guess[i] ? " (a guess by its kind)" : ""}`;
    const parts = [close, heading, el("p", `${told.kinds[told.kind[i]]}${size}. Land: ${told.access[i] || "unknown"}. ${told.lat[i].toFixed(5)}, ${told.lon[i].toFixed(5)}`, "small")];
    if (told.failure[i]) parts.push(el("p", told.failure[i], "caution"));
    else {
      const lens = told.best_lens[i] >= 0 ? `${told.lenses[told.best_lens[i]]} mm` : "";
      parts.push(el("p", `Rank ${told.rank[i]}, score ${told.score[i]} of 100. Best on ${told.nights[told.best_night[i]] || "a night outside the list"} at ${told.best_time[i]}${lens ? ", " + lens : ""}: stand ${metres(told.distance_m[i])} from it on the bearing ${told.back_bearing_deg[i]}° true, target ${told.target_altitude_deg[i]}° high, ${told.clearance_deg[i]}° over the terrain.`));
    }
    const why = el("ul", undefined, "why");
    for (const reason of told.reasons[i].split("; ").filter(Boolean)) why.append(el("li", reason));
    parts.push(why);
    if (!told.failure[i]) parts.push(...season(i), bars(i));
    if (told.cautions[i]) parts.push(el("p", told.cautions[i], "caution"));
    if (told.plan[i]) { const link = el("a", "Open its own plan", "button"); link.href = told.plan[i]; parts.push(link); }
    else if (told.command && !told.failure[i]) parts.push(el("p", "For its own plan, type:", "small"), el("code", told.command.replace("{id}", told.id[i]).replace("{rank}", told.rank[i])));
    box.replaceChildren(...parts);
    box.hidden = false;
    if (fromMap && !wide.matches) raise(true);
    box.scrollIntoView({ block: "start" });
    box.focus({ preventScroll: true });
    if (!fromMap) map.panInside([told.lat[i], told.lon[i]], { padding: [60, 60], animate: false });
    said.textContent = `${told.name[i] || "Subject"}: reasons open.`;
  }

  function raise(up) {
    page.classList.toggle("raised", up);
    byId("sheet-button").setAttribute("aria-expanded", String(up));
    byId("sheet-button").querySelector("span:last-child").textContent = up ? "Back to the map" : "All of the list";
  }
  byId("sheet-button").addEventListener("click", () => raise(!page.classList.contains("raised")));
  byId("sieve").addEventListener("input", sift);
  byId("sieve").addEventListener("submit", (event) => event.preventDefault());
  const step = (by) => () => { const night = byId("night"); night.value = String(Math.max(-1, Math.min(told.nights.length - 1, Number(night.value) + by))); sift(); };
  byId("night-before").addEventListener("click", step(-1));
  byId("night-after").addEventListener("click", step(1));
  byId("more").addEventListener("click", () => { shown += 80; list(); });
  byId("zoom-in").addEventListener("click", () => map.zoomIn(1));
  byId("zoom-out").addEventListener("click", () => map.zoomOut(1));
  byId("whole").addEventListener("click", () => map.fitBounds(told.box, { animate: false }));
  for (const link of document.querySelectorAll('a[href="#cautions"]')) link.addEventListener("click", (event) => {
    event.preventDefault();
    if (!wide.matches) raise(true);
    byId("cautions").focus({ preventScroll: true });
    byId("cautions").scrollIntoView({ block: "start" });
  });
  const theme = byId("theme-button");
  theme.addEventListener("click", () => {
    const night = root.dataset.theme !== "night";
    root.dataset.theme = night ? "night" : "day";
    theme.setAttribute("aria-pressed", String(night));
    marks.draw();
  });
  marks.addTo(map);
  sift();
  root.dataset.ready = "yes";
})();
