"""``backbearing nights --sites``: the season of each of many places."""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import click

from backbearing.base.files import check_free, write_file
from backbearing.base.numbers import counted, num
from backbearing.base.text import night_label
from backbearing.base.wall_clock import hm
from backbearing.cli.common import print_json
from backbearing.cli.screen import Screen
from backbearing.cli.sharing import watched
from backbearing.exports.site_seasons_csv import site_seasons_csv
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.workflows.site_seasons import seasons_of_sites

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.cli.sites_asked import SitesAsked
    from backbearing.outing.request import Outing
    from backbearing.plan.site_seasons import SiteSeason, SiteSeasons

MOST_ROWS: Final = 12
"""Sites of the short table."""


def answer_sites(
    outing: Outing,
    asked: SitesAsked,
    first: dt.date | None,
    nights: int,
    *,
    overwrite: bool,
    everything: bool,
    as_json: bool,
) -> int:
    """Look through the nights at each site and say so; give the exit code."""
    assert asked.sites is not None  # noqa: S101  # asked only where there are sites
    if asked.table is not None:
        check_free(asked.table, overwrite=overwrite)
    sites = read_candidates(asked.sites, layer=asked.layer)
    work = partial(
        seasons_of_sites, outing, sites, first_night=first, nights=nights, sharing=asked.sharing
    )
    found = watched(
        lambda progress: work(progress=progress),
        "Looking through",
        "sites",
        keep=asked.keep,
        quiet=as_json,
    )
    if asked.table is not None:
        text = site_seasons_csv(found).encode("utf-8")
        write_file(asked.table, text, overwrite=overwrite)
    if as_json:
        print_json({"format": "backbearing-site-seasons", "version": 1, "seasons": found})
    else:
        out = Screen()
        then = f"backbearing scout {outing.path.name} --candidates {asked.sites}"
        _print(out, found, everything=everything, then=then)
        out.show()
        if asked.table is not None:
            click.echo(f"Wrote {asked.table}.")
    return 0 if found.found else 3


def _print(out: Screen, found: SiteSeasons, *, everything: bool, then: str) -> None:
    count = len(found.evenings)
    nights = "one night" if count == 1 else f"{count} nights"
    out.title(
        f"{counted(len(found.sites), 'sites')} of {found.source}, {nights} from "
        f"{night_label(found.evenings[0])}; times in {found.zone}."
    )
    known = [site for site in found.sites if not site.failure]
    shown = known if everything else known[:MOST_ROWS]
    zone = ZoneInfo(found.zone)
    heads = ("", "site", "nights", "hours", "best night", "from", "minutes", "over ridge")
    out.listing(
        heads,
        [_row(number, site, zone) for number, site in enumerate(shown, start=1)],
        left={"site", "best night"},
        words={"site", "best night"},
    )
    if len(known) > len(shown):
        out.say(f"And {counted(len(known) - len(shown), 'others')}: --all.")
    reasons = Counter(site.failure for site in found.sites if site.failure)
    said = [f"{why} {number}" for why, number in reasons.most_common()]
    said += [row.reason for row in found.rejected]
    if said:
        out.title("Nothing is known of")
        out.some(said, len(said) if everything else 5)
    if everything:
        for note in found.notes:
            out.say(f"· {note}", hang=2)
    out.say("Care: hours over a bare ridge are no stand, no leave to be there, and no clear sky.")
    out.say(f"Next: {then}", hang=2)


def _row(number: int, site: SiteSeason, zone: dt.tzinfo) -> tuple[str, ...]:
    best, name = site.best, site.name or site.key
    row = (str(number), name, str(site.good_nights), num(site.total_minutes / 60.0, 1))
    if best is None:
        most = max(site.outcomes, key=lambda outcome: site.outcomes[outcome])
        return (*row, most, "", "", "")
    return (
        *row,
        night_label(best.evening),
        hm(best.start, zone),
        num(best.minutes, 0),
        f"{num(best.clearance_deg, 1)}°",
    )
