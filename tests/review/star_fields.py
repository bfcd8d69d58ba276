"""Star fields with known trails, for the tests to measure: nothing of the package's own fit."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image
from PIL.TiffImagePlugin import IFDRational, ImageFileDirectory_v2

from backbearing.camera import Frame
from backbearing.review import Picture

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.review import Pointing

SKY = 0.02


def to_srgb(light: NDArray[Any]) -> NDArray[Any]:
    """Put linear light under the sRGB curve (IEC 61966-2-1; inverse of the curve in WCAG 2.2)."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def draw_path(
    image: NDArray[Any], x_px: NDArray[Any], y_px: NDArray[Any], flux: float, sigma_px: float
) -> None:
    """Sum Gaussians along a path of pixel places (right, down), each with its share of light."""
    reach = 5.0 * sigma_px
    left, right = int(x_px.min() - reach), int(x_px.max() + reach) + 2
    top, bottom = int(y_px.min() - reach), int(y_px.max() + reach) + 2
    if left < 0 or top < 0 or right > image.shape[1] or bottom > image.shape[0]:
        return
    across = np.exp(-((np.arange(left, right) - x_px[:, None]) ** 2) / (2 * sigma_px**2))
    down = np.exp(-((np.arange(top, bottom) - y_px[:, None]) ** 2) / (2 * sigma_px**2))
    share = flux / (2 * np.pi * sigma_px**2) / len(x_px)
    image[top:bottom, left:right] += share * (down.T @ across)


def straight_field(
    length_px: float,
    angle_deg: float,
    *,
    width_px: int = 1000,
    height_px: int = 700,
    stars: int = 220,
    sigma_px: float = 1.2,
    noise: float = 0.003,
    seed: int = 1,
) -> NDArray[Any]:
    """Draw every star with the same straight trail; linear light."""
    rng = np.random.default_rng(seed)
    image = np.full((height_px, width_px), SKY)
    steps = (np.arange(max(16, int(8 * length_px))) + 0.5) / max(16, int(8 * length_px)) - 0.5
    turn = np.radians(angle_deg)
    for _ in range(stars):
        x, y = rng.uniform(0, width_px), rng.uniform(0, height_px)
        flux = np.exp(rng.uniform(np.log(0.5), np.log(8.0)))
        along = length_px * steps
        draw_path(image, x + along * np.cos(turn), y - along * np.sin(turn), flux, sigma_px)
    return with_grain(image, noise, rng)


def with_grain(image: NDArray[Any], noise: float, rng: np.random.Generator) -> NDArray[Any]:
    """Add noise and hot pixels."""
    image = image + rng.normal(0.0, noise, image.shape)
    for _ in range(image.size // 10_000):
        image[rng.integers(image.shape[0]), rng.integers(image.shape[1])] = rng.uniform(0.05, 1.0)
    return image


def sky_field(
    pointing: Pointing,
    path: Callable[[NDArray[Any], NDArray[Any]], tuple[NDArray[Any], NDArray[Any]]],
    *,
    stars: int = 500,
    sigma_px: float = 1.2,
    noise: float = 0.003,
    ground_below_deg: float | None = None,
    shake_px: tuple[float, float] = (0.0, 0.0),
    seed: int = 1,
) -> NDArray[Any]:
    """Draw the stars of a frame as they move; linear light.

    ``path`` turns directions (azimuths, altitudes) at mid-exposure into those of many
    moments of the exposure, shape (moments, n). A shake runs evenly along a vector of
    pixels (right, up), and the land is a dark shape below an altitude, with a trunk.
    """
    rng = np.random.default_rng(seed)
    width, height = pointing.camera.frame_width_px, pointing.camera.frame_height_px
    frame = Frame(pointing.camera, pointing.lens, pointing.pitch_deg, pointing.azimuth_deg)
    image = np.full((height, width), SKY)
    azimuth, altitude = frame.direction(rng.uniform(0, 1, stars), rng.uniform(0, 1, stars))
    x, y = frame.place(*path(azimuth, altitude))
    flux = np.exp(rng.uniform(np.log(0.5), np.log(8.0), stars))
    wobble = rng.uniform(-0.5, 0.5, len(x))
    for i in range(stars):
        right = x[:, i] * width - 0.5 + shake_px[0] * wobble
        down = (1 - y[:, i]) * height - 0.5 - shake_px[1] * wobble
        draw_path(image, right, down, flux[i], sigma_px)
    if ground_below_deg is not None:
        across = (np.arange(width) + 0.5) / width
        for row in range(height):
            _, there = frame.direction(across, np.full(width, 1 - (row + 0.5) / height))
            image[row][there < ground_below_deg] = 0.0005
        image[height // 2 :, width // 2 - width // 40 : width // 2 + width // 40] = 0.0005
    return with_grain(image, noise, rng)


def stored(image: NDArray[Any]) -> NDArray[np.uint8]:
    """Eight-bit values of linear light, grey in three colours."""
    grey = (to_srgb(image) * 255.0 + 0.5).astype(np.uint8)
    return np.repeat(grey[:, :, None], 3, axis=2)


def as_jpeg(image: NDArray[Any], *, quality: int = 92) -> Picture:
    """Take linear light through a JPEG file, as a camera would."""
    file = io.BytesIO()
    Image.fromarray(stored(image)).save(file, "JPEG", quality=quality)
    return Picture.of_array(np.array(Image.open(file)))


def exif_of(**fields: Any) -> Image.Exif:
    """Build EXIF from readable names; unknown names are tags of the GPS table, ``gps_N``."""
    tags = {
        "shutter": 0x829A,
        "f_number": 0x829D,
        "iso": 0x8827,
        "time": 0x9003,
        "offset": 0x9011,
        "subseconds": 0x9291,
        "focal": 0x920A,
        "focal_135": 0xA405,
        "lens": 0xA434,
        "shutter_apex": 0x9201,
    }
    found = Image.Exif()
    own, gps = found.get_ifd(0x8769), found.get_ifd(0x8825)
    for name, value in fields.items():
        if name == "orientation":
            found[0x0112] = value
        elif name == "camera":
            found[0x0110] = value
        elif name.startswith("gps_"):
            gps[int(name[4:])] = value
        else:
            own[tags[name]] = value
    return found


def ratio(value: float, below: int = 1000) -> IFDRational:
    """Write a number as EXIF does, as a fraction."""
    return IFDRational(round(value * below), below)


def angle(value_deg: float) -> tuple[IFDRational, ...]:
    """Degrees, minutes and seconds of an angle without its sign."""
    value = abs(value_deg)
    minutes = (value - int(value)) * 60.0
    return ratio(int(value)), ratio(int(minutes)), ratio((minutes - int(minutes)) * 60.0, 10_000)


def save(path: Path, pixels: NDArray[Any] | None = None, **fields: Any) -> Path:
    """Write a picture with EXIF; a small black one when no pixels are given."""
    if pixels is None:
        pixels = np.zeros((40, 60, 3), dtype=np.uint8)
    exif = exif_of(**fields)
    if path.suffix == ".tif":
        tags = ImageFileDirectory_v2()
        tags[0x8769] = dict(exif.get_ifd(0x8769))
        Image.fromarray(pixels).save(path, tiffinfo=tags)
    else:
        Image.fromarray(pixels).save(path, exif=exif, quality=92)
    return path
