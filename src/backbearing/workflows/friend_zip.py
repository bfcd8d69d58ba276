"""Everything of an outing in one zip to send: its file, its ground, its places, page and sheet.

The outing in it stands on its own: its paths are names beside it, and what it used of its author's
kit is written out. The ground is cut out round the subject.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.input_files import read_text
from backbearing.base.numbers import num
from backbearing.outing.kit import with_kit
from backbearing.outing.load import load_outing, outing_of
from backbearing.outing.toml_blocks import with_entries, without_keys
from backbearing.outing.toml_edit import changed_toml
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.terrain.elevation import Elevation
from backbearing.workflows.ground_cut import write_cut
from backbearing.workflows.open_zip import READ
from backbearing.workflows.plan_page import page_html
from backbearing.workflows.printed_sheet import sheet_pdf

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.outing.request import Outing
    from backbearing.workflows.ground_cut import Cut

GROUND_NAME: Final = "ground.tif"
OUTING_NAME: Final = "outing.toml"

LARGEST_BESIDE_BYTES: Final = 30_000_000
"""Of a file that is copied whole."""

_NAMING: Final = (
    *(("ground", key) for key in ("places", "skyline_marks", "canopy", "surface", "woods")),
    ("night", "forecast"),
    ("subject", "outline"),
)
"""Keys that name a file which the plan reads."""

_CUT: Final = ("canopy", "surface")
"""Those whose file is a raster, and cut like the ground."""

_ELSEWHERE: Final = ("candidates", "ways", "towns", "sky_brightness")
"""Keys of [scouting] that name files of the sender's; a night needs them for its sky alone."""

_SKY: Final = {"towns": "towns", "sky_brightness": "raster"}
"""Keys of [scouting] whose files a night's sky needs, and their word in ``brightness_from``."""


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
    alone = on_its_own(file)
    with tempfile.TemporaryDirectory() as held:
        cut = _cut(elevation, Path(held) / GROUND_NAME, outing)
        contents: dict[str, bytes | str] = {
            OUTING_NAME: alone.text,
            GROUND_NAME: cut.path.read_bytes(),
            **{name: path.read_bytes() for name, path in alone.beside.items()},
        }
        said = [_reaches(cut), *alone.left_out]
        for name, path in alone.rasters.items():
            part = _cut(Elevation.open(path), Path(held) / name, outing)
            contents[name] = part.path.read_bytes()
            said.append(f"{name} reaches {num(part.radius_m, 0)} m.")
    contents["page.html"] = page_html(plan, elevation, units=outing.units)
    contents["sheet.pdf"] = sheet_pdf(plan, elevation, units=outing.units)
    contents["about.txt"] = _about(outing, said)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return out.getvalue()


def _cut(elevation: Elevation, path: Path, outing: Outing) -> Cut:
    subject, reach_m = outing.subject, outing.ground.reach_m
    return write_cut(elevation, path, lat=subject.lat, lon=subject.lon, reach_m=reach_m)


class OnItsOwn(NamedTuple):
    """An outing for another computer.

    Attributes
    ----------
    text : str
        Its file, in which every path is a name beside it.
    beside, rasters : dict of str to Path
        By those names what is to be copied, and what is to be cut.
    left_out : tuple of str
        A sentence for each thing that is not taken along.
    """

    text: str
    beside: dict[str, Path]
    rasters: dict[str, Path]
    left_out: tuple[str, ...]


def on_its_own(file: Path) -> OnItsOwn:
    """Give an outing's text for another computer, and the files that it names then.

    Raises
    ------
    OutingError
        For a layout in which a key cannot be changed alone.
    """
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    raw = parse_outing_text(text, file)
    whole = with_kit(raw, file)
    text = _without_kit(text, raw, whole)
    beside: dict[str, Path] = {}
    rasters: dict[str, Path] = {}
    left: list[str] = []
    names: dict[str, dict[str, Any]] = {"ground": {"elevation": GROUND_NAME}}
    source = str(whole.get("exposure", {}).get("brightness_from", ""))
    of_the_sky = [key for key, word in _SKY.items() if word in source]
    for section, key in (*_NAMING, *(("scouting", key) for key in of_the_sky)):
        named = raw.get(section, {}).get(key)
        if named is None:
            continue
        path = (file.resolve().parent / named).resolve()
        large = key not in _CUT and path.stat().st_size > LARGEST_BESIDE_BYTES
        if large or path.suffix.lower() not in READ:
            text = without_keys(text, section, [key])
            why = "too large to send" if large else "of a kind that no zip is opened with"
            left.append(f"{key} under [{section}] is left out, for its file is {why}.")
            if key in _SKY and "brightness_from" in parse_outing_text(text, file)["exposure"]:
                text = without_keys(text, "exposure", ["brightness_from"])
                left.append("So the sky is the outing's own number, sky_mag_arcsec2.")
            continue
        name = f"{key}{_suffix(path)}"
        (rasters if key in _CUT else beside)[name] = path
        names.setdefault(section, {})[key] = name
    text = without_keys(text, "ground", ("vertical_unit", "band", "voids"))
    kept = names.get("scouting", {})
    text = without_keys(text, "scouting", [key for key in _ELSEWHERE if key not in kept])
    outing_of(parse_outing_text(text, file), file)  # before its files are called otherwise
    return OnItsOwn(changed_toml(text, names), beside, rasters, tuple(left))


def _suffix(path: Path) -> str:
    return ".osm.pbf" if path.name.lower().endswith(".osm.pbf") else path.suffix.lower()


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


def _reaches(cut: Cut) -> str:
    said = (
        f"{GROUND_NAME} is the ground within {num(cut.radius_m, 0)} m of the subject, or up to the "
        "raster's own edge; ground beyond it is unknown."
    )
    if cut.radius_m < cut.asked_m:
        said += (
            f" The outing asks for ground within {num(cut.asked_m, 0)} m: land farther off may "
            "hide what this ground shows, so that page.html and sheet.pdf, which were made of all "
            "of it, are the ones to trust."
        )
    return said


def _about(outing: Outing, said: Sequence[str]) -> str:
    """Say in plain words what is in the zip and how far its ground reaches."""
    credit = outing.ground.credit
    lines = [outing.name or outing.subject.name, "", *said]
    lines += [f"Credit: {credit}"] if credit else []
    lines += ["", "Open it with: backbearing desk, and the name of this zip."]
    return "\n".join(lines) + "\n"
