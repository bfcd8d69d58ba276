"""Answers of all sizes to every way: a result that fits a screen, or one sentence."""

from __future__ import annotations

import datetime as dt
import random
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from backbearing.base.errors import BackbearingError, MeasureError
from backbearing.base.units import METRIC
from backbearing.cli.measure_answer import print_visit
from backbearing.workflows.visit import MOST_READINGS, also, keys_of, measured
from backbearing.workflows.visit_ways import WAYS, Asked

if TYPE_CHECKING:
    from pathlib import Path

ODD = (0, 1, -1, 0.0, 45, 90, -90, 89.9, 1e-12, 1e6, -1e6, 1e300, float("inf"), float("nan"))
TEXTS = ("level", "sight", "2027-06-21 15:00", "2027-06-21T15:00+02:00", "x")
PLACES = ("46 N 9 E", "-31.5, 148.2", "89.9 N 0 E", "x")


def answer(draw: random.Random, asked: Asked, files: tuple[Path, ...]) -> Any:
    """An answer of the right kind, often a sensible one."""

    def number() -> float:
        if draw.random() < 0.2:
            return draw.choice((*ODD, draw.uniform(-100, 100)))
        return draw.uniform(0.5, 60.0)

    if asked.kind == "spot":
        return [10.0 * number(), 6.0 * number()]
    if asked.kind == "sightings":
        near = [(46.0 + draw.uniform(0, 0.01), 9.0 + draw.uniform(0, 0.01)) for _ in range(3)]
        return [[lat, lon, 6.0 * number()] for lat, lon in near[: draw.randint(0, 3)]]
    if asked.kind == "date":
        return dt.date(draw.choice((2026, 2027, 2040)), 6, 1)
    if asked.kind == "path":
        return str(draw.choice(files))
    if asked.kind == "place":
        return draw.choice(PLACES)
    return draw.choice(TEXTS) if asked.kind == "text" else number()


@pytest.mark.parametrize("seed", range(4))
def test_any_answers_give_a_screen_or_a_sentence(
    seed: int, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    Image.new("L", (600, 400)).save(tmp_path / "frame.jpg")
    points = "".join(f'<trkpt lat="46.{i % 7:06d}" lon="9"/>' for i in range(60))
    (tmp_path / "still.gpx").write_text(f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>")
    files = (tmp_path / "frame.jpg", tmp_path / "still.gpx")
    draw = random.Random(seed)  # noqa: S311
    found = 0
    for _ in range(200):
        what = draw.choice(list(WAYS))
        name, way = draw.choice(list(WAYS[what].items()))
        answers = {
            one.key: answer(draw, one, files)
            for one in way.asked
            if one.needed or draw.random() < 0.4
        }
        try:
            visit = also(
                measured(what, [(name, answers)] * draw.choice((1, 1, 3))),
                [(12.0, 0.5)] if draw.random() < 0.2 else [],
            )
        except BackbearingError as problem:
            said = str(problem)
        else:
            found += 1
            assert keys_of(visit)
            print_visit(visit, None, METRIC)
            said = ""
            out = capsys.readouterr().out
            assert len(out.splitlines()) <= 30
            assert max(map(len, out.splitlines())) <= 80
            assert not {"nan", "unknown", "inf"} & set(out.replace(",", " ").split())
        assert "\n" not in said
    assert found > 20


def test_no_reading_and_too_many_are_said() -> None:
    with pytest.raises(MeasureError, match="no reading of the height"):
        measured("height", [])
    with pytest.raises(MeasureError, match=f"more than {MOST_READINGS} readings"):
        measured("height", [("angles", {})] * (MOST_READINGS + 1))


@pytest.mark.parametrize("told", [(0.0, 0.1), (12.0, 0.0), (12.0, 13.0), (float("nan"), 1.0)])
def test_a_result_from_elsewhere_needs_a_length_and_a_doubt(told: tuple[float, float]) -> None:
    answers = {"distance_m": 20.0, "top_deg": 30.0, "base_deg": -4.0}
    with pytest.raises(MeasureError, match="also_m is"):
        also(measured("height", [("angles", answers)]), [told])
