"""What stands behind a number: only the part of the plan is worked out that its name needs."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.stand.needed import EVERYTHING, ONLY_STANDS
from backbearing.base.errors import NothingFoundError
from backbearing.base.lazy import Later
from backbearing.explain.lamp import LAMP_FACTS, lamp_explanations
from backbearing.explain.marks import MARK_FACTS, marks_explanations
from backbearing.explain.names import part_of
from backbearing.explain.nights import NIGHT_FACTS, night_explanations
from backbearing.explain.plan import explain, explanations, matching
from backbearing.explain.session import SESSION_FACTS, session_explanations
from backbearing.explain.tracker import TRACKER_FACTS, tracker_explanations

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.alignment.night import plan_season
    from backbearing.alignment.stand.needed import Needed
    from backbearing.explain.plan import Explanation
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
else:
    # Names of `nights` alone need it, and the list of all.
    plan_season = Later("backbearing.alignment.night.plan_season")

ALL_NUMBERS: Final = replace(EVERYTHING, skyline=False)
"""All parts that hold an explained number."""

OF_SESSION: Final[dict[str, Needed]] = {
    "light": replace(ONLY_STANDS, light=True),
    "line": replace(ONLY_STANDS, one_line=True),
    "on_line": replace(ONLY_STANDS, one_line=True),
    "other": replace(ONLY_STANDS, choice=True),
    "price": replace(ONLY_STANDS, choice=True),
}
"""First words of the session's names that need more than its turns."""


class Explained(NamedTuple):
    """The numbers a name means; for a lens with a session also its turns by ``turn.`` names."""

    chosen: list[Explanation]
    turns: Mapping[str, Explanation] | None = None


def explained(
    asked: Outing,
    name: str | None,
    *,
    at: str | None = None,
    stand: tuple[float, float] | None = None,
) -> Explained:
    """Explain one number, one quantity of all lenses, a part, or, without a name, everything.

    Parameters
    ----------
    asked : Outing
    name : str or None
        Such as ``85mm.distance_m``, ``distance_m``, ``session.walked_m``.
    at : str, optional
        A local wall time for every lens, as for :func:`.plan_night`.
    stand : tuple of float, optional
        Latitude and longitude, WGS84 degrees: the fixed stand of ``crossing.`` names.

    Raises
    ------
    NothingFoundError
        When nothing has that name.
    OutingError, TerrainError, SkyError, CameraError
        As :func:`.plan_night`.
    """
    if name is None:
        return Explained(_everything(asked, at, stand))
    part = part_of(name)
    if part == "nights":
        return Explained(matching(_of_nights(asked, stand), name, NIGHT_FACTS))
    of_part = {"marks": _of_marks, "lamp": _of_lamp, "tracker": _of_tracker}.get(part)
    if of_part is not None:
        return Explained(of_part(asked, at, name))
    if part == "session":
        needed = OF_SESSION.get(name.partition(".")[0], ONLY_STANDS)
        known = session_explanations(_part(asked, at, needed))
        return Explained(matching(known, name, SESSION_FACTS))
    # All lenses: a turn hangs on the others', and a panorama's frames on the widest.
    plan = _part(asked, at, ONLY_STANDS)
    turns = None if asked.session is None else session_explanations(plan)
    return Explained(explain(plan, name), turns)


def _everything(
    asked: Outing, at: str | None, stand: tuple[float, float] | None
) -> list[Explanation]:
    known = _of_nights(asked, stand)
    plan = _part(asked, at, ALL_NUMBERS)
    return [
        *explanations(plan).values(),
        *session_explanations(plan).values(),
        *marks_explanations(plan).values(),
        *lamp_explanations(plan).values(),
        *tracker_explanations(plan).values(),
        *known.values(),
    ]


def _of_nights(asked: Outing, stand: tuple[float, float] | None) -> dict[str, Explanation]:
    lat, lon = stand or (None, None)
    season = plan_season.plan_season(asked, nights=1, stand_lat=lat, stand_lon=lon)
    return night_explanations(season)


def _of_marks(asked: Outing, at: str | None, name: str) -> list[Explanation]:
    """Explain numbers of the skyline marks.

    Raises
    ------
    NothingFoundError
        When the outing has none.
    """
    asked = replace(asked, session=None)
    known = marks_explanations(_part(asked, at, ALL_NUMBERS)) if asked.ground.marks else {}
    if not known:
        raise NothingFoundError(
            f"{name} has no number here: the outing has no skyline marks",
            hint="write [[skyline_mark]] sections, or skyline_marks under [ground]",
            name=name,
        )
    if name == "marks":
        return list(known.values())
    return matching(known, name, MARK_FACTS)


def _of_lamp(asked: Outing, at: str | None, name: str) -> list[Explanation]:
    """Explain numbers of the lamp, at the places that the session finds for it.

    Raises
    ------
    NothingFoundError
        When the outing has no [light].
    """
    if asked.exposure.lamp is None:
        raise NothingFoundError(
            f"{name} has no number here: the outing asks for no light",
            hint="write a [light] section, such as lumens = 200",
            name=name,
        )
    known = lamp_explanations(_part(asked, at, replace(ONLY_STANDS, light=True)))
    return list(known.values()) if name == "lamp" else matching(known, name, LAMP_FACTS)


def _of_tracker(asked: Outing, at: str | None, name: str) -> list[Explanation]:
    """Explain numbers of a tracking mount.

    Raises
    ------
    NothingFoundError
        When the outing has no [tracker].
    """
    if asked.exposure.tracker is None:
        raise NothingFoundError(
            f"{name} has no number here: the outing has no mount",
            hint="write a [tracker] section, such as polar_error_arcmin = 10",
            name=name,
        )
    known = tracker_explanations(_part(asked, at, ONLY_STANDS))
    return list(known.values()) if name == "tracker" else matching(known, name, TRACKER_FACTS)


def _part(asked: Outing, at: str | None, needed: Needed) -> Plan:
    return prepare_night(asked).part(needed, at=at)
