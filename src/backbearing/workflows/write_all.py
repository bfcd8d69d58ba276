"""Everything that a plan becomes on disk: all at once, its exports, or its previews."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.alignment.view.lens_views import views
from backbearing.base.files import check_free, made_folder, write_files
from backbearing.base.parallel import in_parallel
from backbearing.base.units import METRIC
from backbearing.exports.formats import export_content, export_plan
from backbearing.exports.suffixes import SUFFIXES
from backbearing.maps.night_page import night_page
from backbearing.pictures.preview import write_sheet
from backbearing.pictures.preview_files import preview_files
from backbearing.pictures.skyline_picture import ridge_picture
from backbearing.plan.turns import as_planned, at_turns
from backbearing.workflows.plan_page import page_values
from backbearing.workflows.printed_sheet import sheet_contents

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.base.units import Units
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation


def write_all(
    plan: Plan, elevation: Elevation, folder: Path, *, overwrite: bool = False,
    processes: int = 1, units: Units = METRIC, outing: Outing | None = None,
) -> tuple[Path, ...]:  # fmt: skip
    """Write the page, the skyline picture, the sheet, every export, and all lenses side by side.

    ``units`` are those in which a person reads the page's lengths; ``outing`` is what the plan was
    made from, for what the page carries.

    Returns
    -------
    tuple of Path
        What was written; the page comes first.

    Raises
    ------
    WriteRefusedError
        Before anything is written, when a file is in the way.
    """
    made_folder(folder)
    page, skyline = folder / "map.html", folder / "skyline.svg"
    exports = {folder / f"plan{suffix}": suffix for suffix in SUFFIXES}
    seen = views(at_turns(plan), elevation)
    drawn = preview_files(plan, seen, units=units)
    # The page carries each lens's picture; `stand --pictures` writes them one by one.
    pictures = {folder / name: drawn[name] for name in ("views.svg", "views.png") if name in drawn}
    sheets = (folder / "sheet.pdf", folder / "sheet.html")
    for path in (page, skyline, *sheets, *exports, *pictures):
        check_free(path, overwrite=overwrite)
    reference = height_reference(elevation)

    def papers() -> dict[Path, str | bytes]:
        exported = {
            path: export_content(plan, suffix, height_reference=reference, units=units)
            for path, suffix in exports.items()
        }
        return exported | dict(zip(sheets, sheet_contents(plan, seen, units=units), strict=True))

    def pages() -> dict[Path, str | bytes]:
        clear = clear_ground(as_planned(plan), elevation)
        return {
            page: night_page(
                plan,
                page_values(plan, elevation, seen, clear=clear, units=units, outing=outing),
            )
        }

    contents = {
        path: content
        for part in in_parallel([papers, pages], processes=processes)
        for path, content in part.items()
    }
    write_files(contents, overwrite=overwrite)
    ridge_picture(plan, skyline, units=units, overwrite=overwrite)
    for path, sheet in pictures.items():
        write_sheet(sheet, path, overwrite=overwrite)
    return page, skyline, *sheets, *exports, *pictures


def write_exports(
    plan: Plan, elevation: Elevation, paths: Sequence[Path], *, overwrite: bool = False,
    units: Units = METRIC,
) -> tuple[Path, ...]:  # fmt: skip
    """Write a plan to each path, in the format that its suffix names.

    Raises
    ------
    WriteRefusedError
        See ``exports.formats.export_plan``.
    """
    return export_plan(
        plan,
        paths,
        height_reference=height_reference(elevation),
        units=units,
        overwrite=overwrite,
    )


def height_reference(elevation: Elevation) -> str:
    """Name what the raster's heights count from: its ``vertical_datum`` tag, or empty."""
    return elevation.tags.get("vertical_datum", "")


def write_previews(
    plan: Plan,
    elevation: Elevation | None,
    folder: str | Path,
    *,
    night: bool = False,
    guides: bool = False,
    units: Units = METRIC,
    overwrite: bool = False,
) -> tuple[Path, ...]:
    """Write every preview of a plan into a folder, which is made when it is missing.

    With a session each lens is shown at its turn's stand.

    Returns
    -------
    tuple of Path
        What was written, all lenses side by side first.

    Raises
    ------
    WriteRefusedError
        Before anything is written, when a file is in the way.

    Examples
    --------
    The sample outing's ``plan`` over its ``elevation``, into ``folder``:

    >>> from backbearing.pictures import write_previews
    >>> [path.name for path in write_previews(plan, elevation, folder)][:3]
    ['views.svg', 'views.png', 'views-red.png']
    """
    into = made_folder(folder)
    seen = views(at_turns(plan), elevation)
    files = preview_files(plan, seen, night=night, guides=guides, units=units)
    for name in files:
        check_free(into / name, overwrite=overwrite)
    return tuple(
        write_sheet(sheet, into / name, overwrite=overwrite) for name, sheet in files.items()
    )
