"use strict";
/* Stands for any minute, from the page's solver and what was corrected. */
function fieldStands(field, solver, kept) {
  const everywhere = () => kept.value.corrections?.all ?? {};
  const own = (lens) => kept.value.corrections?.lenses?.[lens] ?? {};
  const correction = (lens) => ({ ...everywhere(), ...own(lens) });
  const corrected = (lens) => Object.keys(correction(lens)).length > 0;
  let spans = new Map();
  /* The solver's stand, with what is read off it here: the way out by the needle, and the play in minutes. */
  function read(stand) {
    return { ...stand, outward_compass_deg: (stand.compass_deg + 180) % 360, play_minutes: stand.play_m / Math.abs(stand.swing_m_per_minute) };
  }
  const turnOf = (lens) => field.turns.find((turn) => turn.index === lens);
  return {
    known: solver !== null,
    solver,
    correction,
    corrected,
    any: () => Object.keys(everywhere()).length > 0 || Object.values(kept.value.corrections?.lenses ?? {}).some((one) => Object.keys(one).length > 0),
    /* After a correction nothing that was worked out before it holds. */
    forget() { spans = new Map(); },
    label: (lens) => turnOf(lens)?.label ?? solver?.lenses[lens]?.label ?? "",
    at: (time_s, lens) => solver ? read(solver.standAt(time_s, lens, correction(lens))) : null,
    /* The stretches that work take longer than a stand: null until they are worked out, after
       whatever is on its way to the screen. */
    usable(lens, ready) {
      if (!solver) return [];
      if (spans.has(lens)) return spans.get(lens);
      const asked = spans;
      setTimeout(() => { if (asked === spans && !spans.has(lens)) { spans.set(lens, solver.usable(lens, correction(lens))); ready(); } });
      return null;
    },
    late: (lens, every_s) => solver ? solver.lateTable(lens, correction(lens), every_s).map(read) : [],
    step(turn, stand) {
      const { left_m, nearer_m } = solver.offset(turn.stand, stand);
      return [left_m, nearer_m];
    },
  };
}
