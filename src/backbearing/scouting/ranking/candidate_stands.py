"""One lens's stands for many candidates, by the solver of `alignment.stand.solve`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.framing_fit import Boxes, FramingFit
from backbearing.alignment.stand.solve import StandPlaces, StandQuestions, solve_stands
from backbearing.base.geodesy import line_between

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing
    from backbearing.scouting.ranking.raster_window import RasterWindow

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LONGEST_M: Final = 4000.0
"""Stands farther off than this are not sought: the ground about a candidate is taken as flat
in rows and columns."""


@dataclass(frozen=True)
class CandidateGroup:
    """n candidates and the ground about them.

    Attributes
    ----------
    lat, lon, height_m, width_m, ground_m : ndarray, shape (n,)
        Degrees; the subjects' heights, widths and the ground under them, metres.
    """

    lat: Floats
    lon: Floats
    height_m: Floats
    width_m: Floats
    ground_m: Floats
    window: RasterWindow


@dataclass(frozen=True)
class GridStands:
    """Stands of one lens, arrays of shape (n, m); NaN where there is none."""

    distance_m: Floats
    ground_m: Floats
    slope_deg: Floats
    base_altitude_deg: Floats
    top_altitude_deg: Floats


@dataclass(frozen=True)
class LensQuestion:
    """One lens's question for a group of n candidates.

    Attributes
    ----------
    fit : FramingFit
        How each candidate fills the lens's frame.
    asked : StandQuestions
        One row a candidate.
    """

    group: CandidateGroup
    fit: FramingFit
    asked: StandQuestions

    @classmethod
    def of(
        cls,
        group: CandidateGroup,
        camera: Camera,
        lens: Lens,
        framing: Framing,
        refraction_k: float,
    ) -> LensQuestion:
        """Lay out one lens's question; raises CameraError for a frame that cannot be filled."""
        fit = FramingFit(Boxes(group.height_m, group.width_m), framing, camera, lens)
        eye = np.full(group.lat.shape, framing.eye_height_m)
        asked = StandQuestions(
            base_m=group.ground_m,
            height_m=group.height_m,
            eye_height_m=eye,
            base_over_eye_m=-eye,
            level_m=fit.level_m(-eye),
            refraction_k=refraction_k,
            excess=fit.excess,
        )
        return cls(group, fit, asked)

    def stands(self, back_deg: Floats, wanted: Flags) -> GridStands:
        """Stands on back bearings, both of shape (n, m)."""
        candidate, node = np.nonzero(wanted & np.isfinite(self.group.ground_m)[:, None])
        back, window = back_deg[candidate, node], self.group.window
        boxes = Boxes(self.group.height_m[candidate], self.group.width_m[candidate])
        asked = self.asked.rows(candidate, replace(self.fit, shapes=boxes).excess)
        distance = asked.distances_m(window.along(candidate, back))
        distance[~(distance <= LONGEST_M)] = np.nan
        found = np.flatnonzero(np.isfinite(distance))
        candidate, node, distance = candidate[found], node[found], distance[found]
        ground, slope = window.ground_and_slope(candidate, back[found], distance)
        base, top = asked.altitudes_deg(found, ground, distance)

        def spread(values: Floats) -> Floats:
            out = np.full(back_deg.shape, np.nan)
            out[candidate, node] = values
            return out

        return GridStands(*(spread(values) for values in (distance, ground, slope, base, top)))

    def settled(
        self, wanted_azimuth_deg: Callable[[Floats, Floats], Floats], wanted: Flags
    ) -> StandPlaces:
        """Stands whose azimuth to the subject is the wanted one *there*, one a candidate.

        ``wanted`` tells which candidates are to have one, shape (n,).
        """
        group, every = self.group, np.arange(len(self.group.lat))
        level = np.where(wanted & np.isfinite(group.ground_m), self.asked.level_m, np.nan)
        places = solve_stands(
            replace(self.asked, level_m=level),
            lat=group.lat,
            lon=group.lon,
            ground_along=lambda back_deg: group.window.along(every, back_deg),
            wanted_azimuth_deg=wanted_azimuth_deg,
        )
        return places.where(places.distance_m <= LONGEST_M)


def near_places(
    group: CandidateGroup, back_deg: Floats, distance_m: Floats
) -> tuple[Floats, Floats]:
    """Latitudes and longitudes of places about the candidates, shape (n, m).

    By the Earth's two radii of curvature at the candidate; within 0.2 m of the geodesic at
    1 km up to latitude 60.
    """
    metres = [
        line_between(
            lat1=group.lat, lon1=group.lon, lat2=group.lat + dlat, lon2=group.lon + dlon
        ).distance_m
        / 1e-3
        for dlat, dlon in ((1e-3, 0.0), (0.0, 1e-3))
    ]
    back = np.radians(back_deg)
    return (
        group.lat[:, None] + distance_m * np.cos(back) / metres[0][:, None],
        group.lon[:, None] + distance_m * np.sin(back) / metres[1][:, None],
    )
