"""A zip to send and to open: the friend has the sender's plan, a stranger's zip does no harm."""

from __future__ import annotations

import io
import stat
import zipfile
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.base.errors import OutingError
from backbearing.outing.load import load_outing
from backbearing.terrain.elevation import Elevation
from backbearing.workflows.friend_zip import friend_zip, on_its_own
from backbearing.workflows.ground_cut import write_cut
from backbearing.workflows.open_zip import unpacked
from invented import write_ground

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON = -31.2, 148.6

OUTING = f"""\
# Written by hand; comments stay.
format = 1

[ground]
elevation = "raster/hills.tif"
canopy = "raster/trees.tif"
voids = [-500.0]
credit = "invented"
reach_m = 2000.0

[subject]
name = "Wether hut (invented)"
lat = {LAT}
lon = {LON}
height_m = 5.0
outline = "drawn/hut.svg"

[night]
evening = 2027-06-05

[camera]
use = "hill body"

[[lens]]
use = "the wide"

[[lens]]
focal_length_mm = 40.0
"""

KIT = """\
format = 1
[body."hill body"]
sensor_format = "135"
width_px = 6000
[lens."the wide"]
focal_length_mm = 20.0
f_number = 1.8
[me]
eye_height_m = 1.3
"""


def height_m(east: Any, north: Any) -> Any:
    return 300.0 + 8.0 * np.sin(east / 400.0) * np.cos(north / 300.0) + 0.05 * east


@pytest.fixture
def outing_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    home = tmp_path / "sender"
    for folder in (home, home / "raster", home / "drawn"):
        folder.mkdir()
    write_ground(home / "raster" / "hills.tif", height_m, lat=LAT, lon=LON)
    write_ground(
        home / "raster" / "trees.tif", lambda e, n: 12.0 + 6.0 * np.sin(e / 90.0), lat=LAT, lon=LON
    )
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0L10 0L10 20L0 20Z"/></svg>'
    (home / "drawn" / "hut.svg").write_text(svg)
    (home / "kit.toml").write_text(KIT)
    monkeypatch.setenv("BACKBEARING_KIT", str(home / "kit.toml"))
    file = home / "outing.toml"
    file.write_text(OUTING)
    return file


@pytest.fixture
def friend(tmp_path: Path) -> Path:
    made = tmp_path / "friend"
    made.mkdir()
    return made


def zipped(path: Path, contents: dict[str, bytes | str]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return path


@pytest.fixture
def plain(outing_file: Path, tmp_path: Path) -> dict[str, bytes | str]:
    """What a zip without page and sheet holds."""
    alone = on_its_own(outing_file)
    outing = load_outing(outing_file)
    cut = write_cut(outing.ground.open(), tmp_path / "c.tif", lat=LAT, lon=LON, reach_m=2000.0)
    ground = {name: cut.path.read_bytes() for name in ("ground.tif", "canopy.tif")}
    return {
        "outing.toml": alone.text,
        **ground,
        **{n: p.read_bytes() for n, p in alone.beside.items()},
    }


@pytest.mark.slow
def test_the_friend_opens_the_same_plan(
    outing_file: Path, friend: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backbearing.alignment.night.plan_night import plan_night

    mine = load_outing(outing_file)
    before = plan_night(mine, mine.ground.open())
    archive = friend / "Wether hut.zip"
    archive.write_bytes(friend_zip(outing_file))
    # The friend has no kit, and the sender's folder is far away.
    monkeypatch.setenv("BACKBEARING_KIT", str(friend / "none.toml"))
    outing_file.parent.rename(outing_file.parent.with_name("gone"))
    opened = unpacked(archive, friend)
    assert opened == friend / "Wether hut" / "outing.toml"
    assert sorted(one.name for one in opened.parent.iterdir()) == [
        "canopy.tif", "ground.tif", "outing.toml", "outline.svg",
    ]  # fmt: skip
    theirs = load_outing(opened, trusted=False)
    assert theirs.framing.eye_height_m == 1.3
    assert theirs.subject.outline is not None
    after = plan_night(theirs, theirs.ground.open())
    for one, other in zip(before.lenses, after.lenses, strict=True):
        assert (one.stand is None) == (other.stand is None)
        if one.stand is not None and other.stand is not None:
            assert other.stand.lat == pytest.approx(one.stand.lat, abs=1e-9)
            assert other.stand.distance_m == pytest.approx(one.stand.distance_m, abs=1e-6)
            assert other.stand.skyline_deg == pytest.approx(one.stand.skyline_deg, abs=1e-6)
    with zipfile.ZipFile(archive) as held:
        assert b"2000 m" in held.read("about.txt")
        assert held.read("sheet.pdf").startswith(b"%PDF")
        assert b"<html" in held.read("page.html")


@pytest.mark.parametrize("crs", ["geographic", "projected"])
def test_the_cut_holds_the_same_cells_and_water(tmp_path: Path, crs: str) -> None:
    heights = np.arange(60.0 * 80.0).reshape(60, 80) / 10.0
    heights[3:9, 5:20] = -12_345.0
    heights[30, 40] = np.nan
    grid: Any = (0.001, 0.0, 148.6, 0.0, -0.001, -31.2)
    system, lat, lon = "EPSG:4326", -31.23, 148.64
    if crs == "projected":
        grid, system = (90.0, 0.0, 652_000.0, 0.0, -90.0, 6_548_000.0), "EPSG:32755"
    ground = Elevation.from_array(heights, grid, system, sea_value=-12_345.0)
    if crs == "projected":
        middle = ground.bounds
        lat, lon = (middle.south + middle.north) / 2.0, (middle.west + middle.east) / 2.0
    cut = write_cut(ground, tmp_path / "cut.tif", lat=lat, lon=lon, reach_m=60_000.0)
    again = Elevation.open(cut.path)
    lats, lons = lat + np.linspace(-0.025, 0.025, 41)[:, None], lon + np.linspace(-0.03, 0.03, 53)
    assert np.array_equal(again.state_at(lat=lats, lon=lons), ground.state_at(lat=lats, lon=lons))
    np.testing.assert_allclose(
        again.height_at(lat=lats, lon=lons), ground.height_at(lat=lats, lon=lons), atol=1e-3
    )
    assert len(np.unique(again.state_at(lat=lats, lon=lons))) >= 3


def test_a_cut_is_as_small_as_asked(tmp_path: Path) -> None:
    path = write_ground(tmp_path / "wide.tif", height_m, lat=LAT, lon=LON, half_m=6000.0)
    ground = Elevation.open(path)
    cut = write_cut(ground, tmp_path / "cut.tif", lat=LAT, lon=LON, reach_m=1500.0)
    rows, cols = Elevation.open(cut.path).shape
    # 3 km of cells of 30 m, some more for the rim and the bilinear edge.
    assert 100 <= rows <= 112
    assert 100 <= cols <= 112
    assert cut.radius_m == 1500.0


def refused(friend: Path, archive: Path, words: str) -> None:
    before = sorted(friend.rglob("*"))
    with pytest.raises(OutingError, match=words) as problem:
        unpacked(archive, friend)
    assert sorted(friend.rglob("*")) == before
    assert ".desk-zip" not in str(problem.value)


@pytest.mark.parametrize(
    "name",
    ["../up.toml", "/etc/up.toml", "a/b.toml", "..\\up.toml", "C:up.tif", ".hidden.toml", "x.toml.",
     "bad\x07.svg", "tool.exe", "a.sh", "ground.vrt", "link.toml/"],
)  # fmt: skip
def test_names_that_lead_elsewhere_refuse_the_whole_zip(
    friend: Path, plain: dict[str, bytes | str], name: str
) -> None:
    refused(friend, zipped(friend / "x.zip", {**plain, name: "x"}), "zip")
    assert not (friend.parent / "up.toml").exists()


def test_a_link_in_a_zip_is_refused(friend: Path, plain: dict[str, bytes | str]) -> None:
    path = zipped(friend / "x.zip", plain)
    with zipfile.ZipFile(path, "a") as archive:
        link = zipfile.ZipInfo("places.geojson")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    refused(friend, path, "no plain file")


def test_a_bomb_is_refused_by_what_comes_out(
    friend: Path, plain: dict[str, bytes | str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from backbearing.workflows import open_zip

    refused(friend, zipped(friend / "r.zip", {**plain, "a.csv": b"0" * 30_000_000}), "far too much")
    monkeypatch.setattr(open_zip, "LARGEST_UNPACKED_BYTES", 10_000)
    refused(friend, zipped(friend / "s.zip", plain), "far too much")


def test_many_files_doubled_names_and_locks_are_refused(
    friend: Path, plain: dict[str, bytes | str]
) -> None:
    many = {**plain, **{f"a{i}.csv": "1" for i in range(60)}}
    refused(friend, zipped(friend / "m.zip", many), "more than 40 files")
    refused(friend, zipped(friend / "d.zip", {**plain, "OUTING.toml": "x"}), "twice")
    path = zipped(friend / "l.zip", plain)
    data = bytearray(path.read_bytes())
    at = data.rfind(b"PK\x01\x02")
    data[at + 8] |= 1
    path.write_bytes(bytes(data))
    refused(friend, path, "password")


@pytest.mark.parametrize("cut", [0, 10, 40, 200, -30, -1])
def test_a_damaged_zip_is_a_sentence(friend: Path, plain: dict[str, bytes | str], cut: int) -> None:
    path = zipped(friend / "x.zip", plain)
    path.write_bytes(path.read_bytes()[:cut])
    refused(friend, path, "zip")


def test_an_outing_that_reaches_out_of_its_zip_is_refused(
    friend: Path, plain: dict[str, bytes | str], outing_file: Path
) -> None:
    text = str(plain["outing.toml"])
    far = outing_file.parent / "raster" / "hills.tif"
    for other in (
        text.replace('"ground.tif"', f'"{far}"'), text.replace('"ground.tif"', '"../x.tif"'),
        text.replace("sensor_format", 'use = "hill body"\nsensor_format'), "not = [an outing", "",
    ):  # fmt: skip
        refused(friend, zipped(friend / "x.zip", {**plain, "outing.toml": other}), "zip")
    none = {name: content for name, content in plain.items() if name != "outing.toml"}
    refused(friend, zipped(friend / "n.zip", none), "0 outings")
    refused(friend, zipped(friend / "t.zip", {**plain, "b.toml": text}), "2 outings")


def test_a_second_opening_takes_another_folder(friend: Path, plain: dict[str, bytes | str]) -> None:
    path = zipped(friend / "hut.zip", plain)
    (friend / "hut").mkdir()
    (friend / "hut" / "mine.txt").write_text("mine")
    assert unpacked(path, friend).parent.name == "hut-2"
    assert (friend / "hut" / "mine.txt").read_text() == "mine"


def test_pages_of_a_stranger_stay_in_the_zip(friend: Path, plain: dict[str, bytes | str]) -> None:
    page = "<script>alert(1)</script>"
    outing = unpacked(zipped(friend / "x.zip", {**plain, "page.html": page}), friend)
    assert not (outing.parent / "page.html").exists()
    assert io.BytesIO(outing.read_bytes()).read()


def test_towns_go_along_where_the_sky_is_theirs(outing_file: Path, monkeypatch) -> None:
    (outing_file.parent / "towns.csv").write_text(
        "name,lat,lon,population\nPelham,-31.35,148.75,40000\n", encoding="utf-8"
    )
    asked = '\n[scouting]\ntowns = "towns.csv"\n'
    outing_file.write_text(OUTING + asked, encoding="utf-8")
    assert "towns.csv" not in on_its_own(outing_file).beside
    sky = '\n[exposure]\nbrightness_from = "towns"\n'
    outing_file.write_text(OUTING + asked + sky, encoding="utf-8")
    alone = on_its_own(outing_file)
    assert alone.beside["towns.csv"] == outing_file.parent / "towns.csv"
    assert 'towns = "towns.csv"' in alone.text
    # Too large to send: the sky is the outing's own number again, and the zip says so.
    monkeypatch.setattr("backbearing.workflows.friend_zip.LARGEST_BESIDE_BYTES", 10)
    small = on_its_own(outing_file)
    assert "towns.csv" not in small.beside
    assert "brightness_from" not in small.text
    assert any("own number" in said for said in small.left_out)
