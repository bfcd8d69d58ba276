"use strict";
/* A camera with a lens, how a subject fills its frame, and what the subject hides; docs/pocket.md. */
function fieldFrame(camera, framing, sky) {
  const { RAD, sin, cos, tan, atan2 } = sky, rectilinear = (lens) => lens.projection === "rectilinear";

  function radiusOfAngle(lens, angle) {
    if (rectilinear(lens)) return Math.abs(angle) < 90 ? lens.focal_mm * tan(angle) : NaN;
    return Math.abs(angle) <= 180 ? 2 * lens.focal_mm * sin(angle / 2) : NaN;
  }
  function angleOfRadius(lens, radius) {
    const ratio = radius / lens.focal_mm;
    if (rectilinear(lens)) return Math.atan(ratio) / RAD;
    return Math.abs(ratio) <= 2 ? 2 * Math.asin(ratio / 2) / RAD : NaN;
  }
  /* Along the camera's axes: right, up, forward. */
  function ray(azimuth, altitude, axis, pitch) {
    const level = cos(altitude) * cos(azimuth - axis), high = sin(altitude);
    return [cos(altitude) * sin(azimuth - axis), cos(pitch) * high - sin(pitch) * level, cos(pitch) * level + sin(pitch) * high];
  }
  function onSensor(lens, [right, up, forward]) {
    const depth = rectilinear(lens) ? forward : Math.sqrt(Math.max(0, (1 + forward) / 2));
    return depth > 0 ? [right * lens.focal_mm / depth, up * lens.focal_mm / depth] : [NaN, NaN];
  }
  function fromSensor(lens, x_mm, y_mm) {
    const x = x_mm / lens.focal_mm, y = y_mm / lens.focal_mm;
    if (rectilinear(lens)) { const f = 1 / Math.sqrt(1 + x * x + y * y); return [x * f, y * f, f]; }
    const half = (x * x + y * y) / 4, cosine = Math.sqrt(1 - half);
    return [x * cosine, y * cosine, 1 - 2 * half];
  }
  function place(lens, azimuth, altitude, axis, pitch) {
    const [x, y] = onSensor(lens, ray(azimuth, altitude, axis, pitch));
    return { x: 0.5 + x / camera.width_mm, y: 0.5 + (y - lens.rise_mm) / camera.height_mm };
  }
  /* Pixels that the star at a place of the frame runs while the shutter is open. */
  function trail(lens, at, lat, axis, pitch, turn) {
    const r = fromSensor(lens, (at.x - 0.5) * camera.width_mm, (at.y - 0.5) * camera.height_mm + lens.rise_mm), p = ray(0, lat, axis, pitch);
    const s = Math.sin(turn), c = Math.cos(turn), lift = (p[0] * r[0] + p[1] * r[1] + p[2] * r[2]) * (1 - c);
    const from = onSensor(lens, r), to = onSensor(lens, [0, 1, 2].map((n) => {
      const a = (n + 1) % 3, b = (n + 2) % 3;
      return r[n] * c + (p[a] * r[b] - p[b] * r[a]) * s + p[n] * lift;
    }));
    return Math.hypot((to[0] - from[0]) * camera.width_px / camera.width_mm, (to[1] - from[1]) * camera.height_px / camera.height_mm);
  }

  /* ---- how the subject fills the frame, as alignment/stand/framing_fit.py */
  function fitOf(ask) {
    const { lens } = ask, base_mm = lens.rise_mm + (ask.base_margin - 0.5) * camera.height_mm, base = angleOfRadius(lens, base_mm);
    const byWidth = framing.share_of === "width", angle = angleOfRadius(lens, base_mm + ask.share * camera.height_mm) - base;
    const turn = framing.level ? 0 : base, pitch = (altitude) => (framing.level ? 0 : altitude - base);
    const height = (distance, rise) => {
      const low = atan2(rise, distance), top = atan2(rise + ask.height, distance), tilt = pitch(low);
      return (radiusOfAngle(lens, top - tilt) - radiusOfAngle(lens, low - tilt)) / camera.height_mm;
    };
    const across = (x, up, distance, rise) => {
      const away = Math.hypot(distance, rise), level = framing.level ? 1 : distance / away, steep = framing.level ? 0 : rise / away;
      const c = level * cos(turn) + steep * sin(turn), s = steep * cos(turn) - level * sin(turn), far = Math.sqrt(distance ** 2 + x ** 2 + up ** 2);
      return onSensor(lens, [x / far, (c * up - s * distance) / far, (c * distance + s * up) / far])[0];
    };
    const width = (distance, rise) => {
      const shape = rectilinear(lens) ? ask.corners : ask.sides;
      const x = shape.across.map((one, n) => across(one, rise + shape.up[n], distance, rise));
      return (outermost(x, shape.inner) + outermost(x.map((one) => -one), shape.inner)) / camera.width_mm;
    };
    function excess(distance, rise) {
      if (byWidth) return width(distance, rise) - ask.share;
      if (framing.level) return height(distance, rise) - ask.share;
      return atan2(ask.height * distance, distance ** 2 + rise * (rise + ask.height)) - angle;
    }
    function level(over) {
      if (byWidth) return ask.width * lens.focal_mm / (ask.share * camera.width_mm);
      if (framing.level) return ask.height * lens.focal_mm / (ask.share * camera.height_mm);
      const t = tan(angle), root = Math.sqrt(ask.height ** 2 - 4 * (over + ask.height) * over * t * t);
      return t > 0 ? (ask.height + root) / (2 * t) : NaN;
    }
    return { byWidth, pitch, width, excess, level };
  }
  /* A fisheye bends straight sides: the outermost point may lie within one, about a parabola's top. */
  function outermost(values, inner) {
    let most = 0;
    for (let n = 0; n < values.length; n++) {
      if (Number.isNaN(values[n])) return NaN;
      if (values[n] > values[most]) most = n;
    }
    if (!inner || !inner[most]) return values[most];
    const before = values[most - 1], after = values[most + 1], bend = before - 2 * values[most] + after;
    return bend < 0 ? values[most] - (after - before) ** 2 / (8 * bend) : values[most];
  }

  /* ---- whether the target stands in its place, and whether the subject hides it */
  function inPlace(at, above) {
    const edge = framing.edge_margin, [left, bottom, right, top] = framing.target_box ?? [0, 0, 1, 1];
    const room = Math.min(at.x - Math.max(edge, left), Math.min(1 - edge, right) - at.x, at.y - Math.max(edge, bottom), Math.min(1 - edge, top) - at.y);
    if (framing.above_top_deg === null) return room >= 0;
    return Math.min(room, 0.01 * (framing.play_deg - Math.abs(above - framing.above_top_deg))) >= 0;
  }
  function isBehind(ask, stand, seen) {
    const turn = seen.azimuth - stand.bearing, ahead = cos(turn), low = tan(stand.base);
    if (!(ahead > 0)) return false;
    const across = stand.distance * tan(turn), up = ask.height * (tan(seen.altitude) / ahead - low) / (tan(stand.top) - low);
    if (!(up < ask.height)) return false;
    if (!ask.outline) return Math.abs(across) < ask.width / 2;
    if (!(across > ask.outline.left && across < ask.outline.right)) return false;
    return up <= 0 || ask.outline.hides(across, up, stand.distance * 2 * tan(framing.play_deg));
  }
  function askedBehind(topY) {
    if (framing.behind_subject || (framing.above_top_deg !== null && framing.above_top_deg < 0)) return true;
    return framing.target_box !== null && framing.target_box[3] <= topY;
  }
  return { place, trail, fitOf, inPlace, isBehind, askedBehind };
}

/* A subject's outline: rings filled by the even-odd rule, gaps closed into which no disc fits. */
function fieldOutline(rings) {
  const edges = rings.flatMap((ring) => ring.map((point, n) => [...point, ...ring[(n + 1) % ring.length]])).filter(([ax, ay, bx, by]) => ax !== bx || ay !== by);
  const xs = rings.flat().map(([x]) => x);
  function inside(x, y) {
    let odd = false;
    for (const [ax, ay, bx, by] of edges) if ((ay > y) !== (by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax) odd = !odd;
    return odd;
  }
  function off2([ax, ay, bx, by], x, y) {
    const dx = bx - ax, dy = by - ay, t = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)));
    return (ax + t * dx - x) ** 2 + (ay + t * dy - y) ** 2;
  }
  /* Whether a place off the outline lies in some disc of a radius that keeps off it altogether: one
     about the place itself, or one that touches the outline where it comes nearest, or twice. */
  function isOpen(x, y, radius) {
    const near = edges.filter((edge) => off2(edge, x, y) < 4 * radius * radius), least = radius * radius * (1 - 2e-9), most = radius * radius * (1 - 1e-12);
    const fits = (mx, my) => (mx - x) ** 2 + (my - y) ** 2 < most && near.every((edge) => off2(edge, mx, my) >= least);
    if (fits(x, y)) return true;
    const circles = near.flatMap(([ax, ay, bx, by]) => [[ax, ay], [bx, by]]), lines = [];
    for (const [ax, ay, bx, by] of near) {
      const long = Math.hypot(bx - ax, by - ay), nx = -(by - ay) / long * radius, ny = (bx - ax) / long * radius;
      for (const side of [1, -1]) lines.push([ax + side * nx, ay + side * ny, bx + side * nx, by + side * ny]);
    }
    for (const [cx, cy] of circles) {
      const away = Math.hypot(x - cx, y - cy);
      if (away > 0 && fits(cx + (x - cx) / away * radius, cy + (y - cy) / away * radius)) return true;
    }
    for (const [ax, ay, bx, by] of lines) {
      const dx = bx - ax, dy = by - ay, t = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy);
      if (t >= 0 && t <= 1 && fits(ax + t * dx, ay + t * dy)) return true;
    }
    return crossings(lines, circles, radius, fits);
  }
  /* Whether one of the places fits where lines and circles cross one another. */
  function crossings(lines, circles, radius, fits) {
    for (let n = 0; n < lines.length; n++) {
      const [ax, ay, bx, by] = lines[n], ux = bx - ax, uy = by - ay, long = ux * ux + uy * uy;
      for (let m = n + 1; m < lines.length; m++) {
        const [cx, cy, dx, dy] = lines[m], cross = ux * (dy - cy) - uy * (dx - cx);
        const t = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / cross, s = ((cx - ax) * uy - (cy - ay) * ux) / cross;
        if (t >= 0 && t <= 1 && s >= 0 && s <= 1 && fits(ax + t * ux, ay + t * uy)) return true;
      }
      for (const [x, y] of circles) {
        const middle = ((x - ax) * ux + (y - ay) * uy) / long, left = radius * radius - (ax + middle * ux - x) ** 2 - (ay + middle * uy - y) ** 2;
        if (left < 0) continue;
        for (const t of [middle - Math.sqrt(left / long), middle + Math.sqrt(left / long)]) if (t >= 0 && t <= 1 && fits(ax + t * ux, ay + t * uy)) return true;
      }
    }
    for (let n = 0; n < circles.length; n++) {
      for (let m = n + 1; m < circles.length; m++) {
        const [x, y] = circles[n], dx = circles[m][0] - x, dy = circles[m][1] - y, away2 = dx * dx + dy * dy;
        if (away2 === 0 || away2 > 4 * radius * radius) continue;
        const off = Math.sqrt(radius * radius / away2 - 0.25);
        if (fits(x + dx / 2 - dy * off, y + dy / 2 + dx * off) || fits(x + dx / 2 + dy * off, y + dy / 2 - dx * off)) return true;
      }
    }
    return false;
  }
  return {
    left: Math.min(...xs),
    right: Math.max(...xs),
    /* The gap's width is taken in steps, eight to each doubling, as alignment/stand/behind_subject.py does. */
    hides: (x, y, gap) => inside(x, y) || !isOpen(x, y, 2 ** (Math.floor(8 * Math.log2(gap)) / 8) / 2),
  };
}
