"""Each candidate's reasons and cautions, in plain words."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.ground_cautions import LEAST_FALL_M
from backbearing.alignment.stand.stand_cautions import HIGH_ALTITUDE_DEG
from backbearing.alignment.stand.uncertainty import NEAR_GROUND_M, verdict
from backbearing.base.cautions import STEEP_DEG
from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import compass_point, length, night_label
from backbearing.base.wall_clock import hm
from backbearing.outing.scouting_request import PART_WORDS, PARTS
from backbearing.scouting.ranking.failures import target_word
from backbearing.sky.zones import local, named_zone
from backbearing.terrain.slope_and_drops import FEWEST_PIXELS

if TYPE_CHECKING:
    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.stand_facts import StandFacts
    from backbearing.scouting.ranking.tally import Tallied
    from backbearing.scouting.ranking.task import ScoutTask

    Floats = NDArray[np.float64]

JOINT: Final = "; "


def reasons_of(
    context: Context,
    frame: geopandas.GeoDataFrame,
    tallied: Tallied,
    facts: StandFacts,
    parts: dict[str, Floats],
    failed: list[str],
) -> list[str]:
    """Word every candidate's reasons, joined with semicolons; empty for a hard failure."""
    lines = []
    for i in range(len(frame)):
        if failed[i] or not np.isfinite(facts.best.lat[i]):
            lines.append("")
            continue
        said = [
            _when(context, tallied, facts, i),
            _nights(context.task, facts, i),
            _kit(tallied, i),
            _break(facts, i),
            facts.clutter.words[i] or "nothing else of the data in the frame",
            _stand(facts, i),
            _walk(context.task.request.longest_walk_m, facts, i),
            facts.sky.glow_words[i],
            _sky(facts, i),
            *_target_sky(context.task, facts, i),
            _unknown(context.task, parts, i),
        ]
        lines.append(JOINT.join(one for one in said if one))
    return lines


def _when(context: Context, tallied: Tallied, facts: StandFacts, i: int) -> str:
    """``core 4.1° over the ridge at 00:20, 5–6 June 2027 (clear and framed 23:10 to 01:40)``."""
    from backbearing.scouting.ranking._minute_kernels import spell_about

    task, lens = context.task, int(facts.which[i])
    zone = named_zone(task.zone)
    stretch, where = int(tallied.best[i, lens, 2]), float(tallied.best[i, lens, 3])
    stretches = tallied.stretches
    ends = spell_about(
        tallied.low[i, lens],
        tallied.high[i, lens],
        where,
        float(stretches.start[stretch]),
        float(stretches.end[stretch]),
    )
    moments = stretches.instants(context.clock, np.full(2, stretch), np.array(ends))
    first, last = (hm(local(moment, zone)) for moment in moments)
    best = hm(local(facts.best.utc[i], zone))
    evening = task.first_night + dt.timedelta(days=int(facts.best.night[i]))
    return (
        f"{target_word(task.target)} {num(facts.best.clearance_deg[i], 1)}° over the ridge at "
        f"{best}, {night_label(evening)}, with the {num(task.lenses_mm[lens])} mm lens (clear and "
        f"in frame from {first} to {last})"
    )


def _nights(task: ScoutTask, facts: StandFacts, i: int) -> str:
    good = int((facts.night_minutes[i] >= task.request.least_minutes).sum())
    nights = "night" if task.nights == 1 else f"{task.nights} nights"
    return f"{counted(task.request.least_minutes, 'minutes')} or more on {good} of the {nights}"


def _kit(tallied: Tallied, i: int) -> str:
    lenses = len(tallied.questions)
    have = int((tallied.best[i, :, 0] >= 0.0).sum())
    if lenses == 1:
        return ""
    return f"works for {'all' if have == lenses else have} of the {lenses} lenses"


def _break(facts: StandFacts, i: int) -> str:
    at, above = facts.best, float(facts.break_deg[i])
    if np.isnan(above):
        return "no known land behind it"
    tall = float(at.top_altitude_deg[i] - at.base_altitude_deg[i])
    if above <= 0.0:
        return f"drowns in the hill behind, {num(-above, 1)}° under its line"
    share = above / tall
    if share >= 0.995:
        return "stands against the sky from base to top"
    return f"its upper {per_cent(share)} stands against the sky"


def _stand(facts: StandFacts, i: int) -> str:
    at = facts.best
    way = compass_point(float(at.bearing_deg[i]) + 180.0)
    return (
        f"stand {length(float(at.distance_m[i]))} back to the {way}, "
        f"the raster slopes {num(facts.ground.slope_deg[i], 0)}° there"
    )


def _walk(longest_m: float, facts: StandFacts, i: int) -> str:
    if not np.isfinite(facts.way.metres[i]):
        return ""
    if facts.way.metres[i] > longest_m:
        return f"no way of your files within {length(longest_m)}"
    name = f" from {facts.way.start[i]}" if facts.way.start[i] else " from the nearest known way"
    return f"{length(float(facts.way.metres[i]))}{name} as the crow flies"


def _sky(facts: StandFacts, i: int) -> str:
    if not np.isfinite(facts.sky.zenith_mag[i]):
        return ""
    return f"zenith {num(facts.sky.zenith_mag[i], 1)} mag/arcsec² by the raster of sky brightness"


def _target_sky(task: ScoutTask, facts: StandFacts, i: int) -> list[str]:
    """Air and sky behind the target, where they count."""
    weights, sky, said = task.request.weights, facts.sky, []
    name = f"the {target_word(task.target)}"
    if weights.air and np.isfinite(sky.air_mag[i]):
        doubt = num(sky.air_sigma_mag[i], 1)
        said.append(f"the air dims {name} by {num(sky.air_mag[i], 1)} ± {doubt} mag")
    if weights.behind and np.isfinite(sky.behind_mag[i]):
        bright = f"{num(sky.behind_mag[i], 1)} ± {num(sky.behind_sigma_mag[i], 1)} mag/arcsec²"
        said.append(f"sky behind {name} {bright} by your towns")
    return said


def _unknown(task: ScoutTask, parts: dict[str, Floats], i: int) -> str:
    """What counts and is not known."""
    missing = [
        PART_WORDS[name].figure
        for name, weight in zip(PARTS, task.request.weights.values(), strict=True)
        if weight and not np.isfinite(parts[name][i])
    ]
    return f"unknown and left out: {', '.join(missing)}" if missing else ""


def cautions_of(
    task: ScoutTask, frame: geopandas.GeoDataFrame, facts: StandFacts, access: list[str]
) -> list[str]:
    """Word what the data hold against every candidate's best stand."""
    guessed = [
        np.asarray(frame[name], dtype=bool) if name in frame else np.zeros(len(frame), dtype=bool)
        for name in ("height_is_guess", "width_is_guess")
    ]
    lines = []
    for i in range(len(frame)):
        if not np.isfinite(facts.best.lat[i]):
            lines.append("")
            continue
        said = [
            *_ridge(facts, i),
            *_ground(facts, i),
            *_access(facts, access, i),
        ]
        if guessed[0][i]:
            said.append(f"its height ({num(frame['height_m'].iloc[i])} m) is a guess")
        elif guessed[1][i]:
            said.append(f"its width ({num(frame['width_m'].iloc[i])} m) is a guess")
        lines.append(JOINT.join(said))
    return lines


def _ridge(facts: StandFacts, i: int) -> list[str]:
    at, said = facts.best, []
    clear = float(at.clearance_deg[i])
    sigma, bias = float(facts.doubt.sigma_deg[i]), float(facts.doubt.rise_deg[i])
    if verdict(clear, sigma, bias) == "too close to call":
        over = f"{num(clear, 1, sign=True)}° ± {num(sigma, 1)}°"
        said.append(f"the ridge is too close to call ({over})")
    elif facts.canopy_deg[i] < 0.0:
        said.append(f"trees on the ridge would hide the target by {num(-facts.canopy_deg[i], 1)}°")
    if at.skyline_distance_m[i] < NEAR_GROUND_M:
        away = length(float(at.skyline_distance_m[i]))
        said.append(f"the ridge below the target is {away} away: rocks and bushes are in no raster")
    if at.unknown_share[i] > 0.0:
        said.append(f"{per_cent(at.unknown_share[i])} of the ground towards the target is unknown")
    if np.isfinite(at.hidden_from_m[i]):
        beyond = length(float(at.hidden_from_m[i]))
        said.append(f"ground beyond the raster, from {beyond} on, could hide the target")
    if at.target_altitude_deg[i] > HIGH_ALTITUDE_DEG:
        said.append("so near the zenith a bearing says little")
    return said


def _ground(facts: StandFacts, i: int) -> list[str]:

    said = []
    if facts.ground.slope_deg[i] >= STEEP_DEG:
        said.append(f"steep ground at the stand ({num(facts.ground.slope_deg[i], 0)}°)")
    fall, over = float(facts.ground.fall_m[i]), float(facts.ground.fall_over_m[i])
    if fall >= LEAST_FALL_M:
        said.append(f"the ground falls {num(fall, 0)} m over {num(over, 0)} m near the stand")
    if facts.ground.level_cells[i] >= FEWEST_PIXELS:
        said.append("dead level ground at the stand may be open water")
    return said


def _access(facts: StandFacts, access: list[str], i: int) -> list[str]:
    said = []
    if access[i] == "ask first":
        said.append("ask before you go: the candidate is marked so")
    if facts.land.access[i] == "ask first":
        said.append(f"ask first: {facts.land.name[i]}")
    if facts.land.access[i] in ("", "unknown") and access[i] != "open":
        said.append("nothing is known of access: find out whose land it is")
    return said
