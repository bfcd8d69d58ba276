// Taking hold of a frame: its lower line is the room below the subject, its upper one the share, the
// one at the side how far the target keeps from the edges.
const LIMITS = { base_margin: [0, 0.9], share: [0.01, 0.95], edge_margin: [0, 0.49] };
const NAMES = { base_margin: "Room below the subject", share: "Share of the frame's height", edge_margin: "Room between the target and the edges" };

export class Hold {
  constructor(row, onValue, repaint) {
    this.row = row;
    this.onValue = onValue;
    this.repaint = repaint;
    this.held = null;
    this.lines = { share: this.line("share"), base_margin: this.line("base_margin"), edge_margin: this.line("edge_margin") };
    row.glass.append(...Object.values(this.lines));
    row.glass.addEventListener("wheel", (event) => {
      if (!row.frame || !event.shiftKey) return;
      event.preventDefault();
      this.step("share", event.deltaY + event.deltaX < 0 ? 0.01 : -0.01);
    }, { passive: false });
  }

  line(key) {
    const line = document.createElement("div");
    line.className = `hold ${key}`;
    line.setAttribute("role", "slider");
    line.setAttribute("aria-label", NAMES[key]);
    line.setAttribute("aria-orientation", key === "edge_margin" ? "horizontal" : "vertical");
    line.setAttribute("aria-valuemin", String(100 * LIMITS[key][0]));
    line.setAttribute("aria-valuemax", String(100 * LIMITS[key][1]));
    line.setAttribute("aria-valuenow", String(100 * LIMITS[key][0]));
    line.append(document.createElement("span"));
    line.addEventListener("pointerdown", (event) => this.begin(key, event));
    line.addEventListener("keydown", (event) => {
      const way = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
      if (!way) return;
      event.preventDefault();
      const inward = key === "edge_margin" && event.key.match(/Left|Right/) ? -1 : 1;
      this.step(key, inward * way * (event.shiftKey ? 0.05 : 0.01));
    });
    return line;
  }

  // Only the frame in hand is a stop of the Tab key.
  inHand(yes) {
    for (const line of Object.values(this.lines)) line.tabIndex = yes ? 0 : -1;
  }

  value(key) {
    if (key === "edge_margin") return this.edge ?? this.row.edge;
    if (key === "share") return this.held?.share ?? this.row.frame.share;
    return this.held?.base ?? this.row.frame.base_margin;
  }

  step(key, more) {
    if (!this.row.frame) return;
    this.set(key, this.value(key) + more);
    this.onValue(key, this.value(key), true);
  }

  set(key, value) {
    const [low, high] = LIMITS[key];
    if (key === "edge_margin") {
      this.edge = Math.round(Math.min(high, Math.max(low, value)) * 1000) / 1000;
      this.repaint();
      return;
    }
    const room = key === "share" ? this.value("base_margin") : this.value("share");
    const kept = Math.round(Math.min(high, 0.98 - room, Math.max(low, value)) * 1000) / 1000;
    this.held = { share: this.value("share"), base: this.value("base_margin"), [key === "share" ? "share" : "base"]: kept };
    this.repaint();
  }

  begin(key, event) {
    if (!this.row.frame) return;
    event.preventDefault();
    const line = this.lines[key];
    line.setPointerCapture(event.pointerId);
    line.focus({ preventScroll: true });
    const edges = this.row.glass.getBoundingClientRect();
    const base = this.value("base_margin");
    const move = (moved) => {
      const up = (edges.bottom - moved.clientY) / edges.height;
      const beside = (edges.right - moved.clientX) / edges.width;
      this.set(key, { share: up - base, base_margin: up, edge_margin: beside }[key]);
      this.onValue(key, this.value(key), false);
    };
    const end = () => {
      line.removeEventListener("pointermove", move);
      this.onValue(key, this.value(key), true);
    };
    line.addEventListener("pointermove", move);
    line.addEventListener("pointerup", end, { once: true });
    line.addEventListener("pointercancel", end, { once: true });
  }

  // Put the lines where the frame has them; what was held is let go once the frame shows it.
  place(frame) {
    const same = this.held && Math.abs(this.held.share - frame.share) < 0.003 && Math.abs(this.held.base - frame.base_margin) < 0.003;
    if (same) this.held = null;
    if (this.edge !== undefined && Math.abs(this.edge - this.row.edge) < 0.003) this.edge = undefined;
    const [base, share] = [this.value("base_margin"), this.value("share")];
    this.put("base_margin", base, `${Math.round(100 * base)} % below`, base);
    this.put("share", base + share, `${Math.round(100 * share)} % high`, share);
    const edge = this.value("edge_margin");
    this.put("edge_margin", edge, `${Math.round(100 * edge)} % from the edge`, edge);
  }

  put(key, at, said, value) {
    const line = this.lines[key];
    line.style[key === "edge_margin" ? "right" : "bottom"] = `${(100 * at).toFixed(2)}%`;
    line.firstChild.textContent = said;
    line.setAttribute("aria-valuenow", (100 * value).toFixed(1));
    line.setAttribute("aria-valuetext", said);
  }
}
