"""The correction card: distances for other heights, steps for every five minutes."""

from __future__ import annotations

import datetime as dt
import io
import itertools
import math
import sys
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader
from pyproj import Geod

from backbearing import prepare_night
from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.stand.by_height import stands_by_height
from backbearing.base.units import Units
from backbearing.sheet import card_pdf
from backbearing.sheet.correction_card import card_content, card_heights_m
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation

IMPERIAL = Units("imperial")


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Outing:
    """A cairn on an invented plain at 31 S, a ridge far off, three lenses, no session."""
    return write_outing(
        tmp_path_factory.mktemp("card"), lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 10),
        ground=hill(60.0, 700.0), lenses=(16.0, 24.0, 85.0),
        subject={"name": "Cairn", "height_m": 7.0, "width_m": 3.0},
        night={"time_zone": "Australia/Sydney", "moon": "any"},
    )  # fmt: skip


@pytest.fixture(scope="module")
def ground(asked: Outing) -> Elevation:
    return open_elevation(asked)


@pytest.fixture(scope="module")
def planned(asked: Outing, ground: Elevation) -> Plan:
    return plan_night(asked, ground)


def _distance_m(plan: Plan, i: int, height_m: float, stand_over_subject_m: float) -> float:
    """Where base and top fall on the sensor as asked, by bisection; plain geometry."""
    lens, camera, framing = plan.lenses[i].lens, plan.camera, plan.framing
    tall = camera.sensor_height_mm
    base = (framing.base_margin - 0.5) * tall
    top = base + plan.lenses[i].asked_share * tall
    angle = math.atan(top / lens.focal_length_mm) - math.atan(base / lens.focal_length_mm)
    under = framing.eye_height_m + stand_over_subject_m

    def seen(away_m: float) -> float:
        return math.atan((height_m - under) / away_m) - math.atan(-under / away_m)

    near, far = 2.0, 2000.0
    for _ in range(80):
        middle = (near + far) / 2.0
        near, far = (middle, far) if seen(middle) > angle else (near, middle)
    return near


def test_distances_are_those_of_plain_geometry(planned: Plan, ground: Elevation) -> None:
    found = stands_by_height(planned, ground, [5.0, 6.5, 9.0])
    assert found.heights_m == (5.0, 6.5, 7.0, 9.0)
    assert found.planned == 2
    for height, row in zip(found.heights_m, found.distances_m, strict=True):
        for i, distance in zip(found.lenses, row, strict=True):
            stand = planned.lenses[i].stand
            assert stand is not None
            if height == 7.0:
                assert distance == pytest.approx(stand.distance_m, abs=1e-4)
            # The invented ground falls by centimetres between the stands of two heights.
            rise = stand.ground_m - planned.subject_ground_m
            assert distance == pytest.approx(_distance_m(planned, i, height, rise), rel=0.02)


def test_heights_are_round_and_surround_the_planned(planned: Plan) -> None:
    heights = card_heights_m(planned)
    assert heights[0] == pytest.approx(4.5)
    assert heights[-1] == pytest.approx(10.5)
    assert {round(b - a, 6) for a, b in itertools.pairwise(heights)} == {0.5}
    # A foot is 0.3048 m by definition.
    feet = [height / 0.3048 for height in card_heights_m(planned, IMPERIAL)]
    assert all(abs(one - round(one)) < 1e-6 for one in feet)
    assert feet[0] < 7.0 / 0.3048 < feet[-1]


def test_a_step_leads_to_the_stand_of_that_minute(
    asked: Outing, planned: Plan, ground: Elevation
) -> None:
    content = card_content(planned, stands_by_height(planned, ground, []), Units())
    night, geod = prepare_night(asked, ground), Geod(ellps="WGS84")
    zone, tried = ZoneInfo(planned.zone), 0
    assert len(content.minutes.rows) > 30, "the whole window, not half an hour of it"
    for at, *cells in content.minutes.rows[::5]:
        hour, minute = (int(part) for part in at.split(" ")[0].split(":"))
        day = planned.evening + dt.timedelta(days=1 if hour < 12 else 0)
        time = dt.datetime(day.year, day.month, day.day, hour, minute, tzinfo=zone)
        points = night.points_at(time)
        order = [int(head.split("  ")[0]) for head in content.minutes.heads[1:]]
        assert order == sorted(order)
        labels = [head.split("  ")[1] for head in content.minutes.heads[1:]]
        for label, cell in zip(labels, cells, strict=True):
            i = next(k for k, one in enumerate(planned.lenses) if one.lens.label == label)
            stand, point = planned.lenses[i].stand, points[i]
            assert stand is not None
            if cell.startswith("("):
                assert point.limits or cell == "(not worked out)"
                continue
            azimuth, _, distance = geod.inv(stand.lon, stand.lat, point.lon, point.lat)
            turn = math.radians(azimuth - stand.bearing_deg)
            wanted = {"right": distance * math.sin(turn), "nearer": distance * math.cos(turn)}
            said = {"right": 0.0, "nearer": 0.0}
            if cell != "at the peg":
                for part in cell.split(", "):
                    number, word = part.split(" ")
                    name = {"left": "right", "farther": "nearer"}.get(word, word)
                    said[name] = float(number) * (1.0 if word == name else -1.0)
            for name, metres in wanted.items():
                assert said[name] == pytest.approx(metres, abs=0.12), (at, label, cell)
            tried += 1
    assert tried > 8


def _text(pdf: bytes) -> tuple[str, int]:
    reader = PdfReader(io.BytesIO(pdf))
    return " ".join(page.extract_text() for page in reader.pages), len(reader.pages)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_card_is_set_legibly(planned: Plan, ground: Elevation, paper: Any) -> None:
    pdf = card_pdf(planned, ground, paper=paper, red=True)
    assert pdf == card_pdf(planned, ground, paper=paper, red=True)
    text, pages = _text(pdf)
    assert 1 <= pages <= 4
    content = card_content(planned, stands_by_height(planned, ground, []), Units())
    for row in content.minutes.rows:
        assert row[0] in text
    sizes: list[float] = []
    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(
            visitor_text=lambda words, _cm, _tm, _font, size: sizes.append(
                size if words.strip() else 99.0
            )
        )
    # The foot is 8 points; nothing else may be below 10.
    assert sorted(set(sizes))[0] == pytest.approx(8.0)
    assert sorted(set(sizes))[1] >= 10.0


def test_feet_for_those_who_read_feet(planned: Plan, ground: Elevation) -> None:
    found = stands_by_height(planned, ground, [])
    content = card_content(planned, found, IMPERIAL)
    assert "Lengths in feet" in content.lead
    assert f"{7.0 / 0.3048:.1f} planned" in content.heights.rows[0][0]
    assert content.heights.rows[0][1] == f"{found.distances_m[0][0] / 0.3048:.1f}"


def test_the_command_writes_the_card(
    tmp_path: Path, asked: Outing, capsys: pytest.CaptureFixture[str], monkeypatch: Any
) -> None:
    from backbearing.cli import main

    card = tmp_path / "card.pdf"
    words = ["backbearing", "sheet", str(asked.path), "--card", str(card)]
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", words)
    with pytest.raises(SystemExit) as stop:
        main()
    assert not stop.value.code
    assert card.read_bytes()[:5] == b"%PDF-"
    assert f"wrote {card}" in capsys.readouterr().out
    assert not (tmp_path / "sheet.pdf").exists()
