"""Stands of one lens for many candidates: the numbers of `alignment.solve`, many at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.solve import SPREAD, TRIALS, level_distance_m
from backbearing.base.geodesy import altitude_of, drop_per_m2, line_between, point_along
from backbearing.camera.angles import angle_from_axis_deg, subject_angle_deg
from backbearing.camera.bodies_and_lenses import check_pair

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.base.geodesy import End
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing
    from backbearing.scouting.ranking.raster_window import Window

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LONGEST_M: Final = 4000.0
"""Stands farther off than this are not sought: the ground about a candidate is taken as flat
in rows and columns."""


@dataclass(frozen=True)
class Group:
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
    window: Window


@dataclass(frozen=True)
class ManyStands:
    """Stands of one lens, arrays of shape (n, m); NaN where there is none."""

    distance_m: Floats
    ground_m: Floats
    slope_deg: Floats
    base_altitude_deg: Floats
    top_altitude_deg: Floats


@dataclass(frozen=True)
class ManyProblem:
    """One lens's question for many candidates.

    Attributes
    ----------
    mode, optics, asked
        What the kernel fills and with what; see ``_stand_kernels``.
    trials, order : ndarray
        Distances to try for each candidate, and which brackets to try first.
    """

    group: Group
    camera: Camera
    lens: Lens
    framing: Framing
    refraction_k: float
    optics: Floats
    asked: Floats
    trials: Floats
    order: NDArray[np.int64]

    @classmethod
    def of(
        cls, group: Group, camera: Camera, lens: Lens, framing: Framing, refraction_k: float
    ) -> ManyProblem:
        """Lay out one lens's question; raises CameraError for a frame that cannot be filled."""
        check_pair(camera, lens)
        optics = np.array(
            [
                lens.focal_length_mm,
                float(lens.projection == "equisolid"),
                camera.frame_width_mm,
                camera.frame_height_mm,
            ]
        )
        asked, level = _asked(group, camera, lens, framing, refraction_k)
        trials, order = _trials(level, group.height_m, -framing.eye_height_m)
        return cls(group, camera, lens, framing, refraction_k, optics, asked, trials, order)

    def distances(self, back_deg: Floats, wanted: Flags) -> Floats:
        """Distances on back bearings, both of shape (n, m), metres."""
        from backbearing.scouting.ranking._stand_kernels import distances

        group, out = self.group, np.empty(back_deg.shape)
        distances(
            group.window.heights_m,
            group.window.origin,
            group.window.steps,
            group.ground_m,
            np.stack([group.height_m, group.width_m], axis=1),
            self.optics,
            self.asked,
            self.trials,
            self.order,
            np.ascontiguousarray(back_deg),
            np.ascontiguousarray(wanted),
            out,
        )
        return np.where(out <= LONGEST_M, out, np.nan)

    def stands(self, back_deg: Floats, wanted: Flags) -> ManyStands:
        """Stands on back bearings, both of shape (n, m)."""
        from backbearing.scouting.ranking._stand_kernels import ground_at

        distance = self.distances(back_deg, wanted)
        window = self.group.window
        ground, slope = np.empty(distance.shape), np.empty(distance.shape)
        ground_at(
            window.heights_m,
            window.origin,
            window.steps,
            np.ascontiguousarray(back_deg),
            distance,
            window.cell_m / 2.0,
            ground,
            slope,
        )
        base, top = self.altitudes(ground, distance)
        return ManyStands(distance, ground, slope, base, top)

    def altitudes(self, ground_m: Floats, distance_m: Floats) -> tuple[Floats, Floats]:
        """Altitudes of base and top from stands, shape (n, m), degrees."""
        rise = self.group.ground_m[:, None] - (ground_m + self.framing.eye_height_m)
        return (
            altitude_of(rise, distance_m, self.refraction_k),
            altitude_of(rise + self.group.height_m[:, None], distance_m, self.refraction_k),
        )

    def pitch_deg(self, base_altitude_deg: Floats) -> Floats:
        """Pitch of the axis: level, or so that the base keeps its margin, degrees."""
        if self.framing.level:
            return np.where(np.isfinite(base_altitude_deg), 0.0, np.nan)
        margin = (self.framing.base_margin - 0.5) * self.camera.frame_height_mm
        return base_altitude_deg - angle_from_axis_deg(self.lens, self.lens.rise_mm + margin)

    def settled(
        self, wanted_azimuth_deg: Callable[[Floats, Floats], Floats]
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Stands whose azimuth to the subject is the wanted one *there*, one a candidate.

        Returns latitudes, longitudes, distances and bearings to the subject, shape (n,).
        """
        here = self.group.lat, self.group.lon
        back = (wanted_azimuth_deg(*here) + 180.0) % 360.0
        for last in (False, True):
            known = np.isfinite(back)
            column = np.where(known, back, 0.0)[:, None]
            distance = self.distances(column, known[:, None])[:, 0]
            if not last:
                for _ in range(2):
                    end = _end(here, back, distance)
                    miss = wanted_azimuth_deg(end.lat, end.lon) - (end.azimuth_deg + 180.0) % 360.0
                    back = (back + (miss + 180.0) % 360.0 - 180.0) % 360.0
        end = _end(here, back, distance)
        none = ~np.isfinite(distance)
        return (
            np.where(none, np.nan, end.lat),
            np.where(none, np.nan, end.lon),
            distance,
            np.where(none, np.nan, (end.azimuth_deg + 180.0) % 360.0),
        )


def _end(here: tuple[Floats, Floats], back: Floats, distance: Floats) -> End:
    return point_along(
        lat=here[0],
        lon=here[1],
        azimuth_deg=np.nan_to_num(back),
        distance_m=np.nan_to_num(distance),
    )


def near_places(group: Group, back_deg: Floats, distance_m: Floats) -> tuple[Floats, Floats]:
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


def _asked(
    group: Group, camera: Camera, lens: Lens, framing: Framing, refraction_k: float
) -> tuple[Floats, Floats]:
    """The kernel's question, and the level distances it is tried about."""
    from backbearing.scouting.ranking._stand_kernels import ANGLE, LEVEL_HEIGHT, WIDTH

    drop = drop_per_m2(refraction_k)
    share, focal = framing.share, lens.focal_length_mm
    mode, want, margin_rad = ANGLE, share, 0.0
    if framing.share_of == "width":
        mode, level = WIDTH, group.width_m * focal / (share * camera.frame_width_mm)
        margin = lens.rise_mm + (framing.base_margin - 0.5) * camera.frame_height_mm
        margin_rad = float(np.radians(angle_from_axis_deg(lens, margin)))
    elif framing.level:
        mode, level = LEVEL_HEIGHT, group.height_m * focal / (share * camera.frame_height_mm)
    else:
        want = float(subject_angle_deg(camera, lens, share, framing.base_margin).subtended_deg)
        level = np.array(
            [level_distance_m(want, float(h), -framing.eye_height_m) for h in group.height_m]
        )
    asked = [float(mode), framing.eye_height_m, drop, want, float(framing.level), margin_rad]
    return np.array(asked), np.asarray(level, dtype=np.float64)


def _trials(level_m: Floats, height_m: Floats, base_m: float) -> tuple[Floats, NDArray[np.int64]]:
    """Distances to try as `alignment.solve` does, and brackets from the level distance out.

    Where a subject is seen from above its top, the distance at which it looks tallest is
    tried as well; elsewhere the last trial stands twice.
    """
    trial = level_m[:, None] * SPREAD ** np.linspace(-1.0, 1.0, TRIALS)
    product = base_m * (base_m + height_m)
    tallest = np.where(product > 0.0, np.sqrt(np.abs(product)), trial[:, -1])
    tallest = np.where(np.isfinite(level_m), tallest, np.nan)
    trial = np.sort(np.concatenate([trial, tallest[:, None]], axis=1), axis=1)
    off = np.abs(np.log(trial[:, :-1] / level_m[:, None]))
    return np.ascontiguousarray(trial), np.argsort(off, axis=1, kind="stable")
