"""Shutter, focus, light and panorama in the plan."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment.stand.lens_optics import (
    PanoramaAsked,
    core_width_frame_heights,
    focus_facts,
    light_facts,
    panorama_facts,
)
from backbearing.camera import Camera, Lens
from backbearing.outing.request import ExposureRequest
from backbearing.plan.comparison import (
    COMPARED,
    ComparedLens,
    compare_lenses,
    comparison_note,
    sentences_of,
    words_of,
)
from backbearing.plan.stand import Span
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from backbearing.alignment import Plan

EVENING = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)

# 36 mm over 6000 px: 6 um a pixel.
CAMERA = Camera()


def test_a_long_lens_at_90_metres_passes_by_circle_and_fails_by_pixel() -> None:
    # By hand, f^2 / (N c): 85 mm at f/2.8 with a circle of 0.030 mm, and with two pixels of 6 um.
    facts = focus_facts(CAMERA, Lens(85.0, 2.8), 90.0, 2.0)
    assert facts.sharp_by_circle
    assert not facts.sharp_by_pixel
    assert facts.near_limit_circle_m == pytest.approx(86.012, abs=0.005)
    assert facts.near_limit_pixel_m == pytest.approx(85.0**2 / (2.8 * 2 * 6.0), abs=0.05)
    assert (
        "passes by the classic circle of 0.030 mm (sharp from 86.0 m) but fails" in facts.sentence
    )
    assert "blurs over 4.8 px" in facts.sentence
    assert "Two frames, focused at infinity and at 135 m" in facts.sentence
    assert facts.stack_blur_px == pytest.approx(4.778 / 3.0, abs=0.02)
    assert facts.handover_m == pytest.approx(2.0 * facts.second_focus_m, rel=1e-3)


def test_a_far_subject_needs_one_frame() -> None:
    facts = focus_facts(CAMERA, Lens(14.0, 2.8), 30.0, 2.0)
    assert facts.sharp_by_circle
    assert facts.sharp_by_pixel
    assert math.isnan(facts.second_focus_m)
    assert "Two frames" not in facts.sentence


def test_a_near_subject_is_told_that_two_frames_will_not_do() -> None:
    facts = focus_facts(CAMERA, Lens(85.0, 1.8), 10.0, 2.0)
    assert facts.stack_blur_px > 2.0
    assert "still more than asked" in facts.sentence


def test_every_lens_of_the_plan_has_its_facts(plan: Plan) -> None:
    for one in plan.lenses:
        assert one.shutter is not None
        assert one.focus is not None
        assert one.light is not None
        assert one.shutter.exact_shutter_s >= one.shutter_s
        assert one.shutter.trail_largest_px >= one.trail_corner_px - 1e-9
        assert one.shutter.target_declination_deg == pytest.approx(-29.0, abs=0.15)
        sources = {rule.source for rule in one.shutter.rules}
        assert "common practice, no source" in sources
        assert one.light.snr_stack == pytest.approx(one.light.snr_one * math.sqrt(8), rel=1e-12)
        assert one.light.gain_frames == 9
    assert plan.lenses[0].shutter.panorama is None
    assert plan.lenses[3].shutter.panorama.frames > plan.lenses[2].shutter.panorama.frames > 1


def test_light_follows_aperture_shutter_and_iso() -> None:
    # Two stops of aperture are a quarter of the light; a stop of ISO is one under clipping.
    base = light_facts(CAMERA, Lens(35.0, 2.0), 10.0, ExposureRequest(iso=800.0))
    closed = light_facts(CAMERA, Lens(35.0, 4.0), 10.0, ExposureRequest(iso=1600.0))
    assert base is not None
    assert closed is not None
    assert closed.background_e == pytest.approx(base.background_e / 4.0, rel=1e-12)
    lost = closed.background_below_clipping_stops - base.background_below_clipping_stops
    assert lost == pytest.approx(2.0 - 1.0, abs=1e-9)
    assert light_facts(CAMERA, Lens(35.0), math.nan, ExposureRequest()) is None


def test_the_moon_brightens_the_background(plan: Plan) -> None:
    # Half a magnitude is 10^0.2 of the light; the sample night's Moon is down.
    dark = light_facts(CAMERA, Lens(35.0), 10.0, ExposureRequest())
    moonlit = light_facts(CAMERA, Lens(35.0), 10.0, ExposureRequest(), moon_mag=0.5)
    assert dark is not None
    assert moonlit is not None
    assert moonlit.background_e == pytest.approx(dark.background_e * 10.0**0.2, rel=1e-12)
    assert moonlit.core_e == dark.core_e
    assert moonlit.snr_one < dark.snr_one
    assert all(one.light.moon_adds_mag == 0.0 for one in plan.lenses)


def test_the_comparison_holds_every_lens(plan: Plan) -> None:
    rows = compare_lenses(plan)
    assert [row.lens for row in rows] == ["16 mm", "24 mm", "40 mm", "85 mm"]
    assert rows[0].core_growth == 1.0
    growth = [row.core_growth for row in rows]
    assert growth == sorted(growth)
    for row, one in zip(rows, at_turns(plan).lenses, strict=True):
        assert row.distance_m == one.stand.distance_m
        pupil_cm = one.lens.focal_length_mm / one.lens.f_number / 10.0
        assert row.gathered_cm2_s == pytest.approx(math.pi / 4 * pupil_cm**2 * one.shutter_s)


def test_the_comparison_says_how_much_of_the_night_a_stack_takes(plan: Plan) -> None:
    for one in plan.lenses:
        good = sum(span.minutes for span in one.usable)
        light = next(said for said in sentences_of(one) if "signal-to-noise" in said)
        assert light.endswith(f"The night gives this lens {good:.0f} min that nothing spoils.")
    short = dataclasses.replace(plan.lenses[0], usable=(Span(EVENING, EVENING + MINUTE),))
    assert "gives this lens 1 min only" in sentences_of(short)[1]
    none = dataclasses.replace(plan.lenses[0], usable=())
    assert sentences_of(none)[1] == none.light.sentence


def test_the_comparison_has_words_for_each_of_its_rows(plan: Plan) -> None:
    for row in compare_lenses(plan):
        assert len(words_of(row)) == len(COMPARED)
        words = dict(zip(COMPARED, words_of(row), strict=True))
        assert words["trail mid-frame"] == f"{row.trail_centre_px:.1f} px"
        # f^2 / (N c) + f with the classic circle of 0.030 mm.
        one = next(lens for lens in plan.lenses if lens.lens.label == row.lens)
        f_mm = one.lens.focal_length_mm
        expected = (f_mm**2 / (one.lens.f_number * 0.030) + f_mm) / 1e3
        assert row.hyperfocal_m == pytest.approx(expected, rel=0.01)
    assert len(words_of(ComparedLens("none"))) == len(COMPARED)
    assert "at its turn" in comparison_note(plan)
    assert "turn" not in comparison_note(dataclasses.replace(plan, session=None))


def test_core_width_is_ten_degrees_on_the_sensor(plan: Plan) -> None:
    # Near the axis f tan(5 deg) twice; off it rectilinear frames stretch, never shrink.
    for one in plan.lenses:
        least = 2.0 * one.lens.focal_length_mm * math.tan(math.radians(5.0)) / 24.0
        assert least <= one.core_width_frame_heights < 1.3 * least


def test_a_panorama_of_level_rows_ends_at_eighty_degrees() -> None:
    # A 16 mm lens sees 74 degrees upright (24 mm on 16); a 50 mm lens that begins 20 degrees up
    # would have to reach 101 degrees. Rows 27 degrees high with 30 percent overlap get to 80.
    stand: Any = SimpleNamespace(pitch_deg=33.5, bearing_deg=180.0)
    found = panorama_facts(CAMERA, Lens(50.0), stand, 10.0, PanoramaAsked(Lens(16.0), 0.3))
    assert found is not None
    assert found.frames > 0
    top = found.row_pitches_deg[-1] + math.degrees(math.atan(12.0 / 50.0))
    assert 80.0 < top < 90.0


@pytest.mark.parametrize("altitude_deg", [0.0, 30.0, 60.0])
def test_core_width_is_ten_degrees_of_great_circle(altitude_deg: float) -> None:
    # With the target on the axis the ends lie five degrees off it, whatever its altitude.
    stand: Any = SimpleNamespace(
        pitch_deg=altitude_deg, bearing_deg=180.0, target_azimuth_deg=180.0,
        target_altitude_deg=altitude_deg, target_x=0.5,
    )  # fmt: skip
    found = core_width_frame_heights(CAMERA, Lens(35.0), stand)
    assert found == pytest.approx(2.0 * 35.0 * math.tan(math.radians(5.0)) / 24.0, rel=1e-6)
