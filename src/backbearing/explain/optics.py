"""Rows of `explain` for shutter, focus, light, panorama and the core's size."""

from __future__ import annotations

from typing import Final

Row = tuple[str, str, str, tuple[str, ...], tuple[str, ...]]
"""Unit, meaning, formula, inputs and sources, as in ``explain.Fact``."""

_AIM = ("focal_length_mm", "pixel_pitch_um", "pitch_deg", "bearing_deg", "lat", "shutter_s")
_THIN = ("focal_length_mm", "f_number", "distance_m")
_LIGHT = ("shutter_s", "f_number", "pixel_pitch_um", "quantum_efficiency", "bandwidth_nm")

OPTICS_ROWS: Final[dict[str, Row]] = {
    "asked_share": (
        "of frame", "the share asked of this lens", "its own share, else the framing's",
        ("share_of",), (),
    ),
    "share_width": (
        "of frame width", "what the subject takes across, projected back",
        "largest x less smallest x of the outline's points",
        ("distance_m", "subject_width_m", "pitch_deg", "focal_length_mm"), ("Ray2002",),
    ),
    "above_top_deg": (
        "degrees", "target over the subject's top",
        "target altitude less altitude of the top", ("target_altitude_deg", "distance_m",
        "subject_height_m", "eye_height_m"), ("Ghilani2012",),
    ),
    "core_width_frame_heights": (
        "frame heights", "how wide ten degrees of sky about the target fall",
        "distance between the projections of the points 5 degrees to each side",
        ("focal_length_mm", "projection", "frame_height_mm", "pitch_deg", "target_altitude_deg"),
        ("Calabretta2002",),
    ),
    "trail_centre_px": (
        "px", "trail at the frame's centre with that shutter",
        "sky turned about the pole by w t, projected before and after", _AIM, ("Meeus1998",),
    ),
    "trail_largest_px": (
        "px", "longest trail anywhere in the frame with that shutter",
        "largest on a grid over the frame, corners included", _AIM, ("Meeus1998",),
    ),
    "exact_shutter_s": (
        "s", "longest shutter that keeps the accepted trail at the target",
        "root of the trail at the target less the accepted trail",
        ("accepted_trail_px", *_AIM[:-1]), ("Meeus1998",),
    ),
    "target_declination_deg": (
        "degrees", "apparent declination of the target, for the common rules",
        "asin(sin p sin h + cos p cos h cos A)",
        ("lat", "target_azimuth_deg", "target_altitude_deg"), ("Meeus1998",),
    ),
    "panorama_frames": (
        "frames", "frames that cover what the kit's widest lens sees",
        "level rows laid from the frame's lower edge with the exact projection",
        ("focal_length_mm", "bearing_deg", "pitch_deg"), ("Calabretta2002",),
    ),
    "panorama_shooting_minutes": (
        "min", "what they take with pauses and the turning of the head",
        "frames times (shutter + pause + 5 s for the head, own choice)",
        ("focal_length_mm", "bearing_deg", "pitch_deg", "shutter_s", "pause_s"), (),
    ),
    "panorama_sky_turn_deg": (
        "degrees", "how far the sky turns at most from a frame to the one above it",
        "fastest turn of the sky, once a sidereal day, over the frames of the longest row",
        ("focal_length_mm", "bearing_deg", "pitch_deg", "shutter_s", "pause_s"),
        ("Meeus1998",),
    ),
    "circle_mm": (
        "mm", "classic circle of confusion for the sensor",
        "0.030 mm times the diagonal over that of 36 x 24 mm (common practice, no source)",
        ("frame_height_mm",), (),
    ),
    "near_limit_circle_m": (
        "m", "nearest sharp distance with focus at infinity, by the circle",
        "f^2 / (N c)", ("focal_length_mm", "f_number", "circle_mm"), ("Greenleaf1950",),
    ),
    "near_limit_pixel_m": (
        "m", "nearest sharp distance with focus at infinity, by the pixels",
        "f^2 / (N n p)", ("focal_length_mm", "f_number", "blur_limit_px", "pixel_pitch_um"),
        ("Greenleaf1950",),
    ),
    "sharp_by_circle": (
        "", "whether the subject passes by the circle", "distance beyond the near limit",
        ("distance_m", "near_limit_circle_m"), ("Greenleaf1950",),
    ),
    "sharp_by_pixel": (
        "", "whether the subject passes by the pixels", "distance beyond the near limit",
        ("distance_m", "near_limit_pixel_m"), ("Greenleaf1950",),
    ),
    "blur_limit_px": (
        "px", "largest blur that counts as sharp", "as asked (accepted_blur_px)", (), (),
    ),
    "second_focus_m": (
        "m", "where to focus the second frame; none when one will do",
        "s of 2 s^2 - (3 d + f) s + 2 d f = 0, the larger root", _THIN, ("Ray2002",),
    ),
    "handover_m": (
        "m", "from where on the frame at infinity is the sharper one", "2 s - f", _THIN,
        ("Ray2002",),
    ),
    "stack_blur_px": (
        "px", "largest blur in the stack, from the subject to the stars",
        "f^2 / (N h) at the handover h, or at the subject with one frame",
        (*_THIN, "pixel_pitch_um"), ("Ray2002",),
    ),
    "background_e": (
        "electrons", "sky background in one pixel and frame",
        "F0 lambda/(h c) 10^(-0.4 V)/arcsec^2 (pi/4) (p/N)^2 T QE dlambda t",
        ("behind_mag_arcsec2", "behind_from", "moon_adds_mag", *_LIGHT),
        ("Bessell1998", "Ray2002", "Patat2003"),
    ),
    "core_e": (
        "electrons", "the core's own light in one pixel and frame",
        "as the background, with the core's magnitudes",
        ("core_mag_arcsec2", *_LIGHT), ("Bessell1998", "Ray2002", "Leinert1998"),
    ),
    "background_below_clipping_stops": (
        "stops", "background below the clipping level",
        "log2(full well x base ISO / ISO / background)",
        ("background_e", "iso", "base_iso", "pixel_pitch_um"), ("Bessell1998",),
    ),
    "snr_one": (
        "", "signal-to-noise of the core's light in a pixel, one frame",
        "S / sqrt(S + B + R^2)", ("core_e", "background_e", "read_noise_e"), ("Howell2006",),
    ),
    "snr_stack": (
        "", "the same for the frames stacked", "sqrt(n) times one frame's",
        ("snr_one", "stack_frames"), ("Howell2006",),
    ),
    "stack_frames": ("frames", "frames that you mean to stack", "as asked", (), ()),
    "gain_frames": (
        "frames", "frames for the asked gain in signal-to-noise", "gain squared, rounded up",
        ("gain",), ("Howell2006",),
    ),
    "gain_minutes": (
        "minutes", "how long they take", "frames x (shutter + pause)",
        ("gain_frames", "shutter_s", "pause_s"), (),
    ),
    "moon_adds_mag": (
        "mag", "what the Moon adds to the sky at the target then",
        "2.5 log10(1 + moonlight / dark sky)", ("sky_mag_arcsec2", "time", "lat", "lon"),
        ("KS1991",),
    ),
    "light_sigma_stops": (
        "stops", "one standard deviation of the modelled light",
        "root of the squares of the sky's doubt and 0.4 stop of sensor (judgement, no source)",
        ("behind_sigma_mag",), (),
    ),
    "gathered_cm2_s": (
        "cm2 s", "light that the whole core gives one frame",
        "area of the entrance pupil, pi/4 (f/N)^2, times the shutter",
        ("focal_length_mm", "f_number", "shutter_s"), ("Ray2002",),
    ),
}  # fmt: skip
"""What ``LENS_FACTS`` says of these numbers."""
