// Before anything is drawn: the light that was chosen last, so that no white flashes up at night.
try {
  if (localStorage.getItem("light") === "red") document.documentElement.dataset.theme = "red";
} catch { /* A browser without a memory begins by day. */ }
