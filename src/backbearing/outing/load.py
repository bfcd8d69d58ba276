"""Read an outing file, check it, and build the request from it.

The shape of the file (sections, keys, types) is checked by ``schema``; the values are checked by
the objects they become, and every refusal names file and key.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from backbearing.base.errors import BackbearingError, OutingError, Where
from backbearing.base.input_files import checked_path, is_missing, read_text, resolved, shown_path
from backbearing.base.units import Units
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.outing import schema as outing_shape
from backbearing.outing.cover_request import CoverRequest
from backbearing.outing.kit import with_kit
from backbearing.outing.mark_rows import marks_of
from backbearing.outing.request import (
    AcceptedRequest,
    GroundRequest,
    LensRequest,
    NightRequest,
    Outing,
    RasterNumbers,
    SafetyRequest,
)
from backbearing.outing.schema import known_keys
from backbearing.outing.sections import (
    TURN_KEYS,
    camera_of,
    exposure_of,
    lamp_of,
    scouting_of,
    session_of,
    subject_of,
    tracker_of,
)
from backbearing.outing.subject import Framing
from backbearing.outing.teaching import taught
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.sky.targets import CORE_PLACES, Target

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


_T = TypeVar("_T")


def load_outing(path: str | Path, *, trusted: bool = True) -> Outing:
    """Read and check an outing file.

    Parameters
    ----------
    path : path
        The file.
    trusted : bool, optional
        Whether its author is. The paths in a stranger's outing stay in its own folder: no
        absolute path, no ``..``, no address and no link that leaves it.

    Raises
    ------
    OutingError
        One sentence that names the file, the key and what to write instead.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing.outing import load_outing
    >>> outing = load_outing(sample / "outing.toml")
    >>> outing.subject.name, [lens.lens.label for lens in outing.lenses]
    ('Averil Chapel (invented)', ['16 mm', '24 mm', '40 mm', '85 mm'])
    """
    file = checked_path(path)
    return outing_of(_read_toml(file), file, trusted=trusted)


def outing_of(raw: dict[str, Any], file: Path, *, trusted: bool = True) -> Outing:
    """Build the outing of a file whose TOML is parsed; raises as `load_outing` does."""
    from pydantic import ValidationError

    raw = with_kit(raw, file, trusted=trusted)
    try:
        shape = outing_shape.OutingShape.model_validate(raw)
    except ValidationError as problem:
        raise taught(problem, file, known_keys) from problem
    return _build(file.resolve(), shape, trusted=trusted)


def _read_toml(file: Path) -> dict[str, Any]:
    if file.is_dir():
        raise OutingError(
            f"{shown_path(file)} is a folder",
            hint=f"name the outing file in it, for example {shown_path(file / 'outing.toml')}",
            file=str(file),
        )
    if is_missing(file):
        raise OutingError(
            f"There is no outing file at {shown_path(file)}",
            hint=f"write one with `backbearing new {shown_path(file)}`",
            file=str(file),
        )
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    return parse_outing_text(text, file)


def _build(file: Path, shape: Any, *, trusted: bool) -> Outing:

    def found(section: str, key: str, named: str) -> Path:
        try:
            return resolved(file.parent, named, inside=not trusted)
        except OutingError as problem:
            problem.facts |= {"file": str(file), "key": f"{section}.{key}"}
            raise problem.at(Where(file.name, f"[{section}]", key)) from None

    ground, night = shape.ground.model_dump(), shape.night.model_dump()
    if night["forecast"] is not None:
        night["forecast"] = found("night", "forecast", night["forecast"])
    ground["elevation"] = tuple(found("ground", "elevation", p) for p in ground["elevation"])
    numbers = {key: ground.pop(key) for key in ("vertical_unit", "voids", "band")}
    ground["numbers"] = RasterNumbers(**(numbers | {"voids": tuple(numbers["voids"])}))
    for key in ("places", "canopy", "surface", "woods"):
        if ground[key] is not None:
            ground[key] = found("ground", key, ground[key])
    named = {key: ground.pop(key) for key in ("canopy", "surface", "woods")}
    ground["cover"] = CoverRequest(**named)
    ground["marks"] = marks_of(file, found, shape, ground)
    framing = shape.framing.model_dump()
    if framing["target_box"] is not None:
        framing["target_box"] = tuple(framing["target_box"])
    return Outing(
        path=file,
        name=shape.name,
        units=Units(shape.units),
        subject=_checked(file, "[subject]", lambda: subject_of(found, shape.subject)),
        target=_checked(file, "[target]", lambda: _target(shape.target)),
        camera=_checked(file, "[camera]", lambda: camera_of(shape.camera)),
        lenses=tuple(_lens(file, i, entry) for i, entry in enumerate(shape.lens, start=1)),
        framing=_checked(file, "[framing]", lambda: Framing(**framing)),
        night=NightRequest(**night),
        ground=GroundRequest(**ground),
        accepted=AcceptedRequest(
            shape.camera.accepted_trail_px,
            shape.camera.accepted_blur_px,
            shape.camera.panorama_overlap,
        ),
        safety=SafetyRequest(**shape.safety.model_dump()),
        exposure=replace(
            _checked(file, "[exposure]", lambda: exposure_of(shape.exposure)),
            lamp=_checked(file, "[light]", lambda: lamp_of(shape)),
            tracker=tracker_of(shape),
        ),
        session=session_of(file, shape),
        scouting=_checked(file, "[scouting]", lambda: scouting_of(found, shape.scouting)),
    )


def _lens(file: Path, number: int, entry: Any) -> LensRequest:

    asked = entry.model_dump(exclude={*TURN_KEYS, "use"})
    at, drop, share = (asked.pop(key) for key in ("at", "stand_drop_m", "share"))
    panorama = asked.pop("panorama")
    lens = _checked(file, f"[[lens]] number {number}", lambda: Lens(**asked))
    return LensRequest(lens=lens, at=at, stand_drop_m=drop, share=share, panorama=panorama)


def _target(shape: Any) -> Target:

    if shape.galactic_l_deg is not None:
        return Target.galactic(l_deg=shape.galactic_l_deg, b_deg=shape.galactic_b_deg)
    if shape.ra_deg is not None:
        return Target.radec(ra_deg=shape.ra_deg, dec_deg=shape.dec_deg)
    if shape.body is not None:
        return Target.body(shape.body)
    if shape.star is not None:
        return Target.star(shape.star)
    return CORE_PLACES[shape.name or "core"]


def _checked(file: Path, where: str, make: Callable[[], _T]) -> _T:
    """Build a value; when it refuses, say in which file and section."""
    try:
        return make()
    except BackbearingError as problem:
        problem.facts.setdefault("file", str(file))
        problem.at(Where(file.name, where))
        raise
