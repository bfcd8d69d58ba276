"""The previews of a plan as files: each lens, all side by side, by day and in red."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backbearing.alignment.view.lens_views import views
from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_free
from backbearing.base.text import night_label
from backbearing.pictures.preview import preview_sheet, side_by_side_sheet, write_sheet
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.drawing.marks import Sheet
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View
    from backbearing.terrain.elevation import Elevation


def preview_files(
    plan: Plan, seen: Sequence[View], *, night: bool = False, guides: bool = False
) -> dict[str, Sheet]:
    """Name every preview of a plan and lay it out; empty when no lens has a stand.

    Parameters
    ----------
    plan : Plan
    seen : sequence of View
        Of its lenses, from ``backbearing.alignment.view.views``.
    night : bool
        All in red on black; the side-by-side sheet has a red twin in any case.
    guides : bool
        Thirds, margins and the target's place.

    Returns
    -------
    dict of str to Sheet
        By file name, such as ``views.png`` and ``view-35mm.svg``.
    """
    if not seen:
        return {}

    title = f"{plan.subject.name}, night of {night_label(plan.evening)}"
    every = side_by_side_sheet(seen, title=title, night=night, guides=guides)
    files = {
        "views.svg": every,
        "views.png": every,
        "views-red.png": side_by_side_sheet(seen, title=title, night=True, guides=guides),
    }
    for name, view in zip(_names(seen), seen, strict=True):
        sheet = preview_sheet(view, night=night, guides=guides)
        files |= {f"view-{name}.svg": sheet, f"view-{name}.png": sheet}
    return files


def _names(seen: Sequence[View]) -> list[str]:
    """File-name parts of the lenses; lenses of one label are numbered."""
    plain = [re.sub(r"[^\w.]+", "-", view.label.replace(" mm", "mm")) for view in seen]
    return [
        name if plain.count(name) == 1 else f"{name}-{plain[: i + 1].count(name)}"
        for i, name in enumerate(plain)
    ]


def write_previews(
    plan: Plan,
    elevation: Elevation | None,
    folder: Path,
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
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise WriteRefusedError(
            f"The folder {folder} cannot be made ({problem.strerror}).", path=str(folder)
        ) from problem
    seen = views(as_walked(plan), elevation)
    files = preview_files(plan, seen, night=night, guides=guides)
    for name in files:
        check_free(folder / name, overwrite=overwrite)
    return tuple(
        write_sheet(sheet, folder / name, overwrite=overwrite) for name, sheet in files.items()
    )
