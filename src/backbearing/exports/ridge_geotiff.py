"""Where the target clears the ridge, as a GeoTIFF for any map program."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.cautions import CoverKnown
from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_free
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.plan.clearance import RidgeArea

NIGHT_BANDS = {
    "first clear": "local clock hours from the evening's midnight; 25.5 is 01:30; NaN is never",
    "last clear": "local clock hours from the evening's midnight; 25.5 is 01:30; NaN is never",
    "minutes clear": "minutes within the dark window",
    "margin": "degrees over the ridge, largest in the dark window; NaN is unknown",
}
MINUTE_BANDS = {"margin": "degrees over the ridge at the asked minute; NaN is unknown"}


def write_ridge_geotiff(area: RidgeArea, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write an area's float32 bands on its elevation raster's own grid.

    A night has four (see ``NIGHT_BANDS``), one minute the margin alone. Where margin is
    NaN the ground is unknown; where it is not but a clear hour is, the ridge is never
    cleared. Tags say when, by how much, how far off and from which bearings.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or the disk refuses; nothing is changed then.
    """
    import rasterio
    from rasterio.errors import RasterioError

    target = Path(path)
    check_free(target, overwrite=overwrite)
    layers = _layers(area)
    rows, columns = area.margin_deg.shape
    try:
        with tempfile.TemporaryDirectory(dir=target.parent) as folder:
            draft = Path(folder) / "ridge.tif"
            with rasterio.open(
                draft,
                "w",
                driver="GTiff",
                height=rows,
                width=columns,
                count=len(layers),
                dtype="float32",
                crs=area.cells.crs_wkt,
                transform=area.cells.transform,
                nodata=np.nan,
                compress="deflate",
                predictor=3,
                zlevel=1,
                tiled=True,
                num_threads=2,
            ) as raster:
                for band, (name, layer) in enumerate(layers.items(), start=1):
                    raster.write(np.asarray(layer, dtype=np.float32), band)
                    raster.set_band_description(band, name)
                raster.update_tags(**_tags(area))
            draft.replace(target)
    except (OSError, RasterioError) as problem:
        raise WriteRefusedError(
            f"{target} could not be written ({problem}); nothing was changed.", path=str(target)
        ) from problem
    return target


def _layers(area: RidgeArea) -> dict[str, NDArray[np.float32]]:
    """Bands by description, in order."""
    if area.one_minute:
        return {f"{name} ({unit})": area.margin_deg for name, unit in MINUTE_BANDS.items()}
    values = (area.first_clear_h, area.last_clear_h, area.clear_minutes, area.margin_deg)
    return {
        f"{name} ({unit})": layer
        for (name, unit), layer in zip(NIGHT_BANDS.items(), values, strict=True)
    }


LEFT_OUT: Final = {
    CoverKnown.NONE: "trees, buildings, and ground beyond the raster",
    CoverKnown.PART: "trees and buildings that are not known, and ground beyond the raster",
    CoverKnown.ALL: "ground beyond the raster",
}


def _tags(area: RidgeArea) -> dict[str, str]:
    return {
        "evening": area.evening.isoformat(),
        "time_zone": area.zone,
        "target": area.target_name,
        "from_utc": area.start.isoformat(timespec="seconds"),
        "to_utc": area.end.isoformat(timespec="seconds"),
        "clear_by_deg": f"{num(area.clear_by_deg)}",
        "bearings_deg": " ".join(f"{num(bearing, 2)}" for bearing in area.bearings_deg),
        "margin_off_p90_deg": f"{num(area.trial.margin_p90_deg, 3)}",
        "margin_sigma_median_deg": f"{num(area.trial.sigma_median_deg, 2)}",
        "left_out": LEFT_OUT[area.cells.cover_known],
    }
