"""Which file suffix gets which format, and writing them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_all_free, write_files
from backbearing.exports.csv import plan_csv
from backbearing.exports.geojson import plan_geojson
from backbearing.exports.geopackage import plan_geopackage
from backbearing.exports.gpx import plan_gpx
from backbearing.exports.kml import plan_kml
from backbearing.exports.plan_json import plan_json
from backbearing.exports.stands_ics import plan_calendar
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backbearing.plan.plan import Plan

SUFFIXES = (".gpx", ".kml", ".gpkg", ".csv", ".geojson", ".ics", ".json")
"""Suffixes that name a format."""


def check_exports(paths: Sequence[Path], *, overwrite: bool = False) -> None:
    """Refuse, before anything is computed or written, what could not be written.

    Raises
    ------
    WriteRefusedError
        For a suffix that names no format, a path given twice, a file in the way, or no folder.
    """
    for path in paths:
        if path.suffix.lower() not in SUFFIXES:
            raise WriteRefusedError(
                f"{path} cannot be written: {path.suffix or 'a name without a suffix'} names no "
                "format here",
                hint=f"end the name in one of {', '.join(SUFFIXES)}",
                path=str(path),
            )
    check_all_free(paths, overwrite=overwrite)


def export_content(plan: Plan, suffix: str, *, height_reference: str = "") -> str | bytes:
    """Give the plan in the format that a suffix names, as it is walked where it has a session.

    JSON holds everything: each lens's own best stand, and the session.

    Parameters
    ----------
    plan : Plan
    suffix : str
        One of ``SUFFIXES``.
    height_reference : str
        What the raster's heights count from, such as ``EGM96 geoid``; the plan's own when
        empty.
    """
    if suffix == ".json":
        return plan_json(plan)
    writers: dict[str, Callable[..., str | bytes]] = {
        ".gpx": plan_gpx,
        ".kml": plan_kml,
        ".gpkg": plan_geopackage,
        ".csv": plan_csv,
        ".geojson": plan_geojson,
        ".ics": plan_calendar,
    }
    return writers[suffix](as_walked(plan), height_reference=height_reference)


def export_plan(
    plan: Plan,
    paths: Sequence[str | Path],
    *,
    height_reference: str = "",
    overwrite: bool = False,
) -> tuple[Path, ...]:
    """Write the plan to each path, in the format that its suffix names.

    Everything is put together before the first file is written.

    Raises
    ------
    WriteRefusedError
        Before anything is written, for a path that cannot be; or when the disk refuses.

    Examples
    --------
    The sample outing's ``plan``, into ``folder``:

    >>> from backbearing.exports import export_plan
    >>> written = export_plan(plan, [folder / "night.gpx", folder / "night.csv"])
    >>> [path.name for path in written]
    ['night.gpx', 'night.csv']
    """
    targets = [Path(path) for path in paths]
    check_exports(targets, overwrite=overwrite)
    return write_files(
        {
            path: export_content(plan, path.suffix.lower(), height_reference=height_reference)
            for path in targets
        },
        overwrite=overwrite,
    )
