"use strict";
(function () {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const data = read("ground-data"), texts = read("text-data");
  for (const spot of document.querySelectorAll("[data-text]")) spot.textContent = texts[Number(spot.dataset.text)];
  document.title = `${texts[data.title]}, ${document.querySelector(".page h1").textContent}`;

  const root = document.documentElement, page = document.querySelector(".page");
  const said = document.getElementById("said");
  const map = map_ground;
  map.setMinZoom(8).setMaxZoom(22.5);
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) map.options.zoomAnimation = map.options.fadeAnimation = false;
  map.getContainer().setAttribute("role", "region");
  map.getContainer().setAttribute("aria-label", "Map of the stands. Arrow keys move it, plus and minus zoom. Everything on it stands as text in the facts.");
  L.control.scale({ imperial: data.units === "imperial", metric: data.units !== "imperial", maxWidth: 130, position: "bottomleft" }).addTo(map);
  map.setView(data.subject.at, 15, { animate: false });
  const ground = drawGround(map, { far: image_overlay_far, near: image_overlay_near, close: image_overlay_close }, data, texts, choose);

  const sheet = document.getElementById("sheet-button");
  const wide = matchMedia("(min-width: 900px)");
  function raise(up) {
    page.classList.toggle("raised", up);
    sheet.setAttribute("aria-expanded", String(up));
    sheet.querySelector("span:last-child").textContent = up ? "Back to the map" : "All facts";
  }
  sheet.addEventListener("click", () => raise(!page.classList.contains("raised")));

  function choose(i, open) {
    ground.choose(i);
    document.dispatchEvent(new CustomEvent("lens", { detail: i }));
    drawClear(data.clear?.sheets.findIndex((one) => one.lenses.includes(i)) ?? -1, true);
    for (const row of document.querySelectorAll("tr[data-lens]")) row.classList.toggle("chosen", Number(row.dataset.lens) === i);
    const card = document.getElementById("lens-" + i);
    if (!open || !card) return;
    card.open = true;
    if (!wide.matches) raise(true);
    card.querySelector("summary").focus({ preventScroll: true });
    card.scrollIntoView({ block: "start" });
    said.textContent = `${card.querySelector(".focal").textContent}: facts open.`;
  }
  const clearChoice = document.getElementById("clear-choice");
  /* A lens brings its own minute, unless the reader looks at a whole night. */
  function drawClear(i, byLens) {
    if (!clearChoice || i < 0 || (byLens && !data.clear.sheets[Number(clearChoice.value)].lenses.length)) return;
    clearChoice.value = String(i);
    ground.wash(i);
    document.querySelectorAll("#clear-words li > span:last-child").forEach((word, n) => { word.textContent = data.clear.sheets[i].words[n]; });
    for (const said of document.querySelectorAll("[data-sheet]")) said.hidden = Number(said.dataset.sheet) !== i;
  }
  clearChoice?.addEventListener("change", () => { drawClear(Number(clearChoice.value), false); said.textContent = document.querySelector("[data-sheet]:not([hidden])").textContent; });
  for (const button of document.querySelectorAll("[data-open]")) button.addEventListener("click", () => choose(Number(button.dataset.open), true));
  for (const card of document.querySelectorAll("[data-card]")) card.addEventListener("toggle", () => { if (card.open) choose(Number(card.dataset.card), false); });
  for (const link of document.querySelectorAll('a[href="#all-cautions"]')) link.addEventListener("click", (event) => {
    event.preventDefault();
    if (!wide.matches) raise(true);
    const cautions = document.getElementById("all-cautions");
    for (const fold of cautions.querySelectorAll("details")) fold.open = true;
    cautions.focus({ preventScroll: true });
    cautions.scrollIntoView({ block: "start" });
  });

  const views = [...document.querySelectorAll("[data-view]")];
  function look(name) {
    const line = name === "line";
    looking = true;
    map.fitBounds(data.views[name], { paddingTopLeft: [24, 60], paddingBottomRight: [24, line ? 56 : 36], animate: false, maxZoom: 22 });
    for (const button of views) button.setAttribute("aria-pressed", String(button.dataset.view === name));
    looking = false;
  }
  let looking = false;
  for (const button of views) button.addEventListener("click", () => { if (!wide.matches) raise(false); look(button.dataset.view); said.textContent = button.textContent + " shown."; });
  map.on("movestart zoomstart", () => { if (!looking) views.forEach((b) => b.setAttribute("aria-pressed", "false")); });
  document.getElementById("zoom-in").addEventListener("click", () => map.zoomIn(0.5));
  document.getElementById("zoom-out").addEventListener("click", () => map.zoomOut(0.5));

  const key = document.getElementById("key"), keyButton = document.getElementById("key-button");
  function showKey(open) { key.hidden = !open; keyButton.setAttribute("aria-expanded", String(open)); }
  keyButton.addEventListener("click", () => showKey(key.hidden));
  key.addEventListener("keydown", (event) => { if (event.key === "Escape") { showKey(false); keyButton.focus(); } });
  for (const box of key.querySelectorAll("[data-layer]")) box.addEventListener("change", () => { ground.toggle(box.dataset.layer, box.checked); said.textContent = `${box.parentElement.textContent.trim()}: ${box.checked ? "shown" : "hidden"}.`; });

  const theme = document.getElementById("theme-button");
  function paint(night) {
    root.dataset.theme = night ? "night" : "day";
    theme.setAttribute("aria-pressed", String(night));
  }
  theme.setAttribute("aria-pressed", String(root.dataset.theme === "night"));
  theme.addEventListener("click", () => paint(root.dataset.theme !== "night"));

  /* On paper stands the still version; the map keeps its size. */
  addEventListener("afterprint", () => map.invalidateSize({ animate: false }));

  /* The field's part of the page knows the clock, and which lens is in the hand. */
  document.addEventListener("hand", (event) => choose(event.detail, false));
  document.addEventListener("fold", (event) => {
    const fold = document.getElementById("fold-" + event.detail);
    if (!wide.matches) raise(true);
    fold.open = true;
    fold.querySelector("summary").focus({ preventScroll: true });
    fold.scrollIntoView({ block: "start" });
  });

  look("stands");
  ground.start();
  const first = data.order.find((i) => data.lenses[i].stand);
  if (first !== undefined) choose(first, false);
  if (data.clear) drawClear(data.clear.first, false);
  root.dataset.ready = "yes";
})();
