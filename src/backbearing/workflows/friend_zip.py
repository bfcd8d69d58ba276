"""Everything of an outing in one zip to send: its file, its ground, its places, page and sheet.

The outing in it stands on its own: its paths are names beside it, and what it used of its author's
kit is written out. The ground is cut out round the subject.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.input_files import read_text
from backbearing.base.numbers import num
from backbearing.outing.kit import with_kit
from backbearing.outing.load import load_outing, outing_of
from backbearing.outing.toml_blocks import with_entries, without_keys
from backbearing.outing.toml_edit import changed_toml
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.workflows.ground_cut import write_cut
from backbearing.workflows.plan_page import page_html
from backbearing.workflows.printed_sheet import sheet_pdf

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.outing.request import Outing
    from backbearing.workflows.ground_cut import Cut

GROUND_NAME: Final = "ground.tif"
OUTING_NAME: Final = "outing.toml"

_OF_THE_RASTER: Final = ("elevation", "vertical_unit", "band", "voids")
_BESIDE: Final = (("ground", "places"), ("ground", "skyline_marks"), ("subject", "outline"))
"""Keys that name a file which the plan reads."""

_ELSEWHERE: Final = ("candidates", "ways", "towns", "sky_brightness")
"""Keys of [scouting] that name files of the sender's; a night needs none of them."""


def friend_zip(file: Path) -> bytes:
    """Make the zip of an outing as it lies on disk.

    Parameters
    ----------
    file : Path
        The outing.

    Raises
    ------
    BackbearingError
        As `plan_night`, and for an outing laid out so that it cannot be changed.
    """
    outing = load_outing(file)
    elevation = open_elevation(outing)
    plan = plan_night(outing, elevation)
    subject = outing.subject
    with tempfile.TemporaryDirectory() as held:
        cut = write_cut(
            elevation, Path(held) / GROUND_NAME, lat=subject.lat, lon=subject.lon,
            reach_m=outing.ground.reach_m,
        )  # fmt: skip
        text, beside = on_its_own(file)
        contents: dict[str, bytes | str] = {
            OUTING_NAME: text,
            GROUND_NAME: cut.path.read_bytes(),
            **{name: path.read_bytes() for name, path in beside.items()},
            "page.html": page_html(plan, elevation, units=outing.units),
            "sheet.pdf": sheet_pdf(plan, elevation, units=outing.units),
            "about.txt": _about(outing, cut),
        }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return out.getvalue()


def on_its_own(file: Path) -> tuple[str, dict[str, Path]]:
    """Give an outing's text for another computer, and the files that it names then.

    Returns
    -------
    tuple
        The text, and for each name in it the file of that content.

    Raises
    ------
    OutingError
        For a layout in which a key cannot be changed alone.
    """
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    raw = parse_outing_text(text, file)
    text = _without_kit(text, raw, with_kit(raw, file))
    beside: dict[str, Path] = {}
    names: dict[str, dict[str, Any]] = {"ground": {"elevation": GROUND_NAME}}
    for section, key in _BESIDE:
        named = raw.get(section, {}).get(key)
        if named is not None:
            path = (file.resolve().parent / named).resolve()
            name = f"{key}{path.suffix.lower()}"
            beside[name] = path
            names.setdefault(section, {})[key] = name
    text = without_keys(text, "ground", [key for key in _OF_THE_RASTER if key != "elevation"])
    text = without_keys(text, "scouting", _ELSEWHERE)
    outing_of(parse_outing_text(text, file), file)  # before its files are called otherwise
    return changed_toml(text, names), beside


def _without_kit(text: str, raw: Mapping[str, Any], whole: Mapping[str, Any]) -> str:
    """Write out what the kit gave, for a friend has another."""
    if whole == raw:
        return text
    text = without_keys(text, "camera", ["use"])
    text = without_keys(text, "session", ["light"])
    changes: dict[str, dict[str, Any]] = {}
    for section in ("camera", "exposure", "framing", "session"):
        held = raw.get(section, {})
        new = {key: v for key, v in whole.get(section, {}).items() if held.get(key) != v}
        if new:
            changes[section] = new
    text = changed_toml(text, changes) if changes else text
    if raw.get("lens") != whole.get("lens"):
        text = with_entries(text, "lens", [], whole["lens"])
    return text


def _about(outing: Outing, cut: Cut) -> str:
    """Say in plain words what is in the zip and how far its ground reaches."""
    reaches = (
        f"{GROUND_NAME} is the ground within {num(cut.radius_m, 0)} m of the subject, or up to the "
        "raster's own edge; ground beyond it is unknown."
    )
    lines = [outing.name or outing.subject.name, "", reaches]
    if cut.radius_m < cut.asked_m:
        lines.append(
            f"The outing asks for ground within {num(cut.asked_m, 0)} m: land between may hide "
            "what this ground shows, so that page.html and sheet.pdf, which were made of all of "
            "it, are the ones to trust."
        )
    credit = outing.ground.credit
    lines += [f"Credit: {credit}"] if credit else []
    lines += ["", "Open it with: backbearing desk, and the name of this zip."]
    return "\n".join(lines) + "\n"
