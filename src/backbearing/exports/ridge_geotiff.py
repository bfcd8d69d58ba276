"""Where the target clears the ridge, as a GeoTIFF for any map program."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from backbearing.errors import WriteRefusedError
from backbearing.files import check_free

if TYPE_CHECKING:
    from backbearing.alignment.ridge_area import RidgeArea
    from backbearing.terrain import Elevation

BANDS = {
    "first clear": "local hours from the evening's midnight; 25.5 is 01:30",
    "last clear": "local hours from the evening's midnight; 25.5 is 01:30",
    "minutes clear": "minutes within the dark window",
    "margin": "degrees, largest in the dark window or at the asked minute",
}


def write_ridge_geotiff(
    area: RidgeArea, elevation: Elevation, path: str | Path, *, overwrite: bool = False
) -> Path:
    """Write four float32 bands on the elevation raster's own grid; NaN is unknown or never.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or the disk refuses; nothing is changed then.
    """
    import rasterio
    from rasterio.errors import RasterioError

    target = Path(path)
    check_free(target, overwrite=overwrite)
    layers = (area.first_clear_h, area.last_clear_h, area.clear_minutes, area.margin_deg)
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
                crs=elevation.crs.to_wkt(),
                transform=elevation.transform,
                nodata=np.nan,
                compress="deflate",
            ) as raster:
                for band, (layer, (name, unit)) in enumerate(
                    zip(layers, BANDS.items(), strict=True), start=1
                ):
                    raster.write(np.asarray(layer, dtype=np.float32), band)
                    raster.set_band_description(band, f"{name} ({unit})")
                raster.update_tags(
                    evening=area.evening.isoformat(),
                    time_zone=area.zone,
                    clear_by_deg=f"{area.clear_by_deg:g}",
                )
            draft.replace(target)
    except (OSError, RasterioError) as problem:
        raise WriteRefusedError(
            f"{target} could not be written ({problem}); nothing was changed.", path=str(target)
        ) from problem
    return target
