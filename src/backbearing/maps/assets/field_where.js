"use strict";
/* Accuracy is the radius of a position at 95 per cent confidence: W3C, Geolocation, from memory. */
/* Where the phone's receiver says one stands: asked on a press only, and never said finer than it. */
function fieldWhere(field, clock, words, texts, target) {
  const button = document.getElementById("where"), said = document.getElementById("where-said");
  /* Metres east and north from the subject on WGS84's ellipsoid; good to a metre over some kilometres. */
  const A = 6378137, E2 = 6.69437999014e-3;
  function metres(from, to) {
    const lat = ((from.lat + to.lat) / 2) * Math.PI / 180, w2 = 1 - E2 * Math.sin(lat) ** 2;
    const turn = ((to.lon - from.lon + 540) % 360 + 360) % 360 - 180;
    return { east_m: turn * Math.PI / 180 * A * Math.cos(lat) / Math.sqrt(w2), north_m: (to.lat - from.lat) * Math.PI / 180 * A * (1 - E2) / w2 ** 1.5 };
  }
  /* A length to no finer a figure than the receiver's error allows. */
  function coarse(length_m, error_m) {
    const step = error_m >= 50 ? 50 : error_m >= 20 ? 20 : error_m >= 8 ? 5 : 1;
    const shown = words.imperial ? step * 3 * 0.3048 : step;
    return words.length(Math.max(shown, Math.round(length_m / shown) * shown)).replace(/\.0 /, " ");
  }
  function way(here, to, name, error_m, declination_deg) {
    const { east_m, north_m } = metres(here, to), far_m = Math.hypot(east_m, north_m);
    if (far_m <= error_m) return `${name}: within the receiver's ± ${words.small(error_m, 0)}. It can say no more; go by the tape and the compass.`;
    const bearing = (Math.atan2(east_m, north_m) * 180 / Math.PI + 360) % 360;
    const off = Math.max(1, Math.round(Math.atan2(error_m, far_m) * 180 / Math.PI));
    const needle = declination_deg === null ? "by compass unknown" : `${words.needle(bearing - declination_deg)} by compass`;
    return `${name}: ${coarse(far_m, error_m)} ± ${words.small(error_m, 0)}, ${needle} (${words.needle(bearing)} true), each ± ${off}°.`;
  }
  function say(lines) {
    said.replaceChildren(...lines.map((line) => { const p = document.createElement("p"); p.textContent = line; return p; }));
  }
  const WHY = { 1: "The phone does not give its position to this page", 2: "The receiver finds no position", 3: "The receiver took longer than half a minute" };
  const GO_ON = "Go on by the compass and the tape from the subject: every stand is measured from there.";
  function failed(why) { button.disabled = false; say([`${why}. ${GO_ON}`]); }

  button.addEventListener("click", () => {
    if (!navigator.geolocation) return failed("This browser gives no position to a page opened from a file");
    button.disabled = true;
    say(["Asking the receiver …"]);
    try { navigator.geolocation.getCurrentPosition(found, (problem) => failed(WHY[problem.code] ?? "The phone gives no position"), { enableHighAccuracy: true, timeout: 30000, maximumAge: 0 }); } catch { failed("This browser gives no position to a page opened from a file"); }
  });
  function found(position) {
    button.disabled = false;
    const { latitude, longitude, accuracy } = position.coords, here = { lat: latitude, lon: longitude };
    if (![latitude, longitude, accuracy].every(Number.isFinite) || accuracy < 0) return failed("The receiver's answer makes no sense");
    const error_m = Math.max(1, Math.ceil(accuracy)), { declination_deg } = target, lines = [];
    const to = target.stand();
    if (to) lines.push(way(here, to, to.name, error_m, declination_deg));
    lines.push(way(here, field.subject, "The subject", error_m, declination_deg));
    if (field.car) {
      lines.push(way(here, field.car, `Back: ${texts[field.car.name]}, as the crow flies`, error_m, declination_deg));
      if (field.car.walk_m !== null) lines.push(`The planned walk there from ${texts[field.car.from]}: ${words.length(field.car.walk_m)}, ${words.span(60 * field.car.walk_minutes)} at night. A straight line may cross a fence, water or a drop.`);
    }
    lines.push(`Read at ${clock.hm(clock.true_s())}; the receiver's ± is meant to hold nineteen times in twenty, and under trees or beside a wall it often does not.`);
    say(lines);
    target.mark(here, error_m);
  }
  return { metres };
}
