"""Files of each kind, what they leave unsaid, and files that are not what they seem."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from affine import Affine

from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation, Ground, TerrainWarning

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Z = (np.arange(20 * 30).reshape(20, 30) + 100).astype(np.int16)
TRANSFORM = Affine(0.01, 0, -84.0, 0, -0.01, 36.5)


def centre(row: float, col: float) -> dict[str, float]:
    return {"lat": 36.5 - 0.01 * (row + 0.5), "lon": -84.0 + 0.01 * (col + 0.5)}


def test_a_pixel_centre_gives_its_own_height(write_tif: Callable[..., Path]) -> None:
    dem = Elevation.open(write_tif(Z))
    for row, col in ((0, 0), (7, 11), (19, 29)):
        assert dem.height_at(**centre(row, col)) == pytest.approx(float(Z[row, col]), abs=1e-6)


def test_half_a_pixel_is_not_lost(write_tif: Callable[..., Path]) -> None:
    """The raster's corner is half a pixel off its first known height."""
    dem = Elevation.open(write_tif(Z))
    assert dem.state_at(lat=36.5 - 0.0049, lon=-83.9) is Ground.OUTSIDE
    assert dem.state_at(lat=36.5 - 0.0051, lon=-83.9) is Ground.KNOWN
    assert dem.height_at(**centre(3.5, 4)) == pytest.approx((Z[3, 4] + Z[4, 4]) / 2)


@pytest.mark.parametrize("posts", [False, True])
def test_area_or_point_as_the_geotiff_standard_has_it(tmp_path: Path, posts: bool) -> None:
    """OGC 19-008r4 (GeoTIFF 1.1), GTRasterTypeGeoKey: tie points are corners or centres.

    Written with Pillow, tag by tag, so that no GDAL convention stands between.
    """
    from PIL import Image, TiffImagePlugin

    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[33550] = (0.01, 0.01, 0.0)
    tags[33922] = (0.0, 0.0, 0.0, -84.0, 36.5, 0.0)
    tags[34735] = (1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2 if posts else 1, 2048, 0, 1, 4326)
    for tag, kind in ((33550, 12), (33922, 12), (34735, 3)):
        tags.tagtype[tag] = kind
    path = tmp_path / "tags.tif"
    Image.fromarray(Z.astype(np.float32)).save(path, tiffinfo=tags)
    dem = Elevation.open(path)
    shift = 0.0 if posts else 0.005
    lat, lon = 36.5 - shift - 0.05, -84.0 + shift + 0.07
    assert dem.height_at(lat=lat, lon=lon) == pytest.approx(float(Z[5, 7]), abs=1e-6)


def test_posts_of_an_array_lie_on_its_origin() -> None:
    dem = Elevation.from_array(Z, TRANSFORM, "EPSG:4326", posts=True)
    assert dem.height_at(lat=36.5 - 0.05, lon=-84.0 + 0.07) == pytest.approx(float(Z[5, 7]))
    assert tuple(dem.transform)[:6] == pytest.approx((0.01, 0, -84.005, 0, -0.01, 36.505))


@pytest.mark.parametrize(
    ("name", "south", "west"),
    [("N36W085.hgt", 36, -85), ("S34E018.hgt", -34, 18), ("S01W001.hgt", -1, -1)],
)
def test_hgt_posts_lie_on_whole_degrees(tmp_path: Path, name: str, south: int, west: int) -> None:
    """SRTM_Topo.pdf (NASA, 2005): big-endian, rows from the north, name = south-west post."""
    z = np.add.outer(np.arange(1201), 2 * np.arange(1201)).astype(">i2")
    z[600, 600] = -32768
    path = tmp_path / name
    z.tofile(path)
    dem = Elevation.open(path)
    assert dem.shape == (1201, 1201)
    assert dem.height_at(lat=south + 1, lon=west) == pytest.approx(0.0, abs=1e-6)
    assert dem.height_at(lat=south, lon=west) == pytest.approx(1200.0, abs=1e-6)
    assert dem.height_at(lat=south, lon=west + 1) == pytest.approx(3600.0, abs=1e-6)
    assert dem.height_at(lat=south + 1 - 10 / 1200, lon=west + 20 / 1200) == pytest.approx(50.0)
    assert dem.state_at(lat=south + 0.5, lon=west + 0.5) is Ground.VOID


def test_one_arc_second_hgt_is_read_too(tmp_path: Path) -> None:
    z = np.zeros((3601, 3601), dtype=">i2")
    z[1800, 900] = 77
    path = tmp_path / "N36W085.hgt"
    z.tofile(path)
    assert Elevation.open(path).height_at(lat=36.5, lon=-84.75) == pytest.approx(77.0)


def test_dted_posts_lie_on_whole_degrees(tmp_path: Path, write_tif: Callable[..., Path]) -> None:
    import rasterio.shutil

    z = np.add.outer(np.arange(121), 3 * np.arange(121)).astype(np.int16)
    step = 1 / 120
    source = write_tif(z, Affine(step, 0, -85 - step / 2, 0, -step, 37 + step / 2), name="d.tif")
    path = tmp_path / "n36.dt0"
    rasterio.shutil.copy(source, path, driver="DTED")
    dem = Elevation.open(path)
    assert dem.height_at(lat=37.0, lon=-85.0) == pytest.approx(0.0, abs=1e-6)
    assert dem.height_at(lat=36.0, lon=-84.0) == pytest.approx(480.0, abs=1e-6)


ASC = """ncols 3
nrows 3
xllcorner -84.0
yllcorner 36.0
cellsize 0.01
NODATA_value -9999
10 20 30
40 50 60
70 -9999 90
"""


def test_ascii_grid_needs_a_crs_and_takes_one(tmp_path: Path) -> None:
    path = tmp_path / "small.asc"
    path.write_text(ASC)
    with pytest.raises(TerrainError, match=r"coordinate reference system.*EPSG:4326"):
        Elevation.open(path)
    dem = Elevation.open(path, crs="EPSG:4326")
    assert dem.height_at(lat=36.015, lon=-83.985) == pytest.approx(50.0, abs=1e-4)
    assert dem.state_at(lat=36.006, lon=-83.985) is Ground.VOID


def test_ascii_grid_by_centres(tmp_path: Path) -> None:
    path = tmp_path / "small.asc"
    path.write_text(ASC.replace("llcorner", "llcenter"))
    dem = Elevation.open(path, crs="EPSG:4326")
    assert dem.height_at(lat=36.02, lon=-84.0) == pytest.approx(10.0, abs=1e-4)


def test_a_geotiff_without_crs_is_refused_with_what_to_do(write_tif: Callable[..., Path]) -> None:
    path = write_tif(Z, crs=None)
    with pytest.raises(TerrainError, match="pass crs="):
        Elevation.open(path)
    dem = Elevation.open(path, crs="EPSG:4326")
    assert dem.height_at(**centre(2, 2)) == pytest.approx(float(Z[2, 2]), abs=1e-6)


def test_a_contrary_crs_is_refused(write_tif: Callable[..., Path]) -> None:
    with pytest.raises(TerrainError, match="leave crs out"):
        Elevation.open(write_tif(Z), crs="EPSG:32616")


def test_a_raster_without_place_is_refused(write_tif: Callable[..., Path]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = write_tif(Z, Affine.identity())
    with pytest.raises(TerrainError, match="geotransform"):
        Elevation.open(path)


def test_geocentric_crs_is_refused() -> None:
    with pytest.raises(TerrainError, match="neither geographic nor projected"):
        Elevation.from_array(Z, TRANSFORM, "EPSG:4978")


VRT = """<VRTDataset rasterXSize="30" rasterYSize="20"><SRS>EPSG:4326</SRS>
<GeoTransform>-84.0, 0.01, 0, 36.5, 0, -0.01</GeoTransform>
<VRTRasterBand dataType="Int16" band="1"><SimpleSource>
<SourceFilename relativeToVRT="0">{path}</SourceFilename><SourceBand>1</SourceBand>
<SrcRect xOff="0" yOff="0" xSize="30" ySize="20"/>
<DstRect xOff="0" yOff="0" xSize="30" ySize="20"/></SimpleSource></VRTRasterBand></VRTDataset>"""


@pytest.mark.parametrize("suffix", [".tif", ".hgt", ".asc", ".dt1", ".TIFF"])
def test_a_vrt_in_disguise_is_refused(
    tmp_path: Path, write_tif: Callable[..., Path], suffix: str
) -> None:
    path = tmp_path / f"N36W085{suffix}"
    path.write_text(VRT.format(path=write_tif(Z)))
    with pytest.raises(TerrainError, match="cannot be read as"):
        Elevation.open(path, allow_vrt=True)


def test_a_vrt_needs_an_explicit_word(tmp_path: Path, write_tif: Callable[..., Path]) -> None:
    path = tmp_path / "own.vrt"
    path.write_text(VRT.format(path=write_tif(Z)))
    with pytest.raises(TerrainError, match="allow_vrt=True"):
        Elevation.open(path)
    dem = Elevation.open(path, allow_vrt=True)
    assert dem.height_at(**centre(4, 4)) == pytest.approx(float(Z[4, 4]), abs=1e-6)


def test_other_suffixes_missing_files_and_rubbish(tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match="suffix"):
        Elevation.open(tmp_path / "dem.png")
    with pytest.raises(TerrainError, match="does not exist"):
        Elevation.open(tmp_path / "none.tif")
    with pytest.raises(TerrainError, match="at least one path"):
        Elevation.open([])
    rubbish = tmp_path / "rubbish.tif"
    rubbish.write_bytes(b"II*\0" + bytes(range(200)))
    with pytest.raises(TerrainError, match="cannot be read as GTiff"):
        Elevation.open(rubbish)


def test_a_file_cut_short_says_so(write_tif: Callable[..., Path]) -> None:
    path = write_tif(np.tile(Z, (20, 20)), compress="deflate")
    path.write_bytes(path.read_bytes()[:2000])
    with pytest.raises(TerrainError, match="cut short"):
        Elevation.open(path).height_at(lat=35.0, lon=-80.0)


def test_a_picture_is_refused(write_tif: Callable[..., Path]) -> None:
    path = write_tif(np.stack([Z, Z, Z]))
    with pytest.raises(TerrainError, match="3 bands"):
        Elevation.open(path)
    assert Elevation.open(path, band=2).height_at(**centre(1, 1)) == pytest.approx(float(Z[1, 1]))
    with pytest.raises(TerrainError, match="no band 4"):
        Elevation.open(path, band=4)


@pytest.mark.parametrize(
    ("unit", "metres"),
    [("metre", 1.0), ("m", 1.0), ("foot", 0.3048), ("ft", 0.3048), ("US survey foot", 1200 / 3937)],
)
def test_the_files_own_unit_is_honoured(
    write_tif: Callable[..., Path], unit: str, metres: float
) -> None:
    dem = Elevation.open(write_tif(Z, unit=unit))
    assert dem.height_at(**centre(9, 9)) == pytest.approx(float(Z[9, 9]) * metres, rel=1e-6)


def test_the_users_unit_fills_a_silence_and_may_not_contradict(
    write_tif: Callable[..., Path],
) -> None:
    dem = Elevation.open(write_tif(Z), vertical_unit="foot")
    assert dem.height_at(**centre(9, 9)) == pytest.approx(float(Z[9, 9]) * 0.3048, rel=1e-6)
    with pytest.raises(TerrainError, match="states heights in foot"):
        Elevation.open(write_tif(Z, unit="ft"), vertical_unit="metre")
    with pytest.raises(TerrainError, match="not known"):
        Elevation.open(write_tif(Z), vertical_unit="cubit")
    with pytest.raises(TerrainError, match="fathom"):
        Elevation.open(write_tif(Z, unit="fathom"))


def test_a_vertical_crs_in_feet_is_honoured(write_tif: Callable[..., Path]) -> None:
    dem = Elevation.open(write_tif(Z, crs="EPSG:4269+6360"))
    assert dem.height_at(**centre(9, 9)) == pytest.approx(float(Z[9, 9]) * 1200 / 3937, rel=1e-5)


def test_a_map_in_feet_must_say_what_its_heights_are(write_tif: Callable[..., Path]) -> None:
    transform = Affine(100.0, 0, 2_500_000, 0, -100.0, 700_000)
    path = write_tif(Z, transform, crs="EPSG:2274")
    with pytest.raises(TerrainError, match="whether its heights are feet"):
        Elevation.open(path)
    dem = Elevation.open(path, vertical_unit="US survey foot")
    lat, lon = dem.grid.places(row=5, col=5)
    assert dem.height_at(lat=lat, lon=lon) == pytest.approx(float(Z[5, 5]) * 1200 / 3937, rel=1e-5)


def test_heights_that_no_land_has_are_refused_not_used(write_tif: Callable[..., Path]) -> None:
    z = Z.astype(np.float32) + 12_000
    with pytest.raises(TerrainError, match="vertical_unit='foot'"):
        Elevation.open(write_tif(z)).height_at(**centre(1, 1))
    with pytest.raises(TerrainError, match="no land has"):
        Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    feet = Elevation.open(write_tif(z), vertical_unit="foot")
    assert feet.height_at(**centre(0, 0)) == pytest.approx(12_100 * 0.3048, rel=1e-6)


def test_scale_and_offset_are_honoured(write_tif: Callable[..., Path]) -> None:
    dem = Elevation.open(write_tif(Z, scale=0.1, offset=-50.0, nodata=105))
    assert dem.height_at(**centre(9, 9)) == pytest.approx(float(Z[9, 9]) * 0.1 - 50.0, abs=1e-4)
    assert dem.state_at(**centre(0, 5)) is Ground.VOID


def test_declared_voids_and_nan_are_void(write_tif: Callable[..., Path]) -> None:
    z = Z.astype(np.float32)
    z[4, 4], z[8, 8] = -32767.0, np.nan
    dem = Elevation.open(write_tif(z, nodata=-32767.0))
    for row, col in ((4, 4), (8, 8), (7.5, 7.5), (8.9, 8.1)):
        assert np.isnan(dem.height_at(**centre(row, col)))
        assert dem.state_at(**centre(row, col)) is Ground.VOID
    assert dem.height_at(**centre(9, 9)) == pytest.approx(float(z[9, 9]), abs=1e-4)


def test_a_mask_inside_the_file_is_honoured(tmp_path: Path, write_tif: Callable[..., Path]) -> None:
    import rasterio

    path = write_tif(Z)
    mask = np.full(Z.shape, 255, dtype=np.uint8)
    mask[4, 4] = 0
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as data:
        data.write_mask(mask)
    dem = Elevation.open(path)
    assert dem.state_at(**centre(4, 4)) is Ground.VOID
    assert dem.state_at(**centre(4, 6)) is Ground.KNOWN


@pytest.mark.parametrize("mark", [-32768, -9999])
def test_undeclared_voids_are_found_and_said_aloud(
    write_tif: Callable[..., Path], mark: int
) -> None:
    z = Z.copy()
    z[4, 4:6] = mark
    dem = Elevation.open(write_tif(z))
    with pytest.warns(TerrainWarning, match="2 cells"):
        assert dem.state_at(**centre(4, 4)) is Ground.VOID
    quiet = Elevation.open(write_tif(z), voids=[mark])
    assert np.isnan(quiet.height_at(**centre(4, 5)))
    with pytest.warns(TerrainWarning, match="2 cells"):
        Elevation.from_array(z, TRANSFORM, "EPSG:4326")


def test_an_undeclared_float_void_is_found(write_tif: Callable[..., Path]) -> None:
    z = Z.astype(np.float32)
    z[4, 4] = np.finfo(np.float32).min
    with pytest.warns(TerrainWarning, match="1 cells"):
        assert Elevation.open(write_tif(z)).state_at(**centre(4, 4)) is Ground.VOID


def test_the_sea_is_a_state_of_its_own(write_tif: Callable[..., Path]) -> None:
    z = Z.copy()
    z[:, :10] = 0
    z[0, 20] = 0
    plain = Elevation.open(write_tif(z))
    assert plain.state_at(**centre(5, 5)) is Ground.KNOWN
    dem = Elevation.open(write_tif(z), sea_value=0)
    assert dem.state_at(**centre(5, 5)) is Ground.SEA
    assert np.isnan(dem.height_at(**centre(5, 5)))
    assert dem.state_at(**centre(5, 12)) is Ground.KNOWN
    horizon = dem.horizon(**centre(5, 12), azimuths_deg=[270.0])
    assert horizon.unknown_share[0] == 0.0
    marked = z.astype(np.int16)
    marked[:, :10] = -32767
    by_mark = Elevation.open(write_tif(marked, nodata=-32768), sea_value=-32767)
    assert by_mark.state_at(**centre(5, 5)) is Ground.SEA
    assert by_mark.state_at(**centre(0, 20)) is Ground.KNOWN


@pytest.mark.parametrize(
    ("size", "profile", "message"),
    [
        (20_480, {"blockxsize": 20_480, "blockysize": 20_480}, "tiles of 512"),
        (400_000, {"blockxsize": 4096, "blockysize": 4096}, "more than can be true"),
    ],
)
def test_limits_come_before_any_read(
    tmp_path: Path, size: int, profile: dict[str, Any], message: str
) -> None:
    import rasterio

    path = tmp_path / "huge.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=size, height=size, count=1, dtype="uint8",
        crs="EPSG:32616", transform=Affine(1, 0, 500_000, 0, -1, 4_000_000), compress="deflate",
        tiled=True, sparse_ok=True, BIGTIFF="YES", **profile,
    ):  # fmt: skip
        pass
    with pytest.raises(TerrainError, match=message):
        Elevation.open(path)


def test_facts_of_a_raster(write_tif: Callable[..., Path]) -> None:
    path = write_tif(Z, tags={"credit": "an invented survey"})
    dem = Elevation.open(path)
    assert dem.shape == (20, 30)
    assert dem.source == str(path)
    assert dem.tags["credit"] == "an invented survey"
    assert dem.bounds == pytest.approx((36.3, -84.0, 36.5, -83.7))
    assert dem.cell_size_m == pytest.approx((1109.6 + 896.7) / 2, rel=2e-3)
    assert dem.heights_m.dtype == np.float32
    assert not dem.heights_m.flags.writeable
    assert dem.crs.to_epsg() == 4326
    array = Elevation.from_array(Z, TRANSFORM, "EPSG:4326")
    assert array.source == "array"
    np.testing.assert_array_equal(array.heights_m, Z)


def test_masked_arrays_and_wrong_shapes() -> None:
    masked = np.ma.masked_equal(Z, 105)
    dem = Elevation.from_array(masked, TRANSFORM, "EPSG:4326")
    assert dem.state_at(**centre(0, 5)) is Ground.VOID
    for bad in (Z[0], Z[None], np.zeros((2, 2), complex), np.zeros((0, 5))):
        with pytest.raises(TerrainError, match="no raster"):
            Elevation.from_array(bad, TRANSFORM, "EPSG:4326")
    with pytest.raises(TerrainError, match="without a coordinate reference"):
        Elevation.from_array(Z, TRANSFORM, None)
    with pytest.raises(TerrainError, match="not a reference system"):
        Elevation.from_array(Z, TRANSFORM, "EPSG:999999")
    with pytest.raises(TerrainError, match="no area"):
        Elevation.from_array(Z, Affine(0, 0, -84, 0, 0, 36), "EPSG:4326")


def test_the_callers_array_is_neither_kept_nor_changed() -> None:
    z = Z.astype(np.float64)
    dem = Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    z[5, 5] = 9.0
    assert dem.height_at(**centre(5, 5)) == pytest.approx(float(Z[5, 5]))


@pytest.mark.parametrize(
    ("height_m", "taken"),
    [(8_848.0, True), (8_850.0, False), (-10_990.0, True), (-11_010.0, False)],
)
def test_heights_are_taken_from_the_deepest_sea_to_the_highest_land(
    height_m: float, *, taken: bool
) -> None:
    # Sagarmatha: 8,848.86 m (China and Nepal, 2020); Challenger Deep: about 10,935 m (NOAA).
    z = np.full((20, 20), 100.0, dtype=np.float32)
    z[5, 5] = height_m
    if taken:
        Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    else:
        with pytest.raises(TerrainError, match="no land has"):
            Elevation.from_array(z, TRANSFORM, "EPSG:4326")
