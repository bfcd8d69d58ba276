// The season: a thin column a night, its height the good minutes.
import { element, widthOf } from "/script/profile.js";

const HIGH = 64;

export class Season {
  constructor(box, says, onNight) {
    this.box = box;
    this.says = says;
    this.onNight = onNight;
    box.addEventListener("click", (event) => {
      const night = this.under(event);
      if (night) this.onNight(night.evening);
    });
    box.addEventListener("pointermove", (event) => this.tell(this.under(event)));
  }

  under(event) {
    if (!this.nights) return null;
    const edges = this.box.getBoundingClientRect();
    const share = (event.clientX - edges.left) / edges.width;
    return this.nights[Math.floor(share * this.nights.length)] ?? null;
  }

  tell(night) {
    if (!night) return;
    this.says.textContent = night.minutes > 0
      ? `${night.label}: ${Math.round(night.minutes)} minutes`
      : `${night.label}: ${night.why_not}`;
  }

  draw(nights, evening) {
    this.nights = nights;
    const WIDE = widthOf(this.box);
    const most = Math.max(60, ...nights.map((night) => night.clear_minutes || 0));
    const wide = WIDE / nights.length;
    const good = nights.filter((night) => night.minutes > 0).length;
    const picture = element("svg", { viewBox: `0 0 ${WIDE} ${HIGH + 16}`, role: "img", "aria-label": `${good} of ${nights.length} nights have good minutes` });
    nights.forEach((night, i) => {
      const bar = (minutes, fill) => {
        const high = (Math.max(0, minutes || 0) / most) * HIGH;
        picture.append(element("rect", { x: i * wide + 0.5, y: HIGH - high, width: Math.max(1, wide - 1.5), height: high, fill }));
      };
      bar(night.clear_minutes, "var(--night)");
      bar(night.minutes, "var(--good)");
      if (night.evening === evening) {
        picture.append(element("rect", { x: i * wide - 1, y: 0, width: wide + 2, height: HIGH, fill: "none", stroke: "var(--now)", "stroke-width": 3 }));
      }
      if (night.evening.endsWith("-01")) {
        const name = new Date(`${night.evening}T00:00:00Z`).toLocaleDateString("en-GB", { month: "long", timeZone: "UTC" });
        picture.append(element("text", { x: i * wide, y: HIGH + 14, fill: "var(--soft)", "font-size": 14 }, name));
      }
    });
    picture.append(element("line", { x1: 0, x2: WIDE, y1: HIGH, y2: HIGH, stroke: "var(--ink)" }));
    this.box.replaceChildren(picture);
    this.tell(nights.find((night) => night.evening === evening));
  }
}
