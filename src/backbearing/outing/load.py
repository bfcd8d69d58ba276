"""Read an outing file, check it, and build the request from it.

The shape of the file (sections, keys, types) is checked by ``schema``; the values are checked by
the objects they become, and every refusal names file and key.
"""

from __future__ import annotations

import difflib
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from backbearing.base.errors import BackbearingError, OutingError, Where
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.outing import schema as outing_shape
from backbearing.outing.request import (
    AcceptedRequest,
    GroundRequest,
    LensRequest,
    NightRequest,
    Outing,
    SafetyRequest,
)
from backbearing.outing.schema import known_keys
from backbearing.outing.sections import (
    TURN_KEYS,
    camera_of,
    exposure_of,
    scouting_of,
    session_of,
    subject_of,
)
from backbearing.outing.subject import Framing
from backbearing.sky.targets import CORE, Target

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import ValidationError


_T = TypeVar("_T")


def load_outing(path: str | Path) -> Outing:
    """Read and check an outing file.

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
    ('Lantern Oak (invented)', ['14 mm', '20 mm', '35 mm', '50 mm'])
    """
    file = Path(path)
    raw = _read_toml(file)
    from pydantic import ValidationError

    try:
        shape = outing_shape.OutingShape.model_validate(raw)
    except ValidationError as problem:
        raise _teach(file, problem) from problem
    return _build(file.resolve(), shape)


def _read_toml(file: Path) -> dict[str, Any]:
    if file.is_dir():
        raise OutingError(
            f"{file} is a folder",
            hint=f"name the outing file in it, for example {file / 'outing.toml'}",
            file=str(file),
        )
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise OutingError(
            f"There is no outing file at {file}",
            hint=f"write one with `backbearing new {file}`",
            file=str(file),
        ) from None
    except UnicodeDecodeError as problem:
        raise OutingError(
            f"{file.name} is not UTF-8 text (byte {problem.start})",
            hint="save it as UTF-8",
            file=str(file),
        ) from problem
    except OSError as problem:
        raise OutingError(
            f"{file} cannot be read: {problem.strerror}.", file=str(file)
        ) from problem
    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as problem:
        raise OutingError(
            f"{file.name} is not valid TOML: {problem}",
            hint="compare the line with a fresh file from `backbearing new`",
            file=str(file),
        ) from problem


def _teach(file: Path, problem: ValidationError) -> OutingError:
    """Turn the first thing pydantic found into one sentence."""
    errors = problem.errors(include_url=False)
    first = errors[0]
    place = [part for part in first["loc"] if not str(part).startswith("function-")]
    where = _where(file, place)
    more = f" ({len(errors) - 1} more after it.)" if len(errors) > 1 else ""
    kind, given = first["type"], first.get("input")
    if kind == "missing":
        what = "is missing"
        hint = f"add it, see `backbearing new` for a commented example.{more}"
    elif kind == "extra_forbidden":
        close = difflib.get_close_matches(str(place[-1]), known_keys(place[:-1]), n=1)
        known = ", ".join(known_keys(place[:-1]))
        what = "is not a key that is known here"
        hint = (f"did you mean {close[0]}?" if close else f"the keys are {known}.") + more
    elif kind == "value_error" and isinstance(given, dict):
        what, hint = f"does not hold together: {_expected(first)}.{more}", ""
    else:
        what, hint = f"is {_shown(given)}", f"{_expected(first)}.{more}"
    subject = where.key if place else "the file"
    return OutingError(
        f"{subject} {what}".lstrip(),
        hint=hint,
        where=where,
        file=str(file),
        key=".".join(map(str, place)),
    )


def _where(file: Path, place: list[Any]) -> Where:
    """Name a location as a reader of TOML would."""
    if not place:
        return Where(file.name)
    if place[0] == "lens" and len(place) > 1 and isinstance(place[1], int):
        return Where(file.name, f"[[lens]] number {place[1] + 1}", ".".join(map(str, place[2:])))
    if place in (["format"], ["name"]):
        return Where(file.name, key=place[0])
    return Where(file.name, f"[{place[0]}]", ".".join(map(str, place[1:])))


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _expected(error: Any) -> str:
    kind, context = error["type"], error.get("ctx", {})
    sayings = {
        "float_type": "write a number",
        "float_parsing": "write a number",
        "int_type": "write a whole number",
        "int_from_float": "write a whole number",
        "int_parsing": "write a whole number",
        "string_type": "write text in quotes",
        "finite_number": "write a finite number",
        "date_type": "write a date without quotes, such as 2027-06-05",
        "list_type": "write one [[lens]] section for each lens",
        "dict_type": "write it as a [section]",
        "model_type": "write it as a [section] with keys below it",
    }
    if kind in sayings:
        return sayings[kind]
    if kind == "literal_error":
        return f"write {context['expected']}"
    if kind == "too_short":
        if error["loc"][0] == "lens":
            return "write at least one [[lens]] section with a focal_length_mm"
        return "write at least one value"
    if kind == "value_error":
        return str(context["error"])
    return str(error["msg"][0].lower() + error["msg"][1:])


def _build(file: Path, shape: Any) -> Outing:

    folder = file.parent
    ground = shape.ground.model_dump()
    ground["elevation"] = tuple((folder / p).resolve() for p in ground["elevation"])
    ground["voids"] = tuple(ground["voids"])
    if ground["places"] is not None:
        ground["places"] = (folder / ground["places"]).resolve()
    framing = shape.framing.model_dump()
    if framing["target_box"] is not None:
        framing["target_box"] = tuple(framing["target_box"])
    return Outing(
        path=file,
        name=shape.name,
        subject=_checked(file, "[subject]", lambda: subject_of(folder, shape.subject)),
        target=_checked(file, "[target]", lambda: _target(shape.target)),
        camera=_checked(file, "[camera]", lambda: camera_of(shape.camera)),
        lenses=tuple(_lens(file, i, entry) for i, entry in enumerate(shape.lens, start=1)),
        framing=_checked(file, "[framing]", lambda: Framing(**framing)),
        night=NightRequest(**shape.night.model_dump()),
        ground=GroundRequest(**ground),
        accepted=AcceptedRequest(shape.camera.accepted_trail_px, shape.camera.accepted_blur_px),
        safety=SafetyRequest(**shape.safety.model_dump()),
        panorama_overlap=shape.camera.panorama_overlap,
        exposure=_checked(file, "[exposure]", lambda: exposure_of(shape.exposure)),
        session=session_of(file, shape),
        scouting=_checked(file, "[scouting]", lambda: scouting_of(folder, shape.scouting)),
    )


def _lens(file: Path, number: int, entry: Any) -> LensRequest:

    asked = entry.model_dump(exclude=set(TURN_KEYS))
    at, drop, share = (asked.pop(key) for key in ("at", "stand_drop_m", "share"))
    lens = _checked(file, f"[[lens]] number {number}", lambda: Lens(**asked))
    return LensRequest(lens=lens, at=at, stand_drop_m=drop, share=share)


def _target(shape: Any) -> Target:

    if shape.galactic_l_deg is not None:
        return Target.galactic(l_deg=shape.galactic_l_deg, b_deg=shape.galactic_b_deg)
    if shape.ra_deg is not None:
        return Target.radec(ra_deg=shape.ra_deg, dec_deg=shape.dec_deg)
    if shape.body is not None:
        return Target.body(shape.body)
    if shape.star is not None:
        return Target.star(shape.star)
    return CORE


def _checked(file: Path, where: str, make: Callable[[], _T]) -> _T:
    """Build a value; when it refuses, say in which file and section."""
    try:
        return make()
    except BackbearingError as problem:
        problem.facts.setdefault("file", str(file))
        problem.at(Where(file.name, where))
        raise
