"""Many stands at once are the plan's stands, one by one."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from backbearing.alignment import Framing, Subject, find_stands
from backbearing.base.geodesy import line_between
from backbearing.camera import Camera, Lens
from backbearing.scouting.ranking.candidate_stands import (
    CandidateGroup,
    LensQuestion,
    near_places,
)
from backbearing.scouting.ranking.raster_window import RasterWindow
from backbearing.sky import CORE, direction

WHEN = dt.datetime(2027, 6, 6, 5, 30, tzinfo=dt.UTC)
CAMERA = Camera()


def group_of(candidates, elevation) -> CandidateGroup:
    frame = candidates.frame
    lat, lon = np.asarray(frame.geometry.y), np.asarray(frame.geometry.x)
    return CandidateGroup(
        lat=lat,
        lon=lon,
        height_m=np.asarray(frame["height_m"]),
        width_m=np.asarray(frame["width_m"]),
        ground_m=elevation.height_at(lat=lat, lon=lon),
        window=RasterWindow.about(elevation, lat=lat, lon=lon, reach_m=4000.0),
    )


CASES = {
    "wide": (Lens(14.0), Framing(share=0.36, base_margin=0.08)),
    "long": (Lens(85.0), Framing(share=0.5, base_margin=0.02)),
    "very long, offset": (Lens(200.0), Framing(share=0.3, offset_deg=3.0)),
    "fisheye": (Lens(15.0, projection="equisolid"), Framing(share=0.2)),
    "raised": (Lens(24.0, rise_mm=5.0), Framing(share=0.3)),
    "level": (Lens(20.0), Framing(share=0.3, level=True)),
    "level fisheye": (Lens(15.0, projection="equisolid"), Framing(share=0.3, level=True)),
    "width": (Lens(35.0), Framing(share=0.3, share_of="width")),
    "width, level": (Lens(35.0), Framing(share=0.3, share_of="width", level=True)),
    "width, fisheye": (
        Lens(15.0, projection="equisolid"),
        Framing(share=0.25, share_of="width"),
    ),
    "width, level fisheye": (
        Lens(15.0, projection="equisolid"),
        Framing(share=0.4, share_of="width", level=True),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_settled_stands_are_those_of_the_plan(case: str, scattered, elevation) -> None:
    lens, framing = CASES[case]
    candidates = scattered(6, seed=3)
    group = group_of(candidates, elevation)
    question = LensQuestion.of(group, CAMERA, lens, framing, 0.13)

    def wanted(lat, lon):
        heights = group.ground_m
        return direction(CORE, lat=lat, lon=lon, height_m=heights, times=WHEN)[0] - (
            framing.offset_deg
        )

    places = question.settled(wanted, np.ones(len(group.lat), dtype=bool))
    lat, lon, distance, bearing = (
        places.lat, places.lon, places.distance_m, places.bearing_deg,
    )  # fmt: skip
    found = 0
    for i in range(len(lat)):
        subject = Subject(
            lat=group.lat[i],
            lon=group.lon[i],
            height_m=group.height_m[i],
            width_m=group.width_m[i],
        )
        (stand,) = find_stands(
            subject, CORE, WHEN, CAMERA, [lens], framing, elevation, max_distance_m=5000.0
        )
        assert np.isfinite(stand.distance_m) == np.isfinite(distance[i])
        if np.isfinite(distance[i]):
            found += 1
            apart = line_between(lat1=stand.lat, lon1=stand.lon, lat2=lat[i], lon2=lon[i])
            assert apart.distance_m < 0.05
            assert distance[i] == pytest.approx(stand.distance_m, abs=0.05)
            assert bearing[i] == pytest.approx(stand.bearing_deg, abs=0.001)
    assert found >= 4


def test_stands_at_nodes_lie_within_half_a_metre(scattered, elevation) -> None:
    """At nodes the azimuth is the subject's own, and the Earth flat about it."""
    lens, framing = Lens(85.0), Framing(share=0.3)
    group = group_of(scattered(6, seed=4), elevation)
    question = LensQuestion.of(group, CAMERA, lens, framing, 0.13)
    azimuth, _ = direction(CORE, lat=group.lat, lon=group.lon, height_m=group.ground_m, times=WHEN)
    back = (azimuth[:, None] + 180.0) % 360.0
    stands = question.stands(back, np.ones(back.shape, dtype=bool))
    lat, lon = near_places(group, back, stands.distance_m)
    for i in range(len(azimuth)):
        subject = Subject(lat=group.lat[i], lon=group.lon[i], height_m=group.height_m[i])
        (stand,) = find_stands(
            subject, CORE, WHEN, CAMERA, [lens], framing, elevation, max_distance_m=5000.0
        )
        apart = line_between(lat1=stand.lat, lon1=stand.lon, lat2=lat[i, 0], lon2=lon[i, 0])
        assert apart.distance_m < 0.5
        assert stand.bearing_deg == pytest.approx(azimuth[i], abs=0.1)
        assert stands.ground_m[i, 0] == pytest.approx(stand.ground_m, abs=0.1)
        assert stands.slope_deg[i, 0] == pytest.approx(
            elevation.slope_at(lat=stand.lat, lon=stand.lon), abs=0.1
        )


def test_a_subject_lower_than_the_eye(make_candidates, made_ground) -> None:
    """From above, it looks tallest at one distance and may never fill the share."""
    ground = made_ground(lambda east, north: 100.0)
    candidates = make_candidates([36.0, 36.001], [-84.0, -84.0], height_m=[1.0, 0.2])
    group = group_of(candidates, ground)
    question = LensQuestion.of(group, CAMERA, Lens(50.0), Framing(share=0.36), 0.13)
    distance = question.stands(np.zeros((2, 1)), np.ones((2, 1), dtype=bool)).distance_m[:, 0]
    subject = Subject(lat=36.0, lon=-84.0, height_m=1.0)
    (stand,) = find_stands(subject, CORE, WHEN, CAMERA, [Lens(50.0)], Framing(share=0.36), ground)
    assert distance[0] == pytest.approx(stand.distance_m, abs=0.05)
    tiny = replace(subject, height_m=0.2)
    (none,) = find_stands(tiny, CORE, WHEN, CAMERA, [Lens(50.0)], Framing(share=0.36), ground)
    assert np.isnan(distance[1]) == np.isnan(none.distance_m)


def test_water_and_unknown_ground_hold_no_stand(make_candidates, made_ground) -> None:
    def shore(east, north):
        return np.where(north > 200.0, np.nan, 50.0)

    ground = made_ground(shore)
    group = group_of(make_candidates(36.0, -84.0), ground)
    question = LensQuestion.of(group, CAMERA, Lens(200.0), Framing(share=0.1), 0.13)
    back = np.array([[0.0, 180.0]])
    stands = question.stands(back, np.ones(back.shape, dtype=bool))
    assert np.isnan(stands.ground_m[0, 0])
    assert stands.ground_m[0, 1] == pytest.approx(50.0)
