// The other way round: a stand dragged to where one can stand, and what the target does from there.
import { ask } from "/script/ask.js";

const near = (frames, share) => [...frames].sort((a, b) => Math.abs(Math.log(a.share / share)) - Math.abs(Math.log(b.share / share)))[0];

export class FromThere {
  // desk: { state, ground, show(lens, time) }
  constructor(box, desk) {
    this.box = box;
    this.desk = desk;
  }

  forget() {
    this.box.replaceChildren();
    this.desk.ground.keepPlace(null);
  }

  async ask(at) {
    const { state, ground, show } = this.desk;
    const found = await ask("stand", "/api/from-stand", { changes: state.changes, lat: at.lat, lon: ((at.lng + 540) % 360) - 180 });
    if (!found) return;
    const { night } = state;
    const from = `From there, ${found.distance_m.toFixed(1)} m away, aim ${night.aim(found.bearing_deg)}:`;
    const good = found.crossings.filter((one) => one.spoilt_by.length === 0);
    const shown = good.length ? good : found.crossings;
    if (!shown.length) {
      this.write(`${from} ${found.reason}`, []);
      ground.keepPlace(at, "not from here");
      show(state.lens, state.time);
      return;
    }
    // A minute by day is told, but nothing else is known of it: the desk's own minute stays.
    const inNight = (each) => each.time >= night.start && each.time <= night.end;
    const one = shown.find(inNight) ?? shown[0];
    const best = near(one.frames, night.framing.share);
    const lens = Math.max(0, night.lenses.findIndex((other) => other.label === best?.lens));
    const when = shown.map((each) => `${night.clock(each.time)}${each.spoilt_by.length ? ` (${each.spoilt_by.join(", ")})` : ""}`);
    const sizes = one.frames.map((each) => `${each.lens} ${Math.round(100 * each.share)} %`);
    this.write(`${from} ${night.target} is behind it at ${when.join(" and ")}. It would fill, of the frame's height: ${sizes.join(", ")}; nearest to what you asked: ${best?.lens ?? "none"}.${inNight(one) ? "" : " That is outside this night."}`, shown.filter(inNight).slice(0, 3).map((each) => [`Go to ${night.clock(each.time)}`, () => show(lens, Math.round(each.time / 60) * 60)]));
    ground.keepPlace(at, `${night.clock(one.time)}, ${best?.lens ?? ""}`);
    if (inNight(one)) show(lens, Math.round(one.time / 60) * 60);
    else show(state.lens, state.time);
  }

  write(text, presses) {
    const said = Object.assign(document.createElement("p"), { textContent: text });
    const buttons = [...presses, ["Forget that place", () => this.forget()]].map(([name, work]) => {
      const made = Object.assign(document.createElement("button"), { type: "button", textContent: name });
      made.addEventListener("click", work);
      return made;
    });
    this.box.replaceChildren(said, ...buttons);
  }
}
