"""What the user asks of light: the lamp, a frame in the blue hour, a tracking mount."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from backbearing.base.errors import CameraError
from backbearing.camera.photometry import Surface, surface_named

SkyFrom = Literal["asked", "raster", "towns", "raster and towns"]
"""Where the sky's brightness comes from: the outing's number, the raster or the towns of
[scouting], or the raster's zenith spread over the sky by the towns."""

OWN: Final = "as you say"
"""The source of a reflectance that the user gives."""


@dataclass(frozen=True, slots=True)
class TrackerRequest:
    """[tracker] of an outing file.

    ``polar_error_arcmin`` is how far the mount's axis may stand off the pole.
    """

    polar_error_arcmin: float = 10.0


@dataclass(frozen=True, slots=True)
class LampRequest:
    """[light] of an outing file.

    Attributes
    ----------
    lumens : float, optional
        Of the lamp at full power; without them only the light that is wanted is told.
    beam_deg : float
        How wide it shines, from edge to edge.
    distance_m, angle_deg : float
        A place of your own for it: from the subject, and off the way to the camera. Without a
        distance the plan's own places for lights are taken, where there is a session.
    stops_over_sky : float
        How much brighter than the sky behind it the subject should be.
    surface, reflectance
        What the subject is made of, by the table, or its own reflectance.
    ground : str
        What the foreground is.
    ground_stops_under_sky : float
        How much darker than the night's sky twilight should light the ground.
    foreground_iso, foreground_sun_deg : float
        A frame of the ground in the blue hour: its ISO, and the Sun's altitude at its minute.

    Raises
    ------
    CameraError
        For a surface that is not in the table.
    """

    lumens: float | None = None
    beam_deg: float = 120.0
    distance_m: float | None = None
    angle_deg: float = 45.0
    stops_over_sky: float = 2.0
    surface: str = "rock"
    reflectance: float | None = None
    ground: str = "dry grass"
    ground_stops_under_sky: float = 2.0
    foreground_iso: float = 100.0
    foreground_sun_deg: float = -8.0

    def __post_init__(self) -> None:
        surface_named(self.surface)
        try:
            surface_named(self.ground)
        except CameraError as problem:
            raise CameraError(
                problem.what.replace("surface is", "ground is"),
                hint=problem.hint.partition(", or ")[0],
                key="ground",
            ) from None

    @property
    def face(self) -> Surface:
        """The subject's surface; one's own reflectance is taken as good to a quarter of it."""
        if self.reflectance is None:
            return surface_named(self.surface)
        own = self.reflectance
        return Surface(self.surface, own, 0.75 * own, min(1.0, 1.25 * own), OWN)
