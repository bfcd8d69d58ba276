// The land on the map: ways, water, woods and names of the user's own extract, and online tiles on request.
/* global L */
import { ask } from "/script/ask.js";
import { ground, trouble } from "/script/desk.js";

const AREAS = ["wood", "water", "building"];
const LINES = ["stream", "path", "track", "lane", "road"];
const WEIGHTS = { road: 3, lane: 1.6, track: 1.4, path: 1.2, stream: 1.4 };
const map = ground.map;

function within(text, kind) {
  const box = document.createElement(kind);
  box.textContent = text;
  return box;
}

const tools = document.createElement("div");
tools.className = "map-switches";
document.querySelector("section.ground").append(tools);
L.DomEvent.disableClickPropagation(tools);

const north = within("N", "p");
north.className = "north";
north.setAttribute("aria-label", "North is at the top");
north.setAttribute("role", "img");
document.querySelector("section.ground").append(north);

const credit = document.createElement("span");
credit.id = "credit-land";
const online = document.createElement("span");
online.id = "credit-online";

class Land {
  constructor() {
    map.createPane("land").style.zIndex = 250;
    map.createPane("land-names").style.zIndex = 430;
    for (const name of ["land", "land-names"]) map.getPane(name).style.pointerEvents = "none";
    this.renderer = L.svg({ pane: "land", padding: 0.3 });
    this.shapes = L.layerGroup();
    this.names = L.layerGroup();
    this.on = true;
    map.on("moveend", () => this.later());
  }

  later() {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.load().catch(trouble), 120);
  }

  async load() {
    if (!this.on) return;
    const view = map.getBounds().pad(0.25);
    const zoom = Math.round(map.getZoom());
    const turn = 360 * Math.round(map.getCenter().lng / 360);
    const asked = {
      zoom,
      west: view.getWest() - turn,
      east: view.getEast() - turn,
      south: Math.max(-85, view.getSouth()),
      north: Math.min(85, view.getNorth()),
    };
    const found = await ask("land", "/api/land", asked);
    if (!found || !this.on) return;
    this.draw(found, turn);
  }

  draw(found, turn) {
    const moved = (line) => (turn ? line.map(([lat, lon]) => [lat, lon + turn]) : line);
    this.shapes.clearLayers();
    for (const kind of AREAS) {
      if (!found.kinds[kind]) continue;
      // One path a kind: the page stays quick however many there are.
      L.polygon(found.kinds[kind].map((ring) => [moved(ring)]), this.style(kind, 0)).addTo(this.shapes);
    }
    for (const kind of LINES) {
      if (!found.kinds[kind]) continue;
      const lines = found.kinds[kind].map(moved);
      if (kind === "road") L.polyline(lines, this.style("road-edge", 5)).addTo(this.shapes);
      L.polyline(lines, this.style(kind, WEIGHTS[kind])).addTo(this.shapes);
    }
    this.drawNames(found.names, turn);
    this.shapes.addTo(map);
    this.names.addTo(map);
    const lost = found.left_out ? `; ${found.left_out} small things not drawn` : "";
    document.getElementById("credit").append(credit, online);
    credit.textContent = found.credit ? `. ${found.credit.replace(/\.$/, "")} (${found.source})${lost}` : "";
  }

  style(kind, weight) {
    return { pane: "land", renderer: this.renderer, className: `land ${kind}`, weight, stroke: weight > 0, fill: weight === 0, interactive: false, smoothFactor: 0 };
  }

  // The first come; a name that would lie on another is left out.
  drawNames(names, turn) {
    this.names.clearLayers();
    const taken = [];
    for (const one of names) {
      const at = map.latLngToLayerPoint([one.lat, one.lon + turn]);
      const half = one.name.length * 3.8 + 6;
      const box = [at.x - half, at.y - 10, at.x + half, at.y + 10];
      if (taken.some((b) => box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1])) continue;
      taken.push(box);
      const label = within(one.name, "span");
      label.className = `land-name rank-${one.rank}`;
      const icon = L.divIcon({ html: label, className: "", iconSize: [0, 0] });
      L.marker([one.lat, one.lon + turn], { icon, pane: "land-names", interactive: false, keyboard: false }).addTo(this.names);
    }
  }

  turn(on) {
    this.on = on;
    if (on) { this.later(); return; }
    this.shapes.remove();
    this.names.remove();
    credit.textContent = "";
  }
}

function press(text, pressed, onPress) {
  const button = within(text, "button");
  button.type = "button";
  button.setAttribute("aria-pressed", String(pressed));
  button.addEventListener("click", () => {
    const now = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(now));
    onPress(now);
  });
  tools.append(button);
  return button;
}

const land = new Land();

async function offerOnline() {
  const offered = (await ask("online", "/api/online"))?.online;
  if (!offered) return;
  let tiles;
  press("Online map", false, (on) => {
    if (on) {
      tiles ??= L.tileLayer(offered.template, { maxZoom: 19, maxNativeZoom: 17, className: "online" });
      tiles.addTo(map);
    } else {
      tiles?.remove();
    }
    online.textContent = on ? `. ${offered.credit.replace(/\.$/, "")}` : "";
  });
}

// Names of the extract are found too; those of the places file the desk finds itself.
function offerNames() {
  const box = document.getElementById("find");
  const list = document.getElementById("found");
  const spots = new Map();
  const offer = async () => {
    const text = box.value.trim();
    if (text.length < 2) return;
    const answer = await ask("find", "/api/find", { text: text.slice(0, 80) });
    if (!answer) return;
    for (const one of answer.found) {
      if (spots.has(one.name.toLowerCase())) continue;
      spots.set(one.name.toLowerCase(), one);
      list.append(Object.assign(document.createElement("option"), { value: one.name }));
    }
  };
  const go = async () => {
    const wanted = box.value.trim().toLowerCase();
    if (!wanted || ground.places?.some((place) => place.properties.name.toLowerCase() === wanted)) return;
    if (!spots.has(wanted)) await offer();
    const one = spots.get(wanted) ?? [...spots.values()].find((spot) => spot.name.toLowerCase().startsWith(wanted));
    if (one) map.fitBounds(L.latLngBounds(one.bounds).pad(0.3), { animate: false, maxZoom: 16 });
  };
  let waiting;
  box.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => offer().catch(trouble), 150);
  });
  box.addEventListener("change", () => go().catch(trouble));
}

press("Ways and names", true, (on) => land.turn(on));
offerNames();
map.whenReady(() => land.later());
offerOnline().catch(trouble);
