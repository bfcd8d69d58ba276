"""Pictures as files: what may be written, and what matplotlib drew, the same bytes every time."""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_free, write_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

PNG_DPI: Final = 160

SETTINGS: Final[dict[str, Any]] = {
    "svg.hashsalt": "backbearing",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "text.parse_math": False,
    "text.usetex": False,
    "axes.formatter.use_mathtext": False,
    "path.simplify": False,
}
"""Settings of matplotlib under which text stays text and no identifier is drawn by chance."""


def checked_picture(path: str | Path, what: str, *, overwrite: bool) -> Path:
    """Refuse, before anything is drawn, a path that no picture can be written to.

    Parameters
    ----------
    path : str or Path
        Ending in ``.svg`` or ``.png``.
    what : str
        What the picture is, as a sentence begins: ``"a preview"``.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way.
    """
    target = Path(path)
    if target.suffix.lower() not in {".svg", ".png"}:
        raise WriteRefusedError(
            f"{target.name}: {what} is written as .svg or .png",
            hint="give it such a name",
            path=str(target),
        )
    check_free(target, overwrite=overwrite)
    return target


def write_figure(
    target: Path,
    draw: Callable[[], Figure],
    *,
    title: str,
    letters_pt: float = 10.0,
    overwrite: bool = False,
) -> Path:
    """Draw a figure under our own settings, and write it in the format that its suffix names.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or cannot be written.
    """
    import matplotlib as mpl

    stream = io.BytesIO()
    settings: Any = SETTINGS | {"font.size": letters_pt}
    with mpl.rc_context(settings), warnings.catch_warnings():
        # A script that the drawing font lacks is still right in the SVG, which keeps text
        # as text; in a PNG it shows as boxes, and that is no reason to fail.
        warnings.filterwarnings("ignore", message=r"(?s)Glyph .* missing from")
        figure = draw()
        if target.suffix.lower() == ".svg":
            about = {"Date": None, "Creator": "Backbearing", "Title": title}
            figure.savefig(stream, format="svg", metadata=about)
        else:
            figure.savefig(stream, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return write_file(target, stream.getvalue(), overwrite=overwrite)
