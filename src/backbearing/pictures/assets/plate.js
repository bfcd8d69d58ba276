// One frame at a time, so that from lens to lens nothing but the sky behind the subject changes.
(() => {
  const frames = [...document.querySelectorAll("figure")];
  const all = document.getElementById("frames");
  const lens = document.getElementById("lens");
  const which = document.getElementById("which");
  const ways = [...document.querySelectorAll("input[name=shown]")];
  const way = () => ways.find((one) => one.checked).value;
  const show = () => {
    frames.forEach((figure, i) => figure.classList.toggle("shown", i === Number(lens.value)));
    all.className = `one ${way()}`;
    which.textContent = frames[Number(lens.value)].querySelector("strong").textContent;
    lens.setAttribute("aria-valuetext", which.textContent);
  };
  const keys = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key === "p" || event.key === "P") {
      const next = way() === "taken" ? "planned" : "taken";
      ways.find((one) => one.value === next).checked = true;
    } else if (event.target.matches("input")) {
      return;
    } else if (event.key === "ArrowRight" || event.key === "ArrowLeft") {
      lens.value = Number(lens.value) + (event.key === "ArrowRight" ? 1 : -1);
      event.preventDefault();
    } else {
      return;
    }
    show();
  };
  document.getElementById("turn").hidden = false;
  lens.addEventListener("input", show);
  ways.forEach((one) => one.addEventListener("change", show));
  document.addEventListener("keydown", keys);
  show();
})();
