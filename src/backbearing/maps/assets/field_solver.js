"use strict";
/* Stands for any minute and any correction, in the page, from what the plan carries; docs/pocket.md.
   No document, no clock. Times are seconds of UTC since 1970, angles degrees, lengths metres; NaN
   where there is no number. The rules are those of alignment/stand and alignment/night/lens_arc. */
function fieldSolver(carried) {
  const { night, target, subject, camera, framing, rules } = carried;
  const sky = fieldSky(target, rules), { RAD, cos, tan, atan2, wrap360, wrap180 } = sky;
  const ground = carried.ground ? fieldGround(carried.ground, subject, rules, sky) : null, frame = fieldFrame(camera, framing, sky);
  const DROP = (1 - rules.refraction_k) / (2 * rules.earth_radius_m), given = (value) => value !== undefined && value !== null;
  const heightAt = (lat, lon) => (ground ? ground.heightAt(lat, lon) : subject.ground_m);

  /* ---- what is asked: a lens and a correction, put together once */
  const NAMES = {
    subject_height_m: "The subject's height", subject_width_m: "The subject's width", ground_step_m: "The ground at the stand",
    distance_m: "The distance", eye_height_m: "The height of the lens", share: "The share", base_margin: "The margin under the base",
    focal_mm: "The focal length", compass_error_deg: "The compass's error", skyline_deg: "The skyline's altitude",
    skyline_azimuth_deg: "The skyline's azimuth", skyline_distance_m: "The skyline's distance",
  };
  function wrongWith(correction) {
    for (const [name, value] of Object.entries(correction)) {
      if (!given(value) || !Object.hasOwn(NAMES, name)) continue;
      const [low, high, unit] = rules.ranges[name];
      if (typeof value !== "number" || !(value >= low && value <= high)) return `${NAMES[name]} must be a number from ${low} to ${high}${unit}.`;
    }
    return null;
  }
  const kept = { key: null, ask: null };
  function asked(which, correction) {
    const own = typeof which === "number" ? carried.lenses[which] : carried.lenses.find((one) => one.label === (which?.label ?? which));
    if (!own) throw new RangeError(`The page carries no lens ${which}.`);
    const key = JSON.stringify([own.label, carried.lenses.indexOf(own), correction], (_, value) => (typeof value === "number" ? String(value) : value));
    if (kept.key !== key) { kept.ask = made(own, correction); kept.key = key; }
    return kept.ask;
  }
  function made(own, correction) {
    const wrong = wrongWith(correction), take = (name, otherwise) => (wrong === null && given(correction[name]) ? correction[name] : otherwise);
    const height = take("subject_height_m", subject.height_m), up = height / subject.height_m;
    const wide = take("subject_width_m", subject.width_m * (subject.width_given ? 1 : up)), out = wide / subject.width_m;
    const step = take("ground_step_m", null), scaled = (shape) => shape && { across: shape.across.map((x) => x * out), up: shape.up.map((y) => y * up), inner: shape.inner };
    const ask = {
      wrong, height, lens: { ...own, focal_mm: take("focal_mm", own.focal_mm) }, width: wide,
      share: take("share", own.share), base_margin: take("base_margin", framing.base_margin),
      eye: take("eye_height_m", framing.eye_height_m), distance: take("distance_m", NaN), drop: step === null ? own.stand_drop_m : -step,
      compass_error: take("compass_error_deg", 0), corners: scaled(subject.corners), sides: scaled(subject.sides), marks: [],
      outline: subject.rings && fieldOutline(subject.rings.map((ring) => ring.map(([x, y]) => [x * out, y * up]))),
    };
    ask.base = subject.ground_m + subject.base_height_m;
    ask.over = subject.base_height_m - ask.eye + (ask.drop ?? 0);
    ask.fit = frame.fitOf(ask);
    ask.level = ask.fit.level(ask.over);
    if (wrong === null && Number.isNaN(ask.distance) && ask.base_margin + (framing.level || ask.fit.byWidth ? 0 : ask.share) > 1) {
      ask.wrong = "Share and margin together are more than the whole frame.";
    }
    if (wrong === null && given(correction.skyline_deg)) readSkyline(ask, own, correction);
    return ask;
  }
  /* A reading of the skyline, from the planned stand and under the planned target if not said otherwise. */
  function readSkyline(ask, own, correction) {
    const azimuth = correction.skyline_azimuth_deg ?? own.planned?.target_azimuth_deg, from = correction.skyline_from ?? own.planned ?? subject;
    if (!ground) { ask.wrong = "The page carries no ground, and a reading of the skyline changes nothing."; return; }
    if (!given(azimuth)) { ask.wrong = "A reading of the skyline needs the azimuth at which it was read."; return; }
    const height = heightAt(from.lat, from.lon);
    if (!Number.isFinite(height)) { ask.wrong = "The skyline was read beyond the ground that this page carries."; return; }
    ask.marks = [ground.markSet({ lat: from.lat, lon: from.lon, eye_m: height + rules.reader_eye_m, azimuth, altitude: correction.skyline_deg, distance: correction.skyline_distance_m ?? NaN })];
  }

  /* ---- distance and bearing together, as alignment/stand/solve.py */
  const TRIALS = 96, LOOKS = [2, 8, TRIALS / 2 - 1], MIDDLE = TRIALS / 2 - 1;
  const RATIOS = Array.from({ length: TRIALS }, (_, n) => 6 ** (-1 + (2 * n) / (TRIALS - 1)));
  const ORDERS = LOOKS.map((reach) => Array.from({ length: 2 * reach + 1 }, (_, n) => n)
    .sort((a, b) => Math.abs(2 * (a - reach) - 1) - Math.abs(2 * (b - reach) - 1) || a - b).map((n) => MIDDLE - reach + n));

  const outwards = (azimuth) => ({ azimuth: wrap360(azimuth), at: sky.line(subject.lat, subject.lon, azimuth) });
  const riseAt = (ask, height, distance) => ask.base - (height + ask.eye) - DROP * distance * distance;
  function heightAlong(ask, back, distance) {
    if (ask.drop !== null) return subject.ground_m - ask.drop;
    const end = back.at(distance);
    return heightAt(end.lat, end.lon);
  }
  const excessAt = (ask, back, distance) => ask.fit.excess(distance, riseAt(ask, heightAlong(ask, back, distance), distance));

  /* Between which distances the subject begins to look too small; "beyond" where unknown ground is nearer. */
  function bracket(ask, back) {
    if (!Number.isFinite(ask.level)) return null;
    const product = ask.over * (ask.over + ask.height), trials = RATIOS.map((ratio) => ask.level * ratio);
    let orders = ORDERS;
    if (product > 0) {
      trials.push(Math.sqrt(product));
      trials.sort((a, b) => a - b);
      const off = (n) => Math.abs(Math.log(trials[n] / ask.level));
      orders = [trials.slice(1).map((_, n) => n).sort((a, b) => off(a) - off(b) || a - b)];
    }
    const values = new Array(trials.length);
    let beyond = false;
    const value = (n) => (values[n] ??= (() => {
      const height = heightAlong(ask, back, trials[n]);
      beyond ||= Number.isNaN(height);
      return ask.fit.excess(trials[n], riseAt(ask, height, trials[n]));
    })());
    for (const order of orders) {
      for (const n of order) {
        if (n < 0 || n + 1 >= trials.length) continue;
        const low = value(n), high = value(n + 1);
        if (beyond) return "beyond";
        if (low >= 0 && high < 0) return [trials[n], trials[n + 1]];
      }
    }
    return null;
  }
  function polish(ask, back, [low, high], exact) {
    let atLow = excessAt(ask, back, low), atHigh = excessAt(ask, back, high), middle = NaN;
    for (let round = 0; round < 60; round++) {
      middle = (low * atHigh - high * atLow) / (atHigh - atLow);
      const at = excessAt(ask, back, middle);
      if (Number.isNaN(at)) return NaN;
      if (Math.abs(at) < exact) break;
      if ((at > 0) !== (atHigh > 0)) { low = high; atLow = atHigh; } else atLow *= 0.5;
      high = middle; atHigh = at;
    }
    return middle;
  }
  /* A stand; null where the framing has none; "beyond" where it would lie on ground that is not carried. */
  function solve(ask, time) {
    const fixed = sky.vector(time), wanted = (lat, lon) => sky.direction(fixed, lat, lon, subject.ground_m).azimuth - framing.offset_deg;
    let back = outwards(wanted(subject.lat, subject.lon) + 180), distance = ask.distance, roots = null;
    if (Number.isNaN(distance)) {
      roots = bracket(ask, back);
      if (!Array.isArray(roots)) return roots;
      distance = polish(ask, back, roots, 1e-6);
    }
    for (let round = 0; round < 2; round++) {
      const end = back.at(distance);
      back = outwards(back.azimuth + wrap180(wanted(end.lat, end.lon) - (end.azimuth + 180)));
    }
    if (roots) {
      const close = [distance * (1 - 1e-5), distance * (1 + 1e-5)];
      distance = polish(ask, back, excessAt(ask, back, close[0]) >= 0 && excessAt(ask, back, close[1]) < 0 ? close : roots, 1e-11);
    }
    const end = back.at(distance), raster = heightAt(end.lat, end.lon), height = ask.drop === null ? raster : subject.ground_m - ask.drop;
    if (!Number.isFinite(height + raster + distance)) return "beyond";
    const rise = riseAt(ask, height, distance), eye = Math.max(height, raster) + ask.eye;
    if (ground && eye - raster > carried.ground.eye_up_to_m) return "beyond";
    return { fixed, lat: end.lat, lon: end.lon, distance, back: back.azimuth, bearing: wrap360(end.azimuth + 180), ground: height, rise, eye, base: atan2(rise, distance), top: atan2(rise + ask.height, distance) };
  }

  /* ---- one moment, and what spoils it */
  const within = (windows, time) => windows.some(([start, end]) => start <= time && time <= end);
  function framed(ask, time) {
    const stand = ask.wrong ? null : solve(ask, time);
    if (stand === null || stand === "beyond") return { stand: null, beyond: stand === "beyond" };
    const seen = sky.direction(stand.fixed, stand.lat, stand.lon, stand.ground), tilt = ask.fit.pitch(stand.base), pitch = Math.abs(tilt) <= 90 ? tilt : NaN;
    const at = frame.place(ask.lens, seen.azimuth, seen.altitude, stand.bearing, pitch), base = frame.place(ask.lens, stand.bearing, stand.base, stand.bearing, pitch);
    const top = frame.place(ask.lens, stand.bearing, stand.top, stand.bearing, pitch);
    // At the one possible distance the share follows; it may be more than there is.
    const filled = ask.fit.byWidth ? ask.fit.width(stand.distance, stand.rise) : framing.level ? top.y - base.y : top.y;
    if (!Number.isNaN(ask.distance) && !(filled < 1)) return { stand: null, large: true };
    return { stand, seen, pitch, at, base, top, held: frame.inPlace(at, seen.altitude - stand.top), hidden: frame.isBehind(ask, stand, seen) && !frame.askedBehind(top.y) };
  }
  const ridgeOf = (ask, { stand, seen }) => (ground ? ground.skyline(stand.lat, stand.lon, seen.azimuth, stand.eye, ask.marks) : { altitude: NaN, distance: NaN });
  function limitsOf(time, found, clearance) {
    const limits = [], sunless = within(night.sunless, time), add = (name, holds) => { if (holds) limits.push(name); };
    add("twilight", !sunless);
    add("moon", sunless && !within(night.dark, time));
    if (found.stand) {
      const down = found.seen.altitude <= 0;
      add("ridge", clearance < night.clear_by_deg && !down);
      add("horizon", down);
      add("frame", !found.held);
      add("subject", found.hidden);
      add("unknown ground", !Number.isFinite(clearance));
    }
    add("no stand", !found.stand);
    return limits;
  }
  /* The same question with the dearest answers last. */
  function isUsable(ask, time) {
    if (!within(night.sunless, time) || !within(night.dark, time)) return false;
    const found = framed(ask, time);
    if (!found.stand || !found.held || found.hidden || found.seen.altitude <= 0) return false;
    return found.seen.altitude - ridgeOf(ask, found).altitude >= night.clear_by_deg;
  }
  function spans(ask) {
    if (ask.wrong) return [];
    const found = [];
    for (const [first, count] of night.runs) {
      const times = Array.from({ length: count }, (_, n) => first + n * night.step_s), good = times.map((time) => isUsable(ask, time));
      for (let n = 0; n < count; n++) {
        if (!good[n] || (n > 0 && good[n - 1])) continue;
        let last = n;
        while (last + 1 < count && good[last + 1]) last++;
        found.push([n > 0 ? edge(ask, times[n], times[n - 1]) : times[n], last + 1 < count ? edge(ask, times[last], times[last + 1]) : times[last]]);
      }
    }
    return found;
  }
  function edge(ask, inside, outside) {
    for (let n = 0; n < 8; n++) {
      const middle = (inside + outside) / 2;
      if (isUsable(ask, middle)) inside = middle; else outside = middle;
    }
    return inside;
  }

  /* ---- a stand as the page is given it */
  const NOTHING = Object.fromEntries(["lat", "lon", "ground_m", "distance_m", "tape_m", "bearing_deg", "compass_deg", "outward_deg", "outward_compass_deg",
    "pitch_deg", "share", "share_width", "base_margin", "target_azimuth_deg", "target_altitude_deg", "x", "y", "above_top_deg", "skyline_deg", "skyline_distance_m",
    "clearance_deg", "play_m", "play_minutes", "swing_m_per_minute", "shutter_s", "subject_blur_px"].map((name) => [name, NaN]));
  function focusOf(lens) {
    const reach = (circle) => lens.focal_mm ** 2 / (lens.f_number * circle) / 1000;
    return {
      sharp_from_m: reach(rules.accepted_blur_px * camera.pixel_pitch_um / 1000), sharp_by_circle_from_m: reach(camera.circle_mm),
      hyperfocal_m: reach(rules.full_frame_circle_mm) + lens.focal_mm / 1000,
    };
  }
  function motionOf(ask, { stand }, time) {
    const [before, after] = [time - 60, time + 60].map((at) => sky.direction(sky.vector(at), stand.lat, stand.lon, stand.ground)), turn = wrap180(after.azimuth - before.azimuth);
    const half = (deg) => Math.sin(deg * RAD / 2) ** 2, lift = half(after.altitude - before.altitude);
    const moved = 2 * Math.asin(Math.sqrt(lift + cos(before.altitude) * cos(after.altitude) * half(turn))) / RAD / 2;
    return { play_m: stand.distance * tan(framing.play_deg), play_minutes: moved > 0 ? framing.play_deg / moved : Infinity, swing_m_per_minute: stand.distance * turn / 2 * RAD };
  }
  function shutterOf(ask, { at, stand, pitch }) {
    const short = (shutter) => frame.trail(ask.lens, at, stand.lat, stand.bearing, pitch, rules.sidereal_rad_s * shutter) <= rules.accepted_trail_px;
    return rules.shutters_s.find(short) ?? NaN;
  }
  function outsideOf(ask, time, found) {
    if (ask.wrong) return ask.wrong;
    if (!(time >= night.start_s && time <= night.end_s)) return "That time is outside the night that this page carries.";
    if (found?.large) return "From there the subject is larger than the frame.";
    return found?.beyond ? "The stand would lie beyond the ground that this page carries." : null;
  }
  function standOf(ask, time) {
    const empty = { time_s: time, lens: ask.lens.label, focal_mm: ask.lens.focal_mm, ...NOTHING, ...focusOf(ask.lens), from_planned: null, limits: [], usable: false };
    const early = outsideOf(ask, time, null);
    if (early) return { ...empty, outside: early };
    const found = framed(ask, time), { stand, seen } = found, outside = outsideOf(ask, time, found);
    if (!stand) return { ...empty, outside, limits: outside ? [] : limitsOf(time, found, NaN) };
    const ridge = ridgeOf(ask, found), clearance = seen.altitude - ridge.altitude, limits = limitsOf(time, found, clearance);
    const needle = (bearing) => (rules.declination_deg === null ? NaN : wrap360(bearing - rules.declination_deg + ask.compass_error));
    const here = { lat: stand.lat, lon: stand.lon };
    return {
      ...empty, ...here, ground_m: stand.ground, distance_m: stand.distance, tape_m: Math.hypot(stand.distance, subject.ground_m - stand.ground),
      bearing_deg: stand.bearing, compass_deg: needle(stand.bearing), outward_deg: stand.back, outward_compass_deg: needle(stand.back),
      pitch_deg: found.pitch, share: found.top.y - found.base.y, share_width: ask.fit.width(stand.distance, stand.rise), base_margin: found.base.y,
      target_azimuth_deg: seen.azimuth, target_altitude_deg: seen.altitude, x: found.at.x, y: found.at.y, above_top_deg: seen.altitude - stand.top,
      skyline_deg: ridge.altitude, skyline_distance_m: ridge.distance, clearance_deg: clearance, ...motionOf(ask, found, time), shutter_s: shutterOf(ask, found),
      subject_blur_px: ask.lens.focal_mm ** 2 / (ask.lens.f_number * stand.distance * camera.pixel_pitch_um), limits, usable: limits.length === 0,
      from_planned: ask.lens.planned ? offset(ask.lens.planned, here) : null, outside,
    };
  }
  /* Where a stand lies from another, for somebody there who faces the subject. */
  function offset(from, to) {
    const ahead = sky.apart(from, subject), step = sky.apart(from, to), away = Math.hypot(ahead.east, ahead.north);
    return { left_m: (ahead.east * step.north - ahead.north * step.east) / away, nearer_m: (ahead.east * step.east + ahead.north * step.north) / away };
  }

  return {
    nightStart_s: night.start_s,
    nightEnd_s: night.end_s,
    lenses: carried.lenses.map(({ label, focal_mm }) => ({ label, focal_mm })),
    standAt: (time_s, lens, correction) => standOf(asked(lens, correction ?? {}), time_s),
    usable: (lens, correction) => spans(asked(lens, correction ?? {})),
    lateTable(lens, correction, every_s = 300) {
      const ask = asked(lens, correction ?? {}), first = Math.ceil(night.start_s / every_s), count = Math.floor(night.end_s / every_s) - first + 1;
      return Array.from({ length: Math.max(0, count) }, (_, n) => standOf(ask, (first + n) * every_s));
    },
    offset,
    heightFrom: (upper_deg, lower_deg, distance_m) => distance_m * (tan(upper_deg) - tan(lower_deg)),
    compassErrorFrom: (reading_deg, stand) => (rules.declination_deg === null ? NaN : wrap180(reading_deg - (stand.bearing_deg - rules.declination_deg))),
  };
}
