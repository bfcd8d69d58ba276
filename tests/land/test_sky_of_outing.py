"""The exposure's sky from a raster: units apart, and files of another unit refused."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from backbearing.alignment import plan_night
from backbearing.base.errors import OutingError
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan

LAT, LON = -31.4, 148.9


def planned(folder: Path, values: Any, unit: str, *, named: bool = True) -> Plan:
    cells = np.broadcast_to(np.asarray(values, dtype=np.float32), (40, 40))
    with rasterio.open(
        folder / "sky.tif",
        "w",
        driver="GTiff",
        height=40,
        width=40,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=from_origin(LON - 1.0, LAT + 1.0, 0.05, 0.05),
    ) as data:
        data.write(cells, 1)
    outing = write_outing(
        folder,
        lat=LAT,
        lon=LON,
        evening=dt.date(2027, 6, 5),
        lenses=(24.0,),
        exposure={"brightness_from": "raster", "sky_mag_arcsec2": 19.0},
        scouting={"sky_brightness": "sky.tif", "sky_unit": unit} if named else {},
        light={},
    )
    return plan_night(outing, whole_skyline=False)


@pytest.mark.parametrize(
    ("values", "unit", "mag", "artificial"),
    [
        # As much artificial light as natural: 2.5 log10 2 = 0.753 brighter than 22.0.
        (0.174, "mcd/m2", 22.0 - 2.5 * math.log10(2.0), 0.174),
        (1.0, "ratio", 22.0 - 2.5 * math.log10(2.0), 0.174),
        (20.5, "mag/arcsec2", 20.5, 0.174 * (10.0 ** (0.4 * 1.5) - 1.0)),
        (0.0, "ratio", 22.0, 0.0),
    ],
)
def test_each_unit_for_what_it_is(
    tmp_path: Path, values: float, unit: str, mag: float, artificial: float
) -> None:
    plan = planned(tmp_path, values, unit)
    (lens,) = plan.lenses
    assert lens.light is not None
    assert lens.light.asked.sky_mag_arcsec2 == pytest.approx(mag, abs=1e-4)
    assert lens.light.asked.artificial_mcd_m2 == pytest.approx(artificial, abs=1e-5)
    assert plan.lamp is not None
    sky = plan.lamp.turns[0].sky
    assert sky.dark_cd_m2 == pytest.approx(108_000.0 * 10.0 ** (-0.4 * mag), rel=1e-3)
    assert any("zenith" in note and "artificial" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("values", "unit", "says"),
    [
        (np.linspace(0.1, 400.0, 40), "mcd/m2", 'sky_unit = "ratio"'),
        (np.linspace(18.0, 22.0, 40), "mcd/m2", 'sky_unit = "mag/arcsec2"'),
        (np.linspace(18.0, 22.0, 40), "ratio", 'sky_unit = "mag/arcsec2"'),
        (0.3, "mag/arcsec2", "another unit"),
        (np.nan, "ratio", "does not know the sky"),
    ],
)
def test_another_unit_is_refused_in_one_sentence(
    tmp_path: Path, values: Any, unit: str, says: str
) -> None:
    with pytest.raises(OutingError, match=says) as caught:
        planned(tmp_path, values, unit)
    assert "outing.toml" in str(caught.value)
    assert "[scouting]" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_bright_town_in_its_own_unit_is_believed(tmp_path: Path) -> None:
    plan = planned(tmp_path, np.linspace(2.0, 30.0, 40), "mcd/m2")
    (lens,) = plan.lenses
    assert lens.light is not None
    assert 17.0 < lens.light.asked.sky_mag_arcsec2 < 19.0


def test_no_raster_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutingError, match=r"brightness_from: asks for the raster and none"):
        planned(tmp_path, 1.0, "ratio", named=False)
