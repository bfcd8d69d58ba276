"use strict";
/* Before anything is shown: the still version gives way on the screen, and prints. Should a
   script of the page fail before it stands, the still version comes back. */
(function () {
  const root = document.documentElement, styles = [...document.querySelectorAll("style")];
  function wake(live) {
    for (const style of styles) style.media = style.dataset.asleep === undefined ? live ? "print" : "all" : live ? "screen" : "not all";
    live ? root.dataset.live = "yes" : delete root.dataset.live;
  }
  for (const style of styles) if (style.media === "not all") style.dataset.asleep = "";
  /* Red from dusk to dawn by this device's clock, on any date, before anything is painted. */
  const dusk_s = Number(root.dataset.dusk), dawn_s = Number(root.dataset.dawn), day_s = 86400;
  if (dusk_s && ((Date.now() / 1000 - dusk_s) % day_s + day_s) % day_s < dawn_s - dusk_s) root.dataset.theme = "night";
  wake(true);
  addEventListener("error", () => { if (root.dataset.ready !== "yes") wake(false); });
})();
