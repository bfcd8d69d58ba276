// What each lens sees: one picture a lens, all at one size of the subject's share.
import { askPicture } from "/script/ask.js";

const WHY = { twilight: "twilight", moon: "Moon", ridge: "behind the ridge", horizon: "below the horizon", frame: "too high or wide for the frame", subject: "hidden by the subject", "unknown ground": "ground unknown", "no stand": "no stand" };

export const reason = (limits) => limits.map((limit) => WHY[limit] || limit).join(", ");

export class Frames {
  constructor(box, onLens) {
    this.box = box;
    this.onLens = onLens;
    this.rows = [];
  }

  draw(night, lens) {
    if (this.rows.length !== night.lenses.length) {
      this.rows = night.lenses.map((one, i) => this.row(i));
      this.box.replaceChildren(...this.rows.map((row) => row.figure));
    }
    this.rows.forEach((row, i) => {
      row.figure.classList.toggle("inhand", i === lens);
      row.hold.setAttribute("aria-pressed", String(i === lens));
      row.hold.textContent = night.lenses[i].label;
      row.picture.width = 480;
      row.picture.height = Math.round(480 / night.aspect);
    });
  }

  row(i) {
    const figure = document.createElement("figure");
    const picture = document.createElement("img");
    const says = document.createElement("figcaption");
    const hold = document.createElement("button");
    hold.type = "button";
    const far = document.createElement("b");
    const line = document.createElement("span");
    const why = document.createElement("span");
    why.className = "why";
    says.append(hold, far, line, why);
    figure.append(picture, says);
    figure.addEventListener("click", () => this.onLens(i));
    return { figure, picture, hold, far, line, why };
  }

  turn(night, time) {
    this.rows.forEach((row, i) => {
      const now = night.at(i, time);
      row.far.textContent = now.distance === null ? "–" : `${now.distance.toFixed(1)} m`;
      row.line.textContent = now.bearing === null ? "" : `aim ${night.compass(now.bearing)}`;
      row.why.textContent = now.usable ? "" : reason(now.limits);
      row.picture.alt = `${night.lenses[i].label} at ${night.clock(time)}: ${row.far.textContent}`;
    });
  }

  async settle(changes, time, red) {
    const shown = this.rows.map(async (row, i) => {
      const blob = await askPicture(`frame${i}`, "/api/frame", { changes, time, lens: i, red: red ? 1 : 0 });
      if (blob === null) return;
      const old = row.picture.src;
      if (blob) row.picture.src = URL.createObjectURL(blob);
      row.picture.classList.toggle("off", !blob);
      if (old.startsWith("blob:")) URL.revokeObjectURL(old);
    });
    await Promise.all(shown);
  }
}
