"""The night sky's brightness at the subject, from the raster that the outing names.

The raster's number is the zenith's. Natural light and that of towns are kept apart: files of the
world atlas hold the *artificial* luminance, other files the whole sky in magnitudes.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import figures, num
from backbearing.land.sky_raster import SkyRaster
from backbearing.sky.natural_sky import NATURAL_MCD_M2

if TYPE_CHECKING:
    from backbearing.base.errors import Hint
    from backbearing.outing.request import Outing

AROUND_DEG: Final = 0.3
BRIGHTEST_MCD_M2: Final = 100.0
"""No city's zenith is so bright (15 magnitudes a square arcsecond; from memory: the brightest are
some tens): a raster that holds more is a ratio."""
_NOT_SEEN: Final = "ridges before a town, cloud and lamps put out are not in it."
MAGNITUDES: Final = (14.5, 23.0)
"""Where all numbers of a raster of magnitudes lie, and light over open land never does."""


def with_sky_of_raster(outing: Outing) -> Outing:
    """Give the outing with its raster's sky in the exposure, where it asks for that.

    Raises
    ------
    OutingError
        Without a raster, where it does not know the subject's place, and where its numbers
        look like those of another unit.
    TerrainError
        For a file that cannot be read.
    """
    if "raster" not in outing.exposure.brightness_from:
        return outing
    asked = outing.scouting
    if asked.sky_brightness is None:
        raise outing.refuse(
            "exposure",
            "brightness_from",
            "asks for the raster and none is named",
            hint='write sky_brightness = "sky.tif" and its sky_unit under [scouting]',
        )
    lat, lon = outing.subject.lat, outing.subject.lon
    try:
        raster = SkyRaster.open(asked.sky_brightness, unit=asked.sky_unit)
        found = raster.at(lat=[lat], lon=[lon])
    except BackbearingError as problem:
        raise outing.refuse("scouting", "sky_brightness", problem) from problem
    mag = float(found.mag_arcsec2[0])
    if not math.isfinite(mag):
        raise outing.refuse(
            "scouting",
            "sky_brightness",
            f"{raster.source.name} does not know the sky at the subject",
            hint='name a raster that does, or write sky_mag_arcsec2 and brightness_from = "asked"',
        )
    if wrong := _other_unit(raster, lat, lon):
        raise outing.refuse("scouting", "sky_unit", wrong[0], hint=wrong[1])
    artificial = max(float(found.ratio[0]), 0.0) * NATURAL_MCD_M2
    exposure = replace(outing.exposure, sky_mag_arcsec2=mag, artificial_mcd_m2=artificial)
    return replace(outing, exposure=exposure)


def _other_unit(raster: SkyRaster, lat: float, lon: float) -> tuple[str, Hint] | None:
    """What speaks against the unit that was said, and what to write; None where nothing does."""
    if raster.unit == "mag/arcsec2":
        # Numbers that no sky has in magnitudes are refused as they are read.
        return None
    step = np.linspace(-AROUND_DEG, AROUND_DEG, 41)
    north, east = np.meshgrid(step, step, indexing="ij")
    ratio = raster.at(lat=np.clip(lat + north.ravel(), -90.0, 90.0), lon=lon + east.ravel()).ratio
    known = ratio[np.isfinite(ratio)] * (NATURAL_MCD_M2 if raster.unit == "mcd/m2" else 1.0)
    least, most = float(known.min()), float(known.max())
    span = f"{raster.source.name} holds {figures(least, 3)} to {figures(most, 3)} about here"
    if MAGNITUDES[0] <= least and most <= MAGNITUDES[1]:
        return f"{span}: magnitudes, not {raster.unit}", 'write sky_unit = "mag/arcsec2"'
    if raster.unit == "mcd/m2" and most > BRIGHTEST_MCD_M2:
        return f"{span}, more than any city in mcd/m2", 'write sky_unit = "ratio"'
    return None


def sky_note(outing: Outing) -> str:
    """Say where the exposure's sky comes from; empty where it is the outing's own number."""
    exposure = outing.exposure
    source = exposure.brightness_from
    if source == "asked" or ("raster" in source and not math.isfinite(exposure.artificial_mcd_m2)):
        return ""
    if source == "towns":
        return f"The sky behind the target is a model's of the named towns' light; {_NOT_SEEN}"
    if source == "raster and towns":
        return (
            f"The sky behind the target is the raster's {figures(exposure.artificial_mcd_m2)} "
            "mcd/m2 of artificial light overhead, spread as a model of the named towns has it; "
            f"{_NOT_SEEN}"
        )
    return (
        f"The exposure's sky of {num(exposure.sky_mag_arcsec2, 2)} mag/arcsec2 is the raster's at "
        f"the zenith: {num(NATURAL_MCD_M2)} mcd/m2 of natural light and "
        f"{figures(exposure.artificial_mcd_m2)} of artificial. Low down and towards a town "
        "it is brighter, and the file is of its own year; half a magnitude of doubt."
    )
