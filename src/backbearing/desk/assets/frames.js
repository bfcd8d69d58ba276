// What each lens sees: all lenses side by side, at one size of the subject's share.
import { ask } from "/script/ask.js";
import { Hold } from "/script/hold.js";
import { paint } from "/script/paint.js";

const WHY = { twilight: "twilight", moon: "Moon", ridge: "behind the ridge", horizon: "below the horizon", frame: "too high or wide for the frame", subject: "hidden by the subject", "unknown ground": "ground unknown", "no stand": "no stand" };

export const reason = (limits) => limits.map((limit) => WHY[limit] || limit).join(", ");

export function shutter(seconds) {
  if (seconds === null || seconds === undefined) return "–";
  return seconds >= 0.4 ? `${Number(seconds.toFixed(1))} s` : `1/${Math.round(1 / seconds)} s`;
}

const made = (name, className = "") => Object.assign(document.createElement(name), { className });

export class Frames {
  constructor(box, onLens, onFraming) {
    this.box = box;
    this.onLens = onLens;
    this.onFraming = onFraming;
    this.rows = [];
    new ResizeObserver(() => this.rows.forEach((row) => row.frame && this.show(row))).observe(box);
  }

  draw(night, lens) {
    if (this.rows.length !== night.lenses.length) {
      this.rows = night.lenses.map((one, i) => this.row(i));
      this.box.replaceChildren(...this.rows.map((row) => row.figure));
      this.box.dataset.columns = night.lenses.length > 4 ? 3 : Math.min(2, night.lenses.length);
    }
    this.lens = lens;
    this.rows.forEach((row, i) => {
      row.figure.classList.toggle("inhand", i === lens);
      row.name.setAttribute("aria-pressed", String(i === lens));
      row.name.textContent = night.lenses[i].label;
      row.glass.style.aspectRatio = String(night.aspect);
      row.edge = night.framing.edge_margin;
      row.hold.inHand(i === lens);
    });
  }

  row(i) {
    const row = { figure: made("figure"), glass: made("div", "glass waiting"), canvas: made("canvas"), cuts: made("div", "cuts"), why: made("p", "why"), name: made("button"), far: made("b"), aim: made("span"), time: made("span") };
    const says = made("figcaption");
    row.canvas.setAttribute("role", "img");
    row.name.type = "button";
    row.aim.title = "where the camera aims, by compass";
    row.time.title = "longest shutter for round stars";
    row.glass.append(row.canvas, row.cuts, row.why);
    says.append(row.name, row.far, row.aim, row.time);
    row.figure.append(row.glass, says);
    row.hold = new Hold(row, (key, value, done) => this.onFraming(key, value, done), () => this.show(row));
    row.figure.addEventListener("click", () => this.lens !== i && this.onLens(i));
    return row;
  }

  turn(night, time) {
    this.rows.forEach((row, i) => {
      const now = night.at(i, time);
      row.far.textContent = now.distance === null ? "–" : `${now.distance.toFixed(1)} m`;
      row.aim.textContent = now.bearing === null ? "–" : `${night.compass(now.bearing)}`;
      row.why.textContent = now.usable ? "" : reason(now.limits);
      row.canvas.setAttribute("aria-label", `${night.lenses[i].label} at ${night.clock(time)}: ${row.far.textContent}${now.usable ? "" : `, ${row.why.textContent}`}`);
    });
  }

  // All lenses in one question; null when a newer one has overtaken it.
  async settle(changes, time, red) {
    const found = await ask("frames", "/api/frames", { changes, time, red: red ? 1 : 0 });
    if (!found) return null;
    found.frames.forEach((frame, i) => {
      const row = this.rows[i];
      if (!row) return;
      row.frame = frame ?? row.frame;
      row.figure.classList.toggle("off", !frame);
      row.glass.classList.remove("waiting");
      row.time.textContent = frame ? shutter(frame.shutter_s) : "–";
      if (frame) this.show(row);
    });
    return found.stands;
  }

  show(row) {
    if (!row.frame || !row.canvas.clientWidth) return;
    paint(row.canvas, row.frame, row.hold.held);
    row.hold.place(row.frame);
    this.cut(row);
  }

  // Ticks on the frame's own edge: what a longer lens would keep, held alike.
  cut(row) {
    const ticks = row.frame.cuts.flatMap(([label, [left, low, right, high]], i) => {
      const name = label.replace(" mm", "");
      const tick = (side, edge, share, said = "") => {
        const one = made("i", side);
        one.style[edge] = `${(100 * share).toFixed(2)}%`;
        if (said) one.append(Object.assign(made("span"), { textContent: said }));
        return one;
      };
      return [tick("top", "left", left, i % 2 ? name : ""), tick("top", "left", right, i % 2 ? "" : name), tick("side", "bottom", low), tick("side", "bottom", high)];
    });
    row.cuts.replaceChildren(...ticks);
  }
}
