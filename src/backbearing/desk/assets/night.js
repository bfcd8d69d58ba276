// A night as the desk gave it, read between its moments. No astronomy here: straight lines only.
export const POINT = { lat: 0, lon: 1, distance: 2, bearing: 3, pitch: 4, altitude: 5, skyline: 6, limits: 7 };

const mixed = (a, b, share) => (a === null || b === null ? null : a + (b - a) * share);

function mixedTurn(a, b, share) {
  if (a === null || b === null) return null;
  const turn = ((b - a + 540) % 360) - 180;
  return (a + turn * share + 360) % 360;
}

export class Night {
  constructor(given) {
    Object.assign(this, given);
  }

  get start() { return this.times[0]; }
  get end() { return this.times[this.times.length - 1]; }

  between(time) {
    const last = this.times.length - 1;
    let low = 0;
    let high = last;
    while (low < high - 1) {
      const middle = (low + high) >> 1;
      if (this.times[middle] <= time) low = middle; else high = middle;
    }
    const span = this.times[high] - this.times[low] || 1;
    return [low, high, Math.min(1, Math.max(0, (time - this.times[low]) / span))];
  }

  at(lens, time) {
    const [low, high, share] = this.between(time);
    const a = this.lenses[lens].points[low];
    const b = this.lenses[lens].points[high];
    const usable = this.isIn(this.lenses[lens].usable, time);
    return {
      lat: mixed(a[0], b[0], share),
      lon: mixed(a[1], b[1], share),
      distance: mixed(a[2], b[2], share),
      bearing: mixedTurn(a[3], b[3], share),
      altitude: mixed(a[5], b[5], share),
      skyline: mixed(a[6], b[6], share),
      limits: usable ? [] : (share < 0.5 ? a : b)[7],
      usable,
      left: this.left(lens, time),
    };
  }

  // By how much the Moon brightens the target's sky; null where that is not known.
  moonAdds(time) {
    const [low, high, share] = this.between(time);
    return mixed(this.light.moon_adds_mag[low], this.light.moon_adds_mag[high], share);
  }

  isIn(spans, time) {
    return spans.some(([from, to]) => from <= time && time <= to);
  }

  left(lens, time) {
    const span = this.lenses[lens].usable.find(([from, to]) => from <= time && time <= to);
    return span ? (span[1] - time) / 60 : 0;
  }

  // Local wall time by the zone's offsets that came with the night.
  clock(time) {
    let ahead = this.offsets[0][1];
    for (const [from, minutes] of this.offsets) if (time >= from) ahead = minutes;
    const local = new Date(Math.round((time + ahead * 60) / 60) * 60000);
    return local.toISOString().slice(11, 16);
  }

  // A bearing with what it counts from.
  aim(bearing) {
    const said = this.compass(bearing);
    return this.declination_deg === null ? said : `${said} by compass`;
  }

  compass(bearing) {
    if (bearing === null) return "?";
    const by = this.declination_deg === null ? bearing : bearing - this.declination_deg;
    const said = String(Math.round((by + 360) % 360) % 360).padStart(3, "0");
    return this.declination_deg === null ? `${said} true` : said;
  }
}
