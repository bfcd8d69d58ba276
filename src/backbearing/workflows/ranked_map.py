"""The scouting map of part of a ranking that lies in a folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.maps.scouting_page import ScoutingAbout
from backbearing.outing.load import load_outing
from backbearing.workflows.scouting_map import write_scouting_page

if TYPE_CHECKING:
    from backbearing.scouting.partitions.read_back import ReadBack


def write_ranked_map(
    back: ReadBack, path: Path, *, outing: Path | None = None, overwrite: bool = False
) -> Path:
    """Write the scouting map of what was read back.

    Parameters
    ----------
    back : ReadBack
    path : Path
        Where to write; its folder must exist.
    outing : Path, optional
        Whose ground is shown; the ranking's own when left out.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    OutingError
        When the outing is no longer where it was.
    WriteRefusedError
        When a file is in the way, or there is no candidate to draw.
    """
    asked = load_outing(Path(back.folder.outing) if outing is None else outing)
    elevation = open_elevation(asked)
    about = ScoutingAbout(
        title=asked.name,
        credit=asked.ground.credit or elevation.tags.get("credit", "") or "your raster",
        least_minutes=asked.scouting.least_minutes,
    )
    return write_scouting_page(back.ranking, elevation, path, about=about, overwrite=overwrite)
