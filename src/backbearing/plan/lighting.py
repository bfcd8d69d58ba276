"""What is known of lights and shadows: polygons and spots, all immutable.

Geometries are shapely, WGS84 longitude then latitude. Sides are as seen from the middle
stand, facing the subject: left, right, nearer (towards the camera) and farther.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True)
class Room:
    """How far the hidden light may be moved one way, and the stand that then sees it.

    ``shows_from`` is a lens's label; empty where ``metres`` ends at the reach instead.
    """

    way: str
    metres: float
    shows_from: str


@dataclass(frozen=True, slots=True)
class HiddenSpot:
    """A spot for the hidden light, and the turns that it serves.

    Attributes
    ----------
    lenses : tuple of str
        Labels of the turns from whose stands the light does not show there, on end.
    lat, lon : float
    distance_m, bearing_deg : float
        From the subject: metres and true bearing.
    room_m : float
        Radius of the largest circle about it in which the light still shows from none of
        them.
    """

    lenses: tuple[str, ...]
    lat: float
    lon: float
    distance_m: float
    bearing_deg: float
    room_m: float


@dataclass(frozen=True, slots=True)
class BlindPatch:
    """Ground behind the subject where a light of the asked size shows from no stand.

    No light is put in the subject itself, taken as deep as its base is wide, nor nearer to
    its side than a hand's breadth, nor on ground that the user's file closes, water, or
    ground of unknown height: that is in neither ``area`` nor any spot.

    Attributes
    ----------
    area : shapely geometry
        Common to all stands; empty when there is none.
    area_m2 : float
    reaches : bool
        Whether it runs on beyond the reach at which it was cut off.
    reach_m : float
    spot_lat, spot_lon : float
        Where the light has the most room; NaN when no spot serves all turns.
    spot_distance_m, spot_bearing_deg : float
        That spot from the subject: metres and true bearing.
    spot_room_m : float
        Radius of the largest circle about the spot inside the patch.
    room : tuple of Room
        Left, right, nearer, farther.
    from_stands : tuple of (str, shapely geometry)
        Each lens's label and its own blind patch, in view alone.
    spots : tuple of HiddenSpot
        The one spot for all turns, or where there is none as few as serve the turns in
        their order; a turn that no spot serves is in none.
    sentence : str
        In words; also why there is none, and the stand that spoils it.
    """

    area: BaseGeometry
    area_m2: float
    reaches: bool
    reach_m: float
    spot_lat: float
    spot_lon: float
    spot_distance_m: float
    spot_bearing_deg: float
    spot_room_m: float
    room: tuple[Room, ...]
    from_stands: tuple[tuple[str, BaseGeometry], ...]
    spots: tuple[HiddenSpot, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class SideLight:
    """A place for a light beside the camera, out of every frame.

    ``angle_deg`` is at the subject, from the way to the middle stand: 0 is from the camera,
    90 from the side. ``keep_clear`` is the ground between light and subject where a person
    or tripod would throw a shadow on the subject.
    """

    side: str
    lat: float
    lon: float
    distance_m: float
    bearing_deg: float
    angle_deg: float
    keep_clear: BaseGeometry
    sentence: str


@dataclass(frozen=True, slots=True)
class InLaterFrame:
    """Something left at an earlier stand that a later frame sees.

    ``what`` is ``"people and tripod"`` or ``"their shadow"``.
    """

    earlier: str
    later: str
    what: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Lighting:
    """Lights of a session.

    Attributes
    ----------
    light_width_m, light_height_m, person_height_m : float
        The light's size, its top above the ground, and the people's height.
    blind : BlindPatch
    out_of_frames : shapely geometry
        Ground within the reach where the light shows in no frame and need not hide.
    side_lights : tuple of SideLight
    frames : tuple of (str, shapely geometry)
        For each lens, the ground on which a person would stand in its frame.
    shadows : tuple of (str, shapely geometry)
        For each lens's stand and side light, the shadow of a person there: its name is
        ``"24 mm, light on the left"``.
    in_later_frames : tuple of InLaterFrame
    later_sentence : str
        The same in words; that nothing shows, where nothing does.
    notes : tuple of str
        What was assumed.
    """

    light_width_m: float
    light_height_m: float
    person_height_m: float
    blind: BlindPatch
    out_of_frames: BaseGeometry
    side_lights: tuple[SideLight, ...]
    frames: tuple[tuple[str, BaseGeometry], ...]
    shadows: tuple[tuple[str, BaseGeometry], ...]
    in_later_frames: tuple[InLaterFrame, ...]
    later_sentence: str
    notes: tuple[str, ...]

    @property
    def earlier_shadows(self) -> tuple[BaseGeometry, ...]:
        """Shadows at every stand but the last, after which no frame comes."""
        last = self.frames[-1][0] if self.frames else ""
        return tuple(area for name, area in self.shadows if name.split(", ")[0] != last)
