"""An outing's text with a page's draft in it: keys set, lenses changed, the rest as it was.

Beside keys of sections a draft may say three things in words of its own: ``camera.typed`` (a body),
``target.typed`` (what stands behind the subject) and ``lens.list`` (the lenses there are to be).
"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError
from backbearing.base.limits import shown
from backbearing.desk.first_draft import own_kit
from backbearing.desk.folder import files_in
from backbearing.outing.schema import MOST_LENSES
from backbearing.outing.toml_blocks import with_entries, without_keys
from backbearing.outing.toml_edit import changed_toml
from backbearing.outing.toml_text import parse_outing_text
from backbearing.outing.write_keys import in_its_own_way
from backbearing.sky.targets import BODIES, CORE_PLACES, Target
from backbearing.workflows.first_answers import plain_words, read_camera, read_lenses

if TYPE_CHECKING:
    from pathlib import Path

    Changes = dict[str, dict[str, Any]]

MOVABLE: Final[dict[str, tuple[str, ...]]] = {
    "subject": (
        *("lat", "lon", "height_m", "width_m", "name", "kind", "outline"),
        *("height_sigma_m", "width_sigma_m", "position_sigma_m"),
    ),
    "framing": ("share", "base_margin", "edge_margin", "eye_height_m"),
    "night": ("evening", "clear_by_deg"),
    "camera": ("typed",),
    "target": ("typed",),
    "lens": ("list",),
}
"""The sections and keys that the page may change."""

OUTLINES: Final = (".svg",)

_BODY_KEYS: Final = (
    *("use", "sensor_format", "sensor_width_mm", "sensor_height_mm", "width_px", "height_px"),
)
_TARGET_KEYS: Final = (
    *("name", "body", "star", "galactic_l_deg", "galactic_b_deg", "ra_deg", "dec_deg"),
)


def drafted(text: str, changes: Changes, file: Path) -> str:
    """Give an outing's text with changes.

    Parameters
    ----------
    text : str
        Of the file.
    changes : mapping of mappings
        For each section of :data:`MOVABLE` its keys.
    file : Path
        Where it lies; an outline lies beside it.

    Raises
    ------
    OutingError
        For a key that the page may not change, or one that cannot be changed alone.
    """
    wanted = checked(changes)
    lenses = wanted.pop("lens", {}).get("list")
    made = text
    for section, read, names in (
        ("camera", _camera, _BODY_KEYS), ("target", _target, _TARGET_KEYS),
    ):  # fmt: skip
        typed = wanted.pop(section, {}).get("typed")
        if typed is not None:
            keys = read(str(typed))
            made = without_keys(made, section, [one for one in names if one not in keys])
            wanted[section] = keys
    subject = wanted.get("subject", {})
    if "outline" in subject:
        outline = subject.pop("outline")
        made = without_keys(made, "subject", ["outline", *(["widths_m"] if outline else [])])
        if outline:
            subject["outline"] = _outline(outline, file)
    wanted = {section: keys for section, keys in wanted.items() if keys}
    if wanted:
        made = changed_toml(made, in_its_own_way(parse_outing_text(made, file), wanted))
    return made if lenses is None else _with_lenses(made, lenses)


def checked(changes: Changes) -> Changes:
    """Let through only what the page may change, with dates as TOML has them.

    Raises
    ------
    OutingError
        For anything else.
    """
    found: Changes = {}
    for section, keys in changes.items():
        allowed = MOVABLE.get(section, ())
        for key, value in keys.items():
            if key not in allowed:
                raise OutingError(
                    f"The desk does not change {section[:40]}.{key[:40]}",
                    hint=f"change it in the outing file; the desk changes {', '.join(MOVABLE)}",
                )
            found.setdefault(section, {})[key] = _plain(key, value)
    return found


def _plain(key: str, value: Any) -> Any:
    if key == "evening":
        return _date(value)
    if key in ("name", "kind") and isinstance(value, str):
        return plain_words(value)
    return value


def _date(value: Any) -> dt.date:
    try:
        return dt.date.fromisoformat(value)
    except (TypeError, ValueError) as problem:
        raise OutingError(
            "The evening is no date", hint="write it as year-month-day, such as 2027-06-05"
        ) from problem


def _camera(typed: str) -> dict[str, Any]:
    return dict(read_camera(typed, own_kit()))


def _target(typed: str) -> dict[str, Any]:
    """Read what stands behind the subject: a place in the core, a body, or a star by name."""
    words = plain_words(typed)[:80]
    if words.lower() in CORE_PLACES:
        return {"name": words.lower()}
    if words.lower() in BODIES:
        return {"body": words.lower()}
    Target.star(words)
    return {"star": words}


def _outline(named: Any, file: Path) -> str:
    """Hold an outline to be a file that lies beside the outing."""
    beside = [one.name for one in files_in(file.resolve().parent, OUTLINES)]
    if named not in beside:
        raise OutingError(
            f"There is no outline {shown(named)} beside the outing", hint="choose an SVG file of it"
        )
    return str(named)


def _with_lenses(text: str, asked: Any) -> str:
    """Keep, change, take out and add lenses.

    Each entry is ``{"was": n}`` for the file's own, with ``focal_length_mm`` where that changes, or
    ``{"typed": "24 f/2"}`` for a new one.
    """
    if not isinstance(asked, list) or not 1 <= len(asked) <= MOST_LENSES:
        raise OutingError("There is no lens left", hint=f"keep 1 to {MOST_LENSES}")
    kit = own_kit()
    kept: list[int] = []
    added: list[Any] = []
    focal: Changes = {}
    for one in asked:
        number = one.get("was") if isinstance(one, dict) else None
        if isinstance(number, int) and not isinstance(number, bool) and 0 < number <= MOST_LENSES:
            kept.append(number)
            if "focal_length_mm" in one:
                keys = {"focal_length_mm": one["focal_length_mm"]}
                focal[f"lens[{number}]"] = keys
        elif isinstance(one, dict) and isinstance(one.get("typed"), str):
            added += read_lenses(one["typed"], kit)
        else:
            raise OutingError("A lens of the draft is none", hint="load the page again")
    made = changed_toml(text, focal) if focal else text
    return with_entries(made, "lens", sorted(set(kept)), added)
