"""What the user's places say of a stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from pyproj import Geod
from shapely import LineString, Point, box

from backbearing.land.access import place_cautions
from backbearing.plan.place import Place

if TYPE_CHECKING:
    from backbearing.alignment import Plan

HERE = {"lat": 36.3729, "lon": -84.3602}
AROUND = box(-84.361, 36.372, -84.359, 36.374)
ELSEWHERE = box(-84.40, 36.372, -84.39, 36.374)


def land(access: str, geometry: object = AROUND) -> Place:
    return Place("land", "Far Field", "", access, geometry)  # type: ignore[arg-type]


def test_closed_land_is_said_first() -> None:
    brook = Place("water", "Averil beck", "", "unknown", Point(-84.3602, 36.37295))
    said = place_cautions(**HERE, places=[land("ask first"), brook, land("closed")])
    assert "Averil beck" in said[0]
    assert any("closed" in s for s in said[:2])
    assert "ask first" in said[-1]


def test_open_land_needs_no_word() -> None:
    assert place_cautions(**HERE, places=[land("open")]) == ()


def test_land_that_the_file_does_not_name_is_not_thereby_open() -> None:
    (said,) = place_cautions(**HERE, places=[land("open", ELSEWHERE)])
    assert "says nothing" in said


def test_no_file_no_word() -> None:
    assert place_cautions(**HERE, places=[]) == ()


def test_distance_to_water_is_measured_east_and_north() -> None:
    # One second of latitude is 30.8 m; of longitude at 36.4 degrees 24.9 m.
    second = 1 / 3600
    east = LineString([(HERE["lon"] + second, 36.0), (HERE["lon"] + second, 37.0)])
    north = LineString([(-85.0, HERE["lat"] + second), (-84.0, HERE["lat"] + second)])
    for geometry, metres in ((east, "24.9 m"), (north, "30.8 m")):
        brook = Place("water", "brook", "", "unknown", geometry)
        said = place_cautions(**HERE, places=[land("open"), brook])
        assert said == (f"Water: brook, {metres} from the stand.",)


def test_the_sample_stands_lie_on_land_to_ask_for(plan: Plan) -> None:
    for lens in plan.lenses:
        assert lens.stand is not None
        assert "Averil glebe is marked ask first" in lens.stand.cautions[0]


@pytest.mark.parametrize(("metres", "said"), [(59.0, True), (61.0, False)])
@pytest.mark.parametrize("kind", ["water", "hazard"])
def test_water_and_hazards_within_sixty_metres_are_said(
    kind: str, metres: float, *, said: bool
) -> None:
    lon, lat, _ = Geod(ellps="WGS84").fwd(HERE["lon"], HERE["lat"], 65.0, metres)
    found = place_cautions(
        **HERE, places=[land("open"), Place(kind, "Fold", "", "", Point(lon, lat))]
    )
    assert bool(found) is said
