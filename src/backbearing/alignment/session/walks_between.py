"""The ways of a session: from the parking, between stands, and home again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.land.detours import walls_of, way_round
from backbearing.land.routes import straight_way
from backbearing.land.walks import walk_along

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.session_setup import Work
    from backbearing.land.detours import Routed
    from backbearing.plan.place import Place
    from backbearing.plan.session import Shot, Walk
    from backbearing.plan.stand import Stand


def approach(work: Work, shots: Sequence[Shot]) -> Walk | None:
    """From the parking to the first stand, along tracks where they are given."""
    parking = parking_of(work)
    if parking is None or not shots:
        return None
    first = shots[0]
    way = _by_tracks(work, _spot(work, parking), _metres(work, first.stand))
    return _walk(work, way, _name(parking), f"{first.lens.label} stand")


def home(work: Work, shots: Sequence[Shot]) -> Walk | None:
    """From the last stand to the parking."""
    parking = parking_of(work)
    if parking is None or not shots:
        return None
    last = shots[-1]
    way = _by_tracks(work, _metres(work, last.stand), _spot(work, parking))
    return _walk(work, way, f"{last.lens.label} stand", _name(parking))


def between_stands(work: Work, before: Shot, stand: Stand, name: str) -> Walk:
    """From one stand to the next, straight where nothing is in the way."""
    ends = _metres(work, before.stand), _metres(work, stand)
    routed = way_round(*ends, [], walls_of(work.places, work.local, ends))
    return _walk(work, routed, f"{before.lens.label} stand", name)


def parking_of(work: Work) -> Place | None:
    """The parking asked for by name, else the nearest to the subject.

    Raises
    ------
    OutingError
        When no parking of the places file has the asked name.
    """
    known = [place for place in work.places if place.kind == "parking"]
    if work.asked.parking is not None:
        named = [place for place in known if place.name == work.asked.parking]
        if not named:
            names = ", ".join(repr(place.name) for place in known) or "none"
            raise work.outing.refuse(
                "session",
                "parking",
                f"no parking of the places file is called {work.asked.parking!r}; it has {names}",
            )
        return named[0]
    subject = (0.0, 0.0)
    return min(
        known, key=lambda place: straight_way(_spot(work, place), subject).line.length, default=None
    )


def _name(place: Place) -> str:
    return place.name or "parking"


def _spot(work: Work, place: Place) -> tuple[float, float]:
    centre = work.local.to_plane(place.geometry).representative_point()
    return (float(centre.x), float(centre.y))


def _metres(work: Work, stand: Stand) -> tuple[float, float]:
    east, north = work.local.metres(lat=stand.lat, lon=stand.lon)
    return (float(east), float(north))


def _by_tracks(work: Work, start: tuple[float, float], end: tuple[float, float]) -> Routed:
    tracks = [
        work.local.to_plane(place.geometry)
        for place in work.places
        if place.kind == "track" and place.access != "closed"
    ]
    return way_round(start, end, tracks, walls_of(work.places, work.local, (start, end)))


def _walk(work: Work, routed: Routed, start: str, end: str) -> Walk:
    walk = walk_along(
        routed.way,
        start=start,
        end=end,
        local=work.local,
        elevation=work.scene.elevation,
        places=work.places,
        night_factor=work.asked.night_factor,
        detour=routed.detour,
    )
    return replace(walk, cautions=(*routed.said, *walk.cautions))
