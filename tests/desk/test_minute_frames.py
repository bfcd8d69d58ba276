"""The desk's quick pictures: the same places in the frame as a plan's own, within a pixel."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.view.lens_views import view_of
from backbearing.alignment.view.milky_way import brightness, brightness_coarse
from backbearing.desk.minute_frames import FRAME_PX, quick_views, seen_by
from backbearing.drawing.mark_rows import panel_rows
from backbearing.drawing.marks import Area, Dot, Panel, Stroke, Words
from backbearing.drawing.palette import Colour

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk


@pytest.fixture
def minutes(desk: Desk) -> list[float]:
    times = desk.answers.night({})["times"]
    return [float(times[int(share * len(times))]) for share in (0.3, 0.5, 0.7)]


def test_a_quick_view_shows_everything_where_a_plans_own_view_has_it(
    desk: Desk, minutes: list[float]
) -> None:
    answers, compared = desk.answers, 0
    for time in minutes:
        night = answers._prepared({})
        stands = answers._stands_at(night, time)
        plan = answers._plan(night)
        for quick, stand in zip(
            quick_views(plan, stands, night.scene.elevation), stands, strict=True
        ):
            if quick is None or stand is None:
                continue
            own = view_of(plan, seen_by(plan, stand), night.scene.elevation)
            compared += 1
            size = np.array([FRAME_PX, FRAME_PX / own.aspect])
            across = np.linspace(0.02, 0.98, 400)
            for name in ("ridge", "near"):
                there = [np.interp(across, *getattr(view, name).T) for view in (quick, own)]
                assert np.abs(there[0] - there[1]).max() * size[1] < 1.0
            for one, other in zip(quick.subject, own.subject, strict=True):
                assert np.abs((one - other) * size).max() < 0.01
            assert np.abs((np.array(quick.target) - own.target) * size).max() < 0.01
            assert quick.stars.hip.tolist() == own.stars.hip.tolist()
            assert quick.sky_adds_mag == pytest.approx(own.sky_adds_mag, abs=0.02)
    assert compared >= 4


def test_all_lenses_of_a_minute_come_in_one_answer(
    client: TestClient, minutes: list[float]
) -> None:
    found = client.get("/api/frames", params={"time": minutes[1], "red": 0}).json()
    stands = client.get("/api/minute", params={"time": minutes[1]}).json()
    assert found["stands"] == stands
    assert len(found["frames"]) == 2
    frame = found["frames"][0]
    sky = frame["sky"]
    assert len(base64.b64decode(sky["rgb"])) == sky["columns"] * sky["rows"] * 3
    assert (frame["width"], round(frame["height"])) == (FRAME_PX, 320)
    assert len({len(frame["stars"][key]) for key in ("x", "y", "radius", "alpha", "ink")}) == 1
    # A longer lens held alike keeps the middle; its edges follow from the tangents of half fields.
    ((label, (left, low, right, high)),) = frame["cuts"]
    assert label == "40 mm"
    assert right - left == pytest.approx(24.0 / 40.0, abs=1e-3)
    assert high - low == pytest.approx(24.0 / 40.0, abs=1e-3)
    assert found["frames"][1]["cuts"] == []
    assert frame["shutter_s"] > found["frames"][1]["shutter_s"] > 0.0


def test_a_red_answer_holds_red_light_alone(client: TestClient, minutes: list[float]) -> None:
    found = client.get("/api/frames", params={"time": minutes[1], "red": 1}).json()
    frame = found["frames"][0]
    sky = np.frombuffer(base64.b64decode(frame["sky"]["rgb"]), dtype=np.uint8).reshape(-1, 3)
    assert not sky[:, 1:].any()
    inks = set(frame["stars"]["ink"]) | {mark[2] for mark in frame["marks"] if mark[0] == "area"}
    assert all(ink.endswith("0000") for ink in inks)


def test_bad_minutes_are_refused(client: TestClient) -> None:
    for time in ("nan", "soon", "1e300"):
        assert client.get("/api/frames", params={"time": time}).status_code == 422


def test_rows_hold_every_kind_of_mark_in_order() -> None:
    ink = Colour(1, 2, 255)
    sky = np.arange(24, dtype=np.uint8).reshape(2, 4, 3)
    marks = (
        Dot(1.0, 2.0, 3.0, ink, 0.5),
        Area((((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)),), ink, ink),
        Stroke(((0.0, 0.0), (4.04, 4.06)), ink, dashed=True),
        Words(5.0, 6.0, "Altair", ink, 12.0, "middle"),
    )
    rows: dict[str, Any] = panel_rows(Panel(9.0, 9.0, 40.0, 20.0, sky, marks))
    assert base64.b64decode(rows["sky"]["rgb"]) == bytes(range(24))
    assert rows["marks"] == [
        ["dot", 1.0, 2.0, 3.0, "#0102ff", 0.5],
        ["area", [[0.0, 0.0, 1.0, 0.0, 1.0, 1.0]], "#0102ff", "#0102ff"],
        ["line", [0.0, 0.0, 4.0, 4.1], "#0102ff", 1.0, 1.0, True],
        ["words", 5.0, 6.0, "Altair", "#0102ff", 12.0, "middle"],
    ]


def test_the_coarse_milky_way_differs_by_less_than_the_eye_can_tell() -> None:
    random = np.random.default_rng(5)
    l_deg, b_deg = random.uniform(0.0, 360.0, 4000), random.uniform(-85.0, 85.0, 4000)
    apart = np.abs(brightness_coarse(l_deg, b_deg) - brightness(l_deg, b_deg))
    assert apart.max() < 0.05
    assert np.sqrt((apart**2).mean()) < 0.003
