"""The first of a ranking, each as an outing of its own with its page.

What `scout` settles for thousands of places at once, `stand` settles in full for one; this
joins the two, so that a place on the scouting map opens its own plan.
"""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.files import check_free, made_folder, write_file
from backbearing.base.input_files import read_text
from backbearing.outing.load import load_outing
from backbearing.outing.mark_rows import MARK_KEYS
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.workflows.plan_page import write_page

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    import pandas as pd

    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.terrain.elevation import Elevation

LONGEST_NAME: Final = 40


def write_shortlist(
    outing: Outing,
    ranking: Ranking,
    folder: Path,
    *,
    count: int = 3,
    elevation: Elevation | None = None,
    overwrite: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Path]:
    """Write an outing file and a page for each of the first candidates of a ranking.

    The outing keeps camera, lenses, framing, ground and target; subject and evening are the
    candidate's. Minutes asked for one lens, a measured drop, the subject's own outline and
    the session belong to the old subject and are left out.

    Parameters
    ----------
    outing : Outing
        As the ranking was made from.
    ranking : Ranking
    folder : Path
        Made when missing.
    count : int
        How many; fewer where fewer have a rank.
    elevation : Elevation, optional
        The raster, when it is open already.
    overwrite : bool
        Whether files that are already there may be replaced.
    progress : callable, optional
        Told how many pages are done, and of how many.

    Returns
    -------
    dict
        The pages written, by the candidates' ``id``, in rank order.

    Raises
    ------
    WriteRefusedError
        Before anything is written, when a file is in the way.
    OutingError
        When the outing's file cannot be read again.
    """
    made_folder(folder)
    rows = [row for _, row in ranking.top(count).iterrows()]
    files = [folder / file_name(i + 1, str(row["name"])) for i, row in enumerate(rows)]
    for file in files:
        check_free(file, overwrite=overwrite)
        check_free(file.with_suffix(".html"), overwrite=overwrite)
    if elevation is None:
        elevation = open_elevation(outing)
    written = {}
    for number, (row, file) in enumerate(zip(rows, files, strict=True)):
        write_file(file, outing_text(outing.path, row, folder), overwrite=overwrite)
        chosen = load_outing(file)
        plan = plan_night(chosen, elevation)
        page = file.with_suffix(".html")
        written[str(row["id"])] = write_page(
            plan, elevation, page, units=outing.units, outing=chosen, overwrite=overwrite
        )
        if progress is not None:
            progress(number + 1, len(rows))
    return written


def file_name(rank: int, name: str) -> str:
    """Make a file name that any system takes, from a rank and a name of any letters."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii")
    words = re.sub(r"[^a-z0-9]+", "_", plain.lower()).strip("_")[:LONGEST_NAME].strip("_")
    return f"{rank:02d}_{words}.toml" if words else f"{rank:02d}.toml"


def outing_text(base: Path, row: pd.Series[Any], folder: Path) -> str:
    """Write the outing of one candidate as TOML, its paths as seen from a folder."""
    import datetime as dt

    import tomli_w

    text = read_text(base, "an outing", largest_bytes=LARGEST_BYTES)
    said = parse_outing_text(text, base)
    subject: dict[str, Any] = {
        "name": str(row["name"]) or str(row["id"]),
        "kind": str(row["kind"]),
        "lat": float(row.geometry.y),
        "lon": float(row.geometry.x),
        "height_m": float(row["height_m"]),
    }
    if np.isfinite(row["width_m"]):
        subject["width_m"] = float(row["width_m"])
    evening: dt.date = dt.date.fromisoformat(str(row["best_night"]))
    said.pop("session", None)
    said.pop("scouting", None)
    # Skyline marks were read elsewhere.
    said.pop("skyline_mark", None)
    for key in MARK_KEYS:
        said.get("ground", {}).pop(key, None)
    said["name"] = f"{subject['name']}, {row['night_label']}"
    said["subject"] = subject
    said["night"] = {**said.get("night", {}), "evening": evening}
    said["night"].pop("at", None)
    said["framing"] = {
        key: value for key, value in said.get("framing", {}).items() if key != "stand_drop_m"
    }
    said["lens"] = [
        {key: value for key, value in lens.items() if key not in ("at", "stand_drop_m")}
        for lens in said.get("lens", [])
    ]
    _move(said.get("ground", {}), base.parent, folder)
    made: str = tomli_w.dumps(said)
    heading = f"# Rank {row['rank']} of a scouting run, made from {base.name}; change it freely.\n"
    return heading + made


def _move(ground: dict[str, Any], old: Path, new: Path) -> None:
    """Make the paths of [ground] lead to the same files from another folder."""
    for key in ("elevation", "places"):
        told = ground.get(key)
        if isinstance(told, str):
            ground[key] = _moved(told, old, new)
        elif isinstance(told, list):
            ground[key] = [_moved(one, old, new) for one in told]


def _moved(told: str, old: Path, new: Path) -> str:
    whole = (old / Path(told).expanduser()).resolve()
    try:
        return Path(os.path.relpath(whole, new.resolve())).as_posix()
    except ValueError:  # another drive
        return str(whole)
