"""What a lens is called in tables, apart from the lens so that little loads for it."""

from __future__ import annotations

from backbearing.base.numbers import num


def lens_label(focal_length_mm: float, projection: str = "rectilinear") -> str:
    """Short text for tables: ``16 mm``, ``15 mm fisheye``."""
    kind = " fisheye" if projection == "equisolid" else ""
    return f"{num(focal_length_mm)} mm{kind}"
