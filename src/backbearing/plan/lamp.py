"""How bright the small light is, what the air takes, and twilight on the ground: values only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.outing.light_request import LampRequest

LampPlace = Literal["left", "right", "hidden", "asked"]
"""Beside the cameras on one side, behind the subject, or where the outing puts it."""


@dataclass(frozen=True, slots=True)
class AirFacts:
    """What the air takes from the target at a stand's minute; NaN below the horizontal.

    Attributes
    ----------
    air_mass : float
        Path through the air, 1 at the zenith.
    haze_mag : float
        V magnitudes a unit of it that haze is taken to cost.
    lost_mag : float
        V magnitudes lost in all.
    dimmer_mag : float
        How much more that is than at the zenith.
    redder_mag : float
        By how much B - V grows.
    air_sigma_mag : float
        One standard deviation of the loss.
    sentence : str
    """

    air_mass: float
    haze_mag: float
    lost_mag: float
    dimmer_mag: float
    redder_mag: float
    air_sigma_mag: float
    sentence: str


@dataclass(frozen=True, slots=True)
class LampSpot:
    """What the asked lamp does from one place at full power, and how to tame it.

    Attributes
    ----------
    place : str
        ``"left"``, ``"right"``, ``"hidden"`` or ``"asked"``.
    distance_m, angle_deg : float
        From the subject, and off the way to the camera.
    full_lux : float
        On the face at the subject's mid height; of a hidden light, on the facet of the edge that
        shows most.
    over_stops : float
        How much brighter the subject would be than is wanted; negative is too dark.
    off_sigma_stops : float
        One standard deviation of that.
    dim_share : float
        The share of its power that gives what is wanted; above 1 it is too weak.
    sheets : int
        Sheets of white paper over it that come nearest, at least one; 0 where it is too weak.
    sheets_off_stops, card_off_stops : float
        How far off those sheets are, and a white card that it is bounced off.
    sentence : str
    """

    place: LampPlace
    distance_m: float
    angle_deg: float
    full_lux: float
    over_stops: float
    off_sigma_stops: float
    dim_share: float
    sheets: int
    sheets_off_stops: float
    card_off_stops: float
    sentence: str


@dataclass(frozen=True, slots=True)
class SkyParts:
    """The sky behind the subject, candela a square metre: all of it, and its parts.

    ``dark`` is natural light and that of towns together, known within ``dark_sigma_mag``
    magnitudes, one standard deviation; ``twilight`` is NaN with the Sun above -4 degrees.
    """

    sky_cd_m2: float
    dark_cd_m2: float
    milky_way_cd_m2: float
    moon_cd_m2: float
    twilight_cd_m2: float
    dark_sigma_mag: float


@dataclass(frozen=True, slots=True)
class LampTurn:
    """The light that one lens's stand and minute ask for.

    Attributes
    ----------
    lens : str
        Its label.
    time : datetime
    sky : SkyParts
    wanted_cd_m2 : float
        The subject's luminance, as much over the sky as asked.
    wanted_lux : float
        On a face of the asked surface.
    lux_sigma_stops : float
        One standard deviation of that, by sky and surface.
    shutter_stops : float
        Its shutter over the longest of the night, at one aperture and ISO.
    spots : tuple of LampSpot
        Empty without lumens, or without a place.
    sentence : str
    """

    lens: str
    time: dt.datetime
    sky: SkyParts
    wanted_cd_m2: float
    wanted_lux: float
    lux_sigma_stops: float
    shutter_stops: float
    spots: tuple[LampSpot, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class GroundFrame:
    """A frame of the foreground in the blue hour, from a lens's own stand.

    Attributes
    ----------
    lens : str
    time : datetime
        When the Sun stands at the asked altitude, on the side of the night of the lens's minute.
    sun_altitude_deg : float
    ground_lux, ground_cd_m2 : float
        Twilight on level ground, and what the asked ground makes of it.
    sky_over_ground_stops : float
        How much brighter the sky in the same frame is; NaN where unknown.
    iso, shutter_s : float
        The marked shutter that puts the ground `GROUND_BELOW_CLIPPING_STOPS` under clipping.
    ground_snr : float
        Signal-to-noise ratio of the ground in a pixel.
    sentence : str
    """

    lens: str
    time: dt.datetime
    sun_altitude_deg: float
    ground_lux: float
    ground_cd_m2: float
    sky_over_ground_stops: float
    iso: float
    shutter_s: float
    ground_snr: float
    sentence: str


@dataclass(frozen=True, slots=True)
class BlueHour:
    """Twilight on the ground.

    Attributes
    ----------
    level_lux : float
        On level ground when it is as much under the night's sky as asked.
    dusk, dawn : datetime or None
        When twilight gives that; None where it does not that night.
    frames : tuple of GroundFrame
    sentence : str
    """

    level_lux: float
    dusk: dt.datetime | None
    dawn: dt.datetime | None
    frames: tuple[GroundFrame, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class PlanLamp:
    """All that is said of light where the outing has a [light] section.

    Attributes
    ----------
    asked : LampRequest
    surface, ground : str
    reflectance, ground_reflectance : float
    source : str
        Where the reflectance comes from.
    turns : tuple of LampTurn
        In the order of their minutes; lenses without a stand are left out.
    blue_hour : BlueHour or None
    line : str
        The answer in one short line.
    shutters : str
        How far apart the lenses' shutters lie; empty where they do not.
    care : tuple of str
        What a lamp does to eyes and to other people's frames.
    notes : tuple of str
        What the model takes for granted.
    """

    asked: LampRequest
    surface: str
    reflectance: float
    source: str
    ground: str
    ground_reflectance: float
    turns: tuple[LampTurn, ...]
    blue_hour: BlueHour | None
    line: str
    shutters: str
    care: tuple[str, ...]
    notes: tuple[str, ...]
