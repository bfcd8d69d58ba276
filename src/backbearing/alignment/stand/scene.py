"""What all lenses of a night share: subject, target, camera, framing and ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.framing_fit import FramingFit, OneShape
from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import TerrainError
from backbearing.base.numbers import num
from backbearing.outing.subject import POSITION_SIGMA_M
from backbearing.terrain.reading.products import ASSUMED_ERRORS

if TYPE_CHECKING:
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.land.dark_sky import DarkSky
    from backbearing.outing.subject import Framing, Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.height_errors import StatedErrors
    from backbearing.weather.forecast import CloudForecast


@dataclass(frozen=True, slots=True)
class Scene:
    """Subject, target, camera, framing and ground, with the ground at the subject known."""

    subject: Subject
    subject_ground_m: float
    target: Target
    camera: Camera
    framing: Framing
    elevation: Elevation | None
    refraction_k: float = DEFAULT_REFRACTION_K
    reach_m: float = DEFAULT_REACH_M
    height_errors: StatedErrors = ASSUMED_ERRORS
    position_sigma_m: float = POSITION_SIGMA_M
    canopy_m: float = 0.0
    clearing_m: float = 100.0
    forecast: CloudForecast | None = None
    dark_sky: DarkSky | None = None

    def with_drop(self, stand_drop_m: float | None) -> Scene:
        """Return the scene with one lens's own measured drop, if it has one."""
        if stand_drop_m is None:
            return self
        return replace(self, framing=replace(self.framing, stand_drop_m=stand_drop_m))

    def with_share(self, share: float | None) -> Scene:
        """Return the scene with one lens's own share, if it has one."""
        if share is None:
            return self
        return replace(self, framing=replace(self.framing, share=share))

    def fit(self, lens: Lens) -> FramingFit:
        """Tell how the subject fills this lens's frame."""
        return FramingFit(OneShape(self.subject.shape), self.framing, self.camera, lens)

    def base_over_eye_m(self) -> float:
        """How high the subject's base stands over the eye on level ground, metres."""
        over = self.subject.base_height_m - self.framing.eye_height_m
        drop = self.framing.stand_drop_m
        return over if drop is None else over + drop

    def level_distance_m(self, lens: Lens) -> float:
        """Distance that would do on level ground, metres; NaN when none does."""
        return float(self.fit(lens).level_m(np.array([self.base_over_eye_m()]))[0])


def ground_at_subject(subject: Subject, elevation: Elevation | None) -> float:
    """Give the ground elevation at the subject, metres.

    Raises
    ------
    TerrainError
        When the raster does not reach the subject or is void there, saying which, and
        whether swapped or mis-signed coordinates would lie inside.
    """
    if elevation is None:
        return subject.ground_m if subject.ground_m is not None else 0.0
    known = float(elevation.height_at(lat=subject.lat, lon=subject.lon))
    if np.isfinite(known):
        return subject.ground_m if subject.ground_m is not None else known
    state = elevation.state_at(lat=subject.lat, lon=subject.lon).name.lower().replace("_", " ")
    if state == "void" and subject.ground_m is not None:
        return subject.ground_m
    raise TerrainError(
        f"The subject at lat {subject.lat}, lon {subject.lon} "
        + _why_unknown(subject, elevation, state),
        lat=subject.lat,
        lon=subject.lon,
        state=state,
    )


def _why_unknown(subject: Subject, elevation: Elevation, state: str) -> str:
    if state == "void":
        return (
            f"stands {_on_or_beside_a_void(subject, elevation)} of {elevation.source}; write its "
            "ground elevation as ground_m under [subject], or use a raster without the hole."
        )
    if state != "outside":
        return f"stands on ground that {elevation.source} does not know ({state})."
    south, west, north, east = elevation.bounds
    extent = f"{num(south, 4)} to {num(north, 4)} north and {num(west, 4)} to {num(east, 4)} east"
    guesses = {
        "lat and lon look swapped": (subject.lon, subject.lat),
        "the sign of lon looks wrong (west is negative)": (subject.lat, -subject.lon),
        "the sign of lat looks wrong (south is negative)": (-subject.lat, subject.lon),
    }
    for saying, (lat, lon) in guesses.items():
        if south <= lat <= north and west <= lon <= east:
            return f"lies outside {elevation.source} ({extent}); {saying}: write {lat}, {lon}."
    return (
        f"lies outside {elevation.source}, which spans {extent}; correct lat and lon under "
        "[subject], or name a raster that covers them under [ground] elevation."
    )


def _on_or_beside_a_void(subject: Subject, elevation: Elevation) -> str:
    """Whether the nearest cell itself has no height, or only one of the four about the place."""
    here = elevation.grid.pixels(lat=subject.lat, lon=subject.lon)
    row, col = round(float(here.row)), round(float(here.col))
    nearest = float(elevation.window_m(slice(row, row + 1), slice(col, col + 1))[0, 0])
    if not np.isfinite(nearest):
        return "on a void"
    return f"beside a void (its own cell says {num(nearest, 0)} m, one of the four around nothing)"
