"""The plan as a GeoPackage ([GPKG]_), WGS84: one layer for each kind of thing."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shapely.geometry import Point

from backbearing.base.errors import WriteRefusedError
from backbearing.exports.file_text import NOT_COLUMN, height_reference_words, visible
from backbearing.exports.geometry import placed, sight_line, stretches, tidy
from backbearing.exports.rows import STAND_NAMES, STAND_NUMBERS, known, stand_row
from backbearing.exports.session_walks import WALK_NAMES, WALK_NUMBERS, walk_row, walks_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import geopandas

    from backbearing.plan.plan import Plan

CRS = "EPSG:4326"

LAYERS = {
    "subject": ("Point", "The subject, with the cautions that hold for the whole plan"),
    "stands": ("Point", "Where the tripod goes, for each lens"),
    "sight_lines": ("Unknown", "Stand, subject and the skyline under the target; not a path"),
    "arcs": ("Unknown", "Where each stand moves through the night, in stretches of equal limits"),
    "arc_minutes": ("Point", "The same, one point for each sampled minute"),
    "walks": ("LineString", "The session's ways: from the parking, between the stands, home"),
    "places": ("Unknown", "Parking, tracks, land, water and hazards from the user's own file"),
}
"""Layer to geometry type and description."""


def plan_geopackage(plan: Plan, *, height_reference: str = "") -> bytes:
    """Give the plan as the bytes of a GeoPackage.

    Parameters
    ----------
    plan : Plan
    height_reference : str
        What the raster's heights count from, such as ``EGM96 geoid``; the plan's own when
        empty.

    Raises
    ------
    WriteRefusedError
        When there is no room to put the file together.
    """
    frames = plan_layers(plan, height_reference=height_reference)
    try:
        with tempfile.TemporaryDirectory() as folder:
            draft = Path(folder) / "plan.gpkg"
            for layer, frame in frames.items():
                _write(frame, draft, layer)
            return draft.read_bytes()
    except (OSError, RuntimeError) as problem:
        raise WriteRefusedError(
            f"The GeoPackage could not be put together ({problem}); nothing was changed."
        ) from problem


def plan_layers(plan: Plan, *, height_reference: str = "") -> dict[str, geopandas.GeoDataFrame]:
    """Give the plan as one GeoDataFrame a layer, WGS84; unknown numbers are missing."""
    height_reference = height_reference or plan.ground.vertical_datum
    return {
        "subject": _subject(plan, height_reference),
        "stands": _stands(plan, height_reference),
        "sight_lines": _sight_lines(plan),
        "arcs": _arcs(plan),
        "arc_minutes": _arc_minutes(plan),
        "walks": _walks(plan),
        "places": _places(plan),
    }


def _write(frame: geopandas.GeoDataFrame, path: Path, layer: str) -> None:
    kind, description = LAYERS[layer]
    frame.to_file(
        path,
        layer=layer,
        driver="GPKG",
        engine="pyogrio",
        geometry_type=kind,
        mode="a" if path.exists() else "w",
        layer_options={"DESCRIPTION": description, "SPATIAL_INDEX": "YES"},
    )


def _subject(plan: Plan, height_reference: str) -> geopandas.GeoDataFrame:
    subject = plan.subject
    row = {
        "name": subject.name,
        "kind": subject.kind,
        "height_m": subject.height_m,
        "ground_m": known(plan.subject_ground_m),
        "height_reference": height_reference_words(height_reference),
        "plan": plan.name,
        "evening": plan.evening.isoformat(),
        "zone": plan.zone,
        "made": plan.made,
        "emergency_number": plan.emergency_number,
        "cautions": "\n".join(plan.cautions),
        "geometry": Point(subject.lon, subject.lat),
    }
    return _frame([row], numbers=("height_m", "ground_m"))


def _stands(plan: Plan, height_reference: str) -> geopandas.GeoDataFrame:
    rows = [
        {
            "lens": lens_plan.lens.label,
            **stand_row(plan, lens_plan, height_reference),
            "time_utc": lens_plan.stand.time,
            "geometry": Point(lens_plan.stand.lon, lens_plan.stand.lat),
        }
        for lens_plan in plan.lenses
        if lens_plan.stand is not None
    ]
    columns = ("lens", *STAND_NAMES)
    return _frame(rows, columns, numbers=(*STAND_NUMBERS, "shutter_s"), times=("time_utc",))


def _sight_lines(plan: Plan) -> geopandas.GeoDataFrame:
    rows = [
        {
            "lens": lens_plan.lens.label,
            "bearing_deg": known(lens_plan.stand.bearing_deg),
            "time_utc": lens_plan.stand.time,
            "geometry": sight_line(plan, lens_plan.stand),
        }
        for lens_plan in plan.lenses
        if lens_plan.stand is not None
    ]
    columns = ("lens", "bearing_deg", "time_utc")
    return _frame(rows, columns, numbers=("bearing_deg",), times=("time_utc",))


def _arcs(plan: Plan) -> geopandas.GeoDataFrame:
    rows = [
        {
            "lens": lens_plan.lens.label,
            "start_utc": part.start.time,
            "end_utc": part.end.time,
            "usable": not part.limits,
            "limits": ", ".join(part.limits),
            "geometry": part.line,
        }
        for lens_plan in plan.lenses
        for part in stretches(lens_plan)
    ]
    columns = ("lens", "start_utc", "end_utc", "usable", "limits")
    return _frame(rows, columns, times=("start_utc", "end_utc"), yes_no=("usable",))


def _arc_minutes(plan: Plan) -> geopandas.GeoDataFrame:
    numbers = ("distance_m", "bearing_deg", "pitch_deg", "target_altitude_deg", "clearance_deg")
    rows = [
        {
            "lens": lens_plan.lens.label,
            "time_utc": point.time,
            "usable": point.usable,
            "limits": ", ".join(point.limits),
            **{name: known(getattr(point, name)) for name in numbers},
            "geometry": Point(point.lon, point.lat),
        }
        for lens_plan in plan.lenses
        for point in placed(lens_plan)
    ]
    columns = ("lens", "time_utc", "usable", "limits", *numbers)
    return _frame(rows, columns, numbers=numbers, times=("time_utc",), yes_no=("usable",))


def _walks(plan: Plan) -> geopandas.GeoDataFrame:
    rows = [{**walk_row(walk), "geometry": tidy(walk.line)} for walk in walks_of(plan)]
    return _frame(rows, WALK_NAMES, numbers=WALK_NUMBERS, yes_no=("closed",))


def _places(plan: Plan) -> geopandas.GeoDataFrame:
    rows = [
        {
            "kind": place.kind,
            "name": place.name,
            "access": place.access,
            "note": place.note,
            "geometry": tidy(place.geometry),
        }
        for place in plan.places
    ]
    return _frame(rows, ("kind", "name", "access", "note"))


def _frame(
    rows: Sequence[dict[str, Any]],
    columns: Sequence[str] = (),
    *,
    numbers: Sequence[str] = (),
    times: Sequence[str] = (),
    yes_no: Sequence[str] = (),
) -> geopandas.GeoDataFrame:
    """Make a frame whose columns have their types even when there is no row."""
    import geopandas
    import pandas

    names = list(columns or [name for name in rows[0] if name != "geometry"])
    frame = pandas.DataFrame([_held(row) for row in rows], columns=[*names, "geometry"])
    for name in names:
        if name in numbers:
            frame[name] = frame[name].astype("float64")
        elif name in times:
            frame[name] = pandas.to_datetime(frame[name], utc=True)
        elif name in yes_no:
            frame[name] = frame[name].astype("bool")
    return geopandas.GeoDataFrame(frame, geometry="geometry", crs=CRS)


def _held(row: dict[str, Any]) -> dict[str, Any]:
    return {k: visible(v, NOT_COLUMN) if isinstance(v, str) else v for k, v in row.items()}
