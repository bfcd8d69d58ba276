"""What a lens will see from its stand: stars, Milky Way, planets, Moon, land and subject.

Everything lies in fractions of the frame, from its left and its bottom edge, for writers to
draw; they compute nothing of the sky or the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.sky_turn import SkyTurn

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.plan import LensPlan, Plan, Stand
    from backbearing.alignment.view_bodies import MoonDisc, Planet
    from backbearing.camera import Frame
    from backbearing.terrain import Elevation

    Floats = NDArray[np.float64]

BAND_COLUMNS: Final = 192
"""Width of the Milky Way's grid; its brightness changes slowly."""

RIDGE_STEP_DEG: Final = 0.1
NEAR_GROUND_M: Final = 250.0
"""Ground so near is drawn as the foreground, apart from the ridges beyond."""

FARTHEST_TURN_DEG: Final = 110.0
"""Skylines are drawn so far to each side: beyond it a fisheye's would turn back."""

EXTINCTION_MAG: Final = 0.2
"""Loss of light in the zenith, magnitudes (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Stars:
    """Stars in the frame, shape (n,) each, the faintest first.

    ``mag`` is dimmed by the air; ``b_v`` is NaN where the colour is unknown.
    """

    x: Floats
    y: Floats
    mag: Floats
    b_v: Floats
    hip: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class View:
    """One lens's picture as plain data.

    Attributes
    ----------
    label, caption : str
        The lens; when and from where.
    aspect : float
        Frame width over height.
    stars : Stars
    band : ndarray, shape (rows, columns)
        Brightness of the Milky Way, 1 at its largest, dimmed by the air; the first row is
        the top of the frame.
    altitude : ndarray, shape (rows, columns)
        Apparent altitude of the same grid, degrees.
    planets : tuple of Planet
    moon : MoonDisc or None
        None when it is out of the frame.
    ridge, near : ndarray, shape (n, 2)
        Skyline of all ground, and of the ground within 250 m, left to right.
    ground_known : bool
        False when the skyline is unknown somewhere in the frame, or no raster was given.
    subject : tuple of ndarray, shape (n, 2)
        Rings of the silhouette, to be filled by the even-odd rule.
    target : tuple of float
    target_name : str
    core_width : float
        Ten degrees of sky about the target, in frame heights.
    edge_margin : float
    target_box : tuple of float or None
    """

    label: str
    caption: str
    aspect: float
    stars: Stars
    band: Floats
    altitude: Floats
    planets: tuple[Planet, ...]
    moon: MoonDisc | None
    ridge: Floats
    near: Floats
    ground_known: bool
    subject: tuple[Floats, ...]
    target: tuple[float, float]
    target_name: str
    core_width: float
    edge_margin: float
    target_box: tuple[float, float, float, float] | None


def views(plan: Plan, elevation: Elevation | None) -> tuple[View, ...]:
    """Look through every lens of a plan that has a stand, in the plan's order.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground; a level horizon without it.
    """
    return tuple(view_of(plan, lens, elevation) for lens in plan.lenses if lens.stand is not None)


def view_of(plan: Plan, lens_plan: LensPlan, elevation: Elevation | None) -> View:
    """Look through one lens from its stand.

    Raises
    ------
    ValueError
        When the lens has no stand.
    """
    from backbearing.alignment.view_bodies import moon_disc, planets_in
    from backbearing.camera import Frame

    stand = lens_plan.stand
    if stand is None:
        raise ValueError(lens_plan.sentence)
    frame = Frame(plan.camera, lens_plan.lens, stand.pitch_deg, stand.bearing_deg)
    height = stand.ground_m if np.isfinite(stand.ground_m) else plan.subject_ground_m
    turn = SkyTurn.at(lat=stand.lat, lon=stand.lon, height_m=height, time=stand.time)
    band, altitude = _band(frame, turn)
    ridge, near, known = _ground(plan, stand, frame, elevation)
    return View(
        label=lens_plan.lens.label,
        caption=_caption(plan, stand),
        aspect=plan.camera.frame_width_mm / plan.camera.frame_height_mm,
        stars=stars_in(frame, turn, stand.time.year + stand.time.timetuple().tm_yday / 365.25),
        band=band,
        altitude=altitude,
        planets=planets_in(frame, stand, height),
        moon=moon_disc(frame, stand, height),
        ridge=ridge,
        near=near,
        ground_known=known,
        subject=_silhouette(plan, stand, frame),
        target=(stand.target_x, stand.target_y),
        target_name=plan.target.name,
        core_width=lens_plan.core_width_frame_heights,
        edge_margin=plan.framing.edge_margin,
        target_box=plan.framing.target_box,
    )


def _caption(plan: Plan, stand: Stand) -> str:
    from zoneinfo import ZoneInfo

    from backbearing.text import length

    local = stand.time.astimezone(ZoneInfo(plan.zone))
    return f"{local:%H:%M}, {length(stand.distance_m)} away, subject {stand.share:.0%} of the frame"


@cache
def star_table() -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Hipparcos numbers (n,), ICRS unit vectors (3, n) at J2000, V magnitudes and B-V (n,)."""
    text = (resources.files("backbearing") / "data" / "stars.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()[1:]]
    hip = np.array([int(row[0]) for row in rows])
    ra, dec, mag = (np.array([float(row[i]) for row in rows]) for i in (1, 2, 3))
    b_v = np.array([float(row[4]) if row[4] else np.nan for row in rows])
    ra, dec = np.radians(ra), np.radians(dec)
    vectors = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    return hip, vectors, mag, b_v


def _moved(year: float) -> Floats:
    """Star vectors of date: those with a known proper motion moved from J2000."""
    from backbearing.sky.stars import STARS

    hip, vectors, _, _ = star_table()
    vectors = vectors.copy()
    place = {number: i for i, number in enumerate(hip.tolist())}
    for star in STARS.values():
        if star.hip not in place:
            continue
        ra, dec = np.radians(star.ra_deg), np.radians(star.dec_deg)
        east = np.array([-np.sin(ra), np.cos(ra), 0.0])
        north = np.array([-np.sin(dec) * np.cos(ra), -np.sin(dec) * np.sin(ra), np.cos(dec)])
        per_year = np.radians(1.0 / 3.6e6)
        step = (
            per_year * (year - 2000.0) * (star.ra_cos_dec_mas_yr * east + star.dec_mas_yr * north)
        )
        moved = np.array([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)]) + step
        vectors[:, place[star.hip]] = moved / np.linalg.norm(moved)
    return vectors


def stars_in(frame: Frame, turn: SkyTurn, year: float) -> Stars:
    """Find the stars in a frame; those dimmed below the table's limit are left out."""
    hip, _, mag, b_v = star_table()
    azimuth, altitude = turn.horizontal(_moved(year))
    dimmed = mag + EXTINCTION_MAG * (_air_mass(altitude) - 1.0)
    x, y = frame.place(azimuth, altitude)
    with np.errstate(invalid="ignore"):
        kept = (altitude > -1.0) & (x >= 0.0) & (x <= 1.0) & (y >= 0.0) & (y <= 1.0)
        kept &= dimmed < 7.0
    order = np.flatnonzero(kept)[::-1]
    return Stars(x[order], y[order], dimmed[order], b_v[order], hip[order])


def _air_mass(altitude_deg: Floats) -> Floats:
    from backbearing.sky.moonlight import air_mass

    return air_mass(90.0 - np.clip(altitude_deg, 0.0, 90.0))


def _band(frame: Frame, turn: SkyTurn) -> tuple[Floats, Floats]:
    from backbearing.alignment.milky_way import brightness
    from backbearing.sky.targets import icrs_to_galactic_matrix

    camera = frame.camera
    rows = max(2, round(BAND_COLUMNS * camera.frame_height_mm / camera.frame_width_mm))
    x = (np.arange(BAND_COLUMNS) + 0.5) / BAND_COLUMNS
    y = 1.0 - (np.arange(rows) + 0.5) / rows
    across, up = np.meshgrid(x, y)
    azimuth, altitude = frame.direction(across.ravel(), up.ravel())
    azimuth, altitude = np.nan_to_num(azimuth), np.nan_to_num(altitude, nan=-90.0)
    galactic = icrs_to_galactic_matrix() @ turn.icrs(azimuth, altitude)
    l_deg = np.degrees(np.arctan2(galactic[1], galactic[0]))
    b_deg = np.degrees(np.arcsin(np.clip(galactic[2], -1.0, 1.0)))
    dimmed = 10.0 ** (-0.4 * EXTINCTION_MAG * (_air_mass(altitude) - 1.0))
    light = brightness(l_deg, b_deg) * dimmed
    return light.reshape(rows, BAND_COLUMNS), altitude.reshape(rows, BAND_COLUMNS)


def _ground(
    plan: Plan, stand: Stand, frame: Frame, elevation: Elevation | None
) -> tuple[Floats, Floats, bool]:
    """Skylines of all ground and of the near ground across the frame, and whether known."""
    azimuth, _ = frame.outline(24)
    turn = (azimuth - stand.bearing_deg + 180.0) % 360.0 - 180.0
    widest = float(np.nanmax(np.abs(turn))) if np.isfinite(turn).any() else FARTHEST_TURN_DEG
    reach = min(widest + 1.0, FARTHEST_TURN_DEG)
    sweep = np.arange(-reach, reach + RIDGE_STEP_DEG, RIDGE_STEP_DEG)
    azimuths = stand.bearing_deg + sweep
    if elevation is None:
        flat = _placed(frame, azimuths, np.zeros(sweep.shape))
        return flat, flat, False
    raster = float(elevation.height_at(lat=stand.lat, lon=stand.lon))
    seen = [
        elevation.horizon(
            lat=stand.lat,
            lon=stand.lon,
            eye_height_m=plan.framing.eye_height_m,
            azimuths_deg=azimuths % 360.0,
            max_distance_m=reach_m,
            refraction_k=plan.refraction_k,
            ground_m=float(np.fmax(stand.ground_m, raster)),
        ).altitudes_deg
        for reach_m in (100_000.0, NEAR_GROUND_M)
    ]
    known = bool(np.isfinite(seen[0]).all())
    ridge, near = (np.nan_to_num(altitudes, nan=0.0) for altitudes in seen)
    return _placed(frame, azimuths, ridge), _placed(frame, azimuths, near), known


def _placed(frame: Frame, azimuths_deg: Floats, altitudes_deg: Floats) -> Floats:
    """Points of a skyline in the frame, from its middle outwards as long as they go on."""
    x, y = frame.place(azimuths_deg % 360.0, altitudes_deg)
    line = np.stack([x, y], axis=1)
    good = np.isfinite(line).all(axis=1) & (np.abs(line) < 20.0).all(axis=1)
    onward = np.diff(x, prepend=-np.inf) > 0.0
    middle = len(line) // 2
    bad = np.flatnonzero(~(good & onward))
    first = int(bad[bad < middle].max(initial=-1)) + 1
    last = int(bad[bad > middle].min(initial=len(line)))
    return line[first:last]


def _silhouette(plan: Plan, stand: Stand, frame: Frame) -> tuple[Floats, ...]:
    """Rings of the subject's outline as projected, at its true size and distance."""
    _, base = frame.direction(0.5, stand.base_margin)
    level = stand.distance_m * np.tan(np.radians(float(base)))
    rings = []
    for ring in plan.subject.shape.rings:
        across, up = np.array(ring).T
        x, y = frame.place(
            (stand.bearing_deg + np.degrees(np.arctan2(across, stand.distance_m))) % 360.0,
            np.degrees(np.arctan2(level + up, np.hypot(stand.distance_m, across))),
        )
        line = np.stack([x, y], axis=1)
        rings.append(line[np.isfinite(line).all(axis=1)])
    return tuple(ring for ring in rings if len(ring) >= 3)
