"""A panel as plain rows, for a page that paints it itself.

A page that turns the minute cannot wait for a picture to be painted, packed and unpacked; it gets
what a writer gets, and paints the same marks.
"""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.numbers import rounded
from backbearing.drawing.marks import Area, Dot, Stroke

if TYPE_CHECKING:
    from backbearing.drawing.marks import Mark, Panel, Points


def panel_rows(panel: Panel) -> dict[str, Any]:
    """Turn a panel into plain data; its own place on a sheet is left out.

    Returns
    -------
    dict
        ``width`` and ``height`` in pixels; ``sky`` with ``columns``, ``rows`` and ``rgb`` (base64,
        three bytes a point, the first row on top); ``marks`` in the order in which they are
        painted, each a list that begins with its kind:

        - ``["dot", x, y, radius, ink, alpha]``
        - ``["area", rings, ink, edge or None]``, each ring ``[x0, y0, x1, y1, ...]``
        - ``["line", points, ink, alpha, width, dashed]``
        - ``["words", x, y, text, ink, size, anchor]``
    """
    rows, columns, _ = panel.sky.shape
    sky = {
        "columns": columns,
        "rows": rows,
        "rgb": base64.b64encode(panel.sky.tobytes()).decode("ascii"),
    }
    marks = [_row(mark) for mark in panel.marks]
    return {"width": panel.width, "height": panel.height, "sky": sky, "marks": marks}


def _row(mark: Mark) -> list[Any]:
    ink = mark.ink.css
    if isinstance(mark, Dot):
        return ["dot", _px(mark.x), _px(mark.y), _px(mark.radius), ink, rounded(mark.alpha, 3)]
    if isinstance(mark, Area):
        edge = None if mark.edge is None else mark.edge.css
        return ["area", [_flat(ring) for ring in mark.rings], ink, edge]
    if isinstance(mark, Stroke):
        return ["line", _flat(mark.points), ink, mark.alpha, mark.width, mark.dashed]
    return ["words", _px(mark.x), _px(mark.y), mark.text, ink, mark.size, mark.anchor]


def _flat(points: Points) -> list[float]:
    flat: list[float] = np.round(np.array(points, dtype=np.float64).ravel(), 1).tolist()
    return flat


def _px(value: float) -> float:
    return rounded(value, 3)
