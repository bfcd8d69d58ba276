"""The seasons of many sites as a CSV table ([RFC4180]_, UTF-8): a row a site, a column a night."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.exports.csv import defused
from backbearing.exports.file_text import utc

if TYPE_CHECKING:
    from backbearing.plan.site_seasons import SiteSeason, SiteSeasons

COLUMNS = (
    *("id", "name", "lat", "lon", "ground_m", "good_nights", "total_minutes", "best_evening"),
    *("best_start_utc", "best_end_utc", "best_minutes", "clearance_deg", "highest_deg"),
    *("moon_lit", "unknown_share", "failure"),
)


def site_seasons_csv(seasons: SiteSeasons) -> str:
    r"""Write a row for each site with ``\r\n`` line ends and a header; unknown is empty.

    Behind the named columns stand the good minutes of every night, under its evening's date.
    """
    sheet = io.StringIO(newline="")
    table = csv.writer(sheet, lineterminator="\r\n")
    table.writerow([*COLUMNS, *(evening.isoformat() for evening in seasons.evenings)])
    for site in seasons.sites:
        minutes = [_number(one, 1) for one in site.minutes] or [""] * len(seasons.evenings)
        table.writerow([*_named(site), *minutes])
    return sheet.getvalue()


def _named(site: SiteSeason) -> list[str]:
    best = site.best
    known = not site.failure
    return [
        defused(site.key),
        defused(site.name),
        _number(site.lat, 6),
        _number(site.lon, 6),
        _number(site.ground_m, 1),
        str(site.good_nights) if known else "",
        _number(site.total_minutes, 1) if known else "",
        "" if best is None else best.evening.isoformat(),
        "" if best is None else utc(best.start),
        "" if best is None else utc(best.end),
        "" if best is None else _number(best.minutes, 1),
        "" if best is None else _number(best.clearance_deg, 2),
        "" if best is None else _number(best.highest_deg, 2),
        "" if best is None else _number(best.moon_lit, 3),
        _number(site.unknown_share, 4),
        defused(site.failure),
    ]


def _number(value: float, digits: int) -> str:
    return num(value, digits) if math.isfinite(value) else ""
