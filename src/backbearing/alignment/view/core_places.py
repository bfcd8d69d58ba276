"""What one may mean by the core, as it falls in a frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import unit_vectors
from backbearing.plan.view import SkyPlace
from backbearing.sky.targets import CORE_PLACES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.view.sky_rotation import SkyTurn
    from backbearing.camera.framing import Frame

    Floats = NDArray[np.float64]

SHORT: Final = {"core": "Sgr A*"}
"""Names on the picture, where they are not those of the outing file."""


def core_places(frame: Frame, turn: SkyTurn, ridge: Floats) -> tuple[SkyPlace, ...]:
    """Find the places about the core that lie in the frame and over the land.

    Parameters
    ----------
    frame : Frame
    turn : SkyTurn
    ridge : ndarray, shape (n, 2)
        Skyline of all ground in the frame, left to right.
    """
    ra, dec = np.array([(one.ra_deg, one.dec_deg) for one in CORE_PLACES.values()], dtype=float).T
    azimuth, altitude = turn.horizontal(unit_vectors(lon_deg=ra, lat_deg=dec))
    x, y = frame.place(azimuth, altitude)
    land = np.interp(x, *ridge.T) if len(ridge) else np.zeros(x.shape)
    with np.errstate(invalid="ignore"):
        shown = (altitude > 0.0) & (x >= 0.0) & (x <= 1.0) & (y >= 0.0) & (y <= 1.0) & (y > land)
    return tuple(
        SkyPlace(SHORT.get(name, name), float(x[i]), float(y[i]))
        for i, name in enumerate(CORE_PLACES)
        if shown[i]
    )
