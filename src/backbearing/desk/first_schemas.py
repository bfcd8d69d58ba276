"""What the desk answers of its folder, its first steps, its drafts and what is measured."""

from __future__ import annotations

from typing import Final

from backbearing.desk.schema_blocks import (
    BOX,
    COUNT,
    LAT,
    LENGTH_M,
    LON,
    NUMBER,
    PAIR,
    REVISION,
    TEXT,
    TRUTH,
    Schema,
    facts,
    known,
    several,
)

CHANGES: Final[Schema] = {"type": "object", "additionalProperties": {"type": "object"}}
"""Sections of keys."""

DRAFT: Final = facts(
    ground=TEXT, within_km=TEXT, place=TEXT, name=TEXT, kind=TEXT, height=TEXT, width=TEXT,
    night=TEXT, lenses=TEXT, camera=TEXT,
)  # fmt: skip

RASTER: Final = facts(True, name=TEXT, megabytes=NUMBER, problem=TEXT)
"""With ``bounds`` and ``cell_m`` where it can be opened."""

_HELD: Final = {"holds": TRUTH, "under": TRUTH}

SAID: Final = facts(ok=TRUTH, says=TEXT)

FETCH: Final = facts(
    state={"enum": ["idle", "running", "done", "failed", "stopped"]},
    says=TEXT,
    done=COUNT,
    of=COUNT,
    megabytes=NUMBER,
)

OPENED: Final = facts(opened=TEXT)

WAYS: Final[Schema] = {
    "type": "object",
    "additionalProperties": facts(
        line=TEXT,
        asked=several(
            facts(key=TEXT, words=TEXT, kind=TEXT, needed=TRUTH, offered=TRUTH, outing_tells=TRUTH)
        ),
    ),
}

FIRST_ANSWERS: Final[dict[str, Schema]] = {
    "GET /api/first": facts(
        folder=TEXT,
        outings=several(facts(name=TEXT, title=TEXT, problem=TEXT), most=100),
        rasters=several(RASTER, most=100),
        kit=facts(bodies=several(TEXT), lenses=several(TEXT), problem=TEXT),
        kinds=several(TEXT),
        draft=DRAFT,
    ),
    "POST /api/first/look": facts(
        said=facts(place=SAID, ground=SAID, subject=SAID, lenses=SAID, camera=SAID, night=SAID),
        at=known(PAIR),
        kept=TRUTH,
        ground=known(facts(bounds=BOX, least_zoom=COUNT, key=TEXT)),
    ),
    "POST /api/first/make": OPENED,
    "POST /api/open": OPENED,
    "POST /api/leave": facts(left=TRUTH),
    "GET /api/fetch": FETCH,
    "POST /api/fetch/before": facts(
        to_fetch=COUNT, here=COUNT, within_km=NUMBER, megabytes=known(NUMBER), says=TEXT
    ),
    "POST /api/fetch/start": FETCH,
    "POST /api/fetch/stop": FETCH,
    "GET /api/grounds": facts(
        place=TEXT,
        now=TEXT,
        rasters=several({**RASTER, "properties": {**RASTER["properties"], **_HELD}}, most=100),
        kept=TRUTH,
        kept_under=TRUTH,
    ),
    "POST /api/grounds": facts(revision=REVISION, can_undo=TRUTH),
    "GET /api/draft": facts(changes=CHANGES),
    "POST /api/draft": facts(kept=TRUTH),
    "GET /api/place": facts(lat=LAT, lon=LON, sigma_m=known(LENGTH_M), says=TEXT),
    "GET /api/subject": facts(
        place=TEXT,
        name=TEXT,
        kind=TEXT,
        kinds=several(TEXT),
        outline=TEXT,
        outlines=several(TEXT, most=100),
        shape=TEXT,
        target=TEXT,
        targets=several(TEXT),
        lenses=several(TEXT),
        focal_lengths_mm=several(NUMBER),
        camera=TEXT,
        bodies=several(TEXT),
        kit_lenses=several(TEXT),
    ),
    "GET /api/measure/ways": facts(height=WAYS, width=WAYS),
    "POST /api/measure": facts(says=TEXT, notes=several(TEXT), care=TEXT, changes=CHANGES),
}
"""By method and address."""
