"use strict";
/* A layer of labels that keep out of one another's way. An item is
   {at: [lat, lon], text, cls, rank, offsets: [[dx, dy, lean x, lean y], ...], turn, from, to, box,
   apart, act}: the lowest rank is placed first, at the first offset that is free and in view;
   one that finds no free place is left out until the map is moved or zoomed. The lean says
   which side of the offset point the label lies on, each from -1 to 1. */
const LabelLayer = L.Layer.extend({
  initialize() { this.groups = new Map(); this.pen = document.createElement("canvas").getContext("2d"); },
  onAdd(map) {
    this.pane = map.getPane("labels");
    map.on("zoomend moveend resize", this.lay, this);
  },
  onRemove(map) { map.off("zoomend moveend resize", this.lay, this); this.pane.replaceChildren(); },
  set(name, items) { this.groups.set(name, items); },
  font(cls) {
    this.fonts ??= new Map();
    if (!this.fonts.has(cls)) {
      const probe = document.createElement("span");
      probe.className = "tag " + cls;
      this.pane.append(probe);
      const style = getComputedStyle(probe);
      this.fonts.set(cls, { font: `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`, high: parseFloat(style.lineHeight) + 2 * parseFloat(style.paddingTop), pad: 2 * parseFloat(style.paddingLeft) });
      probe.remove();
    }
    return this.fonts.get(cls);
  },
  size(item) {
    if (item.box) return item.box;
    if (!item.wide) {
      const look = this.font(item.cls.split(" ")[0]);
      this.pen.font = look.font;
      item.wide = [this.pen.measureText(item.text).width + look.pad + 2, look.high];
    }
    return item.wide;
  },
  lay() {
    if (!this._map) return;
    const zoom = this._map.getZoom(), view = this._map.getPixelBounds(), origin = this._map.getPixelOrigin();
    const low = view.min.subtract(origin), high = view.max.subtract(origin);
    const waiting = [];
    for (const items of this.groups.values()) for (const item of items) {
      if (zoom < (item.from ?? 0) || zoom >= (item.to ?? 99)) continue;
      const p = this._map.latLngToLayerPoint(item.at);
      if (p.x < low.x - 60 || p.x > high.x + 60 || p.y < low.y - 30 || p.y > high.y + 30) continue;
      waiting.push([item, p]);
    }
    waiting.sort((a, b) => a[0].rank - b[0].rank);
    const taken = this.furniture(low), shown = [];
    for (const [item, p] of waiting) {
      const spot = this.place(item, p, taken, low, high);
      if (!spot) continue;
      taken.push({ ...spot.rect, apart: item.apart ?? 0, cls: item.cls });
      if (item.text) shown.push(this.draw(item, spot));
    }
    this.pane.replaceChildren(...shown);
  },
  /* What lies over the map: buttons, north mark, scale. */
  furniture(low) {
    const box = this._map.getContainer().getBoundingClientRect();
    return [...document.querySelectorAll(".views, .tools, .north, .leaflet-control-scale")].map((part) => {
      const r = part.getBoundingClientRect();
      return { left: low.x + r.left - box.left, right: low.x + r.right - box.left, top: low.y + r.top - box.top, bottom: low.y + r.bottom - box.top };
    });
  },
  place(item, p, taken, low, high) {
    const [w, h] = this.size(item), turn = (item.turn ?? 0) * Math.PI / 180;
    const half = [(Math.abs(w * Math.cos(turn)) + Math.abs(h * Math.sin(turn))) / 2, (Math.abs(w * Math.sin(turn)) + Math.abs(h * Math.cos(turn))) / 2];
    for (const [dx, dy, leanX, leanY] of item.offsets ?? [[0, 0]]) {
      const x = p.x + dx + (leanX ?? Math.sign(dx)) * half[0], y = p.y + dy + (leanY ?? Math.sign(dy)) * half[1];
      const rect = { left: x - half[0], right: x + half[0], top: y - half[1], bottom: y + half[1] };
      if (item.text && (x - half[0] < low.x + 2 || x + half[0] > high.x - 2 || y - half[1] < low.y + 1 || y + half[1] > high.y - 1)) continue;
      const clash = taken.some((t) => {
        const gap = t.cls === item.cls ? item.apart ?? 1 : 1;
        return rect.left < t.right + gap && rect.right > t.left - gap && rect.top < t.bottom + gap && rect.bottom > t.top - gap;
      });
      if (!clash || item.always) return { rect, x: x - w / 2, y: y - h / 2, turn: item.turn ?? 0 };
    }
    return null;
  },
  draw(item, spot) {
    const tag = document.createElement("span");
    tag.className = "tag leaflet-zoom-hide " + item.cls;
    tag.dir = "auto";
    tag.textContent = item.text;
    tag.style.transform = `translate(${Math.round(spot.x)}px, ${Math.round(spot.y)}px) rotate(${spot.turn}deg)`;
    if (item.act) tag.addEventListener("click", item.act);
    return tag;
  },
});
