"""Moonlight as a quantity: how much it brightens the sky at the target, and where it falls from.

The model is Krisciunas and Schaefer's [KS1991]_, fitted to V magnitudes at one mountain site
and good to 8 to 23 per cent there; haze, cloud and snow are not in it. Brightness goes between
magnitudes and nanolamberts as in [Garstang1989]_.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

import numpy as np

from backbearing.base.angles import angle_between_deg, wrap_180_deg
from backbearing.sky import earth
from backbearing.sky.directions import direction, earth_fixed
from backbearing.sky.instants import utc_array
from backbearing.sky.nights import MOON_LIMB_ALTITUDE_DEG, moon_limb_deg
from backbearing.sky.targets import MOON, SUN

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

    Floats = NDArray[np.float64]

EXTINCTION_MAG: Final = 0.172
"""V extinction a unit of air mass, at 2,800 m on a dry mountain in 1990 [KS1991]_.

The default of everything here that the air dims, moonlight, glow and the stars of a picture
alike, for the moonlight model was fitted with it. Lower down it is roughly 0.2 [Green1992]_,
more in haze.
"""

DARK_ZENITH_MAG: Final = 21.6
"""Moonless zenith in V magnitudes a square arcsecond, a dark site, +-0.4: 21.6 was measured on
Paranal at a busy Sun [Patat2003]_, 22 is a natural sky to [Falchi2016]_."""

WELCOME_MAG: Final = 0.2
"""Brightening of the sky at the target that is still called little: our own choice."""

STARLIGHT_LUX: Final = 0.001
"""Light of a moonless clear sky on level ground, lux, within a factor of two: a sky of 21.6
everywhere makes 0.0008, the tables of illuminance in common use say 0.002."""

FULL_MOON_LUX: Final = 10.764 * 10.0 ** (-0.4 * 3.84)
"""Full Moon above the air, lux: ``10^(-0.4 (3.84 + ...))`` foot-candles [KS1991]_ eq. 8."""

ON_THE_DISC_DEG: Final = 0.3
"""Nearer to the Moon's centre than this no brightness of the sky is given."""

LOWEST_SKY_DEG: Final = 1e-6
"""Altitude of the sky at the horizontal, the lowest that is given a brightness."""

MOON_RADIUS_DEG: Final = 0.26
"""Mean radius of the disc: half a rising Moon gives half its light."""

LightFrom = Literal["front", "side", "back", "above", "behind the ridge", "below the horizon"]


class LightSide(NamedTuple):
    """Where moonlight falls from as seen from the camera.

    ``kind``: "back" from behind the subject, "side", "front" from behind the camera, "above"
    from higher than 60 degrees, "behind the ridge" where the land keeps it from the subject.
    ``hand`` is "left", "right" or "" (within 10 degrees of the
    line). ``turn_deg`` is the Moon's azimuth less that of the sight line, -180 to 180.
    """

    kind: LightFrom
    hand: Literal["left", "right", ""]
    turn_deg: float
    altitude_deg: float

    def __str__(self) -> str:
        if self.kind in ("above", "behind the ridge", "below the horizon"):
            return self.kind
        return f"{self.kind} light" + (f" from the {self.hand}" if self.hand else "")


@dataclass(frozen=True)
class Moonlight:
    """The Moon over a place at instants, arrays of one shape.

    Attributes
    ----------
    azimuth_deg, altitude_deg : array
        The Moon's centre, apparent.
    phase_angle_deg : array
        0 at full, 180 at new Moon.
    lit : array
        Lit fraction of the disc.
    separation_deg : array
        From the Moon to the target on the sky.
    brightening_mag : array
        By how many magnitudes a square arcsecond the moonless sky at the target is brightened;
        0 with the Moon down, NaN with the target down or on the Moon's disc.
    sky_mag : array
        V magnitude a square arcsecond of that sky, moonlight included.
    ground_lux, face_lux : array
        Moonlight on level ground, and on a face turned towards the Moon.

    Examples
    --------
    >>> import numpy as np
    >>> from backbearing.sky import CORE, moonlight_at
    >>> hours = np.datetime64("2027-06-15T03:00", "us") + np.arange(3) * np.timedelta64(1, "h")
    >>> moon = moonlight_at(CORE, lat=36.302, lon=-84.180, times=hours)
    >>> [f"{added:.1f}" for added in moon.brightening_mag]
    ['2.3', '2.2', '2.2']
    """

    azimuth_deg: Floats
    altitude_deg: Floats
    phase_angle_deg: Floats
    lit: Floats
    separation_deg: Floats
    brightening_mag: Floats
    sky_mag: Floats
    ground_lux: Floats
    face_lux: Floats

    @property
    def welcome(self) -> NDArray[np.bool_]:
        """Whether it lights a face more than starlight and leaves the target's sky dark."""
        with np.errstate(invalid="ignore"):
            return np.asarray(
                (self.face_lux > STARLIGHT_LUX) & (self.brightening_mag <= WELCOME_MAG)
            )


def air_mass(zenith_distance_deg: ArrayLike) -> Floats:
    """Path of scattered light through the air, zenith 1 ([KS1991]_ eq. 3)."""
    sine = np.sin(np.radians(np.asarray(zenith_distance_deg, dtype=np.float64)))
    return np.asarray((1.0 - 0.96 * sine**2) ** -0.5)


def dimming_mag(altitude_deg: ArrayLike, *, extinction_mag: float = EXTINCTION_MAG) -> Floats:
    """Magnitudes by which the air dims what stands at an apparent altitude more than the zenith.

    Below the horizontal that of the horizontal.
    """
    altitude = np.clip(np.asarray(altitude_deg, dtype=np.float64), 0.0, 90.0)
    return np.asarray(extinction_mag * (air_mass(90.0 - altitude) - 1.0))


def nanolamberts(mag: ArrayLike) -> Floats:
    """Nanolamberts of V magnitudes a square arcsecond [Garstang1989]_."""
    return np.asarray(34.08 * np.exp(20.7233 - 0.92104 * np.asarray(mag, dtype=np.float64)))


def magnitude(nanolambert: ArrayLike) -> Floats:
    """V magnitudes a square arcsecond of nanolamberts; infinite for 0."""
    with np.errstate(divide="ignore"):
        return np.asarray(
            (20.7233 - np.log(np.asarray(nanolambert, dtype=np.float64) / 34.08)) / 0.92104
        )


def luminance_cd_m2(mag: ArrayLike) -> Floats:
    """Candela a square metre, ``10.8e4 x 10^(-0.4 mag)`` (common practice of sky meters)."""
    return np.asarray(10.8e4 * 10.0 ** (-0.4 * np.asarray(mag, dtype=np.float64)))


def dark_sky_nl(
    zenith_distance_deg: ArrayLike,
    *,
    extinction_mag: float = EXTINCTION_MAG,
    zenith_mag: ArrayLike = DARK_ZENITH_MAG,
) -> Floats:
    """Moonless sky away from the zenith, nanolamberts ([KS1991]_ eq. 2)."""
    x = air_mass(zenith_distance_deg)
    return np.asarray(nanolamberts(zenith_mag) * 10.0 ** (-0.4 * extinction_mag * (x - 1.0)) * x)


def zenith_mag_for(mag: ArrayLike, altitude_deg: ArrayLike) -> Floats:
    """The zenith's magnitude from which `dark_sky_nl` makes a sky so bright at an altitude."""
    x = air_mass(90.0 - np.clip(np.asarray(altitude_deg, dtype=np.float64), 0.0, 90.0))
    more = 2.5 * np.log10(x) - EXTINCTION_MAG * (x - 1.0)
    return np.asarray(np.asarray(mag, dtype=np.float64) + more)


def moonlight_nl(
    *,
    phase_angle_deg: ArrayLike,
    separation_deg: ArrayLike,
    moon_zenith_distance_deg: ArrayLike,
    target_zenith_distance_deg: ArrayLike,
    extinction_mag: float = EXTINCTION_MAG,
    share_up: ArrayLike = 1.0,
) -> Floats:
    """Sky brightness that moonlight adds, nanolamberts ([KS1991]_ eq. 15, 20 and 21).

    Times the share of the Moon's disc that is up, 0 to 1. The inputs broadcast.
    """
    rho = np.maximum(np.asarray(separation_deg, dtype=np.float64), ON_THE_DISC_DEG)
    moon_z = np.asarray(moon_zenith_distance_deg, dtype=np.float64)
    haze = np.where(rho < 10.0, 6.2e7 / rho**2, 10.0 ** (6.15 - rho / 40.0))
    scattered = 10.0**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2) + haze
    through = 10.0 ** (-0.4 * extinction_mag * air_mass(moon_z))
    along = 1.0 - 10.0 ** (-0.4 * extinction_mag * air_mass(target_zenith_distance_deg))
    light = scattered * _moon_above_air(phase_angle_deg) * through * along
    return np.asarray(light * np.asarray(share_up))


def _share_up(site: earth.Sites, utc: NDArray[np.datetime64]) -> Floats:
    """Share of the Moon's disc that is up, as if it were a square; by the rule of moonrise."""
    over = moon_limb_deg(site, utc) - MOON_LIMB_ALTITUDE_DEG
    return np.asarray(np.clip(over / (2.0 * MOON_RADIUS_DEG), 0.0, 1.0))


def _moon_above_air(phase_angle_deg: ArrayLike) -> Floats:
    """Moonlight above the air, foot-candles ([KS1991]_ eq. 20)."""
    alpha = np.abs(np.asarray(phase_angle_deg, dtype=np.float64))
    return np.asarray(10.0 ** (-0.4 * (3.84 + 0.026 * alpha + 4e-9 * alpha**4)))


def brightening_mag(moonlight: ArrayLike, dark_sky: ArrayLike) -> Floats:
    """Magnitudes by which light of one brightness is raised by another, nanolamberts both."""
    added = np.asarray(moonlight, dtype=np.float64) / np.asarray(dark_sky, dtype=np.float64)
    return np.asarray(np.log1p(added) / 0.92104)


def moonlight_at(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    extinction_mag: float = EXTINCTION_MAG,
    dark_zenith_mag: ArrayLike = DARK_ZENITH_MAG,
    low_skyline: bool = False,
) -> Moonlight:
    """The Moon's light over a place, and on the sky at a target; shapes as in `direction`.

    With ``low_skyline`` a target below the horizontal, seen over land that lies lower still,
    has the sky of the horizontal instead of NaN: the model knows none lower.

    Raises
    ------
    SkyError
        A naive time, a date outside the ephemeris, no such place.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, moonlight_at
    >>> when = datetime(2027, 6, 15, 4, tzinfo=timezone.utc)
    >>> moon = moonlight_at(CORE, lat=36.302, lon=-84.180, times=when)
    >>> f"{float(moon.lit):.2f} lit, {float(moon.brightening_mag):.1f} magnitudes at the core"
    '0.86 lit, 2.2 magnitudes at the core'
    """
    utc = utc_array(times)
    there: dict[str, Any] = {"lat": lat, "lon": lon, "height_m": height_m, "times": utc}
    moon_az, moon_alt = direction(MOON, **there)
    az, alt = direction(target, **there)
    phase = np.broadcast_to(_phase_angle_deg(utc), moon_alt.shape)
    up = _share_up(earth.sites(lat=lat, lon=lon, height_m=height_m), utc)
    apart = angle_between_deg(lon1_deg=moon_az, lat1_deg=moon_alt, lon2_deg=az, lat2_deg=alt)
    if low_skyline:
        alt = np.maximum(alt, LOWEST_SKY_DEG)
    dark = dark_sky_nl(90.0 - alt, extinction_mag=extinction_mag, zenith_mag=dark_zenith_mag)
    added = moonlight_nl(
        phase_angle_deg=phase,
        separation_deg=apart,
        moon_zenith_distance_deg=90.0 - moon_alt,
        target_zenith_distance_deg=90.0 - alt,
        extinction_mag=extinction_mag,
        share_up=up,
    )
    on_disc = (apart < ON_THE_DISC_DEG) & (up > 0.0)
    more = np.where((alt <= 0.0) | on_disc, np.nan, brightening_mag(added, dark))
    through = 10.0 ** (-0.4 * extinction_mag * air_mass(90.0 - moon_alt))
    lux = 10.764 * _moon_above_air(phase) * through * up
    return Moonlight(
        moon_az,
        moon_alt,
        phase,
        np.asarray(0.5 * (1.0 + np.cos(np.radians(phase)))),
        apart,
        more,
        magnitude(dark) - more,
        np.asarray(np.maximum(lux * np.sin(np.radians(moon_alt)), 0.0)),
        np.asarray(lux),
    )


def light_side(
    *,
    moon_azimuth_deg: float,
    moon_altitude_deg: float,
    sight_azimuth_deg: float,
    moon_over_ridge_deg: float = math.nan,
) -> LightSide:
    """Where the Moon's light falls from, for a camera that looks along an azimuth.

    Thirds of the half circle: within 60 degrees of the sight line back light, beyond 120
    front light, between them side light; our own bounds. ``moon_over_ridge_deg`` is the Moon's
    centre over the terrain skyline; NaN where that is not known, and nothing then hides it.

    Examples
    --------
    >>> from backbearing.sky import light_side
    >>> light = light_side(moon_azimuth_deg=230.0, moon_altitude_deg=20.0, sight_azimuth_deg=150.0)
    >>> light.kind, light.hand
    ('side', 'right')
    """
    turn = wrap_180_deg(moon_azimuth_deg - sight_azimuth_deg)
    away = min(abs(turn), 180.0 - abs(turn))
    hand: Literal["left", "right", ""] = "" if away < 10.0 else "right" if turn > 0.0 else "left"
    kind: LightFrom
    if moon_altitude_deg <= -MOON_RADIUS_DEG:
        kind = "below the horizon"
    elif moon_over_ridge_deg <= -MOON_RADIUS_DEG:
        kind = "behind the ridge"
    elif moon_altitude_deg > 60.0:
        kind = "above"
    else:
        kind = "back" if abs(turn) < 60.0 else "front" if abs(turn) > 120.0 else "side"
    return LightSide(kind, hand, float(turn), float(moon_altitude_deg))


def _phase_angle_deg(utc: NDArray[np.datetime64]) -> Floats:
    """Angle at the Moon between Sun and Earth's centre, degrees ([Meeus1998]_ eq. 48.3)."""
    moon, sun = earth_fixed(MOON, utc), earth_fixed(SUN, utc)
    back, onward = -moon, sun - moon
    cross = np.cross(back, onward, axis=0)
    dot = np.sum(back * onward, axis=0)
    return np.asarray(np.degrees(np.arctan2(np.linalg.norm(cross, axis=0), dot)))
