"""How a camera really pointed, from the stars in its frame.

The seed is what the plan says: roughly where the lens pointed and how long it is. Pairs of the
picture's bright stars are laid upon pairs of the catalogue's that stand as far apart; the turn
under which most other stars find one of the catalogue is refined by least squares, with the focal
length and one term of radial distortion. No picture is needed beyond the list of its stars.

A turn of the camera about the pole and an error of its clock look the same in one frame: what is
found holds for the time that was given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, east_north_up, wrap_180_deg
from backbearing.camera.projection import rays_of_sensor, sensor_of_rays

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.camera.frame_attitude import FrameOptics
    from backbearing.review.star_list import StarList

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

FEWEST_MATCHED: Final = 8
"""Fewer stars than this are no solution: chance lays so many upon others."""

FARTHEST_SEED_DEG: Final = 25.0
"""A camera aimed by hand points so near its plan, and is held so level."""

SCALE_SLACK: Final = 0.06
"""A focal length is within six percent of what the lens says (makers round it)."""

LEAST_SHARE: Final = 0.25
"""Of the brightest stars of the picture, or of the catalogue in it, so many meet the other's."""

_BRIGHTEST: Final = 40
_PAIRED: Final = 22
_CATALOGUE: Final = 90
_LEAST_PAIR_DEG: Final = 2.5
_LAID_DEG: Final = 0.35


class Sky(NamedTuple):
    """The catalogue's stars over one place at one moment, arrays (n,), degrees and magnitudes."""

    azimuth_deg: Floats
    altitude_deg: Floats
    magnitude: Floats


class Seed(NamedTuple):
    """Where the lens pointed by the plan, degrees; the camera level."""

    azimuth_deg: float
    pitch_deg: float


@dataclass(frozen=True, slots=True)
class PlateSolution:
    """How a frame was held, as its stars tell.

    Attributes
    ----------
    optics : FrameOptics
        With the focal length found.
    azimuth_deg, pitch_deg, roll_deg : float
        Of the axis; roll clockwise as seen from behind.
    distortion : float
        By what share a place at the corner lies farther out than an ideal lens would have it.
    stars : int
        Matched to the catalogue.
    misfit_px : float
        Root mean square of what they are off, in one coordinate.
    sigma_deg : float
        Of the axis's direction, one standard deviation, from that misfit.
    focal_sigma_mm : float
    turn : ndarray, shape (3, 3)
        From east, north, up to the camera's right, forward, up.
    """

    optics: FrameOptics
    azimuth_deg: float
    pitch_deg: float
    roll_deg: float
    distortion: float
    stars: int
    misfit_px: float
    sigma_deg: float
    focal_sigma_mm: float
    turn: Floats

    def place(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Column and row, pixels from the top left one's middle, of apparent directions."""
        seen = east_north_up(azimuth_deg=azimuth_deg, altitude_deg=altitude_deg)
        return _placed(self.optics, self.turn, self.distortion, seen)

    def directions(self, column_px: ArrayLike, row_px: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuth and apparent altitude, degrees, that pixels look at: `place` undone."""
        column, row = (np.asarray(v, dtype=np.float64) for v in (column_px, row_px))
        x = (column - (self.optics.width_px - 1) / 2.0) * self.optics.pixel_mm
        y = ((self.optics.height_px - 1) / 2.0 - row) * self.optics.pixel_mm
        y = y + self.optics.lens.rise_mm
        corner = _corner_mm(self.optics)
        far = np.hypot(x, y) / corner
        true = far
        for _ in range(6):
            true = far / (1.0 + self.distortion * true**2)
        shrink = np.where(far > 0.0, true / np.where(far > 0.0, far, 1.0), 1.0)
        right, up, forward = rays_of_sensor(self.optics.lens, x * shrink, y * shrink)
        seen = np.tensordot(self.turn.T, np.stack([right, forward, up]), axes=1)
        return azimuth_altitude_of(*seen)


def solve_plate(stars: StarList, sky: Sky, optics: FrameOptics, seed: Seed) -> PlateSolution | None:
    """Match a picture's stars to the catalogue.

    Parameters
    ----------
    stars : StarList
        Brightest first.
    sky : Sky
        The catalogue over the stand, at the middle of the exposure.
    optics : FrameOptics
        With the focal length that the lens says.
    seed : Seed

    Returns
    -------
    PlateSolution or None
        None where no turn of the camera lays enough stars upon the catalogue.
    """
    if len(stars.column_px) < FEWEST_MATCHED:
        return None
    near = _near(sky, optics, seed)
    if len(near.magnitude) < FEWEST_MATCHED:
        return None
    first = _laid_upon(stars, near, optics, seed)
    found = None if first is None else _refined(stars, near, *first)
    return found if found is not None and _shared(found, stars, near) >= LEAST_SHARE else None


def _near(sky: Sky, optics: FrameOptics, seed: Seed) -> Sky:
    """The stars above the horizon that a frame near the seed can hold, brightest first."""
    corner = math.degrees(math.atan2(_corner_mm(optics), optics.lens.focal_length_mm))
    if optics.lens.projection != "rectilinear":
        corner = math.degrees(_corner_mm(optics) / optics.lens.focal_length_mm)
    seen = east_north_up(azimuth_deg=sky.azimuth_deg, altitude_deg=sky.altitude_deg)
    axis = east_north_up(azimuth_deg=seed.azimuth_deg, altitude_deg=seed.pitch_deg)
    apart = np.degrees(np.arccos(np.clip(axis @ seen, -1.0, 1.0)))
    kept = np.flatnonzero((sky.altitude_deg > 0.0) & (apart < corner + FARTHEST_SEED_DEG))
    kept = kept[np.argsort(sky.magnitude[kept])]
    return Sky(*(values[kept] for values in sky))


def _laid_upon(
    stars: StarList, sky: Sky, optics: FrameOptics, seed: Seed
) -> tuple[FrameOptics, Floats] | None:
    """The turn and focal length under which most bright stars meet one of the catalogue."""
    right, up, forward = optics.rays(stars.column_px[:_BRIGHTEST], stars.row_px[:_BRIGHTEST])
    own = np.stack([right, forward, up])
    paired = min(_PAIRED, own.shape[1])
    bright = Sky(*(values[:_CATALOGUE] for values in sky))
    there = east_north_up(azimuth_deg=bright.azimuth_deg, altitude_deg=bright.altitude_deg)
    apart = _apart(there)
    ours = _apart(own)
    best: tuple[int, float, Floats] = (0, 1.0, np.eye(3))
    for i in range(paired):
        for j in range(i):
            if ours[i, j] < math.radians(_LEAST_PAIR_DEG):
                continue
            ratio = apart / ours[i, j]
            first, second = np.nonzero(np.abs(ratio - 1.0) < SCALE_SLACK)
            if len(first) == 0:
                continue
            turns = _turns(own[:, i], own[:, j], there[:, first], there[:, second])
            kept = _plausible(turns, seed)
            if not kept.any():
                continue
            turns, scale = turns[kept], ratio[first[kept], second[kept]]
            met = _met(own, there, turns, scale)
            top = int(met.argmax())
            if met[top] > best[0]:
                best = int(met[top]), float(scale[top]), turns[top]
    if best[0] < FEWEST_MATCHED - 2:
        return None
    lens = replace(optics.lens, focal_length_mm=optics.lens.focal_length_mm / best[1])
    return replace(optics, lens=lens), best[2]


def _apart(vectors: Floats) -> Floats:
    """Angles between all pairs of unit vectors (3, n), radians."""
    return np.asarray(np.arccos(np.clip(vectors.T @ vectors, -1.0, 1.0)))


def _turns(a: Floats, b: Floats, there_a: Floats, there_b: Floats) -> Floats:
    """Turns (m, 3, 3) from the world to the camera that lay two directions upon two rays."""
    own = _triad(a[:, None], b[:, None])[0]
    world = _triad(there_a, there_b)
    return np.asarray(own.T @ world)


def _triad(first: Floats, second: Floats) -> Floats:
    """Right-handed axes (m, 3, 3), a row each, on the middle and the plane of two directions.

    Taking the middle shares a wrong distance between the two.
    """
    middle = (first + second).T
    middle /= np.linalg.norm(middle, axis=1, keepdims=True)
    across = np.cross(first.T, second.T)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    return np.stack([middle, across, np.cross(middle, across)], axis=1)


def _plausible(turns: Floats, seed: Seed) -> Flags:
    """Whether turns point near the seed, the camera not far from level."""
    axis = east_north_up(azimuth_deg=seed.azimuth_deg, altitude_deg=seed.pitch_deg)
    level = east_north_up(azimuth_deg=seed.azimuth_deg + 90.0, altitude_deg=0.0)
    least = math.cos(math.radians(FARTHEST_SEED_DEG))
    return np.asarray((turns[:, 1] @ axis > least) & (turns[:, 0] @ level > least))


def _met(own: Floats, there: Floats, turns: Floats, scale: Floats) -> NDArray[np.int64]:
    """How many rays meet a direction under each turn, each direction counted once."""
    least = math.cos(math.radians(_LAID_DEG))
    found = np.empty(len(turns), dtype=np.int64)
    for begin in range(0, len(turns), 256):
        part = slice(begin, begin + 256)
        stretched = np.repeat(own[None], len(turns[part]), axis=0)
        stretched[:, ::2] *= scale[part, None, None]
        stretched /= np.linalg.norm(stretched, axis=1, keepdims=True)
        seen = np.matmul(turns[part], there)
        close = np.matmul(stretched.transpose(0, 2, 1), seen) > least
        found[part] = np.minimum(close.any(axis=2).sum(axis=1), close.any(axis=1).sum(axis=1))
    return found


def _refined(stars: StarList, sky: Sky, optics: FrameOptics, turn: Floats) -> PlateSolution | None:
    """Least squares over more and more stars, matched ever more closely."""
    distortion = 0.0
    pixel_deg = optics.pixel_deg
    seen = east_north_up(azimuth_deg=sky.azimuth_deg, altitude_deg=sky.altitude_deg)
    fit = None
    for limit, within_deg in ((4.0, 0.4), (4.5, 0.25), (5.5, 0.15), (7.0, 0.1), (7.0, 0.06)):
        within = max(within_deg / pixel_deg, 3.0)
        bright = np.flatnonzero(sky.magnitude < limit)
        pairs = _pairs(stars, seen[:, bright], optics, turn, distortion, within)
        if len(pairs[0]) < FEWEST_MATCHED:
            # Too few bright ones in a narrow frame: the fainter may do.
            continue
        fit = _fit(stars, seen[:, bright], pairs, optics, turn, distortion)
        optics, turn, distortion = fit.optics, fit.turn, fit.distortion
    return fit


def _shared(found: PlateSolution, stars: StarList, sky: Sky) -> float:
    """Which share of the brightest meets a star of the other side, whichever side is more.

    Cloud hides the catalogue's, lights of a foreground hide the picture's; a solution that lies
    on chance meets neither.
    """
    from scipy.spatial import cKDTree

    column, row = found.place(sky.azimuth_deg, sky.altitude_deg)
    width, height = found.optics.width_px, found.optics.height_px
    with np.errstate(invalid="ignore"):
        inside = (column > 0.0) & (column < width) & (row > 0.0) & (row < height)
    ours = np.stack([stars.column_px, stars.row_px], axis=1)
    theirs = np.stack([column[inside], row[inside]], axis=1)
    if len(theirs) == 0:
        return 0.0
    within = max(0.06 / found.optics.pixel_deg, 3.0)
    own, _ = cKDTree(theirs).query(ours[:_BRIGHTEST])
    back, _ = cKDTree(ours).query(theirs[:_BRIGHTEST])
    return max(float((own < within).mean()), float((back < within).mean()))


def _pairs(
    stars: StarList,
    seen: Floats,
    optics: FrameOptics,
    turn: Floats,
    distortion: float,
    within: float,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Picture's and catalogue's stars that are each other's nearest, brighter ones first."""
    from scipy.spatial import cKDTree

    column, row = _placed(optics, turn, distortion, seen)
    inside = np.isfinite(column) & np.isfinite(row)
    there = np.flatnonzero(inside)
    if len(there) == 0:
        return there, there
    ours = np.stack([stars.column_px, stars.row_px], axis=1)
    theirs = np.stack([column[there], row[there]], axis=1)
    far, nearest = cKDTree(theirs).query(ours)
    _, back = cKDTree(ours).query(theirs)
    own = np.flatnonzero((far < within) & (back[nearest] == np.arange(len(ours))))
    return own, there[nearest[own]]


def _fit(
    stars: StarList,
    seen: Floats,
    pairs: tuple[NDArray[np.int64], NDArray[np.int64]],
    optics: FrameOptics,
    turn: Floats,
    distortion: float,
) -> PlateSolution:
    """Turn, focal length and distortion that leave the matched stars the least off."""
    from scipy.optimize import least_squares

    own, there = pairs
    column, row, seen = stars.column_px[own], stars.row_px[own], seen[:, there]

    def settled(p: Floats) -> tuple[FrameOptics, Floats, float]:
        focal = optics.lens.focal_length_mm * math.exp(p[3])
        lens = replace(optics.lens, focal_length_mm=focal)
        return replace(optics, lens=lens), _turned(p[:3]) @ turn, float(p[4])

    def off(p: Floats) -> Floats:
        found = _placed(*settled(p), seen)
        # A star behind the camera is as far off as can be.
        apart = np.concatenate([found[0] - column, found[1] - row])
        return np.asarray(np.nan_to_num(apart, nan=1e3))

    start = np.array([0.0, 0.0, 0.0, 0.0, distortion])
    slack = 1.0
    done = least_squares(
        off, start, loss="soft_l1", f_scale=slack, x_scale=[1e-3, 1e-3, 1e-3, 1e-3, 1e-2]
    )
    left = off(done.x)
    # The scatter without the few that are matched wrongly: from the median, as of a normal one.
    misfit = 1.4826 * float(np.median(np.abs(left)))
    spread = np.linalg.pinv(done.jac.T @ done.jac) * max(misfit, 0.02) ** 2
    best, found, k = settled(done.x)
    azimuth, pitch, roll = _angles(found)
    return PlateSolution(
        optics=best,
        azimuth_deg=azimuth,
        pitch_deg=pitch,
        roll_deg=roll,
        distortion=k,
        stars=len(own),
        misfit_px=float(np.sqrt(np.mean(np.minimum(left**2, (4.0 * max(misfit, 0.02)) ** 2)))),
        sigma_deg=math.degrees(math.sqrt(max(spread[0, 0], spread[1, 1]))),
        focal_sigma_mm=best.lens.focal_length_mm * math.sqrt(spread[3, 3]),
        turn=found,
    )


def _placed(
    optics: FrameOptics, turn: Floats, distortion: float, seen: Floats
) -> tuple[Floats, Floats]:
    """Columns and rows of directions (3, n); NaN behind the camera."""
    right, forward, up = np.tensordot(turn, seen, axes=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        x, y = sensor_of_rays(optics.lens, right, up, forward)
    stretch = 1.0 + distortion * (x**2 + y**2) / _corner_mm(optics) ** 2
    column = x * stretch / optics.pixel_mm + (optics.width_px - 1) / 2.0
    row = (optics.height_px - 1) / 2.0 - (y * stretch - optics.lens.rise_mm) / optics.pixel_mm
    return np.asarray(column), np.asarray(row)


def _corner_mm(optics: FrameOptics) -> float:
    return math.hypot(optics.width_px, optics.height_px) * optics.pixel_mm / 2.0


def _turned(vector: Floats) -> Floats:
    """The turn by a vector's length, radians, about it (Rodrigues' formula)."""
    x, y, z = vector
    across = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    size = float(np.linalg.norm(vector))
    if size < 1e-12:
        return np.asarray(np.eye(3) + across, dtype=np.float64)
    sine, bend = math.sin(size) / size, (1.0 - math.cos(size)) / size**2
    return np.asarray(np.eye(3) + sine * across + bend * (across @ across), dtype=np.float64)


def _angles(turn: Floats) -> tuple[float, float, float]:
    """Azimuth, pitch and roll of a turn from east, north, up to right, forward, up."""
    azimuth, pitch = (float(v) for v in azimuth_altitude_of(*turn[1]))
    heading = math.radians(azimuth)
    level = np.array([math.cos(heading), -math.sin(heading), 0.0])
    upright = np.cross(level, turn[1])
    roll = math.degrees(math.atan2(-float(turn[0] @ upright), float(turn[0] @ level)))
    return azimuth, pitch, float(wrap_180_deg(roll))
