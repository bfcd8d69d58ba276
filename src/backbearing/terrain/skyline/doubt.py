"""How high the true skyline may stand: the highest of many points whose heights err together.

The tangent of a point at distance s is off by ``(e(s) - e(0)) / s`` for heights off by e, by
what the eye's height and the bending of light add, all of it Gaussian, and by what the eye
sees from a little aside. Over the rivals of a ray (see :mod:`.rivals`) these make one joint
distribution; the skyline is the highest of them, which on average stands higher than the
raster's own: where errors raise other ground above it that is seen, and where they lower it
other ground takes its place.

Mean and standard deviation of the highest are sums over a fixed design: a few places of the
eye, vectors for the errors spread evenly, and for the error of the nearest rival a fine
scale of its own, since a slope beside the eye that is wrong once in a thousand times hides
more sky than all the far ridges. The design has no mean and unit covariance exactly, so that
a lone rival gets its own standard deviation, and the same question the same answer.
"""

from __future__ import annotations

from functools import cache
from statistics import NormalDist
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.geodesy import drop_per_m2
from backbearing.terrain.skyline.grazing import keep_on_raster
from backbearing.terrain.skyline.rivals import Sights, find_rivals, surface_m
from backbearing.terrain.skyline.sight_fits import trace_each_ray

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.height_errors import HeightErrors, SightErrors
    from backbearing.terrain.reading.sources import Source
    from backbearing.terrain.skyline.completeness import FoundSkyline
    from backbearing.terrain.skyline.rivals import Rivals
    from backbearing.terrain.skyline.sight_fits import SightFits

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Ints = NDArray[np.int64]

BATCH: Final = 400
"""Rays worked on at a time, to bound memory."""

SEED: Final = 7
DRAWS: Final = 64
"""Vectors in the fixed design; see `INNER`."""

SCALE: Final = 24
"""Values of the nearest rival's error that go with each of them."""

WIDER: Final = 1.9
"""How much wider than normal half of these are spread, to be weighted back."""

SIZES: Final = (1, 4, 8, 16, 24)
"""Rivals to a ray are made up to one of these, so that rays of a size are worked on at once."""

JITTER: Final = 1e-4
"""Share of a variance by which rivals err on their own, so that all can be drawn."""

ON_THE_GROUND_SIGMAS: Final = 4.0
"""Rivals nearer than this many errors of the eye's place keep their distance as it moves,
farther ones their place on the ground."""


class Doubt(NamedTuple):
    """How much higher than found the true skyline stands on average, and how surely; degrees."""

    rise_deg: Floats
    sigma_deg: Floats


def doubt_of(
    source: Source, chunks: Chunks, fits: SightFits, seen: FoundSkyline, errors: SightErrors
) -> Doubt:
    """Work out the doubt of skylines that were found before, each from its own eye.

    Parameters
    ----------
    source, chunks, fits
        The raster's.
    seen : Horizon or Skylines
        n rays.
    errors : SightErrors
        What makes them doubtful.
    """
    n = len(seen.azimuths_deg)
    each = {
        name: np.broadcast_to(np.asarray(getattr(seen, name), dtype=np.float64), n)
        for name in ("lat", "lon", "azimuths_deg", "max_distance_m", "min_distance_m", "eye_m")
    }
    known = np.flatnonzero(np.isfinite(seen.altitudes_deg))
    rise, sigma = np.full(n, np.nan), np.full(n, np.nan)
    for first in range(0, len(known), BATCH):
        some = known[first : first + BATCH]
        sights = _sights(source, fits, seen, {k: v[some] for k, v in each.items()}, some)
        rise[some], sigma[some] = skyline_doubt(chunks, source.grid.shape, sights, errors)
    return Doubt(rise, sigma)


def _sights(
    source: Source, fits: SightFits, seen: FoundSkyline, each: dict[str, Floats], some: Ints
) -> Sights:
    """Lay the rays again whose skylines were found."""
    grid = source.grid
    lines = trace_each_ray(
        grid, fits, grid.pixels(lat=each["lat"], lon=each["lon"]), each, compiled=False
    )
    keep_on_raster(lines.rows, lines.cols, grid.shape)
    return Sights(
        *lines,
        starts_m=each["min_distance_m"],
        ends_m=seen.reach_m[some],
        eyes_m=each["eye_m"],
        drop_per_m2=drop_per_m2(seen.refraction_k),
        steps_m=grid.steps_m,
        tangent=np.tan(np.radians(seen.altitudes_deg[some])),
        distance_m=seen.distances_m[some],
    )


def skyline_doubt(
    chunks: Chunks, shape: tuple[int, int], sights: Sights, errors: SightErrors
) -> Doubt:
    """Work out the true skyline's mean and standard deviation on each of n rays.

    NaN where there is no skyline.
    """
    ground = _Ground(chunks, shape, sights, errors)
    n = len(sights.tangent)
    slope = ground.slope(np.arange(n), np.zeros(n))
    rivals = find_rivals(chunks, shape, sights, errors, slope, ground.highest_aside)
    rise, sigma = np.full(n, np.nan), np.full(n, np.nan)
    count = np.bincount(rivals.ray, minlength=n)
    first = np.cumsum(count) - count
    for low, size in zip((0, *SIZES[:-1]), SIZES, strict=True):
        which = np.flatnonzero((count > low) & (count <= size))
        if which.size:
            own = np.arange(size) < count[which, None]
            at = np.where(own, first[which, None] + np.arange(size), first[which, None])
            highest = _highest_deg(ground, rivals, at, own)
            found = np.degrees(np.arctan(sights.tangent[which]))
            highest -= found[:, None, None].astype(np.float32)
            rise[which], sigma[which] = _moments(highest, size)
    return Doubt(rise, sigma)


def _moments(values: Singles, size: int) -> tuple[Floats, Floats]:
    """Mean and standard deviation over the design, values of shape (rays, scale, draws)."""
    scale, draws = design(size).scale_weights, design(size).weights
    # Each ray is summed by itself: its last digits must not hang on how many others are asked.
    mean = np.sum((values @ draws) * scale, axis=1)
    off = values - mean[:, None, None].astype(np.float32)
    return mean, np.sqrt(np.sum(((off * off) @ draws) * scale, axis=1))


class _Ground:
    """The ground about points of rays, and what the eye sees of them from aside."""

    def __init__(
        self, chunks: Chunks, shape: tuple[int, int], sights: Sights, errors: SightErrors
    ) -> None:
        self._chunks, self._shape = chunks, shape
        self.sights, self.errors = sights, errors
        down_m, across_m = sights.steps_m
        north, east = -sights.rows[:, 1] * down_m, sights.cols[:, 1] * across_m
        length = np.hypot(north, east)
        # Rows and columns a metre along and to the right of each ray.
        self._ahead = -north / length / down_m, east / length / across_m
        self._right = east / length / down_m, north / length / across_m

    def height_m(
        self, ray: Ints, s: Floats, along_m: Floats | float, across_m: Floats | float
    ) -> Floats:
        """Height so far along and beside points of rays."""
        row, col = self.sights.pixels(ray, s)
        row = row + along_m * self._ahead[0][ray] + across_m * self._right[0][ray]
        col = col + along_m * self._ahead[1][ray] + across_m * self._right[1][ray]
        shape = np.shape(row)
        z = surface_m(self._chunks, self._shape, np.ravel(row), np.ravel(col))
        return z.reshape(shape)

    def slope(self, ray: Ints, s: Floats) -> Floats:
        """Steepest slope over a cell about points of rays, rise over run."""
        half = 0.5 * self.errors.heights.cell_m
        sides = [(half, 0.0), (-half, 0.0), (0.0, half), (0.0, -half)]
        z = [self.height_m(ray, s, along, across) for along, across in sides]
        slope = np.hypot(z[0] - z[1], z[2] - z[3]) / (2.0 * half)
        return np.asarray(np.nan_to_num(slope))

    def highest_aside(self, ray: Ints, s: Floats, tangent: Floats) -> Floats:
        """Highest tangents of points of rays, from the farther places of the eye."""
        seen = self.tangents_from_aside(ray[:, None], s[:, None], tangent[:, None], PLACES[8:])
        return np.asarray(seen[:, :, 0].max(axis=1))

    def tangents_from_aside(self, ray: Ints, s: Floats, tangent: Floats, places: Floats) -> Floats:
        """Tangents of rivals, (rays, size), from places of the eye; (rays, places, size)."""
        if self.errors.position_m == 0.0:
            return np.broadcast_to(tangent[:, None, :], (len(s), len(places), s.shape[1]))
        along, across = (self.errors.position_m * places[:, k][None, :] for k in (0, 1))
        own, drop = ray[:, :1], self.sights.drop_per_m2
        at_eye = np.zeros((len(ray), 1))
        eye = self.height_m(own, at_eye, along, across)
        eye = eye - self.height_m(own, at_eye, 0.0, 0.0)
        kept = s < ON_THE_GROUND_SIGMAS * self.errors.position_m
        forward = np.where(kept[:, None, :], along[..., None], 0.0)
        ground = self.height_m(ray[:, None, :], s[:, None, :], forward, across[..., None])
        ground = ground - self.height_m(ray, s, 0.0, 0.0)[:, None, :]
        rise = (tangent + drop * s) * s
        away = s[:, None, :] - np.where(kept[:, None, :], 0.0, along[..., None])
        moved = (rise[:, None, :] + ground - eye[..., None]) / away - drop * away
        return np.where(np.isfinite(moved), moved, tangent[:, None, :])


def _highest_deg(ground: _Ground, rivals: Rivals, at: Ints, own: NDArray[np.bool_]) -> Singles:
    """Altitude of the highest rival of each ray over the design, (rays, scale, draws), degrees.

    ``at`` numbers the rivals, (rays, size); those that are not ``own`` only fill up.
    """
    s, tangent, ray = rivals.distance_m[at], rivals.tangent[at], rivals.ray[at]
    size = at.shape[1]
    factor = _factor(_tangent_covariance(ground, ray, s)).astype(np.float32)
    drawn = factor[:, :, 1:] @ design(size).vectors.T
    aside = np.swapaxes(ground.tangents_from_aside(ray, s, tangent, PLACES), 1, 2)
    drawn += aside[:, :, design(size).place].astype(np.float32)
    drawn = np.where(own[:, :, None], drawn, np.float32(-np.inf))
    first = factor[:, :, 0, None] * design(size).scale
    highest = np.full((len(at), SCALE, DRAWS), -np.inf, dtype=np.float32)
    one = np.empty_like(highest)
    for k in range(size):
        np.add(drawn[:, k, None, :], first[:, k, :, None], out=one)
        np.maximum(highest, one, out=highest)
    return np.degrees(np.arctan(highest, out=one), out=one)


def _tangent_covariance(ground: _Ground, ray: Ints, s: Floats) -> Floats:
    """Covariance of rivals' tangents but for the eye's place, (rays, size, size)."""
    errors = ground.errors
    heights, size = errors.heights, s.shape[1]
    if heights.steep_local_sigma_m == heights.local_sigma_m:
        local, eye_local = np.full(s.shape, heights.local_sigma_m), heights.local_sigma_m
        joint = _height_covariance(heights, s, local, np.full((len(s), 1), eye_local))
    else:
        local = heights.local_sigmas_m(ground.slope(ray, s))
        at_eye = heights.local_sigmas_m(ground.slope(ray[:, :1], np.zeros((len(s), 1))))
        joint = _height_covariance(heights, s, local, at_eye)
    joint += errors.eye_height_m**2
    joint /= s[:, :, None] * s[:, None, :]
    bend = errors.refraction_k / (2.0 * MEAN_EARTH_RADIUS_M) * s
    joint += bend[:, :, None] * bend[:, None, :]
    if size > 1:
        each = np.arange(size)
        joint[:, each, each] += JITTER * heights.sigma_m**2 / s**2
    return joint


def _height_covariance(
    heights: HeightErrors, s: Floats, local: Floats, eye_local: Floats
) -> Floats:
    """Covariance of rivals' heights over the eye's ground, (rays, size, size), square metres."""
    own, common = heights.between_cells
    apart = np.abs(s[:, :, None] - s[:, None, :])
    to_eye, wide_to_eye = own(s) * local * eye_local, common(s)
    joint = own(apart) * (local[:, :, None] * local[:, None, :])
    joint -= to_eye[:, :, None] + to_eye[:, None, :]
    joint += own.highest * eye_local[:, :, None] ** 2
    wide = common(apart) - wide_to_eye[:, :, None] - wide_to_eye[:, None, :]
    wide += common.highest
    return np.asarray(joint + heights.wide_sigma_m**2 * wide)


def _factor(joint: Floats) -> Floats:
    """Lower triangles whose squares the covariances are."""
    try:
        return np.asarray(np.linalg.cholesky(joint))
    except np.linalg.LinAlgError:
        values, axes = np.linalg.eigh(joint)
        return np.asarray(axes * np.sqrt(np.maximum(values, 0.0))[:, None, :])


INNER, OUTER = 6, 2
"""Draws that each of the eye's eight nearer places has, and each of the eight farther ones."""


def _places() -> tuple[Floats, Floats]:
    """Places of the eye, (16, 2), in errors along and across, and their weights, (16,).

    Two rings of eight: the squares of distances from one's own place are exponential, halved,
    and these are the nodes and weights of Gauss and Laguerre for two. A place's mirror image
    stands four on in its ring.
    """
    turn = np.pi / 4.0 * np.arange(8)
    rings = []
    for square, twist in ((2.0 - np.sqrt(2.0), 0.0), (2.0 + np.sqrt(2.0), np.pi / 8.0)):
        radius = np.sqrt(2.0 * square)
        rings.append(radius * np.stack([np.cos(turn + twist), np.sin(turn + twist)], axis=1))
    near = (2.0 + np.sqrt(2.0)) / 4.0
    return np.concatenate(rings), np.repeat([near / 8.0, (1.0 - near) / 8.0], 8)


PLACES, _PLACE_WEIGHTS = _places()


class Design(NamedTuple):
    """The fixed design for rays with ``size`` rivals.

    ``place`` (draws,) numbers the eye's places, ``vectors`` (draws, size - 1) go with the
    errors of all rivals but the nearest, with ``weights``; ``scale`` and ``scale_weights``
    (scale,) with the nearest one's.
    """

    place: Ints
    vectors: Singles
    weights: Singles
    scale: Singles
    scale_weights: Singles


@cache
def design(size: int) -> Design:
    """Lay out the design: mean nought, covariance one, and nothing in common with the places."""
    # The old generator's stream is promised never to change.
    random = np.random.RandomState(SEED)
    # Half of the places; the other half of the draws are the mirror images of these.
    place = np.concatenate([np.repeat(np.arange(4), INNER), np.repeat(np.arange(8, 12), OUTER)])
    weights = _PLACE_WEIGHTS[place] / np.where(place < 8, INNER, OUTER)
    inverse, half = NormalDist().inv_cdf, len(place)
    even = np.array([inverse(0.5 + 0.5 * (k + 0.5) / half) for k in range(half)])
    others = [random.permutation(even) * random.choice([-1.0, 1.0], half) for _ in range(size - 1)]
    drawn = np.stack([*PLACES[place].T, *others], axis=1)
    factor = np.linalg.cholesky(2.0 * (drawn.T * weights) @ drawn)
    drawn = np.linalg.solve(factor, drawn.T).T[:, 2:]
    scale, scale_weights = _wide_scale()
    mirrored = np.where(place < 8, (place + 4) % 8, 8 + (place + 4) % 8)
    return Design(
        np.concatenate([place, mirrored]),
        np.concatenate([drawn, -drawn]).astype(np.float32),
        np.concatenate([weights, weights]).astype(np.float32),
        scale.astype(np.float32),
        scale_weights.astype(np.float32),
    )


def _wide_scale() -> tuple[Floats, Floats]:
    """Values of a normal distribution that reach far out, and their weights."""
    normal, wide = NormalDist(), NormalDist(sigma=WIDER)
    grid = np.linspace(-4.5 * WIDER, 0.0, 4000)
    mixed = np.array([0.5 * (normal.cdf(float(u)) + wide.cdf(float(u))) for u in grid])
    below = np.interp((np.arange(SCALE // 2) + 0.5) / SCALE, mixed, grid)
    density = np.array([normal.pdf(u) / (normal.pdf(u) + wide.pdf(u)) for u in below.tolist()])
    scale, weights = np.concatenate([below, -below]), np.tile(density, 2)
    weights = weights / weights.sum()
    return scale / np.sqrt((weights * scale**2).sum()), weights
