"""What a picture counts, written out from the meaning of each key of [session]."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.sky_behind import behind_each
from backbearing.camera.framing import frame_position
from backbearing.sky.luminance import sky_luminance
from backbearing.sky.moonlight import zenith_mag_for

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.session_request import PictureRequest
    from backbearing.plan.stand import Stand


def picture_cost_m(
    scene: Scene,
    stand: Stand,
    wishes: PictureRequest,
    *,
    above_top_deg: float,
    over_asked_deg: float,
) -> float:
    """Metres that a picture counts.

    Parameters
    ----------
    scene, stand, wishes
        The stand says where the camera points, and how the subject stands against the land.
    above_top_deg : float
        The target over the subject's top.
    over_asked_deg : float
        What is left of the clearance when its doubt and what was asked are taken off.

    What is unknown, NaN, counts nothing.
    """
    wanted = wishes.above_top_wanted_deg
    if wanted is None:
        wanted = scene.framing.above_top_deg
    if wanted is None:
        # Midway between the subject's top and the upper limit of the target's place (the edge
        # margin below the upper edge, or the top of the box asked for): sought by bisection
        # along the frame's middle.
        box = scene.framing.target_box or (0.0, scene.framing.edge_margin, 1.0, None)
        highest = 1.0 - scene.framing.edge_margin if box[3] is None else box[3]
        top = min(max(stand.base_margin + stand.share, box[1]), highest)
        middle = (top + highest) / 2.0
        low, high = -80.0, 80.0
        for _ in range(60):
            at = (low + high) / 2.0
            _, y = frame_position(
                scene.camera, stand.lens, axis_azimuth_deg=stand.bearing_deg,
                pitch_deg=stand.pitch_deg, azimuth_deg=stand.bearing_deg, altitude_deg=at,
            )  # fmt: skip
            low, high = (at, high) if np.isnan(y) or y < middle else (low, at)
        wanted = low - (stand.target_altitude_deg - stand.above_top_deg)
    total = wishes.above_top_costs_m_per_deg * _known(abs(above_top_deg - wanted))
    total += wishes.ridge_costs_m_per_deg * max(_known(-over_asked_deg), 0.0)
    low_break = wishes.skyline_break_wanted_deg - stand.skyline_break_deg
    return total + wishes.skyline_break_costs_m_per_deg * max(_known(low_break), 0.0)


def _known(degrees: float) -> float:
    return 0.0 if np.isnan(degrees) else degrees


def sky_cost_m(scene: Scene, stand: Stand, wishes: PictureRequest) -> float:
    """Metres that the sky behind a stand's target counts, its cloud already at the stand.

    What is unknown, NaN, counts nothing.
    """
    site, altitude = scene.subject_ground_m, stand.target_altitude_deg
    k = 0.1066 * np.exp(-site / 8200.0) + 0.1 * np.exp(-site / 1500.0) + 0.031
    mass = 1.0 / (np.sin(np.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364)
    assert scene.dark_sky is not None
    (behind,) = behind_each(scene.dark_sky, [stand])
    light = sky_luminance(
        scene.target,
        lat=[stand.lat],
        lon=[stand.lon],
        height_m=site,
        times=[stand.time],
        dark_mag=behind.behind_mag_arcsec2,
        core_mag=np.inf,
        dark_zenith_mag=zenith_mag_for(behind.behind_mag_arcsec2, altitude),
    )
    mag = -2.5 * np.log10(float(light.total[0]) / 108_000.0)
    total = wishes.air_costs_m_per_mag * _known(float(k * (mass - 1.0)))
    total += wishes.bright_sky_costs_m_per_mag * max(_known(22.0 - mag), 0.0)
    return total + wishes.cloud_costs_m * _known(stand.cloud.towards)
