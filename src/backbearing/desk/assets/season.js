// The season: a thin column a night, its height the good minutes.
import { element, widthOf } from "/script/profile.js";

const HIGH = 46;

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
    box.addEventListener("pointerleave", () => this.tell(this.nights?.[this.at]));
    box.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
      if (!way || !this.nights) return;
      event.preventDefault();
      this.choose(this.at + way * (event.shiftKey ? 7 : 1));
    });
  }

  // By keyboard: the mark goes along at once, the night is asked for after a pause.
  choose(at) {
    this.at = Math.min(this.nights.length - 1, Math.max(0, at));
    this.mark();
    clearTimeout(this.later);
    this.later = setTimeout(() => this.onNight(this.nights[this.at].evening), 400);
  }

  mark() {
    const night = this.nights[this.at];
    if (!night) return;
    this.frame.setAttribute("x", this.at * this.step - 1);
    this.tell(night);
    this.box.setAttribute("aria-valuemin", "0");
    this.box.setAttribute("aria-valuemax", String(this.nights.length - 1));
    this.box.setAttribute("aria-valuenow", String(this.at));
    this.box.setAttribute("aria-valuetext", this.said(night));
  }

  under(event) {
    if (!this.nights) return null;
    const edges = this.box.getBoundingClientRect();
    const share = (event.clientX - edges.left) / edges.width;
    return this.nights[Math.floor(share * this.nights.length)] ?? null;
  }

  tell(night) {
    if (night) this.says.textContent = this.said(night);
  }

  // In words: what is left of the night, what the Moon takes, or why there is nothing.
  said(night) {
    const [good, clear] = [Math.round(night.minutes ?? 0), Math.round(night.clear_minutes ?? 0)];
    if (good <= 0) return `${night.label}: none; ${night.why_not}`;
    const moon = clear - good >= 1 ? `, ${clear} without the Moon` : ", no Moon in them";
    return `${night.label}: ${good} good minutes${moon}`;
  }

  draw(nights, evening) {
    this.nights = nights;
    const WIDE = widthOf(this.box);
    const most = Math.max(60, ...nights.map((night) => night.clear_minutes || 0));
    const wide = WIDE / nights.length;
    const good = nights.filter((night) => night.minutes > 0).length;
    const picture = element("svg", { viewBox: `0 0 ${WIDE} ${HIGH + 16}`, "aria-hidden": "true" });
    nights.forEach((night, i) => {
      const bar = (minutes, fill) => {
        const high = (Math.max(0, minutes || 0) / most) * HIGH;
        picture.append(element("rect", { x: i * wide + 0.5, y: HIGH - high, width: Math.max(1, wide - 1.5), height: high, fill }));
      };
      bar(night.clear_minutes, "var(--night)");
      bar(night.minutes, "var(--good)");
      if (!(night.minutes > 0)) picture.append(element("rect", { x: i * wide + 0.5, y: HIGH - 3, width: Math.max(1, wide - 1.5), height: 3, fill: "var(--cannot)" }));
      if (night.evening.endsWith("-01")) {
        const name = new Date(`${night.evening}T00:00:00Z`).toLocaleDateString("en-GB", { month: "long", timeZone: "UTC" });
        picture.append(element("text", { x: i * wide, y: HIGH + 14, fill: "var(--soft)", "font-size": 14 }, name));
      }
    });
    picture.append(element("line", { x1: 0, x2: WIDE, y1: HIGH, y2: HIGH, stroke: "var(--ink)" }));
    this.step = wide;
    this.frame = element("rect", { y: 0, width: wide + 2, height: HIGH, fill: "none", stroke: "var(--now)", "stroke-width": 3 });
    picture.append(this.frame);
    this.box.replaceChildren(picture);
    this.box.setAttribute("aria-label", `Night; ${good} of ${nights.length} have good minutes`);
    this.at = Math.max(0, nights.findIndex((night) => night.evening === evening));
    this.mark();
  }
}
