"""The previews of a plan as files: what each lens will see, looked at once, then drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.alignment.view.lens_views import views
from backbearing.base.files import check_free, made_folder
from backbearing.pictures.preview import write_sheet
from backbearing.pictures.preview_files import preview_files
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation


def write_previews(
    plan: Plan,
    elevation: Elevation | None,
    folder: str | Path,
    *,
    night: bool = False,
    guides: bool = False,
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
    """
    into = made_folder(folder)
    seen = views(at_turns(plan), elevation)
    files = preview_files(plan, seen, night=night, guides=guides)
    for name in files:
        check_free(into / name, overwrite=overwrite)
    return tuple(
        write_sheet(sheet, into / name, overwrite=overwrite) for name, sheet in files.items()
    )
