// The map: the ground in tiles, the subject, the stands of this minute and the line of sight.
/* global L */
import { ask } from "/script/ask.js";

const FOOT = '<svg width="18" height="18" viewBox="-9 -9 18 18"><path d="M0 -3L-6 7M0 -3L6 7M0 -3L0 7" stroke="currentColor" stroke-width="2.5" fill="none"/><circle r="3.5" cy="-4" fill="currentColor"/></svg>';
const POST = '<svg width="18" height="18" viewBox="-9 -9 18 18"><rect x="-4" y="-8" width="8" height="12" fill="currentColor"/><path d="M-8 5H8" stroke="currentColor" stroke-width="3"/></svg>';

function mark(picture, text, kind) {
  const box = document.createElement("div");
  box.className = `spot ${kind}`;
  box.innerHTML = picture;
  const label = document.createElement("span");
  label.textContent = text;
  box.append(label);
  return L.divIcon({ html: box, className: "", iconSize: [0, 0] });
}

export class Ground {
  constructor(box, under, onSubject, onStand) {
    this.under = under;
    this.onSubject = onSubject;
    this.onStand = onStand;
    this.map = L.map(box, { zoomControl: true, attributionControl: false, zoomSnap: 0.5, maxZoom: 19 });
    L.control.scale({ imperial: false, maxWidth: 160 }).addTo(this.map);
    this.arcs = L.layerGroup().addTo(this.map);
    this.feet = [];
    this.sight = L.polyline([], { className: "sight", weight: 4, interactive: false }).addTo(this.map);
    this.map.on("zoomend", () => this.spread());
    this.map.on("mousemove", (event) => this.tellUnder(event.latlng));
    this.map.on("contextmenu", (event) => this.onSubject(event.latlng));
  }

  async open() {
    const ground = await ask("ground", "/api/ground");
    this.relief?.remove();
    this.relief = L.tileLayer(`/tiles/{z}/{x}/{y}.webp?ground=${ground.key}`, { minZoom: ground.least_zoom, maxZoom: 19, bounds: ground.bounds, noWrap: false }).addTo(this.map);
    this.key = ground.key;
    this.map.setMinZoom(ground.least_zoom);
    this.map.setMaxBounds(L.latLngBounds(ground.bounds).pad(0.2));
    return ground;
  }

  // The user's own places; their names are text and stay text.
  drawPlaces(places) {
    this.places = places.features;
    L.geoJSON(places, {
      interactive: false,
      style: (one) => ({ className: `place ${one.properties.kind} ${one.properties.access.replace(" ", "-")}`, weight: 2 }),
      pointToLayer: (one, at) => L.circleMarker(at, { radius: 5, className: `place ${one.properties.kind}`, interactive: false }),
      onEachFeature: (one, layer) => {
        const label = document.createElement("span");
        label.textContent = one.properties.name;
        layer.bindTooltip(label, { permanent: true, direction: "center", className: "place-name" });
      },
    }).addTo(this.map).bringToBack();
  }

  goTo(one) {
    const box = L.geoJSON(one).getBounds();
    this.map.fitBounds(box.pad(0.3), { animate: false, maxZoom: 17 });
  }

  tellUnder({ lat, lng }) {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(async () => {
      const lon = ((lng + 540) % 360) - 180;
      const found = await ask("under", "/api/under", { lat, lon }).catch(() => null);
      if (!found) return;
      const place = `${lat.toFixed(5)}, ${lon.toFixed(5)}`;
      this.under.textContent = found.height_m === null
        ? `${place}: height ${found.state}`
        : `${place}: ${Math.round(found.height_m)} m up, slope ${found.slope_deg === null ? "unknown" : `${Math.round(found.slope_deg)}°`}`;
    }, 80);
  }

  draw(night, lens, fit) {
    if (fit) this.fit(night);
    const { lat, lon, name } = night.subject;
    if (!this.subject) {
      this.subject = L.marker([lat, lon], { draggable: true, icon: mark(POST, name, "subject"), title: "The subject; drag it", alt: "Subject", zIndexOffset: 500 }).addTo(this.map);
      this.subject.on("dragstart", () => { this.dragging = true; });
      this.subject.on("drag", () => this.follow());
      this.subject.on("dragend", () => { this.dragging = false; this.onSubject(this.subject.getLatLng()); });
    }
    if (!this.dragging) this.subject.setLatLng([lat, lon]);
    if (!this.dragging && this.named !== name) {
      this.subject.setIcon(mark(POST, name, "subject"));
      this.named = name;
    }
    this.drawArcs(night, lens);
  }

  // While the subject is dragged, all that hangs on it goes along until the answer for its place.
  shift(night) {
    if (!this.dragging) return [0, 0];
    const { lat, lng } = this.subject.getLatLng();
    return [lat - night.subject.lat, lng - night.subject.lon];
  }

  follow() {
    if (this.drawing) return;
    this.drawing = requestAnimationFrame(() => {
      this.drawing = null;
      if (!this.dragging) return;
      this.drawArcs(this.night, this.lens);
      this.turn(this.night, this.lens, this.time);
      this.onSubject(this.subject.getLatLng());
    });
  }

  drawArcs(night, lens) {
    const [dlat, dlon] = this.shift(night);
    this.arcs.clearLayers();
    night.lenses.forEach((one, i) => {
      const places = (from, to) => one.points.filter((p, k) => p[0] !== null && night.times[k] >= from && night.times[k] <= to).map((p) => [p[0] + dlat, p[1] + dlon]);
      const good = i === lens ? 4 : 2;
      for (const [from, to] of one.framed) L.polyline(places(from, to), { className: "framed", weight: 1, dashArray: "3 4", interactive: false }).addTo(this.arcs);
      for (const [from, to] of one.usable) L.polyline(places(from, to), { className: "usable", weight: good, interactive: false }).addTo(this.arcs);
    });
  }

  fit(night) {
    const all = [[night.subject.lat, night.subject.lon]];
    for (const one of night.lenses) for (const p of one.points) if (p[0] !== null && p[2] < 2000) all.push([p[0], p[1]]);
    this.map.fitBounds(L.latLngBounds(all).pad(0.15), { animate: false, maxZoom: 19 });
  }

  turn(night, lens, time) {
    Object.assign(this, { night, lens, time });
    const [dlat, dlon] = this.shift(night);
    while (this.feet.length > night.lenses.length) this.feet.pop().remove();
    night.lenses.forEach((one, i) => {
      const now = night.at(i, time);
      if (now.lat !== null) Object.assign(now, { lat: now.lat + dlat, lon: now.lon + dlon });
      if (now.lat === null) { this.feet[i]?.remove(); this.feet[i] = undefined; return; }
      const kind = i === lens ? "inhand" : now.usable ? "" : "cannot";
      if (!this.feet[i]) {
        this.feet[i] = L.marker([now.lat, now.lon], { draggable: true, icon: mark(FOOT, one.label, kind), title: `${one.label}; drag it to where you can stand`, alt: one.label, keyboard: false }).addTo(this.map);
        this.feet[i].on("dragend", () => this.onStand(i, this.feet[i].getLatLng()));
      }
      if (this.feet[i].kind !== kind + one.label) {
        this.feet[i].setIcon(mark(FOOT, one.label, kind));
        this.feet[i].kind = kind + one.label;
      }
      this.feet[i].setLatLng([now.lat, now.lon]);
      if (i === lens) this.sight.setLatLngs([[now.lat, now.lon], [night.subject.lat + dlat, night.subject.lon + dlon]]);
    });
    if (night.at(lens, time).lat === null) this.sight.setLatLngs([]);
    this.spread();
  }

  // No label over another: each takes the first of its sides that is free, the one in hand first.
  spread() {
    const middle = (marker) => this.map.latLngToContainerPoint(marker.getLatLng());
    // The signs themselves are in the way too, all but a label's own.
    const signs = [this.subject, ...this.feet, this.kept].filter(Boolean).map((marker) => [marker, middle(marker)]).map(([marker, at]) => [at.x - 8, at.y - 8, 16, 16, marker]);
    const taken = [];
    const put = (marker, sides) => {
      const label = marker?.getElement()?.querySelector("span");
      if (!label) return;
      const at = middle(marker);
      const inTheWay = [...taken, ...signs.filter((one) => one[4] !== marker)];
      const wide = 8.4 * label.textContent.length;
      const boxes = sides.map(([x, y]) => [x < 0 ? at.x + x - wide : at.x + x, at.y + y, wide, 16, x, y]);
      const free = boxes.find((b) => !inTheWay.some((t) => b[0] < t[0] + t[2] && t[0] < b[0] + b[2] && b[1] < t[1] + t[3] && t[1] < b[1] + b[3])) ?? boxes[0];
      taken.push(free);
      label.style.left = free[4] < 0 ? "auto" : `${free[4]}px`;
      label.style.right = free[4] < 0 ? `${-free[4]}px` : "auto";
      label.style.top = `${free[5]}px`;
    };
    const sides = [[12, -7], [-12, -7], [12, -24], [-12, -24], [12, 9], [-12, 9], [34, -7], [-34, -7], [12, -41], [-12, -41], [12, 26], [-12, 26], [34, -24], [-34, -24], [34, 9], [-34, 9]];
    const order = this.feet.map((foot, i) => i).sort((a, b) => (b === this.lens) - (a === this.lens));
    put(this.subject, [[12, -7], [12, 6], [-12, -7]]);
    for (const i of order) put(this.feet[i], sides);
    put(this.kept, sides);
  }

  // The place that was tried, and what it gives.
  keepPlace(at, text) {
    this.kept?.remove();
    this.kept = at ? L.marker(at, { icon: mark(FOOT, text, "kept"), interactive: false, keyboard: false }).addTo(this.map) : null;
    this.spread();
  }
}
