"""A raster with skyline marks over it: asked like any other, it answers with both."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.terrain.elevation import Elevation
from backbearing.terrain.skyline.doubt import Doubt

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.height_errors import SightErrors
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.marks.marked_rays import MarkedRays
    from backbearing.terrain.marks.over_raster import SkylineMarks
    from backbearing.terrain.skylines import Skylines

    Floats = NDArray[np.float64]


class MarkedElevation(Elevation):
    """An elevation raster whose skylines stand as high as measured marks do.

    Heights, slopes, drops and maps of the whole raster are those of the raster alone: marks
    know nothing of the ground.

    Parameters
    ----------
    bare : Elevation
        The raster. What it has read and prepared is shared.
    marks : SkylineMarks
    key : hashable
        What the marks were made from, so that they need not be made again.
    """

    def __init__(self, bare: Elevation, marks: SkylineMarks, key: Hashable = None) -> None:
        self.__dict__.update(vars(bare))
        self.bare = bare
        self.marks = marks
        self.key = key

    def horizon(self, **question: Any) -> Horizon:
        """As :meth:`.Elevation.horizon`, raised to the marks."""
        return self.marks.over(self.bare.horizon(**question))

    def skylines(self, **question: Any) -> Skylines:
        """As :meth:`.Elevation.skylines`, raised to the marks."""
        return self.marks.over(self.bare.skylines(**question))

    def skyline_doubt(self, seen: Horizon | Skylines, errors: SightErrors) -> Doubt:
        """As :meth:`.Elevation.skyline_doubt`; where a mark makes the skyline, the mark's doubt.

        That of its reading, of how far away the thing may be, and of the eye's own place.
        """
        rays = seen.marked
        if rays is None or not rays.are_marked.any():
            return self.bare.skyline_doubt(seen, errors)
        marked = rays.are_marked
        rest = replace(seen, altitudes_deg=np.where(marked, np.nan, seen.altitudes_deg))
        found = self.bare.skyline_doubt(rest, errors)
        sigma = np.hypot(rays.sigma_deg, _from_the_eye_deg(seen.altitudes_deg, rays, errors))
        return Doubt(
            np.where(marked, rays.rise_deg, found.rise_deg),
            np.where(marked, sigma, found.sigma_deg),
        )

    def with_marks_over(self, found: Skylines, *, raised_m: ArrayLike) -> Skylines:
        """Raise a skyline of the bare raster to the marks, seen by eyes so much higher."""
        return self.marks.over(found, raised_m=raised_m)


def bare_of(elevation: Elevation) -> Elevation:
    """The raster alone, without marks over it."""
    return elevation.bare if isinstance(elevation, MarkedElevation) else elevation


def _from_the_eye_deg(altitudes_deg: Floats, rays: MarkedRays, errors: SightErrors) -> Floats:
    """One standard deviation of a mark's altitude by the eye's place and height, degrees."""
    tilt = np.radians(altitudes_deg)
    along = np.sin(tilt) * np.cos(tilt) * errors.position_m
    up = np.cos(tilt) ** 2 * errors.eye_height_m
    aside = rays.slope * errors.position_m
    return np.asarray(np.degrees(np.sqrt(along**2 + up**2 + aside**2) / rays.thing_m))
