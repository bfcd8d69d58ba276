"""Layers of a GeoPackage [GPKG]_, in any system that it names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.datum_shift import WGS84, to_wgs84
from backbearing.base.errors import OutingError
from backbearing.base.sqlite_layers import geopackage_trouble
from backbearing.base.text import crs_name
from backbearing.scouting.reading.features import rough_of
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
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
    trouble = geopackage_trouble(file)
    if trouble:
        raise _refuse(file, trouble)
    try:
        name = _layer(file, layer)
        frame = _frame(file, name)
    except OutingError:
        raise
    except Exception as problem:  # the driver's own errors share no class
        raise _refuse(file, f"cannot be read as a GeoPackage ({str(problem)[:120]})") from problem
    notes = []
    if frame.crs != WGS84:
        notes.append(f"Layer {name} is in {crs_name(frame.crs)}; its places were taken to WGS84.")
        shapes = list(to_wgs84(list(frame.geometry), frame.crs))
        frame = frame.set_geometry(shapes, crs=WGS84)
    columns = {str(key).lower(): frame[key] for key in frame.columns}
    wanted = {key: _cells(columns[key]) for key in _KEYS if key in columns}
    properties = [dict(zip(wanted, row, strict=True)) for row in zip(*wanted.values(), strict=True)]
    number = [int(n) for n in frame.index]
    rough = rough_of(properties or [{}] * len(frame), list(frame.geometry), "fid", number, {})
    rough.notes.extend(notes)
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


def _frame(file: Path, layer: str) -> geopandas.GeoDataFrame:
    import geopandas
    import pyogrio

    if pyogrio.read_info(file, layer=layer)["features"] > MOST_ROWS:
        raise _refuse(file, f"has more than {MOST_ROWS:,} features in {layer}; split it")
    frame = pyogrio.read_dataframe(
        file, layer=layer, fid_as_index=True, force_2d=True, on_invalid="ignore"
    )
    if not isinstance(frame, geopandas.GeoDataFrame):
        raise _refuse(file, f"has no geometries in {layer}")
    # GeoPackage keeps two systems that say only that nothing is known.
    if frame.crs is None or str(frame.crs.name).lower().startswith("undefined"):
        raise _refuse(file, f"names no coordinate system for {layer}; set one, such as EPSG:4326")
    return frame


def _cells(column: Any) -> list[Any]:
    pairs = zip(column, column.isna(), strict=True)
    return [None if missing else value for value, missing in pairs]


def _refuse(file: Path, what: str) -> OutingError:
    return OutingError(f"{file.name} {what}.", file=str(file))
