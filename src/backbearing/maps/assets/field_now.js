"use strict";
/* The answer at the head of the page: what is next, how long until then, and this minute's stand. */
const LIMIT_WORDS = { ridge: "the ridge hides it or comes too near", "unknown ground": "the ridge is unknown", "no stand": "there is no stand", horizon: "it is below the horizon", frame: "it is outside the frame", play: "it is out of its place", subject: "it is behind the subject", twilight: "it is not dark", moon: "the Moon is up", barred: "the stand is barred", hours: "it is outside the asked hours" };

function fieldNow(field, clock, words, stands, again) {
  const turns = field.turns, part = (id) => document.getElementById(id);
  const lines = [...document.querySelectorAll("#next .next-turn")];
  const half_s = 43200;
  /* A text is touched only when it changes: nothing is laid out anew, nothing is read out again. */
  const put = (spot, text) => { if (spot && spot.textContent !== text) spot.textContent = text; };

  function nextTurn(now_s) {
    const tonight = turns.length && now_s > turns[0].steps_s.end - half_s && now_s < turns.at(-1).steps_s.end;
    return tonight ? turns.findIndex((turn) => now_s < turn.steps_s.end) : 0;
  }
  /* How long until what comes, of a turn and its steps. */
  function wait(turn, now_s) {
    const steps = turn.steps_s, away = clock.nightsAway(now_s);
    if (away < 0) return `in ${words.span(steps.setup - now_s)}`;
    if (away > 0) return "another night";
    if (now_s >= turns.at(-1).steps_s.end) return "all over";
    if (steps.setup === steps.end) return now_s < steps.for ? `in ${words.span(steps.for - now_s)}` : "its minute is over";
    if (now_s < steps.setup) return `in ${words.span(steps.setup - now_s)}`;
    if (now_s < steps.focus) return `focus in ${words.span(steps.focus - now_s)}`;
    if (now_s < steps.frames) return `frames in ${words.span(steps.frames - now_s)}`;
    return `${words.span(steps.end - now_s)} left`;
  }
  const reason = (limits) => limits.length ? LIMIT_WORDS[limits[0]] ?? String(limits[0]) : "";

  /* What holds now of the lens in hand, and for how long; or when it will. */
  function prospect(at_s, lens, stand) {
    const spans = stands.usable(lens, again), word = `the ${field.word}`;
    if (spans === null) return "until when: being worked out";
    const held = spans.find(([from_s, to_s]) => at_s >= from_s && at_s < to_s);
    if (held && stand?.usable !== false) {
      const after = stands.at(Math.min(held[1] + 45, field.end_s), lens), why = reason(after?.limits ?? []);
      return `${word} is clear and in the frame until ${clock.hm(held[1])}${why ? `; then ${why}` : ""}`;
    }
    const coming = spans.find(([from_s]) => from_s > at_s), why = reason(stand?.limits ?? []);
    const then = coming ? `good ${clock.hm(coming[0])}–${clock.hm(coming[1])}` : "no good minute is left this night";
    return why ? `not now: ${why}; ${then}` : then;
  }
  function thisMinute(now_s, lens) {
    const turn = turns.find((one) => one.index === lens), away = clock.nightsAway(now_s);
    const at_s = away === 0 ? now_s : clock.sameSky_s(now_s);
    const head = `${clock.held_s === null ? "now" : "at"} ${clock.hm(now_s)} ${clock.letters(now_s)}`;
    const label = stands.label(lens);
    if (!stands.known) return { head: `${head}, ${label}`, parts: null, big: "", more: "This page cannot work out stands; the planned ones hold." };
    if (at_s === null || at_s < field.start_s || at_s > field.end_s) return outsideNight(now_s, lens, head, away);
    const stand = stands.at(at_s, lens);
    if (!stand || stand.outside || !Number.isFinite(stand.distance_m)) return { head: `${head}, ${label}`, big: "no stand", more: stand?.outside ?? prospect(at_s, lens, stand) };
    const parts = turn ? words.step(...stands.step(turn, stand)) : null;
    const more = away === 0 ? prospect(at_s, lens, stand) : elsewhen(at_s, stand);
    if (parts === null) return { head: `${head}, ${label}, out by compass`, parts: [{ number: words.needle(stand.outward_compass_deg), word: "" }, { number: words.length(stand.distance_m), word: "" }], more };
    return { head: `${head}, ${label}, from its peg`, parts, big: parts.length ? "" : "at the peg", more };
  }
  /* Another night's sky in the plan's: what its dark and its Moon spoil says nothing of tonight's. */
  function elsewhen(at_s, stand) {
    const why = reason(stand.limits.filter((limit) => limit !== "twilight" && limit !== "moon"));
    return `${why ? `not now: ${why}` : "clear and in the frame"}, as in the plan at ${clock.hm(at_s)}; see for yourself how dark it is`;
  }
  function outsideNight(now_s, lens, head, away) {
    const label = stands.label(lens), spans = stands.usable(lens, again);
    const good = spans === null ? "being worked out" : spans.length ? `good ${spans.map(([from_s, to_s]) => `${clock.hm(from_s)}–${clock.hm(to_s)}`).join(", ")}` : "no good minute this night";
    if (away === 0 && now_s < field.start_s) return { head: `${head}, ${label}`, big: spans?.length ? `good from ${clock.hm(spans[0][0])}` : `begins ${clock.hm(field.start_s)}`, more: good };
    if (away === 0) return { head: `${head}, ${label}`, big: "this night is over", more: "" };
    return { head: `${head}, ${label}`, big: `not the plan's night`, more: `${label} that night: ${good}` };
  }

  /* One sentence on the date and the zone: what of the plan still holds. */
  function about(now_s) {
    const away = clock.nightsAway(now_s), told = [];
    if (clock.held_s !== null) told.push(`Held at ${clock.hm(now_s)} by hand; the clock goes on at a press of “Now”.`);
    if (away !== 0) {
      const far = `${Math.abs(away)} ${Math.abs(away) === 1 ? "night" : "nights"} ${away > 0 ? "after" : "before"} the plan's`;
      const shift = Math.abs(Math.round(away * (86400 - SIDEREAL_DAY_S) / 60));
      const way = away > 0 ? "earlier" : "later";
      told.push(`This is ${clock.day(now_s)}, ${far} (${field.night}).`);
      told.push(field.fixed ? `The ground, the heights and the walk hold. The ${field.word} comes to each place ${shift >= 60 ? `${Math.floor(shift / 60)} h ${shift % 60} min` : `${shift} min`} ${way} by the clock; dark, twilight and Moon are not worked out for it.` : `The ground, the heights and the walk hold; no stand does, for the target moves among the stars.`);
    }
    const off_s = clock.phoneAhead_s(now_s);
    told.push(off_s === 0 ? "The phone's zone agrees with the plan's." : `The phone's zone is ${words.span(off_s)} ${off_s > 0 ? "ahead of" : "behind"} the plan's; times here are the plan's.`);
    if (clock.ahead_s !== 0) told.push(`The phone's clock is taken to be ${words.span(clock.ahead_s)} ${clock.ahead_s > 0 ? "fast" : "slow"}.`);
    return told.join(" ");
  }
  function zoneShort(now_s) {
    const off_s = clock.phoneAhead_s(now_s);
    const zone = off_s === 0 ? "" : ` · phone ${off_s > 0 ? "+" : "−"}${words.span(off_s)}`;
    return `${clock.day(now_s)}${zone}`;
  }

  let last = -1;
  function show(lens) {
    const now_s = clock.now_s(), next = nextTurn(now_s);
    lines.forEach((line, i) => {
      if (line.hidden !== (i !== next)) line.hidden = i !== next;
      if (i === next && turns[i]) put(line.querySelector(".next-wait"), wait(turns[i], now_s));
    });
    const told = thisMinute(now_s, lens), big = part("now-big");
    put(part("now-head"), told.head);
    put(part("now-day"), stands.corrected(lens) ? "as corrected" : zoneShort(now_s));
    const key = JSON.stringify([told.parts, told.big]);
    if (big.dataset.key !== key) {
      big.dataset.key = key;
      big.replaceChildren();
      for (const [i, one] of (told.parts ?? []).entries()) {
        const number = document.createElement("b");
        number.textContent = one.number;
        big.append(i ? ", " : "", number, one.word ? ` ${one.word}` : "");
      }
      if (told.big) { const word = document.createElement("b"); word.textContent = told.big; big.append(word); }
    }
    put(part("now-more"), told.more);
    put(part("minute-about"), about(now_s));
    const moved = next !== last;
    last = next;
    return { next, moved, at_s: now_s };
  }
  return { show, nextTurn };
}
