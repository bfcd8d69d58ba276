"""Files to take along, made of the outing as it is kept on disk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.exports.formats import export_content
from backbearing.outing.load import load_outing
from backbearing.workflows.friend_zip import friend_zip
from backbearing.workflows.plan_page import page_html
from backbearing.workflows.printed_sheet import sheet_pdf
from backbearing.workflows.write_all import height_reference

if TYPE_CHECKING:
    from pathlib import Path

KINDS: Final = {
    "page.html": "text/html",
    "sheet.pdf": "application/pdf",
    "night.ics": "text/calendar",
    "stands.gpx": "application/gpx+xml",
    "stands.kml": "application/vnd.google-earth.kml+xml",
    "stands.gpkg": "application/geopackage+sqlite3",
    "stands.csv": "text/csv",
    "plan.json": "application/json",
    "everything.zip": "application/zip",
}
"""Names of the files, and what kind each is."""


def taken(file: Path, name: str) -> str | bytes:
    """Make one of the files of :data:`KINDS`.

    Raises
    ------
    BackbearingError
        As `plan_night`, one sentence each.
    """
    if name == "everything.zip":
        return friend_zip(file)
    outing = load_outing(file)
    elevation = open_elevation(outing)
    plan = plan_night(outing, elevation)
    if name == "page.html":
        return page_html(plan, elevation, units=outing.units, outing=outing)
    if name == "sheet.pdf":
        return sheet_pdf(plan, elevation, units=outing.units)
    suffix = name[name.rindex(".") :]
    return export_content(
        plan, suffix, height_reference=height_reference(elevation), units=outing.units
    )
