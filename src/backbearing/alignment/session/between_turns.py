"""What one turn's stand does to the next turn: people who stayed show, a hidden light must move.

Both are asked of each pair of starts of two lenses, so that the order and the starts that are
chosen with them stay the best there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.alignment.session.hidden_spots import nearest_m
from backbearing.alignment.view.frame_ground import LOOKS
from backbearing.camera.framing import frame_position_of_vectors

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.blind_patch import Light, Screen
    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.base.local_plane import LocalPlane
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.session_request import PictureRequest, SessionRequest

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

PERSON_WIDTH_M: Final = 0.6
"""Shoulders, tripod and bag (common practice, no source)."""

ACROSS: Final = 5
"""Places across a person at which they are looked at."""

ROOM_M: Final = 0.05
"""Room that a light behind the post has to every side: the outline itself may leave less."""

SLICES: Final = 16
"""Heights at which the outline's width is taken, up to the light's own."""


AT_ONCE: Final = 1_000
"""Pairs looked at together: what fits in a processor's cache."""


class Spoilt(NamedTuple):
    """Whether the stand before shows, and whether a hidden light must be moved."""

    stand_before_shows: Any
    light_moves: Any

    def costs_m(self, wishes: PictureRequest) -> tuple[Any, Any]:
        """What each counts, metres."""
        return (
            wishes.stand_before_shows_costs_m * self.stand_before_shows,
            wishes.light_moves_costs_m * self.light_moves,
        )


@dataclass(frozen=True, slots=True)
class StandsOf:
    """One lens's stands on the local map, arrays of shape (t,); NaN where there is none."""

    camera: Camera
    lens: Lens
    east_m: Floats
    north_m: Floats
    ground_m: Floats
    eye_height_m: float
    bearing_deg: Floats
    pitch_deg: Floats

    @classmethod
    def of(cls, scene: Scene, lens: Lens, settled: Settled, local: LocalPlane) -> StandsOf:
        """Put a lens's settled stands on the map."""
        at = settled.places
        east, north = local.metres(lat=at.lat, lon=at.lon)
        return cls(
            scene.camera,
            lens,
            np.asarray(east),
            np.asarray(north),
            at.ground_m,
            scene.framing.eye_height_m,
            at.bearing_deg,
            settled.pitch_deg,
        )


@dataclass(frozen=True, slots=True)
class Post:
    """The subject as an upright post before a light, metres.

    Attributes
    ----------
    width_m : float
        The outline at its narrowest, up to the light's height over the ground.
    nearest_m : float
        How near to its middle the light's middle can stand.
    """

    width_m: float
    nearest_m: float

    @classmethod
    def of(cls, screen: Screen, light: Light, base_height_m: float) -> Post:
        """Take the widest piece of the outline at each height, and the narrowest of those."""
        import shapely

        heights = np.linspace(0.0, light.height_m, SLICES) - base_height_m
        lines = [shapely.LineString([(screen.west_m, up), (screen.east_m, up)]) for up in heights]
        pieces = [shapely.get_parts(line.intersection(screen.shape)) for line in lines]
        widest = [max((float(p.length) for p in some), default=0.0) for some in pieces]
        return cls(min(widest), nearest_m(screen.foot_m, light.width_m))


@dataclass(frozen=True, slots=True)
class BetweenTurns:
    """All lenses' stands, and what is asked of each after each."""

    stands: tuple[StandsOf, ...]
    post: Post
    light_width_m: float
    reach_m: float
    person_height_m: float
    wishes: PictureRequest

    @classmethod
    def of(cls, asked: SessionRequest, post: Post, stands: Sequence[StandsOf]) -> BetweenTurns:
        """Gather it from what is asked of a session."""
        return cls(
            tuple(stands), post, asked.light_width_m, asked.light_reach_m, asked.person_height_m,
            asked.picture,
        )  # fmt: skip

    def spoilt(self, i: int, j: int, s: Any, t: Any) -> Spoilt:
        """Between lens i started at s and lens j at t: indices, or arrays that broadcast."""
        return Spoilt(self._shows(i, j, s, t), self._light_moves(i, j, s, t))

    def metres(self, i: int, j: int, s: Any, t: Any) -> Any:
        """What both count; what counts nothing is not looked for."""
        total: Any = 0.0
        if self.wishes.stand_before_shows_costs_m > 0.0:
            total = total + self.wishes.stand_before_shows_costs_m * self._shows(i, j, s, t)
        if self.wishes.light_moves_costs_m > 0.0:
            total = total + self.wishes.light_moves_costs_m * self._light_moves(i, j, s, t)
        return total

    def _shows(self, i: int, j: int, s: Any, t: Any) -> Flags:
        one, two = self.stands[i], self.stands[j]
        s, t = np.broadcast_arrays(s, t)
        return shows_person(one, s.ravel(), two, t.ravel(), self.person_height_m).reshape(s.shape)

    def _light_moves(self, i: int, j: int, s: Any, t: Any) -> Flags:
        """Whether no spot hides the light behind the post from both stands."""
        one, two = self.stands[i], self.stands[j]
        a, b = self._room_rad(one, s), self._room_rad(two, t)
        # Ways from either stand to the subject as unit vectors: the angle between the two.
        cross = one.east_m[s] * two.north_m[t] - one.north_m[s] * two.east_m[t]
        dot = one.east_m[s] * two.east_m[t] + one.north_m[s] * two.north_m[t]
        apart = np.abs(np.arctan2(cross, dot))
        with np.errstate(invalid="ignore"):
            return np.asarray(~((a >= 0.0) & (b >= 0.0) & (apart <= a + b)))

    def _room_rad(self, stands: StandsOf, rows: Any) -> Floats:
        """How far round to either side of straight behind the light is hidden; negative: nowhere.

        At a distance r from the subject's middle and an angle a off the line from the eye, the
        light is r sin(a) aside and r cos(a) back, where the post's shadow is
        ``half + slope r cos(a)`` wide to either side. A narrower light has most room where it
        stands nearest, a wider one where it stands farthest.
        """
        away = np.hypot(stands.east_m[rows], stands.north_m[rows])
        half = 0.5 * (self.post.width_m - self.light_width_m) - ROOM_M
        slope = 0.5 * self.post.width_m / away
        nearest, farthest = self.post.nearest_m + ROOM_M, self.reach_m - ROOM_M
        at = nearest if half >= 0.0 else farthest
        aside = np.clip(half / at / np.hypot(1.0, slope), -1.0, 1.0)
        return np.asarray(np.minimum(np.arcsin(aside) + np.arctan(slope), 0.5 * np.pi))


def shows_person(
    before: StandsOf, s: NDArray[Any], later: StandsOf, t: NDArray[Any], height_m: float
) -> Flags:
    """Whether somebody at one stand shows in the frame from another, for n pairs of rows.

    They are an upright box turned to the camera, on the ground of their stand; shape (n,).
    """
    east = before.east_m[s] - later.east_m[t]
    north = before.north_m[s] - later.north_m[t]
    foot = before.ground_m[s] - (later.ground_m[t] + later.eye_height_m)
    shown = np.zeros(len(east), dtype=np.bool_)
    may = np.flatnonzero(_ahead(later, t, east, north, foot, height_m))
    for across, heights in ((1, 2), (ACROSS, LOOKS)):
        missed = []
        for first in range(0, len(may), AT_ONCE):
            some = may[first : first + AT_ONCE]
            way = np.stack([east[some], north[some], foot[some]])
            found = _any_inside(later, t[some], way, height_m, across, heights)
            shown[some[found]] = True
            missed.append(some[~found])
        may = np.concatenate([may[:0], *missed])
    return shown


def _ahead(
    later: StandsOf, t: NDArray[Any], east: Floats, north: Floats, foot: Floats, height_m: float
) -> Flags:
    """Pairs that are not sure to lie beside a rectilinear frame or behind the camera."""
    if later.lens.projection != "rectilinear":
        return np.isfinite(east + foot)
    azimuth, pitch = np.radians(later.bearing_deg[t]), np.radians(later.pitch_deg[t])
    right = np.abs(east * np.cos(azimuth) - north * np.sin(azimuth))
    level = east * np.sin(azimuth) + north * np.cos(azimuth)
    highest = np.maximum(np.abs(foot), np.abs(foot + height_m))
    half = 0.5 * PERSON_WIDTH_M
    deep = np.cos(pitch) * (level + half) + np.abs(np.sin(pitch)) * highest
    slope = 0.5 * later.camera.frame_width_mm / later.lens.focal_length_mm
    return np.asarray(right - half <= slope * deep)


def _any_inside(
    later: StandsOf, t: NDArray[Any], way: Floats, height_m: float, across: int, heights: int
) -> Flags:
    east, north, foot = way
    away = np.hypot(east, north)
    offset = (np.linspace(-0.5, 0.5, across) if across > 1 else np.zeros(1)) * PERSON_WIDTH_M
    offset, share = offset[:, None, None], np.linspace(0.0, 1.0, heights)[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        x, y = frame_position_of_vectors(
            later.camera,
            later.lens,
            axis_azimuth_deg=later.bearing_deg[t],
            pitch_deg=later.pitch_deg[t],
            east=east + offset * (north / away),
            north=north - offset * (east / away),
            up=foot + share * height_m,
        )
        inside = (x > 0.0) & (x < 1.0) & (y > 0.0) & (y < 1.0)
    return np.asarray(inside.any(axis=(0, 1)))
