"""What a tracking mount makes of a lens's stand: values only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TrackerFacts:
    """A tracked sky and its untracked foreground at a stand's minute.

    Attributes
    ----------
    polar_error_arcmin : float
        As asked.
    polar_drift_arcsec_min : float
        The fastest drift that it makes.
    air_drift_arcsec_min : float
        What refraction adds as the target climbs or sinks; NaN below the horizontal.
    pixel_s : float
        How long until both together have drifted a pixel in the middle of the frame.
    tracked_shutter_s : float
        The longest marked shutter within that, whole seconds beyond 30.
    land_smear_px : float
        How far the land moves in the tracked frame, pixels in the middle of the frame.
    tracker_sentence : str
    """

    polar_error_arcmin: float
    polar_drift_arcsec_min: float
    air_drift_arcsec_min: float
    pixel_s: float
    tracked_shutter_s: float
    land_smear_px: float
    tracker_sentence: str
