"""Units of height: what files say, what users say, and which one counts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.errors import Setting, TerrainError

if TYPE_CHECKING:
    from pyproj import CRS

FOOT_M = 0.3048
"""International foot, exact (1959 agreement)."""

SURVEY_FOOT_M = 1200.0 / 3937.0
"""US survey foot, exact by definition (US Federal Register, 1959)."""

_SPELLINGS = {
    "metre": ("m", "metre", "metres", "meter", "meters"),
    "foot": ("ft", "foot", "feet", "international foot", "ift"),
    "US survey foot": (
        "us survey foot", "us survey feet", "us-ft", "usft", "ftus", "us foot", "foot_us",
        "us_survey_foot", "us survey foot (otf)", "sft",
    ),
}  # fmt: skip

_IN_METRES = {"metre": 1.0, "foot": FOOT_M, "US survey foot": SURVEY_FOOT_M}


_STATE_THE_UNIT = Setting("vertical_unit", ("metre", "foot", "US survey foot"))


def _named(spelling: str) -> str | None:
    plain = " ".join(spelling.lower().replace("_", " ").split())
    for name, spellings in _SPELLINGS.items():
        if plain in spellings or plain == name.lower():
            return name
    return None


def _of_vertical_crs(crs: CRS) -> str | None:
    for part in crs.sub_crs_list if crs.is_compound else []:
        if part.is_vertical:
            size = part.axis_info[0].unit_conversion_factor
            for name, metres in _IN_METRES.items():
                if math.isclose(size, metres, rel_tol=1e-7):
                    return name
    return None


def metres_per_unit(
    *, asked: str | None, stated: str | None, crs: CRS, name: str
) -> tuple[str, float]:
    """Settle the unit of a raster's heights.

    Parameters
    ----------
    asked : str or None
        What the user says: ``metre``, ``foot`` or ``US survey foot``.
    stated : str or None
        The unit that the file writes beside its band.
    crs : pyproj.CRS
        The file's CRS; a compound one states a vertical unit too.
    name : str
        The file, for messages.

    Returns
    -------
    tuple of str, float
        Name of the unit and its length in metres.

    Raises
    ------
    TerrainError
        Where user and file contradict one another, a unit is unknown, or the map is in
        feet and nobody says whether its heights are.
    """
    wish = _named(asked) if asked is not None else None
    if asked is not None and wish is None:
        raise TerrainError(
            f"vertical_unit {asked!r} is not known",
            hint="write 'metre', 'foot' or 'US survey foot'",
            key="vertical_unit",
        )
    by_crs = _of_vertical_crs(crs)
    says = (_named(stated) or by_crs) if stated else by_crs
    if stated and says is None and wish is None:
        raise TerrainError(
            f"{name} gives its heights in {stated!r}, which is not known here",
            hint=(_STATE_THE_UNIT,),
            key="vertical_unit",
        )
    if wish and says and wish != says:
        raise TerrainError(
            f"{name} states heights in {says}, and vertical_unit says {wish}",
            hint="leave vertical_unit out, or mend the file",
            key="vertical_unit",
        )
    unit = wish or says
    if unit is None:
        across = crs.axis_info[0].unit_name if crs.axis_info else ""
        if crs.is_projected and "foot" in across.lower():
            raise TerrainError(
                f"{name} is mapped in {across} and does not say whether its heights are feet too",
                hint=(_STATE_THE_UNIT,),
                key="vertical_unit",
            )
        unit = "metre"
    return unit, _IN_METRES[unit]
