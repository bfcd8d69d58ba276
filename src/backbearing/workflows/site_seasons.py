"""The season of each of many sites: by processes, over a cluster, stopped and taken up again."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar, Final, NamedTuple

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation, zone_of
from backbearing.alignment.night.plan_season import MOST_NIGHTS, plan_season
from backbearing.base.errors import NothingFoundError, SkyError
from backbearing.base.files import write_file
from backbearing.cluster.kept import KeptFormat
from backbearing.cluster.question import digest_of, stamps_of
from backbearing.cluster.shared_work import Sharing, shared_out
from backbearing.outing.marks_request import MarksRequest
from backbearing.plan.season import SeasonLimits
from backbearing.plan.site_seasons import SiteNight, SiteSeason, SiteSeasons
from backbearing.scouting.run.run import visiting_order
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.reading.sources import Ground

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.cluster.kept import Progress
    from backbearing.outing.request import Outing
    from backbearing.plan.season import Season
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain.elevation import Elevation

METHOD: Final = 1
"""Raised whenever the figures of a site change, so that no kept part of old is used."""

AT_ONCE: Final = 20
"""Sites in a parcel, at most; fewer where there are few, so that processes share them."""

SHARES: Final = 12

OWN_SKYLINE: Final = (
    "Each site's own skyline, seen from the ground there at eye height; no stand and no lens is "
    "looked for."
)
NO_MARKS: Final = "The outing's skyline marks, read at one place, are not used here."


UNKNOWN: Final = {
    Ground.OUTSIDE: "It lies outside the elevation raster.",
    Ground.VOID: "The elevation raster holds no height there.",
    Ground.MISSING_TILE: "It lies in a tile that was not given.",
    Ground.SEA: "It lies on open water.",
}
"""Why nothing is known of a site, by the state of its ground."""


class Site(NamedTuple):
    """A place whose season is asked, as read from its file."""

    key: str
    name: str
    lat: float
    lon: float
    height_m: float


def seasons_of_sites(
    outing: Outing,
    sites: Candidates,
    *,
    first_night: dt.date | None = None,
    nights: int = 30,
    elevation: Elevation | None = None,
    sharing: Sharing | None = None,
    progress: Progress | None = None,
) -> SiteSeasons:
    """Look through a run of nights at every site, each over its own skyline.

    Parameters
    ----------
    outing : Outing
        Target, ground, and what counts as dark and clear. Its own subject, its skyline marks
        and its forecast belong to one place and are not looked at.
    sites : Candidates
        As `read_candidates` gives them.
    first_night : date, optional
        The outing's own evening when left out.
    nights : int
        1 to 732.
    elevation : Elevation, optional
        The raster, when it is open already.
    sharing : Sharing, optional
        How the work is shared, and where finished parts are kept.
    progress : callable, optional
        Told how many sites are done, and of how many.

    Raises
    ------
    NothingFoundError
        When there is no site at all.
    OutingError, TerrainError, SkyError, WriteRefusedError, BackbearingError
        One sentence each; a site off the raster says so itself.
    """
    if not 1 <= nights <= MOST_NIGHTS:
        raise SkyError(
            f"{nights} nights were asked for", hint=f"ask for 1 to {MOST_NIGHTS}", nights=nights
        )
    if not len(sites):
        raise NothingFoundError(f"{sites.source} holds no sites that can be used.")
    asked = _of_no_place(outing)
    order, parcels = _parcels(sites)
    first_night = first_night or outing.night.evening
    marks = bool(outing.ground.marks)
    job = SeasonJob(asked, first_night, nights, digest_of(parcels), had_marks=marks)
    opened = None
    if elevation is not None or sharing is None or sharing.scheduler is None:
        opened = bare_of(elevation) if elevation is not None else job.opened()
        opened.always_compiled()
        if not opened.in_pieces:
            # Read before children are forked, who then share it.
            _ = opened.heights_m
    found: list[SiteSeason | None] = [None] * len(order)
    for number, answers in shared_out(
        job,
        parcels,
        [len(parcel) for parcel in parcels],
        sharing or Sharing(),
        opened=opened,
        progress=progress,
    ):
        start = sum(map(len, parcels[:number]))
        for row, season in zip(order[start : start + len(answers)], answers, strict=True):
            found[row] = season
    return _gathered(asked, sites, job, [season for season in found if season is not None])


def _of_no_place(outing: Outing) -> Outing:
    """Leave out what belongs to the outing's own subject; its zone serves all sites."""
    return replace(
        outing,
        ground=replace(outing.ground, marks=MarksRequest()),
        night=replace(outing.night, time_zone=zone_of(outing), forecast=None),
    )


def _parcels(sites: Candidates) -> tuple[list[int], list[tuple[Site, ...]]]:
    """Rows in the order of visiting, and cut; by the sites alone, so that a run can go on."""
    frame = sites.frame
    lat, lon = (np.asarray(v, dtype=np.float64) for v in (frame.geometry.y, frame.geometry.x))
    order = visiting_order(lat=lat, lon=lon).tolist()
    each = [
        Site(str(key), str(name or ""), float(lat[i]), float(lon[i]), float(height))
        for i, (key, name, height) in enumerate(
            zip(frame["id"], frame["name"], frame["height_m"], strict=True)
        )
    ]
    size = min(AT_ONCE, -(-len(order) // SHARES))
    cut = [order[i : i + size] for i in range(0, len(order), size)]
    return order, [tuple(each[row] for row in rows) for rows in cut]


def _gathered(
    outing: Outing, sites: Candidates, job: SeasonJob, found: list[SiteSeason]
) -> SiteSeasons:
    night = outing.night
    return SiteSeasons(
        source=sites.source,
        zone=str(night.time_zone),
        target_name=outing.target.name,
        limits=SeasonLimits(
            night.sun_below_deg, night.moon, night.moon_adds_mag, night.clear_by_deg
        ),
        evenings=tuple(job.first_night + dt.timedelta(days=i) for i in range(job.nights)),
        sites=tuple(
            sorted(found, key=lambda site: (bool(site.failure), -site.total_minutes)),
        ),
        rejected=sites.rejected,
        notes=(
            OWN_SKYLINE,
            *((NO_MARKS,) if job.had_marks else ()),
            *sites.notes,
        ),
    )


def _save(seasons: list[SiteSeason], path: Path) -> None:
    text = json.dumps([asdict(one) for one in seasons], default=_written)
    write_file(path, text.encode("utf-8"), overwrite=True)


def _written(value: dt.date | dt.datetime) -> str:
    return value.isoformat()


def _load(path: Path, size: int) -> list[SiteSeason] | None:
    try:
        found = [_read(row) for row in json.loads(path.read_text(encoding="utf-8"))]
    except Exception:  # a damaged file fails in every way there is
        return None
    return found if len(found) == size else None


def _read(row: dict[str, Any]) -> SiteSeason:
    best = row.pop("best")
    if best is not None:
        best["evening"] = dt.date.fromisoformat(best["evening"])
        best |= {key: dt.datetime.fromisoformat(best[key]) for key in ("start", "end")}
        best = SiteNight(**best)
    return SiteSeason(minutes=tuple(row.pop("minutes")), best=best, **row)


@dataclass(frozen=True)
class SeasonJob:
    """What all sites share: the outing without its place, which nights, and a digest of them."""

    outing: Outing
    first_night: dt.date
    nights: int
    sites: str
    had_marks: bool = False

    what: ClassVar[str] = "sites"
    form: ClassVar[KeptFormat[list[SiteSeason]]] = KeptFormat("season", _save, _load, ".json")

    @property
    def question(self) -> dict[str, str]:
        """What the figures of the sites hang on."""
        outing = self.outing
        return {
            "the method": digest_of(METHOD),
            "the sites": self.sites,
            "the nights": digest_of(self.first_night, self.nights),
            "the target": digest_of(outing.target),
            "what counts as dark and clear": digest_of(replace(outing.night, evening=dt.date.min)),
            "the eye": digest_of(outing.framing.eye_height_m),
            "the raster or what stands on it": digest_of(outing.ground, stamps_of(self.files())),
        }

    @property
    def digest(self) -> str:
        """Of the question."""
        return digest_of(sorted(self.question.items()))

    def files(self) -> tuple[Path, ...]:
        """The raster's files, and those of the trees and buildings on it."""
        return (*self.outing.ground.elevation, *self.outing.ground.cover.files)

    def opened(self) -> Elevation:
        """Open the raster; what a site sees may not hang on the sites looked at before."""
        elevation = open_elevation(self.outing)
        elevation.always_compiled()
        return elevation

    def work(self, opened: Elevation, parcel: Sequence[Site]) -> list[SiteSeason]:
        """Look through the nights at each site."""
        return [self._season(opened, site) for site in parcel]

    def _season(self, elevation: Elevation, site: Site) -> SiteSeason:
        subject = replace(
            self.outing.subject,
            lat=site.lat, lon=site.lon, name=site.name, height_m=site.height_m,
            width_m=None, base_height_m=0.0, ground_m=None, outline=None,
        )  # fmt: skip
        why = UNKNOWN.get(Ground(int(elevation.state_at(lat=site.lat, lon=site.lon))))
        if why is not None:
            return _unknown(site, why)
        season = plan_season(
            replace(self.outing, subject=subject),
            first_night=self.first_night,
            nights=self.nights,
            elevation=elevation,
        )
        return _told(site, season)


def _unknown(site: Site, why: str) -> SiteSeason:
    nan = float("nan")
    return SiteSeason(site.key, site.name, site.lat, site.lon, nan, nan, (), {}, None, why)


def _told(site: Site, season: Season) -> SiteSeason:
    """Keep of a season what a table of many needs."""
    outcomes: dict[str, int] = {}
    for night in season.nights:
        outcomes[night.outcome] = outcomes.get(night.outcome, 0) + 1
    windows = [(stretch, night) for night in season.nights for stretch in night.windows]
    best = None
    if windows:
        stretch, night = max(windows, key=lambda pair: pair[0].minutes)
        best = SiteNight(
            night.evening, stretch.start, stretch.end, stretch.minutes, stretch.clearance_deg,
            stretch.highest_deg, stretch.moon_lit,
        )  # fmt: skip
    return SiteSeason(
        key=site.key,
        name=site.name,
        lat=site.lat,
        lon=site.lon,
        ground_m=season.height_m,
        unknown_share=season.unknown_share,
        minutes=tuple(night.window_minutes for night in season.nights),
        outcomes=outcomes,
        best=best,
    )
