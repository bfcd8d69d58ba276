"""The page's own solver against the package, and both against plain formulas of a handbook."""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING, Any

import pytest

from solver_against_python import (
    Place,
    answers,
    corrected,
    corrections,
    metres_between,
    places,
    rough,
    solver_page,
    turned,
    unlike_s,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

A_PLACE = 143
"""Corrections a place: 1,001 at seven."""

SPANS_OF_EVERY = 3
"""Of so many corrections one is asked for its usable stretches: they are half a second's work."""

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def asked_of(tmp_path_factory: pytest.TempPathFactory) -> list[Place]:
    return places(tmp_path_factory.mktemp("nights"))


@pytest.fixture(scope="module")
def page(chromium: Any) -> Iterator[Any]:
    page, context = solver_page(chromium)
    yield page
    context.close()


def is_beyond(stand: dict[str, Any]) -> bool:
    return stand["outside"] is not None and "beyond" in stand["outside"]


def share_that_follows(place: Place, stand: dict[str, Any], given: dict[str, Any]) -> float | None:
    """The share that a set distance gives; None where such a framing cannot be written down."""
    framing = place.night.outing.framing
    share = float(stand["share_width" if framing.share_of == "width" else "share"])
    upright = 0.0 if framing.level or framing.share_of == "width" else share
    fits = given.get("base_margin", framing.base_margin) + upright <= 1.0
    return share if 0.0 < share < 1.0 and fits else None


def compare(place: Place, one: dict[str, Any], answer: dict[str, Any]) -> str:
    """Put one question to the package as well; say what kind of answer it was."""
    stand, given, share = answer["stand"], one["correction"], None
    if stand["outside"] is not None and not is_beyond(stand):
        assert {"share", "base_margin", "distance_m"} & set(given), stand["outside"]
        return "refused"
    if "distance_m" in given:
        share = None if is_beyond(stand) else share_that_follows(place, stand, given)
        if share is None:
            return "refused"
    night = corrected(place.night, one, share)
    [point] = night.points_at(dt.datetime.fromtimestamp(one["time_s"], dt.UTC))
    where = f"{place.name}: {one}"
    if is_beyond(stand):
        # Said only of what lies beyond the patch, or of an eye far over the ground.
        patch_m = place.carried["ground"]["patch_m"]
        assert math.isnan(point.distance_m) or point.distance_m > 0.7 * patch_m, where
        return "beyond"
    assert math.isnan(point.lat) == math.isnan(stand["lat"]), where
    if not math.isnan(point.lat):
        assert metres_between(point, stand["lat"], stand["lon"]) <= 0.02, where
        assert abs(point.distance_m - stand["distance_m"]) <= 0.02, where
        assert turned(point.bearing_deg, stand["bearing_deg"]) <= 0.02, where
        for name in ("pitch_deg", "target_altitude_deg", "skyline_deg", "clearance_deg"):
            assert getattr(point, name) == pytest.approx(stand[name], abs=0.02, nan_ok=True), where
        for name in ("x", "y"):
            seen = getattr(point, f"target_{name}")
            assert seen == pytest.approx(stand[name], abs=0.001, nan_ok=True), where
    if answer["spans"] is not None and "distance_m" not in given:
        [arc] = night.arcs()
        usable = [(span.start.timestamp(), span.end.timestamp()) for span in arc.usable]
        assert unlike_s(usable, answer["spans"]) <= 5.0, where
    same = list(point.limits) == stand["limits"]
    return "solved" if same else "solved, with other limits"


def test_a_thousand_random_corrections_agree_with_the_package(
    page: Any, asked_of: list[Place]
) -> None:
    """To 0.02 m, 0.02 degree and 5 s, as issue 18 asks."""
    kinds: dict[str, int] = {}
    for number, place in enumerate(asked_of):
        asked = corrections(place, A_PLACE, seed=number)
        for one, answer in zip(asked, answers(page, place, asked, SPANS_OF_EVERY), strict=True):
            kind = compare(place, one, answer)
            kinds[kind] = kinds.get(kind, 0) + 1
    assert sum(kinds.values()) == A_PLACE * len(asked_of) >= 1_000
    assert kinds["solved"] >= 900, kinds
    # A limit may differ within 5 s of where it sets in.
    assert kinds.get("solved, with other limits", 0) <= 3, kinds


def test_marks_and_trees_of_the_outing_stand_in_the_page_too(page: Any, tmp_path: Any) -> None:
    """A marked skyline and a wood of 20 m, each over rough ground."""
    from backbearing.alignment.night.prepared_night import prepare_night
    from backbearing.outing.load import load_outing
    from invented import write_ground, write_outing

    wide = {"half_m": 6_000.0, "cell_m": 60.0}
    for name in ("marked", "wooded"):
        own = tmp_path / name
        own.mkdir()
        (own / "marks.csv").write_text(
            "azimuth_deg,altitude_deg,distance_m\n"
            + "".join(f"{a},{6 + a % 7},{300 + a}\n" for a in range(120, 240, 2)),
            encoding="utf-8",
        )
        write_ground(own / "canopy.tif", wood, lat=35.1, lon=-106.2, half_m=6_000.0)
        key = 'skyline_marks = "marks.csv"' if name == "marked" else 'canopy = "canopy.tif"'
        outing = write_outing(
            own,
            lat=35.1,
            lon=-106.2,
            evening=dt.date(2027, 5, 29),
            ground=rough(8),
            raster=wide,
            lenses=(24.0, 50.0),
        )
        text = outing.path.read_text(encoding="utf-8")
        outing.path.write_text(text.replace("[ground]", f"[ground]\n{key}"), encoding="utf-8")
        place = Place(name, prepare_night(load_outing(outing.path)))
        ground = place.carried["ground"]
        assert bool(ground["marks"]) == (name == "marked")
        assert len(ground["layers"]) == (2 if name == "wooded" else 1)
        asked = [
            {**one, "correction": {k: v for k, v in one["correction"].items() if "sky" not in k}}
            for one in corrections(place, 40, seed=9)
        ]
        kinds = [
            compare(place, one, answer)
            for one, answer in zip(asked, answers(page, place, asked, 8), strict=True)
        ]
        assert kinds.count("solved") >= 34, kinds


def wood(east: Any, north: Any) -> Any:
    """Trees of 20 m in squares, none about the subject."""
    stands = (abs(east) + abs(north) > 500.0) & ((east // 300.0 + north // 300.0) % 2 == 0.0)
    return 20.0 * stands


def test_shutter_focus_and_compass_agree_with_the_plan(page: Any, asked_of: list[Place]) -> None:
    for place in asked_of:
        plan = place.night.plan(whole_skyline=False)
        for index, lens in enumerate(plan.lenses):
            if lens.stand is None:
                continue
            one = {"lens": index, "time_s": lens.stand.time.timestamp(), "correction": {}}
            stand = answers(page, place, [one])[0]["stand"]
            assert stand["shutter_s"] == pytest.approx(lens.shutter_s, nan_ok=True)
            assert stand["hyperfocal_m"] == pytest.approx(lens.hyperfocal_m, rel=1e-9)
            assert stand["subject_blur_px"] == pytest.approx(lens.infinity_blur_px, abs=0.01)
            assert lens.focus is not None
            assert stand["sharp_from_m"] == pytest.approx(lens.focus.near_limit_pixel_m, rel=1e-9)
            assert turned(stand["compass_deg"], lens.stand.bearing_magnetic_deg) <= 0.01
            assert stand["play_m"] == pytest.approx(lens.stand.play_m, abs=0.001)
            assert stand["swing_m_per_minute"] == pytest.approx(
                lens.stand.swing_m_per_minute, abs=0.001
            )
            assert lens.placing is not None
            assert turned(stand["outward_deg"], lens.placing.outward_deg) <= 0.001
            assert stand["tape_m"] == pytest.approx(lens.placing.tape_m, abs=0.01)
            assert stand["usable"]
            assert abs(stand["from_planned"]["left_m"]) < 0.01


def test_carried_data_are_json_and_small(asked_of: list[Place]) -> None:
    for place in asked_of:
        text = json.dumps(place.carried, allow_nan=False, separators=(",", ":"))
        assert len(text) < 250_000
        assert place.carried["target"]["within_deg"] < 1e-6
        assert place.carried["ground"]["placed_within_px"] <= 1e-6


HANDBOOK = """([carried, asked]) => {
  const solver = fieldSolver(carried);
  return asked.map(([time, lens, correction]) => solver.standAt(time, lens, correction));
}"""


def level_ground(folder: Any) -> Place:
    from backbearing.alignment.night.prepared_night import prepare_night
    from invented import flat, write_outing

    outing = write_outing(
        folder, lat=33.0, lon=-107.0, evening=dt.date(2027, 5, 28), ground=flat, lenses=(35.0,),
        subject={"height_m": 10.0, "width_m": 4.0}, framing={"share": 0.4, "base_margin": 0.1},
    )  # fmt: skip
    return Place("level ground", prepare_night(outing))


def test_level_ground_answers_as_a_handbook_does(page: Any, tmp_path: Any) -> None:
    """By the pinhole alone: nothing here comes from the package.

    A base at ``y0`` and a top at ``y1`` millimetres from the middle of a sensor of 24 mm see the
    subject under ``atan(y1 / f) - atan(y0 / f)``; an eye at height e stands where
    ``atan((h - e) / d) + atan(e / d)`` is that angle, but for the Earth's curve of 0.1 mm. Distance
    is found by halving, and the tilt from the base's own angle. The azimuth of a far thing is the
    back bearing of the stand.
    """
    place = level_ground(tmp_path)
    night = place.carried["night"]
    time = 0.5 * (night["start_s"] + night["end_s"])
    cases = [
        (10.0, 1.6, 0.4, 0.1, 35.0), (6.2, 1.6, 0.4, 0.1, 35.0), (14.0, 0.5, 0.3, 0.0, 35.0),
        (10.0, 2.4, 0.55, 0.2, 50.0), (7.5, 1.2, 0.25, 0.15, 24.0),
    ]  # fmt: skip
    names = ("subject_height_m", "eye_height_m", "share", "base_margin", "focal_mm")
    asked = [[time, 0, dict(zip(names, case, strict=True))] for case in cases]
    for (h, e, s, m, f), stand in zip(
        cases, page.evaluate(HANDBOOK, [place.carried, asked]), strict=True
    ):
        y0, y1 = 24.0 * (m - 0.5), 24.0 * (m + s - 0.5)
        angle = math.atan(y1 / f) - math.atan(y0 / f)
        near, far = 0.1, 10_000.0
        near = math.sqrt(e * h) if e < h else near
        for _ in range(200):
            middle = 0.5 * (near + far)
            seen = math.atan((h - e) / middle) + math.atan(e / middle)
            near, far = (middle, far) if seen > angle else (near, middle)
        assert stand["distance_m"] == pytest.approx(near, abs=0.002)
        tilt = math.degrees(-math.atan(e / near) - math.atan(y0 / f))
        assert stand["pitch_deg"] == pytest.approx(tilt, abs=0.002)
        assert turned(stand["bearing_deg"], stand["target_azimuth_deg"]) < 1e-6
        # Nothing rises over level ground: the skyline is the dip of the horizon, or just above.
        assert -0.15 < stand["skyline_deg"] <= 0.0


def test_a_step_of_the_ground_and_a_lone_ridge_answer_as_a_handbook_does(
    page: Any, tmp_path: Any
) -> None:
    """Ground that lies higher at the stand is the same as a lower subject; a ridge read aloft."""
    place = level_ground(tmp_path)
    planned = place.carried["lenses"][0]["planned"]
    time, here = planned["time_s"], {"lat": planned["lat"], "lon": planned["lon"]}
    asked = [
        [time, 0, {}],
        [time, 0, {"ground_step_m": 1.0}],
        [time, 0, {"eye_height_m": 2.6}],
        [time, 0, {"skyline_deg": 7.0, "skyline_azimuth_deg": planned["target_azimuth_deg"],
                   "skyline_from": here, "skyline_distance_m": 400.0}],
        [time, 0, {"compass_error_deg": 5.0}],
    ]  # fmt: skip
    plain, raised, taller, ridge, needle = page.evaluate(HANDBOOK, [place.carried, asked])
    assert raised["distance_m"] == pytest.approx(taller["distance_m"], abs=1e-6)
    assert raised["ground_m"] == pytest.approx(plain["ground_m"] + 1.0, abs=1e-9)
    # The reader's eye is at 1.6 m as the lens is; the same eye at the same place reads the same.
    assert ridge["skyline_deg"] == pytest.approx(7.0, abs=0.001)
    assert ridge["clearance_deg"] == pytest.approx(plain["target_altitude_deg"] - 7.0, abs=0.001)
    assert turned(needle["compass_deg"], plain["compass_deg"] + 5.0) < 1e-9


def test_steps_to_a_stand_are_those_of_a_plane(page: Any, tmp_path: Any) -> None:
    """Five metres to the west of somebody who faces north are five to the left."""
    place = level_ground(tmp_path)
    lat, lon = place.carried["subject"]["lat"], place.carried["subject"]["lon"]
    # Metres to a degree at 33 degrees: 110,904 and 93,453 (the series of any survey handbook,
    # 111132.954 - 559.822 cos 2p + 1.175 cos 4p and so on, from memory).
    start = {"lat": lat - 40.0 / 110_904.0, "lon": lon}
    stop = {"lat": lat - 37.0 / 110_904.0, "lon": lon - 5.0 / 93_453.0}
    script = "([carried, a, b]) => fieldSolver(carried).offset(a, b)"
    step = page.evaluate(script, [place.carried, start, stop])
    assert step["left_m"] == pytest.approx(5.0, abs=0.005)
    assert step["nearer_m"] == pytest.approx(3.0, abs=0.005)


def test_it_says_where_it_knows_nothing(page: Any, tmp_path: Any) -> None:
    place = level_ground(tmp_path)
    start, end = place.carried["night"]["start_s"], place.carried["night"]["end_s"]
    middle = 0.5 * (start + end)
    asked = [
        [start - 1, 0, {}],
        [end + 1, 0, {}],
        [middle, 0, {"distance_m": 9_000.0}],
        [middle, 0, {"subject_height_m": 900.0}],
        [middle, 0, {"eye_height_m": 30.0, "subject_height_m": 40.0}],
        [middle, 0, {"subject_height_m": 0}],
        [middle, 0, {"subject_height_m": -5}],
        [middle, 0, {"subject_height_m": 1e9}],
        [middle, 0, {"subject_height_m": "seven"}],
        [middle, 0, {"subject_height_m": math.nan}],
        [middle, 0, {"share": 0.95, "base_margin": 0.2}],
        [middle, 0, {"focal_mm": [35]}],
        [middle, 0, {"distance_m": 6.0}],
    ]
    stands = page.evaluate(HANDBOOK, [place.carried, asked])
    said = [stand["outside"] for stand in stands]
    assert all(isinstance(words, str) and words.endswith(".") for words in said), said
    assert all(math.isnan(stand["distance_m"]) and not stand["usable"] for stand in stands)
    assert said[0] == said[1]
    assert "night" in said[0]
    assert all("beyond the ground" in words for words in said[2:5]), said
    assert said[-1] == "From there the subject is larger than the frame."
    assert "height must be a number from 0.01 to 1000 metres" in said[5]
