"""How bright the Milky Way is in every direction: a model, dark lane included.

The light is that of an exponential disc (scale length 2.6 kpc, height 0.30 kpc, the Sun 8.2 kpc
out and 0.025 kpc up [BlandHawthorn2016]_) and of the bar (model G2 of [Dwek1995]_, its near end
25 degrees from the line of sight [Stanek1996]_), dimmed on its way by an exponential sheet of dust
(length 3.2 kpc, height 0.10 kpc [LAMOST2018]_; [Drimmel2001]_ has 0.28 of the Sun's distance, 2.3
kpc), 0.7 magnitude a kiloparsec at the Sun (R. J. Trumpler's mean of 1930, at second hand). That
makes the band, the bulge and the dark lane between. Large dark clouds [Lynds1962]_ and bright
star clouds are added as soft ellipses, their places and sizes from memory to a degree or two
(the Coalsack, the Small Sagittarius cloud M 24 and the Magellanic Clouds stand where catalogues
have them), their depths by eye. Read the picture for where things fall and how
large they are, not for what a camera will record.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SUN_KPC: Final = 8.2
SUN_UP_KPC: Final = 0.025
DISC_LENGTH_KPC: Final = 2.6
DISC_HEIGHT_KPC: Final = 0.30
DUST_HEIGHT_KPC: Final = 0.10
DUST_LENGTH_KPC: Final = 3.2
DUST_MAG_KPC: Final = 0.7
BAR_KPC: Final = (1.58, 0.62, 0.43)
BAR_ANGLE_DEG: Final = 25.0
BAR_LIGHT: Final = 24.0
"""Of the bar's centre against the disc at the Sun; by eye."""

L_STEP_DEG: Final = 1.0
B_STEP_DEG: Final = 0.5
B_LIMIT_DEG: Final = 60.0

PATCH_REACH: Final = 4.0
"""Half lengths from its middle beyond which a soft ellipse has less than 1e-15 of its light."""

BULGE_REACH_DEG: Final = 12.0

DARK_CLOUDS: Final = (
    # l, b, half length, half width (degrees), turn from the plane (degrees), depth (mag)
    ("Aquila Rift", 29.0, 3.8, 11.0, 3.0, -8.0, 1.3),
    ("Serpens", 17.0, 5.5, 8.0, 3.2, 15.0, 1.1),
    ("Vulpecula Rift", 55.0, 0.8, 10.0, 2.0, -3.0, 1.0),
    ("Cygnus Rift", 79.0, 0.2, 7.0, 2.2, 6.0, 1.1),
    ("Ophiuchus", 354.0, 16.5, 4.5, 2.4, -35.0, 0.6),
    ("Pipe", 359.0, 4.6, 5.5, 1.7, -18.0, 1.1),
    ("Ophiuchus sheet", 4.0, 3.2, 11.0, 2.8, 12.0, 0.8),
    ("Ophiuchus north", 7.0, 9.0, 7.0, 2.6, 25.0, 0.7),
    ("Scorpius", 347.0, 2.6, 6.0, 2.2, -10.0, 0.7),
    ("Lupus", 339.0, 10.0, 4.5, 2.5, 20.0, 0.5),
    ("Circinus", 318.0, -4.0, 3.0, 1.5, 0.0, 0.6),
    ("Coalsack", 302.0, -0.5, 3.2, 2.3, 0.0, 1.4),
    ("Taurus", 171.0, -15.0, 7.0, 3.5, -20.0, 0.5),
)
BRIGHT_CLOUDS: Final = (
    # l, b, half length, half width, turn (degrees), strength against the disc's own light there
    ("Large Sagittarius", 2.0, -3.2, 4.2, 2.0, 0.0, 0.5),
    ("Small Sagittarius", 12.6, -1.0, 1.3, 0.7, 0.0, 0.9),
    ("Scutum", 26.8, -2.9, 2.4, 1.7, 0.0, 0.7),
    ("Cygnus", 71.0, 2.8, 7.0, 2.4, 8.0, 0.8),
    ("Norma", 331.0, -1.6, 5.0, 1.8, 0.0, 0.4),
    ("Carina", 287.0, -0.8, 4.5, 1.8, 0.0, 0.7),
)
MAGELLANIC: Final = (
    # l, b, half size (degrees), light against the sky map's largest
    ("Large Magellanic Cloud", 280.5, -32.9, 2.6, 0.16),
    ("Small Magellanic Cloud", 302.8, -44.3, 1.3, 0.10),
)


def brightness(l_deg: Floats, b_deg: Floats) -> Floats:
    """Relative surface brightness of galactic directions, 1 at its largest.

    Parameters
    ----------
    l_deg, b_deg : ndarray
        Galactic longitude and latitude, degrees, of one shape.
    """
    magnitudes = np.zeros(np.shape(b_deg))
    for _, l0, b0, long, wide, turn, depth in DARK_CLOUDS:
        near, soft = _patch(l_deg, b_deg, l0, b0, long, wide, turn)
        magnitudes[near] += depth * soft
    light = _between(smooth_map(), l_deg, b_deg) * 10.0 ** (-0.4 * magnitudes)
    for _, l0, b0, long, wide, turn, more in BRIGHT_CLOUDS:
        near, soft = _patch(l_deg, b_deg, l0, b0, long, wide, turn)
        light[near] *= 1.0 + more * soft
    for _, l0, b0, size, own in MAGELLANIC:
        near, soft = _patch(l_deg, b_deg, l0, b0, size, size * 0.8, 20.0)
        light[near] += own * soft
    return light


def brightness_coarse(l_deg: Floats, b_deg: Floats) -> Floats:
    """Do as `brightness` from a map of half degrees, for small pictures: a tenth of the work."""
    return _between(whole_map(), l_deg, b_deg, L_STEP_DEG / 2.0, 90.0)


@cache
def whole_map() -> Floats:
    """All that `brightness` gives, shape (721, 361): every half degree of l and b."""
    l_deg, b_deg = np.meshgrid(
        np.arange(0.0, 360.0 + L_STEP_DEG / 4.0, L_STEP_DEG / 2.0),
        np.arange(-90.0, 90.0 + B_STEP_DEG / 2.0, B_STEP_DEG),
        indexing="ij",
    )
    light = brightness(l_deg, b_deg)
    light.setflags(write=False)
    return light


def middle_of_bulge_light() -> tuple[float, float]:
    """Galactic longitude and latitude of the middle of the bright bulge, degrees.

    Of all within `BULGE_REACH_DEG` of the centre that is more than half as bright as the
    brightest there, dark lane and star clouds included, as the eye takes a bright patch.
    """
    along = np.arange(-BULGE_REACH_DEG, BULGE_REACH_DEG + 0.05, 0.1)
    l_deg, b_deg = np.meshgrid(along, along)
    light = brightness(l_deg, b_deg)
    light[np.hypot(l_deg, b_deg) > BULGE_REACH_DEG] = 0.0
    share = (light > 0.5 * light.max()) * np.cos(np.radians(b_deg))
    middle = [float((part * share).sum() / share.sum()) for part in (l_deg, b_deg)]
    return middle[0], middle[1]


def _patch(
    l_deg: Floats, b_deg: Floats, l0: float, b0: float, long: float, wide: float, turn_deg: float
) -> tuple[NDArray[np.bool_], Floats]:
    """A soft ellipse about a place: which directions it reaches, and its light there.

    That is 1 in its middle and a third at its rim.
    """
    near = np.abs(b_deg - b0) < PATCH_REACH * long
    up = b_deg[near] - b0
    across = wrap_180_deg(l_deg[near] - l0) * np.cos(np.radians(b_deg[near]))
    turn = np.radians(turn_deg)
    u = (across * np.cos(turn) + up * np.sin(turn)) / long
    v = (up * np.cos(turn) - across * np.sin(turn)) / wide
    return near, np.asarray(np.exp(-np.minimum((u * u + v * v) ** 1.3, 50.0)))


@cache
def smooth_map() -> Floats:
    """Disc, bar and dust alone, shape (361, rows): l from 0 to 360, b rising; 1 at most."""
    l_deg = np.arange(0.0, 360.0 + L_STEP_DEG / 2.0, L_STEP_DEG)
    b_deg = np.arange(-B_LIMIT_DEG, B_LIMIT_DEG + B_STEP_DEG / 2.0, B_STEP_DEG)
    along, up = np.radians(l_deg)[:, None], np.radians(b_deg)[None, :]
    edges = np.concatenate([[0.0], np.geomspace(0.05, 22.0, 64)])
    light = np.zeros((l_deg.size, b_deg.size))
    dust = np.zeros_like(light)
    for near, far in pairwise(edges.tolist()):
        s, step = (near + far) / 2.0, far - near
        x = SUN_KPC - s * np.cos(up) * np.cos(along)
        y = s * np.cos(up) * np.sin(along)
        z = SUN_UP_KPC + s * np.sin(up)
        out = np.hypot(x, y)
        dimming = (
            DUST_MAG_KPC
            * step
            * np.exp(
                np.minimum((SUN_KPC - out) / DUST_LENGTH_KPC, 1.6) - np.abs(z) / DUST_HEIGHT_KPC
            )
        )
        seen = 10.0 ** (-0.4 * (dust + dimming / 2.0))
        light += step * seen * (_disc(out, z) + _bar(x, y, z))
        dust += dimming
    light /= light.max()
    light.setflags(write=False)
    return light


def _disc(out_kpc: Floats, up_kpc: Floats) -> Floats:
    return np.asarray(
        np.exp((SUN_KPC - out_kpc) / DISC_LENGTH_KPC - np.abs(up_kpc) / DISC_HEIGHT_KPC)
    )


def _bar(x_kpc: Floats, y_kpc: Floats, z_kpc: Floats) -> Floats:
    turn = np.radians(BAR_ANGLE_DEG)
    # The near end of the bar lies at positive longitude.
    along = x_kpc * np.cos(turn) + y_kpc * np.sin(turn)
    across = y_kpc * np.cos(turn) - x_kpc * np.sin(turn)
    a, b, c = BAR_KPC
    flat = ((along / a) ** 2 + (across / b) ** 2) ** 2
    radius_squared = np.sqrt(flat + (z_kpc / c) ** 4)
    return np.asarray(BAR_LIGHT * np.exp(-0.5 * radius_squared))


def _between(
    grid: Floats,
    l_deg: Floats,
    b_deg: Floats,
    l_step_deg: float = L_STEP_DEG,
    b_limit_deg: float = B_LIMIT_DEG,
) -> Floats:
    """Bilinear between the map's points; held beyond its last latitudes."""
    u = wrap_360_deg(l_deg) / l_step_deg
    v = (np.clip(b_deg, -b_limit_deg, b_limit_deg) + b_limit_deg) / B_STEP_DEG
    i = np.minimum(u.astype(np.int64), grid.shape[0] - 2)
    j = np.minimum(v.astype(np.int64), grid.shape[1] - 2)
    p, q = u - i, v - j
    return np.asarray(
        grid[i, j] * (1 - p) * (1 - q)
        + grid[i + 1, j] * p * (1 - q)
        + grid[i, j + 1] * (1 - p) * q
        + grid[i + 1, j + 1] * p * q
    )
