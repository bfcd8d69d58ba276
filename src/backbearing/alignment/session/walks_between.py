"""The ways of a session: from the parking, between stands, and home again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backbearing.base.errors import NothingFoundError
from backbearing.land.detours import walls_of, way_round
from backbearing.land.on_plane import on_plane
from backbearing.land.routes import straight_way
from backbearing.land.walks import walk_along

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.local_plane import LocalPlane
    from backbearing.land.detours import Routed
    from backbearing.land.routes import Node
    from backbearing.plan.place import Place
    from backbearing.plan.session import Shot, Walk
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation


@dataclass(frozen=True, slots=True)
class WalkedGround:
    """What the walks of a session are measured on: metres about the subject.

    Attributes
    ----------
    local : LocalPlane
    elevation : Elevation or None
    places : tuple of Place
    night_factor : float
        How much longer a walk takes in the dark.
    """

    local: LocalPlane
    elevation: Elevation | None
    places: tuple[Place, ...]
    night_factor: float

    def approach(self, parking: Place | None, shots: Sequence[Shot]) -> Walk | None:
        """From the parking to the first stand, along tracks where they are given."""
        if parking is None or not shots:
            return None
        first = shots[0]
        way = self._by_tracks(self._spot(parking), self._metres(first.stand))
        return self._walk(way, _name(parking), f"{first.lens.label} stand")

    def home(self, parking: Place | None, shots: Sequence[Shot]) -> Walk | None:
        """From the last stand to the parking."""
        if parking is None or not shots:
            return None
        last = shots[-1]
        way = self._by_tracks(self._metres(last.stand), self._spot(parking))
        return self._walk(way, f"{last.lens.label} stand", _name(parking))

    def between_stands(self, before: Shot, stand: Stand, name: str) -> Walk:
        """From one stand to the next, straight where nothing is in the way."""
        ends = self._metres(before.stand), self._metres(stand)
        routed = way_round(*ends, [], walls_of(self.places, self.local, ends))
        return self._walk(routed, f"{before.lens.label} stand", name)

    def parking(self, named: str | None) -> Place | None:
        """The parking of that name, else the nearest to the subject.

        Raises
        ------
        NothingFoundError
            When no parking of the places file has the name.
        """
        known = [place for place in self.places if place.kind == "parking"]
        if named is not None:
            found = [place for place in known if place.name == named]
            if not found:
                names = ", ".join(repr(place.name) for place in known) or "none"
                raise NothingFoundError(
                    f"no parking of the places file is called {named!r}", hint=f"it has {names}"
                )
            return found[0]

        def metres(place: Place) -> float:
            return float(straight_way(self._spot(place), (0.0, 0.0)).line.length)

        return min(known, key=metres, default=None)

    def _spot(self, place: Place) -> Node:
        centre = on_plane(self.local, place).representative_point()
        return (float(centre.x), float(centre.y))

    def _metres(self, stand: Stand) -> Node:
        east, north = self.local.metres(lat=stand.lat, lon=stand.lon)
        return (float(east), float(north))

    def _by_tracks(self, start: Node, end: Node) -> Routed:
        tracks = [
            on_plane(self.local, place)
            for place in self.places
            if place.kind == "track" and place.access != "closed"
        ]
        return way_round(start, end, tracks, walls_of(self.places, self.local, (start, end)))

    def _walk(self, routed: Routed, start: str, end: str) -> Walk:
        walk = walk_along(
            routed.way,
            start=start,
            end=end,
            local=self.local,
            elevation=self.elevation,
            places=self.places,
            night_factor=self.night_factor,
            detour=routed.detour,
        )
        return replace(walk, cautions=(*routed.said, *walk.cautions))


def _name(place: Place) -> str:
    return place.name or "parking"
