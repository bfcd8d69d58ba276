"""The scouting map: every candidate on one page that works without a network.

The page holds the ranking as one packed block (JSON and minutes, deflated), so that
thousands of candidates with their reasons stay small. Foreign text reaches the page
through ``textContent`` only.
"""

from __future__ import annotations

import base64
import json
import math
import zlib
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.cautions import cannot_see, general
from backbearing.base.numbers import num, rounded
from backbearing.base.text import night_label
from backbearing.drawing.leaflet import (
    NOTICE,
    folium_map,
    leaflet_licence,
    leaflet_script,
    leaflet_style,
)
from backbearing.drawing.mercator import softened
from backbearing.drawing.page_shell import asset, filled_page
from backbearing.drawing.relief import relief_picture
from backbearing.drawing.texts import Texts, json_block
from backbearing.outing.scouting_request import PART_WORDS, PARTS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.drawing.mercator import Box, MercatorGrid
    from backbearing.plan.ranking import Ranking

SCRIPTS = ("candidates.js", "scouting.js")
STYLES = ("page.css", "ground.css", "scouting.css")

MINUTES_A_STEP: Final = 4
"""Minutes in one step of the packed table; one byte then holds 17 hours."""


@dataclass(frozen=True, slots=True)
class ScoutingGround:
    """The ground under a ranking: the box that the map shows, and heights on its pixels."""

    box: Box
    far: MercatorGrid


@dataclass(frozen=True, slots=True)
class ScoutingAbout:
    """What a scouting map says besides its ranking.

    Attributes
    ----------
    title : str
        What the page is about, under its heading.
    credit : str
        Whose ground it is, for the caption.
    plans : mapping of str to str
        Relative addresses of pages already written, by candidate's ``id``.
    command : str
        What to type for the plan of a candidate that has no page; ``{id}`` and ``{rank}`` in
        it become the candidate's own.
    least_minutes : float
        Where the filter of clear minutes begins.
    """

    title: str = "your candidates"
    credit: str = "your raster"
    plans: Mapping[str, str] = field(default_factory=dict)
    command: str = ""
    least_minutes: float = 30.0


def scouting_page(ranking: Ranking, ground: ScoutingGround, about: ScoutingAbout) -> str:
    """Make the scouting map.

    Returns
    -------
    str
        HTML, complete, with nothing left to fetch.
    """
    from markupsafe import Markup

    texts = Texts()
    box, far = ground.box, softened(ground.far, 1.25)
    middle = ((box.south + box.north) / 2.0, (box.west + box.east) / 2.0)
    map_html, map_script = folium_map(middle, {"far": relief_picture(far, soften_px=0.6)})
    kinds = sorted({str(kind) for kind in ranking.frame["kind"]})
    return filled_page(
        "maps",
        "scouting.html",
        styles=[leaflet_style(), *(asset("maps", name) for name in STYLES)],
        scripts=[leaflet_script(), map_script, *(asset("maps", name) for name in SCRIPTS)],
        # Of folium's making, from numbers alone.
        map_html=Markup(map_html),  # noqa: S704
        packed=_packed(ranking, box, kinds, about),
        element=texts.element,
        title=about.title,
        credit=about.credit,
        span=_span(ranking),
        nights=_night_labels(ranking),
        lenses=_lenses(ranking),
        kinds=kinds,
        least_minutes=round(about.least_minutes),
        first_caution=general(ranking.cover_known)[0],
        cautions=(*general(ranking.cover_known), *cannot_see(ranking.cover_known)),
        notes=ranking.notes,
        weights=_weights(ranking),
        rejected=[row.reason for row in ranking.rejected],
        notice=NOTICE,
        licence=leaflet_licence(),
        text_json=lambda: json_block(texts.all),
    )


def _lenses(ranking: Ranking) -> list[str]:
    """Lenses to choose from; none where only each night's best lens is known."""
    if ranking.minutes.shape[2] != len(ranking.lenses_mm):
        return []
    return [f"{num(mm)} mm" for mm in ranking.lenses_mm]


def _packed(ranking: Ranking, box: Box, kinds: Sequence[str], about: ScoutingAbout) -> str:
    """Deflate the rows and the table of minutes: 4 bytes of length, JSON, then bytes."""
    shown = {
        "box": box.corners,
        "nights": _night_labels(ranking),
        "lenses": [f"{num(mm)}" for mm in ranking.lenses_mm],
        "kinds": list(kinds),
        "step": MINUTES_A_STEP,
        "parts": [words.earned_by for words in PART_WORDS.values()],
        "command": about.command,
        **_columns(ranking, kinds, about.plans),
    }
    text = json.dumps(shown, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    block = text.encode("utf-8", "backslashreplace")
    steps = np.minimum(np.asarray(ranking.minutes) // MINUTES_A_STEP, 255).astype(np.uint8)
    # Night by night, so that neighbours in the block are alike and deflate well.
    body = len(block).to_bytes(4, "little") + block + steps.transpose(2, 1, 0).tobytes()
    return base64.b64encode(zlib.compress(body, 9)).decode("ascii")


def _columns(
    ranking: Ranking, kinds: Sequence[str], plans: Mapping[str, str]
) -> dict[str, list[Any]]:
    frame = ranking.frame
    number = {kind: i for i, kind in enumerate(kinds)}
    lens = {mm: i for i, mm in enumerate(ranking.lenses_mm)}
    first = ranking.first_night
    night = {(first + timedelta(days=i)).isoformat(): i for i in range(ranking.nights)}
    guess = frame["height_is_guess"].to_numpy(dtype=bool)
    columns: dict[str, list[Any]] = {
        "lat": _numbers(frame.geometry.y, 6),
        "lon": _numbers(frame.geometry.x, 6),
        "kind": [number[str(kind)] for kind in frame["kind"]],
        "rank": [0 if v is None else int(v) for v in _none(frame["rank"])],
        "score": _numbers(frame["score"], 1),
        "best_night": [night.get(str(v), -1) for v in frame["best_night"]],
        "best_time": [str(v)[11:16] if v else "" for v in _none(frame["best_time"])],
        "best_lens": [lens.get(v, -1) for v in _none(frame["best_lens_mm"])],
        "guess": [int(v) for v in guess],
        "plan": [plans.get(str(v), "") for v in frame["id"]],
        "parts_of": [
            list(row)
            for row in zip(*(_numbers(frame[f"part_{key}"], 2) for key in PARTS), strict=True)
        ],
    }
    for key in ("id", "name", "access", "failure", "reasons", "cautions"):
        columns[key] = ["" if v is None else str(v) for v in _none(frame[key])]
    for key, places in _FIGURES:
        columns[key] = _numbers(frame[key], places)
    return columns


_FIGURES: Final = (
    ("height_m", 1), ("total_minutes", 0), ("good_nights", 0), ("target_altitude_deg", 1),
    ("clearance_deg", 1), ("back_bearing_deg", 1), ("distance_m", 1), ("walk_m", 0),
)  # fmt: skip


def _none(column: Any) -> list[Any]:
    """Values with None in place of anything missing."""
    return [None if missing else v for v, missing in zip(column, column.isna(), strict=True)]


def _numbers(column: Any, places: int) -> list[float | int | None]:
    """Rounded numbers with None in place of NaN; whole ones as integers."""
    numbers: list[float | int | None] = []
    for value in _none(column):
        if value is None or not math.isfinite(value):
            numbers.append(None)
        else:
            near = rounded(float(value), places)
            numbers.append(int(near) if near == int(near) else near)
    return numbers


def _night_labels(ranking: Ranking) -> list[str]:

    return [night_label(ranking.first_night + timedelta(days=i)) for i in range(ranking.nights)]


def _span(ranking: Ranking) -> str:
    labels = _night_labels(ranking)
    return labels[0] if len(labels) == 1 else f"{labels[0]} to {labels[-1]}"


def _weights(ranking: Ranking) -> str:
    return ", ".join(
        f"{words.earned_by} {num(getattr(ranking.weights, key))}"
        for key, words in PART_WORDS.items()
    )
