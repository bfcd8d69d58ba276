"""Where every number of a session comes from: the same kind of data as for a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import rounded
from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.explain.plan import LENS_FACTS, Explanation, Fact, lens_explanations
from backbearing.explain.session_pictures import PICTURE_PARTS
from backbearing.plan.turns import at_turn, lens_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.plan.placing import Placing
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot, Walk
    from backbearing.plan.stand import LensPlan

_MINUTES = ("walk_minutes", "setup_minutes", "focus_minutes", "frames_minutes")
_CHOICE = (
    "the order and start, on whole minutes, with most lenses, then least walking plus "
    "wait_costs_m for each minute of waiting and twice that for each minute short of the asked "
    "room to be late in, then the earliest"
)

_SESSION: Final[dict[str, Fact]] = {
    "start": Fact("UTC", "set-up of the first lens", _CHOICE, ("lenses",), ("Held1962",)),
    "end": Fact("UTC", "the last frame", _CHOICE, ("lenses",), ("Held1962",)),
    "walked_m": Fact("m", "all ways between stands", "sum of the walks' lengths", ("walks",)),
    "waiting_minutes": Fact(
        "minutes", "waiting between turns, breaks included",
        "sum of walk start less the frames' end before it", ("lenses",),
    ),
    "step_minutes": Fact("minutes", "grid of the start times", "fixed", ()),
    "wait_costs_m": Fact("m", "what a minute's waiting counts", "as asked", ()),
    "leave_by": Fact(
        "UTC", "when to leave the parking", "start less the night minutes of the way there",
        ("start", "approach_minutes"), ("Tobler1993",),
    ),
}  # fmt: skip

_SHOT: Final[dict[str, Fact]] = {
    "walk_start": Fact("UTC", "when to pack and walk", "set up less the walk", _MINUTES),
    "setup_start": Fact("UTC", "when to set up", "focus less its minutes", _MINUTES),
    "focus_start": Fact("UTC", "when to focus", "first frame less its minutes", _MINUTES),
    "frames_start": Fact("UTC", "the first frame", _CHOICE, _MINUTES, ("Held1962",)),
    "frames_end": Fact("UTC", "the last frame", "first frame plus their minutes", _MINUTES),
    "wait_minutes": Fact(
        "minutes", "nothing to do before the walk", "walk start less the frames' end before it",
        ("walk_start",),
    ),
    "drift_deg": Fact(
        "degrees", "how far the target leaves its place while the frames run",
        "largest angle on the sky to its place at the middle, every two minutes or less",
        ("frames_minutes", "target"), ("Meeus1998",),
    ),
    "spare_minutes": Fact(
        "minutes", "how much later the frames could run from the same stand",
        "the stand's play_minutes less half the frames' minutes",
        ("play_minutes", "frames_minutes"),
    ),
    "room_minutes": Fact(
        "minutes", "how much later the turn could begin from its own stand for then",
        "whole minutes until a start is spoilt, hours and breaks aside", ("frames_minutes",),
    ),
    "least_clearance_deg": Fact(
        "degrees", "least height of the target over the ridge while the frames run",
        "smallest target altitude less skyline altitude from the standing tripod",
        ("lat", "lon", "frames_start", "frames_end"), ("Ghilani2012", "Bennett1982"),
    ),
    "start_x": Fact("of frame width", "target at the first frame", "projection", ("lens",),
                    ("Ray2002",)),
    "start_y": Fact("of frame height", "target at the first frame", "projection", ("lens",),
                    ("Ray2002",)),
    "end_x": Fact("of frame width", "target at the last frame", "projection", ("lens",),
                  ("Ray2002",)),
    "end_y": Fact("of frame height", "target at the last frame", "projection", ("lens",),
                  ("Ray2002",)),
    "left_m": Fact(
        "m", "step left from the stand before, facing the subject there; negative is right",
        "-s sin(azimuth of the step less bearing)", ("lat", "lon", "bearing_deg"), ("Karney2013",),
    ),
    "back_m": Fact(
        "m", "step back from the stand before; negative is forward",
        "-s cos(azimuth of the step less bearing)", ("lat", "lon", "bearing_deg"), ("Karney2013",),
    ),
}  # fmt: skip

_ALONG = ("distance_m", "raster_along_m", "model_along_m", "coordinates_along_m", "size_along_m")
_PLACING: Final[dict[str, Fact]] = {
    "tape_m": Fact(
        "m", "tape from the subject's ground to the stand's",
        "root of the squares of distance and ground difference",
        ("distance_m", "ground_m", "subject_ground_m"),
    ),
    "paces": Fact("paces", "the distance in your paces", "distance / pace",
                  ("distance_m", "pace_m")),
    "pace_m": Fact("m", "your pace", "as asked", ()),
    "outward_deg": Fact("degrees true", "bearing from the subject to the stand",
                        "azimuth of the geodesic at the subject", ("lat", "lon"), ("Karney2013",)),
    "outward_magnetic_deg": Fact("degrees magnetic", "the same by compass",
                                 "true less declination", ("outward_deg", "time"), ("WMM2025",)),
    "inward_deg": Fact("degrees true", "bearing from the stand to the subject",
                       "the stand's bearing", ("bearing_deg",), ("Karney2013",)),
    "inward_magnetic_deg": Fact("degrees magnetic", "the same by compass",
                                "true less declination", ("inward_deg", "time"), ("WMM2025",)),
    "magnetic_sigma_deg": Fact("degrees", "one standard deviation of the model's declination",
                               "sqrt(0.26^2 + (5417/H)^2)", ("time",), ("WMM2025",)),
    "target_above_top_deg": Fact("degrees", "target over the subject's top at the clock time",
                                 "target altitude less altitude of the top",
                                 ("target_altitude_deg", "distance_m"), ("Ghilani2012",)),
    "target_right_deg": Fact("degrees", "target right of the subject's middle",
                             "target azimuth less bearing", ("target_azimuth_deg", "bearing_deg")),
    "raster_along_m": Fact(
        "m", "what the raster's heights add along",
        "change of distance when the ground between is off by one standard deviation of the "
        "difference of two heights so near one another",
        ("vertical_sigma_m", "local_sigma_m", "error_range_m", "cell_m", "distance_m"),
        ("Rolstad2009", "Hugonnet2022"),
    ),
    "coordinates_along_m": Fact(
        "m", "what the error of the subject's coordinates adds along",
        "change of distance when the raster is read that far aside, north and east",
        ("subject_position_sigma_m", "distance_m", "elevation"),
    ),
    "model_along_m": Fact("m", "what the marked focal length adds along",
                          "2 % of the distance (common practice, no source)", ("distance_m",)),
    "size_along_m": Fact("m", "what the doubt of the subject's size adds along",
                         "distance x sigma of the height over the height (of the width, where "
                         "the share is of the frame's width)",
                         ("distance_m", "height_sigma_m", "width_sigma_m")),
    "along_m": Fact("m", "one standard deviation along, placed as `way` says",
                    "root of the squares of tape 1 % and 0.1 m (or receiver and coordinates), "
                    "raster, model, coordinates and size",
                    _ALONG),
    "across_m": Fact("m", "one standard deviation across, placed as `way` says",
                     "distance x tan(model's declination and 2 degrees of reading), and 0.1 m; "
                     "or the receiver and the subject's coordinates",
                     ("distance_m", "magnetic_sigma_deg", "subject_position_sigma_m"),
                     ("WMM2025",)),
}  # fmt: skip

_WALK: Final[dict[str, Fact]] = {
    "distance_m": Fact("m", "level length of the way", "sum of its pieces", ()),
    "climb_m": Fact("m", "metres up on the way there",
                    "rises between heights a raster cell apart", ("elevation",)),
    "descent_m": Fact("m", "metres down on the way there",
                      "falls between heights a raster cell apart", ("elevation",)),
    "on_track_m": Fact("m", "how much follows your tracks",
                       "shortest path, off tracks at 0.6 of the speed", (), ("Dijkstra1959",)),
    "minutes": Fact("minutes", "there, by daylight",
                    "run over 6 exp(-3.5 |S + 0.05|) km/h, off tracks times 0.6",
                    ("distance_m",), ("Tobler1993",)),
    "minutes_back": Fact("minutes", "back, by daylight", "the same with the slope turned",
                         ("distance_m",), ("Tobler1993",)),
    "night_minutes": Fact("minutes", "there, in the dark", "minutes x night_factor (no source)",
                          ("minutes",), ("Tobler1993",)),
    "night_minutes_back": Fact("minutes", "back, in the dark",
                               "minutes_back x night_factor (no source)",
                               ("minutes_back",), ("Tobler1993",)),
    "longer_m": Fact(
        "m", "how much longer than through the ground that it goes round",
        "shortest path over the corners of that ground less the way that takes no heed of it",
        ("round_of",), ("LozanoPerez1979", "Dijkstra1959"),
    ),
    "steepest_deg": Fact("degrees", "steepest piece between heights a cell apart",
                         "atan(rise / run)", ("elevation",)),
}  # fmt: skip

_LIGHT: Final[dict[str, Fact]] = {
    "area_m2": Fact(
        "m2", "ground on which the hidden light shows from no stand",
        "area common to the subject's shadows: the light's box, seen from each camera, within "
        "the outline", ("light_width_m", "light_height_m", "stands"),
    ),
    "spot_lat": Fact("degrees", "suggested spot", "centre of the largest circle in the patch",
                     ("area_m2",)),
    "spot_lon": Fact("degrees", "suggested spot", "centre of the largest circle in the patch",
                     ("area_m2",)),
    "spot_distance_m": Fact("m", "the spot from the subject", "level distance", ("area_m2",)),
    "spot_bearing_deg": Fact("degrees true", "the spot from the subject", "azimuth", ("area_m2",)),
    "spot_room_m": Fact("m", "radius of that circle", "distance to the patch's edge",
                        ("area_m2",)),
    "reach_m": Fact("m", "how far from the subject lights are looked for", "as asked", ()),
}  # fmt: skip

TURN_FACTS: Final[dict[str, Fact]] = LENS_FACTS | {
    "time": Fact("UTC", "the moment the turn's stand is for", "middle of the frames",
                 ("frames_start", "frames_end")),
    "frames_that_fit": Fact(
        "frames", "how many frames the turn's minutes hold",
        "frames_minutes / (shutter + pause), rounded down",
        ("frames_minutes", "shutter_s", "pause_s"),
    ),
}  # fmt: skip
"""The numbers of a lens again, at its turn's own stand and minute."""

SESSION_FACTS: Final[dict[str, Fact]] = {
    f"{part}.{key}": fact
    for part, facts in (
        ("session", _SESSION), ("shot", _SHOT), ("placing", _PLACING), ("walk", _WALK),
        ("light", _LIGHT), *PICTURE_PARTS,
    )
    for key, fact in facts.items()
}  # fmt: skip


def session_explanations(plan: Plan) -> dict[str, Explanation]:
    """Explain placing for every stand, and every number of the session when there is one.

    Keys are ``session.walked_m``, ``shot.85mm.drift_deg``, ``turn.85mm.shutter_s``,
    ``placing.85mm.tape_m``, ``walk.85mm.minutes`` (to that stand), ``walk.approach.minutes``,
    ``light.area_m2``, ``picture.85mm.above_top_off_deg``, ``turn_sky.85mm.air_cost_m``,
    ``other.85mm.skyline_break.costs_m``, ``price.picture_m``, ``line.bearing_deg``,
    ``on_line.85mm.aside_m``.
    """
    return {one.name: one for one in _all(plan)}


def _all(plan: Plan) -> Iterator[Explanation]:
    session = plan.session
    turns = session.shots if session is not None else ()
    placed: list[LensPlan | Shot] = [*turns] or [*plan.lenses]
    for one in placed:
        if one.placing is not None:
            label = one.lens.label.replace(" ", "")
            yield from _explained("placing", label, one.placing, _inputs(plan, one, one.placing))
    if session is None:
        return
    lenses = [shot.lens.label for shot in session.shots]
    walks = [s.walk for s in session.shots if s.walk is not None]
    common = {
        "lenses": lenses,
        "walks": [rounded(w.distance_m, 2) for w in walks],
        "approach_minutes": session.approach.night_minutes if session.approach else None,
    }
    yield from _explained("session", "", session, common)
    for shot in session.shots:
        label = shot.lens.label.replace(" ", "")
        yield from _explained("shot", label, shot, _inputs(plan, shot, shot.minutes))
        yield from _turn(plan, shot)
        yield from _pictured(plan, shot, label)
        if shot.walk is not None:
            yield from _explained("walk", label, shot.walk, _walk_inputs(plan))
    if session.price is not None:
        yield from _explained("price", "", session.price, common)
    if session.one_line is not None:
        line = session.one_line
        yield from _explained("line", "", line, {"lenses": [o.lens.label for o in line.lenses]})
        for place in line.lenses:
            yield from _explained("on_line", place.lens.label.replace(" ", ""), place, {})
    for name, walk in (("approach", session.approach), ("home", session.home)):
        if walk is not None:
            yield from _explained("walk", name, walk, _walk_inputs(plan))
    if session.lighting is not None:
        light = session.lighting
        known = {
            "light_width_m": light.light_width_m,
            "light_height_m": light.light_height_m,
            "stands": lenses,
        }
        yield from _explained("light", "", light.blind, known)


def _pictured(plan: Plan, shot: Shot, label: str) -> Iterator[Explanation]:
    """What a turn shows, and what other starts of it would change."""
    if shot.picture is not None:
        yield from _explained("picture", label, shot.picture, _inputs(plan, shot, shot.run))
    if shot.sky is not None:
        figures = shot.figures
        known = {
            **_inputs(plan, shot, shot.run),
            "haze_mag": figures.air.haze_mag if figures.air is not None else None,
            "behind_mag_arcsec2": plain(figures.behind.behind_mag_arcsec2)
            if figures.behind is not None
            else None,
        }
        yield from _explained("turn_sky", label, shot.sky, known)
    for other in shot.other_starts:
        yield from _explained("other", f"{label}.{other.why.replace(' ', '_')}", other, {})


def _turn(plan: Plan, shot: Shot) -> Iterator[Explanation]:

    more = plain(
        {
            "frames_start": shot.frames_start,
            "frames_end": shot.frames_end,
            "frames_minutes": shot.minutes.frames_minutes,
            "frames_that_fit": shot.figures.frames_that_fit,
        }
    )
    lens = at_turn(lens_of(plan, shot), shot)
    yield from lens_explanations(plan, lens, TURN_FACTS, prefix="turn.", more=more)


def _walk_inputs(plan: Plan) -> dict[str, Any]:
    return {"elevation": plan.ground.source}


def _inputs(plan: Plan, one: LensPlan | Shot, own: object) -> dict[str, Any]:
    """Everything that the rows of one lens may name."""
    return {
        **(plain(one.stand) or {}),
        **plain(own),
        "target": plan.target.name,
        "lens": one.lens.label,
        "subject_ground_m": plan.subject_ground_m,
        "subject_position_sigma_m": plan.subject.position_sigma_m,
        "height_sigma_m": plan.subject.height_sigma_m,
        "width_sigma_m": plan.subject.width_sigma_m,
        "vertical_sigma_m": plan.ground.vertical_sigma_m,
        "local_sigma_m": plan.ground.local_sigma_m,
        "error_range_m": plan.ground.error_range_m,
        "elevation": plan.ground.source,
        "cell_m": plan.ground.cell_m,
    }


def _explained(
    part: str, label: str, value: Placing | Walk | object, inputs: dict[str, Any]
) -> Iterator[Explanation]:

    for name, fact in SESSION_FACTS.items():
        kind, key = name.split(".")
        if kind != part:
            continue
        own = {i: plain(getattr(value, i)) for i in fact.inputs if hasattr(value, i)}
        yield Explanation(
            name=f"{part}.{label}.{key}" if label else name,
            value=plain(getattr(value, key)),
            unit=fact.unit,
            meaning=fact.meaning,
            formula=fact.formula,
            inputs={i: {**inputs, **own}.get(i) for i in fact.inputs},
            sources=tuple(REFERENCES[source] for source in fact.sources),
        )
