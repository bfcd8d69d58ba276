"""The kit: bodies, lenses and lights by names of one's own, in one file for all outings.

An outing reads it only where it says so, with ``use`` under ``[camera]`` or ``[[lens]]``, or with
``light`` under ``[session]``. What the outing itself says wins, key by key.
"""

from __future__ import annotations

import copy
import difflib
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError, OutingError, Where
from backbearing.base.input_files import is_missing, read_text, shown_path
from backbearing.base.limits import shown
from backbearing.camera.bodies_and_lenses import Lens
from backbearing.camera.sensor import Sensor
from backbearing.outing import kit_schema
from backbearing.outing.camera_shapes import CameraShape
from backbearing.outing.kit_place import kit_file
from backbearing.outing.sections import camera_of
from backbearing.outing.subject import Framing
from backbearing.outing.teaching import cut_key, taught
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    Keys = Mapping[str, Any]

EXAMPLE: Final = "backbearing kit --example"
"""The command that prints a short kit."""

EXPOSURE_KEYS: Final = ("iso", "quantum_efficiency", "read_noise_e", "full_well_e", "base_iso")
"""What of a body stands under [exposure] in an outing."""

SIZE_KEYS: Final = ("sensor_format", "sensor_width_mm", "sensor_height_mm")
"""One way of telling a sensor's size drives out the other, and the count of rows with it."""

ME_KEYS: Final[dict[str, tuple[str, ...]]] = {
    "framing": ("eye_height_m",),
    "camera": ("accepted_trail_px", "accepted_blur_px"),
    "session": ("pace_m", "night_factor", "person_height_m", "setup_minutes", "focus_minutes"),
}
"""Where in an outing the keys of [me] stand."""


@dataclass(frozen=True, slots=True)
class Kit:
    """A kit file, checked: for each thing by its name the keys that it says.

    ``path`` is the file it was read from.
    """

    path: Path
    body: Mapping[str, Keys] = field(default_factory=dict)
    lens: Mapping[str, Keys] = field(default_factory=dict)
    light: Mapping[str, Keys] = field(default_factory=dict)
    me: Keys = field(default_factory=dict)


def load_kit(path: str | Path | None = None) -> Kit:
    """Read and check a kit file.

    Parameters
    ----------
    path : path, optional
        The file; ``BACKBEARING_KIT`` or ``kit.toml`` in the user's configuration folder when
        left out.

    Raises
    ------
    OutingError
        One sentence that names the file, the key and what to write instead.
    """
    file = kit_file(path)
    if is_missing(file):
        raise OutingError(
            f"There is no kit at {shown_path(file)}",
            hint="`backbearing kit --write` puts a short one there to change",
            file=str(file),
        )
    return kit_of(parse_outing_text(_text(file), file, EXAMPLE), file)


def kit_of(raw: dict[str, Any], file: Path) -> Kit:
    """Check a kit whose TOML is parsed; raises as `load_kit` does."""
    from pydantic import ValidationError

    try:
        shape = kit_schema.KitShape.model_validate(raw)
    except ValidationError as problem:
        known = kit_schema.known_kit_keys
        raise taught(problem, file, known, _kit_place, EXAMPLE) from problem
    said = shape.model_dump(exclude_unset=True)
    _check_things(said, file)
    parts = {name: said.get(name, {}) for name in ("body", "lens", "light", "me")}
    return Kit(path=file, **parts)


def _check_things(said: Keys, file: Path) -> None:
    """Make what the kit describes once, for it may hold no key that is wrong and not exist."""
    for name, keys in said.get("body", {}).items():
        shape = CameraShape(**{key: keys[key] for key in keys if key not in EXPOSURE_KEYS})
        sensor = {key: keys[key] for key in EXPOSURE_KEYS[1:] if key in keys}
        _check(file, ["body", name], partial(camera_of, shape))
        _check(file, ["body", name], partial(Sensor, **sensor))
    for name, keys in said.get("lens", {}).items():
        _check(file, ["lens", name], partial(Lens, **keys))
    eye = {key: value for key, value in said.get("me", {}).items() if key == "eye_height_m"}
    _check(file, ["me"], partial(Framing, **eye))


def _check(file: Path, place: list[Any], make: Callable[[], Any]) -> None:
    try:
        make()
    except BackbearingError as problem:
        problem.at(_kit_place(file, place))
        raise


def _text(file: Path) -> str:
    return read_text(file, "a kit", largest_bytes=LARGEST_BYTES)


def _kit_place(file: Path, place: list[Any]) -> Where:
    """Name a place in a kit as a reader of TOML would: ``[body."my body"] width_px``."""
    if not place:
        return Where(file.name)
    first, *rest = map(cut_key, place)
    if first == "format":
        return Where(file.name, key=first)
    if first == "me" or not rest:
        return Where(file.name, f"[{first}]", ".".join(rest))
    return Where(file.name, f'[{first}."{rest[0]}"]', ".".join(rest[1:]))


def uses_kit(raw: Mapping[str, Any]) -> bool:
    """Whether an outing says anywhere that something is of the kit."""
    return any(True for _ in _uses(raw))


def with_kit(
    raw: dict[str, Any], file: Path, *, kit: Kit | None = None, trusted: bool = True
) -> dict[str, Any]:
    """Lay what an outing uses of the kit under what it says itself.

    Parameters
    ----------
    raw : dict
        The outing as parsed; it is not changed.
    file : Path
        Where it was read, for what is said of it.
    kit : Kit, optional
        The user's own when left out; it is read only where the outing uses it.
    trusted : bool, optional
        Whether the outing's author is; a stranger's names are not looked up in one's own kit.

    Returns
    -------
    dict
        The outing with every number in it, and no ``use`` any more.

    Raises
    ------
    OutingError
        When there is no kit, or nothing of that name in it; names both files.
    """
    uses = list(_uses(raw))
    if not uses:
        return raw
    where = _where(file, *uses[0])
    if not trusted:
        raise OutingError(
            "this outing leaves its figures to its author's kit",
            hint="ask for one that holds them itself",
            where=where,
            file=str(file),
        )
    if kit is None:
        kit = _own_kit(where)
    whole = copy.deepcopy(raw)
    for section, index, name in uses:
        found = _found(kit, section, name, _where(file, section, index))
        if section == "session":
            _lay(whole, "session", {f"light_{key}": found[key] for key in found if key != "lumens"})
            if "light" in whole and "lumens" in found:
                _lay(whole, "light", {"lumens": found["lumens"]})
            del whole["session"]["light"]
        elif section == "camera":
            _lay(whole, "camera", _body_keys(whole["camera"], found))
            _lay(whole, "exposure", {key: found[key] for key in EXPOSURE_KEYS if key in found})
            del whole["camera"]["use"]
            _lay_me(whole, kit.me)
        else:
            lens = whole["lens"][index]
            whole["lens"][index] = {**found, **lens}
            del whole["lens"][index]["use"]
    return whole


def _uses(raw: Mapping[str, Any]) -> Any:
    """Every section that names something of the kit: section, its number, and the name."""
    for section, key in (("camera", "use"), ("session", "light")):
        keys = raw.get(section)
        if isinstance(keys, dict) and key in keys:
            yield section, 0, keys[key]
    lenses = raw.get("lens")
    for index, lens in enumerate(lenses if isinstance(lenses, list) else ()):
        if isinstance(lens, dict) and "use" in lens:
            yield "lens", index, lens["use"]


def _where(file: Path, section: str, index: int, _name: Any = None) -> Where:
    if section == "lens":
        return Where(file.name, f"[[lens]] number {index + 1}", "use")
    return Where(file.name, f"[{section}]", "light" if section == "session" else "use")


def _own_kit(where: Where) -> Kit:
    """Read the user's kit; where there is none, say who asked for it."""
    file = kit_file()
    if is_missing(file):
        raise OutingError(
            f"{where.key} names something of the kit, and there is no kit at {shown_path(file)}",
            hint="`backbearing kit --write` puts a short one there to change",
            where=where,
            file=str(file),
        )
    return load_kit(file)


def _found(kit: Kit, section: str, name: Any, where: Where) -> Keys:
    """Give the keys of a thing of the kit by its name."""
    kind = {"camera": "body", "lens": "lens", "session": "light"}[section]
    known: Mapping[str, Keys] = getattr(kit, kind)
    if isinstance(name, str) and name in known:
        return known[name]
    hint = f"write the name of a {kind} of {shown_path(kit.path)} in quotes"
    if not known:
        hint = f"{shown_path(kit.path)} holds no [{kind}] yet"
    elif isinstance(name, str):
        near = difflib.get_close_matches(name, known, n=1)
        some = ", ".join(f'"{cut_key(one)}"' for one in list(known)[:8])
        hint = f'did you mean "{cut_key(near[0])}"?' if near else f"{hint}: {some}"
    raise OutingError(f"{where.key} is {shown(name)}", hint=hint, where=where, file=str(kit.path))


def _body_keys(camera: Keys, found: Keys) -> Keys:
    """Give the body's keys for [camera]; its size goes where the outing tells its own."""
    left_out = set(EXPOSURE_KEYS)
    if any(key in camera for key in SIZE_KEYS):
        left_out |= {*SIZE_KEYS, "height_px"}
    return {key: value for key, value in found.items() if key not in left_out}


def _lay(whole: dict[str, Any], section: str, under: Keys) -> None:
    """Lay keys under those that a section has; one that is written wrong stays as it is."""
    if not under:
        return
    keys = whole.setdefault(section, {})
    if isinstance(keys, dict):
        whole[section] = {**under, **keys}


def _lay_me(whole: dict[str, Any], me: Keys) -> None:
    for section, names in ME_KEYS.items():
        # Without a session there is nothing that a pace would be for.
        if section == "session" and section not in whole:
            continue
        _lay(whole, section, {key: me[key] for key in names if key in me})
