"""Frames set beside the sample plan: which turn, what differs, where, and in what words."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational
from star_fields import angle, ratio, save, sky_field, stored

from backbearing.base.errors import SkyError
from backbearing.base.geodesy import point_along
from backbearing.base.units import Units
from backbearing.camera import Frame, trails_in_frame
from backbearing.cli import main
from backbearing.cli.review_table import print_review
from backbearing.cli.screen import Screen
from backbearing.plan.in_units import read_in
from backbearing.review import Pointing, Review, review_frames
from backbearing.review.compare import Candidate, frame_camera
from backbearing.review.night import open_sky

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing

OUTING = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"


def taken(one: Candidate, zone: ZoneInfo, *, late_s: float = 0.0, **others: Any) -> dict[str, Any]:
    """EXIF of a frame taken as planned, at the start of its turn and so much later."""
    assert one.shot is not None
    local = (one.shot.frames_start + dt.timedelta(seconds=late_s)).astimezone(zone)
    fields = {
        "shutter": ratio(one.lens_plan.shutter_s),
        "f_number": ratio(one.lens_plan.lens.f_number),
        "iso": 3200,
        "focal": ratio(one.lens_plan.lens.focal_length_mm),
        "time": f"{local:%Y:%m:%d %H:%M:%S}",
        **others,
    }
    return {name: value for name, value in fields.items() if value is not None}


@pytest.fixture
def review(outing: Outing, plan: Plan):
    def call(*paths: Path, **options: Any) -> Review:
        return review_frames(outing, paths, plan=plan, **{"measure": False, **options})

    return call


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], plan: Plan):
    # Settling the plan is tested elsewhere and takes seconds.
    monkeypatch.setattr("backbearing.review.night.plan_night", lambda *_a, **_k: plan)

    def call(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["backbearing", "review", *map(str, words)])
        monkeypatch.setenv("COLUMNS", "80")
        with pytest.raises(SystemExit) as stop:
            main()
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        return int(stop.value.code or 0), captured.out, captured.err

    return call


def test_each_frame_finds_its_turn(review, found, zone, tmp_path: Path) -> None:
    paths = [
        save(tmp_path / f"{i}.jpg", **taken(one, zone, late_s=60.0)) for i, one in enumerate(found)
    ]
    frames = review(*reversed(paths)).frames
    assert [f.time for f in frames] == sorted(f.time for f in frames)
    for frame in frames:
        one = found[int(Path(frame.name).stem)]
        assert frame.planned.lens == one.lens_plan.lens.label
        assert frame.planned.turn == one.shot.number
        assert frame.planned.late_minutes == 0.0
        assert all(beside.as_planned for beside in frame.beside)
        # At its minute the target stands within the framing's play of its planned place.
        assert frame.planned.target_x == pytest.approx(one.shot.start_x, abs=0.02)


def test_expected_trails_are_at_the_shutter_used(review, found, zone, tmp_path: Path, plan) -> None:
    one = found[0]
    pixels = np.zeros((1004, 1504, 3), dtype=np.uint8)
    path = save(tmp_path / "a.jpg", pixels, **taken(one, zone, shutter=IFDRational(40, 1)))
    (frame,) = review(path).frames
    stand = one.lens_plan.stand
    camera = replace(plan.camera, width_px=1504, height_px=1004)
    there = trails_in_frame(
        camera, one.lens_plan.lens, pitch_deg=stand.pitch_deg, azimuth_deg=stand.bearing_deg,
        lat=stand.lat, shutter_s=40.0,
    )  # fmt: skip
    assert frame.expected.centre_px == pytest.approx(there.centre_px)
    assert frame.expected.worst_corner_px == pytest.approx(there.worst_corner_px)
    shutter = next(beside for beside in frame.beside if beside.what == "shutter")
    assert (shutter.planned, shutter.taken) == (one.lens_plan.shutter_s, 40.0)
    assert "stops brighter" in shutter.sentence
    assert any("25% of the camera's pixels" in s for s in frame.sentences)


def test_late_and_early_frames_take_the_pointing_of_their_time(
    review, found, zone, tmp_path: Path
) -> None:
    one = found[0]
    late = save(tmp_path / "late.jpg", **taken(one, zone, late_s=3600.0))
    early = save(tmp_path / "early.jpg", **taken(one, zone, late_s=-1800.0))
    first, second = review(late, early).frames
    assert first.name == "early.jpg"
    assert first.planned.late_minutes == pytest.approx(-30.0, abs=0.1)
    frames = (one.shot.frames_end - one.shot.frames_start).total_seconds() / 60.0
    assert second.planned.late_minutes == pytest.approx(60.0 - frames, abs=0.1)
    assert "after" in second.planned.sentence
    point = min(one.lens_plan.arc, key=lambda p: abs(p.time - second.time))
    assert second.planned.azimuth_deg == pytest.approx(point.bearing_deg)


def test_frames_of_another_night_say_by_how_many_days(review, found, zone, tmp_path: Path) -> None:
    path = save(tmp_path / "a.jpg", **taken(found[0], zone, late_s=3 * 86400.0))
    (frame,) = review(path).frames
    assert "3.0 days after" in frame.planned.sentence


def test_a_turn_is_found_by_time_when_there_is_no_focal_length(
    review, found, zone, tmp_path: Path
) -> None:
    inside = save(tmp_path / "a.jpg", **taken(found[1], zone, late_s=60.0, focal=None))
    outside = save(tmp_path / "b.jpg", **taken(found[1], zone, late_s=-3600.0, focal=None))
    first, second = review(outside, inside).frames
    assert second.planned.turn == found[1].shot.number
    assert first.planned is None
    assert any("--focal-mm" in s for s in first.sentences)
    (told,) = review(outside, focal_mm=24.0).frames
    assert told.planned.lens == "24 mm"


def test_the_135_equivalent_stands_in(review, found, zone, tmp_path: Path) -> None:
    fields = taken(found[2], zone, focal=None, focal_135=40)
    (frame,) = review(save(tmp_path / "a.jpg", **fields)).frames
    assert frame.planned.lens == "40 mm"


def test_a_lens_that_is_not_in_the_plan(review, found, zone, tmp_path: Path) -> None:
    (frame,) = review(save(tmp_path / "a.jpg", **taken(found[0], zone, focal=ratio(70.0)))).frames
    assert frame.planned is None
    assert frame.beside == ()
    assert any("No planned lens has 70 mm" in s for s in frame.sentences)


@pytest.mark.parametrize("away_m", [3.0, 40.0])
def test_place_is_metres_and_direction_from_the_stand(
    review, found, zone, tmp_path: Path, away_m: float
) -> None:
    stand = found[0].lens_plan.stand
    # Straight back from the subject, then a quarter turn to the left of facing it.
    for turn, back, left in ((180.0, away_m, 0.0), (-90.0, 0.0, away_m)):
        end = point_along(
            lat=stand.lat, lon=stand.lon, azimuth_deg=stand.bearing_deg + turn, distance_m=away_m
        )
        path = save(
            tmp_path / "a.jpg", **taken(found[0], zone), gps_1="N", gps_2=angle(float(end.lat)),
            gps_3="W", gps_4=angle(float(end.lon)),
        )  # fmt: skip
        (frame,) = review(path).frames
        assert frame.place.distance_m == pytest.approx(away_m, abs=0.02)
        assert frame.place.back_m == pytest.approx(back, abs=0.05)
        assert frame.place.left_m == pytest.approx(left, abs=0.05)
        assert ("cannot tell" in frame.place.sentence) == (away_m < 10.0)


def test_a_camera_in_another_zone_and_ahead(review, found, zone, tmp_path: Path) -> None:
    one = found[0]
    utc = one.shot.frames_start + dt.timedelta(seconds=150)
    path = save(tmp_path / "a.jpg", **taken(one, zone, time=f"{utc:%Y:%m:%d %H:%M:%S}"))
    (frame,) = review(path, camera_zone="UTC", clock_ahead_s=120.0).frames
    assert frame.time == one.shot.frames_start + dt.timedelta(seconds=30)
    with pytest.raises(SkyError, match="no time zone"):
        review(path, camera_zone="Mars/Olympus")


def test_a_portrait_frame_is_held_so(plan) -> None:
    camera, said = frame_camera(plan.camera, 4000, 6000)
    assert (camera.frame_width_px, camera.frame_height_px) == (4000, 6000)
    assert said == ""
    camera, said = frame_camera(plan.camera, 4000, 4000)
    assert camera is None
    assert "cropped" in said


@pytest.fixture(scope="session")
def photograph(tmp_path_factory: pytest.TempPathFactory, plan, found, zone) -> Path:
    """Render what the 16 mm lens records in its turn, at three eighths of its pixels."""
    one = found[0]
    stand, shutter_s = one.lens_plan.stand, one.lens_plan.shutter_s
    camera = replace(plan.camera, width_px=2250, height_px=1500)
    aim = Pointing(
        camera, one.lens_plan.lens, stand.pitch_deg, stand.bearing_deg, stand.lat, shutter_s
    )
    frame = Frame(camera, aim.lens, aim.pitch_deg, aim.azimuth_deg)

    def path(azimuth, altitude):
        x, y = frame.place(azimuth, altitude)
        length, there = aim.trails(x, y)
        steps = (np.arange(48) + 0.5)[:, None] / 48 - 0.5
        turn = np.radians(there)
        return frame.direction(
            x + steps * length * np.cos(turn) / camera.frame_width_px,
            y + steps * length * np.sin(turn) / camera.frame_height_px,
        )

    pixels = stored(sky_field(aim, path, stars=900, ground_below_deg=20.0))
    return save(tmp_path_factory.mktemp("frames") / "turn.jpg", pixels, **taken(one, zone))


def test_a_photograph_as_planned_is_as_predicted(review, photograph: Path) -> None:
    (frame,) = review(photograph, measure=True).frames
    assert frame.verdict == "as predicted", frame.sentences
    whole = frame.measured.whole
    assert whole.stars > 100
    assert whole.length_px == pytest.approx(whole.predicted_length_px, abs=0.1)
    # Subject and land are dark shapes in the lower third: no stars are taken from them.
    assert frame.measured.region("lower middle").stars < 5


def test_a_truncated_photograph_keeps_its_exif(review, photograph: Path, tmp_path: Path) -> None:
    path = tmp_path / "cut.jpg"
    path.write_bytes(photograph.read_bytes()[:60_000])
    (frame,) = review(path, measure=True).frames
    assert frame.verdict == "not measured"
    assert frame.planned.lens == "16 mm"
    assert any("breaks off" in s for s in frame.sentences)


def test_one_bad_frame_stops_no_other(review, found, zone, tmp_path: Path) -> None:
    good = save(tmp_path / "a.jpg", **taken(found[0], zone))
    bad = tmp_path / "b.jpg"
    bad.write_bytes(b"no picture")
    done = review(bad, good, tmp_path / "missing.jpg")
    assert [frame.name for frame in done.frames] == ["a.jpg"]
    assert [one.name for one in done.unread] == ["b.jpg", "missing.jpg"]
    assert done.placed == 1


def test_json_is_versioned_and_without_nan_or_paths(run, photograph: Path) -> None:
    code, out, _ = run(OUTING, photograph, "--json")
    document = json.loads(out, parse_constant=pytest.fail)
    assert code == 0
    assert (document["format"], document["version"]) == ("backbearing-review", 1)
    (frame,) = document["review"]["frames"]
    assert frame["verdict"] == "as predicted"
    assert frame["time"].endswith("Z")
    assert frame["measured"]["whole"]["stars"] > 100
    assert len(frame["measured"]["regions"]) == 9
    assert frame["exif"]["gps"]["lat"] is None
    assert str(photograph.parent) not in out


def test_table_fits_and_says_what_was_found(run, found, photograph: Path) -> None:
    code, out, _ = run(OUTING, photograph, "--all")
    assert code == 0
    words = " ".join(out.split())
    assert f"16 mm, in turn {found[0].shot.number}." in words
    assert "its clock is taken to show America/New_York" in words
    assert "As planned: focal length, shutter, f-number, ISO." in words
    assert "Trails as predicted" in words
    assert "How far to trust this" in words
    assert max(len(line.rstrip()) for line in out.splitlines()) <= 80


def test_hostile_strings_do_not_reach_the_terminal(run, found, zone, tmp_path: Path) -> None:
    evil = "\x1b[2Jgone\u202e[bold]"
    path = tmp_path / f"a{evil}.jpg"
    fields = taken(found[0], zone, offset="\x1b[2J", lens=evil, camera=evil)
    save(path, **{**fields, "time": "\x1b[31mnever"})
    code, out, err = run(OUTING, path, "--exif-only")
    assert code == 0
    assert "\x1b" not in out + err
    assert "\u202e" not in out + err
    assert "[bold]" in out
    _, out, _ = run(OUTING, path, "--exif-only", "--json")
    assert "\x1b" not in out


def test_exit_codes(run, found, zone, tmp_path: Path) -> None:
    good = save(tmp_path / "a.jpg", **taken(found[0], zone))
    blank = save(tmp_path / "b.jpg")
    bad = tmp_path / "c.jpg"
    bad.write_bytes(b"no picture")
    assert run(OUTING, good, bad, "--exif-only")[0] == 0
    assert run(OUTING, blank, "--exif-only")[0] == 3
    code, out, _ = run(OUTING, bad, "--exif-only")
    assert code == 1
    assert "export a camera's raw file" in " ".join(out.split())
    assert run(OUTING)[0] == 2
    assert run()[0] == 2
    code, _, err = run(OUTING, good, "--camera-zone", "Mars/Olympus")
    assert code == 1
    assert "no time zone" in err


def test_the_outing_file_may_be_left_out(
    run, found, zone, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = save(tmp_path / "a.jpg", **taken(found[0], zone))
    monkeypatch.chdir(tmp_path)
    code, _, err = run(good, "--exif-only")
    assert code == 1
    assert "no outing file" in err
    monkeypatch.chdir(OUTING.parent)
    assert run(good, "--exif-only")[0] == 0


def test_without_the_optional_library_a_sentence_says_what_to_install(
    run, photograph: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sep", None)
    code, _, err = run(OUTING, photograph)
    assert code == 1
    assert "backbearing[review]" in err
    assert "--exif-only" in err
    assert run(OUTING, photograph, "--exif-only")[0] == 0


def test_a_frame_without_a_shutter_is_measured_without_a_prediction(
    review, photograph: Path, found, zone, tmp_path: Path
) -> None:
    pixels = np.array(Image.open(photograph))
    path = save(tmp_path / "a.jpg", pixels, **taken(found[0], zone, shutter=None))
    (frame,) = review(path, measure=True).frames
    assert frame.verdict == "no prediction"
    assert frame.expected is None
    assert math.isnan(frame.measured.whole.predicted_length_px)


@pytest.mark.parametrize(
    ("azimuth_deg", "altitude_deg", "sky"),
    [
        (150.0, 11.4, False),  # the skyline stands at ten degrees
        (150.0, 11.6, True),
        (180.0, 21.4, False),  # the subject's top at twenty
        (180.0, 21.6, True),
        (185.7 + 1.4, 15.0, False),  # and its side at 5.71 degrees: one metre at ten
        (185.7 + 1.6, 15.0, True),
        (174.3 - 1.4, 15.0, False),
        (174.3 - 1.6, 15.0, True),
    ],
)
def test_sky_within_a_degree_and_a_half_of_land_and_subject_is_not_searched(
    azimuth_deg: float, altitude_deg: float, *, sky: bool
) -> None:
    points = [SimpleNamespace(azimuth_deg=a, altitude_deg=10.0) for a in (0.0, 120.0, 240.0)]
    plan: Any = SimpleNamespace(skyline=points, subject=SimpleNamespace(shown_width_m=2.0))
    stand: Any = SimpleNamespace(
        distance_m=10.0, bearing_deg=180.0, target_altitude_deg=25.0, above_top_deg=5.0
    )
    aim: Any = SimpleNamespace(directions=lambda _x, _y: (np.array([azimuth_deg]), altitude_deg))
    assert bool(open_sky(plan, stand, aim)(np.array([0.5]), np.array([0.5]))[0]) is sky


def test_a_review_keeps_its_words_and_digits_at_any_width(review, found, zone, tmp_path) -> None:
    paths = [
        save(tmp_path / f"a_long_name_of_a_frame_{i}.jpg", **taken(one, zone, late_s=400.0 * i))
        for i, one in enumerate(found[:2])
    ]
    seen = review(*paths)
    wide = Screen(220)
    print_review(wide, seen)
    words = re.compile(r"[^\s,:;.]+")
    assert {"expected", "shutter"} <= set(words.findall(wide.text))
    for width in (40, 60, 80, 120):
        narrow = Screen(width)
        print_review(narrow, seen)
        # In lines of names and values a name without a value is left out.
        lost = set(words.findall(wide.text)) - set(words.findall(narrow.text))
        assert lost <= {"trail", "width", "frame"}, width
        assert set(words.findall(narrow.text)) <= set(words.findall(wide.text)), width
        assert max(len(line) for line, _ in narrow.lines) <= width


def test_a_review_is_read_in_feet_where_they_are_asked_for(review, found, zone, tmp_path) -> None:
    one = found[0]
    stand = one.shot.stand
    end = point_along(lat=stand.lat, lon=stand.lon, azimuth_deg=200.0, distance_m=123.0)
    hemispheres = ["N" if end.lat >= 0.0 else "S", "E" if end.lon >= 0.0 else "W"]
    path = save(
        tmp_path / "9 m.jpg", **taken(one, zone), gps_1=hemispheres[0],
        gps_2=angle(abs(float(end.lat))), gps_3=hemispheres[1], gps_4=angle(abs(float(end.lon))),
    )  # fmt: skip
    seen = review(path)
    read = read_in(seen, Units("imperial"), frozenset({"9 m.jpg"}))
    told = Screen(300)
    print_review(told, read)
    assert "Taken 123 m" in seen.frames[0].place.sentence
    # 123 m / 0.3048 (international foot) = 403.5 ft
    assert re.search(r"Taken 40[34] ft", told.text)
    assert "9 m.jpg" in told.text
    assert not re.findall(r"\d (?:m|km)\b", told.text.replace("9 m.jpg", ""))
    assert read.frames[0].exif == seen.frames[0].exif
    assert read_in(seen, Units(), frozenset()) is seen
