"""Write the ground that was found into an outing file: raster, product, credit, nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import FetchError
from backbearing.fetching.fetch import TileState, common_layout
from backbearing.outing.load import load_outing
from backbearing.outing.write_keys import set_keys

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.fetching.report import GroundReport
    from backbearing.fetching.source import TileSource


def files_to_write(report: GroundReport) -> list[Path]:
    """Choose the tiles to write as one raster.

    Raises
    ------
    FetchError
        When tiles are still to come, or differ in width.
    """
    to_come = report.to_come
    if to_come:
        raise FetchError(
            f"{len(to_come)} of the {len(report.tiles)} tiles are not here, "
            f"{to_come[0].corner.name} for one",
            hint="add --fetch, or --from FOLDER_OR_ZIP",
        )
    files = report.files
    if not report.of(TileState.HERE):
        raise FetchError("There is no land within reach", hint="look at the place again")
    if report.source.role == "canopy" and len(files) > 1:
        raise FetchError(
            f"{len(files)} tiles of {report.source.name} lie about the place, and [ground] canopy "
            "names one file",
            hint="add --window, which joins them",
        )
    if len(common_layout([one for one in report.tiles if one.path], report.source)) > 1:
        raise FetchError(
            "The tiles here differ in width, as this product's do on both sides of 50, 60, 70, 80 "
            "and 85 degrees",
            hint="add --window, which joins them",
        )
    return files


def write_ground(outing: Path, files: Sequence[Path], source: TileSource) -> Path:
    """Set ``elevation``, ``product`` and ``credit`` under ``[ground]``; the rest stays as it is.

    Of a model of the canopy only ``canopy`` is set: its ground is another raster's. Files below
    the outing's folder are written as paths from there, others in full.

    Raises
    ------
    OutingError
        For an outing that cannot be read, or is laid out so that more would change.
    WriteRefusedError
        When the disk refuses; the file is as it was.
    """
    home = outing.resolve().parent
    names = [_named(path, home) for path in files]
    if source.role == "canopy":
        return set_keys(outing, {"ground": {"canopy": names[0]}})
    keys: dict[str, Any] = {"elevation": names[0] if len(names) == 1 else names}
    if source.known or load_outing(outing).ground.product:
        # Another raster's product would state the wrong error.
        keys["product"] = source.product if source.known else ""
    if source.licence:
        keys["credit"] = source.licence
    return set_keys(outing, {"ground": keys})


SAID_OF_A_RASTER: Final = (
    *("vertical_unit", "band", "voids", "vertical_sigma_m", "relative_sigma_m", "error_range_m"),
)
"""Keys of ``[ground]`` that speak of the raster they were written for."""


def said_of_another(outing: Path) -> tuple[str, ...]:
    """Which keys the file still has that were written for another raster."""
    ground = load_outing(outing).ground
    return tuple(key for key in SAID_OF_A_RASTER if getattr(ground, key) not in (None, ()))


def _named(path: Path, home: Path) -> str:
    found = path.resolve()
    return found.relative_to(home).as_posix() if found.is_relative_to(home) else found.as_posix()
