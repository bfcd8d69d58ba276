"""A whole review of frames rendered from places beside the planned stands."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from real_sky import Held, catalogue_seen, render
from star_fields import ratio, save, stored

from backbearing.plan.turns import at_turns
from backbearing.review import review_frames
from backbearing.review.document import review_document
from backbearing.review.from_stars import with_stars

if TYPE_CHECKING:
    from pathlib import Path

LEFT_M, FARTHER_M, TALLER = 0.8, 0.5, 1.06
WIDTH_PX = 1500


def frame_of(folder: Path, plan, lens, *, seed: int) -> tuple[Path, dict[str, float]]:
    """Render one lens's turn from a place aside of its stand, with Astropy's sky."""
    stand, subject = lens.stand, plan.subject
    time = stand.time.replace(microsecond=0)
    # From the subject, back along the planned line and to the left of one who faces it.
    away = stand.distance_m + FARTHER_M
    aside = math.degrees(math.atan2(LEFT_M, away))
    bearing = stand.bearing_deg + aside
    distance = math.hypot(away, LEFT_M)
    camera = plan.camera
    portrait = camera.frame_height_mm > camera.frame_width_mm
    wide = 1000 if portrait else WIDTH_PX
    tall = round(wide * camera.frame_height_mm / camera.frame_width_mm)
    held = Held(
        azimuth_deg=bearing + 0.7,
        pitch_deg=stand.pitch_deg - 0.4,
        roll_deg=0.8,
        focal_mm=lens.lens.focal_length_mm * 1.01,
        width_px=wide,
        height_px=tall,
        sensor_mm=camera.frame_width_mm,
    )
    site = {"lat": stand.lat, "lon": stand.lon, "height_m": stand.ground_m}
    image = render(
        held, *catalogue_seen(**site, time=time), horizon_deg=-90.0, more_stars=200, seed=seed
    )
    # The subject as a box on its base, dark; land under its base's altitude.
    base_tan = math.tan(math.radians(_base_deg(plan, lens)))
    base_up = stand.distance_m * base_tan
    top_deg = math.degrees(math.atan2(base_up + subject.height_m * TALLER, distance))
    half = math.degrees(math.atan2(subject.shown_width_m / 2.0, distance))
    rows, columns = np.mgrid[0:tall, 0:wide].astype(float)
    azimuth, altitude = looked_at(held, columns, rows)
    land = altitude < math.degrees(math.atan2(base_up, distance)) + 0.02 * abs(top_deg)
    off = (azimuth - bearing + 180.0) % 360.0 - 180.0
    thing = (np.abs(off) < half) & (altitude < top_deg)
    image[land | thing] = 0.0006
    file = save(
        folder / f"lens{seed}.jpg",
        stored(image),
        shutter=ratio(0.5),
        time=time.strftime("%Y:%m:%d %H:%M:%S"),
        offset="+00:00",
        focal=ratio(lens.lens.focal_length_mm),
        f_number=ratio(lens.lens.f_number),
    )
    return file, {"bearing_deg": bearing, "distance_m": distance}


def _base_deg(plan, lens) -> float:
    from backbearing.camera.framing import Frame

    aimed = Frame(plan.camera, lens.lens, lens.stand.pitch_deg, lens.stand.bearing_deg)
    return float(aimed.direction(0.5, lens.stand.base_margin)[1])


def looked_at(held: Held, columns, rows):
    """`Held.pixels` undone, for a lens without distortion."""
    pitch = held.sensor_mm / held.width_px
    x = (columns - (held.width_px - 1) / 2.0) * pitch / held.focal_mm
    y = ((held.height_px - 1) / 2.0 - rows) * pitch / held.focal_mm
    h, p, r = np.radians([held.azimuth_deg, held.pitch_deg, held.roll_deg])
    ahead = np.array([np.sin(h) * np.cos(p), np.cos(h) * np.cos(p), np.sin(p)])
    level = np.array([np.cos(h), -np.sin(h), 0.0])
    upright = np.cross(level, ahead)
    right = level * np.cos(r) - upright * np.sin(r)
    up = upright * np.cos(r) + level * np.sin(r)
    seen = ahead[:, None, None] + right[:, None, None] * x + up[:, None, None] * y
    return (
        np.degrees(np.arctan2(seen[0], seen[1])) % 360.0,
        np.degrees(np.arctan2(seen[2], np.hypot(seen[0], seen[1]))),
    )


@pytest.mark.slow
def test_frames_tell_where_they_were_taken(tmp_path, outing, plan):
    lenses = [one for one in at_turns(plan).lenses if one.stand is not None]
    made = [frame_of(tmp_path, plan, lens, seed=i) for i, lens in enumerate(lenses)]
    files = [file for file, _ in made]
    review = review_frames(outing, files, plan=plan)
    told = with_stars(review, outing, plan, files)
    assert len(told.frames) == len(lenses) >= 3
    for frame in told.frames:
        truth = next(known for file, known in made if file.name == frame.name)
        assert frame.stars is not None
        assert frame.stars.stars >= 8, frame.stars.sentence
        assert frame.stars.stood is not None, (frame.name, frame.stars.sentence)
        stood = frame.stars.stood
        off = (frame.stars.subject_azimuth_deg - truth["bearing_deg"] + 180.0) % 360.0 - 180.0
        assert abs(off) * math.radians(1.0) * truth["distance_m"] < 0.12
        assert abs(stood.left_m - LEFT_M) < max(0.15, 3.0 * stood.left_sigma_m)
        assert abs(stood.farther_m - FARTHER_M) < max(0.2, 3.0 * stood.farther_sigma_m)
    high = outing.subject.height_m * TALLER
    assert told.subject is not None
    assert abs(told.subject.height_m - high) < 2.5 * told.subject.height_sigma_m
    assert "the outing says" in told.subject_sentence
    from backbearing.base.plain import plain

    said = json.loads(json.dumps(plain(review_document(told))))
    assert said["review"]["subject"]["height_m"] > 0.0
    assert said["review"]["frames"][0]["stars"]["stood"]["left_m"] is not None


def test_a_frame_without_stars_says_so(tmp_path, outing, plan):
    lens = next(one for one in at_turns(plan).lenses if one.stand is not None)
    file = save(
        tmp_path / "cloud.jpg",
        np.full((1000, 1500, 3), 40, dtype=np.uint8),
        shutter=ratio(10),
        time=(lens.stand.time + dt.timedelta(seconds=5)).strftime("%Y:%m:%d %H:%M:%S"),
        offset="+00:00",
        focal=ratio(lens.lens.focal_length_mm),
    )
    told = with_stars(review_frames(outing, [file], plan=plan), outing, plan, [file])
    assert told.frames[0].stars is None or told.frames[0].stars.stood is None
    assert told.subject is None


def test_the_outing_learns_what_the_frames_tell(tmp_path, outing, plan, sample_text):
    """Only the subject's keys change, and only when the frames tell something."""
    from backbearing.base.errors import NothingFoundError
    from backbearing.outing.load import load_outing
    from backbearing.review.where_stood import Adjusted
    from backbearing.workflows.learn_subject import learn_subject

    file = tmp_path / "outing.toml"
    file.write_text(sample_text, encoding="utf-8")
    asked = load_outing(file)
    review = review_frames(outing, [], plan=plan)
    with pytest.raises(NothingFoundError, match="nothing was learned"):
        learn_subject(file, asked, review)
    vague = Adjusted(7.3, 0.9, 6.0, 0.4, (), told_by_frames=0.1)
    with pytest.raises(NothingFoundError, match="10% of the height's doubt"):
        learn_subject(file, asked, replace(review, subject=vague))
    assert file.read_text(encoding="utf-8") == sample_text
    told = Adjusted(7.31, 0.19, 6.0, 0.2, (), told_by_frames=0.7)
    learn_subject(file, asked, replace(review, subject=told))
    after = load_outing(file)
    assert (after.subject.height_m, after.subject.height_sigma_m) == (7.31, 0.19)
    before, now = sample_text.splitlines(), file.read_text(encoding="utf-8").splitlines()
    changed = [line for line in now if line not in before]
    assert all(line.startswith(("height_m", "height_sigma_m", "width")) for line in changed)
