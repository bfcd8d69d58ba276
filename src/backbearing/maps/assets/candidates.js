"use strict";
/* The packed ranking, and the layer that draws thousands of subjects on one canvas. */
async function unpackRanking(text) {
  if (typeof DecompressionStream === "undefined") throw new Error("This browser is too old to open the packed list on this page; any browser from 2023 on does it.");
  const bytes = Uint8Array.from(atob(text.trim()), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const all = new Uint8Array(await new Response(stream).arrayBuffer());
  const length = new DataView(all.buffer).getUint32(0, true);
  const told = JSON.parse(new TextDecoder().decode(all.subarray(4, 4 + length)));
  const table = all.subarray(4 + length), n = told.lat.length, nights = told.nights.length;
  /* One row of minutes for each lens, or one alone: that of each night's best lens. */
  const lenses = n ? Math.round(table.length / (n * nights)) : 0;
  told.count = n;
  told.minutes = (i, night, lens) => table[(lens * nights + night) * n + i] * told.step;
  /* Most minutes of any asked lens in a night; -1 asks for any. */
  told.inNight = (i, night, lens) => {
    if (lens >= 0) return told.minutes(i, night, lens);
    let most = 0;
    for (let k = 0; k < lenses; k++) most = Math.max(most, told.minutes(i, night, k));
    return most;
  };
  told.best = (i, night, lens) => {
    if (night >= 0) return told.inNight(i, night, lens);
    let most = 0;
    for (let d = 0; d < nights; d++) most = Math.max(most, told.inNight(i, d, lens));
    return most;
  };
  return told;
}

/* Marks are small peaks: the better the score, the taller and the darker. */
const MarkLayer = L.Layer.extend({
  initialize(told, chosen) { this.told = told; this.chosenRow = -1; this.order = []; this.rest = []; this.none = []; this.pick = chosen; },
  onAdd(map) {
    this.canvas = L.DomUtil.create("canvas", "candidates leaflet-zoom-hide", map.getPanes().overlayPane);
    this.canvas.setAttribute("aria-hidden", "true");
    map.on("move zoomend viewreset resize", this.draw, this);
    map.on("click", this.click, this);
    map.on("mousemove", this.hover, this);
    const n = this.told.count, x = new Float64Array(n), y = new Float64Array(n);
    for (let i = 0; i < n; i++) { const p = map.options.crs.project(L.latLng(this.told.lat[i], this.told.lon[i])); x[i] = p.x; y[i] = p.y; }
    this.x = x; this.y = y; this.px = new Float32Array(n); this.py = new Float32Array(n);
    this.draw();
  },
  show(order, rest, none) { this.order = order; this.rest = rest; this.none = none; this.draw(); },
  choose(row) { this.chosenRow = row; this.draw(); },
  place() {
    const map = this._map, size = map.getSize(), ratio = devicePixelRatio || 1, canvas = this.canvas;
    if (canvas.width !== size.x * ratio || canvas.height !== size.y * ratio) {
      canvas.width = size.x * ratio; canvas.height = size.y * ratio;
      canvas.style.width = size.x + "px"; canvas.style.height = size.y + "px";
    }
    L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
    const crs = map.options.crs, zoom = map.getZoom(), at = map.getPixelBounds().min;
    const zero = crs.transformation.transform(L.point(0, 0), crs.scale(zoom)), one = crs.transformation.transform(L.point(1, 1), crs.scale(zoom));
    const kx = one.x - zero.x, ky = one.y - zero.y;
    for (let i = 0; i < this.px.length; i++) { this.px[i] = this.x[i] * kx + zero.x - at.x; this.py[i] = this.y[i] * ky + zero.y - at.y; }
    this.size = size;
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, size.x, size.y);
    return pen;
  },
  seen(i) { const x = this.px[i], y = this.py[i]; return x > -20 && y > -20 && x < this.size.x + 20 && y < this.size.y + 20; },
  draw() {
    if (!this._map) return;
    const pen = this.place(), tone = getComputedStyle(document.documentElement);
    const frame = tone.getPropertyValue("--frame"), go = tone.getPropertyValue("--go"), ink = tone.getPropertyValue("--ink"), halo = tone.getPropertyValue("--halo");
    /* Where marks would lie on one another the best-placed is drawn, and the others as dots. */
    const taken = new Set(), kept = [], dots = [];
    for (const i of this.order) {
      if (!this.seen(i)) continue;
      const a = Math.round(this.px[i] / 13), b = Math.round(this.py[i] / 15);
      if (taken.has(a * 8192 + b)) dots.push(i);
      else { kept.push(i); for (let u = -1; u < 2; u++) for (let v = -1; v < 2; v++) taken.add((a + u) * 8192 + b + v); }
    }
    pen.lineWidth = 1.4; pen.strokeStyle = frame; pen.beginPath();
    const free = (i) => this.seen(i) && !taken.has(Math.round(this.px[i] / 13) * 8192 + Math.round(this.py[i] / 15));
    for (const i of this.none) if (free(i)) { pen.moveTo(this.px[i] - 3.5, this.py[i]); pen.lineTo(this.px[i] + 3.5, this.py[i]); }
    for (const i of this.rest) if (free(i)) this.peak(pen, i, 7, 3.6);
    pen.stroke();
    pen.fillStyle = go; pen.globalAlpha = 0.6;
    for (const i of dots) pen.fillRect(this.px[i] - 1, this.py[i] - 1, 2, 2);
    pen.globalAlpha = 1;
    /* Four steps of score, the best drawn last and so on top. */
    const steps = [[], [], [], []];
    for (const i of kept.reverse()) steps[Math.max(0, Math.min(3, Math.floor(((this.told.score[i] || 0) - 40) / 13)))].push(i);
    steps.forEach((rows, k) => {
      if (!rows.length) return;
      pen.beginPath();
      for (const i of rows) this.peak(pen, i, 9 + 3.5 * k, 5 + 0.9 * k);
      pen.globalAlpha = 0.55 + 0.15 * k; pen.fillStyle = go; pen.fill(); pen.globalAlpha = 1;
      pen.lineWidth = 1.2; pen.strokeStyle = halo; pen.stroke();
    });
    this.numbers(pen, ink, halo);
  },
  peak(pen, i, tall, half) {
    const x = this.px[i], y = this.py[i];
    pen.moveTo(x - half, y + 3); pen.lineTo(x, y + 3 - tall); pen.lineTo(x + half, y + 3); pen.closePath();
  },
  numbers(pen, ink, halo) {
    pen.font = "700 15px " + getComputedStyle(document.body).fontFamily;
    pen.textAlign = "center"; pen.lineJoin = "round";
    const taken = [];
    this.order.slice(0, 5).forEach((i, k) => {
      if (!this.seen(i)) return;
      const x = this.px[i], y = this.py[i] - 19;
      if (taken.some((t) => Math.abs(t[0] - x) < 14 && Math.abs(t[1] - y) < 16)) return;
      taken.push([x, y]);
      pen.lineWidth = 4; pen.strokeStyle = halo; pen.strokeText(String(k + 1), x, y);
      pen.fillStyle = ink; pen.fillText(String(k + 1), x, y);
    });
    const c = this.chosenRow;
    if (c < 0) return;
    pen.lineWidth = 5; pen.strokeStyle = halo; pen.strokeRect(this.px[c] - 13, this.py[c] - 17, 26, 26);
    pen.lineWidth = 2.4; pen.strokeStyle = ink; pen.strokeRect(this.px[c] - 13, this.py[c] - 17, 26, 26);
  },
  nearest(at, reach) {
    let row = -1, least = reach * reach;
    for (const rows of [this.none, this.rest, this.order]) for (const i of rows) {
      const dx = this.px[i] - at.x, dy = this.py[i] - 4 - at.y, d = dx * dx + dy * dy;
      if (d <= least) { least = d; row = i; }
    }
    return row;
  },
  click(event) { const row = this.nearest(event.containerPoint, 20); if (row >= 0) this.pick(row); },
  hover(event) { this._map.getContainer().classList.toggle("over", this.nearest(event.containerPoint, 10) >= 0); },
});
