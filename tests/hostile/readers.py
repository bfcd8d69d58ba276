"""The readers that hostile files are given to, each by a path alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path


def outing(path: Path) -> Any:
    """Read an outing file."""
    from backbearing.outing.load import load_outing

    return load_outing(path)


def stranger(path: Path) -> Any:
    """Read an outing file from a stranger."""
    from backbearing.outing.load import load_outing

    return load_outing(path, trusted=False)


def elevation(path: Path) -> Any:
    """Open a raster and read its heights."""
    from backbearing.terrain.elevation import Elevation

    opened = Elevation.open(path)
    rows, cols = opened.shape
    return opened._source.read(slice(0, min(rows, 64)), slice(0, min(cols, 64)))


def candidates(path: Path) -> Any:
    """Read a list of candidates."""
    from backbearing.scouting.reading.candidates import read_candidates

    return read_candidates(path)


def places(path: Path) -> Any:
    """Read the user's own places."""
    from backbearing.land.places import read_places

    return read_places(path)


def outline(path: Path) -> Any:
    """Read an outline."""
    from backbearing.outing.outline_svg import read_outline

    return read_outline(path, height_m=6.0, width_m=None)


def track(path: Path) -> Any:
    """Read a receiver's track."""
    from backbearing.measuring.tracks import read_track

    return read_track(path)


def notebook(path: Path) -> Any:
    """Read a visit's notebook."""
    from backbearing.workflows.visit import read_notebook

    return read_notebook(path, "height")


def frame(path: Path) -> Any:
    """Read a frame's EXIF."""
    from backbearing.review.exif import read_exif

    return read_exif(path)
