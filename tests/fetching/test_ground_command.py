"""``ground`` end to end: told, fetched from a server of our own, written, and stood upon."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
import socket
import tomllib
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner

from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.errors import BackbearingError
from backbearing.cli import group
from backbearing.cli.ground import progress_words
from backbearing.fetching.fetch import Progress
from backbearing.fetching.tile_scheme import Corner, tiles_about
from backbearing.outing.load import load_outing
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.reading.sources import Ground
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable

EVENING = dt.date(2027, 6, 5)
NAME = "Invented_{NS}{lat}_00_{EW}{lon}_00_DEM.tif"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """Run the command with a cache of its own, from an empty folder."""
    away = tmp_path / "here"
    away.mkdir(exist_ok=True)
    monkeypatch.chdir(away)
    config = tmp_path / "config.toml"

    def asked(*words: Any) -> Any:
        more = ["--config", str(config)] if config.exists() else []
        kept = ["--cache", str(tmp_path / "cache")]
        words = ("ground", *map(str, words), *kept, *more)
        return CliRunner().invoke(group, words, catch_exceptions=False, standalone_mode=False)

    return asked


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: Any, **__: Any) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refused)
    monkeypatch.setattr(socket, "create_connection", refused)
    monkeypatch.setattr(socket, "getaddrinfo", refused)


def configured(tmp_path: Path, served: Any, **keys: str) -> None:
    """Write a configuration whose first source is the server's, laid out as the 90 m model."""
    said = {
        "name": "ours", "template": served.template, "scheme": "copernicus 90",
        "product": "copernicus 90", "licence": "invented by us", "datum": "EGM2008",
    } | keys  # fmt: skip
    lines = [f"{key} = {json.dumps(value)}" for key, value in said.items()]
    (tmp_path / "config.toml").write_text("[[tile_source]]\n" + "\n".join(lines) + "\n")


def test_it_only_tells_and_asks_nobody(
    run: Callable[..., Any], no_network: None, tmp_path: Path
) -> None:
    found = run("--at", "36 22 21 N 84 21 37 W", "--within", "40km")
    assert found.return_value == 0
    lines = found.output.splitlines()
    assert len(lines) <= 30
    assert max(len(line) for line in lines if str(tmp_path) not in line) <= 80
    text = " ".join(found.output.split())
    assert text.startswith("Ground within 40.0 km of 36.37250, -84.36028 Skyline: land here stands")
    # 40 km: (1 - 0.13) s^2 / 2R = 109.2 m; with s tan 1 degree, 698.2 m, together 807 m.
    assert "the Earth has curved away 109 m, so only land 807 m above you still rises" in text
    assert "Tiles: 2 of Copernicus DEM GLO-30: 2 to fetch, 138 MB at most (unpacked;" in text
    assert "EPSG:9518" in text
    assert "produced using Copernicus WorldDEM-30" in text
    assert "of a height 4 m (LE90" in text
    assert text.endswith(
        "Next: backbearing ground --at '36 22 21 N 84 21 37 W' --within 40km --fetch"
    )


def test_json_holds_the_same_with_addresses(run: Callable[..., Any], no_network: None) -> None:
    told = json.loads(run("--at", "-31.25 138.5", "--within", "25mi", "--json").output)
    assert told["format"] == "backbearing-ground"
    assert told["within_m"] == pytest.approx(25 * 1609.344)
    assert {(one["corner"]["lat"], one["state"]) for one in told["tiles"]} == {
        (-32, "to fetch"), (-31, "to fetch"),
    } or len(told["tiles"]) == 2  # fmt: skip
    assert all("_S3" in one["url"] and one["file"] is None for one in told["tiles"])
    assert told["reach"]["highest_land_m"] == 2228.0
    assert told["source"]["role"] == "surface"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("--at", "36.3 -84.3", "--within", "40"),
            "'40' is no length; write a number and its unit",
        ),
        (("--at", "36.3 -84.3", "--within", "900km"), "within 900 km is no reach"),
        (("--at", "36.3 -84.3", "--source", "moon"), "No tile source 'moon' is known here; write"),
        (("--write", "--at", "36.3 -84.3"), "--write needs an outing to write to"),
        ((), "No place is given; write --at PLACE"),
        (("--at", "36.3 -84.3", "--from", "nowhere"), "There is nothing at nowhere; name a folder"),
        (("--at", "36.3 -84.3", "--source", "srtm", "--fetch"), "srtm are only taken by hand"),
    ],
)
def test_bad_input_gets_one_sentence(
    run: Callable[..., Any], no_network: None, words: tuple[str, ...], said: str
) -> None:
    with pytest.raises(BackbearingError, match=r"\.$") as problem:
        run(*words)
    assert said in str(problem.value)
    assert str(problem.value).count(". ") == 0


def truth(lat: float, lon: float, land: Any) -> float:
    """Height of the invented land at a place, by its own formula."""
    return float(land(np.float64(lat), np.float64(lon)))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lat", "lon", "tiles"),
    [
        # The middle of a tile, the corner of four, and the corner of four across 180.
        (-31.42, 138.43, 1),
        (-31.003, 138.004, 4),
        (-17.002, -179.998, 4),
    ],
)
def test_from_nothing_to_a_stand(
    run: Callable[..., Any],
    served: Any,
    tmp_path: Path,
    tile_writer: Any,
    land: Any,
    lat: float,
    lon: float,
    tiles: int,
) -> None:
    configured(tmp_path, served)
    write_outing(
        tmp_path,
        lat=lat,
        lon=lon,
        evening=EVENING,
        lenses=(24.0,),
    )
    outing = tmp_path / "outing.toml"
    before = outing.read_text()
    (tmp_path / "ground.tif").unlink()
    corners = tiles_about(lat=lat, lon=lon, within_m=5e3)
    assert len(corners) == tiles
    for corner in corners:
        name = Path(served.source().url(corner)).name
        tile_writer(served.folder / name, corner, rows=1200, cols=1200)
    found = run(outing, "--within", "5km", "--write", "--fetch")
    assert found.return_value == 0
    assert " ".join(found.output.split()).endswith(f"Next: backbearing stand {outing}")
    assert "Care: vertical_sigma_m under [ground] stayed" in " ".join(found.output.split())
    after = tomllib.loads(outing.read_text())
    assert after["ground"]["product"] == "copernicus 90"
    assert after["ground"]["credit"] == "invented by us"
    meant = tomllib.loads(before)
    for key in ("elevation", "product", "credit"):
        meant["ground"][key] = after["ground"][key]
    assert after == meant
    ground = load_outing(outing).ground.open()
    # Bilinear between heights 90 m apart, on land whose waves are some 20 km long.
    for aside in (-0.03, -0.0004, 0.0, 0.0004, 0.03):
        place = {"lat": lat + aside, "lon": lon - aside}
        assert float(ground.height_at(**place)) == pytest.approx(
            truth(place["lat"], place["lon"], land), abs=0.5
        )
    plan = plan_night(load_outing(outing))
    (stand,) = [one.stand for one in plan.lenses]
    assert stand is not None
    assert stand.ground_m == pytest.approx(truth(stand.lat, stand.lon, land), abs=0.5)
    assert sum(one["status"] == 200 for one in served.requests) == tiles


def test_a_fetch_without_a_network_lists_what_to_bring(
    run: Callable[..., Any], served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served, template=f"http://127.0.0.1:9/{NAME}")
    found = run("--at", "-31.5 138.5", "--within", "5km", "--fetch", "--all")
    assert found.return_value == 1
    text = " ".join(found.output.split())
    assert "The server 127.0.0.1 cannot be reached (Connection refused)." in text
    assert "Another machine can bring these, then --from FOLDER:" in text
    assert "http://127.0.0.1:9/Invented_S32_00_E138_00_DEM.tif" in text


def test_tiles_that_are_missing_are_said_to_be_unknown(
    run: Callable[..., Any], served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served)
    found = run("--at", "-31.5 138.5", "--within", "5km", "--fetch")
    text = " ".join(found.output.split())
    assert found.return_value == 3
    assert "1 missing" in text
    assert "Next: another source (--source NAME) may have it" in text
    assert "Missing ground is unknown, not sea" in text


def test_a_canopy_is_written_as_canopy_and_the_ground_stays(
    run: Callable[..., Any], served: Any, tmp_path: Path, tile_writer: Any
) -> None:
    configured(tmp_path, served, role="canopy", scheme="one degree", product="")
    served.tile(Corner(-32, 138), heights=lambda *_: 14.0)
    write_outing(tmp_path, lat=-31.5, lon=138.5, evening=EVENING)
    outing = tmp_path / "outing.toml"
    before = outing.read_text(encoding="utf-8")
    found = run(outing, "--within", "5km", "--fetch", "--write")
    assert found.return_value == 0
    assert "1 here" in found.output
    ground = load_outing(outing).ground
    (tile,) = (tmp_path / "cache").rglob("*.tif")
    assert ground.cover.canopy is not None
    assert ground.cover.canopy.resolve() == tile.resolve()
    lines = outing.read_text(encoding="utf-8").splitlines()
    assert [one for one in lines if not one.startswith("canopy = ")] == before.splitlines()
    covered = ground.open()
    assert float(covered.cover_at(lat=-31.5, lon=138.5).height_m[0]) == 14.0


def test_a_canopy_of_three_degrees_comes_by_the_same_door(
    run: Callable[..., Any], served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served, role="canopy", scheme="three degrees", product="")
    name = Path(served.source().url(Corner(-33, 138))).name
    with rasterio.open(
        served.folder / name, "w", driver="GTiff", width=360, height=360, count=1, dtype="uint8",
        crs="EPSG:4326", nodata=255, transform=Affine(1 / 120, 0, 138.0, 0, -1 / 120, -30.0),
    ) as out:  # fmt: skip
        out.write(np.full((360, 360), 17, np.uint8), 1)
    found = run("--at", "-31.5 139.5", "--within", "5km", "--fetch")
    assert "1 here" in " ".join(found.output.split())
    assert [one["status"] for one in served.requests] == [200]
    (tile,) = (tmp_path / "cache").rglob("*.tif")
    assert float(Elevation.open(tile).height_at(lat=-31.5, lon=139.5)) == 17.0


def test_writing_needs_all_tiles_and_changes_nothing_before(
    run: Callable[..., Any], served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served)
    write_outing(tmp_path, lat=-31.5, lon=138.5, evening=EVENING)
    before = (tmp_path / "outing.toml").read_bytes()
    with pytest.raises(
        Exception, match=r"1 of the 1 tiles are not here, S32E138 for one; add --fe"
    ):
        run(tmp_path / "outing.toml", "--within", "5km", "--write")
    assert (tmp_path / "outing.toml").read_bytes() == before


def test_tiles_brought_by_hand_are_written_into_the_outing(
    run: Callable[..., Any], no_network: None, tmp_path: Path, tile_writer: Any, land: Any
) -> None:
    lat, lon = 53.5, -114.5
    write_outing(tmp_path, lat=lat, lon=lon, evening=EVENING)
    outing = tmp_path / "outing.toml"
    tile_writer(tmp_path / "x.tif", Corner(53, -115), rows=1200, cols=800)
    with zipfile.ZipFile(tmp_path / "brought.zip", "w") as archive:
        archive.write(tmp_path / "x.tif", "some folder/x.tif")
    found = run(outing, "--within", "5km", "--from", tmp_path / "brought.zip", "--write")
    text = " ".join(found.output.split())
    assert "Took 1 tile that you brought." in text
    eye_m = float(re.search(r"over an eye at ([\d.]+) m", text)[1])
    assert eye_m == pytest.approx(truth(lat, lon, land), abs=1.0)
    after = tomllib.loads(outing.read_text())["ground"]
    assert after["product"] == "copernicus 90"
    assert after["credit"].startswith("produced using Copernicus WorldDEM-90")
    assert Path(after["elevation"]).name == "Copernicus_DSM_COG_30_N53_00_W115_00_DEM.tif"
    with pytest.raises(BackbearingError, match="No place is given"):
        run("--from", tmp_path / "brought.zip")
    assert float(load_outing(outing).ground.open().height_at(lat=lat, lon=lon)) > 100.0


def test_ground_about_another_place_is_not_written(
    run: Callable[..., Any], served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served)
    write_outing(tmp_path, lat=-31.5, lon=138.5, evening=EVENING)
    with pytest.raises(BackbearingError, match=r"lies 99\.\d km from the place of --at; leave"):
        run(tmp_path / "outing.toml", "--at", "-32.4 138.5", "--within", "5km", "--write")


@pytest.mark.slow
def test_a_window_is_the_same_ground_in_fewer_bytes(
    run: Callable[..., Any], served: Any, tmp_path: Path, tile_writer: Any, land: Any
) -> None:
    configured(tmp_path, served)
    lat, lon = -17.002, -179.998
    write_outing(tmp_path, lat=lat, lon=lon, evening=EVENING, lenses=(24.0,))
    outing = tmp_path / "outing.toml"
    corners = tiles_about(lat=lat, lon=lon, within_m=4e3)
    whole = 0
    for corner in corners:
        name = Path(served.source().url(corner)).name
        tile_writer(served.folder / name, corner, rows=1200, cols=1200)
        whole += (served.folder / name).stat().st_size
    found = run(outing, "--within", "4km", "--window", "--fetch", "--write")
    assert found.return_value == 0
    piece = tmp_path / "ground_17.0020S_179.9980W_4km.tif"
    assert tomllib.loads(outing.read_text())["ground"]["elevation"] == piece.name
    ground = Elevation.open(piece)
    assert ground.tags["TIFFTAG_COPYRIGHT"] == "invented by us"
    for east, north in ((0, 0), (3900, 0), (-3900, 0), (0, 3900), (0, -3900), (250, -220)):
        at = {
            "lat": lat + north / 110_650.0,
            "lon": lon + east / (111_320.0 * math.cos(math.radians(lat))),
        }
        assert ground.state_at(**at) == Ground.KNOWN
        assert float(ground.height_at(**at)) == pytest.approx(
            truth(at["lat"], at["lon"], land), abs=0.5
        )
    # Blocks about the corner only, and no tile is kept.
    assert sum(one["sent"] for one in served.requests) < 0.5 * whole
    assert not list((tmp_path / "cache").rglob("*.tif"))
    with pytest.raises(BackbearingError, match=r"is already there and was left as it is"):
        run(outing, "--within", "4km", "--window", "--fetch")


def test_progress_says_the_time_left() -> None:
    said = progress_words(Progress(1, 4, 20_000_000, 80_000_000), 10.0)
    assert said == "1 of 4 tiles, 20 of about 80 MB, about 30 s left"
    said = progress_words(Progress(0, 4, 2_000_000, 80_000_000), 10.0)
    assert said.endswith(("about 6 min left", "about 7 min left"))
    assert progress_words(Progress(0, 4, 0, 0), 0.1) == "0 of 4 tiles"


def test_a_size_that_is_not_known_is_said_to_be_so(
    run: Callable[..., Any], no_network: None, served: Any, tmp_path: Path
) -> None:
    configured(tmp_path, served, scheme="one degree")
    words = ("--at", "-31.5 138.5", "--within", "250km")
    assert json.loads(run(*words, "--json").output)["expected_bytes"] is None
    text = " ".join(run(*words).output.split())
    assert "to fetch, of a size that is not known before." in text
    # 2228 m high at most: 250 km away that lies under the horizontal by far.
    assert "so none of it rises above 1°." in text
