"""Everything that a plan becomes on disk, written in one go."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.errors import WriteRefusedError
from backbearing.files import check_free, write_file

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment.plan import Plan
    from backbearing.terrain import Elevation


def write_all(
    plan: Plan, elevation: Elevation, folder: Path, *, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write the page, the skyline picture, the JSON and the GeoJSON of a plan.

    Returns
    -------
    tuple of Path
        What was written; the page comes first.

    Raises
    ------
    WriteRefusedError
        Before anything is written, when a file is in the way.
    """
    from backbearing.exports.geojson import plan_geojson
    from backbearing.exports.plan_json import plan_json
    from backbearing.maps.page import page_html
    from backbearing.maps.panorama import ridge_picture

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise WriteRefusedError(
            f"The folder {folder} cannot be made ({problem.strerror}).", path=str(folder)
        ) from problem
    names = ("map.html", "skyline.svg", "plan.json", "plan.geojson")
    page, skyline, document, shapes = (folder / name for name in names)
    for path in (page, skyline, document, shapes):
        check_free(path, overwrite=overwrite)
    texts = {
        page: page_html(plan, elevation),
        document: plan_json(plan),
        shapes: plan_geojson(plan),
    }
    for path, text in texts.items():
        write_file(path, text, overwrite=overwrite)
    ridge_picture(plan, skyline, overwrite=overwrite)
    return page, skyline, document, shapes
