"use strict";
/* Stands, frames and skylines again, in the page, from what the plan carries; docs/pocket.md.
   No document, no clock, nothing global but this function. Times are seconds of UTC since 1970,
   angles degrees, lengths metres; NaN where there is no number. The rules are those of
   alignment/stand and alignment/night; where they are explained in Python they are not again here. */
function fieldSolver(carried) {
  const RAD = Math.PI / 180, AXIS_M = 6378137, FLAT = 1 / 298.257223563, POLAR_M = AXIS_M * (1 - FLAT);
  const E2 = FLAT * (2 - FLAT), { night, target, subject, camera, framing, ground, rules } = carried;
  const DROP = (1 - rules.refraction_k) / (2 * rules.earth_radius_m);
  const TRIALS = 96, SPREAD = 6, LOOKS = [2, 8, TRIALS / 2 - 1], MIDDLE = TRIALS / 2 - 1;
  const RATIOS = Array.from({ length: TRIALS }, (_, i) => SPREAD ** (-1 + (2 * i) / (TRIALS - 1)));
  const LIMITS = ["twilight", "moon", "ridge", "horizon", "frame", "subject", "unknown ground", "no stand"];

  const sin = (deg) => Math.sin(deg * RAD), cos = (deg) => Math.cos(deg * RAD), tan = (deg) => Math.tan(deg * RAD);
  const atan2 = (y, x) => Math.atan2(y, x) / RAD;
  const wrap360 = (deg) => ((deg % 360) + 360) % 360;
  const wrap180 = (deg) => wrap360(deg + 180) - 180;
  const given = (value) => value !== undefined && value !== null;

  /* ---- the Earth: Vincenty's direct solution, and metres to a degree */
  function along(lat, lon, azimuth, distance) {
    const reduced = Math.atan((1 - FLAT) * tan(lat)), su = Math.sin(reduced), cu = Math.cos(reduced);
    const sa = sin(azimuth), ca = cos(azimuth), first = Math.atan2(su, cu * ca), alpha = cu * sa;
    const cos2 = 1 - alpha * alpha, u2 = cos2 * (AXIS_M ** 2 - POLAR_M ** 2) / POLAR_M ** 2;
    const A = 1 + u2 / 16384 * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const B = u2 / 1024 * (256 + u2 * (-128 + u2 * (74 - 47 * u2)));
    let arc = distance / (POLAR_M * A), c2 = 0, s = 0, c = 1;
    for (let round = 0; round < 8; round++) {
      c2 = Math.cos(2 * first + arc); s = Math.sin(arc); c = Math.cos(arc);
      const step = B * s * (c2 + B / 4 * (c * (2 * c2 * c2 - 1) - B / 6 * c2 * (4 * s * s - 3) * (4 * c2 * c2 - 3)));
      const next = distance / (POLAR_M * A) + step, done = Math.abs(next - arc) < 1e-15;
      arc = next;
      if (done) break;
    }
    c2 = Math.cos(2 * first + arc); s = Math.sin(arc); c = Math.cos(arc);
    const across = su * s - cu * c * ca;
    const lat2 = Math.atan2(su * c + cu * s * ca, (1 - FLAT) * Math.hypot(alpha, across));
    const C = FLAT / 16 * cos2 * (4 + FLAT * (4 - 3 * cos2));
    const turn = Math.atan2(s * sa, cu * c - su * s * ca)
      - (1 - C) * FLAT * alpha * (arc + C * s * (c2 + C * c * (2 * c2 * c2 - 1)));
    return { lat: lat2 / RAD, lon: wrap180(lon + turn / RAD), azimuth: wrap360(Math.atan2(alpha, -across) / RAD) };
  }
  function metresPerDegree(lat) {
    const curve = 1 - E2 * sin(lat) ** 2;
    return { east: AXIS_M / Math.sqrt(curve) * cos(lat) * RAD, north: AXIS_M * (1 - E2) / curve ** 1.5 * RAD };
  }

  /* ---- the target: Earth-fixed vectors, carried with the Earth's turn taken off */
  function targetVector(time) {
    const at = (time - target.first_s) / target.step_s, count = target.x.length;
    const i = Math.max(1, Math.min(count - 3, Math.floor(at))), t = at - i;
    const w = [-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2, -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6];
    const mix = (v) => w[0] * v[i - 1] + w[1] * v[i] + w[2] * v[i + 1] + w[3] * v[i + 2];
    const x = mix(target.x), y = mix(target.y), turn = -target.turn_rad_s * (time - target.first_s);
    const c = Math.cos(turn), s = Math.sin(turn);
    return [c * x - s * y, s * x + c * y, mix(target.z)];
  }
  function airFactor(height) {
    const kelvin = 288.15 - 0.0065 * Math.min(height, 11000);
    return 1013.25 * (kelvin / 288.15) ** 5.255876 / 1010 * (283 / (273 + kelvin - 273.15));
  }
  const TURNING = -4.4 + Math.sqrt(7.31);
  function seenAltitude(airless, factor) {
    const held = (h) => Math.max(h, TURNING), argument = (h) => (h + 7.31 / (h + 4.4)) * RAD;
    let seen = airless + factor / 60 / Math.tan(argument(held(airless)));
    for (let round = 0; round < 12; round++) {
      const h = held(seen), tangent = Math.tan(argument(h));
      const slope = factor / 60 * RAD * (1 - 7.31 / (h + 4.4) ** 2) * (1 + 1 / tangent ** 2);
      const step = (seen - factor / 60 / tangent - airless) / (1 + slope);
      seen -= step;
      if (!(Math.abs(step) > 1e-11)) break;
    }
    return seen;
  }
  function direction(vector, lat, lon, height) {
    const sla = sin(lat), cla = cos(lat), slo = sin(lon), clo = cos(lon), n = AXIS_M / Math.sqrt(1 - E2 * sla * sla);
    let toward = clo * vector[0] + slo * vector[1], east = clo * vector[1] - slo * vector[0], axis = vector[2];
    if (!target.fixed) {
      toward -= (n + height) * cla; axis -= (n * (1 - E2) + height) * sla;
      const length = Math.hypot(toward, east, axis);
      toward /= length; east /= length; axis /= length;
    }
    east += 7.292115e-5 * (n + height) * cla / 299792458;
    const north = cla * axis - sla * toward, up = sla * axis + cla * toward;
    return {
      azimuth: wrap360(atan2(east, north)),
      altitude: seenAltitude(atan2(up, Math.hypot(east, north)), airFactor(height)),
    };
  }

  /* ---- the ground: squares of the raster's pixels, and the bilinear surface between them */
  const SIDE = ground ? ground.side : 8, EDGE = SIDE + 1, tiles = new Map();
  const key = (i, j) => i * 2097152 + j;
  for (const [i, j, whole, ...steps] of ground ? ground.tiles : []) {
    const z = new Float64Array(EDGE * EDGE), quantum = ground.quanta_m[whole ? 0 : 1];
    let value = 0;
    steps.forEach((step, n) => {
      if (step === null) z[n] = NaN;
      else if (step === false) z[n] = -0;
      else { value += step; z[n] = value * quantum; }
    });
    tiles.set(key(i, j), { z, whole });
  }
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
  const tileAt = (row, col) => tiles.get(key(Math.floor(row / SIDE), Math.floor(col / SIDE)));
  function surface(row, col) {
    if (!(row >= 0 && col >= 0)) return NaN;
    const tile = tileAt(row, col);
    if (!tile || !tile.whole) return NaN;
    const i = Math.floor(row), j = Math.floor(col), at = (i % SIDE) * EDGE + (j % SIDE), z = tile.z;
    const u = row - i, v = col - j;
    const nearest = z[at + (u > 0.5 ? EDGE : 0) + (v > 0.5 ? 1 : 0)];
    if (Object.is(nearest, -0)) return NaN;
    let height = 0;
    for (const [n, w] of [[at, (1 - u) * (1 - v)], [at + 1, (1 - u) * v], [at + EDGE, u * (1 - v)], [at + EDGE + 1, u * v]]) {
      if (w > 0) height += w * z[n];
    }
    return height;
  }
  function groundAt(lat, lon) {
    if (!ground) return subject.ground_m;
    const p = pixel(lat, lon); return surface(p.row, p.col);
  }

  /* ---- the skyline: every carried cell that a sight line crosses, in closed form */
  const CHORD_M = 1000;
  function skyline(lat, lon, azimuth, eye) {
    let best = { tangent: -Infinity, distance: NaN };
    let from = pixel(lat, lon), near = 1e-3;
    const reach = ground.reach_m;
    for (let far = CHORD_M; near < reach; far += CHORD_M) {
      const end = Math.min(far, reach), there = along(lat, lon, azimuth, end), to = pixel(there.lat, there.lon);
      best = lookAlong(from, to, near, end, eye, best);
      from = to; near = end;
      const beyond = (end < reach) && (to.row < -1 || to.col < -1 || to.row > ground.shape[0] || to.col > ground.shape[1]);
      if (beyond) break;
    }
    return { altitude: Math.atan(best.tangent) / RAD, distance: best.distance };
  }
  /* Cut a straight way at lines `size` apart, and hand on each piece with the square it lies in. */
  function cut(a, b, size, each) {
    const shares = [0], dr = b.row - a.row, dc = b.col - a.col;
    for (const [from, run] of [[a.row, dr], [a.col, dc]]) {
      if (run === 0) continue;
      const low = Math.min(from, from + run), high = Math.max(from, from + run);
      for (let line = (Math.floor(low / size) + 1) * size; line < high; line += size) shares.push((line - from) / run);
    }
    shares.sort((one, other) => one - other);
    shares.push(1);
    for (let n = 0; n + 1 < shares.length; n++) {
      const p = shares[n], q = shares[n + 1];
      if (!(q > p)) continue;
      const m = (p + q) / 2;
      each(p, q, Math.floor((a.row + m * dr) / size), Math.floor((a.col + m * dc) / size));
    }
  }
  function lookAlong(a, b, near, far, eye, best) {
    const point = (share) => ({ row: a.row + share * (b.row - a.row), col: a.col + share * (b.col - a.col) });
    cut(a, b, SIDE, (p, q, I, J) => {
      const tile = tiles.get(key(I, J));
      if (!tile || I < 0 || J < 0) return;
      const s = near + p * (far - near), e = near + q * (far - near), begin = point(p), end = point(q);
      cut(begin, end, 1, (k, l, i, j) => {
        const x = s + k * (e - s), length = (l - k) * (e - s);
        if (!(length > 0)) return;
        const at = Math.min(Math.max(i - I * SIDE, 0), SIDE - 1) * EDGE + Math.min(Math.max(j - J * SIDE, 0), SIDE - 1);
        const z = tile.z, down = z[at + EDGE] - z[at], over = z[at + 1] - z[at], twist = z[at + EDGE + 1] - z[at] - down - over;
        const dr = (end.row - begin.row) / (e - s), dc = (end.col - begin.col) / (e - s);
        const u = begin.row + k * (end.row - begin.row) - i, v = begin.col + k * (end.col - begin.col) - j;
        const rise = z[at] + down * u + over * v + twist * u * v - eye;
        const slope = down * dr + over * dc + twist * (u * dc + v * dr), curve = twist * dr * dc, y = x + length;
        const enters = rise / x - DROP * x, leaves = (rise + (slope + curve * length) * length) / y - DROP * y;
        const A = rise - (slope - curve * x) * x, C = curve - DROP;
        const top = Math.min(Math.max(Math.sqrt(Math.max(A / C, 0) || 0), x), y);
        const highest = A / top + (slope - 2 * curve * x) + C * top;
        const tangent = Math.max(enters, leaves, highest);
        if (!(tangent > best.tangent)) return;
        best = { tangent, distance: highest > Math.max(enters, leaves) ? top : enters >= leaves ? x : y };
      });
    });
    return best;
  }

  /* ---- the lens: directions to millimetres and back */
  const rectilinear = (lens) => lens.projection === "rectilinear";
  function radiusOfAngle(lens, angle) {
    if (rectilinear(lens)) return Math.abs(angle) < 90 ? lens.focal_mm * tan(angle) : NaN;
    return Math.abs(angle) <= 180 ? 2 * lens.focal_mm * Math.sin(angle * RAD / 2) : NaN;
  }
  function angleOfRadius(lens, radius) {
    const ratio = radius / lens.focal_mm;
    if (rectilinear(lens)) return Math.atan(ratio) / RAD;
    return Math.abs(ratio) <= 2 ? 2 * Math.asin(ratio / 2) / RAD : NaN;
  }
  function ray(azimuth, altitude, axis, pitch) {
    const level = cos(altitude) * cos(azimuth - axis), high = sin(altitude);
    return [cos(altitude) * sin(azimuth - axis), cos(pitch) * high - sin(pitch) * level, cos(pitch) * level + sin(pitch) * high];
  }
  function onSensor(lens, [right, up, forward]) {
    let depth = forward;
    if (!rectilinear(lens)) depth = Math.sqrt(Math.max(0, (1 + forward) / 2));
    if (!(depth > 0)) return [NaN, NaN];
    return [right * lens.focal_mm / depth, up * lens.focal_mm / depth];
  }
  function fromSensor(lens, x_mm, y_mm) {
    const x = x_mm / lens.focal_mm, y = y_mm / lens.focal_mm;
    if (rectilinear(lens)) { const f = 1 / Math.sqrt(1 + x * x + y * y); return [x * f, y * f, f]; }
    const half = (x * x + y * y) / 4, cosine = Math.sqrt(1 - half);
    return [x * cosine, y * cosine, 1 - 2 * half];
  }
  function inFrame(lens, azimuth, altitude, axis, pitch) {
    const [x, y] = onSensor(lens, ray(azimuth, altitude, axis, pitch));
    return { x: 0.5 + x / camera.width_mm, y: 0.5 + (y - lens.rise_mm) / camera.height_mm };
  }

  /* ---- how the subject fills the frame */
  function fitOf(ask) {
    const { lens } = ask, margin_mm = (ask.base_margin - 0.5) * camera.height_mm;
    const base = angleOfRadius(lens, lens.rise_mm + margin_mm);
    const fit = { base_from_axis: base, by_width: framing.share_of === "width" };
    fit.angle = angleOfRadius(lens, lens.rise_mm + margin_mm + ask.share * camera.height_mm) - base;
    fit.pitch = (altitude) => (framing.level ? 0 : altitude - base);
    fit.height = (distance, rise) => {
      const low = atan2(rise, distance), top = atan2(rise + ask.height, distance), pitch = fit.pitch(low);
      return (radiusOfAngle(lens, top - pitch) - radiusOfAngle(lens, low - pitch)) / camera.height_mm;
    };
    const turn = framing.level ? 0 : base;
    const across = (x, up, distance, rise) => {
      const away = Math.hypot(distance, rise);
      const level = framing.level ? 1 : distance / away, steep = framing.level ? 0 : rise / away;
      const c = level * cos(turn) + steep * sin(turn), s = steep * cos(turn) - level * sin(turn);
      const far = Math.sqrt(distance ** 2 + x ** 2 + up ** 2);
      return onSensor(lens, [x / far, (c * up - s * distance) / far, (c * distance + s * up) / far])[0];
    };
    fit.width = (distance, rise) => {
      const shape = rectilinear(lens) ? ask.corners : ask.sides;
      const x = shape.across.map((one, n) => across(one, rise + shape.up[n], distance, rise));
      return (outermost(x, shape.inner) + outermost(x.map((one) => -one), shape.inner)) / camera.width_mm;
    };
    fit.excess = (distance, rise) => {
      if (fit.by_width) return fit.width(distance, rise) - ask.share;
      if (framing.level) return fit.height(distance, rise) - ask.share;
      return atan2(ask.height * distance, distance ** 2 + rise * (rise + ask.height)) - fit.angle;
    };
    fit.levelDistance = (over) => {
      if (fit.by_width) return ask.width * lens.focal_mm / (ask.share * camera.width_mm);
      if (framing.level) return ask.height * lens.focal_mm / (ask.share * camera.height_mm);
      const t = tan(fit.angle), root = Math.sqrt(ask.height ** 2 - 4 * (over + ask.height) * over * t * t);
      return t > 0 ? (ask.height + root) / (2 * t) : NaN;
    };
    return fit;
  }
  function outermost(values, inner) {
    let best = 0;
    for (let n = 0; n < values.length; n++) {
      if (Number.isNaN(values[n])) return NaN;
      if (values[n] > values[best]) best = n;
    }
    if (!inner || !inner[best]) return values[best];
    const before = values[best - 1], most = values[best], after = values[best + 1], bend = before - 2 * most + after;
    return bend < 0 ? most - (after - before) ** 2 / (8 * bend) : most;
  }

  /* ---- what is asked: a lens and a correction, put together once */
  function asked(which, correction = {}) {
    const own = typeof which === "number" ? carried.lenses[which] : carried.lenses.find((one) => one.label === which || one === which);
    const lens = { ...own, focal_mm: given(correction.focal_mm) ? correction.focal_mm : own.focal_mm };
    const pick = (name, otherwise) => (given(correction[name]) ? correction[name] : otherwise);
    const height = pick("subject_height_m", subject.height_m), stretch = height / subject.height_m;
    let widen = 1;
    if (given(correction.subject_width_m)) widen = correction.subject_width_m / subject.width_m;
    else if (!subject.width_given) widen = stretch;
    const ask = {
      lens, height, width: subject.width_m * widen, across: widen, up: stretch,
      share: pick("share", own.share), base_margin: pick("base_margin", framing.base_margin),
      eye: pick("eye_height_m", framing.eye_height_m), distance: pick("distance_m", NaN),
      drop: given(correction.ground_step_m) ? -correction.ground_step_m : own.stand_drop_m,
      compass_error: pick("compass_error_deg", 0), correction,
    };
    const scaled = (shape) => shape && ({ across: shape.across.map((x) => x * widen), up: shape.up.map((y) => y * stretch), inner: shape.inner });
    ask.corners = scaled(subject.corners);
    ask.sides = scaled(subject.sides);
    ask.rings = subject.rings && subject.rings.map((ring) => ring.map(([x, y]) => [x * widen, y * stretch]));
    ask.fit = fitOf(ask);
    ask.base = subject.ground_m + subject.base_height_m;
    ask.over = subject.base_height_m - ask.eye + (given(ask.drop) ? ask.drop : 0);
    ask.level = ask.fit.levelDistance(ask.over);
    ask.wrong = wrongWith(ask, correction);
    return ask;
  }
  const NAMES = {
    subject_height_m: "The subject's height", subject_width_m: "The subject's width", ground_step_m: "The step of the ground",
    distance_m: "The distance", eye_height_m: "The eye's height", share: "The share", base_margin: "The margin under the base",
    focal_mm: "The focal length", compass_error_deg: "The compass's error", skyline_deg: "The skyline's altitude",
    skyline_azimuth_deg: "The skyline's azimuth", skyline_distance_m: "The skyline's distance",
  };
  function wrongWith(ask, correction) {
    for (const [name, value] of Object.entries(correction)) {
      if (!given(value) || !(name in NAMES)) continue;
      const [low, high, unit] = rules.ranges[name];
      if (typeof value !== "number" || !(value >= low && value <= high)) {
        return `${NAMES[name]} is not a number from ${low} to ${high}${unit}.`;
      }
    }
    const upright = framing.level || ask.fit.by_width ? 0 : ask.share;
    if (Number.isNaN(ask.distance) && !(ask.base_margin + upright <= 1)) return "Share and margin together are more than the frame.";
    return null;
  }

  /* ---- distance and bearing together, as alignment/stand/solve.py */
  function riseAt(ask, height, distance) { return ask.base - (height + ask.eye) - DROP * distance * distance; }
  function heightAlong(ask, back, distance) {
    if (given(ask.drop)) return subject.ground_m - ask.drop;
    const end = along(subject.lat, subject.lon, back, distance);
    return groundAt(end.lat, end.lon);
  }
  function excessAt(ask, back, distance) {
    return ask.fit.excess(distance, riseAt(ask, heightAlong(ask, back, distance), distance));
  }
  function bracket(ask, back) {
    const none = { low: NaN, high: NaN, beyond: false };
    if (!Number.isFinite(ask.level)) return none;
    const tallest = ask.over * (ask.over + ask.height) > 0 ? Math.sqrt(ask.over * (ask.over + ask.height)) : NaN;
    const known = new Map(), value = (distance) => {
      if (!known.has(distance)) known.set(distance, excessAt(ask, back, distance));
      return known.get(distance);
    };
    let beyond = false;
    const falls = (low, high) => {
      const a = value(low), b = value(high);
      if (Number.isNaN(a) || Number.isNaN(b)) beyond = true;
      return a >= 0 && b < 0;
    };
    if (Number.isNaN(tallest)) {
      for (const reach of LOOKS) {
        const order = Array.from({ length: 2 * reach + 1 }, (_, n) => n);
        order.sort((a, b) => Math.abs(2 * (a - reach) - 1) - Math.abs(2 * (b - reach) - 1) || a - b);
        for (const n of order) {
          const at = MIDDLE - reach + n, low = ask.level * RATIOS[at], high = ask.level * RATIOS[at + 1];
          if (at >= 0 && at + 1 < TRIALS && falls(low, high)) return { low, high, beyond };
        }
      }
      return { ...none, beyond };
    }
    const trial = [...RATIOS.map((ratio) => ask.level * ratio), tallest].sort((a, b) => a - b);
    const order = trial.slice(0, -1).map((_, n) => n);
    const off = (n) => Math.abs(Math.log(trial[n] / ask.level));
    order.sort((a, b) => off(a) - off(b) || a - b);
    for (const n of order) if (falls(trial[n], trial[n + 1])) return { low: trial[n], high: trial[n + 1], beyond };
    return { ...none, beyond };
  }
  function polish(ask, back, low, high, exact) {
    let fLow = excessAt(ask, back, low), fHigh = excessAt(ask, back, high), middle = NaN;
    for (let round = 0; round < 60; round++) {
      middle = (low * fHigh - high * fLow) / (fHigh - fLow);
      const f = excessAt(ask, back, middle);
      if (Number.isNaN(f)) return NaN;
      if (Math.abs(f) < exact) break;
      if ((f > 0) !== (fHigh > 0)) { low = high; fLow = fHigh; } else fLow *= 0.5;
      high = middle; fHigh = f;
    }
    return middle;
  }
  function solve(ask, time) {
    const vector = targetVector(time);
    const wanted = (lat, lon) => direction(vector, lat, lon, subject.ground_m).azimuth - framing.offset_deg;
    let back = wrap360(wanted(subject.lat, subject.lon) + 180), distance = ask.distance, roots = null;
    if (Number.isNaN(distance)) {
      roots = bracket(ask, back);
      if (roots.beyond) return { beyond: true };
      if (Number.isNaN(roots.low)) return { beyond: false };
      distance = polish(ask, back, roots.low, roots.high, 1e-6);
    }
    for (let round = 0; round < 2; round++) {
      const end = along(subject.lat, subject.lon, back, distance);
      back = wrap360(back + wrap180(wanted(end.lat, end.lon) - (end.azimuth + 180)));
    }
    if (roots) {
      const close = [distance * (1 - 1e-5), distance * (1 + 1e-5)];
      const [low, high] = excessAt(ask, back, close[0]) >= 0 && excessAt(ask, back, close[1]) < 0 ? close : [roots.low, roots.high];
      distance = polish(ask, back, low, high, 1e-11);
    }
    const end = along(subject.lat, subject.lon, back, distance), height = heightAlong(ask, back, distance);
    if (!Number.isFinite(height) || !Number.isFinite(distance)) return { beyond: true };
    const rise = riseAt(ask, height, distance);
    return {
      lat: end.lat, lon: end.lon, distance, back, bearing: wrap360(end.azimuth + 180), ground: height, rise, vector,
      base: atan2(rise, distance), top: atan2(rise + ask.height, distance),
    };
  }

  /* ---- whether the target stands in its place, and whether the subject hides it */
  function inPlace(x, y, above) {
    const edge = framing.edge_margin, [left, bottom, right, top] = framing.target_box || [0, 0, 1, 1];
    let room = Math.min(x - Math.max(edge, left), Math.min(1 - edge, right) - x, y - Math.max(edge, bottom), Math.min(1 - edge, top) - y);
    if (given(framing.above_top_deg)) room = Math.min(room, 0.01 * (framing.play_deg - Math.abs(above - framing.above_top_deg)));
    return room >= 0;
  }
  function isBehind(ask, place, azimuth, altitude) {
    const turn = azimuth - place.bearing, ahead = cos(turn);
    if (!(ahead > 0)) return false;
    const across = place.distance * tan(turn), low = tan(place.base);
    const up = ask.height * (tan(altitude) / ahead - low) / (tan(place.top) - low);
    if (!ask.rings) return Math.abs(across) < ask.width / 2 && up < ask.height;
    const [left, right] = [Math.min(...ask.corners.across), Math.max(...ask.corners.across)];
    if (!(across > left && across < right && up < ask.height)) return false;
    return up <= 0 || inOutline(ask, across, up, place.distance * 2 * tan(framing.play_deg));
  }
  function inOutline(ask, x, y) {
    let inside = false;
    for (const ring of ask.rings) {
      for (let n = 0, m = ring.length - 1; n < ring.length; m = n++) {
        const [ax, ay] = ring[n], [bx, by] = ring[m];
        if ((ay > y) !== (by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax) inside = !inside;
      }
    }
    return inside;
  }
  function askedBehind(topY) {
    if (framing.behind_subject || (given(framing.above_top_deg) && framing.above_top_deg < 0)) return true;
    return Boolean(framing.target_box) && framing.target_box[3] <= topY;
  }

  /* ---- one moment */
  const within = (windows, time) => windows.some(([start, end]) => start <= time && time <= end);
  function settle(ask, time) {
    const place = ask.wrong ? { wrong: true } : solve(ask, time);
    const none = !Number.isFinite(place.lat), out = { time, place, none, beyond: Boolean(place.beyond) };
    const sunless = within(night.sunless, time), dark = within(night.dark, time), flags = {};
    flags.twilight = !sunless;
    flags.moon = sunless && !dark;
    if (!none) {
      const seen = direction(place.vector, place.lat, place.lon, place.ground);
      let pitch = ask.fit.pitch(place.base);
      if (!(Math.abs(pitch) <= 90)) pitch = NaN;
      const raster = groundAt(place.lat, place.lon);
      const eye = Math.max(place.ground, Number.isNaN(raster) ? place.ground : raster) + ask.eye;
      const ridge = skylineSeen(ask, place, seen.azimuth, eye);
      const at = inFrame(ask.lens, seen.azimuth, seen.altitude, place.bearing, pitch);
      const base = inFrame(ask.lens, place.bearing, place.base, place.bearing, pitch);
      const top = inFrame(ask.lens, place.bearing, place.top, place.bearing, pitch);
      Object.assign(out, { seen, pitch, ridge, at, base, top, clearance: seen.altitude - ridge.altitude });
      out.held = inPlace(at.x, at.y, seen.altitude - place.top);
      out.behind = isBehind(ask, place, seen.azimuth, seen.altitude);
      const down = seen.altitude <= 0;
      flags.ridge = out.clearance < night.clear_by_deg && !down;
      flags.horizon = down;
      flags.frame = !out.held;
      flags.subject = out.behind && !askedBehind(top.y);
      flags["unknown ground"] = !Number.isFinite(out.clearance);
    }
    flags["no stand"] = none;
    out.limits = LIMITS.filter((name) => flags[name]);
    out.usable = out.limits.length === 0;
    return out;
  }
  function skylineSeen(ask, place, azimuth, eye) {
    if (!ground) return { altitude: NaN, distance: NaN };
    return skyline(place.lat, place.lon, azimuth, eye);
  }

  /* ---- shutter and focus */
  function shutterAt(ask, found) {
    if (!Number.isFinite(found.at.x)) return NaN;
    const lens = ask.lens, begin = fromSensor(lens, (found.at.x - 0.5) * camera.width_mm, (found.at.y - 0.5) * camera.height_mm + lens.rise_mm);
    const pole = ray(0, found.place.lat, found.place.bearing, found.pitch), from = onSensor(lens, begin);
    const dot = pole[0] * begin[0] + pole[1] * begin[1] + pole[2] * begin[2];
    for (const shutter of rules.shutters_s) {
      const turn = rules.sidereal_rad_s * shutter, s = Math.sin(turn), c = Math.cos(turn), lift = dot * (1 - c);
      const to = onSensor(lens, [
        begin[0] * c + (pole[1] * begin[2] - pole[2] * begin[1]) * s + pole[0] * lift,
        begin[1] * c + (pole[2] * begin[0] - pole[0] * begin[2]) * s + pole[1] * lift,
        begin[2] * c + (pole[0] * begin[1] - pole[1] * begin[0]) * s + pole[2] * lift,
      ]);
      const px = Math.hypot((to[0] - from[0]) * camera.width_px / camera.width_mm, (to[1] - from[1]) * camera.height_px / camera.height_mm);
      if (px <= rules.accepted_trail_px) return shutter;
    }
    return NaN;
  }
  function focusOf(lens) {
    const reach = (circle) => lens.focal_mm ** 2 / (lens.f_number * circle) / 1000;
    return {
      sharp_from_m: reach(rules.accepted_blur_px * camera.pixel_pitch_um / 1000),
      sharp_by_circle_from_m: reach(camera.circle_mm),
      hyperfocal_m: reach(rules.full_frame_circle_mm) + lens.focal_mm / 1000,
    };
  }

  /* ---- what is given to the page */
  function outsideOf(ask, time, found) {
    if (ask.wrong) return ask.wrong;
    if (!(time >= solver.nightStart_s && time <= solver.nightEnd_s)) return "That time is outside the night that this page carries.";
    if (found && found.beyond) return "The stand would lie beyond the ground that this page carries.";
    return null;
  }
  function standOf(ask, time) {
    const empty = { time_s: time, lens: ask.lens.label, lat: NaN, lon: NaN, distance_m: NaN, bearing_deg: NaN, compass_deg: NaN, pitch_deg: NaN,
      target_azimuth_deg: NaN, target_altitude_deg: NaN, skyline_deg: NaN, skyline_distance_m: NaN, clearance_deg: NaN, share: NaN, share_width: NaN, outward_deg: NaN, outward_compass_deg: NaN,
      x: NaN, y: NaN, play_m: NaN, swing_m_per_minute: NaN, ground_m: NaN, shutter_s: NaN, tape_m: NaN, limits: [], usable: false,
      from_planned: null, ...focusOf(ask.lens), subject_blur_px: NaN };
    let outside = outsideOf(ask, time, null);
    if (outside) return { ...empty, outside };
    const found = settle(ask, time), { place } = found;
    outside = outsideOf(ask, time, found);
    if (found.none) return { ...empty, outside, limits: outside ? [] : found.limits };
    const before = direction(targetVector(time - 60), place.lat, place.lon, place.ground), after = direction(targetVector(time + 60), place.lat, place.lon, place.ground);
    const stand = {
      ...empty, lat: place.lat, lon: place.lon, distance_m: place.distance, bearing_deg: place.bearing,
      compass_deg: given(rules.declination_deg) ? wrap360(place.bearing - rules.declination_deg + ask.compass_error) : NaN,
      pitch_deg: found.pitch, target_azimuth_deg: found.seen.azimuth, target_altitude_deg: found.seen.altitude,
      skyline_deg: found.ridge.altitude, skyline_distance_m: found.ridge.distance, clearance_deg: found.clearance,
      share: found.top.y - found.base.y, share_width: ask.fit.width(place.distance, place.rise), x: found.at.x, y: found.at.y,
      play_m: place.distance * tan(framing.play_deg), swing_m_per_minute: place.distance * wrap180(after.azimuth - before.azimuth) / 2 * RAD,
      ground_m: place.ground, tape_m: Math.hypot(place.distance, subject.ground_m - place.ground), shutter_s: shutterAt(ask, found),
      subject_blur_px: ask.lens.focal_mm ** 2 / (ask.lens.f_number * place.distance * 1000) * 1000 / camera.pixel_pitch_um,
      limits: found.limits, usable: found.usable, outside,
    };
    stand.outward_deg = place.back;
    if (given(rules.declination_deg)) stand.outward_compass_deg = wrap360(place.back - rules.declination_deg + ask.compass_error);
    if (ask.lens.planned) stand.from_planned = solver.offset(ask.lens.planned, stand);
    return stand;
  }
  function spans(ask) {
    if (ask.wrong) return [];
    const found = [], ok = (time) => settle(ask, time).usable;
    for (const [first, count] of night.runs) {
      const times = Array.from({ length: count }, (_, n) => first + n * night.step_s), good = times.map(ok);
      for (let n = 0; n < count; n++) {
        if (!good[n] || (n > 0 && good[n - 1])) continue;
        let last = n;
        while (last + 1 < count && good[last + 1]) last++;
        found.push([
          n > 0 ? edge(ok, times[n], times[n - 1]) : times[n],
          last + 1 < count ? edge(ok, times[last], times[last + 1]) : times[last],
        ]);
      }
    }
    return found;
  }
  function edge(ok, inside, outside) {
    for (let n = 0; n < 8; n++) {
      const middle = (inside + outside) / 2;
      if (ok(middle)) inside = middle; else outside = middle;
    }
    return inside;
  }

  const solver = {
    nightStart_s: night.start_s,
    nightEnd_s: night.end_s,
    lenses: carried.lenses.map(({ label, focal_mm }) => ({ label, focal_mm })),
    standAt: (time, lens, correction) => standOf(asked(lens, correction || {}), time),
    usable: (lens, correction) => spans(asked(lens, correction || {})),
    lateTable(lens, correction, every_s = 300) {
      const ask = asked(lens, correction || {}), rows = [];
      for (let time = Math.ceil(night.start_s / every_s) * every_s; time <= night.end_s; time += every_s) rows.push(standOf(ask, time));
      return rows;
    },
    /* Where a stand lies from another, for somebody there who faces the subject. */
    offset(from, to) {
      const middle = metresPerDegree((from.lat + subject.lat) / 2), here = metresPerDegree((from.lat + to.lat) / 2);
      const east = wrap180(subject.lon - from.lon) * middle.east, north = (subject.lat - from.lat) * middle.north, away = Math.hypot(east, north);
      const x = wrap180(to.lon - from.lon) * here.east, y = (to.lat - from.lat) * here.north;
      return { left_m: (east * y - north * x) / away, nearer_m: (east * x + north * y) / away };
    },
    heightFrom: (upper_deg, lower_deg, distance_m) => distance_m * (tan(upper_deg) - tan(lower_deg)),
    compassErrorFrom: (reading_deg, stand) => wrap180(reading_deg - (stand.bearing_deg - rules.declination_deg)),
  };
  return solver;
}
