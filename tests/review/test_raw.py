"""Raw files: what they say of themselves, what is decoded, and what damage becomes of."""

from __future__ import annotations

import importlib.util
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from raw_frames import ASCII, boxes, directory, dng, mosaic_of, tiff, with_preview
from star_fields import straight_field

from backbearing.review import FrameError, Picture, measure_trails, read_exif
from backbearing.review.raw_apart import decode_raw
from backbearing.review.raw_file import is_raw_file, raw_tags

if TYPE_CHECKING:
    from pathlib import Path

needs_rawpy = pytest.mark.skipif(
    importlib.util.find_spec("rawpy") is None, reason="the library rawpy is not installed"
)


@pytest.fixture(scope="module")
def field() -> Any:
    return straight_field(5.0, 37.0, width_px=900, height_px=600, stars=200, noise=0.002)


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory, field: Any) -> Path:
    path = tmp_path_factory.mktemp("raw") / "frame.dng"
    path.write_bytes(dng(mosaic_of(field)))
    return path


@pytest.mark.parametrize(
    ("name", "body", "camera"),
    [
        ("a.nef", tiff(">", [(254, 4, (1,)), (272, ASCII, b"Tiff One\x00")]), "Tiff One"),
        ("a.orf", tiff("<", [(272, ASCII, b"Other One\x00")], magic=0x4F52), "Other One"),
        ("a.rw2", tiff("<", [(272, ASCII, b"Third One\x00")], magic=0x0055), "Third One"),
        ("a.cr3", boxes(), "Box One"),
        ("a.raf", with_preview(), "Preview One"),
    ],
)
def test_exif_of_every_kind(tmp_path: Path, name: str, body: bytes, camera: str) -> None:
    path = tmp_path / name
    path.write_bytes(body)
    assert is_raw_file(path)
    tags = raw_tags(path)
    assert tags is not None
    assert tags.main[272] == camera.encode() + b"\x00"
    # 13 s at f/2.8, ISO 3200, 24 mm, as written above byte by byte.
    assert (tags.exif[0x829A], tags.exif[0x829D], tags.exif[0x8827]) == (13.0, 2.8, 3200)
    assert tags.exif[0x920A] == 24.0
    assert tags.gps[2] == (36.0, 24.0, 0.0)


def test_an_exported_tiff_is_no_raw_file(tmp_path: Path) -> None:
    path = tmp_path / "export.tif"
    path.write_bytes(tiff("<", [(254, 4, (0,)), (262, 3, (2,))]))
    assert not is_raw_file(path)
    assert not is_raw_file(tmp_path / "missing.dng")
    assert not is_raw_file(tmp_path)


def test_directories_that_point_at_themselves_end(tmp_path: Path) -> None:
    path = tmp_path / "loop.dng"
    # Its one directory names itself as one below, and as the next.
    one = directory("<", [(330, 4, (8,)), (262, 3, (32803,))], 8)
    body = b"II*\x00\x08\x00\x00\x00" + one[:-4] + (8).to_bytes(4, "little")
    path.write_bytes(body)
    assert is_raw_file(path)
    tags = raw_tags(path)
    assert tags is not None
    assert len(tags.pictures) == 1


def test_without_the_library_one_sentence_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.dng"
    path.write_bytes(dng(np.full((64, 96), 900, dtype=np.uint16)))
    monkeypatch.setattr("backbearing.review.raw_apart.find_spec", lambda _: None)
    for read in (read_exif, Picture.load):
        with pytest.raises(FrameError, match=r'pip install "backbearing\[raw\]"'):
            read(path)


def test_a_heic_picture_asks_for_an_export(tmp_path: Path) -> None:
    path = tmp_path / "phone.heic"
    path.write_bytes(b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(500))
    with pytest.raises(FrameError, match="HEIC picture, which is not read here; export it"):
        read_exif(path)


@needs_rawpy
def test_a_raw_frame_says_what_its_camera_wrote(frame: Path) -> None:
    found = read_exif(frame)
    assert (found.width_px, found.height_px) == (900, 600)
    assert (found.shutter_s, found.f_number, found.iso) == (13.0, pytest.approx(2.8), 3200.0)
    assert (found.focal_length_mm, found.camera) == (24.0, "Mosaic One")
    assert found.wall_time is not None
    assert found.wall_time.isoformat() == "2027-06-06T01:24:30"
    assert (found.gps.lat, found.gps.lon) == (pytest.approx(36.4), pytest.approx(-84.36))


@needs_rawpy
def test_light_is_linear_and_black_is_black(tmp_path: Path) -> None:
    # Four grey fields of known light under the counts of a mosaic.
    levels = np.repeat([0.0, 0.05, 0.2, 0.6], 40)
    path = tmp_path / "steps.dng"
    path.write_bytes(dng(mosaic_of(np.tile(levels, (120, 1)))))
    light = decode_raw(path, 10**8)
    for k, level in enumerate((0.0, 0.05, 0.2, 0.6)):
        patch = light[20:100, 40 * k + 10 : 40 * k + 30].mean(axis=(0, 1))
        assert patch == pytest.approx([level] * 3, abs=0.01)


@needs_rawpy
def test_a_frame_held_upright_comes_upright(tmp_path: Path) -> None:
    light = np.zeros((80, 120))
    light[:20, :20] = 0.5
    path = tmp_path / "turned.dng"
    path.write_bytes(dng(mosaic_of(light), orientation=6))
    picture = Picture.load(path)
    # Orientation 6 of EXIF: the top left as stored is the top right as one looks at it.
    assert (picture.width_px, picture.height_px) == (80, 120)
    found = read_exif(path)
    assert (found.width_px, found.height_px) == (80, 120)
    assert picture.stored[5:15, 65:75].mean() > 0.3
    assert picture.stored[5:15, 5:15].mean() < 0.02


@needs_rawpy
def test_trails_of_a_raw_frame_have_their_length(frame: Path) -> None:
    whole = measure_trails(Picture.load(frame)).whole
    assert whole.stars > 60
    # Tolerance of this test: a quarter of a pixel, for a mosaic's own interpolation.
    assert whole.length_px == pytest.approx(5.0, abs=0.25)
    assert whole.angle_deg == pytest.approx(37.0, abs=1.5)


@needs_rawpy
@pytest.mark.parametrize("damage", ["cut short", "zeroed head", "wild sizes", "too large"])
def test_damage_ends_in_one_sentence(frame: Path, tmp_path: Path, damage: str) -> None:
    body = bytearray(frame.read_bytes())
    if damage == "cut short":
        # Its directory stands at the end, and is gone: no raw file any more, and no picture.
        body = body[: len(body) // 3]
    elif damage == "zeroed head":
        body[8:400] = bytes(392)
        body = body[:-200]
    elif damage == "wild sizes":
        # ImageWidth, tag 256, one LONG.
        place = bytes(body).rindex(b"\x00\x01\x04\x00\x01\x00\x00\x00")
        assert int.from_bytes(body[place + 8 : place + 12], "little") == 900
        body[place + 8 : place + 12] = (4_000_000_000).to_bytes(4, "little")
    path = tmp_path / "damaged.dng"
    path.write_bytes(bytes(body))
    with pytest.raises(FrameError) as problem:
        decode_raw(path, 1000) if damage == "too large" else Picture.load(path)
    assert "\n" not in str(problem.value)
    assert "damaged.dng" in str(problem.value)
