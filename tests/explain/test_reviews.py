"""The numbers of a review told from its file: every number has its row, and the words hold."""

from __future__ import annotations

import datetime as dt
import json
import math
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from pyproj import Geod

from backbearing.base.errors import NothingFoundError
from backbearing.base.plain import plain
from backbearing.base.references import REFERENCES
from backbearing.camera.frame_trails import FrameTrails
from backbearing.cli import main
from backbearing.explain.frames import FRAME_FACTS, REVIEW_FACTS
from backbearing.explain.things import frames_of, named
from backbearing.review.document import review_document
from backbearing.review.exif import FrameExif
from backbearing.review.exif_place import GpsFix
from backbearing.review.region import RegionTrails
from backbearing.review.report import Beside, FrameReview, PlaceOff, PlannedTurn, Review
from backbearing.review.stands_adjusted import adjust
from backbearing.review.streaks import Streak
from backbearing.review.told_by_stars import (
    CompassOff,
    CompassSaid,
    FrameSkyline,
    FromStars,
    SkylinePoint,
)
from backbearing.review.trails import MeasuredTrails
from backbearing.review.where_stood import Sighting
from backbearing.workflows.explained_file import explained_file

if TYPE_CHECKING:
    from collections.abc import Iterator

TIME = dt.datetime(2027, 6, 5, 3, 20, 5, tzinfo=dt.UTC)
PLACES = (
    "whole frame", "upper left", "upper middle", "upper right", "middle left", "centre",
    "middle right", "lower left", "lower middle", "lower right",
)  # fmt: skip
SEEN = Sighting(176.4, 11.9, 0.02, 8.2, 0.05, 174.2, 31.0, 1.4, 1.6, lat=36.3)

CORNER = SkylinePoint(181.0, 9.1, 0.02, 0.03, 8.9, 0.2, 5400.0, 0.2)
STREAK = Streak(0.1, 0.2, 0.7, 0.6, 4100.0, 24.0, True)


def frame() -> FrameReview:
    """A frame about which everything is known, with numbers that nothing else has."""
    regions = [RegionTrails(where, 60 + i, 4.1 + i, 0.03, 4.3 + i, 27.5 + i, 1.2, 2.6, 4.0, 26.0,
                            1.5 + i, 0.9, 31.0) for i, where in enumerate(PLACES)]  # fmt: skip
    stood = adjust([SEEN], height_m=7.0, height_sigma_m=0.4, width_m=4.4, width_sigma_m=0.3)
    exif = FrameExif(
        Path("IMG_2.one.jpg"), 6000, 4000, "invented", "invented", 40.0, 60.0, 10.0, 2.0, 3200.0,
        dt.datetime(2027, 6, 4, 23, 20, 5),  # noqa: DTZ001  # a camera's clock has no zone
        dt.timedelta(hours=-4), GpsFix(36.3031, -84.1802, 4.0, TIME, 171.0, True),
        (),
    )  # fmt: skip
    turn = PlannedTurn("40 mm", 2, TIME, TIME + dt.timedelta(minutes=9), -3.5, 36.3028, -84.18005,
                       14.2, 174.0, 0.51, 0.77, "")  # fmt: skip
    stars = FromStars(174.6, 14.1, 0.7, 40.3, -0.012, 71, 0.44, 176.4, 11.9, 8.2,
                      replace(stood.stood[0], higher_m=0.1, higher_sigma_m=0.05), "",
                      FrameSkyline(((CORNER, CORNER), (CORNER,)), 60, 55, 0.2, 1.1, 180.5, ""),
                      CompassSaid(171.0, True, -4.9, -8.5, 0.3, ""))  # fmt: skip
    beside = tuple(
        Beside(what, unit, planned, taken, False, "")
        for what, unit, planned, taken in (
            ("focal length", "mm", 40.0, 41.0), ("shutter", "s", 8.0, 10.0),
            ("f-number", "", 2.0, 2.2), ("ISO", "", 3200.0, 1600.0),
        )
    )  # fmt: skip
    return FrameReview(
        "IMG_2.one.jpg", exif, TIME, "", turn, beside, PlaceOff(34.1, 337.0, 33.9, -3.2, 4.0, ""),
        FrameTrails(10.0, 3.1, 4.1, 4.2, 5.1, 5.2, 5.3, 3.9),
        MeasuredTrails(regions[0], tuple(regions[1:]), 300, "sRGB", 3.3, 0.25,
                       (Streak(0.12, 0.86, 0.93, 0.58, 4900.0, 161.0, broken=True),)),
        "longer", (), "", stars,
    )  # fmt: skip


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    subject = adjust([SEEN], height_m=7.0, height_sigma_m=0.4, width_m=4.4, width_sigma_m=0.3)
    review = Review("an invented night", TIME.date(), "UTC", "UTC", 12.5, 4.0, (frame(),), (), (),
                    (), replace(subject, clock_ahead_s=4.0, clock_sigma_s=2.0), "", "",
                    CompassOff(-8.4, 0.2, 3, ""))  # fmt: skip
    return json.loads(json.dumps(plain(review_document(review))))


def numbers(value: Any, before: str = "") -> Iterator[tuple[str, float]]:
    """Every number of a part of the document, by its path; lists by what names their rows."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from numbers(one, f"{before}{key}.")
    elif isinstance(value, list) and before.endswith("streaks."):
        for i, one in enumerate(value, start=1):
            yield from numbers(one, f"{before[:-2]}_{i}.")
    elif isinstance(value, list) and before.endswith("runs."):
        for i, one in enumerate([point for run in value for point in run], start=1):
            yield from numbers(one, f"{before.removesuffix('runs.')}corner_{i}.")
    elif isinstance(value, list):
        for one in value:
            name = str(one.get("where", one.get("what", "streak 1"))).replace(" ", "_").lower()
            where = before.removesuffix("regions.").removesuffix("streaks.")
            yield from numbers(one, f"{where}{name}.")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield before.removesuffix("."), value


def test_every_number_of_a_frame_is_explained(document) -> None:
    whole = document["review"]
    one = dict(whole["frames"][0])
    assert one.pop("sentences") == []
    one["exif"].pop("notes")
    _, thing = frames_of(document)
    found = dict(numbers(one))
    assert len(found) > 150
    assert found.keys() - thing.facts.keys() == set()
    for key, value in found.items():
        ((_, (explained,)),) = ((t, t.explained(keys)) for t, keys in named([thing], f"1.{key}"))
        assert explained.value == value
    for key in thing.facts:
        assert not thing.lacks([key]), key


def test_every_number_of_the_whole_is_explained(document) -> None:
    whole = {k: v for k, v in document["review"].items() if not isinstance(v, list)}
    whole["subject"].pop("stood", None)
    review, _ = frames_of(document)
    assert {key for key, _ in numbers(whole)} <= review.facts.keys() == REVIEW_FACTS.keys()


def test_every_source_exists() -> None:
    for fact in (*FRAME_FACTS.values(), *REVIEW_FACTS.values()):
        assert set(fact.sources) <= set(REFERENCES)


def inputs(document: dict[str, Any], key: str) -> tuple[float, dict[str, Any]]:
    ((thing, keys),) = named(frames_of(document), f"1.{key}")
    (one,) = thing.explained(keys)
    return one.value, one.inputs


def test_where_it_stood_follows_from_its_inputs(document) -> None:
    # As the formulas say, with nothing of the review's own code.
    left, said = inputs(document, "stars.stood.left_m")
    turn = math.radians(said["stars.stood.bearing_deg"] - SEEN.planned_azimuth_deg)
    assert left == pytest.approx(said["stars.stood.distance_m"] * math.sin(turn))
    farther, said = inputs(document, "stars.stood.farther_m")
    away = said["stars.stood.distance_m"] * math.cos(turn)
    assert farther == pytest.approx(away - SEEN.planned_distance_m)
    assert said["stars.stood.farther_sigma_m"] > 0.0


def test_a_place_is_between_the_inputs_that_are_named(document) -> None:
    _, said = inputs(document, "place.distance_m")
    apart = Geod(ellps="WGS84").inv(
        said["planned.stand_lon"], said["planned.stand_lat"], said["exif.gps.lon"],
        said["exif.gps.lat"],
    )[2]  # fmt: skip
    assert 30.0 < apart < 40.0
    assert said["place.receiver_sigma_m"] == 4.0


def test_a_frame_goes_by_number_and_file_and_a_slip_is_answered(document) -> None:
    things = frames_of(document)
    for label in ("1", "IMG_2.one.jpg", "img_2.one"):
        ((thing, keys),) = named(things, f"{label}.measured.upper_left.length_px")
        assert thing.values[keys[0]] == 5.1
    ((_, keys),) = named(things, "1.stars.stood")
    assert len(keys) == 9
    ((_, keys),) = named(things, "review.clock_ahead_s")
    assert keys == ["clock_ahead_s"]
    with pytest.raises(NothingFoundError, match=r"measured\.whole\.length_px"):
        named(things, "1.measured.whole.lenght_px")
    with pytest.raises(NothingFoundError, match=r"stars\.distortion"):
        named(things, "1.stars.distorsion")


def test_a_bare_frame_has_the_numbers_that_it_has(tmp_path: Path, document) -> None:
    bare = plain(document)
    one = bare["review"]["frames"][0]
    one |= {"stars": None, "measured": None, "place": None, "planned": None, "expected": None}
    bare["review"]["subject"] = None
    file = tmp_path / "review.json"
    file.write_text(json.dumps(bare), encoding="utf-8")
    found = explained_file(file, "1")
    names = {one.name for one in found.chosen[0][1]}
    assert "1.exif.shutter_s" in names
    assert not {name for name in names if "stars" in name or "measured" in name}
    with pytest.raises(NothingFoundError):
        explained_file(file, "subject.height_m")


def test_the_list_of_names_fits_on_a_screen(tmp_path: Path, document, monkeypatch, capsys) -> None:
    file = tmp_path / "review.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["backbearing", "explain", str(file)])
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit):
        main()
    listed = capsys.readouterr().out
    assert len(listed.splitlines()) <= 30
    for sort in ("exif", "planned", "measured", "beside", "stars"):
        assert f"{sort}, " in listed
