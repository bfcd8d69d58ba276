"use strict";
/* What was corrected and ticked, kept on the phone; where that is refused, in the page's address. */
function fieldKept(field) {
  const name = "backbearing." + field.key, sign = "#kept=";
  const kept = { where: "phone", value: {} };
  const packed = (value) => btoa(String.fromCharCode(...new TextEncoder().encode(JSON.stringify(value)))).replaceAll("+", "-").replaceAll("/", "_").replace(/=+$/, "");
  const unpacked = (text) => JSON.parse(new TextDecoder().decode(Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (letter) => letter.charCodeAt(0))));
  const plain = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
  /* What is kept may come from anywhere: what has not the shape of ours is left out. */
  function sound(value) {
    if (!plain(value)) return null;
    for (const part of ["ticks", "corrections", "typed"]) if (!plain(value[part])) delete value[part];
    for (const part of ["all", "lenses"]) if (value.corrections && !plain(value.corrections[part])) delete value.corrections[part];
    for (const [lens, own] of Object.entries(value.corrections?.lenses ?? {})) if (!plain(own)) delete value.corrections.lenses[lens];
    return value;
  }
  function ofAddress() {
    try { const value = location.hash.startsWith(sign) ? unpacked(location.hash.slice(sign.length)) : null; return sound(value); } catch { return null; }
  }
  function ofPhone() {
    const text = localStorage.getItem(name);
    try { const value = text === null ? null : JSON.parse(text); return sound(value); } catch { return null; }
  }
  function address() {
    const text = sign + packed(kept.value);
    try { history.replaceState(null, "", text); } catch { location.hash = text; }
  }
  try {
    localStorage.setItem(name + ".try", "1");
    localStorage.removeItem(name + ".try");
    kept.value = ofPhone() ?? ofAddress() ?? {};
  } catch {
    kept.where = "address";
    kept.value = ofAddress() ?? {};
    /* A link within the page takes the address for itself; what is kept comes back. */
    addEventListener("hashchange", () => { if (!location.hash.startsWith(sign)) address(); });
  }
  kept.save = () => {
    if (kept.where === "phone") {
      try { localStorage.setItem(name, JSON.stringify(kept.value)); return; } catch { kept.where = "address"; }
    }
    address();
  };
  return kept;
}
