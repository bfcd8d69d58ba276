"""Light, walk and cautions in the sheet's words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.base.units import METRIC
from backbearing.drawing.number_words import climb_words, minutes
from backbearing.plan.lamp_lines import short_lamp_lines
from backbearing.sheet.table_cells import NAME_CHARACTERS, tame

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Walk
    from backbearing.plan.stand import Stand
    from backbearing.sheet.shot_rows import LensTurn

LIGHT_CHARACTERS: Final = 900
"""Eight stands may have much to say of one another."""


def light_lines(plan: Plan) -> tuple[str, ...]:
    """How bright the lamp, where a hidden light may lie, and lights from the side."""
    lighting = plan.session.lighting if plan.session else None
    said = [] if plan.lamp is None else short_lamp_lines(plan.lamp)
    if lighting is not None:
        said += [lighting.blind.sentence]
        said += [side.sentence for side in lighting.side_lights]
        said.append(lighting.later_sentence)
    return tuple(tame(line, LIGHT_CHARACTERS) for line in said if line)


def walk_lines(plan: Plan, clock: WallClock, units: Units = METRIC) -> tuple[str, ...]:
    """The way there and back, and what stands in the user's file about parking and land."""
    said = []
    session = plan.session
    if session is not None:
        for way, back in ((session.approach, False), (session.home, True)):
            if way is not None:
                said.append(_way(way, units, back=back))
        if session.leave_by is not None and session.approach is not None:
            said[0] = f"Leave by {clock.hm(session.leave_by)}. {said[0]}"
            said[-1] += f" Times by {session.approach.rule}; no promise."
    places = [_place(place) for place in plan.places if place.kind in ("parking", "land", "track")]
    return (*(tame(line) for line in said), " – ".join(places)) if places else tuple(said)


def _place(place: Place) -> str:
    name = tame(place.name, NAME_CHARACTERS) or f"{place.kind} without a name"
    note = f" {tame(place.note, 200)}" if place.note else ""
    return f"{name}: {place.access}.{note}"


def _way(walk: Walk, units: Units, *, back: bool = False) -> str:
    by_day, by_night = walk.minutes, walk.night_minutes
    start, end = walk.start, walk.end
    heights = climb_words(walk.climb_m, walk.descent_m, units)
    tracks = f", {units.length(walk.on_track_m)} of it on tracks" if walk.on_track_m >= 1.0 else ""
    head = "Home" if back else "There"
    return (
        f"{head}, {start} to {end}: {units.length(walk.distance_m)}{tracks}, {heights}; "
        f"{minutes(by_day)} by day, {minutes(by_night)} by night."
    )


def own_cautions(plan: Plan, shots: tuple[LensTurn, ...]) -> tuple[str, ...]:
    """What the data can see: of stands, walks and session, each said once with its lenses."""
    whose: dict[str, list[str]] = {}
    for lens in plan.lenses:
        for caution in _without_cloud(lens.stand) if lens.stand is not None and not shots else ():
            whose.setdefault(tame(caution), []).append(tame(lens.lens.label, 30))
    for turn in shots:
        for caution in _without_cloud(turn.stand):
            whose.setdefault(tame(caution), []).append(turn.label)
        walk = turn.shot.walk if turn.shot is not None else None
        for caution in walk.cautions if walk is not None else ():
            whose.setdefault(tame(caution), []).append(f"walk to {turn.label}")
    session = plan.session
    if session is not None:
        for way, name in ((session.approach, "walk there"), (session.home, "walk home")):
            for caution in way.cautions if way is not None else ():
                whose.setdefault(tame(caution), []).append(name)
    said = [_for(text, names, len(shots)) for text, names in whose.items()]
    if session is not None:
        said = [tame(c) for c in session.cautions if tame(c) not in whose] + said
    return tuple(dict.fromkeys(said))


def _without_cloud(stand: Stand) -> list[str]:
    """A stand's cautions without what the order of the night says of its cloud in a few words."""
    return [caution for caution in stand.cautions if caution != stand.cloud.words]


def _for(text: str, names: list[str], every: int) -> str:
    stands = [name for name in dict.fromkeys(names) if not name.startswith("walk")]
    walks = [name for name in dict.fromkeys(names) if name.startswith("walk")]
    if len(stands) == every > 1:
        stands = ["all stands"]
    if len(walks) > 2:
        walks = ["the walks"]
    who = ", ".join(stands + walks)
    return f"{who[:1].upper()}{who[1:]}: {text}"
