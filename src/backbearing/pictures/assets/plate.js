// One frame at a time, so that from lens to lens nothing but the sky behind the subject changes.
(() => {
  const frames = [...document.querySelectorAll("figure")];
  const lens = document.getElementById("lens");
  const planned = document.getElementById("planned");
  const which = document.getElementById("which");
  const show = () => {
    frames.forEach((figure, i) => {
      figure.classList.toggle("shown", i === Number(lens.value));
      figure.classList.toggle("as-planned", planned.checked);
    });
    which.textContent = frames[Number(lens.value)].querySelector("strong").textContent;
    lens.setAttribute("aria-valuetext", which.textContent);
  };
  document.getElementById("turn").hidden = false;
  document.getElementById("frames").classList.add("one");
  lens.addEventListener("input", show);
  planned.addEventListener("change", show);
  show();
})();
