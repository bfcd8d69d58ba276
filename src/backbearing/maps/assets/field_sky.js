"use strict";
/* The Earth and the target upon it, from what the page carries; docs/pocket.md. No document, no
   clock. Angles are degrees, lengths metres, times seconds of UTC since 1970. */
function fieldSky(target, rules) {
  const RAD = Math.PI / 180, AXIS_M = 6378137, FLAT = 1 / 298.257223563, POLAR_M = AXIS_M * (1 - FLAT), E2 = FLAT * (2 - FLAT);
  const sin = (deg) => Math.sin(deg * RAD), cos = (deg) => Math.cos(deg * RAD), tan = (deg) => Math.tan(deg * RAD);
  const atan2 = (y, x) => Math.atan2(y, x) / RAD;
  const wrap360 = (deg) => ((deg % 360) + 360) % 360, wrap180 = (deg) => wrap360(deg + 180) - 180;

  /* Where one comes to along a geodesic of WGS84, and on which azimuth: Vincenty's direct solution
     (Survey Review 23, 1975), within a hundredth of a millimetre as far as a page looks. */
  function line(lat, lon, azimuth) {
    const reduced = Math.atan((1 - FLAT) * tan(lat)), su = Math.sin(reduced), cu = Math.cos(reduced);
    const sa = sin(azimuth), ca = cos(azimuth), first = 2 * Math.atan2(su, cu * ca), alpha = cu * sa;
    const cos2 = 1 - alpha * alpha, u2 = cos2 * (AXIS_M ** 2 - POLAR_M ** 2) / POLAR_M ** 2;
    const A = 1 + u2 / 16384 * (4096 + u2 * (-768 + u2 * (320 - 175 * u2)));
    const B = u2 / 1024 * (256 + u2 * (-128 + u2 * (74 - 47 * u2))), C = FLAT / 16 * cos2 * (4 + FLAT * (4 - 3 * cos2));
    return (distance) => {
      const plain = distance / (POLAR_M * A);
      let arc = plain, s = Math.sin(arc), c = Math.cos(arc), c2 = Math.cos(first + arc);
      for (let round = 0; round < 8; round++) {
        const next = plain + B * s * (c2 + B / 4 * (c * (2 * c2 * c2 - 1) - B / 6 * c2 * (4 * s * s - 3) * (4 * c2 * c2 - 3))), left = Math.abs(next - arc);
        if (left < 1e-14) break;
        arc = next; s = Math.sin(arc); c = Math.cos(arc); c2 = Math.cos(first + arc);
      }
      const across = su * s - cu * c * ca;
      const turn = Math.atan2(s * sa, cu * c - su * s * ca) - (1 - C) * FLAT * alpha * (arc + C * s * (c2 + C * c * (2 * c2 * c2 - 1)));
      return {
        lat: Math.atan2(su * c + cu * s * ca, (1 - FLAT) * Math.sqrt(alpha * alpha + across * across)) / RAD,
        lon: wrap180(lon + turn / RAD),
        azimuth: wrap360(Math.atan2(alpha, -across) / RAD),
      };
    };
  }
  function metresPerDegree(lat) {
    const curve = 1 - E2 * sin(lat) ** 2;
    return { east: AXIS_M / Math.sqrt(curve) * cos(lat) * RAD, north: AXIS_M * (1 - E2) / curve ** 1.5 * RAD };
  }
  /* Metres east and north from one place to another near it. */
  function apart(from, to) {
    const scale = metresPerDegree((from.lat + to.lat) / 2);
    return { east: wrap180(to.lon - from.lon) * scale.east, north: (to.lat - from.lat) * scale.north };
  }

  /* Earth-fixed, in between four nodes of which the Earth's turn was taken off. */
  function vector(time) {
    const at = (time - target.first_s) / target.step_s, i = Math.max(1, Math.min(target.x.length - 3, Math.floor(at))), t = at - i;
    const w = [-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2, -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6];
    const mix = (v) => w[0] * v[i - 1] + w[1] * v[i] + w[2] * v[i + 1] + w[3] * v[i + 2];
    const x = mix(target.x), y = mix(target.y), turn = -target.turn_rad_s * (time - target.first_s), c = Math.cos(turn), s = Math.sin(turn);
    return [c * x - s * y, s * x + c * y, mix(target.z)];
  }

  /* Bennett's refraction, held constant where its slope turns; the standard atmosphere's air. */
  const TURNING = -4.4 + Math.sqrt(7.31);
  function airFactor(height) {
    const kelvin = 288.15 - 0.0065 * Math.min(height, 11000);
    return 1013.25 * (kelvin / 288.15) ** 5.255876 / 1010 * (283 / (kelvin - 0.15));
  }
  function seenAltitude(airless, factor) {
    const argument = (h) => (h + 7.31 / (h + 4.4)) * RAD;
    let seen = airless + factor / 60 / Math.tan(argument(Math.max(airless, TURNING)));
    for (let round = 0; round < 12; round++) {
      const h = Math.max(seen, TURNING), tangent = Math.tan(argument(h));
      const slope = factor / 60 * RAD * (1 - 7.31 / (h + 4.4) ** 2) * (1 + 1 / tangent ** 2);
      const step = (seen - factor / 60 / tangent - airless) / (1 + slope);
      seen -= step;
      if (!(Math.abs(step) > 1e-11)) break;
    }
    return seen;
  }
  /* Apparent direction from a place: its own motion (diurnal aberration) and a body's parallax are in. */
  function direction(fixed, lat, lon, height) {
    const sla = sin(lat), cla = cos(lat), slo = sin(lon), clo = cos(lon), n = AXIS_M / Math.sqrt(1 - E2 * sla * sla);
    let toward = clo * fixed[0] + slo * fixed[1], east = clo * fixed[1] - slo * fixed[0], axis = fixed[2];
    if (!target.fixed) {
      toward -= (n + height) * cla; axis -= (n * (1 - E2) + height) * sla;
      const length = Math.hypot(toward, east, axis);
      toward /= length; east /= length; axis /= length;
    }
    east += rules.earth_rad_s * (n + height) * cla / rules.light_m_s;
    const north = cla * axis - sla * toward, up = sla * axis + cla * toward;
    return { azimuth: wrap360(atan2(east, north)), altitude: seenAltitude(atan2(up, Math.hypot(east, north)), airFactor(height)) };
  }
  return { RAD, sin, cos, tan, atan2, wrap360, wrap180, line, apart, vector, direction };
}
