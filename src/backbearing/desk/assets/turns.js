// All lenses in one evening: the turns as marks under the profile, to be pressed and dragged, with
// the price of a minute written where the finger is.
import { ask } from "/script/ask.js";
import { reason } from "/script/frames.js";
import { ROW, element } from "/script/profile.js";

const PAUSE_MS = 250;

export class Turns {
  // desk: { state, profile, show(lens, time), guarded }
  constructor(box, price, desk) {
    this.box = box;
    this.price = price;
    this.desk = desk;
    this.turns = [];
    this.fixed = {};
    desk.profile.onRows = (picture) => this.draw(picture);
  }

  // The turns are of one night and one draft; after a change they are worked out anew when asked.
  forget() {
    if (!this.turns.length) return;
    this.turns = [];
    this.fixed = {};
    this.box.replaceChildren();
  }

  async ask() {
    const said = document.createElement("p");
    said.textContent = "Working out the order of the lenses …";
    this.box.replaceChildren(said);
    const found = await this.found();
    if (found) this.take(found);
  }

  found() {
    return ask("evening", "/api/evening", { changes: this.desk.state.changes, fixed: this.fixed });
  }

  lensOf(turn) {
    return this.desk.state.night.lenses.findIndex((one) => one.label === turn.lens);
  }

  take(found) {
    this.evening = found;
    this.turns = found.turns;
    this.tell();
    this.desk.profile.drawRows(this.desk.state.night, this.desk.state.lens);
  }

  press(text, work) {
    const made = Object.assign(document.createElement("button"), { type: "button", textContent: text });
    made.addEventListener("click", this.desk.guarded(work));
    return made;
  }

  tell() {
    const { evening } = this;
    const { night } = this.desk.state;
    const presses = this.turns.map((one, i) => this.press(`${one.number ?? i + 1}. ${one.lens} at ${night.clock(one.from)}${one.distance_m ? `, ${one.distance_m.toFixed(1)} m` : ""}`, () => this.go(one)));
    if (evening.one_line && this.turns !== evening.one_line.turns) {
      presses.push(this.press(`All from one line, bearing ${this.desk.state.night.aim(evening.one_line.bearing_deg)}`, () => this.line()));
    }
    if (this.turns === evening.one_line?.turns) presses.push(this.press("Stand by stand again", () => this.take(evening)));
    if (Object.keys(this.fixed).length) presses.push(this.press("Let the held turns go", () => { this.fixed = {}; return this.ask(); }));
    const said = document.createElement("p");
    said.textContent = [this.cost(evening), ...(evening.left_out ?? []), evening.line].filter(Boolean).join(" ");
    this.box.replaceChildren(...presses, said);
  }

  cost(evening) {
    if (!evening.turns.length) return evening.sentence;
    return `${evening.sentence} Walked between stands ${Math.round(evening.walked_m)} m, waited ${Math.round(evening.waiting_minutes)} minutes.`;
  }

  line() {
    this.turns = this.evening.one_line.turns;
    this.tell();
    const { state, profile } = this.desk;
    profile.drawRows(state.night, state.lens);
    this.go(this.turns[0]);
  }

  go(one) {
    const lens = this.lensOf(one);
    if (lens >= 0) this.desk.show(lens, Math.round((one.from + one.to) / 120) * 60);
  }

  draw(picture) {
    this.turns.forEach((one, i) => {
      const lens = this.lensOf(one);
      if (lens < 0) return;
      const mark = element("g", { class: "turn", tabindex: 0, role: "slider", "aria-label": `Turn of the ${one.lens}`, "aria-valuemin": this.desk.state.night.start, "aria-valuemax": this.desk.state.night.end });
      const ways = element("rect", { class: "ways", y: lens * ROW + 9, height: 3 });
      const frames = element("rect", { class: "shot", y: lens * ROW + 1, height: ROW - 2, rx: 3 });
      const reach = element("rect", { class: "reach", y: lens * ROW, height: ROW });
      const number = element("text", { y: lens * ROW + 15, "font-size": 14, "text-anchor": "middle" }, String(one.number ?? i + 1));
      mark.append(ways, frames, number, reach);
      const place = (from) => {
        const { profile, state } = this.desk;
        const shift = from - one.from;
        const [a, b] = [profile.x(one.from + shift), profile.x(one.to + shift)];
        const middle = (a + b) / 2;
        const wide = Math.max(20, b - a);
        for (const [name, value] of [["x", middle - wide / 2], ["width", wide]]) frames.setAttribute(name, value);
        reach.setAttribute("x", middle - Math.max(wide, 44) / 2);
        reach.setAttribute("width", Math.max(wide, 44));
        const set = one.set_up ? profile.x(one.set_up + shift) : a;
        ways.setAttribute("x", set);
        ways.setAttribute("width", Math.max(0, a - set));
        number.setAttribute("x", middle);
        mark.setAttribute("aria-valuenow", from);
        mark.setAttribute("aria-valuetext", `${state.night.clock(from)} to ${state.night.clock(from + one.to - one.from)}`);
      };
      place(one.from);
      this.handle(mark, one, lens, place);
      picture.append(mark);
    });
  }

  handle(mark, one, lens, place) {
    const { profile, state, show } = this.desk;
    let from = one.from;
    mark.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      mark.setPointerCapture(event.pointerId);
      mark.focus({ preventScroll: true });
      const grip = profile.timeAt(event.clientX) - one.from;
      let moved = false;
      const move = (at) => {
        const to = Math.round((profile.timeAt(at.clientX) - grip) / 60) * 60;
        if (to === from && !moved) return;
        moved = true;
        from = to;
        place(from);
        this.say(one, lens, from);
      };
      const end = () => {
        mark.removeEventListener("pointermove", move);
        if (moved) this.hold(one, lens, from); else show(lens, Math.round((one.from + one.to) / 120) * 60);
      };
      mark.addEventListener("pointermove", move);
      mark.addEventListener("pointerup", end, { once: true });
      mark.addEventListener("pointercancel", end, { once: true });
    });
    mark.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: -60, ArrowDown: -60, ArrowRight: 60, ArrowUp: 60 }[event.key];
      if (event.key === "Enter" || event.key === " ") { event.preventDefault(); this.go(one); return; }
      if (!way) return;
      event.preventDefault();
      from = Math.min(state.night.end, Math.max(state.night.start, from + way * (event.shiftKey ? 15 : 1)));
      place(from);
      this.say(one, lens, from);
      clearTimeout(this.later);
      this.later = setTimeout(() => this.hold(one, lens, from), 700);
    });
  }

  // What that minute is, at once, from what the page was given; then what the evening would cost.
  say(one, lens, from) {
    const { night } = this.desk.state;
    const half = (one.to - one.from) / 2;
    const now = night.at(lens, from);
    const over = now.altitude !== null && now.skyline !== null ? `clears by ${(now.altitude - now.skyline).toFixed(1)}°` : "";
    const far = now.distance === null ? "" : `${now.distance.toFixed(1)} m away`;
    const moon = night.moonAdds(from);
    const light = moon === null || moon < 0.05 ? "" : `Moon brightens it by ${moon.toFixed(1)} mag`;
    const here = [`${one.lens} at ${night.clock(from)}`, now.usable ? over : reason(now.limits), far, light].filter(Boolean).join(", ");
    this.write(here, from);
    clearTimeout(this.pause);
    this.pause = setTimeout(this.desk.guarded(async () => {
      const found = await ask("price", "/api/evening", { changes: this.desk.state.changes, fixed: { ...this.fixed, [lens]: from + half } });
      if (found && !this.price.hidden) this.write(`${here}; ${this.compared(found)}`, from);
    }), PAUSE_MS);
  }

  compared(found) {
    const was = this.evening;
    const turns = found.turns.length === was.turns.length ? "" : `, ${found.turns.length} turns instead of ${was.turns.length}`;
    return `walks ${Math.round(found.walked_m)} m (was ${Math.round(was.walked_m)}), waits ${Math.round(found.waiting_minutes)} min (was ${Math.round(was.waiting_minutes)})${turns}`;
  }

  write(text, time) {
    this.price.hidden = false;
    this.price.textContent = text;
    const share = this.desk.profile.x(time) / this.desk.profile.wide;
    this.price.style.left = `${(100 * share).toFixed(1)}%`;
    this.price.style.transform = `translateX(${(-100 * share).toFixed(1)}%)`;
  }

  // A turn is held by the middle of its frames, as an outing's own minute is.
  hold(one, lens, from) {
    this.fixed = { ...this.fixed, [lens]: from + (one.to - one.from) / 2 };
    this.desk.guarded(async () => {
      const found = await this.found();
      if (!found) return;
      this.take(found);
      clearTimeout(this.fade);
      this.fade = setTimeout(() => { this.price.hidden = true; }, 6000);
    })();
  }
}
