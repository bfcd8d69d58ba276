"""What the profile is given: the Sun's steps, the Moon, and an evening with a turn held."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest
from astropy import units
from astropy.coordinates import AltAz, EarthLocation, get_body, get_sun
from astropy.time import Time
from astropy.utils import iers

if TYPE_CHECKING:
    from starlette.testclient import TestClient

LAT, LON, UP_M = -31.2, 148.6, 300.0


def altitudes(body: str, seconds: list[float]) -> np.ndarray:
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        return _altitudes(body, seconds)


def _altitudes(body: str, seconds: list[float]) -> np.ndarray:
    when = Time(np.asarray(seconds, dtype=np.float64), format="unix")
    there = EarthLocation(lat=LAT * units.deg, lon=LON * units.deg, height=UP_M * units.m)
    place = get_sun(when) if body == "sun" else get_body(body, when, there)
    found: np.ndarray = place.transform_to(AltAz(obstime=when, location=there)).alt.deg
    return found


def test_the_steps_of_twilight_end_where_the_sun_is_as_deep_by_astropy(client: TestClient) -> None:
    light = client.get("/api/night").json()["light"]
    names = ["day", "civil twilight", "nautical twilight", "astronomical twilight", "night"]
    bounds = [-0.8333, -6.0, -12.0, -18.0]
    steps = light["steps"]
    assert [name for *_, name in steps if name == "night"] == ["night"]
    for before, after in pairwise(steps):
        assert before[1] == after[0]
        deep = altitudes("sun", [before[1]])[0]
        lower = min(names.index(before[2]), names.index(after[2]))
        # A minute of time is at most a quarter of a degree.
        assert deep == pytest.approx(bounds[lower], abs=0.02)


def test_the_moon_stands_where_astropy_has_it(client: TestClient) -> None:
    night = client.get("/api/night", params={"changes": '{"night": {"evening": "2027-06-14"}}'})
    given = night.json()
    there = altitudes("moon", given["times"][::30])
    shown = np.array(given["light"]["moon_altitude_deg"][::30])
    up = there > 2.0  # nearer to the horizon the air lifts it, which astropy leaves out
    assert up.sum() >= 3
    assert np.abs(shown - there)[up].max() < 0.35
    adds = given["light"]["moon_adds_mag"]
    assert max(one for one in adds if one is not None) > 0.5


def test_a_held_turn_has_the_middle_of_its_frames_where_it_is_held(client: TestClient) -> None:
    free = client.get("/api/evening").json()
    assert len(free["turns"]) == 2
    first = free["turns"][0]
    number = {"24 mm": 0, "40 mm": 1}[first["lens"]]
    wanted = (first["from"] + first["to"]) / 2.0 + 1200.0
    held = client.get("/api/evening", params={"fixed": json.dumps({number: wanted})}).json()
    turn = next(one for one in held["turns"] if one["lens"] == first["lens"])
    assert (turn["from"] + turn["to"]) / 2.0 == pytest.approx(wanted, abs=90.0)
    assert held["walked_m"] + held["waiting_minutes"] > 0.0


@pytest.mark.parametrize("fixed", ["[]", "{", '{"0": "soon"}', '{"0": 1e300}', '{"x": 1}', "7"])
def test_a_turn_held_at_no_time_is_refused(client: TestClient, fixed: str) -> None:
    given = client.get("/api/evening", params={"fixed": fixed})
    assert given.status_code == 422
    assert "held turns" in given.json()["error"]


def test_a_lens_that_is_not_there_is_refused(client: TestClient) -> None:
    given = client.get("/api/evening", params={"fixed": '{"9": 1812000000}'})
    assert given.status_code == 422
    assert "no lens number 9" in given.json()["error"]
