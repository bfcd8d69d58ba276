"""What the desk answers, as JSON Schema [JSONSchema2020]_: one for each address, written once.

`docs/desk_schemas.md` is made from this, and the tests hold every answer to it. Unless a name says
otherwise angles are degrees, lengths metres, times seconds since 1970 in UTC; unknown is null.
"""

from __future__ import annotations

from typing import Final

from backbearing.desk.first_schemas import FIRST_ANSWERS
from backbearing.desk.schema_blocks import (
    BOX,
    COUNT,
    DATE,
    DIALECT,
    LAT,
    LENGTH_M,
    LON,
    NUMBER,
    PAIR,
    REVISION,
    SHARE,
    SPAN,
    TEXT,
    TRUTH,
    Schema,
    facts,
    known,
    row,
    several,
)

ERROR: Final = facts(error={"type": "string", "minLength": 1, "maxLength": 2000})
"""Every answer of status 400 and above: one sentence."""

STATE: Final = facts(True, revision=REVISION, can_undo=TRUTH)

POINT: Final = row(
    known(LAT),
    known(LON),
    known(LENGTH_M),
    known(NUMBER),
    known(NUMBER),
    known(NUMBER),
    known(NUMBER),
    several(TEXT),
)
"""A moment of an arc: latitude, longitude, distance, bearing, pitch, the target's altitude, the
skyline's under it, and what limits the minute."""

NIGHT: Final = facts(
    True,
    revision=REVISION,
    can_undo=TRUTH,
    name=TEXT,
    subject=facts(
        True,
        name=TEXT,
        kind=known(TEXT),
        lat=LAT,
        lon=LON,
        height_m=LENGTH_M,
        width_m=known(LENGTH_M),
        ground_m=known(NUMBER),
    ),
    framing=facts(
        True, share=SHARE, base_margin=SHARE, edge_margin=SHARE, eye_height_m=known(NUMBER)
    ),
    evening=DATE,
    night_label=TEXT,
    clear_by_deg=NUMBER,
    zone=TEXT,
    offsets=several(row(NUMBER, NUMBER)),
    declination_deg=NUMBER,
    aspect={"type": "number", "exclusiveMinimum": 0},
    target=TEXT,
    times=several(NUMBER),
    dark=several(SPAN),
    sunless=several(SPAN),
    events=several(row(NUMBER, TEXT)),
    light=facts(
        steps=several(row(NUMBER, NUMBER, TEXT)),
        moon_altitude_deg=several(NUMBER),
        moon_adds_mag=several(known(NUMBER)),
        moon_lit=SHARE,
    ),
    lenses=several(
        facts(
            True,
            label=TEXT,
            points=several(POINT),
            usable=several(SPAN),
            framed=several(SPAN),
        )
    ),
)

SAYS: Final = several(TEXT)

BESIDE: Final = facts(
    air=facts(
        dimmer_mag=known(NUMBER), redder_mag=known(NUMBER), sigma_mag=known(NUMBER), says=SAYS
    ),
    behind=facts(
        **{"from": TEXT},
        mag_arcsec2=known(NUMBER),
        cd_m2=known(NUMBER),
        sigma_mag=known(NUMBER),
        says=SAYS,
    ),
    skyline=known(
        facts(
            bare_deg=NUMBER,
            covered_deg=known(NUMBER),
            sigma_deg=known(NUMBER),
            cover=TEXT,
            says=SAYS,
        )
    ),
    cloud=known(facts(site=known(SHARE), towards=known(SHARE), says=SAYS)),
    lamp=known(
        facts(
            wanted_lux=known(NUMBER),
            sigma_stops=known(NUMBER),
            shutter_stops=known(NUMBER),
            dim_share=known(NUMBER),
            says=SAYS,
        )
    ),
    lights=known(
        facts(
            hidden=several(row(LENGTH_M, NUMBER, LENGTH_M)),
            sides=several(row(LENGTH_M, NUMBER)),
            says=SAYS,
        )
    ),
    blue_hour=known(
        facts(
            level_lux=NUMBER,
            dusk=known(NUMBER),
            dawn=known(NUMBER),
            frame_at=known(NUMBER),
            shutter_s=known(NUMBER),
            says=SAYS,
        )
    ),
)
"""Light, air, sky, trees and cloud at a stand; null is what the outing does not ask about. ``says``
are sentences with the doubt in them. ``behind`` is the dark sky behind the target. ``dim_share`` is
the lamp's, from its first place; above 1 it is too weak. ``lights`` are places from the subject:
metres, bearing, and for a hidden one the room to every side. Standard deviations are one."""

STAND: Final = facts(
    True,
    lens=TEXT,
    lat=LAT,
    lon=LON,
    distance_m=LENGTH_M,
    bearing_deg=known(NUMBER),
    pitch_deg=known(NUMBER),
    altitude_deg=known(NUMBER),
    clearance_deg=known(NUMBER),
    clearance_sigma_deg=known(NUMBER),
    verdict=TEXT,
    play_minutes=known(NUMBER),
    in_frame=TRUTH,
    cautions=several(TEXT),
)

COLOUR: Final[Schema] = {"type": "string", "pattern": "^#[0-9a-f]{6}$"}

FRAME: Final = facts(
    width=LENGTH_M,
    height=LENGTH_M,
    sky=facts(columns=COUNT, rows=COUNT, rgb=TEXT),
    marks=several({"type": "array"}),
    stars=facts(
        x=several(NUMBER),
        y=several(NUMBER),
        radius=several(NUMBER),
        alpha=several(SHARE),
        ink=several(COLOUR),
        halos=several(COUNT),
    ),
    caption=TEXT,
    base_margin=NUMBER,
    share=SHARE,
    target=row(known(NUMBER), known(NUMBER)),
    shutter_s=known(NUMBER),
    cuts=several(row(TEXT, row(SHARE, SHARE, SHARE, SHARE))),
)
"""What a lens sees, pixels from the upper left; how a mark's row is read: see
:func:`.mark_rows.panel_rows`. ``base_margin``, ``share``, ``target`` and ``cuts`` are fractions of
the frame from its left and lower edge."""

CROSSING: Final = facts(
    True,
    time=NUMBER,
    spoilt_by=several(TEXT),
    clearance_deg=known(NUMBER),
    frames=several({"type": "object"}),
)

TURN: Final = facts(
    True,
    number=COUNT,
    lens=TEXT,
    set_up=NUMBER,
    distance_m=LENGTH_M,
    bearing_deg=NUMBER,
    to=NUMBER,
    **{"from": NUMBER},
)

SEASON: Final = several(
    facts(
        True,
        evening=DATE,
        label=TEXT,
        minutes=known(NUMBER),
        clear_minutes=known(NUMBER),
        dark_minutes=known(NUMBER),
        why_not=known(TEXT),
    )
)

PLACES: Final = facts(
    type={"const": "FeatureCollection"},
    features=several(
        facts(
            type={"const": "Feature"},
            geometry={"type": "object", "required": ["type"]},
            properties=facts(True, kind=TEXT, name=TEXT, note=TEXT, access=TEXT),
        )
    ),
)

LINE: Final = several(PAIR)

LAND: Final = facts(
    kinds={
        "type": "object",
        "propertyNames": {
            "enum": ["wood", "water", "building", "stream", "path", "track", "lane", "road"]
        },
        "additionalProperties": several(LINE),
    },
    names=several(
        facts(name=TEXT, rank={"type": "integer", "minimum": 0, "maximum": 5}, lat=LAT, lon=LON),
        most=60,
    ),
    left_out=COUNT,
    credit=TEXT,
    source=TEXT,
)

RUN: Final = facts(
    version=COUNT,
    state={"enum": ["none", "running", "stopped", "done", "failed"]},
    file=TEXT,
    done=COUNT,
    total=COUNT,
    error=TEXT,
    left_seconds=known(COUNT),
    has_ranking=TRUTH,
)

RANKED: Final = facts(
    row=TEXT,
    rank=known({"type": "integer", "minimum": 1}),
    name=TEXT,
    kind=TEXT,
    lat=LAT,
    lon=LON,
    height_m=known(LENGTH_M),
    width_m=known(LENGTH_M),
    height_is_guess=TRUTH,
    score=known(NUMBER),
    best_night=known(TEXT),
    night_label=known(TEXT),
    best_time=known(TEXT),
    best_lens_mm=known(NUMBER),
    distance_m=known(NUMBER),
    total_minutes=known(NUMBER),
    good_nights=known(COUNT),
    walk_m=known(NUMBER),
    access=known(TEXT),
    reasons=known(TEXT),
    cautions=known(TEXT),
    failure=known(TEXT),
)

ABOUT: Final = facts(
    source=TEXT,
    zone=TEXT,
    first_night=DATE,
    nights=COUNT,
    ranked=COUNT,
    failed=COUNT,
    left_out=COUNT,
    notes=several(TEXT),
)

ANSWERS: Final[dict[str, Schema]] = {
    "GET /api/night": NIGHT,
    "GET /api/minute": several(known(STAND)),
    "GET /api/light": known(BESIDE),
    "GET /api/frames": facts(stands=several(known(STAND)), frames=several(known(FRAME))),
    "GET /api/from-stand": facts(
        True,
        distance_m=known(LENGTH_M),
        bearing_deg=known(NUMBER),
        reason=TEXT,
        lenses=several(TEXT),
        crossings=several(CROSSING),
    ),
    "GET /api/season": SEASON,
    "GET /api/evening": facts(True, turns=several(TURN), sentence=TEXT, line=TEXT),
    "GET /api/places": PLACES,
    "GET /api/ground": facts(
        True, bounds=BOX, cell_m=LENGTH_M, least_zoom=COUNT, key=TEXT, credit=TEXT, product=TEXT
    ),
    "GET /api/ridge": facts(
        step_deg=NUMBER,
        ridge_deg=several(known(NUMBER)),
        path=several(row(NUMBER, NUMBER, NUMBER)),
    ),
    "GET /api/under": facts(
        True,
        height_m=known(NUMBER),
        slope_deg=known({"type": "number", "minimum": 0, "maximum": 90}),
        state=TEXT,
    ),
    "GET /api/land": LAND,
    "GET /api/find": facts(found=several(facts(name=TEXT, lat=LAT, lon=LON, bounds=BOX), most=12)),
    "GET /api/online": facts(online=known(facts(template=TEXT, credit=TEXT))),
    "GET /api/candidates": facts(
        files=several(TEXT, most=200), run=RUN, left_of_the_old=several(TEXT)
    ),
    "POST /api/candidates/start": RUN,
    "POST /api/candidates/stop": RUN,
    "POST /api/candidates/resume": RUN,
    "GET /stream/candidates": RUN,
    "GET /api/ranking": facts(
        page=COUNT,
        pages=COUNT,
        count=COUNT,
        rows=several(
            {"anyOf": [RANKED, facts(row=known({"type": "integer"}), reason=TEXT)]}, most=50
        ),
        facts=known(ABOUT),
    ),
    "GET /api/ranking/marks": facts(
        marks=several(
            facts(rank={"type": "integer", "minimum": 1}, name=TEXT, lat=LAT, lon=LON, row=TEXT),
            most=200,
        )
    ),
    "POST /api/keep": STATE,
    "POST /api/undo": STATE,
    "POST /api/stop": facts(stopped=TRUTH),
    **FIRST_ANSWERS,
}
"""By method and address. Of a stream, the schema is that of each event's data."""


def schema_of(address: str) -> Schema:
    """Give the whole schema of an answer.

    Raises
    ------
    KeyError
        For an address that answers no JSON.
    """
    return {"$schema": DIALECT, "title": address, **ANSWERS[address]}
