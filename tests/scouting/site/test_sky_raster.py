"""Brightness of the sky from a raster: units, states, hostile files."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from backbearing.base.errors import BackbearingError, OutingError, TerrainError
from backbearing.land.sky_raster import SkyRaster
from backbearing.terrain.reading.sources import Ground


@pytest.fixture
def raster(tmp_path):
    def write(values, name="sky.tif", crs="EPSG:4326", west=-85.0, **more):
        path = tmp_path / name
        values = np.asarray(values, dtype=np.float32)
        settings = {
            "driver": "GTiff",
            "height": values.shape[0],
            "width": values.shape[1],
            "count": 1,
            "dtype": "float32",
            "crs": crs,
            "transform": from_origin(west, 37.0, 0.1, 0.1),
            **more,
        }
        with rasterio.open(path, "w", **settings) as data:
            data.write(values, 1)
        return path

    return write


def middle(row, col):
    return {"lat": [37.0 - 0.1 * (row + 0.5)], "lon": [-85.0 + 0.1 * (col + 0.5)]}


def test_magnitudes_come_back_at_pixel_centres(raster):
    values = np.linspace(18.0, 21.9, 30).reshape(5, 6)
    sky = SkyRaster.open(raster(values), unit="mag/arcsec2")
    for row, col in ((0, 0), (2, 3), (4, 5)):
        found = sky.at(**middle(row, col))
        assert found.mag_arcsec2[0] == pytest.approx(values[row, col], abs=1e-5)
        assert found.state[0] == Ground.KNOWN
    assert found.ratio[0] == pytest.approx(10.0 ** (0.4 * (22.0 - 21.9)) - 1.0, abs=1e-5)


def test_between_pixels_light_is_averaged_and_not_magnitudes(raster):
    sky = SkyRaster.open(raster([[18.0, 22.0], [18.0, 22.0]]), unit="mag/arcsec2")
    found = sky.at(lat=[36.9], lon=[-84.9])
    light = (10.0 ** (0.4 * 4.0) + 1.0) / 2.0
    assert found.mag_arcsec2[0] == pytest.approx(22.0 - 2.5 * np.log10(light), abs=1e-5)
    assert found.mag_arcsec2[0] < 19.0


@pytest.mark.parametrize(("unit", "value"), [("ratio", 1.0), ("mcd/m2", 0.174)])
def test_light_equal_to_the_natural_makes_the_sky_three_quarters_of_a_magnitude_brighter(
    raster, unit, value
):
    found = SkyRaster.open(raster(np.full((3, 3), value)), unit=unit).at(**middle(1, 1))
    assert found.mag_arcsec2[0] == pytest.approx(22.0 - 2.5 * np.log10(2.0), abs=1e-5)
    assert found.ratio[0] == pytest.approx(1.0, abs=1e-6)


def test_four_states_are_told_apart(raster, tmp_path):
    folder = tmp_path / "tiles"
    folder.mkdir()
    values = np.full((4, 4), 21.0)
    values[1, 1] = np.nan
    raster(values, "tiles/a.tif", nodata=np.nan)
    raster(np.full((4, 4), 20.0), "tiles/b.tif", west=-84.2)
    sky = SkyRaster.open(folder, unit="mag/arcsec2")
    found = sky.at(
        lat=[36.75, 36.85, 36.75, 36.75, np.nan], lon=[-84.75, -84.85, -84.4, -80.0, -84.7]
    )
    assert found.state.tolist() == [
        *(Ground.KNOWN, Ground.VOID, Ground.MISSING_TILE, Ground.OUTSIDE, Ground.OUTSIDE)
    ]
    assert np.isfinite(found.mag_arcsec2).tolist() == [True, False, False, False, False]
    assert np.isfinite(found.ratio).tolist() == [True, False, False, False, False]


def test_another_system_gives_the_same_place(raster):
    values = np.linspace(18.0, 21.9, 30).reshape(5, 6)
    path = raster(values, crs="EPSG:32616", transform=from_origin(7e5, 4.05e6, 1000.0, 1000.0))
    from pyproj import Transformer

    lon, lat = Transformer.from_crs(32616, 4326, always_xy=True).transform(
        7e5 + 2500, 4.05e6 - 1500
    )
    found = SkyRaster.open(path, unit="mag/arcsec2").at(lat=[lat], lon=[lon])
    assert found.mag_arcsec2[0] == pytest.approx(values[1, 2], abs=1e-4)


@pytest.mark.parametrize(
    ("unit", "value", "said"),
    [
        ("mag/arcsec2", 0.0, "the night sky lies between 14 and 23"),
        ("mag/arcsec2", 3.2, "the night sky lies between 14 and 23"),
        ("ratio", -0.5, "between 0 and 10,000 times"),
        ("mcd/m2", 5000.0, "between 0 and 1,000"),
    ],
)
def test_numbers_of_another_unit_are_refused(raster, unit, value, said):
    sky = SkyRaster.open(raster(np.full((3, 3), value)), unit=unit)
    with pytest.raises(TerrainError) as refused:
        sky.at(**middle(1, 1))
    assert said in str(refused.value)
    assert f"voids=[{value:g}]" in str(refused.value)


def test_a_number_may_be_said_to_mark_voids(raster):
    values = np.full((3, 3), 21.0)
    values[0, 0] = 0.0
    sky = SkyRaster.open(raster(values), unit="mag/arcsec2", voids=[0.0])
    assert sky.at(**middle(0, 0)).state[0] == Ground.VOID
    assert sky.at(**middle(2, 2)).mag_arcsec2[0] == pytest.approx(21.0)


def test_files_that_cannot_be_trusted_are_refused(raster, tmp_path):
    secret = raster(np.full((3, 3), 21.0), "secret.tif")
    vrt = tmp_path / "sky.vrt"
    text = (
        '<VRTDataset rasterXSize="3" rasterYSize="3"><VRTRasterBand dataType="Float32" band="1">'
        f"<SimpleSource><SourceFilename>{secret}</SourceFilename></SimpleSource>"
        "</VRTRasterBand></VRTDataset>"
    )
    vrt.write_text(text)
    disguised = tmp_path / "disguised.tif"
    disguised.write_text(text)
    torn = tmp_path / "torn.tif"
    torn.write_bytes(secret.read_bytes()[:100])
    for path in (vrt, disguised, torn, tmp_path / "none.tif", tmp_path / "sky.png"):
        with pytest.raises(BackbearingError, match=path.stem):
            SkyRaster.open(path, unit="mag/arcsec2").at(**middle(1, 1))
    with pytest.raises(OutingError, match="write one of mag/arcsec2, ratio, mcd/m2"):
        SkyRaster.open(secret, unit="magnitudes")  # type: ignore[arg-type]
    nowhere = raster(np.full((3, 3), 21.0), "nowhere.tif", crs=None)
    with pytest.raises(TerrainError, match="names no coordinate reference system"):
        SkyRaster.open(nowhere, unit="mag/arcsec2")
    sky = SkyRaster.open(nowhere, unit="mag/arcsec2", crs="EPSG:4326")
    assert sky.at(**middle(1, 1)).state[0] == Ground.KNOWN


def test_one_band_of_several_is_asked_for(raster, tmp_path):
    path = tmp_path / "two.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=3, width=3, count=2, dtype="float32", crs="EPSG:4326",
        transform=from_origin(-85.0, 37.0, 0.1, 0.1),
    ) as data:  # fmt: skip
        data.write(np.full((3, 3), 5.0, np.float32), 1)
        data.write(np.full((3, 3), 20.5, np.float32), 2)
    with pytest.raises(TerrainError, match="has 2 bands"):
        SkyRaster.open(path, unit="mag/arcsec2")
    sky = SkyRaster.open(path, unit="mag/arcsec2", band=2)
    assert sky.at(**middle(1, 1)).mag_arcsec2[0] == pytest.approx(20.5)
