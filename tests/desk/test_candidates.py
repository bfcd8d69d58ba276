"""Many subjects over the desk's address: ranked as `scout` ranks, stopped, taken up, refused."""

from __future__ import annotations

import contextlib
import json
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.desk.application import Desk, application
from backbearing.desk.guard import Guard
from backbearing.outing.load import load_outing
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.run import scout
from running_desk import Running

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.testclient import TestClient

    from backbearing.desk.guard import Door

OWN = {"origin": "http://127.0.0.1:8123"}
OWN_SITE = {"sec-fetch-site": "same-origin"}
LAT, LON = -31.2, 148.6

SCOUTING = "\n[scouting]\nnights = 3\nfirst_night = 2027-06-05\n"


def write_things(file: Path, count: int) -> Path:
    """Lone things on the ground, two rows that fail, and one off the raster."""
    rows = ["name,lat,lon,height_m,width_m,kind"]
    for i in range(count):
        east, north = (i % 40 - 20) * 0.0009, (i // 40 - 19) * 0.0009
        rows.append(f"Thing {i},{LAT + north:.5f},{LON + east:.5f},{4 + i % 7},{3 + i % 4},tree")
    rows.insert(3, f"Off the globe,-131.2,{LON},5,4,tree")
    rows.insert(7, "<b>No number</b>,here,there,5,4,tree")
    rows.append(f"Far away,{LAT + 3.0},{LON},6,5,tree")
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return file


@pytest.fixture
def things(outing_file: Path) -> Path:
    text = outing_file.read_text(encoding="utf-8")
    outing_file.write_text(text + SCOUTING, encoding="utf-8")
    return write_things(outing_file.parent / "things.csv", 60)


def settled(client: TestClient, within_s: float = 120.0) -> dict[str, Any]:
    end = time.monotonic() + within_s
    while True:
        run: dict[str, Any] = client.get("/api/candidates").json()["run"]
        if run["state"] != "running":
            return run
        assert time.monotonic() < end, run
        time.sleep(0.05)


def begun(client: TestClient, **asked: Any) -> dict[str, Any]:
    given = client.post("/api/candidates/start", json=asked, headers=OWN)
    assert given.status_code == 200, given.text
    run: dict[str, Any] = given.json()
    return run


@pytest.mark.slow
def test_the_ranking_is_scouts(client: TestClient, outing_file: Path, things: Path) -> None:
    assert client.get("/api/candidates").json()["files"] == ["things.csv"]
    begun(client, file="things.csv", changes={})
    run = settled(client)
    assert (run["state"], run["done"], run["total"]) == ("done", 61, 61)
    first = client.get("/api/ranking", params={"page": 0}).json()
    second = client.get("/api/ranking", params={"page": 1}).json()
    assert (first["count"], first["pages"], len(first["rows"])) == (61, 2, 50)
    rows = [*first["rows"], *second["rows"]]

    ranking = scout(load_outing(outing_file), read_candidates(things), processes=1)
    assert [row["name"] for row in rows] == list(ranking.frame["name"])
    for row, score in zip(rows, ranking.frame["score"], strict=True):
        assert row["score"] == (None if np.isnan(score) else pytest.approx(score, abs=1e-9))
    assert rows[-1]["name"] == "Far away"
    assert rows[-1]["rank"] is None
    assert rows[-1]["failure"]

    marks = client.get("/api/ranking/marks").json()["marks"]
    assert [one["rank"] for one in marks] == list(range(1, ranking.ranked + 1))
    left = client.get("/api/ranking", params={"page": 0, "what": "left_out"}).json()
    assert [one["reason"] for one in left["rows"]] == [one.reason for one in ranking.rejected]
    assert [one["row"] for one in left["rows"]] == [one.row for one in ranking.rejected]
    assert any(one["reason"].startswith("Row 4") for one in left["rows"])


@pytest.mark.slow
def test_stopped_and_taken_up_by_another_desk(
    client: TestClient, outing_file: Path, things: Path, door: Door
) -> None:
    """What is finished is not done again, also by a desk that is started later."""
    from starlette.testclient import TestClient as Client

    write_things(things, 300)
    begun(client, file="things.csv", changes={"framing": {"share": 0.25}})
    end = time.monotonic() + 120.0
    while True:
        run = client.get("/api/candidates").json()["run"]
        if run["state"] != "running" or (run["total"] and 0 < run["done"] < run["total"]):
            break
        assert time.monotonic() < end
        time.sleep(0.01)
    stopped = client.post("/api/candidates/stop", json={}, headers=OWN).json()
    assert stopped["state"] == "stopped", run
    kept = sorted((outing_file.parent / "scouted").glob("*.npz"))
    assert kept
    times = [path.stat().st_mtime_ns for path in kept]

    later = Desk(outing_file, lambda: None)
    base = f"http://127.0.0.1:{door.port}"
    try:
        with Client(Guard(application(later), door), base_url=base) as other:
            other.get(f"/?key={door.key}")
            state = other.get("/api/candidates").json()["run"]
            assert (state["state"], state["file"]) == ("stopped", "things.csv")
            assert other.post("/api/candidates/resume", json={}, headers=OWN).status_code == 200
            assert settled(other)["state"] == "done"
            facts = other.get("/api/ranking", params={"page": 0}).json()["facts"]
            assert facts["ranked"] + facts["failed"] == 301
    finally:
        later.close()
    assert [path.stat().st_mtime_ns for path in kept] == times


@pytest.mark.slow
def test_progress_comes_as_events_to_the_end(client: TestClient, things: Path) -> None:
    begun(client, file="things.csv", changes={})
    with client.stream("GET", "/stream/candidates") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        assert stream.headers["content-security-policy"].startswith("default-src 'none'")
        told = [json.loads(line[6:]) for line in stream.iter_lines() if line.startswith("data: ")]
    assert [one["version"] for one in told] == sorted({one["version"] for one in told})
    assert told[0]["state"] == "running"
    assert told[-1]["state"] == "done"
    done = [one["done"] for one in told]
    assert done == sorted(done)
    # One that comes later hears the end at once.
    with client.stream("GET", "/stream/candidates") as stream:
        late = [line for line in stream.iter_lines() if line.startswith("data: ")]
    assert len(late) == 1


@pytest.mark.slow
def test_a_file_that_cannot_be_ranked_is_told_in_a_sentence(
    client: TestClient, outing_file: Path, things: Path
) -> None:
    things.write_text("name,where\nOak,there\n", encoding="utf-8")
    begun(client, file="things.csv", changes={})
    run = settled(client)
    assert run["state"] == "failed"
    assert "things.csv" in run["error"]
    assert str(outing_file.parent) not in run["error"]
    assert "\n" not in run["error"]


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"file": "../outing.toml"},
        {"file": "outing.toml"},
        {"file": "/etc/passwd"},
        {"file": ["things.csv"]},
        {"file": "things.csv", "changes": {"ground": {"elevation": "other.tif"}}},
        {"file": "things.csv", "changes": {"framing": {"share": "wide"}}},
        {"file": "things.csv", "changes": [1]},
    ],
)
def test_nothing_else_can_be_ranked(
    client: TestClient, things: Path, asked: dict[str, Any]
) -> None:
    given = client.post("/api/candidates/start", json=asked, headers=OWN)
    assert given.status_code == 422, given.text
    assert set(given.json()) == {"error"}
    assert client.get("/api/candidates").json()["run"]["state"] == "none"


def test_a_link_out_of_the_folder_is_not_offered(
    client: TestClient, things: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    outside = write_things(tmp_path_factory.mktemp("outside") / "secret.csv", 3)
    (things.parent / "link.csv").symlink_to(outside)
    assert client.get("/api/candidates").json()["files"] == ["things.csv"]


def test_before_a_run_there_is_nothing_to_go_on_with(client: TestClient, things: Path) -> None:
    assert client.post("/api/candidates/resume", json={}, headers=OWN).status_code == 422
    assert client.get("/api/ranking", params={"page": 0}).json()["rows"] == []
    assert client.get("/api/ranking", params={"page": -1}).status_code == 422
    assert client.get("/api/ranking", params={"page": 0, "what": "all"}).status_code == 422
    stranger = client.post(
        "/api/candidates/stop", json={}, headers={"origin": "http://evil.invalid"}
    )
    assert stranger.status_code == 403


def children_of(pid: int) -> set[int]:
    """Processes that a process started, and theirs."""
    found: set[int] = set()
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            parent = int(path.read_text().rsplit(")", 1)[1].split()[1])
        except (OSError, IndexError):
            continue
        if parent == pid:
            child = int(path.parent.name)
            found |= {child} | children_of(child)
    return found


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_killed_midway_no_process_is_left_and_nothing_finished_is_lost(
    outing_file: Path, things: Path
) -> None:
    import httpx2

    write_things(things, 300)

    @contextlib.contextmanager
    def opened(desk: Running) -> Iterator[httpx2.Client]:
        base = desk.address.split("/?")[0]
        with httpx2.Client(base_url=base, headers=OWN_SITE) as client:
            client.get(desk.address, follow_redirects=False)
            yield client

    first = Running(outing_file)
    try:
        with opened(first) as client:
            asked = {"file": "things.csv", "changes": {}}
            assert client.post("/api/candidates/start", json=asked).status_code == 200
            kept = outing_file.parent / "scouted"
            end = time.monotonic() + 120.0
            while not list(kept.glob("*.npz")):
                assert time.monotonic() < end
                time.sleep(0.02)
        family = children_of(first.process.pid)
        assert family
    finally:
        first.end()
    end = time.monotonic() + 30.0
    while any(Path(f"/proc/{pid}").exists() for pid in family):
        assert time.monotonic() < end
        time.sleep(0.05)
    times = {path: path.stat().st_mtime_ns for path in kept.glob("*.npz")}
    assert times

    again = Running(outing_file)
    try:
        with opened(again) as client:
            run = client.get("/api/candidates").json()["run"]
            assert (run["state"], run["file"]) == ("stopped", "things.csv")
            assert client.post("/api/candidates/resume", json={}).status_code == 200
            end = time.monotonic() + 120.0
            while run["state"] != "done":
                assert time.monotonic() < end
                time.sleep(0.1)
                run = client.get("/api/candidates").json()["run"]
            assert client.get("/api/ranking", params={"page": 0}).json()["count"] == 301
        assert again.interrupt() == 0
    finally:
        again.end()
    assert {path: path.stat().st_mtime_ns for path in times} == times
