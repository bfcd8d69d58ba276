"""A whole review of frames rendered from places beside the planned stands, their truth known."""

from __future__ import annotations

import datetime as dt
import json
import math
import shutil
from dataclasses import replace

import numpy as np
import pytest
from frames_of_night import Truth, compass, frame_of
from PIL import Image
from star_fields import ratio, save

from backbearing.base.errors import NothingFoundError
from backbearing.base.plain import plain
from backbearing.outing.load import load_outing
from backbearing.plan.turns import at_turns
from backbearing.review.document import review_document
from backbearing.review.from_stars import with_stars
from backbearing.review.night import Given, reviewed
from backbearing.review.star_look import StarLook
from backbearing.review.told_by_stars import FrameSkyline, SkylinePoint
from backbearing.review.where_stood import Adjusted
from backbearing.workflows.learn_from_frames import frame_mark, learn, learning_of

LEFT_M, FARTHER_M, TALLER = 1.1, 0.6, 6.4 / 6.0
COMPASS_OFF_DEG = 4.0
WEST_DEG = 6.0


def ridge(azimuth_deg):
    """An invented ridge, and a tree of two degrees on it."""
    waves = (
        6.5 + 1.2 * np.sin(np.radians(azimuth_deg * 7)) + 0.3 * np.sin(np.radians(azimuth_deg * 41))
    )
    return np.where(np.abs(azimuth_deg - 183.0) < 1.0, waves + 2.5, waves)


def by_stars(outing, plan, files, **given):
    """Review frames by their stars, trails left alone."""
    look = StarLook(outing, plan, **given)
    review = reviewed(outing, plan, files, Given(measure=False), looks=[look])
    return with_stars(review, look), look


@pytest.fixture(scope="module")
def lenses(plan):
    return [one for one in at_turns(plan).lenses if one.stand is not None]


@pytest.fixture(scope="module")
def night(tmp_path_factory, plan, outing, lenses):
    """Frames of all lenses, taken beside the stands; what the review tells, and what is true."""
    folder = tmp_path_factory.mktemp("night")
    truth = Truth(
        left_m=LEFT_M, farther_m=FARTHER_M, height_m=outing.subject.height_m * TALLER, ridge=ridge
    )
    made = []
    for i, lens in enumerate(lenses):
        aside = math.degrees(math.atan2(LEFT_M, lens.stand.distance_m + FARTHER_M))
        axis = lens.stand.bearing_deg + aside + truth.aimed_off_deg[0]
        # Every second frame by the needle, as the magnetic model has it here: 6.0 degrees west.
        said = axis + COMPASS_OFF_DEG + (WEST_DEG if i % 2 else 0.0)
        written = compass(said, ref="M" if i % 2 else "T")
        made.append(frame_of(folder, plan, lens, truth, seed=i, **written))
    review, look = by_stars(outing, plan, [file for file, _ in made])
    return review, look, {file.name: known for file, known in made}


def test_frames_tell_where_they_were_taken(night, outing):
    review, _, truth = night
    assert len(review.frames) >= 3
    for frame in review.frames:
        known = truth[frame.name]
        stars = frame.stars
        assert stars is not None
        assert stars.stars >= 8, stars.sentence
        assert stars.stood is not None, (frame.name, stars.sentence)
        stood = stars.stood
        off = (stars.subject_azimuth_deg - known["bearing_deg"] + 180.0) % 360.0 - 180.0
        assert abs(off) * math.radians(1.0) * known["distance_m"] < 0.05
        assert abs(stood.left_m - LEFT_M) < 0.12
        assert abs(stood.farther_m - FARTHER_M) < 2.0 * stood.farther_sigma_m
        assert stood.left_sigma_m < 0.2
    high = outing.subject.height_m * TALLER
    assert review.subject is not None
    assert abs(review.subject.height_m - high) < 2.0 * review.subject.height_sigma_m
    assert "the outing says" in review.subject_sentence
    # Nothing tells the clock where nobody knows the stands.
    assert review.clock_sentence == ""
    said = json.loads(json.dumps(plain(review_document(review))))
    assert said["review"]["subject"]["height_m"] > 0.0
    first = said["review"]["frames"][0]["stars"]
    assert first["stood"]["left_m"] is not None
    assert first["skyline"]["runs"][0][0]["altitude_deg"] > 0.0


def test_the_land_s_edge_is_read_off_every_frame(night):
    """Corner by corner, and between them: the edge is straight from one to the next."""
    review, look, truth = night
    for frame in review.frames:
        skyline = frame.stars.skyline
        pixel = look.kept[frame.exif.path].solved.optics.pixel_deg
        most = max(0.05, 0.7 * pixel)
        assert skyline.read > 0.4 * skyline.azimuths, skyline.sentence
        for run in skyline.runs:
            azimuth = np.array([point.azimuth_deg for point in run])
            altitude = np.array([point.altitude_deg for point in run])
            between = np.linspace(azimuth[0], azimuth[-1], 200)
            off = np.interp(between, azimuth, altitude) - ridge(between)
            assert np.abs(off).max() < most, (frame.name, np.abs(off).max())
            # The subject and the tree are no skyline.
            bearing, half = truth[frame.name]["bearing_deg"], 3.0 / truth[frame.name]["distance_m"]
            assert not (np.abs(azimuth - bearing) < math.degrees(half)).any()
            assert not (np.abs(between - 183.0) < 0.9).any()


def test_it_is_set_beside_the_raster_as_seen_from_there(night, outing):
    review, _, _ = night
    bare = outing.ground.open()
    for frame in review.frames:
        stood = frame.stars.stood
        point = frame.stars.skyline.points[0]
        # A plain plate of a degree of latitude on the sphere: 111.2 km.
        back = math.radians(stood.bearing_deg + 180.0)
        lat = outing.subject.lat + stood.distance_m * math.cos(back) / 111_200.0
        lon = outing.subject.lon + stood.distance_m * math.sin(back) / (
            111_200.0 * math.cos(math.radians(outing.subject.lat))
        )
        seen = bare.horizon(
            lat=lat, lon=lon, eye_height_m=outing.framing.eye_height_m,
            azimuths_deg=[point.azimuth_deg], max_distance_m=outing.ground.reach_m,
            refraction_k=outing.ground.refraction_k,
        )  # fmt: skip
        assert point.raster_deg == pytest.approx(float(seen.altitudes_deg[0]), abs=0.02)
        assert point.over_deg == pytest.approx(point.altitude_deg - point.raster_deg, abs=1e-9)


def test_the_compass_is_four_degrees_off(night):
    review, _, _ = night
    assert [one.stars.compass.off_deg for one in review.frames] == pytest.approx(
        [COMPASS_OFF_DEG] * len(review.frames), abs=0.2
    )
    assert review.compass.off_deg == pytest.approx(COMPASS_OFF_DEG, abs=0.15)
    # The declination's own doubt is in it: 0.26 degrees and more by the model's authors.
    assert 0.26 < review.compass.sigma_deg < 0.6
    magnetic = next(one for one in review.frames if one.stars.compass.from_magnetic)
    assert "from magnetic north" in magnetic.stars.compass.sentence
    assert "west by WMM2025" in magnetic.stars.compass.sentence


@pytest.fixture
def own_outing(tmp_path, sample_text):
    file = tmp_path / "outing.toml"
    file.write_text(sample_text, encoding="utf-8")
    return file


def test_the_outing_learns_once_and_can_be_put_back(night, outing, own_outing, sample_text):
    review, look, _ = night
    own = replace(look, outing=load_outing(own_outing))
    learning = learning_of(review, own)
    assert own_outing.read_text(encoding="utf-8") == sample_text
    assert learning.kept_as is None
    assert any("skyline marks" in one for one in learning.said)
    done = learn(own_outing, learning)
    after = load_outing(own_outing)
    assert after.subject.height_m == pytest.approx(review.subject.height_m, abs=0.006)
    assert after.subject.height_sigma_m == pytest.approx(review.subject.height_sigma_m, abs=0.006)
    assert len(after.ground.marks.readings) == len(learning.marks) > 50
    for mark in after.ground.marks.readings:
        assert abs(mark.altitude_deg - ridge(np.array(mark.azimuth_deg))) < 0.07
        assert mark.read_from.distance_m > 20.0
    text = own_outing.read_text(encoding="utf-8")
    assert "the raster says" in text
    assert "compass_off_deg = " in text
    # Every line of before is there still, but for the height.
    kept = [line for line in sample_text.splitlines() if not line.startswith("height_m")]
    assert [line for line in kept if line not in text.splitlines()] == []
    # The same frames, under other names, teach nothing more.
    again = learning_of(review, replace(own, outing=after))
    assert "learned twice" in again.why_not
    with pytest.raises(NothingFoundError, match="learned twice"):
        learn(own_outing, again)
    shutil.copy(done.kept_as, own_outing)
    assert own_outing.read_text(encoding="utf-8") == sample_text


def test_frames_not_learned_from_yet_count_alone(night, own_outing):
    """A new export of a frame is the same frame; another exposure is not."""
    review, look, _ = night
    first, rest = review.frames[0], review.frames[1:]
    own = replace(look, outing=load_outing(own_outing))
    learn(own_outing, learning_of(replace(review, frames=(first,)), own))
    both = learning_of(review, own)
    noted = both.changes["learned"]["from_frames"]
    assert sorted(noted) == sorted({frame_mark(one.exif) for one in (first, *rest)})
    assert not any(note.startswith(first.name) for note in both.notes)


def test_a_drop_at_a_stand_is_learned(tmp_path, outing, plan, lenses, own_outing):
    """The ground at one stand lies 0.8 m lower than the raster has it; size and place are known."""
    lens = lenses[1]
    file, _ = frame_of(tmp_path, plan, lens, Truth(lower_m=0.8), seed=1)
    sure = replace(outing.subject, height_sigma_m=0.05, width_sigma_m=0.05)
    own = replace(load_outing(own_outing), subject=sure)
    review, look = by_stars(own, plan, [file], within_m=0.05)
    learning = learning_of(review, look)
    keys = learning.changes[
        f"lens[{[one.lens.label for one in outing.lenses].index(lens.lens.label) + 1}]"
    ]
    raster = plan.subject_ground_m - lens.stand.ground_m
    assert keys["stand_drop_m"] == pytest.approx(raster + 0.8, abs=0.2)
    learn(own_outing, learning)
    assert load_outing(own_outing).lenses[1].stand_drop_m == keys["stand_drop_m"]


def test_known_stands_tell_a_clock_that_is_seven_seconds_off(tmp_path, outing, plan, lenses):
    truth = Truth(clock_ahead_s=7.0)
    files = [
        frame_of(tmp_path, plan, lens, truth, seed=i)[0]
        for i, lens in enumerate((lenses[3], lenses[2]))
    ]
    review, _ = by_stars(outing, plan, files, within_m=0.01)
    found = review.subject
    assert found.clock_sigma_s < 4.0
    assert abs(found.clock_ahead_s - 7.0) < 2.0 * found.clock_sigma_s
    assert "ahead, give or take" in review.clock_sentence
    # And without a word about the stands nothing is said of the clock.
    free, _ = by_stars(outing, plan, files[1:])
    assert free.clock_sentence == ""
    assert abs(free.subject.clock_ahead_s) < 3.0


def test_stars_of_another_hour_are_no_solution(tmp_path, outing, plan, night, lenses):
    """The wrong frame for this night: nothing is told of it and nothing learned."""
    review, _, _ = night
    file = review.frames[0].exif.path
    with Image.open(file) as picture:
        exif = picture.getexif()
        exif.get_ifd(0x8769)[0x9003] = (review.frames[0].time + dt.timedelta(hours=6)).strftime(
            "%Y:%m:%d %H:%M:%S"
        )
        picture.save(tmp_path / "other.jpg", exif=exif, quality=92)
    other, own = by_stars(outing, plan, [tmp_path / "other.jpg"])
    assert other.frames[0].stars is not None
    assert other.frames[0].stars.stood is None
    assert other.subject is None
    assert "No frame shows the subject" in learning_of(other, own).why_not


def test_a_frame_without_stars_says_so(tmp_path, outing, plan, lenses):
    lens = lenses[0]
    file = save(
        tmp_path / "cloud.jpg",
        np.full((1000, 1500, 3), 40, dtype=np.uint8),
        shutter=ratio(10),
        time=(lens.stand.time + dt.timedelta(seconds=5)).strftime("%Y:%m:%d %H:%M:%S"),
        offset="+00:00",
        focal=ratio(lens.lens.focal_length_mm),
    )
    told, _ = by_stars(outing, plan, [file])
    assert told.frames[0].stars is None or told.frames[0].stars.stood is None
    assert told.subject is None


def test_frames_that_tell_too_little_teach_no_height(night, own_outing, monkeypatch):
    from backbearing.workflows import learn_from_frames

    review, look, _ = night
    vague = Adjusted(
        7.3, 0.9, 6.0, 0.4, tuple(one.stars.stood for one in review.frames), told_by_frames=0.1
    )
    monkeypatch.setattr(learn_from_frames, "settled", lambda *_: vague)
    told = learning_of(review, replace(look, outing=load_outing(own_outing)))
    assert "subject" not in told.changes
    assert "10% of its doubt" in told.said[0]


def test_a_corner_agrees_with_the_raster_within_their_doubts():
    point = SkylinePoint(150.0, 4.2, 0.03, 0.03, 4.0, 0.1, 900.0, 0.2)
    assert point.as_raster
    assert not replace(point, over_deg=0.3).as_raster
    assert (
        FrameSkyline(((point,), (point, point)), 9, 3, 0.2, 0.2, 150.0, "").points == (point,) * 3
    )
