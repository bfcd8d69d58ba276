"""Shutter, focus, light and panorama of one lens at its stand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.base.errors import CameraError
from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import length
from backbearing.camera.angles import field_of_view
from backbearing.camera.exposure_model import (
    SKY_SIGMA_MAG,
    expose,
    frames_for_gain,
    light_sigma_stops,
)
from backbearing.camera.focus import circle_of_confusion_mm
from backbearing.camera.frame_trails import longest_shutter_in_frame_s
from backbearing.camera.framing import Frame, frame_direction
from backbearing.camera.panorama import plan_panorama
from backbearing.camera.shutter_rules import common_rules
from backbearing.camera.stacking import check_focus
from backbearing.plan.optics import FocusFacts, LightFacts, PanoramaFacts, ShutterFacts
from backbearing.sky.moonlight import moonlight_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.camera.exposure_model import Exposure
    from backbearing.camera.frame_trails import FrameTrails
    from backbearing.outing.request import ExposureRequest, LensRequest
    from backbearing.plan.stand import Stand

CORE_WIDTH_DEG: Final = 10.0
"""The bright core of the Milky Way is about this wide (common practice, no source); for
other targets the same piece of sky is measured."""

HEAD_TURN_S: Final = 5.0
"""Seconds to turn the head to the next frame in the dark (own choice)."""

HIGHEST_ROW_DEG: Final = 80.0
"""A panorama of level rows is planned up to this altitude."""


def shutter_facts(
    camera: Camera,
    lens: Lens,
    stand: Stand,
    trails: FrameTrails,
    *,
    max_trail_px: float,
    panorama: PanoramaAsked,
) -> ShutterFacts:
    """Work out rules beside the trails at a stand."""
    aim = {"pitch_deg": stand.pitch_deg, "azimuth_deg": stand.bearing_deg, "lat": stand.lat}
    exact = longest_shutter_in_frame_s(
        camera,
        lens,
        max_trail_px=max_trail_px,
        x=stand.target_x,
        y=stand.target_y,
        **aim,
    )
    declination = declination_deg(stand)
    return ShutterFacts(
        trail_centre_px=trails.centre_px,
        trail_largest_px=trails.largest_px,
        exact_shutter_s=exact,
        target_declination_deg=declination,
        rules=common_rules(camera, lens, declination_deg=declination),
        panorama=panorama_facts(camera, lens, stand, trails.shutter_s, panorama),
    )


def declination_deg(stand: Stand) -> float:
    """Declination of the target as seen: ``sin d = sin p sin h + cos p cos h cos A``."""
    lat, azimuth, altitude = (
        math.radians(v) for v in (stand.lat, stand.target_azimuth_deg, stand.target_altitude_deg)
    )
    sine = math.sin(lat) * math.sin(altitude) + math.cos(lat) * math.cos(altitude) * math.cos(
        azimuth
    )
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))


def widest_lens(requests: tuple[LensRequest, ...]) -> Lens:
    """Lens of the kit with the shortest focal length."""
    return min((request.lens for request in requests), key=lambda lens: lens.focal_length_mm)


class PanoramaAsked(NamedTuple):
    """What a panorama is to cover: the field of the kit's widest lens, and with what overlap.

    ``pause_s`` is the time between frames beside the turning of the head; ``is_wished`` whether
    the outing asks for one with this lens.
    """

    widest: Lens
    overlap: float
    pause_s: float = 2.0
    is_wished: bool = False


def panorama_facts(
    camera: Camera, lens: Lens, stand: Stand, shutter_s: float, asked: PanoramaAsked
) -> PanoramaFacts | None:
    """Plan the rows that cover the widest lens's field from this stand.

    None for the widest itself, unless it was wished for.

    The piece of sky begins at the lower edge of this lens's own frame, is as wide and as
    high as the widest lens sees, and ends at 80 degrees.
    """
    widest, overlap, pause_s, is_wished = asked
    if widest == lens:
        why = f"No panorama with the {lens.label}: no lens of this kit sees wider than it."
        return _no_panorama(asked, why) if is_wished else None
    try:
        wide = field_of_view(camera, widest)
        _, low = frame_direction(
            camera, lens, axis_azimuth_deg=0.0, pitch_deg=stand.pitch_deg, x=0.5, y=0.0
        )
        plan = plan_panorama(
            camera,
            lens,
            azimuth_from_deg=stand.bearing_deg - wide.horizontal_deg / 2.0,
            azimuth_to_deg=stand.bearing_deg + wide.horizontal_deg / 2.0,
            altitude_from_deg=float(low),
            altitude_to_deg=min(float(low) + wide.vertical_deg, HIGHEST_ROW_DEG),
            overlap=overlap,
        )
    except CameraError as problem:
        return _no_panorama(asked, str(problem))
    counts = tuple(len(row.azimuths_deg) for row in plan.rows)
    minutes = sum(counts) * shutter_s / 60.0
    each_s = shutter_s + pause_s + HEAD_TURN_S
    shooting = sum(counts) * each_s / 60.0
    # To the frame above it is a whole row's time, at the fastest turn that the sky has.
    turned = math.degrees(SIDEREAL_RATE_RAD_S) * max(counts) * each_s if len(counts) > 1 else 0.0
    return PanoramaFacts(
        widest=widest.label,
        frames=sum(counts),
        rows=counts,
        row_pitches_deg=tuple(row.pitch_deg for row in plan.rows),
        step_deg=tuple(row.step_deg for row in plan.rows),
        overlap=overlap,
        minutes=minutes,
        shooting_minutes=shooting,
        sky_turn_deg=turned,
        sentence=(
            f"{counted(sum(counts), 'frames')} in {counted(len(counts), 'rows')} "
            f"({', '.join(map(str, counts))}, the lowest first) with {per_cent(overlap)} overlap "
            f"cover what the {widest.label} lens sees; {num(minutes, 0)} min of shutter, "
            f"{num(shooting, 0)} min to shoot"
            + (f"; the sky turns {num(turned, 1)}° from a row to the next." if turned else ".")
        ),
        is_asked=is_wished,
    )


def _no_panorama(asked: PanoramaAsked, why: str) -> PanoramaFacts:
    none = math.nan
    return PanoramaFacts(
        asked.widest.label, 0, (), (), (), asked.overlap, none, none, none, why, asked.is_wished
    )


def focus_facts(camera: Camera, lens: Lens, distance_m: float, blur_limit_px: float) -> FocusFacts:
    """Check the subject's sharpness with focus on the stars, and plan the stack."""
    found = check_focus(camera, lens, distance_m, max_blur_px=blur_limit_px)
    stack = found.stack
    single = len(stack.focus_m) == 1
    facts = FocusFacts(
        circle_mm=circle_of_confusion_mm(camera),
        near_limit_circle_m=found.near_by_circle_m,
        near_limit_pixel_m=found.near_by_pixel_m,
        sharp_by_circle=found.sharp_by_circle,
        sharp_by_pixel=found.sharp_by_pixel,
        blur_limit_px=blur_limit_px,
        second_focus_m=math.nan if single else stack.focus_m[1],
        handover_m=math.nan if single else stack.handover_m,
        stack_blur_px=stack.worst_blur_mm * 1e3 / camera.pixel_pitch_um,
        sentence="",
    )
    return _with_sentence(facts, distance_m, found.subject_blur_px)


def _with_sentence(facts: FocusFacts, distance_m: float, blur_px: float) -> FocusFacts:

    verdicts = {True: "passes", False: "fails"}
    join = "and" if facts.sharp_by_circle == facts.sharp_by_pixel else "but"
    said = (
        f"With the stars in focus the subject at {length(distance_m)} "
        f"{verdicts[facts.sharp_by_circle]} by the classic circle of {num(facts.circle_mm, 3)} mm "
        f"(sharp from {length(facts.near_limit_circle_m)}) {join} "
        f"{verdicts[facts.sharp_by_pixel]} by {num(facts.blur_limit_px)} pixels "
        f"(sharp from {length(facts.near_limit_pixel_m)}): it blurs over {num(blur_px, 1)} px."
    )
    if math.isfinite(facts.second_focus_m):
        said += (
            f" Two frames, focused at infinity and at {length(facts.second_focus_m)}, keep all "
            f"of it within {num(facts.stack_blur_px, 1)} px."
        )
        if facts.stack_blur_px > facts.blur_limit_px:
            said += " That is still more than asked: close the aperture or stack more frames."
    return replace(facts, sentence=said)


def moons_add_mag(
    scene: Scene, stands: Sequence[Stand], sky_mag_arcsec2: Sequence[float]
) -> list[float]:
    """Magnitudes by which the Moon brightens the sky at the target; NaN on its disc."""
    moon = moonlight_at(
        scene.target,
        lat=[stand.lat for stand in stands],
        lon=[stand.lon for stand in stands],
        height_m=scene.subject_ground_m,
        times=[stand.time for stand in stands],
        dark_zenith_mag=list(sky_mag_arcsec2),
    )
    return [float(added) for added in moon.brightening_mag]


def light_facts(
    camera: Camera,
    lens: Lens,
    shutter_s: float,
    asked: ExposureRequest,
    *,
    moon_mag: float = 0.0,
    sky_sigma_mag: float = SKY_SIGMA_MAG,
) -> LightFacts | None:
    """Model the light of one frame and of a stack; None without a shutter or a sky.

    ``moon_mag`` is what the Moon adds to the asked sky, magnitudes, and ``sky_sigma_mag`` how well
    that sky is known.
    """
    if not math.isfinite(shutter_s + moon_mag + asked.sky_mag_arcsec2):
        return None

    one = expose(
        camera,
        lens,
        shutter_s=shutter_s,
        iso=asked.iso,
        sensor=asked.sensor,
        sky_mag_arcsec2=asked.sky_mag_arcsec2 - moon_mag,
        core_mag_arcsec2=asked.core_mag_arcsec2,
    )
    one = replace(one, sigma_stops=light_sigma_stops(sky_sigma_mag))
    frames = frames_for_gain(asked.gain)
    minutes = frames * (shutter_s + asked.pause_s) / 60.0
    pupil_cm2 = math.pi / 4.0 * (lens.focal_length_mm / lens.f_number / 10.0) ** 2
    gain = f"a gain of {num(asked.gain)} takes {counted(frames, 'frames')}, {num(minutes, 0)} min"
    return LightFacts(
        background_e=one.background_e,
        core_e=one.core_e,
        background_below_clipping_stops=one.below_clipping_stops,
        snr_one=one.snr,
        snr_stack=one.snr * math.sqrt(asked.frames),
        stack_frames=asked.frames,
        gain_frames=frames,
        gain_minutes=minutes,
        moon_adds_mag=moon_mag,
        light_sigma_stops=one.sigma_stops,
        asked=asked,
        gathered_cm2_s=pupil_cm2 * shutter_s,
        sentence=f"{_light_words(asked, one)}; {gain}. Modelled, not measured.",
    )


def _light_words(asked: ExposureRequest, one: Exposure) -> str:
    return (
        f"At ISO {num(asked.iso)} the background lies {num(one.below_clipping_stops, 1)} "
        f"± {num(one.sigma_stops, 1)} stops below clipping. The core's signal-to-noise is "
        f"{num(one.snr, 1)} a pixel in one frame and {num(one.snr * math.sqrt(asked.frames), 1)} "
        f"in {asked.frames}"
    )


def core_width_frame_heights(camera: Camera, lens: Lens, stand: Stand) -> float:
    """How wide ten degrees of sky about the target fall, in frame heights, as projected."""
    half = math.radians(CORE_WIDTH_DEG / 2.0)
    altitude = math.radians(stand.target_altitude_deg)
    if not math.isfinite(stand.target_x):
        return math.nan
    # Five degrees to each side along the great circle level with the target.
    side = math.degrees(math.atan2(math.sin(half), math.cos(half) * math.cos(altitude)))
    height = math.degrees(math.asin(math.sin(altitude) * math.cos(half)))
    frame = Frame(camera, lens, stand.pitch_deg, stand.bearing_deg)
    x, y = frame.place(
        np.array([stand.target_azimuth_deg - side, stand.target_azimuth_deg + side]),
        np.array([height, height]),
    )
    across_mm = (x[1] - x[0]) * camera.frame_width_mm
    along_mm = (y[1] - y[0]) * camera.frame_height_mm
    return float(math.hypot(across_mm, along_mm) / camera.frame_height_mm)
