"""EXIF as cameras, exporters and vandals write it."""

from __future__ import annotations

import datetime as dt
import math
import warnings
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational, ImageFileDirectory_v2
from star_fields import angle, exif_of, ratio, save

from backbearing.review import FrameError, Picture, read_exif
from backbearing.review import picture as picture_module
from backbearing.review.clock import frame_time

if TYPE_CHECKING:
    from pathlib import Path

GOOD = {
    "shutter": IFDRational(25, 1),
    "f_number": ratio(2.8),
    "iso": 3200,
    "time": "2027:06:06 01:24:30",
    "focal": IFDRational(14, 1),
}


@pytest.mark.parametrize("suffix", ["jpg", "tif", "png", "webp"])
def test_every_field_is_read(tmp_path: Path, suffix: str) -> None:
    found = read_exif(
        save(tmp_path / f"a.{suffix}", **GOOD, subseconds="25", lens="Wide", camera="C")
    )
    assert (found.shutter_s, found.f_number, found.iso) == (25.0, pytest.approx(2.8), 3200.0)
    assert (found.focal_length_mm, found.lens) == (14.0, "Wide")
    assert found.wall_time.isoformat() == "2027-06-06T01:24:30.250000"
    assert (found.width_px, found.height_px) == (60, 40)
    assert found.utc_offset is None
    assert not found.gps.known
    assert found.notes == ()


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_pictures_and_their_sizes_are_upright(tmp_path: Path, orientation: int) -> None:
    path = save(tmp_path / "a.jpg", **GOOD, orientation=orientation)
    found, loaded = read_exif(path), Picture.load(path)
    upright = (40, 60) if orientation in (6, 8) else (60, 40)
    assert (found.width_px, found.height_px) == upright
    assert (loaded.width_px, loaded.height_px) == upright


def test_a_turned_tiff_is_turned_once(tmp_path: Path) -> None:
    tags = ImageFileDirectory_v2()
    tags[0x0112] = 6
    Image.fromarray(np.zeros((40, 60, 3), dtype=np.uint8)).save(tmp_path / "a.tif", tiffinfo=tags)
    found, loaded = read_exif(tmp_path / "a.tif"), Picture.load(tmp_path / "a.tif")
    assert (found.width_px, found.height_px) == (loaded.width_px, loaded.height_px) == (40, 60)


@pytest.mark.parametrize(
    "written",
    ["0000:00:00 00:00:00", "    :  :     :  :  ", "2027:02:30 01:00:00", "yesterday", "",
     "1970:01:01 00:00:00", "9999:12:31 23:59:59", "2027-06-06T01:24:30"],
)  # fmt: skip
def test_dates_that_are_none(tmp_path: Path, written: str) -> None:
    found = read_exif(save(tmp_path / "a.jpg", **{**GOOD, "time": written}))
    assert found.wall_time is None
    assert any("clock was not set" in note for note in found.notes)
    assert found.shutter_s == 25.0


@pytest.mark.parametrize(
    ("written", "minutes"),
    [("-04:00", -240), ("+05:45", 345), ("Z", 0), ("+00:00", 0), ("   :  ", None), ("+99:00", None),
     ("garbage", None)],
)  # fmt: skip
def test_offsets(tmp_path: Path, written: str, minutes: int | None) -> None:
    found = read_exif(save(tmp_path / "a.jpg", **GOOD, offset=written))
    expected = None if minutes is None else dt.timedelta(minutes=minutes)
    assert found.utc_offset == expected


@pytest.mark.parametrize("lat", [36.372719, -33.9])
@pytest.mark.parametrize("lon", [-84.360217, 151.2])
def test_positions_in_all_quarters(tmp_path: Path, lat: float, lon: float) -> None:
    path = save(
        tmp_path / "a.jpg", **GOOD, gps_1="N" if lat > 0 else "S", gps_2=angle(lat),
        gps_3="E" if lon > 0 else "W", gps_4=angle(lon), gps_31=ratio(4.5),
        gps_29="2027:06:06", gps_7=(ratio(5), ratio(24), ratio(30)),
    )  # fmt: skip
    gps = read_exif(path).gps
    assert (gps.lat, gps.lon) == pytest.approx((lat, lon), abs=1e-6)
    assert gps.error_m == pytest.approx(4.5)
    assert gps.time == dt.datetime(2027, 6, 6, 5, 24, 30, tzinfo=dt.UTC)


ZERO = IFDRational(1, 0)


@pytest.mark.parametrize(
    "fields",
    [
        {"gps_1": "N", "gps_2": (ZERO, ZERO, ZERO), "gps_3": "W", "gps_4": angle(84.0)},
        {"gps_1": "N", "gps_2": angle(36.0)},
        {"gps_1": "X", "gps_2": angle(36.0), "gps_3": "W", "gps_4": angle(84.0)},
        {"gps_2": angle(36.0), "gps_4": angle(84.0)},
        {"gps_1": "N", "gps_2": angle(136.0), "gps_3": "W", "gps_4": angle(84.0)},
        {"gps_1": "N", "gps_2": angle(0.0), "gps_3": "E", "gps_4": angle(0.0)},
    ],
)
def test_positions_that_are_none(tmp_path: Path, fields: dict[str, object]) -> None:
    found = read_exif(save(tmp_path / "a.jpg", **GOOD, **fields))
    assert not found.gps.known
    assert math.isnan(found.gps.lat)
    assert any("GPS position" in note for note in found.notes)


def test_numbers_that_are_none(tmp_path: Path) -> None:
    found = read_exif(
        save(tmp_path / "a.jpg", shutter=IFDRational(25, 0), f_number=IFDRational(0, 0), iso=0,
             focal=IFDRational(0, 1), time="2027:06:06 01:24:30")
    )  # fmt: skip
    values = (found.shutter_s, found.f_number, found.iso, found.focal_length_mm)
    assert all(math.isnan(value) for value in values)


@pytest.mark.parametrize("seconds", [4_000_000_000, 86_401])
def test_a_shutter_of_more_than_a_day_is_unknown(tmp_path: Path, seconds: int) -> None:
    found = read_exif(save(tmp_path / "a.jpg", shutter=IFDRational(seconds, 1)))
    assert math.isnan(found.shutter_s)


def test_apex_values_stand_in(tmp_path: Path) -> None:
    # CIPA DC-008 annex C: Tv = -log2 t, so -4 is 16 s.
    found = read_exif(save(tmp_path / "a.jpg", shutter_apex=IFDRational(-4, 1)))
    assert found.shutter_s == pytest.approx(16.0)


def test_without_exif(tmp_path: Path) -> None:
    Image.fromarray(np.zeros((40, 60, 3), dtype=np.uint8)).save(tmp_path / "a.jpg")
    found = read_exif(tmp_path / "a.jpg")
    assert any("no EXIF" in note for note in found.notes)


def test_hostile_strings_are_kept_short_and_end_at_a_nul(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", **GOOD, lens="\x1b[31mred\x00hidden", camera="x" * 5000)
    found = read_exif(path)
    assert "hidden" not in found.lens
    assert len(found.camera) == 80


def test_raw_files_ask_for_an_export(tmp_path: Path) -> None:
    raw = tmp_path / "a.raw"
    raw.write_bytes(bytes(range(256)) * 40)
    with pytest.raises(FrameError, match=r"export a camera's raw file as a\s+full-size JPEG"):
        read_exif(raw)
    # A raw file that poses as TIFF: its first picture is a reduced one (TIFF 6.0, tag 254).
    tags = ImageFileDirectory_v2()
    tags[254] = 1
    Image.fromarray(np.zeros((40, 60, 3), dtype=np.uint8)).save(tmp_path / "b.tif", tiffinfo=tags)
    with pytest.raises(FrameError, match="raw file"):
        read_exif(tmp_path / "b.tif")


def test_missing_files_and_folders(tmp_path: Path) -> None:
    with pytest.raises(FrameError, match="no frame"):
        read_exif(tmp_path / "a.jpg")
    with pytest.raises(FrameError, match="folder"):
        read_exif(tmp_path)


def test_huge_pictures_are_refused_before_decoding(tmp_path: Path) -> None:
    # Headers that claim 65,000 x 65,000 and 13,000 x 13,000 pixels, with nothing behind them.
    import struct
    import zlib

    for side in (65_000, 13_000):
        head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
        chunk = b"IHDR" + head
        png = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk
        png += struct.pack(">I", zlib.crc32(chunk))
        png += struct.pack(">I", 0) + b"IDAT" + struct.pack(">I", zlib.crc32(b"IDAT"))
        path = tmp_path / "huge.png"
        path.write_bytes(png)
        with pytest.raises(FrameError, match="was not decoded"):
            read_exif(path)


def test_a_large_camera_is_no_bomb(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 2000)
    path = save(tmp_path / "a.jpg", **GOOD)
    assert read_exif(path).notes == ()
    monkeypatch.setattr(picture_module, "MOST_PIXELS", 2000)
    with pytest.raises(FrameError, match="60 x 40"):
        read_exif(path)


@pytest.mark.parametrize("kept", [3, 30, 300, 2000])
def test_truncated_files_get_a_sentence(tmp_path: Path, kept: int) -> None:
    pixels = np.random.default_rng(1).integers(0, 255, (90, 120, 3), dtype=np.uint8)
    path = save(tmp_path / "a.jpg", pixels, **GOOD)
    path.write_bytes(path.read_bytes()[:kept])
    with pytest.raises(FrameError):
        Picture.load(path)


def test_damage_anywhere_is_a_sentence_or_a_reading_never_a_crash(tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", **GOOD, gps_1="N", gps_2=angle(36.0), gps_3="W",
                gps_4=angle(84.0), lens="Wide")  # fmt: skip
    whole = path.read_bytes()
    rng = np.random.default_rng(7)
    for _ in range(150):
        broken = bytearray(whole)
        for place in rng.integers(2, 500, 4):
            broken[place] = int(rng.integers(256))
        path.write_bytes(bytes(broken))
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                found = read_exif(path)
            except FrameError:
                continue
        assert math.isnan(found.shutter_s) or found.shutter_s > 0.0
        assert math.isnan(found.gps.lat) or -90.0 <= found.gps.lat <= 90.0


def test_clock_zone_is_assumed_and_said(tmp_path: Path) -> None:
    found = read_exif(save(tmp_path / "a.jpg", **GOOD))
    time, said = frame_time(found, zone="America/New_York", clock_ahead_s=0.0)
    assert time == dt.datetime(2027, 6, 6, 5, 24, 30, tzinfo=dt.UTC)
    assert "names no zone" in said
    assert "America/New_York" in said


def test_clock_offset_is_taken_off(tmp_path: Path) -> None:
    found = read_exif(save(tmp_path / "a.jpg", **GOOD, offset="+02:00"))
    time, said = frame_time(found, zone="UTC", clock_ahead_s=90.0)
    assert time == dt.datetime(2027, 6, 5, 23, 23, 0, tzinfo=dt.UTC)
    assert "+02:00" in said
    assert "90 s" in said
    assert "ahead" in said


def test_wall_times_that_come_twice_or_never(tmp_path: Path) -> None:
    # Published change of clocks: New York goes back at 02:00 on 7 November 2027 and forward
    # at 02:00 on 14 March 2027 (IANA time zone database).
    twice = read_exif(save(tmp_path / "a.jpg", **{**GOOD, "time": "2027:11:07 01:30:00"}))
    assert "twice" in frame_time(twice, zone="America/New_York", clock_ahead_s=0.0)[1]
    never = read_exif(save(tmp_path / "b.jpg", **{**GOOD, "time": "2027:03:14 02:30:00"}))
    assert "skip" in frame_time(never, zone="America/New_York", clock_ahead_s=0.0)[1]


def test_receivers_time_is_set_beside_the_clock(tmp_path: Path) -> None:
    def said(clock: tuple[int, int, int]) -> str:
        gps_time = tuple(ratio(part) for part in clock)
        path = save(tmp_path / "a.jpg", **GOOD, gps_29="2027:06:06", gps_7=gps_time)
        return frame_time(read_exif(path), zone="America/New_York", clock_ahead_s=0.0)[1]

    assert "agrees" in said((5, 24, 25))
    # The clock shows 5:24:30: half a minute agrees, from a quarter of an hour on it is a zone.
    assert "agrees" in said((5, 24, 1))
    assert "31 s earlier" in said((5, 23, 59))
    assert "899 s earlier" in said((5, 9, 31))
    assert "0.3 h earlier" in said((5, 9, 29))
    assert "300 s earlier" in said((5, 19, 30))
    assert "1.0 h later" in said((6, 24, 30))


def test_tags_are_those_of_the_standard() -> None:
    # CIPA DC-008 (Exif), as pillow's own table of tags repeats it.
    from PIL import ExifTags

    from backbearing.review import exif

    names = {
        "_SHUTTER": "ExposureTime", "_F_NUMBER": "FNumber", "_ISO": "ISOSpeedRatings",
        "_TIME": "DateTimeOriginal", "_OFFSET": "OffsetTimeOriginal", "_FOCAL": "FocalLength",
        "_FOCAL_135": "FocalLengthIn35mmFilm", "_LENS_MODEL": "LensModel", "_MODEL": "Model",
        "_SHUTTER_APEX": "ShutterSpeedValue", "_APERTURE_APEX": "ApertureValue",
        "_SUBSECONDS": "SubsecTimeOriginal", "_ORIENTATION": "Orientation",
    }  # fmt: skip
    for own, name in names.items():
        assert ExifTags.TAGS[getattr(exif, own)] == name
    assert exif_of(shutter=IFDRational(1, 1)).get_ifd(0x8769)[0x829A] == 1


def test_pixels_from_97_percent_of_the_largest_value_on_may_be_clipped() -> None:
    # 0.97 of 255 is 247.35.
    stored = np.array([[0, 246, 247, 248, 255]], dtype=np.uint8)
    _, clipped = Picture.of_array(stored).window(slice(0, 1), slice(0, 5))
    assert clipped.tolist() == [[False, False, False, True, True]]
    floats = np.array([[0.0, 0.969, 0.971, 1.0]], dtype=np.float32)
    _, clipped = Picture.of_array(floats).window(slice(0, 1), slice(0, 4))
    assert clipped.tolist() == [[False, False, True, True]]
    red = np.array([[[250, 10, 10], [240, 240, 240]]], dtype=np.uint8)
    _, clipped = Picture.of_array(red).window(slice(0, 1), slice(0, 2))
    assert clipped.tolist() == [[True, False]]


@pytest.mark.parametrize(
    ("ref", "value", "expected"),
    [
        ("T", ratio(151.25, 100), (151.25, False)),
        ("M", ratio(157.0, 100), (157.0, True)),
        ("m ", ratio(360.0, 100), (0.0, True)),
        # Without a north, or beyond a circle, it says nothing (CIPA DC-008; from memory).
        ("", ratio(151.25, 100), None),
        ("X", ratio(151.25, 100), None),
        ("T", ratio(400.0, 100), None),
        ("T", IFDRational(1, 0), None),
    ],
)
def test_the_compass_direction_counts_with_its_north_only(tmp_path, ref, value, expected):
    path = save(tmp_path / "a.jpg", **GOOD, gps_16=ref, gps_17=value)
    gps = read_exif(path).gps
    if expected is None:
        assert math.isnan(gps.image_direction_deg)
    else:
        assert (gps.image_direction_deg, gps.from_magnetic) == expected
    assert not gps.known
