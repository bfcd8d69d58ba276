"""Outing files that are wrong, endless or malicious: a sentence each, soon and in little memory."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import pytest

from backbearing.outing.schema import OutingShape

if TYPE_CHECKING:
    from collections.abc import Callable

    from limited import Limited

    Refused = Callable[..., str]

BASE = """\
format = 1
[ground]
elevation = "ground.tif"
[subject]
name = "Chapel gable"
lat = -30.99986
lon = 149.2
height_m = 6.0
[night]
evening = 2027-06-05
[camera]
sensor_format = "135"
width_px = 6000
[[lens]]
focal_length_mm = 24.0
"""


def written(folder: Path, section: str, line: str) -> Path:
    """Put a line into a section in place of what that key said."""
    key = line.split("=", maxsplit=1)[0].strip()
    head, mark, tail = BASE.partition(f"{section}\n")
    if not mark:
        head, tail = f"{BASE}{section}\n", ""
    body, bracket, rest = tail.partition("[")
    kept = "".join(f"{r}\n" for r in body.splitlines() if r.split("=")[0].strip() != key)
    path = folder / "outing.toml"
    path.write_text(f"{head}{mark}{line}\n{kept}{bracket}{rest}", encoding="utf-8")
    return path


def numeric_keys() -> list[tuple[str, str]]:
    """Every key of the file that takes a number, by section."""
    found = []
    for section, about in OutingShape.model_fields.items():
        shape = about.annotation
        name = f"[{section}]"
        if section == "lens":
            shape, name = get_args(about.annotation)[0], "[[lens]]"
        elif section == "session":
            shape = next(one for one in get_args(about.annotation) if one is not type(None))
        for key, field in getattr(shape, "model_fields", {}).items():
            kind = str(field.annotation)
            if ("float" in kind or "int" in kind) and "list" not in kind and "str" not in kind:
                found.append((name, key))
    return found


NUMERIC = numeric_keys()


def test_there_are_many_keys_to_try() -> None:
    assert len(NUMERIC) >= 60


@pytest.mark.parametrize(("section", "key"), NUMERIC, ids=lambda one: one.strip("[]"))
@pytest.mark.parametrize(
    "value", ["1e300", "-1e300", "nan", "inf", '"12"', "true", "1" + "0" * 390, "[1]"],
    ids=["1e300", "-1e300", "nan", "inf", "text", "true", "390 zeros", "list"],
)  # fmt: skip
def test_no_number_is_taken_that_cannot_be(
    tmp_path: Path, refused: Refused, section: str, key: str, value: str
) -> None:
    if key in ("lat", "lon") and value == '"12"':
        pytest.skip("a coordinate may be text")
    said = refused("outing", written(tmp_path, section, f"{key} = {value}"))
    assert key in said or "outing.toml" in said


@pytest.mark.parametrize(
    ("section", "line", "hint"),
    [
        ("[subject]", "lat = -30,99986", "decimal point"),
        ("[night]", "evening = 5/6/2027", "year-month-day"),
        ("[night]", "evening = 05.06.2027", "year-month-day"),
        ("[night]", "at = 23:50", "in quotes"),
        ("[subject]", "height_m = 6 m", "the number alone"),
        ("[[lens]]", "focal_length_mm = 24mm", "the number alone"),
        ("[subject]", "name = Chapel", "in quotes"),
        ("[subject]", "height_m =", "write a value"),
        ("[framing]", "level = True", "small letters"),
        ("[framing]", "level: true", "equals sign"),
    ],
)
def test_slips_of_the_hand_are_taught(
    tmp_path: Path, refused: Refused, section: str, line: str, hint: str
) -> None:
    assert hint in refused("outing", written(tmp_path, section, line))


@pytest.mark.parametrize(
    ("text", "degrees"),
    [("31 00 36 S", -31.01), ("31°00'36\\\"S", -31.01), ("S 31 0.6", -31.01), ("31.01 S", -31.01)],
)
def test_degrees_minutes_and_seconds_are_read(tmp_path: Path, text: str, degrees: float) -> None:
    from backbearing.outing.load import load_outing

    outing = load_outing(written(tmp_path, "[subject]", f'lat = "{text}"'))
    assert outing.subject.lat == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["31 00", "-31 00 S", "31 60 S", "31s", "31d00m36sS", "31 00 E", "91 S", "S 31 S", ""]
)
def test_no_hemisphere_is_guessed(tmp_path: Path, refused: Refused, text: str) -> None:
    assert "lat" in refused("outing", written(tmp_path, "[subject]", f'lat = "{text}"'))


PATH_KEYS = [
    ("[ground]", "elevation"),
    ("[ground]", "places"),
    ("[subject]", "outline"),
    ("[scouting]", "candidates"),
    ("[scouting]", "ways"),
    ("[scouting]", "towns"),
    ("[scouting]", "sky_brightness"),
]


@pytest.mark.parametrize(("section", "key"), PATH_KEYS, ids=lambda one: one.strip("[]"))
@pytest.mark.parametrize(
    "value", [r"a\u0000b", "", " ", "a" * 5_000, "a" * 300, r"a\u001bb"],
    ids=["nul", "empty", "blank", "long", "longer than a name", "escape"],
)  # fmt: skip
def test_what_is_no_path_is_refused(
    tmp_path: Path, refused: Refused, section: str, key: str, value: str
) -> None:
    assert key in refused("outing", written(tmp_path, section, f'{key} = "{value}"'))


@pytest.mark.parametrize(("section", "key"), PATH_KEYS, ids=lambda one: one.strip("[]"))
@pytest.mark.parametrize(
    "value", ["../x.tif", "a/../../x.tif", "/etc/passwd", "https://example.org/x.tif", "out"]
)
def test_a_strangers_paths_stay_in_its_folder(
    tmp_path: Path, refused: Refused, section: str, key: str, value: str
) -> None:
    folder = tmp_path / "outing"
    folder.mkdir()
    (folder / "out").symlink_to(tmp_path)
    path = written(folder, section, f'{key} = "{value}"')
    assert "folder" in refused("stranger", path)


def test_a_strangers_folder_of_tiles_holds_no_link_out(tmp_path: Path, refused: Refused) -> None:
    folder = tmp_path / "outing"
    (folder / "tiles").mkdir(parents=True)
    (tmp_path / "secret.tif").write_bytes(b"II*\x00")
    (folder / "tiles" / "a.tif").symlink_to(tmp_path / "secret.tif")
    path = written(folder, "[ground]", 'elevation = "tiles"')
    assert "link" in refused("stranger", path)


def test_a_strangers_own_files_are_read(tmp_path: Path, limited: Limited) -> None:
    path = written(tmp_path, "[ground]", 'elevation = "tiles/a.tif"')
    assert limited.read("readers:stranger", path).error == ""


BOMBS = {
    "brackets": "a = " + "[" * 5_000,
    "tables": "a = " + "{b = " * 5_000,
    "dotted": ".".join(["a"] * 50_000) + " = 1",
    "dotted section": "[" + ".".join(["a"] * 50_000) + "]",
    "digits": "a = 1" + "0" * 5_000,
    "lines": "#\n" * 100_000,
    "large": "#" * 2_000_000,
    "keys": "\n".join(f"k{i} = 1" for i in range(19_000)),
    "long key": "k" * 100_000 + " = 1",
    "long quoted key": '"' + "\\u202e" * 20_000 + '" = 1',
    "not text": "\ud800",
    "nul": "a = \x00",
    "lenses": "[[lens]]\nfocal_length_mm = 24\n" * 4_000,
    "empty": "",
    "only a comment": "# nothing",
    "format": "format = 2",
    "quotes": '"""' * 20_001,
}


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_are_defused(tmp_path: Path, refused: Refused, name: str) -> None:
    path = tmp_path / "outing.toml"
    path.write_bytes(BOMBS[name].encode("utf-8", "surrogatepass"))
    refused("outing", path, 300_000_000)


def test_names_are_no_longer_than_a_sheet_is_wide(tmp_path: Path, refused: Refused) -> None:
    assert "letters" in refused("outing", written(tmp_path, "[subject]", f'name = "{"n" * 400}"'))


@pytest.mark.parametrize(
    "reader", ["outing", "elevation", "candidates", "places", "outline", "frame"]
)
@pytest.mark.parametrize("kind", ["pipe", "device", "loop", "folder", "gone", "empty", "socket"])
def test_only_regular_files_are_opened(
    tmp_path: Path, refused: Refused, reader: str, kind: str
) -> None:
    suffix = {
        "outing": ".toml",
        "elevation": ".tif",
        "candidates": ".csv",
        "places": ".geojson",
        "outline": ".svg",
        "frame": ".jpg",
    }[reader]
    path = tmp_path / f"it{suffix}"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "loop":
        path.symlink_to(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "socket":
        import socket

        here = Path.cwd()
        os.chdir(tmp_path)  # the path of a socket may hold 108 letters only
        try:
            with socket.socket(socket.AF_UNIX) as made:
                made.bind(path.name)
        finally:
            os.chdir(here)
    elif kind == "empty":
        path.touch()
    assert path.stem in refused(reader, path)


@pytest.mark.parametrize("crop", ["[9000, 9000]", "[100, 900]", "[0, 0]", "[1, 1]", "[-8, 8]"])
def test_a_crop_is_named_by_its_own_key(tmp_path: Path, refused: Refused, crop: str) -> None:
    said = refused("outing", written(tmp_path, "[camera]", f"crop_px = {crop}"))
    assert "[camera] crop_px is" in said
    assert "[6000, 4000]" in said


def test_a_focal_length_beyond_all_numbers_gives_no_label(tmp_path: Path) -> None:
    from backbearing.outing.lens_labels import lens_labels

    assert lens_labels(written(tmp_path, "[[lens]]", "focal_length_mm = 1" + "0" * 390)) == ()
