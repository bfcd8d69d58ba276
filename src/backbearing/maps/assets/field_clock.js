"use strict";
/* The plan's clock from the phone's: its zone, a stated error, a minute by hand, other nights. */
/* Seconds from a star's transit to its next; from memory, and held against Skyfield in tests. */
const SIDEREAL_DAY_S = 86164.0905;

function fieldClock(field) {
  const clock = { ahead_s: 0, held_s: null };
  const device_s = () => Date.now() / 1000;
  clock.true_s = () => device_s() - clock.ahead_s;
  /* What the page counts with: the true time, or the minute that was asked for by hand. */
  clock.now_s = () => clock.held_s ?? clock.true_s();

  const first = field.offsets[0][0], last = field.offsets.at(-1)[0] + 4 * 86400;
  function ofTable(time_s) {
    let found = field.offsets[0];
    for (const row of field.offsets) if (row[0] <= time_s) found = row;
    return { ahead_s: found[1], letters: found[2] };
  }
  /* Beyond the days that the plan names, as the device knows the zone; else as in the plan's night. */
  function zoneAt(time_s) {
    if (time_s >= first && time_s < last) return ofTable(time_s);
    try {
      const parts = new Intl.DateTimeFormat("en-GB", { timeZone: field.zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", second: "numeric", timeZoneName: "short" }).formatToParts(new Date(time_s * 1000));
      const of = (type) => Number(parts.find((part) => part.type === type).value);
      const wall_s = Date.UTC(of("year"), of("month") - 1, of("day"), of("hour"), of("minute"), of("second")) / 1000;
      const ahead_s = Math.round((wall_s - time_s) / 60) * 60;
      /* A zone's letters as the plan has them, where its clocks then show the same. */
      return { ahead_s, letters: field.offsets.find((row) => row[1] === ahead_s)?.[2] ?? parts.find((part) => part.type === "timeZoneName").value };
    } catch { return ofTable(time_s); }
  }
  const wall = (time_s) => new Date((time_s + zoneAt(time_s).ahead_s) * 1000);
  clock.hm = (time_s) => wall(time_s).toISOString().slice(11, 16);
  clock.letters = (time_s) => zoneAt(time_s).letters;
  clock.day = (time_s) => `${wall(time_s).getUTCDate()} ${["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"][wall(time_s).getUTCMonth()]}`;

  /* How far the phone's own zone is ahead of the plan's, seconds, at a moment. */
  clock.phoneAhead_s = (time_s) => -new Date(time_s * 1000).getTimezoneOffset() * 60 - zoneAt(time_s).ahead_s;

  /* A night lasts from two hours after the morning before it to two hours after its own. */
  const from_s = field.end_s + 7200 - 86400, middle_s = (field.start_s + field.end_s) / 2;
  /* Nights from the plan's to this one: 0 for the plan's own. */
  clock.nightsAway = (time_s) => Math.ceil((time_s - from_s) / 86400) - 1;
  /* The plan's minute at which a fixed star stands as it stands now; null where the plan has none. */
  clock.sameSky_s = (time_s) => {
    const turns = Math.round((time_s - middle_s) / SIDEREAL_DAY_S), same_s = time_s - turns * SIDEREAL_DAY_S;
    return field.fixed && same_s >= field.start_s && same_s <= field.end_s ? same_s : null;
  };
  /* Every moment of the plan's night at which the wall clock shows so many minutes: none in an
     hour that is skipped, two in one that comes twice. */
  clock.moments = (minutes) => {
    const found = [];
    for (const ahead_s of new Set(field.offsets.map((row) => row[1]))) {
      const day_s = Math.floor((from_s + ahead_s) / 86400) * 86400;
      for (const start_s of [day_s, day_s + 86400]) {
        const time_s = start_s + minutes * 60 - ahead_s;
        if (time_s >= from_s && time_s < from_s + 86400 && zoneAt(time_s).ahead_s === ahead_s) found.push(time_s);
      }
    }
    return found.sort((a, b) => a - b);
  };
  return clock;
}
