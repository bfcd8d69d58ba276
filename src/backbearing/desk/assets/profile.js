// The night's profile: clock across, altitude up; the ridge as it stands under the target.
const BELOW = 26;

// Drawn at the size it is shown at, so that its letters are as large as the page's.
export const widthOf = (box) => Math.max(280, Math.round(box.clientWidth || 1000));

const element = (name, facts = {}, text = "") => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(facts)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
};

export class Profile {
  constructor(box, rows, onTime) {
    this.box = box;
    this.rows = rows;
    this.onTime = onTime;
    box.addEventListener("pointerdown", (event) => this.drag(event));
    box.addEventListener("pointermove", (event) => event.buttons && this.drag(event));
  }

  drag(event) {
    if (!this.night) return;
    const edges = this.box.getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (event.clientX - edges.left) / edges.width));
    const time = this.night.start + share * (this.night.end - this.night.start);
    this.onTime(Math.round(time / 60) * 60);
  }

  x(time) { return ((time - this.night.start) / (this.night.end - this.night.start)) * this.wide; }

  draw(night, lens) {
    this.night = night;
    this.lens = lens;
    this.wide = widthOf(this.box);
    this.high = this.wide < 600 ? 170 : 230;
    const [WIDE, HIGH] = [this.wide, this.high];
    const points = night.lenses[lens].points;
    const known = points.flatMap((p) => [p[5], p[6]]).filter((v) => v !== null);
    const top = Math.min(90, Math.max(20, Math.ceil((Math.max(0, ...known) + 4) / 10) * 10));
    const low = Math.min(0, Math.max(-10, Math.floor(Math.min(0, ...known) / 5) * 5));
    this.y = (altitude) => HIGH - ((altitude - low) / (top - low)) * (HIGH - 12);
    const picture = element("svg", { viewBox: `0 0 ${WIDE} ${HIGH + BELOW}`, role: "img", "aria-label": this.said(night, lens) });
    picture.append(element("rect", { x: 0, y: 0, width: WIDE, height: HIGH, fill: "var(--paper)" }));
    for (const [spans, fill] of [[night.sunless, "var(--dusk)"], [night.dark, "var(--night)"]]) {
      for (const [from, to] of spans) {
        const a = this.x(Math.max(from, night.start));
        const b = this.x(Math.min(to, night.end));
        if (b > a) picture.append(element("rect", { x: a, y: 0, width: b - a, height: HIGH, fill }));
      }
    }
    for (let up = Math.ceil(low / 10) * 10; up < top; up += 10) {
      picture.append(element("line", { x1: 0, x2: WIDE, y1: this.y(up), y2: this.y(up), stroke: "var(--rule)", "stroke-width": 1 }));
      picture.append(element("text", { x: 4, y: this.y(up) - 3, fill: "var(--soft)", "font-size": 14 }, `${up}°`));
    }
    picture.append(element("path", { d: this.area(points, low), fill: "var(--land)" }));
    for (const [from, to] of night.lenses[lens].usable) {
      const inside = this.path(night, (p) => p[5], from, to);
      picture.append(element("path", { d: inside, fill: "none", stroke: "var(--good)", "stroke-width": 9, opacity: 0.45 }));
    }
    picture.append(element("path", { d: this.path(night, (p) => p[5]), fill: "none", stroke: "var(--target)", "stroke-width": 3 }));
    this.hours(picture, night);
    this.line = element("line", { y1: 0, y2: HIGH, stroke: "var(--now)", "stroke-width": 4 });
    this.dot = element("circle", { r: 8, fill: "var(--sheet)", stroke: "var(--now)", "stroke-width": 4 });
    picture.append(this.line, this.dot);
    this.box.replaceChildren(picture);
    this.drawRows(night, lens);
  }

  said(night, lens) {
    const spans = night.lenses[lens].usable.map(([a, b]) => `${night.clock(a)} to ${night.clock(b)}`);
    return `${night.target} over the ridge for the ${night.lenses[lens].label} lens; it works ${spans.join(" and ") || "at no minute"}.`;
  }

  path(night, value, from = -Infinity, to = Infinity) {
    let made = "";
    let down = true;
    night.times.forEach((time, i) => {
      const up = value(night.lenses[this.lens].points[i]);
      if (up === null || time < from || time > to) { down = true; return; }
      made += `${down ? "M" : "L"}${this.x(time).toFixed(1)} ${this.y(Math.max(up, -12)).toFixed(1)}`;
      down = false;
    });
    return made;
  }

  area(points, low) {
    const top = this.night.times.map((time, i) => `${this.x(time).toFixed(1)} ${this.y(points[i][6] ?? low).toFixed(1)}`);
    return `M0 ${this.high}L${top.join("L")}L${this.wide} ${this.high}Z`;
  }

  hours(picture, night) {
    const [HIGH, WIDE] = [this.high, this.wide];
    const step = WIDE < 520 ? 7200 : 3600;
    const first = Math.ceil(night.start / step) * step;
    for (let time = first; time < night.end; time += step) {
      if (this.x(time) < 24 || this.x(time) > WIDE - 24) continue;
      const x = this.x(time);
      picture.append(element("line", { x1: x, x2: x, y1: HIGH, y2: HIGH + 6, stroke: "var(--ink)" }));
      picture.append(element("text", { x, y: HIGH + 21, fill: "var(--ink)", "font-size": 16, "text-anchor": "middle" }, night.clock(time)));
    }
  }

  drawRows(night, chosen) {
    const high = 22;
    const picture = element("svg", { viewBox: `0 0 ${this.wide} ${high * night.lenses.length}`, "aria-hidden": "true" });
    night.lenses.forEach((lens, i) => {
      const y = i * high;
      for (const [from, to] of lens.usable) {
        picture.append(element("rect", { x: this.x(from), y: y + 5, width: Math.max(2, this.x(to) - this.x(from)), height: 12, fill: "var(--good)", opacity: i === chosen ? 1 : 0.5 }));
      }
      picture.append(element("text", { x: 4, y: y + 16, fill: i === chosen ? "var(--now)" : "var(--soft)", "font-size": 15, "font-weight": i === chosen ? 700 : 400 }, lens.label));
    });
    this.rows.replaceChildren(picture);
  }

  turn(time) {
    if (!this.line) return;
    const x = this.x(time);
    this.line.setAttribute("x1", x);
    this.line.setAttribute("x2", x);
    const { altitude } = this.night.at(this.lens, time);
    this.dot.setAttribute("cx", x);
    this.dot.setAttribute("cy", altitude === null ? this.high : this.y(altitude));
  }
}

export { element };
