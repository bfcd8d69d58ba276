// A daytime photograph to put marks into: by a click, and by the arrow keys a pixel at a time.
import { Trouble } from "/script/ask.js";
import { made } from "/script/subject.js";
import { upload } from "/script/upload.js";

const LOUPE = 8;
const LOUPE_PX = 200;
const SHOWN_PX = 900;

export class Photograph {
  constructor() {
    this.marks = {};
    this.spots = [];
    this.onTrouble = () => {};
    this.file = made("input", { type: "file", id: "photograph-file", accept: ".jpg,.jpeg,.png,.webp" });
    this.buttons = made("div", { className: "row", role: "group" });
    this.buttons.setAttribute("aria-label", "Marks in the photograph");
    this.canvas = made("canvas", { id: "photograph", tabIndex: 0, hidden: true });
    this.canvas.setAttribute("role", "application");
    this.canvas.setAttribute("aria-label", "The photograph: arrow keys move the mark by a pixel, with shift by ten");
    this.loupe = made("canvas", { id: "loupe", width: LOUPE_PX, height: LOUPE_PX, hidden: true });
    this.loupe.setAttribute("role", "img");
    this.loupe.setAttribute("aria-label", "The mark's surroundings, enlarged");
    this.says = made("p", { id: "photograph-says", className: "says" });
    this.says.setAttribute("aria-live", "polite");
    this.box = made("div", { hidden: true },
      made("div", { className: "row" }, made("label", { className: "wide" }, "A photograph, whole and not cropped; it stays on this computer", this.file)),
      this.buttons, made("div", { className: "row" }, this.canvas, this.loupe), this.says);
    this.file.addEventListener("change", () => this.choose().catch((problem) => this.onTrouble(problem)));
    this.canvas.addEventListener("click", (event) => this.click(event));
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  // Which marks a way asks for; none hides the photograph.
  want(spots) {
    this.spots = spots;
    this.box.hidden = !spots.length;
    if (!spots.length) return;
    if (!spots.some((one) => one.key === this.active)) this.active = spots[0].key;
    this.buttons.replaceChildren(...spots.map((one) => {
      const button = made("button", { type: "button", textContent: one.words.split(",")[0] });
      button.dataset.key = one.key;
      button.addEventListener("click", () => { this.active = one.key; this.draw(); this.canvas.focus(); });
      return button;
    }));
    this.draw();
  }

  answers() {
    if (!this.spots.length) return {};
    if (!this.picture) throw new Trouble("Choose the photograph first.");
    const given = { picture: this.picture };
    for (const { key } of this.spots) if (this.marks[key]) given[key] = this.marks[key];
    return given;
  }

  async choose() {
    const [file] = this.file.files;
    if (!file) return;
    const found = await upload("/upload/photograph", file);
    let image;
    try {
      image = await createImageBitmap(file);
    } catch {
      throw new Trouble("This browser cannot show that photograph; save it as JPEG.");
    }
    if (image.width !== found.width_px || image.height !== found.height_px) throw new Trouble("The photograph is turned otherwise here than its file says; save it upright, and choose it again.");
    this.image = image;
    this.picture = found.picture;
    this.marks = {};
    const focal = found.focal_length_mm === null ? "it does not say its focal length" : `taken at ${found.focal_length_mm.toFixed(1)} mm by its own word`;
    this.facts = `${found.width_px} x ${found.height_px} pixels; ${focal}.`;
    this.scale = Math.min(1, SHOWN_PX / image.width);
    this.canvas.width = Math.round(image.width * this.scale);
    this.canvas.height = Math.round(image.height * this.scale);
    this.canvas.hidden = this.loupe.hidden = false;
    this.draw();
  }

  put(column, row) {
    const within = (value, most) => Math.min(Math.max(value, 0), most);
    this.marks[this.active] = [within(column, this.image.width), within(row, this.image.height)];
    this.draw();
  }

  click(event) {
    if (!this.image) return;
    const seen = this.canvas.getBoundingClientRect();
    this.put(Math.round((event.clientX - seen.left) / seen.width * this.image.width), Math.round((event.clientY - seen.top) / seen.height * this.image.height));
  }

  key(event) {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!step || !this.image) return;
    event.preventDefault();
    const many = event.shiftKey ? 10 : 1;
    const [column, row] = this.marks[this.active] ?? [Math.round(this.image.width / 2), Math.round(this.image.height / 2)];
    this.put(column + many * step[0], row + many * step[1]);
  }

  draw() {
    for (const button of this.buttons.children) button.setAttribute("aria-pressed", String(button.dataset.key === this.active));
    if (!this.image) return;
    const pen = this.canvas.getContext("2d");
    pen.drawImage(this.image, 0, 0, this.canvas.width, this.canvas.height);
    for (const { key } of this.spots) {
      if (this.marks[key]) this.cross(pen, this.marks[key].map((value) => value * this.scale), key === this.active);
    }
    const mark = this.marks[this.active];
    const name = this.spots.find((one) => one.key === this.active)?.words.split(",")[0] ?? "";
    this.says.textContent = mark ? `${this.facts} ${name}: column ${mark[0]}, row ${mark[1]}.` : `${this.facts} ${name}: click it.`;
    const near = this.loupe.getContext("2d");
    near.imageSmoothingEnabled = false;
    near.clearRect(0, 0, LOUPE_PX, LOUPE_PX);
    if (!mark) return;
    const wide = LOUPE_PX / LOUPE;
    near.drawImage(this.image, mark[0] - wide / 2, mark[1] - wide / 2, wide, wide, 0, 0, LOUPE_PX, LOUPE_PX);
    this.cross(near, [LOUPE_PX / 2, LOUPE_PX / 2], true);
  }

  // Light beneath dark, to be seen on sky and on stone.
  cross(pen, [x, y], strong) {
    for (const [ink, width] of [["#ffffff", strong ? 5 : 3], ["#0a5a63", strong ? 2 : 1]]) {
      pen.strokeStyle = ink;
      pen.lineWidth = width;
      pen.beginPath();
      for (const [a, b] of [[-14, -4], [4, 14]]) {
        pen.moveTo(x + a, y); pen.lineTo(x + b, y);
        pen.moveTo(x, y + a); pen.lineTo(x, y + b);
      }
      pen.stroke();
    }
  }
}
