"""Measured trails and EXIF against things outside the project.

The star fields below are moved by skyfield and projected by the gnomonic formula as
printed in handbooks, so that neither this package's sky nor its camera has a part in them.
"""

from __future__ import annotations

import importlib.util
import io
import math
import runpy
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from skyfield.api import Star, load, load_file, wgs84

from backbearing.camera import Camera, Lens, trail_length_px
from backbearing.review import Picture, Pointing, measure_trails, read_exif
from backbearing.review.sweep_fit import fit_sweeps

FIELDS = runpy.run_path(str(Path(__file__).resolve().parents[1] / "review" / "star_fields.py"))

# Sidereal rate, arcseconds of turn in a second of time: 1 296 000 arcseconds in the mean
# sidereal day of 86 164.0905 s (Explanatory Supplement, 3rd ed.), the handbooks' 15.041.
SIDEREAL_ARCSEC_S = 15.041
ARCSEC_A_RADIAN = 206_264.806

CAMERA = Camera(36.0, 24.0, 1500, 1000)
LAT, LON = 36.4, -84.36


def pixel_scale_arcsec(focal_mm: float) -> float:
    """Arcseconds a pixel in the middle of the frame: 206265 p / f, as handbooks have it."""
    return ARCSEC_A_RADIAN * (36.0 / 1500) / focal_mm


@pytest.mark.parametrize("shutter_s", [20.0, 60.0])
@pytest.mark.parametrize("focal_mm", [35.0, 85.0])
def test_trail_at_the_equator_is_sidereal_rate_by_time_over_scale(
    focal_mm: float, shutter_s: float
) -> None:
    by_hand = SIDEREAL_ARCSEC_S * shutter_s / pixel_scale_arcsec(focal_mm)
    # The meridian at the altitude of the equator: 90 degrees less the latitude.
    aim = Pointing(CAMERA, Lens(focal_mm), 90.0 - LAT, 180.0, LAT, shutter_s)
    length, angle = aim.trails(0.5, 0.5)
    assert float(length) == pytest.approx(by_hand, rel=2e-4)
    assert float(angle) % 180.0 == pytest.approx(0.0, abs=1e-6)
    assert trail_length_px(shutter_s, focal_mm, 24.0, 0.0) == pytest.approx(by_hand, rel=2e-4)
    # East on the horizon the equator rises at 90 degrees less the latitude from the level.
    _, rising = Pointing(CAMERA, Lens(focal_mm), 0.0, 90.0, LAT, shutter_s).trails(0.5, 0.5)
    assert float(rising) == pytest.approx(90.0 - LAT, abs=0.2)


def gnomonic(
    az: Any, alt: Any, *, axis_az_deg: float, axis_alt_deg: float, focal_px: float
) -> tuple[Any, Any]:
    """Project by the gnomonic formulas (mathworld.wolfram.com/GnomonicProjection.html).

    With azimuth for longitude and altitude for latitude.
    """
    turn, alt, middle = np.radians(az - axis_az_deg), np.radians(alt), math.radians(axis_alt_deg)
    depth = math.sin(middle) * np.sin(alt) + math.cos(middle) * np.cos(alt) * np.cos(turn)
    right = np.cos(alt) * np.sin(turn) / depth
    up = (math.cos(middle) * np.sin(alt) - math.sin(middle) * np.cos(alt) * np.cos(turn)) / depth
    return focal_px * right, focal_px * up


def skyfield_field(focal_mm: float, pitch: float, azimuth: float, shutter_s: float) -> Any:
    """Draw stars that skyfield moves over a fixed camera, without refraction."""
    rng = np.random.default_rng(11)
    timescale = load.timescale(builtin=True)
    # The package's folder by name: asking it for its path warns of a file not used here.
    kept = Path(importlib.util.find_spec("skyfield_data").origin).parent / "data"  # type: ignore[union-attr,arg-type]
    planets = load_file(str(kept / "de421.bsp"))
    try:
        place = planets["earth"] + wgs84.latlon(LAT, LON)
        middle = timescale.utc(2027, 6, 6, 5, 24, 0)
        reach = math.degrees(math.atan2(18.0, focal_mm))
        az = azimuth + rng.uniform(-1.3 * reach, 1.3 * reach, 500)
        alt = np.clip(pitch + rng.uniform(-reach, reach, 500), -5.0, 89.0)
        ra, dec = np.empty(500), np.empty(500)
        for i in range(500):
            found = place.at(middle).from_altaz(alt_degrees=alt[i], az_degrees=az[i]).radec()
            ra[i], dec[i] = found[0].hours, found[1].degrees
        stars = Star(ra_hours=ra, dec_degrees=dec)
        xs, ys = [], []
        for step in (np.arange(32) + 0.5) / 32 - 0.5:
            moment = timescale.utc(2027, 6, 6, 5, 24, step * shutter_s)
            high, round_, _ = place.at(moment).observe(stars).apparent().altaz()
            x, y = gnomonic(
                round_.degrees, high.degrees, axis_az_deg=azimuth, axis_alt_deg=pitch,
                focal_px=focal_mm * 1500 / 36.0,
            )  # fmt: skip
            xs.append(749.5 + x)
            ys.append(499.5 - y)
    finally:
        planets.close()
    image = np.full((1000, 1500), 0.02)
    for x, y in zip(np.array(xs).T, np.array(ys).T, strict=True):
        if min(x.min(), y.min()) > 0 and x.max() < 1500 and y.max() < 1000:
            FIELDS["draw_path"](image, x, y, float(np.exp(rng.uniform(-0.7, 2.0))), 1.2)
    return FIELDS["with_grain"](image, 0.003, rng)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("focal_mm", "pitch_deg", "azimuth_deg", "shutter_s"),
    [(20.0, 25.0, 159.0, 60.0), (50.0, 50.0, 300.0, 30.0)],
)
def test_stars_moved_by_skyfield_trail_as_predicted(
    focal_mm: float, pitch_deg: float, azimuth_deg: float, shutter_s: float
) -> None:
    picture = FIELDS["as_jpeg"](skyfield_field(focal_mm, pitch_deg, azimuth_deg, shutter_s))
    aim = Pointing(CAMERA, Lens(focal_mm), pitch_deg, azimuth_deg, LAT, shutter_s)
    measured = measure_trails(picture, aim)
    assert measured.whole.stars > 60
    # Tolerances of this test: 0.1 px and 1.5 degrees over the frame, 0.2 px in a region.
    assert measured.whole.length_px == pytest.approx(measured.whole.predicted_length_px, abs=0.1)
    assert abs(measured.whole.angle_off_deg) < 1.5
    for region in measured.regions:
        if region.measured:
            assert region.length_px == pytest.approx(region.predicted_length_px, abs=0.2)


@pytest.mark.parametrize("length_px", [1.0, 3.0, 10.0])
def test_fit_agrees_with_second_moments(length_px: float) -> None:
    # Variance of an even spread over L is L^2 / 12 (any textbook of statistics): along less
    # across the trail, the star's own width falls out.
    cut = np.zeros((61, 61))
    steps = (np.arange(400) + 0.5) / 400 - 0.5
    turn = math.radians(28.0)
    along = steps * length_px
    FIELDS["draw_path"](cut, 30.2 + along * math.cos(turn), 30.4 - along * math.sin(turn), 5.0, 1.5)
    rows, columns = np.mgrid[0:61, 0:61]
    light = cut / cut.sum()
    x, y = (light * columns).sum(), -(light * rows).sum()
    xx = (light * (columns - x) ** 2).sum()
    yy = (light * (-rows - y) ** 2).sum()
    xy = (light * (columns - x) * (-rows - y)).sum()
    by_moments = 12.0 * complex(xx - yy, 2.0 * xy)
    fit = fit_sweeps(cut[None], start=np.array([[1.0, 0.0, 1.5]]))
    by_fit = complex(fit.along_px2[0], fit.aslant_px2[0])
    assert abs(by_moments) ** 0.5 == pytest.approx(length_px, abs=0.02)
    assert abs(by_fit) ** 0.5 == pytest.approx(abs(by_moments) ** 0.5, abs=0.03)
    assert np.degrees(np.angle(by_fit)) / 2 == pytest.approx(28.0, abs=0.3)


def test_exif_written_by_hand_byte_for_byte(tmp_path: Path) -> None:
    # CIPA DC-008 (Exif 2.3x) by hand, big-endian: IFD0 with the pointer 0x8769, then the
    # Exif IFD with ExposureTime 0x829A, FNumber 0x829D, PhotographicSensitivity 0x8827,
    # DateTimeOriginal 0x9003, OffsetTimeOriginal 0x9011 and FocalLength 0x920A.
    count, start = 6, 8 + 2 + 12 + 4
    after = start + 2 + 12 * count + 4
    values = struct.pack(">6I", 13, 1, 28, 10, 24, 1) + b"2027:06:06 01:24:30\x00" + b"-04:00\x00"

    def entry(tag: int, kind: int, number: int, value: bytes) -> bytes:
        return struct.pack(">HHI", tag, kind, number) + value.ljust(4, b"\x00")

    def at(offset: int) -> bytes:
        return struct.pack(">I", after + offset)

    exif_ifd = struct.pack(">H", count) + b"".join(
        [
            entry(0x829A, 5, 1, at(0)),
            entry(0x829D, 5, 1, at(8)),
            entry(0x8827, 3, 1, struct.pack(">H", 6400)),
            entry(0x9003, 2, 20, at(24)),
            entry(0x9011, 2, 7, at(44)),
            entry(0x920A, 5, 1, at(16)),
        ]
    )
    main = struct.pack(">H", 1) + entry(0x8769, 4, 1, struct.pack(">I", start)) + bytes(4)
    body = b"Exif\x00\x00MM\x00*" + struct.pack(">I", 8) + main + exif_ifd + bytes(4) + values
    file = io.BytesIO()
    Image.new("RGB", (60, 40)).save(file, "JPEG")
    plain = file.getvalue()
    path = tmp_path / "hand.jpg"
    path.write_bytes(plain[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + plain[2:])
    found = read_exif(path)
    assert (found.shutter_s, found.f_number, found.iso) == (13.0, pytest.approx(2.8), 6400.0)
    assert found.focal_length_mm == 24.0
    assert found.wall_time is not None
    assert found.wall_time.isoformat() == "2027-06-06T01:24:30"
    assert found.utc_offset is not None
    assert found.utc_offset.total_seconds() == -4 * 3600


def test_srgb_curve_has_its_published_points() -> None:
    # IEC 61966-2-1: 8-bit 188 is half of full light, 118 is middle grey of 18 percent, to a
    # count; the two branches meet at 0.04045.
    values = np.zeros((1, 3, 3), dtype=np.uint8)
    values[0, :, :] = np.array([[188], [118], [255]])
    light, _ = Picture.of_array(values).window(slice(0, 1), slice(0, 3))
    assert light[0] == pytest.approx([0.5, 0.18, 1.0], abs=0.005)
