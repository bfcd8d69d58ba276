"use strict";
/* The ground that the page carries, the skyline over it and measured marks; docs/pocket.md. Squares
   of the raster's own pixels, with the bilinear surface between them, as terrain/ has it. */
function fieldGround(ground, subject, rules, sky) {
  const { RAD, sin, cos, tan, wrap180, wrap360 } = sky, DROP = (1 - rules.refraction_k) / (2 * rules.earth_radius_m);
  const SIDE = ground.side, EDGE = SIDE + 1, key = (i, j) => i * 2097152 + j;

  /* Steps from pixel to pixel; null is a void, false open water at level 0. */
  function squares(tiles) {
    const found = new Map();
    for (const [i, j, kind, ...steps] of tiles) {
      const z = new Float64Array(EDGE * EDGE), quantum = ground.quanta_m[kind];
      let value = 0, high = -Infinity;
      steps.forEach((step, n) => {
        z[n] = step === null ? NaN : step === false ? -0 : (value += step) * quantum;
        if (z[n] > high) high = z[n];
      });
      found.set(key(i, j), { z, near: kind === 0, high });
    }
    return found;
  }
  const layers = ground.layers.map((layer) => ({ from_m: layer.from_m, squares: squares(layer.tiles) })), bare = layers[0].squares;

  const powersU = new Float64Array(12).fill(1), powersV = new Float64Array(12).fill(1);
  function pixel(lat, lon) {
    const u = (lat - subject.lat) / ground.scale_deg, v = wrap180(lon - subject.lon) / ground.scale_deg, { degree, rows, cols } = ground;
    for (let d = 1; d <= degree; d++) { powersU[d] = powersU[d - 1] * u; powersV[d] = powersV[d - 1] * v; }
    let row = 0, col = 0;
    for (let d = 0, n = 0; d <= degree; d++) {
      for (let j = 0; j <= d; j++, n++) {
        const term = powersU[d - j] * powersV[j];
        row += rows[n] * term; col += cols[n] * term;
      }
    }
    return { row, col };
  }
  /* NaN outside the squares about the subject, beside a void that counts, and on open water. */
  function heightAt(lat, lon) {
    const { row, col } = pixel(lat, lon), i = Math.floor(row), j = Math.floor(col);
    if (!(i >= 0 && j >= 0)) return NaN;
    const square = bare.get(key(Math.floor(i / SIDE), Math.floor(j / SIDE)));
    if (!square || !square.near) return NaN;
    const at = (i % SIDE) * EDGE + (j % SIDE), { z } = square, u = row - i, v = col - j;
    if (Object.is(z[at + (u > 0.5 ? EDGE : 0) + (v > 0.5 ? 1 : 0)], -0)) return NaN;
    const part = (weight, height) => (weight > 0 ? weight * height : 0);
    return part((1 - u) * (1 - v), z[at]) + part((1 - u) * v, z[at + 1]) + part(u * (1 - v), z[at + EDGE]) + part(u * v, z[at + EDGE + 1]);
  }

  /* The highest tangent along a ray so far, and where. */
  let best = -Infinity, bestAt = NaN;

  /* One way through a square: every cell solved as in terrain/skyline/crossing.py. */
  function lookIn(square, top, left, r0, c0, r1, c1, near, far, eye) {
    const dr = r1 - r0, dc = c1 - c0, run = far - near, { z } = square;
    let i = Math.min(Math.max(Math.floor(r0), top), top + SIDE - 1), j = Math.min(Math.max(Math.floor(c0), left), left + SIDE - 1), t = 0;
    while (t < 1) {
      const toRow = dr > 0 ? (i + 1 - r0) / dr : dr < 0 ? (i - r0) / dr : Infinity;
      const toCol = dc > 0 ? (j + 1 - c0) / dc : dc < 0 ? (j - c0) / dc : Infinity;
      const next = Math.min(toRow, toCol, 1);
      if (next > t) {
        const x = near + t * run, y = near + next * run, length = y - x, at = (i - top) * EDGE + (j - left);
        const down = z[at + EDGE] - z[at], over = z[at + 1] - z[at], twist = z[at + EDGE + 1] - z[at] - down - over;
        const u = r0 + t * dr - i, v = c0 + t * dc - j, du = dr / run, dv = dc / run;
        const rise = z[at] + down * u + over * v + twist * u * v - eye, slope = down * du + over * dv + twist * (u * dv + v * du), curve = twist * du * dv;
        const enters = rise / x - DROP * x, leaves = (rise + (slope + curve * length) * length) / y - DROP * y;
        const a = rise - (slope - curve * x) * x, c = curve - DROP, root = a / c > 0 ? Math.sqrt(a / c) : 0;
        const peak = Math.min(Math.max(root, x), y), highest = a / peak + (slope - 2 * curve * x) + c * peak;
        if (enters > best) { best = enters; bestAt = x; }
        if (leaves > best) { best = leaves; bestAt = y; }
        if (highest > best) { best = highest; bestAt = peak; }
        t = next;
      }
      if (next >= 1) return;
      if (toRow <= toCol) i += dr > 0 ? 1 : -1;
      else j += dc > 0 ? 1 : -1;
      if (i < top || j < left || i >= top + SIDE || j >= left + SIDE) return;
    }
  }
  function lookAlong(layer, from, to, near, far, eye) {
    const r0 = from.row, c0 = from.col, dr = to.row - r0, dc = to.col - c0, run = far - near;
    let i = Math.floor(r0 / SIDE), j = Math.floor(c0 / SIDE), t = 0;
    for (;;) {
      const toRow = dr > 0 ? ((i + 1) * SIDE - r0) / dr : dr < 0 ? (i * SIDE - r0) / dr : Infinity;
      const toCol = dc > 0 ? ((j + 1) * SIDE - c0) / dc : dc < 0 ? (j * SIDE - c0) / dc : Infinity;
      const next = Math.min(toRow, toCol, 1);
      if (next > t) {
        const square = i >= 0 && j >= 0 ? layer.squares.get(key(i, j)) : undefined;
        if (square) {
          const x = near + t * run, y = near + next * run, over = square.high - eye;
          if (over / (over > 0 ? x : y) - DROP * x > best) lookIn(square, i * SIDE, j * SIDE, r0 + t * dr, c0 + t * dc, r0 + next * dr, c0 + next * dc, x, y, eye);
        }
        t = next;
      }
      if (next >= 1) return;
      if (toRow <= toCol) i += dr > 0 ? 1 : -1;
      else j += dc > 0 ? 1 : -1;
    }
  }
  /* Straight pieces that stray from a sight line by a millionth of their distance at most. */
  const PIECE = Math.sqrt(2e-6 / Math.max(ground.bend_per_m, 1e-12));
  function overLayer(layer, lat, lon, azimuth, eye) {
    const start = Math.max(layer.from_m, 1e-3), end = ground.looked_m, first = Math.sqrt(start), last = Math.sqrt(end);
    const count = Math.max(1, Math.ceil((last - first) / PIECE));
    const sight = sky.line(lat, lon, azimuth);
    let there = sight(start), from = pixel(there.lat, there.lon), near = start;
    for (let n = 1; n <= count; n++) {
      const far = (first + n * (last - first) / count) ** 2;
      there = sight(far);
      const to = pixel(there.lat, there.lon);
      lookAlong(layer, from, to, near, far, eye);
      from = to; near = far;
    }
  }
  function bareSkyline(lat, lon, azimuth, eye) {
    best = -Infinity; bestAt = NaN;
    for (const layer of layers) overLayer(layer, lat, lon, azimuth, eye);
    return best === -Infinity ? { altitude: NaN, distance: NaN } : { altitude: Math.atan(best) / RAD, distance: bestAt };
  }

  /* ---- measured marks, as terrain/marks/walls.py raises them */
  const WIDEST_GAP = 3, SIDEWAYS = 0.25, NEAREST_UNTOLD = 100, FARTHEST_EYE = 50, TALLEST = 50, FARTHEST_UNTOLD = 20000, SHARE = 0.1;
  function wallsOf(set) {
    const { azimuths, altitudes, near, mid, far, told } = set, n = azimuths.length, walls = [];
    const gap = azimuths.map((one, i) => (n === 1 ? 360 : wrap360(azimuths[(i + 1) % n] - one)));
    const wall = (i, j, from, to) => {
      const ends = [near, mid, far].map((away) => {
        const one = away[i], other = away[j], most = Math.max(one, other);
        return most > 2 * Math.min(one, other) ? [most, most] : [one, other];
      });
      walls.push({ azimuth: [from, to], altitude: [altitudes[i], altitudes[j]], ends, told: told[i] && told[j] });
    };
    for (let i = 0; i < n; i++) if (gap[i] <= WIDEST_GAP) wall(i, (i + 1) % n, azimuths[i], azimuths[i] + gap[i]);
    for (let i = 0; i < n; i++) wall(i, i, azimuths[i] - Math.min(SIDEWAYS, gap[(i + n - 1) % n]), azimuths[i] + Math.min(SIDEWAYS, gap[i]));
    return { ...set, walls };
  }
  /* The highest of a set's walls that a ray meets, wherever the things may be. */
  function markSeen(set, lat, lon, azimuth, eye) {
    const { east, north } = sky.apart(set, { lat, lon }), near = Math.hypot(east, north) <= FARTHEST_EYE;
    const ahead = azimuth - wrap180(lon - set.lon) * sin((lat + set.lat) / 2), ux = sin(ahead), uy = cos(ahead);
    let found = null;
    for (const wall of set.walls) {
      if (!near && !wall.told) continue;
      for (const at of wall.told ? [1] : [0, 1, 2]) {
        const away = wall.ends[at], x = away.map((m, n) => m * sin(wall.azimuth[n])), y = away.map((m, n) => m * cos(wall.azimuth[n]));
        const wx = x[1] - x[0], wy = y[1] - y[0], ax = x[0] - east, ay = y[0] - north, cross = ux * wy - uy * wx;
        const s = (ax * wy - ay * wx) / cross, t = (ax * uy - ay * ux) / cross;
        if (!(s > 0 && t >= -1e-9 && t <= 1 + 1e-9 && s <= ground.reach_m)) continue;
        const top = away.map((m, n) => set.eye_m + m * tan(wall.altitude[n]) + DROP * m * m), share = Math.min(Math.max(t, 0), 1);
        const altitude = Math.atan2(top[0] + share * (top[1] - top[0]) - eye - DROP * s * s, s) / RAD;
        if (!found || altitude > found.altitude) found = { altitude, distance: s };
      }
    }
    return found;
  }
  /* A reading of the skyline as a set of its own: how far away the thing may be follows from the ground. */
  function markSet({ lat, lon, eye_m, azimuth, altitude, distance }) {
    const behind = bareSkyline(lat, lon, azimuth, eye_m), told = Number.isFinite(distance), over = tan(altitude) - tan(behind.altitude);
    let tall = over > 0 ? TALLEST / over : NEAREST_UNTOLD;
    tall = Number.isNaN(over) ? FARTHEST_UNTOLD : Math.min(tall, FARTHEST_UNTOLD);
    const untold = Math.max(Number.isNaN(behind.distance) ? 0 : behind.distance, tall, NEAREST_UNTOLD);
    const near = told ? distance * (1 - SHARE) : NEAREST_UNTOLD, far = told ? distance * (1 + SHARE) : untold;
    return wallsOf({ lat, lon, eye_m, azimuths: [wrap360(azimuth)], altitudes: [altitude], near: [near], far: [far], mid: [told ? distance : 2 / (1 / near + 1 / far)], told: [told] });
  }
  const planned = ground.marks.map(wallsOf);

  function skyline(lat, lon, azimuth, eye, marks = []) {
    let seen = bareSkyline(lat, lon, azimuth, eye);
    for (const set of [...planned, ...marks]) {
      const mark = markSeen(set, lat, lon, azimuth, eye);
      if (mark && !(mark.altitude <= seen.altitude)) seen = mark;
    }
    return seen;
  }
  return { heightAt, skyline, markSet };
}
