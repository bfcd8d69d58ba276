"""The season of each of many sites: the plan's own season at each, however the work is shared."""

from __future__ import annotations

import csv
import json
import os
import signal
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas
import pytest
from click.testing import CliRunner

from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.errors import NothingFoundError, WriteRefusedError
from backbearing.cli.nights import command
from backbearing.cluster.shared_work import Sharing
from backbearing.outing.load import load_outing
from backbearing.scouting.reading.candidate_table import Candidates
from backbearing.terrain.elevation import Elevation
from backbearing.workflows.site_seasons import SeasonJob, seasons_of_sites

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.site_seasons import SiteSeasons

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"
NIGHTS = 8


@pytest.fixture(scope="module")
def outing() -> Outing:
    return load_outing(SAMPLE)


@pytest.fixture(scope="module")
def sites(outing: Outing) -> Candidates:
    """The outing's own subject, places about it, and one far off the raster."""
    here = outing.subject
    places = [(here.lat, here.lon), *((36.2 + 0.03 * i, -84.35 + 0.05 * (i % 5)) for i in range(7))]
    places.append((36.9, -84.2))
    table = {
        "id": [f"row {i}" for i in range(len(places))],
        "name": [f"=thing {i}" for i in range(len(places))],
        "kind": "tree", "height_m": 6.0, "width_m": 3.0, "height_is_guess": False,
        "width_is_guess": False, "access": "open", "note": "",
    }  # fmt: skip
    points = geopandas.points_from_xy([lon for _, lon in places], [lat for lat, _ in places])
    frame = geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
    return Candidates(frame, frame.iloc[:0], (), "invented")


@pytest.fixture(scope="module")
def alone(outing: Outing, sites: Candidates) -> SiteSeasons:
    return seasons_of_sites(outing, sites, nights=NIGHTS)


def same(one: SiteSeasons, other: SiteSeasons) -> None:
    # To the last digit; NaN is not itself, but is written like itself.
    assert repr(one) == repr(other)


def test_a_site_has_the_season_of_a_subject_there(outing: Outing, alone: SiteSeasons) -> None:
    season = plan_season(outing, nights=NIGHTS)
    (site,) = (one for one in alone.sites if one.key == "row 0")
    # The plan's own few rays are looked along in plain code, in other last digits.
    assert site.minutes == pytest.approx([night.window_minutes for night in season.nights])
    assert site.good_nights == sum(bool(night.windows) for night in season.nights)
    longest = max((w for night in season.nights for w in night.windows), key=lambda w: w.minutes)
    assert site.best is not None
    assert abs((site.best.start - longest.start).total_seconds()) < 0.01
    assert abs((site.best.end - longest.end).total_seconds()) < 0.01
    assert site.best.clearance_deg == pytest.approx(longest.clearance_deg)
    assert sum(site.outcomes.values()) == NIGHTS == len(alone.evenings)


def test_what_a_raster_was_asked_before_does_not_count(monkeypatch: pytest.MonkeyPatch) -> None:
    # Plain code for the first questions, compiled for those after: other last digits.
    monkeypatch.setattr("backbearing.terrain.skyline.march.PLAIN_UP_TO", 150_000)
    file = SAMPLE.parent / "sample_srtm_3arcsec.tif"

    def seen(before: int, *, fixed: bool) -> list[float]:
        ground = Elevation.open(file)
        if fixed:
            ground.always_compiled()
        for _ in range(before):
            ground.horizon(lat=36.31, lon=-84.25)
        found: list[float] = ground.horizon(lat=36.30250, lon=-84.18000).altitudes_deg.tolist()
        return found

    assert seen(0, fixed=True) == seen(3, fixed=True)
    assert seen(0, fixed=False) != seen(3, fixed=False)
    assert seen(0, fixed=False) == pytest.approx(seen(0, fixed=True), abs=1e-9)


def test_the_best_come_first_and_the_unknown_last(alone: SiteSeasons) -> None:
    minutes = [site.total_minutes for site in alone.sites[:-1]]
    assert minutes == sorted(minutes, reverse=True)
    assert len(set(minutes)) > 4  # each over its own skyline
    assert alone.sites[-1].failure == "It lies outside the elevation raster."
    assert alone.found


@pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux only")
def test_two_processes_one_of_them_killed_midway(
    outing: Outing, sites: Candidates, alone: SiteSeasons, tmp_path: Path, monkeypatch
) -> None:
    plain, mark, asker = SeasonJob.work, tmp_path / "killed", os.getpid()

    def work(self: SeasonJob, opened: Any, parcel: Any) -> Any:
        if parcel[0].key == "row 3" and os.getpid() != asker and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return plain(self, opened, parcel)

    monkeypatch.setattr(SeasonJob, "work", work)
    same(seasons_of_sites(outing, sites, nights=NIGHTS, sharing=Sharing(2)), alone)
    assert mark.exists()


def test_a_stopped_run_goes_on_and_another_question_is_refused(
    outing: Outing, sites: Candidates, alone: SiteSeasons, tmp_path: Path, monkeypatch
) -> None:
    sharing = Sharing(1, keep=tmp_path)

    def stop(done: int, total: int) -> None:
        if done >= 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        seasons_of_sites(outing, sites, nights=NIGHTS, sharing=sharing, progress=stop)
    plain, worked = SeasonJob.work, []
    monkeypatch.setattr(
        SeasonJob, "work", lambda self, opened, one: worked.append(one) or plain(self, opened, one)
    )
    same(seasons_of_sites(outing, sites, nights=NIGHTS, sharing=sharing), alone)
    assert len(worked) == len(sites) - 4
    later = replace(outing, night=replace(outing.night, moon="any"))
    for asked, those, said in (
        (outing, {"nights": NIGHTS + 1}, "the nights changed"),
        (later, {"nights": NIGHTS}, "what counts as dark and clear changed"),
    ):
        with pytest.raises(WriteRefusedError, match=f"another question: {said}"):
            seasons_of_sites(asked, sites, sharing=sharing, **those)
    fewer = replace(sites, frame=sites.frame.iloc[1:])
    with pytest.raises(WriteRefusedError, match="the sites changed"):
        seasons_of_sites(outing, fewer, nights=NIGHTS, sharing=sharing)
    nobody = replace(sites, frame=sites.frame.iloc[:0])
    with pytest.raises(NothingFoundError, match="no sites"):
        seasons_of_sites(outing, nobody, nights=NIGHTS)


def asked(*words: str) -> Any:
    return CliRunner().invoke(command, [str(SAMPLE), *words], env={"COLUMNS": "80"})


def test_the_command_lists_writes_and_prints(
    sites: Candidates, alone: SiteSeasons, tmp_path: Path
) -> None:
    file, table = tmp_path / "sites.geojson", tmp_path / "sites.csv"
    file.write_text(sites.frame.to_json(), encoding="utf-8")
    words = ["--sites", str(file), "--nights", str(NIGHTS), "--processes", "1"]
    done = asked(*words, "--csv", str(table))
    assert done.exit_code == 0
    assert "It lies outside the elevation raster. 1" in done.output
    assert len(done.output.splitlines()) <= 30
    rows = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [float(row["total_minutes"]) for row in rows[:-1]] == pytest.approx(
        [site.total_minutes for site in alone.sites[:-1]], abs=0.06
    )
    assert rows[0]["name"].startswith("'=thing")
    assert float(rows[0][alone.evenings[1].isoformat()]) == pytest.approx(
        alone.sites[0].minutes[1], abs=0.06
    )
    assert rows[-1]["good_nights"] == ""
    document = json.loads(asked(*words, "--json").stdout)
    assert document["format"] == "backbearing-site-seasons"
    assert document["seasons"]["sites"][0]["minutes"] == list(alone.sites[0].minutes)


@pytest.mark.parametrize(
    ("given", "said"),
    [(["--csv", "a.csv"], "add --sites"), (["--keep", "done"], "add --sites"),
     (["--sites", "a.csv", "--write"], "leave out"),
     (["--sites", "a.csv", "--calendar", "a.ics"], "leave out")],
)  # fmt: skip
def test_switches_that_do_not_go_together(given: list[str], said: str) -> None:
    done = asked(*given)
    assert done.exit_code == 2
    assert said in " ".join(done.output.split())
