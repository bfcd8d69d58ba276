"""Layers of a GeoPackage [GPKG]_, in any system that it names."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.datum_shift import WGS84, Spread, to_wgs84
from backbearing.base.errors import OutingError
from backbearing.base.sqlite_layers import geopackage_trouble
from backbearing.base.text import crs_name
from backbearing.scouting.reading.features import rough_of
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import geopandas

    from backbearing.tables.raw_table import Rough

_KEYS: Final = ("name", "kind", "height_m", "width_m", "access", "role", "note")


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from one layer of features.

    Raises
    ------
    OutingError
        For another file under this name, a layer that must be named, or no system.
    """
    with _whole(file):
        name = _layer(file, layer)
        frame, whole_numbers = _frame(file, name)
    notes = _said_of(name, frame.crs)
    if notes:
        shapes = list(to_wgs84(list(frame.geometry), frame.crs))
        frame = frame.set_geometry(shapes, crs=WGS84)
    columns = {str(key).lower(): (str(key), frame[key]) for key in frame.columns}
    cells = {
        key: _cells(column, is_whole=name in whole_numbers)
        for key, (name, column) in columns.items()
        if key in _KEYS
    }
    return _rough(cells, list(frame.geometry), [int(n) for n in frame.index], notes)


def batches(file: Path, layer: str | None, size: int) -> Iterator[Rough]:
    """Read candidates from one layer of any length, so many features at a time.

    A layer that is not in WGS84 is gone through twice: one operation serves all its places.

    Raises
    ------
    OutingError
        As for `read`; also while features are asked for.
    """
    import shapely
    from pyproj import CRS

    with _whole(file):
        name = _layer(file, layer)
        crs = CRS.from_user_input(_named_crs(file, name))
        notes, shift = _said_of(name, crs), None
        if notes:
            spread = Spread(crs)
            for batch, _ in _arrow(file, name, size, []):
                corners = shapely.get_coordinates(batch.geometry)
                spread.add(corners[:, 0], corners[:, 1])
            shift = spread.shift()
        for batch, cells in _arrow(file, name, size, _KEYS):
            shapes = list(to_wgs84(list(batch.geometry), crs, shift)) if notes else batch.geometry
            yield _rough(cells, list(shapes), batch.fids, notes)


class _Batch(NamedTuple):
    fids: list[int]
    geometry: Any


def _arrow(
    file: Path, layer: str, size: int, keys: Sequence[str]
) -> Iterator[tuple[_Batch, dict[str, list[Any]]]]:
    """Give fids, geometries and cells of the columns of these names, some rows at a time."""
    import shapely
    from pyogrio import raw, read_info

    info = read_info(file, layer=layer)
    named = {str(key).lower(): str(key) for key in info["fields"]}
    columns = [named[key] for key in keys if key in named]
    asked = {"layer": layer, "columns": columns, "return_fids": True}
    with raw.open_arrow(file, use_pyarrow=True, batch_size=size, **asked) as (meta, reader):
        for batch in reader:
            table = batch.to_pydict()
            wkb = table[meta["geometry_name"] or "wkb_geometry"]
            shapes = shapely.force_2d(shapely.from_wkb(np.array(wkb, dtype=object), "ignore"))
            fids = table[meta["fid_column"] or "OGC_FID"]
            yield _Batch(fids, shapes), {key.lower(): table[key] for key in columns}


@contextmanager
def _whole(file: Path) -> Iterator[None]:
    """Refuse what is no GeoPackage, before and while it is read."""
    trouble = geopackage_trouble(file)
    if trouble:
        raise _refuse(file, trouble)
    try:
        yield
    except (OutingError, GeneratorExit):
        raise
    except Exception as problem:  # the driver's own errors share no class
        raise _refuse(file, f"cannot be read as a GeoPackage ({str(problem)[:120]})") from problem


def _said_of(layer: str, crs: Any) -> list[str]:
    if crs == WGS84:
        return []
    return [f"Layer {layer} is in {crs_name(crs)}; its places were taken to WGS84."]


def _rough(
    cells: dict[str, list[Any]], shapes: list[Any], number: list[int], notes: list[str]
) -> Rough:
    properties = [dict(zip(cells, row, strict=True)) for row in zip(*cells.values(), strict=True)]
    rough = rough_of(properties or [{}] * len(shapes), shapes, "fid", number, {})
    rough.notes.said.extend(notes)
    return rough


def _layer(file: Path, asked: str | None) -> str:
    import pyogrio

    layers = [str(name) for name, kind in pyogrio.list_layers(file) if kind is not None]
    shown = ", ".join(layers[:12])
    if asked is not None:
        if asked not in layers:
            raise _refuse(file, f"has no layer {asked!r} with places; it has {shown}")
        return asked
    if len(layers) != 1:
        what = f"has {len(layers)} layers with places"
        raise _refuse(file, f"{what}; name one of {shown} as layer" if layers else what)
    return layers[0]


def _frame(file: Path, layer: str) -> tuple[geopandas.GeoDataFrame, set[str]]:
    """Read a layer, and the names of its columns of whole numbers."""
    import geopandas
    import pyogrio

    info = pyogrio.read_info(file, layer=layer)
    if info["features"] > MOST_ROWS:
        raise _refuse(file, f"has more than {MOST_ROWS:,} features in {layer}; split it")
    frame = pyogrio.read_dataframe(
        file, layer=layer, fid_as_index=True, force_2d=True, on_invalid="ignore"
    )
    if not isinstance(frame, geopandas.GeoDataFrame):
        raise _refuse(file, f"has no geometries in {layer}")
    if _is_unknown(frame.crs):
        raise _no_system(file, layer)
    kinds = zip(info["fields"], info["dtypes"], strict=True)
    return frame, {str(name) for name, kind in kinds if "int" in str(kind)}


def _named_crs(file: Path, layer: str) -> Any:
    """Find the coordinate system of a layer, which it must name."""
    import pyogrio
    from pyproj import CRS

    info = pyogrio.read_info(file, layer=layer)
    if info["geometry_type"] is None:
        raise _refuse(file, f"has no geometries in {layer}")
    crs = CRS.from_user_input(info["crs"]) if info["crs"] else None
    if _is_unknown(crs):
        raise _no_system(file, layer)
    return crs


def _is_unknown(crs: Any) -> bool:
    # GeoPackage keeps two systems that say only that nothing is known.
    return crs is None or str(crs.name).lower().startswith("undefined")


def _no_system(file: Path, layer: str) -> OutingError:
    return _refuse(file, f"names no coordinate system for {layer}; set one, such as EPSG:4326")


def _cells(column: Any, *, is_whole: bool) -> list[Any]:
    """A column's cells; whole numbers, which the frame turns to others beside gaps, as such."""
    pairs = zip(column, column.isna(), strict=True)
    cells = [None if missing else value for value, missing in pairs]
    return [int(cell) if is_whole and cell is not None else cell for cell in cells]


def _refuse(file: Path, what: str) -> OutingError:
    return OutingError(f"{file.name} {what}.", file=str(file))
