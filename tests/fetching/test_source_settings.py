"""Sources of the configuration file: read, put first, and refused in a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import BackbearingError, FetchError
from backbearing.fetching.cache import TileCache, ground_folder
from backbearing.fetching.source import BUILT_IN, Box, source_named
from backbearing.fetching.source_settings import config_file, tile_sources
from backbearing.fetching.tile_scheme import Corner

if TYPE_CHECKING:
    from pathlib import Path

GOOD = """
[[tile_source]]
name = "Our Survey"
template = "https://tiles.example.org/{ns}{lat}/{ew}{lon}.tif"
licence = "CC BY 4.0, The Survey of Nowhere"
"""
FULL = """
[[tile_source]]
name = "copernicus 30"
template = "https://mirror.example.org/{NS}{lat}_{EW}{lon}.tif"
scheme = "copernicus 30"
product = "copernicus 30"
licence = "ours"
datum = "EGM2008"
role = "surface"
absent = "sea"
not_released = [[38, 43, 41, 50]]
checksum = "https://mirror.example.org/{NS}{lat}_{EW}{lon}.sha256"
error = "4 m"
"""


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "config.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_sources_of_the_file_come_first_with_defaults(tmp_path: Path) -> None:
    sources = tile_sources(written(tmp_path, GOOD))
    assert [one.name for one in sources] == ["our survey", *(one.name for one in BUILT_IN)]
    ours = source_named("", sources)
    assert ours.url(Corner(-31, 138)) == "https://tiles.example.org/s31/e138.tif"
    # Its name alone would not say which tile it is.
    assert ours.file_name(Corner(-31, 138)) == "S31E138.tif"
    assert (ours.role, ours.absent, ours.scheme.key) == ("heights", "missing", "one degree")
    assert "none is published here" in ours.errors


def test_a_source_takes_the_place_of_a_built_in_one(tmp_path: Path) -> None:
    sources = tile_sources(written(tmp_path, FULL))
    assert [one.name for one in sources] == ["copernicus 30", "copernicus 90", "srtm"]
    assert sources[0].not_released == (Box(38, 43, 41, 50),)
    assert sources[0].checksum_url(Corner(1, 2)).endswith("N01_E002.sha256")
    assert not sources[0].is_sea(Corner(41, 50))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "Our Survey"\n', "", "[[tile_source]] number 1, name is missing; add it"),
        ('"Our Survey"', "7", "number 1, name is 7; write text in quotes"),
        ('"Our Survey"', '" "', "number 1, name is empty"),
        ('licence = "CC', 'license = "CC', "'license' is not a key that is known here"),
        ("https://", "file://", "template is 'file://tiles.example.org"),
        ("https://", "/vsicurl/", "write an address that begins with https:// or http://"),
        ("tiles.example", "me:secret@tiles.example", "without a user's name"),
        ("{lat}", "{latitude}", "{latitude} in the template"),
        ("{ns}{lat}", "{lat}", "template gives the same address for different tiles"),
        ("{ew}{lon}", "", "template gives the same address for different tiles"),
        ("licence =", 'scheme = "mercator"\nlicence =', "scheme is 'mercator'; write one of"),
        ("licence =", 'role = "walls"\nlicence =', "role is 'walls'; write one of"),
        ("licence =", 'absent = "ice"\nlicence =', "absent is 'ice'; write one of"),
        ("licence =", "not_released = [[1, 2]]\nlicence =", "not_released is [[1, 2]]; write a"),
        ("licence =", 'checksum = "x"\nlicence =', "checksum is 'x'; write an address"),
        ("[[tile_source]]", "[tile_source]", "tile_source is no list of sections"),
        (GOOD, GOOD + GOOD, "two sections [[tile_source]] have the name 'our survey'"),
        ("name = ", "name: ", "write key = value"),
    ],
)
def test_a_source_that_cannot_be_used_gets_one_sentence(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    path = written(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(BackbearingError, match=r"config\.toml") as problem:
        tile_sources(path)
    assert said in str(problem.value)
    assert "\n" not in str(problem.value)


def test_names_that_are_none_list_those_there_are() -> None:
    with pytest.raises(FetchError, match="write one of copernicus 30, copernicus 90, srtm, or add"):
        source_named("lidar", BUILT_IN)


def test_folders_are_the_users_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert config_file().name == "config.toml"
    assert "backbearing" in str(config_file()).lower()
    assert "backbearing" in str(ground_folder()).lower()
    with pytest.raises(FetchError, match="There is no file of settings at"):
        tile_sources(tmp_path / "gone.toml")
    monkeypatch.setattr("backbearing.fetching.source_settings.config_file", lambda: tmp_path / "x")
    assert tile_sources() == BUILT_IN
    assert TileCache(tmp_path / "nowhere").held() == (0, 0, 0)
