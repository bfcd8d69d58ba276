// What a page needs to offer grounds: rows to choose from, and public ground that is brought on a press.
import { ask, tell } from "/script/ask.js";

export const megabytes = (size) => `${size < 10 ? size.toFixed(1) : Math.round(size)} MB`;

export function choice(value, label, { chosen, problem = "" }) {
  const button = Object.assign(document.createElement("input"), { type: "radio", name: "ground", value, checked: chosen === value, disabled: Boolean(problem) });
  const words = Object.assign(document.createElement("span"), { textContent: problem ? `${label}: ${problem}` : label });
  const row = document.createElement("label");
  row.append(button, words);
  return row;
}

export const cells = (one) => (one.problem ? "" : `, cells of ${one.cell_m.toFixed(one.cell_m < 10 ? 1 : 0)} m`);
export const rasterWords = (one) => `${one.name}, ${megabytes(one.megabytes)}${cells(one)}`;

// Said first, brought on a press, stopped on a press; `asked` gives place and reach, `done` follows.
export class Bringing {
  constructor({ button, stop, bar, says }, { asked, done, guarded }) {
    Object.assign(this, { button, stop, bar, says, asked, done, running: false });
    button.addEventListener("click", guarded(async () => {
      await tell("/api/fetch/start", asked());
      await this.follow();
    }));
    stop.addEventListener("click", guarded(() => tell("/api/fetch/stop", {})));
  }

  async before(known) {
    if (!known) {
      this.button.disabled = true;
      if (!this.running) this.says.textContent = "Once the subject's place is known, what would be asked of whom stands here. Nothing is asked before you press.";
      return;
    }
    if (this.running) return;
    try {
      const found = await tell("/api/fetch/before", this.asked());
      if (!found || this.running) return;
      this.says.textContent = found.says;
      this.button.disabled = found.to_fetch === 0;
    } catch (problem) {
      this.says.textContent = problem.message;
      this.button.disabled = true;
    }
  }

  show(running) {
    this.running = running;
    this.button.disabled = running;
    this.stop.hidden = !running;
    this.bar.hidden = !running;
  }

  async follow() {
    this.show(true);
    let now;
    do {
      await new Promise((done) => setTimeout(done, 400));
      now = await ask("fetch", "/api/fetch");
      if (!now) continue;
      this.says.textContent = now.says;
      this.bar.max = Math.max(now.of, 1);
      this.bar.value = now.done;
    } while (!now || now.state === "running");
    this.show(false);
    await this.done(now);
    this.says.textContent = now.says;
  }
}
