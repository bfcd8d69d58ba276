// The night's profile: clock across, altitude up; the ridge as it stands under the target.
const WORDS = 24;
const ROW = 20;
const BELOW = WORDS + 26;

// Of several things that spoil a minute the first of these names it.
const ORDER = ["no stand", "unknown ground", "horizon", "ridge", "twilight", "moon", "frame", "subject"];
const KINDS = {
  clear: [["clear and dark", "clear"], "good"],
  "no stand": [["no stand"], "cannot"],
  "unknown ground": [["ground unknown", "unknown"], "cannot"],
  horizon: [["below the horizon", "below"], "land"],
  ridge: [["hidden by the ridge", "hidden"], "land"],
  twilight: [["twilight"], "soft"],
  moon: [["Moon too bright", "Moon"], "soft"],
  frame: [["too high for the frame", "too high"], "cannot"],
  subject: [["hidden by the subject", "behind it"], "cannot"],
  other: [["not"], "cannot"],
};

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
    this.onTime(this.timeAt(event.clientX));
  }

  x(time) { return ((time - this.night.start) / (this.night.end - this.night.start)) * this.wide; }

  draw(night, lens) {
    this.night = night;
    this.lens = lens;
    this.wide = widthOf(this.box);
    this.high = this.wide < 600 ? 150 : 134;
    const [WIDE, HIGH] = [this.wide, this.high];
    const points = night.lenses[lens].points;
    const known = points.flatMap((p) => [p[5], p[6]]).filter((v) => v !== null);
    const top = Math.min(90, Math.max(20, Math.ceil((Math.max(0, ...known) + 8) / 10) * 10));
    const low = Math.min(0, Math.max(-10, Math.floor(Math.min(0, ...known) / 5) * 5));
    this.y = (altitude) => HIGH - ((altitude - low) / (top - low)) * (HIGH - 12);
    const picture = element("svg", { viewBox: `0 0 ${WIDE} ${HIGH + BELOW}`, role: "img", "aria-label": this.said(night, lens) });
    this.steps(picture, night);
    const step = top > 50 ? 20 : 10;
    for (let up = Math.ceil(low / step) * step; up < top; up += step) {
      picture.append(element("line", { x1: 0, x2: WIDE, y1: this.y(up), y2: this.y(up), stroke: "var(--rule)", "stroke-width": 1 }));
    }
    this.moon(picture, night, low, top);
    picture.append(element("path", { d: this.area(points, low), fill: "var(--land)" }));
    for (const [from, to] of night.lenses[lens].usable) {
      const inside = this.path(night, (p) => p[5], from, to);
      picture.append(element("path", { d: inside, fill: "none", stroke: "var(--good)", "stroke-width": 9, opacity: 0.45 }));
    }
    picture.append(element("path", { d: this.path(night, (p) => p[5]), fill: "none", stroke: "var(--target)", "stroke-width": 3 }));
    // Over the land, so that a low one can be read.
    for (let up = Math.ceil(low / step) * step; up < top; up += step) {
      picture.append(element("text", { x: 4, y: this.y(up) - 3, class: "up", fill: "var(--ink)", "font-size": 14 }, `${up}°`));
    }
    this.stretches(picture, night, lens);
    this.hours(picture, night);
    this.line = element("line", { y1: 0, y2: HIGH, stroke: "var(--now)", "stroke-width": 4 });
    this.dot = element("circle", { r: 8, fill: "var(--sheet)", stroke: "var(--now)", "stroke-width": 4 });
    picture.append(this.line, this.dot);
    this.box.replaceChildren(picture);
    this.drawRows(night, lens);
  }

  band(picture, from, to, fill, y = 0, high = this.high) {
    const a = this.x(Math.max(from, this.night.start));
    const b = this.x(Math.min(to, this.night.end));
    if (b > a) picture.append(element("rect", { x: a, y, width: b - a, height: high, fill }));
    return [a, b];
  }

  // The Sun's steps, each darker than the one before and named where there is room.
  steps(picture, night) {
    for (const [from, to, name] of night.light.steps) {
      const [a, b] = this.band(picture, from, to, `var(--${name.split(" ")[0]})`);
      const words = this.wide < 600 ? name.split(" ")[0] : name;
      if (b - a > 7.2 * words.length + 8) picture.append(element("text", { x: (a + b) / 2, y: 14, fill: "var(--soft)", "font-size": 14, "text-anchor": "middle" }, words));
    }
  }

  // The Moon's own height as a quiet line, heavier where its light reaches the target's sky.
  moon(picture, night, low, top) {
    const { moon_altitude_deg: up, moon_adds_mag: adds, moon_lit: lit } = night.light;
    const line = (shown) => {
      let made = "";
      let down = true;
      night.times.forEach((time, i) => {
        if (up[i] < low || up[i] > top || !shown(i)) { down = true; return; }
        made += `${down ? "M" : "L"}${this.x(time).toFixed(1)} ${this.y(up[i]).toFixed(1)}`;
        down = false;
      });
      return made;
    };
    picture.append(element("path", { d: line(() => true), fill: "none", stroke: "var(--soft)", "stroke-width": 1.5, "stroke-dasharray": "2 5" }));
    picture.append(element("path", { d: line((i) => (adds[i] ?? 9) > 0.1 && up[i] > 0), fill: "none", stroke: "var(--soft)", "stroke-width": 3, "stroke-dasharray": "2 5" }));
    const at = night.times.findIndex((time, i) => up[i] > low + 3 && up[i] < top - 6 && this.x(time) > 150 && this.x(time) < this.wide - 150);
    const rising = at >= 0 && up[at + 1] > up[at];
    if (at >= 0) picture.append(element("text", { x: this.x(night.times[at]) + (rising ? -8 : 8), y: this.y(up[at]) - 8, fill: "var(--soft)", "font-size": 14, "text-anchor": rising ? "end" : "start" }, `Moon, ${Math.round(100 * lit)} % lit`));
  }

  // What the minutes are for the lens in hand, in words under the drawing.
  stretches(picture, night, lens) {
    const words = this.words(night, lens);
    for (const [from, to, kind] of words) {
      const [a, b] = [this.x(from), this.x(to)];
      const [said, ink] = KINDS[kind];
      picture.append(element("rect", { x: a, y: this.high + 2, width: Math.max(1, b - a - 1), height: WORDS - 4, fill: `var(--${ink})`, opacity: kind === "clear" ? 1 : 0.18 }));
      const fits = said.find((one) => b - a > 7.6 * one.length + 8);
      if (fits) picture.append(element("text", { x: (a + b) / 2, y: this.high + WORDS - 7, fill: kind === "clear" ? "var(--sheet)" : "var(--ink)", "font-size": 14, "text-anchor": "middle" }, fits));
    }
  }

  words(night, lens) {
    const { points, usable } = night.lenses[lens];
    const kindOf = (time, limits) => {
      if (night.isIn(usable, time)) return "clear";
      return ORDER.find((one) => limits.includes(one)) ?? "other";
    };
    const found = [];
    night.times.forEach((time, i) => {
      const kind = kindOf(time, points[i][7]);
      const last = found[found.length - 1];
      if (last && last[2] === kind) { last[1] = time; return; }
      // A stretch that works ends where it was solved to end, the others half way between moments.
      const before = i ? night.times[i - 1] : time;
      const exact = usable.flat().find((edge) => edge > before && edge <= time);
      const edge = i ? exact ?? (before + time) / 2 : time;
      if (last) last[1] = edge;
      found.push([edge, time, kind]);
    });
    return found;
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
      picture.append(element("line", { x1: x, x2: x, y1: HIGH + WORDS, y2: HIGH + WORDS + 5, stroke: "var(--ink)" }));
      picture.append(element("text", { x, y: HIGH + WORDS + 20, fill: "var(--ink)", "font-size": 14, "text-anchor": "middle" }, night.clock(time)));
    }
  }

  drawRows(night, chosen) {
    const picture = element("svg", { viewBox: `0 0 ${this.wide} ${ROW * night.lenses.length}`, role: "group", "aria-label": "When each lens works, and its turn" });
    night.lenses.forEach((lens, i) => {
      const y = i * ROW;
      for (const [from, to] of lens.usable) {
        picture.append(element("rect", { x: this.x(from), y: y + 6, width: Math.max(2, this.x(to) - this.x(from)), height: 8, fill: "var(--good)", opacity: i === chosen ? 1 : 0.5 }));
      }
      picture.append(element("text", { x: 4, y: y + 15, fill: i === chosen ? "var(--now)" : "var(--ink)", "font-size": 14, "font-weight": i === chosen ? 700 : 400 }, lens.label));
    });
    this.rows.replaceChildren(picture);
    this.onRows?.(picture);
  }

  timeAt(clientX) {
    const edges = this.box.getBoundingClientRect();
    const share = Math.min(1, Math.max(0, (clientX - edges.left) / edges.width));
    return Math.round((this.night.start + share * (this.night.end - this.night.start)) / 60) * 60;
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

export { ROW, element };
