"use strict";
/* Numbers as people read them in the field, in the plan's units; computed in metres. */
function fieldWords(field) {
  const imperial = field.units === "imperial", FOOT = 0.3048;
  const fixed = (value, places) => {
    if (!Number.isFinite(value)) return "unknown";
    const text = value.toFixed(places);
    return Number(text) === 0 ? text.replace("-", "") : text;
  };
  const unit = imperial ? "ft" : "m";
  const small = (metres, places = 1) => Number.isFinite(metres) ? `${fixed(imperial ? metres / FOOT : metres, places)} ${unit}` : "unknown";
  function length(metres) {
    const size = Math.abs(metres);
    if (!Number.isFinite(metres)) return "unknown";
    if (!imperial) return size < 1000 ? small(metres, size < 100 ? 1 : 0) : `${fixed(metres / 1000, 1)} km`;
    if (size < 1000 * FOOT) return small(metres, size < 300 * FOOT ? 1 : 0);
    return size < 5280 * FOOT ? `${fixed(metres / 3 / FOOT, 0)} yd` : `${fixed(metres / 5280 / FOOT, 1)} mi`;
  }
  /* Whole minutes, so that nothing flickers; days where hours say nothing. */
  function span(seconds) {
    const minutes = Math.round(Math.abs(seconds) / 60);
    if (minutes < 1) return "under a minute";
    if (minutes < 60) return `${minutes} min`;
    if (minutes < 2880) return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
    return `${Math.round(minutes / 1440)} days`;
  }
  const needle = (degrees) => Number.isFinite(degrees) ? `${(Math.round(degrees) % 360 + 360) % 360}°` : "unknown";
  const tilt = (degrees) => Number.isFinite(degrees) ? `${fixed(Math.abs(degrees), 1)}° ${degrees >= 0 ? "up" : "down"}` : "tilt unknown";
  function shutter(seconds) {
    if (!Number.isFinite(seconds)) return "unknown";
    return seconds >= 0.3 ? `${Number(seconds.toPrecision(2))} s` : `1/${Math.round(1 / seconds)} s`;
  }
  /* A step from one place to another as one faces the subject: numbers and their words. */
  function step(left_m, nearer_m) {
    const parts = [[left_m, "left", "right"], [nearer_m, "nearer", "farther"]]
      .filter(([metres]) => Math.abs(metres) >= 0.05)
      .map(([metres, plus, minus]) => ({ number: small(Math.abs(metres)), word: metres > 0 ? plus : minus }));
    return Number.isFinite(left_m) && Number.isFinite(nearer_m) ? parts : null;
  }
  const listed = (parts) => parts.length ? parts.map((part) => `${part.number} ${part.word}`).join(", ") : "at the peg";
  return { imperial, unit, metres: (value) => imperial ? value * FOOT : value, shown: (metres) => imperial ? metres / FOOT : metres, fixed, small, length, span, needle, tilt, shutter, step, listed };
}
