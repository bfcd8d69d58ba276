"""What counts as clutter in a frame: how tall it looks, how far it is, and what is the subject."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from pyproj import Geod

from backbearing.scouting import scout

if TYPE_CHECKING:
    from backbearing.terrain import Elevation

EARTH = Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def level(made_ground) -> Elevation:
    return made_ground(lambda east, north: 100.0)


@pytest.fixture(scope="module")
def wide(plain_outing) -> Any:
    """Only the widest lens, on one night."""
    return replace(plain_outing, lenses=plain_outing.lenses[:1])


@pytest.fixture(scope="module")
def stand(wide, make_candidates, level) -> Any:
    """Where the lone candidate is taken from."""
    there = make_candidates(36.0, -84.0)
    return scout(wide, there, nights=1, processes=1, elevation=level).frame.iloc[0]


def counted(wide, make_candidates, level, *, lat: float, lon: float, height_m: float) -> int:
    """How many things share the frame when one more stands somewhere."""
    other = make_candidates(lat, lon, id="other", kind="mast", height_m=height_m, width_m=1.0)
    both = make_candidates(36.0, -84.0, others=other)
    found = scout(wide, both, nights=1, processes=1, elevation=level).frame.iloc[0]
    return int(found["isolation_count"])


def behind(stand: Any, away_m: float) -> tuple[float, float]:
    """A place straight behind the subject, so far from the stand, a little to the side."""
    lon, lat, _ = EARTH.fwd(
        stand["stand_lon"], stand["stand_lat"], stand["back_bearing_deg"] + 180.0 + 5.0, away_m
    )
    return lat, lon


@pytest.mark.parametrize(("share", "count"), [(0.09, 0), (0.11, 1)])
def test_things_that_look_a_tenth_as_tall_as_the_subject_count(
    share: float, count: int, wide, make_candidates, level, stand
) -> None:
    lat, lon = behind(stand, 300.0)
    height = share * 6.0 * 300.0 / stand["distance_m"]  # the candidate is six metres tall
    assert counted(wide, make_candidates, level, lat=lat, lon=lon, height_m=height) == count


@pytest.mark.parametrize(("away_m", "count"), [(1_990.0, 1), (2_010.0, 0)])
def test_nothing_beyond_two_kilometres_is_looked_for(
    away_m: float, count: int, wide, make_candidates, level, stand
) -> None:
    lat, lon = behind(stand, away_m)
    assert counted(wide, make_candidates, level, lat=lat, lon=lon, height_m=400.0) == count


@pytest.mark.parametrize(("apart_m", "count"), [(0.4, 0), (0.6, 1)])
def test_what_stands_within_half_a_metre_is_the_subject_again(
    apart_m: float, count: int, wide, make_candidates, level
) -> None:
    lon, lat, _ = EARTH.fwd(-84.0, 36.0, 90.0, apart_m)
    assert counted(wide, make_candidates, level, lat=lat, lon=lon, height_m=6.0) == count
