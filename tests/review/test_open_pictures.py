"""Stars and trails of open pictures that packages carry; none of them is kept here.

| picture | package, version | licence | what it is |
|---|---|---|---|
| ``skimage/data/hubble_deep_field.jpg`` | scikit-image 0.26.0 | public domain (NASA/ESA, as its README says) | a field of galaxies, guided |
| ``skimage/data/moon.png``, ``coins.png`` | scikit-image 0.26.0 | public domain; no known restrictions | no sky of stars at all |
| ``astrowisp/tests/test_data/XO1_test_img.fits``, ``.fistar`` | astrowisp 2.0.1 | GPL by its metadata, MIT by its classifier | 10 s at 1154 mm on a mount, and what another program found in it |
| ``dascasi/tests/data/*.FITS`` | dascasi 3.0.0 | Apache 2.0 | the whole sky over Poker Flat, Alaska, with aurora, by a fisheye |

They are looked up among what is installed and never imported; where they are missing the tests say
so and are skipped. ``pip install --no-deps scikit-image astrowisp dascasi`` brings all of them.
"""  # noqa: E501  # a table

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from backbearing.review import Picture, measure_trails
from backbearing.review.star_list import list_stars
from backbearing.review.streaks import find_streaks


def carried(package: str, name: str) -> Path:
    """A file that a package carries; the test is skipped where it is not there."""
    found = importlib.util.find_spec(package)
    if found is None or found.origin is None:
        pytest.skip(f"the package {package}, which carries {name}, is not installed")
    path = Path(found.origin).parent / name if package != "astrowisp" else _astrowisp(found, name)
    if not path.exists():
        pytest.skip(f"this {package} does not carry {name}")
    return path


def _astrowisp(found: Any, name: str) -> Path:
    return Path(found.origin).parent / name


def fits_values(path: Path) -> np.ndarray:
    from astropy.io import fits

    return np.asarray(fits.getdata(path), dtype=np.float64)


def test_galaxies_that_a_mount_followed_have_no_trail() -> None:
    file = carried("skimage", "data/hubble_deep_field.jpg")
    with Image.open(file) as opened:
        picture = Picture.of_array(np.asarray(opened.convert("RGB")))
    found = measure_trails(picture)
    # Galaxies lie every way: no common smear, and the doubt says so.
    assert found.whole.stars > 100
    assert found.whole.length_px == 0.0
    assert found.whole.at_most_px < 2.0
    assert found.streaks == ()


def test_stars_lie_where_another_program_found_them() -> None:
    file = carried("astrowisp", "tests/test_data/XO1_test_img.fits")
    others = np.loadtxt(file.with_suffix(".fistar"))
    counts = fits_values(file)
    light = np.clip((counts - 124.0) / 4095.0, 0.0, 1.0).astype(np.float32)
    picture = Picture.of_array(light)
    stars = list_stars(picture)
    # That list counts from the corner of the first pixel, this one from its middle; a bright
    # star is clipped, and those at the very edge were left out there.
    height, width = counts.shape
    inside = (stars.column_px > 15) & (stars.column_px < width - 15)
    inside &= (stars.row_px > 15) & (stars.row_px < height - 15)
    apart = [
        float(np.hypot(others[:, 1] - 0.5 - x, others[:, 2] - 0.5 - y).min())
        for x, y in zip(stars.column_px[inside], stars.row_px[inside], strict=True)
    ]
    assert len(apart) >= 12
    assert np.median(apart) < 0.3
    assert np.mean(np.array(apart) < 0.6) > 0.7
    # Ten seconds on a mount that follows: no trail is told, nor a streak.
    found = measure_trails(picture)
    assert not found.whole.length_px > 0.0
    assert found.streaks == ()


@pytest.mark.parametrize(
    "name",
    [
        "PKR_DASC_0428_20151007_082355.961.FITS",
        "PKR_DASC_0558_20151007_082351.743.FITS",
        "PKR_DASC_0558_20151007_082404.243.FITS",
        "PKR_DASC_0630_20151007_082359.586.FITS",
    ],
)
def test_rays_of_aurora_are_neither_trails_nor_streaks(name: str) -> None:
    counts = fits_values(carried("dascasi", f"tests/data/{name}"))
    light = np.clip((counts - 340.0) / 1200.0, 0.0, 1.0).astype(np.float32)
    found = measure_trails(Picture.of_array(light))
    assert not found.whole.length_px > 0.0
    assert found.streaks == ()


@pytest.mark.parametrize("name", ["moon.png", "coins.png", "retina.jpg", "astronaut.png"])
def test_what_is_no_sky_has_no_streaks(name: str) -> None:
    with Image.open(carried("skimage", f"data/{name}")) as opened:
        assert find_streaks(Picture.of_array(np.asarray(opened.convert("RGB")))) == ()
