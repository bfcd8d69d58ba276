"""Ticks from the night page: read with suspicion, set beside turns and frames."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
from star_fields import save
from test_review import taken

from backbearing.base.errors import OutingError
from backbearing.review import read_ticks, review_frames, with_ticks
from backbearing.review.compare import candidates

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan

EVENING = dt.date(2027, 5, 28)
TICK = {"what": "peg set", "turn": 1, "lens": "85 mm", "time": "2027-05-29T04:12:03Z"}
GOOD: dict[str, Any] = {
    "format": "backbearing-ticks",
    "version": 1,
    "outing": "somewhere",
    "evening": "2027-05-28",
    "zone": "America/New_York",
    "phone_clock_fast_s": 0,
    "ticks": [TICK],
    "corrections": {"all": {"subject_height_m": 7.25}, "lenses": {"3": {"share": 0.4}}},
}


def written(folder: Path, document: Any) -> Path:
    path = folder / "ticks.json"
    path.write_bytes(document if isinstance(document, bytes) else json.dumps(document).encode())
    return path


def test_a_page_s_ticks_are_read(tmp_path: Path) -> None:
    ticks = read_ticks(written(tmp_path, GOOD), EVENING)
    [tick] = ticks.ticks
    assert (tick.what, tick.turn, tick.lens) == ("peg set", 1, "85 mm")
    assert tick.time == dt.datetime(2027, 5, 29, 4, 12, 3, tzinfo=dt.UTC)
    assert ticks.corrections == ("height of the subject 7.25 m", "share of the frame 40% (lens 4)")


DEEP = b"[" * 100_000
ALIEN = b'{"format": "backbearing-ticks", "version": 1, "version": NaN}'


@pytest.mark.parametrize(
    ("document", "said"),
    [
        (b"", "empty"),
        (b"\xff\xfe{}", "not the JSON"),
        (b"not json", "not the JSON"),
        (DEEP, "not the JSON"),
        (ALIEN, "not the JSON"),
        (b'{"version": ' + b"9" * 6000 + b"}", "not the JSON"),
        ([], "no file of ticks"),
        ({"format": "another"}, "no file of ticks"),
        (GOOD | {"version": 2}, "version 2"),
        (GOOD | {"version": True}, "version True"),
        (GOOD | {"evening": 5}, "evening"),
        (GOOD | {"evening": "2027-05-27"}, "night of 2027-05-27"),
        (GOOD | {"outing": 7}, "outing"),
        (GOOD | {"outing": "x" * 9999}, "outing"),
        (GOOD | {"ticks": {}}, "list"),
        (GOOD | {"ticks": [TICK] * 1001}, "1000"),
        (GOOD | {"ticks": ["peg"]}, "tick 1"),
        (GOOD | {"ticks": [TICK, TICK | {"what": "<script>"}]}, "tick 2"),
        (GOOD | {"ticks": [TICK | {"turn": 0}]}, "turn"),
        (GOOD | {"ticks": [TICK | {"turn": True}]}, "turn"),
        (GOOD | {"ticks": [TICK | {"turn": 1.5}]}, "turn"),
        (GOOD | {"ticks": [TICK | {"lens": ["x"]}]}, "lens"),
        (GOOD | {"ticks": [TICK | {"time": "2027-05-29T04:12:03"}]}, "time"),
        (GOOD | {"ticks": [TICK | {"time": 10**400}]}, "time"),
        (GOOD | {"corrections": []}, "corrections"),
        (GOOD | {"corrections": {"all": {"subject_height_m": "7"}}}, "subject_height_m"),
        (GOOD | {"corrections": {"all": {"subject_height_m": True}}}, "subject_height_m"),
        (GOOD | {"corrections": {"all": {"moon": 1}}}, "moon"),
        (GOOD | {"corrections": {"lenses": {"\u0663": {}}}}, "lens"),
        (GOOD | {"corrections": {"lenses": {"0": 3}}}, "correction"),
    ],
)
def test_a_hostile_file_gets_one_sentence(tmp_path: Path, document: Any, said: str) -> None:
    with pytest.raises(OutingError) as caught:
        read_ticks(written(tmp_path, document), EVENING)
    sentence = str(caught.value)
    assert said in sentence
    assert "ticks.json" in sentence
    assert "\n" not in sentence
    assert len(sentence) < 300
    assert sentence.endswith(".")


def test_missing_and_special_files_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.json", tmp_path, Path("/dev/zero")):
        with pytest.raises(OutingError):
            read_ticks(path)


def test_ticks_stand_beside_frames_and_turns(outing: Outing, plan: Plan, tmp_path: Path) -> None:
    one = min(candidates(plan), key=lambda c: c.shot.number if c.shot else 99)
    assert one.shot is not None
    start = one.shot.frames_start
    ticks = [
        {"what": "peg set", "time": start + dt.timedelta(minutes=2)},
        {"what": "frames taken", "time": start + dt.timedelta(minutes=9)},
    ]
    rows = [
        {"turn": 1, "lens": "x", "what": t["what"], "time": f"{t['time']:%Y-%m-%dT%H:%M:%SZ}"}
        for t in ticks
    ]
    rows.append({"turn": None, "lens": None, "what": "gate shut", "time": "2027-05-29T06:41:00Z"})
    found = read_ticks(written(tmp_path, GOOD | {"ticks": rows[::-1]}), plan.evening)
    early, late = tmp_path / "early.jpg", tmp_path / "late.jpg"
    zone = ZoneInfo(plan.zone)
    for path, late_s in ((early, 0.0), (late, 15 * 60.0)):
        save(path, **taken(one, zone, late_s=late_s))
    review = review_frames(outing, [early, late], plan=plan, measure=False)
    told = with_ticks(review, plan, found)
    first, second = told.frames
    assert "Taken 2 min before the peg was ticked." in first.ticked
    assert "Taken 6 min after the frames were ticked as taken." in second.ticked
    by = one.shot.frames_end.astimezone(zone)
    assert f"(planned by {by:%H:%M})" in told.ticked[0]
    assert told.ticked[1].endswith("nothing ticked.")
    assert "On the way out: gate shut 02:41." in told.ticked
    assert any("7.25 m" in line for line in told.ticked)
