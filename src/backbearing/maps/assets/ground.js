"use strict";
/* Puts the written data on the map. */
/* Leaflet rounds every corner of a line to a whole pixel, which makes small arcs rough. */
const unrounded = {
  _projectLatlngs(latlngs, result, bounds) {
    if (!(latlngs[0] instanceof L.LatLng)) { for (const part of latlngs) this._projectLatlngs(part, result, bounds); return; }
    const origin = this._map.getPixelOrigin();
    result.push(latlngs.map((spot) => { const p = this._map.project(spot).subtract(origin); bounds.extend(p); return p; }));
  },
};
const FineLine = L.Polyline.extend(unrounded), FineArea = L.Polygon.extend(unrounded);

function drawGround(map, pictures, data, texts, choose) {
  const quiet = { interactive: false, weight: 1, fill: false };
  for (const [name, z] of [["clear", 205], ["land", 210], ["contours", 220], ["rings", 230], ["fields", 240], ["sights", 250], ["arcs", 260], ["subject", 270], ["labels", 640]]) map.createPane(name).style.zIndex = z;
  const inks = {};
  const ink = (pane) => inks[pane] ??= L.svg({ pane, padding: 0.4 });
  const line = (points, cls, pane) => new FineLine(points, { ...quiet, className: cls, pane, renderer: ink(pane), smoothFactor: pane === "contours" ? 1 : 0 });
  const area = (points, cls, pane) => new FineArea(points, { ...quiet, fill: true, className: cls, pane, renderer: ink(pane), smoothFactor: 0 });
  const groups = {};
  /* How a person reads lengths; what is computed stays in metres. */
  const imperial = data.units === "imperial", FOOT = 0.3048;
  const small = (m) => imperial ? Math.round(m / FOOT) + " ft" : Math.round(m) + " m";
  const far = (m) => imperial ? m < 1000 * FOOT ? small(m) : m < 5280 * FOOT ? Math.round(m / 3 / FOOT) + " yd" : (m / 5280 / FOOT).toFixed(1) + " mi" : m < 1000 ? Math.round(m) + " m" : (m / 1000).toFixed(1) + " km";
  for (const name of ["relief", "contours", "posts", "rings", "land", "ways", "fields", "sights", "arcs", "dial", "light", "walks", "stands", "subject"]) groups[name] = L.layerGroup().addTo(map);
  groups.clear = L.layerGroup();
  if (document.querySelector('[data-layer="clear"]')?.checked) groups.clear.addTo(map);
  map.getPane("labels").setAttribute("aria-hidden", "true");
  const labels = new LabelLayer().addTo(map);
  const reach = Math.max(20, ...data.lenses.filter((l) => l.stand).map((l) => l.stand.distance_m));
  // Zoom at which the farthest stand is so many pixels from the subject.
  const zoomFor = (px, metres) => Math.log2(px * 156543.034 * Math.cos(data.subject.at[0] * Math.PI / 180) / metres);
  const apart = zoomFor(55, reach);
  const CLOSE = 17, NEAR = 15;

  function unpack(pack, text) {
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0)), view = new DataView(bytes.buffer), lines = [];
    for (let at = 0; at < bytes.length;) {
      const count = view.getUint16(at, true);
      let x = view.getUint16(at + 2, true), y = view.getUint16(at + 4, true);
      at += 6;
      const spot = () => L.CRS.EPSG3857.unproject(L.point(pack.west + x * pack.unit, pack.north - y * pack.unit));
      const points = [spot()];
      for (let i = 0; i < count; i++, at += 2) { x += view.getInt8(at); y += view.getInt8(at + 1); points.push(spot()); }
      lines.push(points);
    }
    return lines;
  }

  const byZoom = [];
  const between = (group, layer, from, to) => byZoom.push({ group, layer, from, to });
  // A picture stretched over a hundred thousand pixels is more than some phones can hold.
  for (const picture of Object.values(pictures)) picture.remove();
  const most = (picture) => {
    const box = picture.getBounds(), across = map.distance(box.getSouthWest(), box.getSouthEast());
    return zoomFor(30000, across);
  };
  between("relief", pictures.far, 0, most(pictures.far));
  between("relief", pictures.near, Math.min(14, most(pictures.far)), most(pictures.near));
  between("relief", pictures.close, Math.min(18.5, most(pictures.near)), 99);
  const posts = L.layerGroup(data.posts.map(([lat, lon]) => L.marker([lat, lon], { icon: sign("0 0 12 12", 12, [["path", { class: "post", d: "M6 1V11M1 6H11" }]]), interactive: false, keyboard: false })));
  between("posts", posts, zoomFor(58, data.cell_m), 99);
  const zooms = { far: [0, 99, 12.75], far_middle: [0, NEAR, 12.75], near: [NEAR, 99, NEAR], close: [CLOSE, 99, CLOSE] };
  for (const [name, [from, to, plainFrom]] of Object.entries(zooms)) {
    const pack = data.contours[name];
    between("contours", line(unpack(pack, pack.plain), "contour plain", "contours"), plainFrom, to);
    between("contours", line(unpack(pack, pack.index), "contour index", "contours"), from, to);
  }
  /* Ground from which the ridge is clear: of a choice's pictures, the one for this scale. */
  const washes = (data.clear?.sheets ?? []).map((sheet) => sheet.pictures.map((picture) => L.imageOverlay(picture.image, picture.box, { pane: "clear", opacity: .6, interactive: false, alt: "" })));
  let wash = data.clear?.first ?? 0;
  function showWash() {
    if (!washes.length) return;
    const [whole, close] = washes[wash], wanted = close && map.getZoom() >= most(whole) ? close : whole;
    if (groups.clear.hasLayer(wanted)) return;
    groups.clear.clearLayers();
    groups.clear.addLayer(wanted);
  }
  map.on("zoomend", showWash);

  function showByZoom() {
    const zoom = map.getZoom();
    for (const { group, layer, from, to } of byZoom) {
      const wanted = zoom >= from && zoom < to;
      if (wanted !== groups[group].hasLayer(layer)) wanted ? groups[group].addLayer(layer) : groups[group].removeLayer(layer);
    }
  }
  map.on("zoomend", showByZoom);

  const heightZooms = { far: [0, NEAR], near: [NEAR, CLOSE], close: [CLOSE, 99] };
  labels.set("contours", Object.entries(data.heights).flatMap(([name, spots]) => spots.map(([lat, lon, turn, h], i) => ({ at: [lat, lon], text: String(h), cls: "contour-height", rank: 900 + i / 1e4, turn, apart: 110, from: heightZooms[name][0], to: heightZooms[name][1] }))));

  labels.set("posts", data.posts.map(([lat, lon, h]) => ({ at: [lat, lon], text: small(h), cls: "post-height", rank: 700, from: zoomFor(80, data.cell_m), apart: 60, offsets: [[6, 6], [-6, 6], [6, -6]] })));

  function sign(viewBox, size, parts, wrap) {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    svg.setAttribute("viewBox", viewBox);
    svg.setAttribute("aria-hidden", "true");
    for (const [name, given] of parts) {
      const part = document.createElementNS("http://www.w3.org/2000/svg", name);
      for (const [key, value] of Object.entries(given)) key === "text" ? part.textContent = value : part.setAttribute(key, value);
      svg.append(part);
    }
    const html = wrap ?? document.createElement("span");
    html.classList.add("mark");
    html.append(svg);
    return L.divIcon({ html, className: "", iconSize: [size, size] });
  }

  for (const ring of data.rings) line(ring.line, "ring", "rings").addTo(groups.rings);
  labels.set("rings", data.rings.flatMap((ring) => [54, 27].map((i, k) => ({ at: ring.line[i], text: ring.text, cls: "ring-distance", rank: 600 + k, from: zoomFor(34, ring.m), apart: 6 }))));

  for (const place of data.places) {
    const cls = place.kind === "water" ? (/Line/.test(place.shape.type) ? "land water-line" : "land water") : place.kind === "land" ? "land " + place.access : place.kind === "hazard" ? "way hazard" : "way track";
    const flat = /Polygon/.test(place.shape.type) || place.kind === "land" || place.kind === "water";
    const group = groups[place.kind === "land" || place.kind === "water" ? "land" : "ways"];
    L.geoJSON(place.shape, {
      style: { ...quiet, fill: flat, className: cls, pane: "land", renderer: ink("land") },
      pointToLayer: (_, at) => L.marker(at, { icon: place.kind === "hazard" ? sign("0 0 20 20", 20, [["path", { class: "hazard-mark", d: "M10 2 L18 17 H2 Z" }]]) : place.kind === "parking" ? sign("0 0 22 22", 22, [["rect", { class: "parking-box", x: 1, y: 1, width: 20, height: 20 }], ["text", { class: "glyph", x: 11, y: 16, text: "P" }]]) : sign("0 0 12 12", 12, [["circle", { class: "subject-dot", cx: 6, cy: 6, r: 4 }]]), interactive: false, keyboard: false }),
    }).addTo(group);
  }
  labels.set("places", data.places.filter((p) => texts[p.name]).map((p) => ({ at: p.at, text: texts[p.name], cls: p.kind === "water" ? "water" : "place", rank: 400, from: 13.5, offsets: [[0, 12], [0, -12], [12, 0], [-12, 0], [0, 30]] })));

  const subject = data.subject;
  area(subject.footprint, "subject-shape", "subject").addTo(groups.subject);
  const cross = L.marker(subject.at, { icon: sign("0 0 28 28", 28, [["circle", { class: "subject-dot", cx: 14, cy: 14, r: 9 }], ["circle", { class: "subject-shape", cx: 14, cy: 14, r: 4.5 }]]), interactive: false, keyboard: false });
  const dial = data.dial;
  for (const ring of dial.rings) line(ring, "dial-ring", "arcs").addTo(groups.dial);
  for (const mark of dial.marks) {
    line(mark.rim, "dial-mark", "arcs").addTo(groups.dial);
    if (mark.minute % 30 === 0) line([...mark.ticks, mark.rim[0]], "dial-tick", "rings").addTo(groups.dial);
  }

  const lenses = data.lenses.map((lens, i) => {
    const parts = { mark: null, edges: null, field: null, sight: null, sigma: null, peak: null };
    for (const run of lens.arc) {
      line(run.line, "arc " + run.role, "arcs").addTo(groups.arcs);
      if (run.role === "ridge") line(run.line, "arc teeth", "arcs").addTo(groups.arcs);
    }
    const stand = lens.stand;
    if (!stand) return parts;
    parts.edges = L.layerGroup([line([stand.edges[0], stand.at, stand.edges.at(-1)], "field", "fields")]);
    parts.field = area(stand.wedge, "field chosen", "fields");
    parts.sight = line(stand.sight, "sight", "sights").addTo(groups.sights);
    parts.chosenSight = line(stand.sight, "sight chosen", "sights");
    parts.sigma = line([...stand.sigma, stand.sigma[0]], "sigma", "fields");
    if (stand.skyline) parts.peak = L.marker(stand.skyline, { icon: sign("0 0 20 20", 20, [["path", { class: "skyline-mark", d: "M2 17 L10 4 L18 17" }]]), interactive: false, keyboard: false }).addTo(groups.sights);
    const button = document.createElement("button");
    button.type = "button";
    const turn = stand.number !== null;
    button.setAttribute("aria-label", `${turn ? `Turn ${stand.number}, ${lens.label}: frames` : `Stand for ${lens.label}:`} ${stand.time}, ${stand.distance} from the subject, bearing ${stand.bearing_deg.toFixed(1)} degrees. Open its facts.`);
    button.addEventListener("click", (event) => { event.stopPropagation(); choose(i, true); });
    button.addEventListener("keydown", (event) => event.stopPropagation());
    L.DomEvent.disableClickPropagation(button);
    button.classList.add("mark");
    button.classList.toggle("turn", turn);
    const pointer = ["line", { class: "pointer", x1: 16, y1: 8, x2: 16, y2: 1, transform: `rotate(${stand.bearing_deg} 16 16)` }];
    const icon = turn ? sign("0 0 32 32", 32, [pointer, ["rect", { class: "turn-box", x: 7, y: 7, width: 18, height: 18 }], ["text", { class: "turn-number", x: 16, y: 21, text: String(stand.number) }]], button) : sign("0 0 32 32", 32, [pointer, ["circle", { class: "stand-ring", cx: 16, cy: 16, r: 8 }], ["circle", { class: "stand-dot", cx: 16, cy: 16, r: 2.6 }]], button);
    parts.button = button;
    parts.mark = L.marker(stand.at, { icon, keyboard: false, interactive: false, zIndexOffset: turn ? 500 : 0 });
    return parts;
  });

  const session = data.session;
  for (const walk of session?.walks ?? []) line(walk.line, walk.closed ? "walk closed" : "walk", "sights").addTo(groups.walks);
  const light = session?.light;
  if (light) {
    const lay = (shape, cls) => shape && L.geoJSON(shape, { style: { ...quiet, fill: true, className: cls, pane: "fields", renderer: ink("fields") } }).addTo(groups.light);
    const star = (at) => L.marker(at, { icon: sign("0 0 20 20", 20, [["path", { class: "light-mark", d: "M10 2V18M3 6L17 14M3 14L17 6" }]]), interactive: false, keyboard: false });
    light.shadows.forEach((shadow) => lay(shadow, "shadow"));
    light.sides.forEach((side) => lay(side.keep_clear, "keep-clear"));
    lay(light.patch, "blind");
    light.stars = [...light.spots, ...light.sides].map((one) => star(one.at));
  }

  const on = (name) => map.hasLayer(groups[name]);
  let chosen = -1;
  function standLabels() {
    const shown = data.lenses.map((lens, i) => [lens, i]).filter(([lens]) => lens.stand);
    const words = ([lens, i]) => [map.getSize().x >= 560 ? `${lens.label} · ${lens.stand.time}` : lens.stand.number === null ? lens.label : lens.stand.from, i];
    labels.set("stands", !on("stands") ? [] : shown.flatMap((pair) => {
      const [text, i] = words(pair), stand = pair[0].stand;
      const lean = (v) => Math.max(-1, Math.min(1, 1.5 * v));
      const sides = [16, 30, 52].flatMap((far) => [-35, 35, 0, -70, 70, 180, -120, 120].map((turn) => {
        const a = (stand.back_deg + turn) * Math.PI / 180, x = Math.sin(a), y = -Math.cos(a);
        return [x * far, y * far, lean(x), lean(y)];
      })).slice(0, i === chosen ? 24 : 16);
      return [
        { at: stand.at, box: [28, 28], cls: "blank", rank: 0, always: true, from: apart },
        { at: stand.at, text, cls: "stand-name" + (i === chosen ? " chosen" : ""), rank: i === chosen ? 1 : 2 + i / 10, from: apart, offsets: sides, act: () => choose(i, true) },
      ];
    }));
    labels.set("lights", !light || !on("light") ? [] : light.sides.map((side) => ({ at: side.at, box: [20, 20], cls: "blank", rank: 0, always: true, from: apart })));
    labels.set("light", !light || !on("light") ? [] : [...light.spots, ...light.sides].map((one) => ({ at: one.at, text: texts[one.name] })).map((spot) => ({ ...spot, cls: "light-name", rank: 30, from: apart, apart: 2, offsets: [[12, 0], [-12, 0], [0, 12], [0, -12], [14, 14], [-14, 14]] })));
    labels.set("sights", !on("sights") ? [] : clusters(shown.filter(([lens]) => lens.stand.skyline)).map((group) => {
      const away = group.map(([lens]) => lens.stand.skyline_m), least = Math.min(...away), most = Math.max(...away);
      const span = far(least) === far(most) ? far(most) : `${far(least)} to ${far(most)}`;
      return [{ at: group[0][0].stand.skyline, box: [20, 20], cls: "blank", rank: 0, always: true, to: apart }, { at: group[0][0].stand.skyline, text: `${listed(group.map(([lens]) => lens.label))}: skyline ${span}`, cls: "skyline-name", rank: 3 + group[0][1] / 10, offsets: [[0, 12], [14, 0], [-14, 0], [0, -18], [14, 22], [-14, 22]], to: apart }];
    }).flat());
  }
  /* Lenses whose skyline points fall together at this zoom share a label. */
  function clusters(shown) {
    const groups = [];
    for (const pair of shown) {
      const p = map.project(pair[0].stand.skyline);
      const near = groups.find((g) => map.project(g[0][0].stand.skyline).distanceTo(p) < 40);
      near ? near.push(pair) : groups.push([pair]);
    }
    return groups;
  }
  const listed = (names) => names.length > 1 && names.every((n) => / mm$/.test(n)) ? names.map((n) => n.slice(0, -3)).join(", ") + " mm" : names.join(", ");
  function mainLabels() {
    const radius = Math.max(0, ...subject.footprint.map((p) => Math.abs(map.project(p).y - map.project(subject.at).y))) + 8;
    labels.set("subject", [
      { at: subject.at, box: [22, 22], cls: "blank", rank: 0, always: true },
      { at: subject.at, text: texts[subject.name], cls: "name", rank: 5, offsets: [[radius, 0], [-radius, 0], [radius, 16], [-radius, 16], [0, radius], [0, -radius], [radius * 0.7, radius, 0.5, 1]] },
    ]);
    const hours = dial.marks.filter((m) => m.minute === 0).map((m) => map.project(m.rim[1]));
    const gaps = hours.slice(1).map((p, i) => p.distanceTo(hours[i])).sort((a, b) => a - b);
    const gap = gaps.length ? gaps[gaps.length >> 1] : 999;
    const every = gap >= 88 ? 30 : 60 * Math.ceil(42 / Math.max(gap, 10));
    labels.set("dial", !on("dial") ? [] : dial.marks.filter((m) => (m.hour * 60 + m.minute) % every === 0).map((m) => {
      const a = m.turn_deg * Math.PI / 180, x = Math.sin(a), y = -Math.cos(a), hour = m.minute === 0;
      return { at: m.rim[1], text: m.text, cls: hour ? "hour" : "minute", rank: hour ? 20 : 21, from: apart, offsets: [[x * 5, y * 5, x, y]], apart: 4 };
    }));
  }

  function refresh() {
    const zoom = map.getZoom(), close = zoom >= apart;
    // In the order of the turns, which the tab key follows.
    data.order.forEach((i) => {
      const parts = lenses[i];
      const put = (group, layer, wanted) => layer && (wanted ? groups[group].addLayer(layer) : groups[group].removeLayer(layer));
      put("stands", parts.mark, close);
      put("stands", parts.sigma, close && i === chosen);
      put("fields", parts.edges, close && i !== chosen);
      put("fields", parts.field, i === chosen);
      put("sights", parts.chosenSight, i === chosen);
      put("sights", parts.peak, !close || i === chosen);
      parts.button?.classList.toggle("chosen", i === chosen);
      if (parts.button) parts.button.setAttribute("aria-pressed", String(i === chosen));
    });
    for (const mark of light?.stars ?? []) close ? groups.light.addLayer(mark) : groups.light.removeLayer(mark);
    close ? groups.subject.removeLayer(cross) : groups.subject.addLayer(cross);
    for (const name of ["arcs", "dial"]) for (const layer of groups[name].getLayers()) layer.getElement()?.classList.toggle("away", !close);
    standLabels();
    mainLabels();
    labels.lay();
  }
  map.on("zoomend", refresh);

  return {
    groups,
    refresh,
    choose(i) { chosen = i; refresh(); },
    wash(i) { wash = i; showWash(); },
    toggle(name, wanted) {
      wanted ? groups[name].addTo(map) : groups[name].remove();
      const own = { contours: "contours", posts: "posts", rings: "rings" }[name];
      if (own) { this.kept ??= {}; if (!wanted) { this.kept[own] = labels.groups.get(own); labels.set(own, []); } else if (this.kept[own]) labels.set(own, this.kept[own]); }
      const kinds = { land: ["land", "water"], ways: ["parking", "track", "hazard", "note"] }[name];
      if (kinds) { this.hiddenKinds ??= new Set(); kinds.forEach((k) => wanted ? this.hiddenKinds.delete(k) : this.hiddenKinds.add(k)); this.all ??= labels.groups.get("places"); labels.set("places", this.all.filter((_, n) => !this.hiddenKinds.has(data.places.filter((p) => texts[p.name])[n].kind))); }
      refresh();
    },
    start() { showByZoom(); showWash(); refresh(); },
  };
}
