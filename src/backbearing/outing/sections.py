"""From the checked sections of an outing file to the objects that they become."""

from __future__ import annotations

import warnings
from dataclasses import fields
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError, Where
from backbearing.base.limits import LIMITS, shown
from backbearing.camera.bodies_and_lenses import FORMATS_MM, Camera
from backbearing.camera.sensor import Sensor
from backbearing.outing.light_request import LampRequest, TrackerRequest
from backbearing.outing.outline import Outline
from backbearing.outing.outline_svg import read_outline
from backbearing.outing.request import ExposureRequest
from backbearing.outing.scouting_request import PARTS, ScoutRequest, Weights
from backbearing.outing.session_request import (
    MOST_JOBS,
    BreakRequest,
    PictureRequest,
    SessionRequest,
)
from backbearing.outing.subject import Subject

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Found = Callable[[str, str, str], Path]
    """From section, key and text as written to an absolute path."""

TURN_KEYS: Final = ("walk_minutes", "setup_minutes", "focus_minutes", "frames_minutes")
PICTURE_KEYS: Final = tuple(field.name for field in fields(PictureRequest))
SCOUTING_FILES: Final = ("candidates", "ways", "towns", "sky_brightness")


def subject_of(found: Found, shape: Any) -> Subject:
    """Make the subject, with its outline from an SVG file or from widths at heights."""
    asked = shape.model_dump(exclude={"outline", "widths_m", "place"})
    if shape.place is not None:
        asked["lat"], asked["lon"] = shape.place.place
        for note in shape.place.notes:
            warnings.warn(f"[subject] place: {note}.", UserWarning, stacklevel=2)
        # A place that tells how doubtful it is, is not known better than the usual.
        if "position_sigma_m" not in shape.model_fields_set and shape.place.sigma_m > 0.0:
            asked["position_sigma_m"] = max(asked["position_sigma_m"], shape.place.sigma_m)
    outline: Outline | None = None
    if shape.outline is not None:
        # A size that cannot exist is refused by the subject before a drawing is scaled to it.
        Subject(**asked)
        outline = read_outline(
            found("subject", "outline", shape.outline),
            height_m=shape.height_m,
            width_m=shape.width_m,
        )
    elif shape.widths_m is not None:
        outline = Outline.of_widths(shape.widths_m, height_m=shape.height_m)
    return Subject(**asked, outline=outline)


def camera_of(shape: Any) -> Camera:
    """Make the camera, by its format's name or by its size, cropped where asked."""
    held = {"orientation": shape.orientation}
    if shape.sensor_format is not None:
        camera = Camera.of_format(shape.sensor_format, width_px=shape.width_px, **held)
        if shape.height_px is not None:
            width_mm, height_mm = FORMATS_MM[shape.sensor_format]
            camera = Camera(width_mm, height_mm, shape.width_px, shape.height_px, **held)
    else:
        camera = Camera(
            shape.sensor_width_mm, shape.sensor_height_mm, shape.width_px, shape.height_px, **held
        )
    return camera if shape.crop_px is None else _cropped(camera, *shape.crop_px)


def _cropped(camera: Camera, width_px: int, height_px: int) -> Camera:
    least = round(LIMITS["width_px"].low)
    fits = least <= width_px <= camera.width_px and least <= height_px <= camera.height_px
    if not fits or height_px > width_px:
        raise OutingError(
            f"crop_px is [{shown(width_px)}, {shown(height_px)}], which does not fit",
            hint=(
                f"write [width, height] in pixels as the sensor lies in landscape, from {least} up "
                f"to [{camera.width_px}, {camera.height_px}]"
            ),
            key="camera.crop_px",
        )
    return camera.cropped(width_px=width_px, height_px=height_px)


def exposure_of(shape: Any) -> ExposureRequest:
    """Make the exposure request with its sensor."""
    own = {"quantum_efficiency", "read_noise_e", "full_well_e", "base_iso"}
    sensor = Sensor(**shape.model_dump(include=own))
    return ExposureRequest(**shape.model_dump(exclude=own), sensor=sensor)


def lamp_of(shape: Any) -> LampRequest | None:
    """Make what [light] asks; None without the section."""
    return None if shape.light is None else LampRequest(**shape.light.model_dump())


def tracker_of(shape: Any) -> TrackerRequest | None:
    """Make what [tracker] says; None without the section."""
    return None if shape.tracker is None else TrackerRequest(**shape.tracker.model_dump())


def session_of(file: Path, shape: Any) -> SessionRequest | None:
    """Read [session], with each lens's own minutes over the common ones.

    Raises
    ------
    OutingError
        For more lenses than are ordered, an asked minute for all of them, or minutes of a
        lens without a session.
    """
    if shape.session is None:
        _refuse_minutes(file, shape)
        return None
    _refuse_what_contradicts(file, shape)
    common = shape.session.model_dump(exclude={*TURN_KEYS, "breaks", "late_minutes", "light"})
    picture = PictureRequest(**{key: common.pop(key) for key in PICTURE_KEYS})
    return SessionRequest(
        minutes=tuple(_minutes(shape.session, lens) for lens in shape.lens),
        breaks=tuple(BreakRequest(at=b.at, minutes=b.minutes) for b in shape.session.breaks),
        late_minutes=tuple(sorted(set(shape.session.late_minutes))),
        picture=picture,
        **common,
    )


def _minutes(session: Any, lens: Any) -> tuple[float, float, float, float | None]:
    walk, setup, focus, frames = (
        getattr(session, key) if getattr(lens, key) is None else getattr(lens, key)
        for key in TURN_KEYS
    )
    return walk, setup, focus, frames


def _refuse_minutes(file: Path, shape: Any) -> None:
    for number, lens in enumerate(shape.lens, start=1):
        for key in (*TURN_KEYS, "panorama"):
            if getattr(lens, key) not in (None, False):
                raise OutingError(
                    f"{key} means something only in a session",
                    hint="add a [session] section, or take it out",
                    where=Where(file.name, f"[[lens]] number {number}", key),
                    file=str(file),
                    key=f"lens.{number - 1}.{key}",
                )


def _refuse_what_contradicts(file: Path, shape: Any) -> None:

    if len(shape.lens) > MOST_JOBS:
        raise OutingError(
            f"orders at most {MOST_JOBS} lenses and there are {len(shape.lens)}",
            hint="take lenses out, or take [session] out",
            where=Where(file.name, "[session]"),
            file=str(file),
            key="session",
        )
    if shape.night.at is not None:
        raise OutingError(
            "at holds all lenses to one minute and [session] gives each its own",
            hint="take one of them out, or write at under the [[lens]] that needs it",
            where=Where(file.name, "[night]", "at"),
            file=str(file),
            key="night.at",
        )


def scouting_of(found: Found, shape: Any) -> ScoutRequest:
    """Make the request, with the paths that ``found`` makes of them.

    Raises
    ------
    OutingError
        When all weights are zero.
    """
    asked = shape.model_dump()
    weights = Weights(**{part: asked.pop(part) for part in (*PARTS, "cloud")})
    for name in SCOUTING_FILES:
        if asked[name] is not None:
            asked[name] = found("scouting", name, asked[name])
    return ScoutRequest(weights=weights, **asked)
