// The ground that was chosen, to put the subject on by a click.
/* global L */

const POST = '<svg width="18" height="18" viewBox="-9 -9 18 18"><rect x="-4" y="-8" width="8" height="12" fill="currentColor"/><path d="M-8 5H8" stroke="currentColor" stroke-width="3"/></svg>';

export class FirstMap {
  constructor(box, onPlace) {
    this.box = box;
    this.onPlace = onPlace;
    this.key = null;
  }

  // The tiles of a ground, or of another one in its place.
  show(ground, at) {
    if (ground && ground.key !== this.key) this.lay(ground);
    if (!this.map) return;
    if (!at) { this.subject?.remove(); this.subject = undefined; return; }
    const [lat, lon] = at;
    if (!this.subject) {
      const icon = document.createElement("div");
      icon.className = "spot subject inhand";
      icon.innerHTML = POST;
      this.subject = L.marker([lat, lon], { draggable: true, icon: L.divIcon({ html: icon, className: "", iconSize: [0, 0] }), title: "The subject; drag it", alt: "Subject" }).addTo(this.map);
      this.subject.on("dragend", () => this.onPlace(this.subject.getLatLng()));
    }
    this.subject.setLatLng([lat, lon]);
    if (!this.map.getBounds().contains([lat, lon])) this.map.setView([lat, lon], Math.max(this.map.getZoom(), 13), { animate: false });
  }

  lay(ground) {
    if (!this.map) {
      this.map = L.map(this.box, { attributionControl: false, zoomSnap: 0.5, maxZoom: 19 });
      L.control.scale({ imperial: false, maxWidth: 160 }).addTo(this.map);
      this.map.on("click", (event) => this.onPlace(event.latlng));
      this.box.addEventListener("keydown", (event) => {
        if (event.key === "Enter" && event.target === this.box) this.onPlace(this.map.getCenter());
      });
    }
    this.tiles?.remove();
    this.tiles = L.tileLayer(`/api/first/tiles/{z}/{x}/{y}.webp?ground=${ground.key}`, { minZoom: ground.least_zoom, maxZoom: 19, bounds: ground.bounds }).addTo(this.map);
    this.map.setMinZoom(ground.least_zoom);
    this.map.fitBounds(ground.bounds, { animate: false });
    this.key = ground.key;
  }
}
