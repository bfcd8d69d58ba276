"""What a page carries of a night, for the solver within it; laid out in :doc:`/pocket`.

Everything that the page's own script needs to settle a lens at any minute and after any correction:
the target's path, the ground, the lenses and their framing, the dark windows, the plan's rules.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.night.from_outing import ARC_STEP
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.stand.outline_edges import outer_sides
from backbearing.base.constants import (
    EARTH_ROTATION_RAD_S,
    LIGHT_M_S,
    MEAN_EARTH_RADIUS_M,
    SIDEREAL_RATE_RAD_S,
)
from backbearing.base.limits import LIMITS
from backbearing.base.numbers import figures, rounded
from backbearing.camera.exposure import STANDARD_SHUTTERS_S
from backbearing.camera.focus import FULL_FRAME_CIRCLE_MM, circle_of_confusion_mm
from backbearing.outing.marks_request import EYE_HEIGHT_M
from backbearing.sky.directions import direction, earth_fixed
from backbearing.sky.instants import utc_array
from backbearing.sky.magnetic import magnetic_declination
from backbearing.workflows.carried_ground import carried_ground

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan
    from backbearing.sky.windows import DarkWindow
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

FORMAT: Final = 1

NODE_S: Final = 600
"""Seconds between the nodes of the target's path."""

UNIT_PLACES: Final = 11
"""Places of a unit vector's parts: 6e-10 degree."""


def carried_night(outing: Outing, elevation: Elevation | None, plan: Plan) -> dict[str, Any]:
    """Put together what a plan's page carries, as plain data for JSON.

    Parameters
    ----------
    outing : Outing
        Of the plan.
    elevation : Elevation, optional
        Its raster, when it is open already.
    plan : Plan
        Whose stands are the planned ones.
    """
    return carried_of(prepare_night(outing, elevation), plan)


def carried_of(night: PreparedNight, plan: Plan | None = None) -> dict[str, Any]:
    """Do as `carried_night` for a night that is ready; without a plan no stand is planned."""
    outing, scene, sky = night.outing, night.scene, night.sky
    first, last = _ends(sky.times, outing, sky.zone)
    times = np.arange(first - 2 * NODE_S, last + 3 * NODE_S, NODE_S)
    lenses = [
        (scene.with_drop(one.stand_drop_m).with_share(one.share), one.lens) for one in outing.lenses
    ]
    level = [own.level_distance_m(lens) for own, lens in lenses]
    azimuth, _ = direction(
        scene.target,
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        times=utc_array(sky.times),
    )
    planned = {} if plan is None else dict(enumerate(plan.lenses))
    return {
        "format": FORMAT,
        "night": {
            "zone": sky.zone,
            "start_s": first,
            "end_s": last,
            "step_s": int(ARC_STEP.total_seconds()),
            "runs": _runs(sky.times),
            "dark": _windows(sky.dark),
            "sunless": _windows(sky.sunless),
            "clear_by_deg": sky.clear_by_deg,
        },
        "target": _path(scene, times),
        "subject": _subject(
            scene, bent=any(one.lens.projection != "rectilinear" for one in outing.lenses)
        ),
        "camera": _camera(scene),
        "framing": _framing(scene),
        "lenses": [_lens(own, lens, planned.get(i)) for i, (own, lens) in enumerate(lenses)],
        "ground": carried_ground(scene, azimuth, float(np.nanmax([*level, 0.0]))),
        "rules": _rules(outing, scene, first, last),
    }


def _ends(times: Sequence[dt.datetime], outing: Outing, zone: str) -> tuple[int, int]:
    """From when to when the page knows the night, whole seconds since 1970."""
    if times:
        return round(times[0].timestamp()), round(times[-1].timestamp())
    from zoneinfo import ZoneInfo

    midnight = dt.datetime.combine(
        outing.night.evening + dt.timedelta(days=1), dt.time(), tzinfo=ZoneInfo(zone)
    )
    return round(midnight.timestamp()), round(midnight.timestamp())


def _runs(times: Sequence[dt.datetime]) -> list[list[int]]:
    """Moments of the arcs as first moments and counts, where none is left out between."""
    found: list[list[int]] = []
    step = round(ARC_STEP.total_seconds())
    for time in times:
        at = round(time.timestamp())
        if found and at == found[-1][0] + found[-1][1] * step:
            found[-1][1] += 1
        else:
            found.append([at, 1])
    return found


def _windows(windows: Sequence[DarkWindow]) -> list[list[float]]:
    return [[rounded(v.timestamp(), 3) for v in (one.start, one.end)] for one in windows]


def _path(scene: Scene, times: NDArray[np.int64]) -> dict[str, Any]:
    """Earth-fixed vectors at nodes with the Earth's turn taken off, and what is lost between."""
    vectors = _unturned(scene, times.astype(np.float64), float(times[0]))
    places = UNIT_PLACES if scene.target.is_fixed else 0
    held = np.round(vectors, places)
    middle = np.asarray(times[1:-2] + NODE_S / 2, dtype=np.float64)
    mixed = (-held[:, :-3] + 9.0 * held[:, 1:-2] + 9.0 * held[:, 2:-1] - held[:, 3:]) / 16.0
    exact = _unturned(scene, middle, float(times[0]))
    off = np.linalg.norm(mixed - exact, axis=0) / np.linalg.norm(exact, axis=0)
    return {
        "name": scene.target.name,
        "fixed": scene.target.is_fixed,
        "first_s": int(times[0]),
        "step_s": NODE_S,
        "turn_rad_s": EARTH_ROTATION_RAD_S,
        "within_deg": float(figures(math.degrees(float(off.max(initial=0.0))))),
        **{axis: (row + 0.0).tolist() for axis, row in zip("xyz", held, strict=True)},
    }


def _unturned(scene: Scene, seconds: Floats, first_s: float) -> Floats:
    utc = np.datetime64("1970-01-01", "us") + np.round(seconds * 1e6).astype("timedelta64[us]")
    x, y, z = earth_fixed(scene.target, utc)
    turn = EARTH_ROTATION_RAD_S * (seconds - first_s)
    return np.stack([np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y, z])


def _subject(scene: Scene, *, bent: bool) -> dict[str, Any]:
    """The subject's size and shape; points along its sides only for a lens that bends them."""
    subject, shape = scene.subject, scene.subject.shape
    hull, sides = shape.hull(), outer_sides(shape) if bent else None
    return {
        "lat": subject.lat,
        "lon": subject.lon,
        "ground_m": scene.subject_ground_m,
        "height_m": subject.height_m,
        "width_m": subject.shown_width_m,
        "width_given": subject.width_m is not None,
        "base_height_m": subject.base_height_m,
        "rings": None
        if subject.outline is None
        else [[[x, y] for x, y in ring] for ring in shape.rings],
        "corners": {"across": [x for x, _ in hull], "up": [y for _, y in hull]},
        "sides": None
        if sides is None
        else {
            "across": sides.across_m.tolist(),
            "up": sides.up_m.tolist(),
            "inner": sides.inner.astype(int).tolist(),
        },
    }


def _camera(scene: Scene) -> dict[str, Any]:
    camera = scene.camera
    return {
        "width_mm": camera.frame_width_mm,
        "height_mm": camera.frame_height_mm,
        "width_px": camera.frame_width_px,
        "height_px": camera.frame_height_px,
        "pixel_pitch_um": camera.pixel_pitch_um,
        "circle_mm": circle_of_confusion_mm(camera),
    }


def _framing(scene: Scene) -> dict[str, Any]:
    framing = scene.framing
    return {
        "base_margin": framing.base_margin,
        "edge_margin": framing.edge_margin,
        "offset_deg": framing.offset_deg,
        "eye_height_m": framing.eye_height_m,
        "play_deg": framing.play_deg,
        "share_of": framing.share_of,
        "level": framing.level,
        "above_top_deg": framing.above_top_deg,
        "target_box": None if framing.target_box is None else list(framing.target_box),
        "behind_subject": framing.behind_subject,
    }


def _lens(scene: Scene, lens: Lens, planned: LensPlan | None) -> dict[str, Any]:
    stand = None if planned is None else planned.stand
    return {
        "label": lens.label,
        "focal_mm": lens.focal_length_mm,
        "f_number": lens.f_number,
        "projection": lens.projection,
        "rise_mm": lens.rise_mm,
        "share": scene.framing.share,
        "stand_drop_m": scene.framing.stand_drop_m,
        "planned": None
        if stand is None
        else {
            "time_s": rounded(stand.time.timestamp(), 3),
            "lat": rounded(stand.lat, 9),
            "lon": rounded(stand.lon, 9),
            "distance_m": rounded(stand.distance_m, 4),
            "bearing_deg": rounded(stand.bearing_deg, 5),
            "target_azimuth_deg": rounded(stand.target_azimuth_deg, 5),
        },
    }


def _rules(outing: Outing, scene: Scene, first_s: int, last_s: int) -> dict[str, Any]:
    middle = dt.datetime.fromtimestamp((first_s + last_s) / 2.0, tz=dt.UTC)
    found = magnetic_declination(
        lat=scene.subject.lat,
        lon=scene.subject.lon,
        height_m=scene.subject_ground_m,
        when=middle,
    )
    return {
        "refraction_k": scene.refraction_k,
        "earth_radius_m": MEAN_EARTH_RADIUS_M,
        "earth_rad_s": EARTH_ROTATION_RAD_S,
        "light_m_s": LIGHT_M_S,
        "sidereal_rad_s": SIDEREAL_RATE_RAD_S,
        "reader_eye_m": EYE_HEIGHT_M,
        "accepted_trail_px": outing.accepted_trail_px,
        "accepted_blur_px": outing.accepted_blur_px,
        "full_frame_circle_mm": FULL_FRAME_CIRCLE_MM,
        "shutters_s": sorted(STANDARD_SHUTTERS_S, reverse=True),
        "declination_deg": found.declination_deg if found.known else None,
        "ranges": _ranges(),
    }


def _ranges() -> dict[str, list[Any]]:
    """What each correction may be: lowest, highest, unit as a person says it."""
    height, width, eye = LIMITS["height_m"], LIMITS["width_m"], (0.01, 100.0)
    drop, focal = LIMITS["stand_drop_m"], LIMITS["focal_length_mm"]
    return {
        "subject_height_m": [height.low, height.high, " metres"],
        "subject_width_m": [width.low, width.high, " metres"],
        "ground_step_m": [drop.low, drop.high, " metres"],
        "distance_m": [0.5, 10_000.0, " metres"],
        "eye_height_m": [*eye, " metres"],
        "share": [0.001, 0.999, ""],
        "base_margin": [0.0, 1.0, ""],
        "focal_mm": [focal.low, focal.high, " millimetres"],
        "compass_error_deg": [-180.0, 180.0, " degrees"],
        "skyline_deg": [-30.0, 80.0, " degrees"],
        "skyline_azimuth_deg": [-360.0, 720.0, " degrees"],
        "skyline_distance_m": [1.0, 200_000.0, " metres"],
    }
