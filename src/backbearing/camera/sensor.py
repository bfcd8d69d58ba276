"""A simple sensor: how many electrons a pixel makes, holds, and adds of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backbearing.base.errors import CameraError
from backbearing.base.limits import check_limits
from backbearing.camera._numbers import require_number

FULL_WELL_PER_UM2: Final = 1500.0
"""Electrons a pixel holds for each square micrometre (common practice, no source)."""

SENSOR_SIGMA_STOPS: Final = 0.4
"""One standard deviation of what the generic sensor makes of the light, stops: 30 percent
(judgement, no source)."""


@dataclass(frozen=True, slots=True)
class Sensor:
    """What the exposure model needs of a sensor.

    The defaults are generic figures of present colour sensors (common practice, no
    source); measure or look up your own where it matters.

    Parameters
    ----------
    quantum_efficiency : float
        Electrons for each photon of the band that reaches the sensor's surface, the
        colour filter included, of a green pixel.
    bandwidth_nm : float
        Width of a green pixel's band, nanometres.
    read_noise_e : float
        Noise of one reading of one pixel, electrons, at the ISO used.
    full_well_e : float, optional
        Electrons at which a pixel clips at the base ISO; by the pixel's area when not
        given.
    base_iso : float
        The ISO at which the whole well is used; twice that clips at half of it.

    Raises
    ------
    CameraError
        For a value that is not above zero, or an efficiency above 1.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, Sensor, expose
    >>> quiet = Sensor(read_noise_e=1.4)
    >>> lens = Lens(focal_length_mm=35.0, f_number=2.0)
    >>> f"{expose(Camera(), lens, shutter_s=10.0, iso=3200, sensor=quiet).snr:.2f}"
    '7.42'
    """

    quantum_efficiency: float = 0.5
    bandwidth_nm: float = 90.0
    read_noise_e: float = 2.5
    full_well_e: float | None = None
    base_iso: float = 100.0

    def __post_init__(self) -> None:
        efficiency = require_number(
            self.quantum_efficiency, "quantum_efficiency", "electrons for each photon"
        )
        if efficiency > 1.0:
            raise CameraError(
                f"quantum_efficiency is {efficiency:g}; no sensor makes more than 1 electron of "
                "a photon, write a fraction such as 0.5.",
                key="quantum_efficiency",
            )
        require_number(self.bandwidth_nm, "bandwidth_nm", "nanometres")
        require_number(self.read_noise_e, "read_noise_e", "electrons")
        require_number(self.base_iso, "base_iso", "such as 100")
        if self.full_well_e is not None:
            require_number(self.full_well_e, "full_well_e", "electrons")
        check_limits(self, CameraError)

    def clipping_e(self, pixel_pitch_um: float, iso: float) -> float:
        """Electrons at which a pixel clips at an ISO.

        Parameters
        ----------
        pixel_pitch_um : float
            Micrometres.
        iso : float
            Below the base ISO the well itself clips.

        Raises
        ------
        CameraError
            For a value that is not above zero.
        """
        pitch = require_number(pixel_pitch_um, "pixel_pitch_um", "micrometres")
        gain = require_number(iso, "iso", "such as 3200") / self.base_iso
        well = FULL_WELL_PER_UM2 * pitch**2 if self.full_well_e is None else self.full_well_e
        return well / max(gain, 1.0)
