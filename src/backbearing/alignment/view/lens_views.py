"""Look through a lens from its stand: stars, Milky Way, planets, Moon, land and subject.

What is seen becomes a :class:`backbearing.plan.view.View`, which writers draw.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.view.bodies import moon_disc, planets_in, sky_adds_mag, with_towns_mag
from backbearing.alignment.view.core_places import core_places
from backbearing.alignment.view.frame_stars import stars_in
from backbearing.alignment.view.light import hidden_light, turn_of
from backbearing.alignment.view.milky_way import brightness, brightness_coarse
from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.numbers import num, per_cent
from backbearing.base.text import length
from backbearing.base.wall_clock import hm
from backbearing.camera.framing import Frame
from backbearing.outing.silhouettes import drawn_outline, shape_note
from backbearing.plan.view import View, ViewGround, ViewPlacement, ViewSky
from backbearing.sky.moonlight import dimming_mag
from backbearing.sky.targets import icrs_to_galactic_matrix
from backbearing.terrain.cover.covered_rays import covered_rays

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.outing.outline import Outline
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.horizon import Horizon

    Floats = NDArray[np.float64]

BAND_COLUMNS: Final = 192
"""Width of the Milky Way's grid; its brightness changes slowly."""

BAND_PX: Final = 5
"""Pixels of a small drawing for one column of the grid."""

RIDGE_STEP_DEG: Final = 0.1
NEAR_GROUND_M: Final = 250.0
"""Ground so near is drawn as the foreground, apart from the ridges beyond."""

SHOWN_MAG: Final = 0.1
"""From here on the caption says that the sky is brighter."""

FARTHEST_TURN_DEG: Final = 110.0
"""Skylines are drawn so far to each side: beyond it a fisheye's would turn back."""


def views(plan: Plan, elevation: Elevation | None) -> tuple[View, ...]:
    """Look through every lens of a plan that has a stand, in the plan's order.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground; a level horizon without it.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.alignment.view import views
    >>> [view.label for view in views(plan, elevation)]
    ['16 mm', '24 mm', '40 mm', '85 mm']
    """
    return tuple(view_of(plan, lens, elevation) for lens in plan.lenses if lens.stand is not None)


def view_of(
    plan: Plan,
    lens_plan: LensPlan,
    elevation: Elevation | None,
    *,
    width_px: int | None = None,
    adds_mag: float | None = None,
) -> View:
    """Look through one lens from its stand.

    Parameters
    ----------
    plan : Plan
    lens_plan : LensPlan
    elevation : Elevation or None
        The ground; a level horizon without it.
    width_px : int, optional
        For a drawing no wider than this: the Milky Way and the skylines are worked out as finely
        as that shows, and nothing else changes. As for any drawing when left out.
    adds_mag : float, optional
        By how much Moon and twilight brighten the sky at the target, where it is known already;
        towns that the lens's ``behind`` knows of come on top.

    Raises
    ------
    ValueError
        When the lens has no stand.
    """
    stand = lens_plan.stand
    if stand is None:
        raise ValueError(lens_plan.sentence)
    frame = Frame(plan.camera, lens_plan.lens, stand.pitch_deg, stand.bearing_deg)
    height = stand.ground_m if np.isfinite(stand.ground_m) else plan.subject_ground_m
    turn = SkyTurn.at(lat=stand.lat, lon=stand.lon, height_m=height, time=stand.time)
    band, altitude = _band(frame, turn, width_px)
    base_up_m = _base_up_m(stand, frame)
    added = sky_adds_mag(plan, stand, height) if adds_mag is None else adds_mag
    step_deg = _ridge_step_deg(frame, width_px)
    ground = _ground(plan, stand, frame, elevation, step_deg)
    return View(
        label=lens_plan.lens.label,
        caption=_caption(plan, stand, added),
        aspect=plan.camera.frame_width_mm / plan.camera.frame_height_mm,
        sky=ViewSky(
            stars=stars_in(frame, turn, stand.time.year + stand.time.timetuple().tm_yday / 365.25),
            band=band,
            altitude=altitude,
            planets=planets_in(frame, stand, height),
            moon=moon_disc(frame, stand, height),
            adds_mag=with_towns_mag(added, lens_plan.behind),
            places=core_places(frame, turn, ground.ridge),
        ),
        ground=ground,
        subject=_silhouette(drawn_outline(plan.subject), stand, frame, base_up_m),
        placement=ViewPlacement(
            target=(stand.target_x, stand.target_y),
            name=plan.target.name,
            core_width=lens_plan.core_width_frame_heights,
            edge_margin=plan.framing.edge_margin,
            box=plan.framing.target_box,
        ),
        hidden=hidden_light(plan, stand, frame, elevation, base_up_m=base_up_m),
        shape_note=shape_note(plan.subject),
    )


def _caption(plan: Plan, stand: Stand, added_mag: float) -> str:

    shot = turn_of(plan, stand)
    bright = f", sky {num(added_mag, 1)} mag brighter" if added_mag >= SHOWN_MAG else ""
    turn = f"turn {shot.number}, " if shot is not None else ""
    return (
        f"{turn}{hm(stand.time, plan.zone)}, {length(stand.distance_m)} away, "
        f"subject {per_cent(stand.share)} of the frame{bright}"
    )


def _band(frame: Frame, turn: SkyTurn, width_px: int | None) -> tuple[Floats, Floats]:

    camera = frame.camera
    columns = BAND_COLUMNS if width_px is None else min(BAND_COLUMNS, width_px // BAND_PX)
    rows = max(2, round(columns * camera.frame_height_mm / camera.frame_width_mm))
    x = (np.arange(columns) + 0.5) / columns
    y = 1.0 - (np.arange(rows) + 0.5) / rows
    across, up = np.meshgrid(x, y)
    azimuth, altitude = frame.direction(across.ravel(), up.ravel())
    azimuth, altitude = np.nan_to_num(azimuth), np.nan_to_num(altitude, nan=-90.0)
    galactic = icrs_to_galactic_matrix() @ turn.icrs(azimuth, altitude)
    l_deg = np.degrees(np.arctan2(galactic[1], galactic[0]))
    b_deg = np.degrees(np.arcsin(np.clip(galactic[2], -1.0, 1.0)))
    dimmed = 10.0 ** (-0.4 * dimming_mag(altitude))
    light = (brightness if width_px is None else brightness_coarse)(l_deg, b_deg) * dimmed
    return light.reshape(rows, columns), altitude.reshape(rows, columns)


def _ridge_step_deg(frame: Frame, width_px: int | None) -> float:
    """Degrees between the azimuths of a skyline: a pixel of a drawing, and no finer than any."""
    if width_px is None:
        return RIDGE_STEP_DEG
    azimuth, altitude = frame.direction(np.array([0.5, 0.5 + 1.0 / width_px]), np.full(2, 0.5))
    pixel_deg = abs(float(wrap_180_deg(azimuth[1] - azimuth[0])) * np.cos(np.radians(altitude[0])))
    return max(RIDGE_STEP_DEG, float(pixel_deg))


def _ground(
    plan: Plan, stand: Stand, frame: Frame, elevation: Elevation | None, step_deg: float
) -> ViewGround:
    """Skylines of all ground and of the near ground across the frame, and whether known."""
    azimuth, _ = frame.outline(24)
    turn = wrap_180_deg(azimuth - stand.bearing_deg)
    widest = float(np.nanmax(np.abs(turn))) if np.isfinite(turn).any() else FARTHEST_TURN_DEG
    reach = min(widest + 1.0, FARTHEST_TURN_DEG)
    sweep = np.arange(-reach, reach + step_deg, step_deg)
    azimuths = stand.bearing_deg + sweep
    if elevation is None:
        flat = _placed(frame, azimuths, np.zeros(sweep.shape))
        return ViewGround(flat, flat, known=False)
    raster = float(elevation.height_at(lat=stand.lat, lon=stand.lon))
    seen = [
        elevation.horizon(
            lat=stand.lat,
            lon=stand.lon,
            eye_height_m=plan.framing.eye_height_m,
            azimuths_deg=wrap_360_deg(azimuths),
            max_distance_m=reach_m,
            refraction_k=plan.refraction_k,
            ground_m=float(np.fmax(stand.ground_m, raster)),
        )
        for reach_m in (100_000.0, NEAR_GROUND_M)
    ]
    known = bool(np.isfinite(seen[0].altitudes_deg).all())
    ridge, near = (
        _placed(frame, azimuths, np.nan_to_num(one.altitudes_deg, nan=0.0)) for one in seen
    )
    bare_deg = _without_tops(seen[0])
    bare = None if bare_deg is None else _placed(frame, azimuths, bare_deg)
    return ViewGround(ridge, near, known, bare)


def _without_tops(seen: Horizon) -> Floats | None:
    """The skyline with bare ground where known tops make it; None where they make none of it."""
    rays = covered_rays(seen)
    if rays is None or not rays.are_covered.any():
        return None
    bare_deg = np.where(rays.are_covered, rays.bare_deg, seen.altitudes_deg)
    return np.asarray(np.nan_to_num(bare_deg, nan=0.0))


def _placed(frame: Frame, azimuths_deg: Floats, altitudes_deg: Floats) -> Floats:
    """Points of a skyline in the frame, from its middle outwards as long as they go on."""
    x, y = frame.place(wrap_360_deg(azimuths_deg), altitudes_deg)
    line = np.stack([x, y], axis=1)
    good = np.isfinite(line).all(axis=1) & (np.abs(line) < 20.0).all(axis=1)
    onward = np.diff(x, prepend=-np.inf) > 0.0
    middle = len(line) // 2
    bad = np.flatnonzero(~(good & onward))
    first = int(bad[bad < middle].max(initial=-1)) + 1
    last = int(bad[bad > middle].min(initial=len(line)))
    return line[first:last]


def _base_up_m(stand: Stand, frame: Frame) -> float:
    """The subject's base over the lens, metres; below it negative."""
    _, base = frame.direction(0.5, stand.base_margin)
    return float(stand.distance_m * np.tan(np.radians(base)))


def _silhouette(shape: Outline, stand: Stand, frame: Frame, base_up_m: float) -> tuple[Floats, ...]:
    """Rings of the subject's drawn shape as projected, at its true size and distance."""
    points = np.concatenate([np.asarray(ring, dtype=np.float64) for ring in shape.rings])
    across, up = points.T
    x, y = frame.place(
        wrap_360_deg(stand.bearing_deg + np.degrees(np.arctan2(across, stand.distance_m))),
        np.degrees(np.arctan2(base_up_m + up, np.hypot(stand.distance_m, across))),
    )
    ends = np.cumsum([len(ring) for ring in shape.rings])[:-1]
    lines = np.split(np.stack([x, y], axis=1), ends)
    rings = [line[np.isfinite(line).all(axis=1)] for line in lines]
    return tuple(ring for ring in rings if len(ring) >= 3)
