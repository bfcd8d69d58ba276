"""What callers in Python pass: the wrong kind gets one sentence with its name."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import backbearing
from backbearing.alignment import find_stands
from backbearing.base.errors import BackbearingError
from backbearing.camera import Camera, Lens
from backbearing.outing import Framing, Subject
from backbearing.review import read_exif
from backbearing.scouting import read_candidates
from backbearing.sky import Target, dark_windows, direction
from backbearing.terrain import Elevation

WRONG: tuple[Any, ...] = (
    "x", None, [1, 2, 3], np.zeros((2, 2)), "36", b"x", dt.date(2027, 6, 6), 10**400, object(),
)  # fmt: skip
TIME = dt.datetime(2027, 6, 6, 4, tzinfo=dt.UTC)
PLACE = {"lat": 36.37, "lon": -84.36}


def refused(call: Any, key: str) -> None:
    with pytest.raises(BackbearingError) as caught:
        call()
    said = str(caught.value)
    assert key in said
    assert "\n" not in said
    assert len(said) < 400


@pytest.mark.parametrize("wrong", WRONG, ids=lambda one: type(one).__name__)
def test_one_number_is_one_number(wrong: Any, elevation: Elevation) -> None:
    refused(lambda: Subject(name="x", lat=wrong, lon=0.0, height_m=6.0), "lat")
    refused(lambda: Subject(name="x", lat=1.0, lon=0.0, height_m=wrong), "height_m")
    refused(lambda: Framing(share=wrong), "share")
    refused(lambda: Lens(wrong), "focal_length_mm")
    refused(lambda: Camera(width_px=wrong), "width_px")
    refused(lambda: elevation.horizon(lat=wrong, lon=-84.36, eye_height_m=1.6), "lat")
    refused(lambda: elevation.horizon(**PLACE, eye_height_m=wrong), "eye_height_m")
    refused(lambda: Target.radec(ra_deg=wrong, dec_deg=0.0), "ra_deg")


@pytest.mark.parametrize(
    "wrong", ["x", b"x", object(), dt.date(2027, 6, 6), ["a"]], ids=lambda one: type(one).__name__
)
def test_arrays_hold_numbers(wrong: Any, elevation: Elevation) -> None:
    refused(lambda: elevation.height_at(lat=wrong, lon=[-84.36]), "lat")
    refused(lambda: elevation.horizon(**PLACE, eye_height_m=1.6, azimuths_deg=wrong), "azimuths")
    refused(lambda: direction(Target.star("Vega"), lat=wrong, lon=0.0, times=TIME), "lat")


@pytest.mark.parametrize(
    "wrong", [dt.date(2027, 6, 6), "2027-06-06", None, 5, TIME.replace(tzinfo=None)], ids=repr
)
def test_a_moment_knows_its_zone(wrong: Any, outing: Any, elevation: Elevation) -> None:
    lenses = [one.lens for one in outing.lenses]
    refused(
        lambda: find_stands(
            outing.subject, outing.target, wrong, lenses, outing.camera, outing.framing, elevation
        ),
        "time",
    )


@pytest.mark.parametrize("wrong", ["2027-06-06", "x", None, 5], ids=repr)
def test_an_evening_is_a_date(wrong: Any) -> None:
    refused(lambda: dark_windows(**PLACE, first_night=wrong), "first_night")


@pytest.mark.parametrize("wrong", [0, -1, 1.0, 1e300, float("nan"), "3", True, 10**9], ids=repr)
def test_nights_are_counted(wrong: Any) -> None:
    day = dt.date(2027, 6, 5)
    refused(lambda: dark_windows(**PLACE, first_night=day, nights=wrong), "nights")


@pytest.mark.parametrize("wrong", [None, 5, b"x", ["a"], "", "a\x00b", "x" * 5_000], ids=repr)
def test_a_path_is_a_path(wrong: Any) -> None:
    readers = (backbearing.load_outing, read_candidates, read_exif)
    for reader in readers:
        refused(lambda reader=reader: reader(wrong), "")
    refused(lambda: Elevation.open(wrong), "")


@pytest.mark.parametrize("wrong", [None, 5, "outing.toml", Path("outing.toml")], ids=repr)
def test_a_plan_is_of_an_outing(wrong: Any) -> None:
    refused(lambda: backbearing.plan_night(wrong), "outing")


@pytest.mark.parametrize("wrong", [None, 5, b"x", ["a"]], ids=repr)
def test_names_are_text(wrong: Any) -> None:
    refused(lambda: Target.star(wrong), "star")
    refused(lambda: Target.body(wrong), "body")
    if wrong is not None:
        day = dt.date(2027, 6, 5)
        refused(lambda: dark_windows(**PLACE, first_night=day, tz=wrong), "tz")
