"""From the sky's brightness to electrons, stops below clipping, and signal-to-noise.

The numbers are those of a model: the magnitudes of the sky are seldom known better than
half a magnitude, and the sensor's figures are generic unless you write your own. Dark
current, vignetting, the glow of twilight and extinction are left out: the magnitudes are
those that reach the camera. Moonlight comes in with the background that the caller gives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, overload

import numpy as np

from backbearing.base.constants import LIGHT_M_S
from backbearing.camera._numbers import Floats, plain, positive, require_number
from backbearing.camera.sensor import SENSOR_SIGMA_STOPS, Sensor

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from backbearing.camera.bodies_and_lenses import Camera, Lens

ZERO_MAGNITUDE_W_M2_NM: Final = 3.631e-11
"""Flux of a star of V = 0 above the air, watts a square metre and nanometre
[Bessell1998]_ table A2 (363.1e-11 erg/(s cm2 A))."""

V_WAVELENGTH_NM: Final = 545.0
"""Effective wavelength of that band, nanometres [Bessell1998]_."""

PLANCK_J_S: Final = 6.62607015e-34
"""Exact by definition [SI2019]_, as is Planck's constant above."""

ARCSEC2_SR: Final = math.radians(1.0 / 3600.0) ** 2

LENS_TRANSMISSION: Final = 0.9
"""What the glass lets through (common practice, no source)."""

SKY_MAG_ARCSEC2: Final = 21.6
"""A natural dark sky, V magnitudes a square arcsecond: 21.6 [Patat2003]_ to 22.0
[Falchi2016]_ at the zenith."""

CORE_MAG_ARCSEC2: Final = 20.5
"""The Milky Way's bright clouds about the core, 20 to 21 [Leinert1998]_; from memory."""

SKY_SIGMA_MAG: Final = 0.5
"""One standard deviation of both magnitudes (judgement, no source)."""


@overload
def photon_radiance(mag_arcsec2: float) -> float: ...
@overload
def photon_radiance(mag_arcsec2: ArrayLike) -> Floats: ...
def photon_radiance(mag_arcsec2: ArrayLike) -> float | Floats:
    """Photons a second, square metre, steradian and nanometre, of a V surface brightness.

    ``F0 lambda / (h c) 10^(-0.4 V) / arcsec^2`` with the zero point of [Bessell1998]_.

    Parameters
    ----------
    mag_arcsec2 : array_like
        V magnitudes a square arcsecond.

    Returns
    -------
    float or ndarray

    Examples
    --------
    >>> from backbearing.camera import photon_radiance
    >>> bright, dark = photon_radiance(19.0), photon_radiance(21.5)
    >>> f"2.5 magnitudes are {bright / dark:.0f} times the light"
    '2.5 magnitudes are 10 times the light'
    """
    photon_j = PLANCK_J_S * LIGHT_M_S / (V_WAVELENGTH_NM * 1e-9)
    star = ZERO_MAGNITUDE_W_M2_NM / photon_j
    dimmed = 10.0 ** (-0.4 * np.asarray(mag_arcsec2, dtype=np.float64))
    return plain(np.asarray(star * dimmed / ARCSEC2_SR))


def electrons_a_pixel(
    camera: Camera, lens: Lens, sensor: Sensor, *, mag_arcsec2: ArrayLike, shutter_s: ArrayLike
) -> float | Floats:
    """Electrons that a patch of sky leaves in one pixel.

    ``L (pi / 4) (p / N)^2 T QE dlambda t``: the camera equation [Ray2002]_ for small
    angles, about the middle of the frame.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    sensor : Sensor
    mag_arcsec2 : array_like
        V magnitudes a square arcsecond at the camera.
    shutter_s : array_like
        Seconds; broadcasts.

    Returns
    -------
    float or ndarray
        Electrons.

    Raises
    ------
    CameraError
        For a shutter that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, Sensor, electrons_a_pixel
    >>> lens = Lens(focal_length_mm=35.0, f_number=2.0)
    >>> dark = electrons_a_pixel(Camera(), lens, Sensor(), mag_arcsec2=21.6, shutter_s=10.0)
    >>> f"{dark:.0f} electrons in 10 s under a dark sky"
    '28 electrons in 10 s under a dark sky'
    """
    pitch_m = camera.pixel_pitch_um * 1e-6
    etendue = math.pi / 4.0 * (pitch_m / lens.f_number) ** 2
    rate = np.asarray(photon_radiance(mag_arcsec2)) * etendue * sensor.bandwidth_nm
    kept = LENS_TRANSMISSION * sensor.quantum_efficiency
    return plain(np.asarray(rate * kept * positive(shutter_s, "shutter_s", "seconds")))


@overload
def signal_to_noise(
    signal_e: float, background_e: float, read_noise_e: float, frames: float = ...
) -> float: ...
@overload
def signal_to_noise(
    signal_e: ArrayLike, background_e: ArrayLike, read_noise_e: ArrayLike, frames: ArrayLike = ...
) -> Floats: ...
def signal_to_noise(
    signal_e: ArrayLike, background_e: ArrayLike, read_noise_e: ArrayLike, frames: ArrayLike = 1
) -> float | Floats:
    """Signal-to-noise ratio of one pixel: ``sqrt(n) S / sqrt(S + B + R^2)`` [Howell2006]_.

    Parameters
    ----------
    signal_e, background_e : array_like
        Electrons in one frame, of the thing itself and of what lies under it.
    read_noise_e : array_like
        Electrons a reading.
    frames : array_like
        Frames averaged.

    Returns
    -------
    float or ndarray

    Examples
    --------
    >>> from backbearing.camera import signal_to_noise
    >>> one, nine = signal_to_noise(40.0, 60.0, 2.5), signal_to_noise(40.0, 60.0, 2.5, frames=9)
    >>> f"{one:.1f} in one frame, {nine:.1f} in nine"
    '3.9 in one frame, 11.6 in nine'
    """
    s, b, r, n = (
        np.asarray(v, dtype=np.float64) for v in (signal_e, background_e, read_noise_e, frames)
    )
    return plain(np.asarray(np.sqrt(n) * s / np.sqrt(s + b + r**2)))


def frames_for_gain(gain: float) -> int:
    """Frames to average for a gain in signal-to-noise: its square, rounded up.

    Raises
    ------
    CameraError
        For a gain that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import frames_for_gain
    >>> frames_for_gain(3.0)
    9
    """
    return max(1, math.ceil(require_number(gain, "gain", "a factor such as 3") ** 2 - 1e-9))


@dataclass(frozen=True, slots=True)
class Exposure:
    """One frame of the night sky, as modelled.

    Attributes
    ----------
    background_e, core_e : float
        Electrons a pixel of the background, and of the core's own light on it.
    clipping_e : float
        Electrons at which the pixel clips.
    below_clipping_stops : float
        How far the background lies under that.
    snr : float
        Signal-to-noise ratio of the core's light in one pixel.
    sigma_stops : float
        One standard deviation of the light, stops.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, expose
    >>> shot = expose(Camera(), Lens(focal_length_mm=35.0, f_number=2.0), shutter_s=10.0, iso=3200)
    >>> f"{shot.background_e:.0f} electrons, {shot.below_clipping_stops:.1f} stops below clipping"
    '28 electrons, 5.9 stops below clipping'
    """

    background_e: float
    core_e: float
    clipping_e: float
    below_clipping_stops: float
    snr: float
    sigma_stops: float


def expose(
    camera: Camera,
    lens: Lens,
    *,
    shutter_s: float,
    iso: float,
    sensor: Sensor | None = None,
    sky_mag_arcsec2: float = SKY_MAG_ARCSEC2,
    core_mag_arcsec2: float = CORE_MAG_ARCSEC2,
) -> Exposure:
    """Model one frame.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    shutter_s : float
        Seconds.
    iso : float
    sensor : Sensor, optional
        The generic one when not given.
    sky_mag_arcsec2, core_mag_arcsec2 : float
        V magnitudes a square arcsecond, of the sky without the Milky Way and of the
        Milky Way's own light.

    Returns
    -------
    Exposure

    Raises
    ------
    CameraError
        For a value that cannot exist.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, expose
    >>> lens = Lens(focal_length_mm=20.0, f_number=1.8)
    >>> shot = expose(Camera(), lens, shutter_s=15.0, iso=1600, sky_mag_arcsec2=21.0)
    >>> f"signal to noise {shot.snr:.1f}, give or take {shot.sigma_stops:.1f} stops"
    'signal to noise 9.2, give or take 0.8 stops'
    """
    chip = Sensor() if sensor is None else sensor
    both = electrons_a_pixel(
        camera,
        lens,
        chip,
        mag_arcsec2=[sky_mag_arcsec2, core_mag_arcsec2],
        shutter_s=require_number(shutter_s, "shutter_s", "seconds"),
    )
    background, core = np.asarray(both).tolist()
    clipping = chip.clipping_e(camera.pixel_pitch_um, iso)
    return Exposure(
        background_e=background,
        core_e=core,
        clipping_e=clipping,
        below_clipping_stops=math.log2(clipping / background),
        snr=float(signal_to_noise(core, background, chip.read_noise_e)),
        sigma_stops=light_sigma_stops(),
    )


def light_sigma_stops(sky_sigma_mag: float = SKY_SIGMA_MAG) -> float:
    """One standard deviation of the modelled light, stops: of the sky and the sensor."""
    return math.hypot(sky_sigma_mag * 0.4 * math.log2(10.0), SENSOR_SIGMA_STOPS)
