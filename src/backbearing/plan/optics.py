"""What a lens makes of its stand, as data: shutter, focus, light, panorama."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.base.numbers import num

if TYPE_CHECKING:
    from backbearing.camera.shutter_rules import ShutterRule
    from backbearing.outing.request import ExposureRequest
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.lamp import AirFacts
    from backbearing.plan.tracker import TrackerFacts


@dataclass(frozen=True, slots=True)
class PanoramaFacts:
    """Frames with which this lens covers what the kit's widest lens sees.

    Attributes
    ----------
    widest : str
        That lens.
    frames : int
        How many frames in all; 0 where level rows cannot cover it.
    rows : tuple of int
        Frames in each row, the lowest first.
    row_pitches_deg : tuple of float
        Altitude of the lens's axis in each row.
    step_deg : tuple of float
        Turn of the head between the frames of each row.
    overlap : float
        Share of the frame that neighbours have in common, at least.
    minutes : float
        The shutter times alone, added up.
    shooting_minutes : float
        With the pauses and the turns of the head between frames.
    sky_turn_deg : float
        How far the sky turns, at most, from a frame to the one above it.
    sentence : str
        The same for people, or why there is none.
    is_asked : bool
        Whether the outing asks for it, and people are told of it.
    """

    widest: str
    frames: int
    rows: tuple[int, ...]
    row_pitches_deg: tuple[float, ...]
    step_deg: tuple[float, ...]
    overlap: float
    minutes: float
    shooting_minutes: float
    sky_turn_deg: float
    sentence: str
    is_asked: bool = False

    @property
    def short(self) -> str:
        """A few words for the printed sheet."""
        if not self.frames:
            return "No panorama: see the page."
        rows = f" in rows of {', '.join(map(str, self.rows))}" if len(self.rows) > 1 else ""
        turn = f", the sky turning {num(self.sky_turn_deg, 1)}° a row" if self.sky_turn_deg else ""
        return f"Panorama: {self.frames} frames{rows}, {num(self.shooting_minutes, 0)} min{turn}."


@dataclass(frozen=True, slots=True)
class ShutterFacts:
    """Trails with the chosen shutter, and what the common rules say.

    Attributes
    ----------
    trail_centre_px, trail_largest_px : float
        At the frame's centre, and the longest anywhere in the frame.
    exact_shutter_s : float
        Longest shutter that keeps the asked trail at the target, before it is rounded
        down to a marked speed.
    target_declination_deg : float
        Of the target's place in the frame, for the rules.
    rules : tuple of ShutterRule
        Common practice beside it.
    panorama : PanoramaFacts or None
        None for the widest lens of the kit.
    """

    trail_centre_px: float
    trail_largest_px: float
    exact_shutter_s: float
    target_declination_deg: float
    rules: tuple[ShutterRule, ...]
    panorama: PanoramaFacts | None


@dataclass(frozen=True, slots=True)
class FocusFacts:
    """Sharpness of the subject with the stars in focus, by circle and by pixel.

    Attributes
    ----------
    circle_mm : float
        Classic circle of confusion for the sensor.
    near_limit_circle_m, near_limit_pixel_m : float
        Nearest sharp distance with focus at infinity, by each measure.
    sharp_by_circle, sharp_by_pixel : bool
        Whether the subject passes.
    blur_limit_px : float
        What counts as sharp on the pixels.
    second_focus_m : float
        Where to focus the second frame of a stack; NaN when one frame will do.
    handover_m : float
        From where on the frame at infinity is the sharper one; NaN when one will do.
    stack_blur_px : float
        Largest blur from the subject to the stars in the stack (or the single frame).
    sentence : str
        The same for people.
    """

    circle_mm: float
    near_limit_circle_m: float
    near_limit_pixel_m: float
    sharp_by_circle: bool
    sharp_by_pixel: bool
    blur_limit_px: float
    second_focus_m: float
    handover_m: float
    stack_blur_px: float
    sentence: str


@dataclass(frozen=True, slots=True)
class LightFacts:
    """Light in one frame and in a stack, by a simple model of sky and sensor.

    Attributes
    ----------
    background_e, core_e : float
        Electrons a pixel in one frame: of the sky's background, and of the target's own
        light upon it.
    background_below_clipping_stops : float
        How far the background lies under the clipping level.
    snr_one, snr_stack : float
        Signal-to-noise ratio of the target's light in one pixel, one frame and the asked
        number of frames.
    stack_frames : int
        The asked number of frames.
    gain_frames : int
        Frames for the asked gain in signal-to-noise.
    gain_minutes : float
        Their shutter times and pauses, in minutes.
    moon_adds_mag : float
        By how many magnitudes the Moon brightens the sky at the target then; 0 when it
        is down.
    light_sigma_stops : float
        One standard deviation of the light, stops.
    asked : ExposureRequest
        What was asked: ISO, the sky's magnitudes, the sensor, frames and gain.
    gathered_cm2_s : float
        Area of the entrance pupil times the shutter: what the whole core gives one frame.
    sentence : str
        The same for people.
    """

    background_e: float
    core_e: float
    background_below_clipping_stops: float
    snr_one: float
    snr_stack: float
    stack_frames: int
    gain_frames: int
    gain_minutes: float
    moon_adds_mag: float
    light_sigma_stops: float
    asked: ExposureRequest
    gathered_cm2_s: float
    sentence: str


@dataclass(frozen=True, slots=True)
class LensFigures:
    """What a lens makes of a stand and its minute.

    Attributes
    ----------
    hyperfocal_m : float
        Hyperfocal distance for the classic circle.
    infinity_blur_px : float
        Blur of the subject with the stars in focus.
    shutter_s : float
        Longest standard shutter whose trail at the target is accepted.
    trail_core_px, trail_corner_px : float
        Its trails at the target and in the worst corner.
    core_width_frame_heights : float
        How wide ten degrees of sky about the target fall, in frame heights.
    shutter : ShutterFacts or None
    focus : FocusFacts or None
    light : LightFacts or None
    air : AirFacts or None
    behind : BehindFacts or None
    tracker : TrackerFacts or None
        None without a stand, as every number but the first is then NaN.
    """

    hyperfocal_m: float
    infinity_blur_px: float = math.nan
    shutter_s: float = math.nan
    trail_core_px: float = math.nan
    trail_corner_px: float = math.nan
    core_width_frame_heights: float = math.nan
    shutter: ShutterFacts | None = None
    focus: FocusFacts | None = None
    light: LightFacts | None = None
    air: AirFacts | None = None
    behind: BehindFacts | None = None
    tracker: TrackerFacts | None = None


@dataclass(frozen=True, slots=True)
class TurnFigures(LensFigures):
    """What a lens makes of its turn's own stand and minute.

    ``frames_that_fit`` is how many frames of that shutter, each with its pause, the turn's
    minutes hold; 0 without a shutter.
    """

    frames_that_fit: int = 0
