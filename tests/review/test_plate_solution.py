"""Where frames of the real sky pointed, against the directions they were drawn with."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from real_sky import Held, catalogue_seen, render
from star_fields import as_jpeg

from backbearing.alignment.view.frame_stars import moved_vectors, star_table
from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.camera import Lens
from backbearing.camera.frame_attitude import FrameOptics
from backbearing.review.plate_solution import Seed, Sky, _shared, solve_plate
from backbearing.review.star_list import list_stars

SOUTH = {"lat": -31.2, "lon": 148.6, "height_m": 300.0}
NORTH = {"lat": 44.1, "lon": -3.2, "height_m": 900.0}
WINTER = dt.datetime(2027, 6, 6, 11, 30, tzinfo=dt.UTC)
SUMMER = dt.datetime(2027, 7, 5, 23, 10, tzinfo=dt.UTC)


def sky_of(site: dict[str, float], time: dt.datetime) -> Sky:
    azimuth, altitude = SkyTurn.at(**site, time=time).horizontal(moved_vectors(time.year + 0.5))
    return Sky(azimuth, altitude, star_table()[2])


CASES = {
    "wide, 31 S": (SOUTH, WINTER, Held(118.0, 28.0, 1.5, 16.3), 16.0),
    "near the zenith, 31 S": (SOUTH, WINTER, Held(95.0, 62.0, -3.0, 24.4, 0.01), 24.0),
    "normal lens, 44 N": (NORTH, SUMMER, Held(184.0, 14.0, -0.8, 49.0), 50.0),
    "short tele, 44 N": (NORTH, SUMMER, Held(190.0, 17.0, 0.6, 86.5), 85.0),
    "portrait, barrel": (
        NORTH,
        SUMMER,
        Held(170.0, 22.0, 2.0, 23.8, -0.03, 1000, 1500, 24.0),
        24.0,
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
@pytest.mark.parametrize("off", [(0.0, 0.0), (9.0, -6.0)], ids=["aimed well", "aimed badly"])
def test_it_finds_where_a_frame_pointed(case, off):
    site, time, held, marked_mm = case
    image = render(held, *catalogue_seen(**site, time=time), more_stars=300, gradient=0.03)
    optics = FrameOptics(
        Lens(focal_length_mm=marked_mm),
        held.width_px,
        held.height_px,
        held.sensor_mm / held.width_px,
    )
    seed = Seed(held.azimuth_deg + off[0], held.pitch_deg + off[1])
    found = solve_plate(list_stars(as_jpeg(image)), sky_of(site, time), optics, seed)
    assert found is not None
    # Half a pixel at the middle of the frame, in degrees.
    pixel = math.degrees(held.sensor_mm / held.width_px / held.focal_mm)
    aside = (found.azimuth_deg - held.azimuth_deg) * math.cos(math.radians(held.pitch_deg))
    assert abs(aside) < 0.5 * pixel
    assert abs(found.pitch_deg - held.pitch_deg) < 0.5 * pixel
    assert abs(found.roll_deg - held.roll_deg) < 0.05
    assert found.optics.lens.focal_length_mm == pytest.approx(held.focal_mm, rel=1.5e-3)
    assert found.distortion == pytest.approx(held.distortion, abs=2e-3)
    # And every direction in the frame, not only the axis.
    columns, rows = np.meshgrid(
        np.linspace(50, held.width_px - 50, 5), np.linspace(50, held.height_px - 50, 5)
    )
    x, y = held.pixels(*found.directions(columns, rows))
    assert np.hypot(x - columns, y - rows).max() < 1.5


def test_another_sky_is_no_solution():
    """Stars strewn at random lie upon no catalogue; nor do those of another hour."""
    held = Held(184.0, 20.0, 0.0, 35.0)
    optics = FrameOptics(Lens(focal_length_mm=35.0), 1500, 1000, 0.024)
    seen = catalogue_seen(**NORTH, time=SUMMER)
    rng = np.random.default_rng(5)
    strewn = render(held, *(rng.permutation(values) for values in seen), more_stars=200)
    assert (
        solve_plate(list_stars(as_jpeg(strewn)), sky_of(NORTH, SUMMER), optics, Seed(184.0, 20.0))
        is None
    )
    image = render(held, *seen)
    late = SUMMER + dt.timedelta(hours=6)
    assert (
        solve_plate(list_stars(as_jpeg(image)), sky_of(NORTH, late), optics, Seed(184.0, 20.0))
        is None
    )


def test_a_solution_that_few_bright_stars_meet_is_none():
    """Found by frames of chance: 34 of 272 stars laid on a lens bent as none is."""
    held = Held(184.0, 20.0, 0.0, 35.0)
    optics = FrameOptics(Lens(focal_length_mm=35.0), 1500, 1000, 0.024)
    stars = list_stars(as_jpeg(render(held, *catalogue_seen(**NORTH, time=SUMMER))))
    sky = sky_of(NORTH, SUMMER)
    found = solve_plate(stars, sky, optics, Seed(184.0, 20.0))
    assert found is not None
    assert _shared(found, stars, sky) > 0.8
    # A lens bent by a fifth at the corner meets the stars of the middle only.
    bent = replace(found, distortion=found.distortion - 0.2)
    assert _shared(bent, stars, sky) < 0.25


def test_cloud_streaks_and_a_coarse_file_do_not_mislead_it():
    held = Held(188.0, 21.0, 1.0, 28.0)
    image = render(
        held, *catalogue_seen(**NORTH, time=SUMMER), more_stars=400, noise=0.004, gradient=0.05
    )
    rows, columns = np.mgrid[0:1000, 0:1500]
    # A bank of cloud over the right third, an aeroplane's dashes and a satellite's line.
    cloud = 1.0 / (1.0 + np.exp(-(columns - 1050.0 - 60.0 * np.sin(rows / 90.0)) / 25.0))
    image = image * (1.0 - 0.95 * cloud) + 0.06 * cloud
    for shift, on in ((120.0, True), (700.0, False)):
        line = np.abs(rows - shift - 0.12 * columns) < 1.2
        image[line & ((columns // 40 % 2 == 0) | (not on))] += 0.25
    optics = FrameOptics(Lens(focal_length_mm=28.0), 1500, 1000, 0.024)
    found = solve_plate(
        list_stars(as_jpeg(image, quality=80)), sky_of(NORTH, SUMMER), optics, Seed(183.0, 17.0)
    )
    assert found is not None
    pixel = math.degrees(0.024 / 28.0)
    assert abs(found.azimuth_deg - 188.0) * math.cos(math.radians(21.0)) < pixel
    assert abs(found.pitch_deg - 21.0) < pixel
    assert abs(found.roll_deg - 1.0) < 0.1
