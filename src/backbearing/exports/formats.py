"""Which file suffix gets which format, and writing them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.base.files import write_files
from backbearing.base.lazy import Later
from backbearing.base.units import METRIC
from backbearing.exports.plan_json import plan_json
from backbearing.exports.suffixes import check_exports
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backbearing.base.units import Units
    from backbearing.exports import csv, geojson, geopackage, gpx, kml, stands_ics
    from backbearing.plan.plan import Plan
else:
    # Each format loads when it is written.
    csv = Later("backbearing.exports.csv")
    geojson = Later("backbearing.exports.geojson")
    geopackage = Later("backbearing.exports.geopackage")
    gpx = Later("backbearing.exports.gpx")
    kml = Later("backbearing.exports.kml")
    stands_ics = Later("backbearing.exports.stands_ics")


def export_content(
    plan: Plan, suffix: str, *, height_reference: str = "", units: Units = METRIC
) -> str | bytes:
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
    units : Units
        In which people read lengths in .gpx, .kml and .ics; tables, layers and JSON are metric.
    """
    if suffix == ".json":
        return plan_json(plan)
    writers: dict[str, Callable[[], Callable[..., str | bytes]]] = {
        ".gpx": lambda: gpx.plan_gpx,
        ".kml": lambda: kml.plan_kml,
        ".gpkg": lambda: geopackage.plan_geopackage,
        ".csv": lambda: csv.plan_csv,
        ".geojson": lambda: geojson.plan_geojson,
        ".ics": lambda: stands_ics.plan_calendar,
    }
    read = {"units": units} if suffix in (".gpx", ".kml", ".ics") else {}
    return writers[suffix]()(as_walked(plan), height_reference=height_reference, **read)


def export_plan(
    plan: Plan,
    paths: Sequence[str | Path],
    *,
    height_reference: str = "",
    units: Units = METRIC,
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
            path: export_content(
                plan, path.suffix.lower(), height_reference=height_reference, units=units
            )
            for path in targets
        },
        overwrite=overwrite,
    )
