"use strict";
/* Red by a button, and a night of the year read off with a finger, the slider or the keys. */
(() => {
  const root = document.documentElement;
  const theme = document.getElementById("theme-button");
  theme.hidden = false;
  theme.addEventListener("click", () => {
    const night = root.dataset.theme !== "night";
    root.dataset.theme = night ? "night" : "day";
    theme.setAttribute("aria-pressed", String(night));
  });

  const data = JSON.parse(document.getElementById("year-data").textContent);
  const slider = document.getElementById("night"), which = document.getElementById("which");
  const list = document.getElementById("read"), panels = [...document.querySelectorAll(".panel-svg")];
  document.getElementById("reader").hidden = false;

  function line(subject, n) {
    const row = document.createElement("li"), name = document.createElement("b");
    name.textContent = `${subject.name}: `;
    const said = subject.lenses.map((label, i) => `${label} ${subject.minutes[i][n]} min`).join(", ");
    row.append(name, subject.states[n] || said);
    return row;
  }
  function show(n) {
    slider.value = String(n);
    slider.setAttribute("aria-valuetext", data.nights[n]);
    which.textContent = data.nights[n];
    list.replaceChildren(...data.subjects.map((subject) => line(subject, n)));
    for (const panel of panels) {
      const cursor = panel.querySelector(".cursor");
      cursor.removeAttribute("hidden");
      cursor.setAttribute("transform", `translate(${(n + 0.5) * data.unit} 0)`);
    }
  }
  const within = (n) => Math.min(Math.max(n, 0), data.nights.length - 1);
  slider.addEventListener("input", () => show(Number(slider.value)));
  document.getElementById("before").addEventListener("click", () => show(within(Number(slider.value) - 1)));
  document.getElementById("after").addEventListener("click", () => show(within(Number(slider.value) + 1)));
  for (const panel of panels) {
    const read = (event) => {
      const box = panel.getBoundingClientRect();
      show(within(Math.floor((event.clientX - box.left) / box.width * data.nights.length)));
    };
    panel.addEventListener("pointerdown", read);
    panel.addEventListener("pointermove", (event) => { if (event.buttons) read(event); });
  }
  show(data.first);
  root.dataset.ready = "yes";
})();
