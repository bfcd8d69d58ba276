"""The printed sheet of a plan: what its lenses will see, looked at once, then set and written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.alignment.stand.by_height import stands_by_height
from backbearing.alignment.view.lens_views import views
from backbearing.base.files import check_all_free, write_files
from backbearing.base.units import METRIC
from backbearing.drawing.palette import SHEET, SHEET_RED
from backbearing.plan.in_units import in_units
from backbearing.plan.turns import at_turns
from backbearing.sheet.card_pages import set_card
from backbearing.sheet.content import sheet_content
from backbearing.sheet.correction_card import card_content, card_heights_m
from backbearing.sheet.drawings import PICTURE_WIDTH, drawings
from backbearing.sheet.page import set_html, set_inside
from backbearing.sheet.pdf import set_pdf

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View
    from backbearing.sheet.pdf import Paper
    from backbearing.terrain.elevation import Elevation


def write_sheet(
    plan: Plan, elevation: Elevation | None, *, pdf: str | Path | None = None,
    html: str | Path | None = None, paper: Paper = "a4", red: bool = False,
    overwrite: bool = False, units: Units = METRIC,
) -> tuple[Path, ...]:  # fmt: skip
    """Write the sheet as PDF, as HTML, or as both.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground, for the pictures of what each lens will see.
    pdf, html : str or Path, optional
        Where to write; the folders must exist.
    paper : {"a4", "letter"}
    red : bool
        Red on black.
    overwrite : bool
        Whether a file that is already there may be replaced.
    units : Units
        In which lengths are read.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    WriteRefusedError
        Before anything is written, when a file is in the way.

    Examples
    --------
    The sample outing's ``plan`` over its ``elevation``, into ``folder``:

    >>> from backbearing.sheet import write_sheet
    >>> [path.name for path in write_sheet(plan, elevation, pdf=folder / "sheet.pdf")]
    ['sheet.pdf']
    """
    wanted = [Path(path) for path in (pdf, html) if path is not None]
    check_all_free(wanted, overwrite=overwrite)
    seen = views(at_turns(plan), elevation)
    made_pdf, made_html = sheet_contents(plan, seen, paper=paper, red=red, units=units)
    made: list[tuple[str | Path | None, str | bytes]] = [(pdf, made_pdf), (html, made_html)]
    return write_files(
        {Path(path): content for path, content in made if path is not None}, overwrite=overwrite
    )


def sheet_pdf(
    plan: Plan, elevation: Elevation | None, *, paper: Paper = "a4", red: bool = False,
    units: Units = METRIC,
) -> bytes:  # fmt: skip
    """Set a plan on one or two pages; the same plan gives the same bytes.

    A plan with very many lenses or cautions gets smaller letters, down to 8 points, and
    then further pages rather than a caution less.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground, for the pictures of what each lens will see.
    paper : {"a4", "letter"}
    red : bool
        Red on black.
    units : Units
        In which lengths are read.

    Returns
    -------
    bytes
        A PDF file.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.sheet import sheet_pdf
    >>> sheet_pdf(plan, elevation, paper="letter", red=True)[:5]
    b'%PDF-'
    """
    palette = SHEET_RED if red else SHEET
    read = in_units(plan, units)
    drawn = drawings(read, views(at_turns(plan), elevation), palette, units)
    return set_pdf(sheet_content(read, units), drawn, palette, paper)


def sheet_html(
    plan: Plan, elevation: Elevation | None, *, paper: Paper = "a4", red: bool = False,
    units: Units = METRIC,
) -> str:  # fmt: skip
    """Set a plan as a page to print; the same plan gives the same text.

    Parameters
    ----------
    plan : Plan
    elevation : Elevation or None
        The ground, for the pictures of what each lens will see.
    paper : {"a4", "letter"}
        What it is to be printed on.
    red : bool
        Red on black.
    units : Units
        In which lengths are read.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.sheet import sheet_html
    >>> "size: letter" in sheet_html(plan, elevation, paper="letter")
    True
    """
    palette = SHEET_RED if red else SHEET
    read = in_units(plan, units)
    drawn = drawings(read, views(at_turns(plan), elevation), palette, units)
    return set_html(sheet_content(read, units), drawn, palette, paper)


def card_pdf(
    plan: Plan, elevation: Elevation | None, *, paper: Paper = "a4", red: bool = False,
    units: Units = METRIC,
) -> bytes:  # fmt: skip
    """Set the correction card: stands for other heights of the subject and for every 5 minutes.

    Parameters
    ----------
    plan, elevation, paper, red, units
        As in :func:`sheet_pdf`.

    Returns
    -------
    bytes
        A PDF file: the same plan gives the same bytes.

    Examples
    --------
    Of the sample outing's ``plan`` and its ``elevation``:

    >>> from backbearing.sheet import card_pdf
    >>> card_pdf(plan, elevation, red=True)[:5]
    b'%PDF-'
    """
    by_height = stands_by_height(plan, elevation, card_heights_m(plan, units))
    return set_card(card_content(plan, by_height, units), red=red, paper=paper)


def sheet_contents(
    plan: Plan, seen: Sequence[View], *, paper: Paper = "a4", red: bool = False,
    units: Units = METRIC,
) -> tuple[bytes, str]:  # fmt: skip
    """Make the PDF and the HTML from one set of words and drawings.

    ``seen`` is what the lenses with a stand see, each at its turn where it has one.
    """
    palette, read = SHEET_RED if red else SHEET, in_units(plan, units)
    content = sheet_content(read, units)
    drawn = drawings(read, seen, palette, units)
    return set_pdf(content, drawn, palette, paper), set_html(content, drawn, palette, paper)


def sheet_inside(
    plan: Plan, seen: Sequence[View], *, paper: Paper = "a4", units: Units = METRIC
) -> tuple[str, str]:
    """Make the sheet to stand inside another page: HTML and its style, from the same words.

    ``seen`` is as in :func:`sheet_contents`.
    """
    read = in_units(plan, units)
    drawn = drawings(read, seen, SHEET, units, picture_width=3.0 * PICTURE_WIDTH)
    return set_inside(sheet_content(read, units), drawn, SHEET, paper)
