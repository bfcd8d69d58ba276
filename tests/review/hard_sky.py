"""Frames of the real sky as bad nights and lenses make them, with what is true of each.

The sky is Astropy's (`real_sky`), its stars move over the exposure, and each hardship is drawn by
a few lines of its own: nothing here is the package's.
"""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image
from real_sky import Held, catalogue_seen
from scipy import ndimage
from star_fields import to_srgb

from backbearing.review import Picture

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Layer = Callable[[NDArray[Any], "Scene", np.random.Generator], NDArray[Any]]

SITE = {"lat": 44.1, "lon": -3.2, "height_m": 900.0}
TIME = dt.datetime(2027, 7, 5, 23, 10, tzinfo=dt.UTC)
HELD = Held(184.0, 20.0, 0.0, 24.0)
HORIZON_DEG = 3.0
SKY = 0.02


@dataclass(frozen=True)
class Scene:
    """How a frame was taken, and what stood in its way.

    ``coma_px`` is the tail at the corner, ``disc_px`` the radius of an unsharp star,
    ``shake_px`` a smear (right, up), ``sky`` what is laid over the light in front of the stars'
    grain, ``stored`` what is done to values from 0 to 1 under the sRGB curve.
    """

    shutter_s: float
    held: Held = HELD
    coma_px: float = 0.0
    disc_px: float = 0.0
    sigma_px: float = 1.1
    shake_px: tuple[float, float] = (0.0, 0.0)
    noise: float = 0.002
    hot_share: float = 1e-4
    quality: int = 92
    seed: int = 1
    sky: tuple[Layer, ...] = ()
    stored: tuple[Callable[[NDArray[Any]], NDArray[Any]], ...] = field(default=())

    def but(self, **changes: Any) -> Scene:
        """Return another scene with some things changed; layers add up."""
        for name in ("sky", "stored"):
            if name in changes:
                changes[name] = getattr(self, name) + changes[name]
        return replace(self, **changes)


_SEEN: dict[tuple[float, Any], Any] = {}


def paths_px(scene: Scene) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Columns and rows (moments, n) of the catalogue's stars over the exposure, altitude, V."""
    key = scene.shutter_s, SITE["lat"]
    if key not in _SEEN:
        if len(_SEEN) > 5:
            _SEEN.clear()
        # Three moments and a parabola through them: good to a thousandth of a pixel in minutes.
        moments = [TIME + dt.timedelta(seconds=scene.shutter_s * k / 2.0) for k in (-1, 0, 1)]
        _SEEN[key] = [catalogue_seen(**SITE, time=moment) for moment in moments]
    seen = _SEEN[key]
    places = [scene.held.pixels(azimuth, altitude) for azimuth, altitude, _ in seen]
    # A barrel's one term folds what lies far outside back into the frame.
    plain = scene.held._replace(distortion=0.0).pixels(*seen[1][:2])
    outside = np.abs(plain[0] / scene.held.width_px - 0.5) > 1.0
    outside |= np.abs(plain[1] / scene.held.height_px - 0.5) > 1.0
    for column, row in places:
        column[outside] = row[outside] = np.nan
    t = np.linspace(-1.0, 1.0, 41)[:, None]
    weights = t * (t - 1.0) / 2.0, 1.0 - t * t, t * (t + 1.0) / 2.0
    column = sum(w * p[0] for w, p in zip(weights, places, strict=True))
    row = sum(w * p[1] for w, p in zip(weights, places, strict=True))
    return column, row, seen[1][1], seen[1][2]


def light_of(scene: Scene) -> NDArray[Any]:
    """Linear light, before the camera's values."""
    rng = np.random.default_rng(scene.seed)
    held = scene.held
    image = np.full((held.height_px, held.width_px), SKY)
    column, row, altitude, magnitude = paths_px(scene)
    bright = [altitude > HORIZON_DEG, np.isfinite(column).all(axis=0)]
    for i in np.flatnonzero(np.all(bright, axis=0)):
        _draw(image, column[:, i], row[:, i], 60.0 * 10.0 ** (-0.4 * magnitude[i]), scene, rng)
    # Fainter stars of no catalogue go along with one of it that stands near, in the frame.
    inside = (np.abs(column[20] / held.width_px - 0.5) < 0.5) & (
        np.abs(row[20] / held.height_px - 0.5) < 0.5
    )
    near = np.flatnonzero(np.all([*bright, inside], axis=0))
    for _ in range(700):
        i = rng.choice(near)
        away = rng.uniform(-150.0, 150.0, 2)
        flux = 60.0 * 10.0 ** (-0.4 * rng.uniform(5.5, 7.5))
        _draw(image, column[:, i] + away[0], row[:, i] + away[1], flux, scene, rng)
    for layer in scene.sky:
        image = layer(image, scene, rng)
    ground = _altitudes(held) < HORIZON_DEG
    image[ground] = 0.0005
    image += rng.normal(0.0, scene.noise, image.shape)
    hot = rng.random(image.shape) < scene.hot_share
    image[hot] = rng.uniform(0.05, 1.0, int(hot.sum()))
    return image


def _draw(
    image: NDArray[Any],
    column: NDArray[Any],
    row: NDArray[Any],
    flux: float,
    scene: Scene,
    rng: np.random.Generator,
) -> None:
    height, width = image.shape
    if not (-20 < column[20] < width + 20 and -20 < row[20] < height + 20):
        return
    wobble = np.linspace(-0.5, 0.5, len(column))[rng.permutation(len(column))]
    column = column + scene.shake_px[0] * wobble
    row = row - scene.shake_px[1] * wobble
    if scene.coma_px:
        x, y = column[20] - (width - 1) / 2.0, row[20] - (height - 1) / 2.0
        far = np.hypot(x, y) / np.hypot(width, height) * 2.0
        # A head and a tail outwards that thins out: its places stand closer at the head.
        tail = scene.coma_px * far**2 * np.linspace(0.0, 1.0, 41)[rng.permutation(41)] ** 1.5
        column = column + tail * x / max(np.hypot(x, y), 1e-9)
        row = row + tail * y / max(np.hypot(x, y), 1e-9)
    if scene.disc_px:
        right, down = _disc(scene.disc_px, column[20], row[20], image.shape)
        column = (column[:, None] + right).ravel()
        row = (row[:, None] + down).ravel()
    _splat(image, column, row, flux, scene.sigma_px)


def _disc(
    radius: float, column: float, row: float, shape: tuple[int, ...]
) -> tuple[NDArray[Any], NDArray[Any]]:
    """Rings of points, as round as can be in the middle and cut by the barrel in the corners."""
    rings = [np.zeros((1, 2))]
    for k in (1, 2, 3):
        turn = np.arange(6 * k) * 2.0 * np.pi / (6 * k)
        rings.append(radius * k / 3.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    points = np.concatenate(rings)
    away = np.array([column - (shape[1] - 1) / 2.0, row - (shape[0] - 1) / 2.0])
    far = np.hypot(*away) / np.hypot(*shape) * 2.0
    aside = 0.7 * radius * far**2 * away / max(float(np.hypot(*away)), 1e-9)
    kept = points[np.hypot(*(points + aside).T) <= 1.01 * radius]
    return kept[:, 0], kept[:, 1]


def _splat(
    image: NDArray[Any], column: NDArray[Any], row: NDArray[Any], flux: float, sigma: float
) -> None:
    """Sum Gaussians, those at the frame's edge cut off by it."""
    reach = 5.0 * sigma
    left, right = max(0, int(column.min() - reach)), int(column.max() + reach) + 2
    top, bottom = max(0, int(row.min() - reach)), int(row.max() + reach) + 2
    right, bottom = min(right, image.shape[1]), min(bottom, image.shape[0])
    if left >= right or top >= bottom:
        return
    across = np.exp(-((np.arange(left, right) - column[:, None]) ** 2) / (2 * sigma**2))
    down = np.exp(-((np.arange(top, bottom) - row[:, None]) ** 2) / (2 * sigma**2))
    share = flux / (2 * np.pi * sigma**2) / len(column)
    image[top:bottom, left:right] += share * (down.T @ across)


def _altitudes(held: Held) -> NDArray[Any]:
    """Altitude that each pixel looks at, degrees, the roll left out."""
    pitch = held.sensor_mm / held.width_px
    rows, columns = np.mgrid[: held.height_px, : held.width_px]
    x = (columns - (held.width_px - 1) / 2.0) * pitch
    y = ((held.height_px - 1) / 2.0 - rows) * pitch
    p = np.radians(held.pitch_deg)
    up = held.focal_mm * np.sin(p) + y * np.cos(p)
    return np.degrees(np.arcsin(up / np.sqrt(x * x + y * y + held.focal_mm**2)))


def rough(shape: tuple[int, int], rng: np.random.Generator, coarse: float) -> NDArray[Any]:
    """Smooth noise of several scales, mean 0, one standard deviation 1."""
    total = np.zeros(shape)
    for scale in (coarse, coarse / 2, coarse / 4, coarse / 8):
        cells = (int(shape[0] / scale) + 4, int(shape[1] / scale) + 4)
        fine = ndimage.zoom(rng.normal(size=cells), scale, order=3)
        total += scale * fine[: shape[0], : shape[1]]
    return (total - total.mean()) / total.std()


def vignetted(image: NDArray[Any], scene: Scene, _: np.random.Generator) -> NDArray[Any]:
    """A third of the light is left in the corners."""
    rows, columns = np.mgrid[: image.shape[0], : image.shape[1]]
    far = np.hypot(rows - image.shape[0] / 2, columns - image.shape[1] / 2)
    return image * (1.0 - 0.67 * (far / (np.hypot(*image.shape) / 2)) ** 2)


def town(image: NDArray[Any], scene: Scene, _: np.random.Generator) -> NDArray[Any]:
    """A town's dome over the horizon on the left, ten times as bright as the sky."""
    altitude = _altitudes(scene.held)
    across = np.linspace(0.0, 1.0, image.shape[1])[None, :]
    return image + 10.0 * SKY * np.exp(-altitude / 8.0) * np.exp(-across / 0.4)


def airglow(image: NDArray[Any], scene: Scene, rng: np.random.Generator) -> NDArray[Any]:
    """Bands of airglow, a third of the sky's light, some degrees apart."""
    altitude = _altitudes(scene.held) + 0.8 * rough(image.shape, rng, 300.0)
    return image + SKY * 0.35 * (1.0 + np.sin(2 * np.pi * altitude / 4.0))


def cloudy(image: NDArray[Any], scene: Scene, rng: np.random.Generator) -> NDArray[Any]:
    """Broken cloud over two fifths, lit from below."""
    cover = 1.0 / (1.0 + np.exp(-(rough(image.shape, rng, 220.0) - 0.25) / 0.12))
    return image * (1.0 - 0.97 * cover) + 2.0 * SKY * cover * (
        1.0 + 0.15 * rough(image.shape, rng, 60.0)
    )


def trees(image: NDArray[Any], scene: Scene, rng: np.random.Generator) -> NDArray[Any]:
    """Bare branches from below and from the right, black, some a pixel or two thin."""
    dark = np.zeros(image.shape, dtype=bool)
    height, width = image.shape
    for _ in range(9):
        _branch(dark, rng.uniform(0, width), float(height), -90.0, height * 0.12, 12.0, rng)
    for _ in range(4):
        _branch(dark, float(width), rng.uniform(0, height / 2), 180.0, height * 0.1, 8.0, rng)
    return np.where(dark, 0.0006, image)


def _branch(
    dark: NDArray[Any], x: float, y: float, turn: float, long: float, wide: float, rng: Any
) -> None:
    if wide < 0.8 or long < 4.0:
        return
    for _ in range(int(long)):
        x, y = x + np.cos(np.radians(turn)), y + np.sin(np.radians(turn))
        turn += rng.normal(0.0, 2.0)
        half = wide / 2.0
        dark[
            max(0, int(y - half)) : max(0, int(y + half) + 1),
            max(0, int(x - half)) : max(0, int(x + half) + 1),
        ] = True
    for side in (-1.0, 1.0):
        bend = turn + side * rng.uniform(15.0, 45.0)
        _branch(dark, x, y, bend, long * rng.uniform(0.6, 0.95), wide * 0.62, rng)


def streaks(image: NDArray[Any], scene: Scene, _: np.random.Generator) -> NDArray[Any]:
    """A satellite's line all across, and an aeroplane's two dashed ones."""
    image = image.copy()
    height, width = image.shape
    x = np.arange(0.0, width, 0.5)
    _splat_line(image, x, 0.22 * height + 0.15 * x, np.full(len(x), 0.03))
    flash = np.where((x // 30) % 2 == 0, 0.06, 0.0)
    _splat_line(image, x, 0.62 * height - 0.18 * x, flash)
    _splat_line(image, x, 0.62 * height + 6.0 - 0.18 * x, 0.5 * flash)
    return image


def _splat_line(image: NDArray[Any], x: NDArray[Any], y: NDArray[Any], peak: Any) -> None:
    for one_x, one_y, one in zip(x, y, peak, strict=True):
        if one:
            _splat(image, np.array([one_x]), np.array([one_y]), 3.0 * one, 1.1)


def dewy(image: NDArray[Any], scene: Scene, _: np.random.Generator) -> NDArray[Any]:
    """Half of the light strewn wide by drops on the glass."""
    return 0.5 * image + 0.5 * ndimage.gaussian_filter(image, 14.0)


def contrasty(value: NDArray[Any]) -> NDArray[Any]:
    """An S-curve, twice as steep in the middle."""
    return value + 0.16 * np.sin(2 * np.pi * (value - 0.5)) * (value > 0) * (value < 1)


def lifted(value: NDArray[Any]) -> NDArray[Any]:
    """Shadows lifted by a power of 0.7."""
    return np.clip(value, 0.0, 1.0) ** 0.7


def denoised(value: NDArray[Any]) -> NDArray[Any]:
    """A median over three by three, as crude noise reduction does."""
    return ndimage.median_filter(value, 3)


def sharpened(value: NDArray[Any]) -> NDArray[Any]:
    """What differs from its surroundings told off against them once more."""
    return value + 0.8 * (value - ndimage.gaussian_filter(value, 1.5))


def picture_of(scene: Scene) -> Picture:
    """Take a scene through its curves and a JPEG file."""
    value = to_srgb(light_of(scene))
    for curve in scene.stored:
        value = curve(value)
    grey = (np.clip(value, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(np.repeat(grey[:, :, None], 3, axis=2)).save(
        file, "JPEG", quality=scene.quality
    )
    return Picture.of_array(np.array(Image.open(file)))


def hardships() -> dict[str, dict[str, Any]]:
    """What is changed in a plain scene, by name."""
    return {
        "none": {},
        "coma of 3 px at the corner": {"coma_px": 3.0},
        "coma of 8 px at the corner": {"coma_px": 8.0},
        "vignetting to a third": {"sky": (vignetted,)},
        "a town's dome": {"sky": (town,)},
        "airglow in bands": {"sky": (airglow,)},
        "broken cloud": {"sky": (cloudy,)},
        "hot pixels, one in a thousand": {"hot_share": 1e-3},
        "noise of a high ISO": {"noise": 0.012},
        "an S-curve": {"stored": (contrasty,)},
        "shadows lifted": {"stored": (lifted,)},
        "JPEG of 80": {"quality": 80},
        "bare trees": {"sky": (trees,)},
        "a satellite and an aeroplane": {"sky": (streaks,)},
        "dew": {"sky": (dewy,)},
        "out of focus, 4 px": {"disc_px": 4.0},
        "stacked": {"noise": 0.0005, "hot_share": 0.0, "sigma_px": 1.4},
        "denoised": {"stored": (denoised,)},
        "sharpened": {"stored": (sharpened,)},
        "most of it at once": {
            "coma_px": 4.0,
            "sky": (vignetted, town, airglow, cloudy, trees, streaks),
            "noise": 0.006,
            "hot_share": 5e-4,
            "stored": (contrasty,),
            "quality": 80,
        },
    }
