"""Rows of `explain` for the numbers of a review.

A name is the number's own path in the review's JSON, a region's by its words: ``place.left_m``,
``measured.whole.length_px``, ``measured.upper_left.length_px``. One more number of a review is one
more row here.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backbearing.explain.plan import Fact

_SHUTTER: Final = ("expected.shutter_s", "exif.focal_length_mm", "planned.pitch_deg",
                   "planned.azimuth_deg")  # fmt: skip
_TURNED: Final = "the sky turned about the pole by w t, projected before and after"
_SEEN: Final = "stars matched to the catalogue, refined by least squares"

_TRAIL: Final[dict[str, Fact]] = {
    "stars": Fact("stars", "stars whose trails were used", "those that fit a swept star", ()),
    "length_px": Fact(
        "px", "length of the trails",
        "median of L^2 (cos 2a, sin 2a) over the stars, each fitted by a Gaussian drawn out along "
        "a line, the star's own width taken off",
        ("{0}.stars", "{0}.length_sigma_px", "{0}.at_most_px", "{0}.predicted_length_px"), (),
        "one standard error is length_sigma_px; 0 where the scatter hides it, and then at_most_px "
        "is the longest that it could hide; a tone curve that is not sRGB's is not in it, and what "
        "the lens itself draws out (measured.radial_px) is taken off",
    ),
    "length_sigma_px": Fact(
        "px", "standard error of the length", "1.2533 x 1.4826 MAD / sqrt(stars), over 2 L",
        ("{0}.stars",),
    ),
    "at_most_px": Fact(
        "px", "longest trail that the scatter could hide",
        "sqrt(L^2 + three standard errors of it)", ("{0}.length_px", "{0}.stars"),
    ),
    "angle_deg": Fact(
        "degrees", "angle of the trails, anticlockwise from the right",
        "half the angle of the same median", ("{0}.angle_sigma_deg", "{0}.predicted_angle_deg"),
        (), "one standard error is angle_sigma_deg; a short trail shows a large angle only",
    ),
    "angle_sigma_deg": Fact(
        "degrees", "standard error of the angle", "error across the trail over 2 L^2",
        ("{0}.length_px", "{0}.stars"),
    ),
    "width_px": Fact(
        "px", "width of the stars across their trails, full width at half maximum",
        "2.3548 x median of the fitted sigmas", ("{0}.stars",), (),
        "seeing, focus and the lens together",
    ),
    "predicted_length_px": Fact(
        "px", "length predicted at the same stars", f"median of {_TURNED}", _SHUTTER,
        ("Urban2013",), "the camera level and aimed as planned; refraction left out",
    ),
    "predicted_angle_deg": Fact(
        "degrees", "angle predicted at the same stars",
        "chord from half the shutter before to half after", _SHUTTER, ("Urban2013",),
    ),
    "angle_off_deg": Fact(
        "degrees", "measured less predicted angle, -90 to 90", "difference of the two",
        ("{0}.angle_deg", "{0}.predicted_angle_deg"), (), "as angle_sigma_deg",
    ),
    "extra_px": Fact(
        "px", "smear of its own that would give the measured trail",
        "sqrt(|measured - predicted|) of L^2 (cos 2a, sin 2a)",
        ("{0}.length_px", "{0}.predicted_length_px", "{0}.angle_off_deg"),
    ),
    "extra_angle_deg": Fact(
        "degrees", "angle of that smear", "half the angle of the same difference",
        ("{0}.extra_px",),
    ),
}  # fmt: skip
"""Of one part of the frame, which stands for ``{0}``."""

_STREAK: Final = (
    "long thin detections on one line, each 3 times as long as the stars' trails or more"
)
_STREAK_NUMBERS: Final = (
    ("from_x", "of frame width", "left end, from the left"),
    ("from_y", "of frame height", "left end, from the bottom"),
    ("to_x", "of frame width", "right end, from the left"),
    ("to_y", "of frame height", "right end, from the bottom"),
    ("length_px", "px", "length"),
    ("angle_deg", "degrees", "angle, anticlockwise from the right,"),
)
MOST_STREAKS: Final = 12
"""As many as a review tells of one frame."""

REGIONS: Final = (
    "whole", "upper_left", "upper_middle", "upper_right", "middle_left", "centre", "middle_right",
    "lower_left", "lower_middle", "lower_right",
)  # fmt: skip
"""Parts of the frame whose trails are measured, as the names have them."""


def _of_region(fact: Fact, region: str) -> Fact:
    inputs = tuple(key.format(f"measured.{region}") for key in fact.inputs)
    meaning = f"{fact.meaning} ({region.replace('_', ' ')}{' frame' * (region == 'whole')})"
    return Fact(fact.unit, meaning, fact.formula, inputs, fact.sources, fact.sure)


FRAME_FACTS: Final[dict[str, Fact]] = {
    "exif.width_px": Fact("px", "width of the picture as one looks at it", "as its file says", ()),
    "exif.height_px": Fact("px", "height of the picture", "as its file says", ()),
    "exif.focal_length_mm": Fact("mm", "focal length", "as the camera wrote it", (), (),
                                 "marked and not measured: some per cent"),
    "exif.focal_length_135_mm": Fact("mm", "equivalent on 135 film", "as the camera wrote it", ()),
    "exif.shutter_s": Fact("s", "shutter", "as the camera wrote it", (), (),
                           "marked and not measured: 30 is often 32"),
    "exif.f_number": Fact("", "f-number", "as the camera wrote it", ()),
    "exif.iso": Fact("", "ISO", "as the camera wrote it", ()),
    "exif.utc_offset_minutes": Fact("minutes", "the clock's offset from UTC",
                                    "as the camera wrote it", ()),
    "exif.gps.lat": Fact("degrees", "latitude of the receiver", "as the camera wrote it", (), (),
                         "some metres; exif.gps.error_m where it is said"),
    "exif.gps.lon": Fact("degrees", "longitude of the receiver", "as the camera wrote it", (), (),
                         "some metres; exif.gps.error_m where it is said"),
    "exif.gps.error_m": Fact("m", "error that the receiver states", "as the camera wrote it", ()),
    "exif.gps.image_direction_deg": Fact(
        "degrees", "where the camera's compass had the lens point", "as the camera wrote it",
        ("exif.gps.from_magnetic",), (), "some degrees, more beside iron",
    ),
    "time": Fact(
        "UTC", "when the frame was taken",
        "the camera's clock in its zone, less how far it was said to be ahead",
        ("exif.wall_time", "exif.utc_offset_minutes", "clock_zone", "clock_ahead_s"), (),
        "as good as the clock: a receiver's time beside it is told in time_sentence",
    ),
    "planned.turn": Fact("", "turn of the session that it belongs to", "nearest by lens and time",
                         ("time", "planned.lens")),
    "planned.late_minutes": Fact(
        "minutes", "how far it lies outside the turn's frames; negative is early",
        "frame's time less the nearer end, 0 inside",
        ("time", "planned.frames_start", "planned.frames_end"),
    ),
    "planned.stand_lat": Fact("degrees", "latitude of the planned stand", "as the plan says", ()),
    "planned.stand_lon": Fact("degrees", "longitude of the planned stand", "as the plan says", ()),
    "planned.pitch_deg": Fact("degrees", "planned altitude of the frame's centre",
                              "as the plan says, at the frame's time", ("time",)),
    "planned.azimuth_deg": Fact("degrees true", "planned azimuth of the frame's centre",
                                "as the plan says, at the frame's time", ("time",)),
    "planned.target_x": Fact("of frame width", "where the target then falls, from the left",
                             "projection about the planned axis", ("time",), ("Ray2002",)),
    "planned.target_y": Fact("of frame height", "where the target then falls, from the bottom",
                             "projection about the planned axis", ("time",), ("Ray2002",)),
    "place.distance_m": Fact(
        "m", "from the planned stand to the receiver's position", "geodesic between the two",
        ("planned.stand_lat", "planned.stand_lon", "exif.gps.lat", "exif.gps.lon",
         "place.receiver_sigma_m"),
        ("Karney2013",), "the receiver's error, place.receiver_sigma_m, each way",
    ),
    "place.azimuth_deg": Fact("degrees true", "azimuth of the same way", "of the same geodesic",
                              ("place.distance_m",), ("Karney2013",)),
    "place.back_m": Fact(
        "m", "the same, back from the subject; negative is forward",
        "distance along the planned bearing, turned about", ("place.distance_m",
                                                            "place.azimuth_deg"),
        (), "the receiver's error, place.receiver_sigma_m",
    ),
    "place.left_m": Fact(
        "m", "the same, to the left as one faces the subject; negative is right",
        "distance across the planned bearing", ("place.distance_m", "place.azimuth_deg"), (),
        "the receiver's error, place.receiver_sigma_m",
    ),
    "place.receiver_sigma_m": Fact(
        "m", "what the receiver is worth", "its own stated error, else the outing's",
        ("exif.gps.error_m",),
    ),
    "expected.shutter_s": Fact("s", "shutter really used", "the frame's own", ("exif.shutter_s",)),
    **{
        f"expected.{key}_px": Fact("px", f"trail to expect {where}", _TURNED, _SHUTTER,
                                   ("Meeus1998",), "the camera level and aimed as planned")
        for key, where in (
            ("centre", "at the frame's centre"), ("upper_left", "in the upper left corner"),
            ("upper_right", "in the upper right corner"),
            ("lower_left", "in the lower left corner"),
            ("lower_right", "in the lower right corner"), ("largest", "at the worst place"),
            ("target", "at the target"),
        )
    },
    "measured.radial_px": Fact(
        "px", "how far the lens draws stars out at the corner: above zero away from the middle, "
        "below zero around it",
        "least squares over all stars of L^2 (cos 2a, sin 2a) less the prediction: a smear all "
        "over, a factor of the prediction, and a part outwards that grows as the fourth power of "
        "the way from the middle",
        ("measured.whole.stars", "measured.radial_sigma_px"), (),
        "0 where less than a pixel or four standard errors; unknown with fewer than 8 stars "
        "outside; it is taken off all lengths",
    ),
    "measured.radial_sigma_px": Fact(
        "px", "standard error of it", "from the scatter of the same least squares",
        ("measured.radial_px", "measured.whole.stars"),
    ),
    "measured.found": Fact("stars", "stars cut out before badly fitting ones were dropped",
                           "brightest that stand alone, up to forty in each of nine windows", ()),
    **{
        f"measured.streak_{number}.{key}": Fact(unit, f"{meaning} of a straight streak, the "
                                               f"{number}. in length", _STREAK, ())
        for number in range(1, MOST_STREAKS + 1)
        for key, unit, meaning in _STREAK_NUMBERS
    },
    **{
        f"measured.{region}.{key}": _of_region(fact, region)
        for region in REGIONS for key, fact in _TRAIL.items()
    },
    **{
        f"beside.{key}.{side}": Fact(
            unit, f"{key.replace('_', ' ')}, {said}", f"as the {whence} says",
            (f"beside.{key}.planned", f"beside.{key}.taken"),
        )
        for key, unit in (("focal_length", "mm"), ("shutter", "s"), ("f-number", ""), ("iso", ""))
        for side, said, whence in (
            ("planned", "as planned", "plan"), ("taken", "as taken", "frame"),
        )
    },
    "stars.azimuth_deg": Fact("degrees true", "azimuth of the lens's axis", _SEEN,
                              ("stars.stars", "stars.misfit_px"), (),
                              "misfit over the square root of the stars"),
    "stars.pitch_deg": Fact("degrees", "altitude of the lens's axis", _SEEN,
                            ("stars.stars", "stars.misfit_px")),
    "stars.roll_deg": Fact("degrees", "roll, clockwise as seen from behind", _SEEN,
                           ("stars.stars", "stars.misfit_px")),
    "stars.focal_length_mm": Fact("mm", "focal length by the stars", _SEEN,
                                  ("stars.stars", "exif.focal_length_mm")),
    "stars.distortion": Fact(
        "of the place", "how much farther out a corner lies than by an ideal lens",
        "one cubic term of the same least squares", ("stars.stars", "stars.misfit_px"), (),
        "one term: a lens with a moustache is not told by it",
    ),
    "stars.stars": Fact("stars", "stars matched to the catalogue",
                        "pairs as far apart in both, then all that agree", (),
                        ("ESA1997",), "fewer than eight are not believed"),
    "stars.misfit_px": Fact("px", "what they are off, root mean square in one coordinate",
                            "of the least squares", ("stars.stars",)),
    "stars.subject_azimuth_deg": Fact(
        "degrees true", "azimuth of the subject's middle", "its sides' pixels through the solution",
        ("stars.azimuth_deg", "stars.misfit_px"), (), "the edge to about a pixel",
    ),
    "stars.subject_top_deg": Fact("degrees", "altitude of the subject's top",
                                  "its topmost pixel through the solution", ("stars.pitch_deg",)),
    "stars.subject_width_deg": Fact("degrees", "width of the subject",
                                    "angle between its sides' pixels", ("stars.stars",)),
    "stars.stood.distance_m": Fact(
        "m", "true distance from the subject",
        "least squares over all frames with what was known of height, width and distance",
        ("stars.subject_top_deg", "stars.subject_width_deg", "subject.height_m",
         "stars.stood.distance_sigma_m"), (),
        "one standard error is stars.stood.distance_sigma_m; a frame ties height to distance",
    ),
    "stars.stood.distance_sigma_m": Fact("m", "standard error of the distance",
                                         "of the same least squares", ()),
    "stars.stood.bearing_deg": Fact("degrees true", "true bearing to the subject",
                                    "azimuth of its middle", ("stars.subject_azimuth_deg",)),
    "stars.stood.left_m": Fact(
        "m", "how far left of the plan the camera stood; negative is right",
        "distance x sin(azimuth of the subject as seen less that from the planned stand)",
        ("stars.stood.bearing_deg", "planned.stand_lat", "planned.stand_lon",
         "stars.stood.distance_m", "stars.stood.left_sigma_m"), (),
        "one standard error is stars.stood.left_sigma_m",
    ),
    "stars.stood.left_sigma_m": Fact("m", "standard error of it", "from the azimuth's own", ()),
    "stars.stood.farther_m": Fact(
        "m", "how much farther than planned; negative is nearer",
        "distance x cos(the same angle), less the planned distance",
        ("stars.stood.distance_m", "stars.stood.bearing_deg", "planned.stand_lat",
         "planned.stand_lon", "stars.stood.farther_sigma_m"), (),
        "one standard error is stars.stood.farther_sigma_m",
    ),
    "stars.stood.farther_sigma_m": Fact("m", "standard error of it", "of the distance", ()),
    "stars.stood.higher_m": Fact(
        "m", "how much higher over the subject's base than planned the lens stood",
        "of the same least squares as the distance", ("stars.stood.higher_sigma_m",), (),
        "one standard error is stars.stood.higher_sigma_m",
    ),
    "stars.stood.higher_sigma_m": Fact("m", "standard error of it", "of the same least squares",
                                       ()),
    "stars.compass.said_deg": Fact("degrees", "where the camera's compass had the lens point",
                                   "as the camera wrote it", ("exif.gps.image_direction_deg",)),
    "stars.compass.declination_deg": Fact(
        "degrees", "declination taken to turn it to true north", "World Magnetic Model on the date",
        ("time", "planned.stand_lat", "planned.stand_lon"), ("WMM2025",),
    ),
    "stars.compass.off_deg": Fact(
        "degrees", "how far clockwise of the truth the compass was",
        "said, with the declination, less the axis by the stars",
        ("stars.compass.said_deg", "stars.compass.declination_deg", "stars.azimuth_deg"), (),
        "stars.compass.sigma_deg is the declination's own doubt",
    ),
    "stars.compass.sigma_deg": Fact("degrees", "the declination's own doubt", "as its model says",
                                    (), ("WMM2025",)),
    "stars.skyline.azimuths": Fact("azimuths", "where the land's edge was looked for",
                                   "over the frame's width", ()),
    "stars.skyline.read": Fact("azimuths", "where it was clear",
                               "a step from sky to land that stands out", ()),
    "stars.skyline.middle_over_deg": Fact(
        "degrees", "how much higher than the raster the frame has the skyline, median",
        "altitude read less the raster's on the same azimuth", ("stars.skyline.read",), (),
        "beside the pointing's own doubt; trees count to the edge that is seen",
    ),
    "stars.skyline.most_over_deg": Fact("degrees", "the same, at most", "largest of the azimuths",
                                        ("stars.skyline.most_at_deg",)),
    "stars.skyline.most_at_deg": Fact("degrees true", "on which azimuth", "of that largest",
                                      ("stars.skyline.most_over_deg",)),
}  # fmt: skip
"""Every number of a frame."""

CORNER_FACTS: Final[dict[str, Fact]] = {
    "azimuth_deg": Fact("degrees true", "azimuth of a corner of the land's edge",
                        "its pixel through the solution of the stars", ("{0}.azimuth_sigma_deg",)),
    "altitude_deg": Fact("degrees", "apparent altitude of that corner",
                         "its pixel through the solution of the stars", ("{0}.sigma_deg",)),
    "sigma_deg": Fact("degrees", "one standard deviation of its altitude",
                      "the edge's, the solution's and the clock's", ()),
    "azimuth_sigma_deg": Fact("degrees", "one standard deviation of its azimuth",
                              "the solution's and the clock's", ()),
    "raster_deg": Fact("degrees", "the raster's skyline on this azimuth",
                       "seen from where the frame was taken",
                       ("{0}.azimuth_deg", "{0}.raster_sigma_deg"), ("Ghilani2012",)),
    "raster_sigma_deg": Fact("degrees", "one standard deviation of that",
                             "from the raster's stated errors", (), ("Rolstad2009",)),
    "raster_distance_m": Fact("m", "how far away it is", "distance of the largest angle", ()),
    "over_deg": Fact("degrees", "how much higher than the raster the frame has it",
                     "the one less the other", ("{0}.altitude_deg", "{0}.raster_deg")),
}  # fmt: skip
"""Of ``stars.skyline.corner_1`` and those after it, in order of azimuth."""


def numbered(facts: dict[str, Fact], before: str, count: int) -> dict[str, Fact]:
    """The facts of so many things of one sort: ``before`` is their name without its number."""
    return {
        f"{before}_{i}.{key}": replace(
            fact, inputs=tuple(name.format(f"{before}_{i}") for name in fact.inputs)
        )
        for i in range(1, count + 1)
        for key, fact in facts.items()
    }


REVIEW_FACTS: Final[dict[str, Fact]] = {
    "clock_ahead_s": Fact("s", "how far the camera's clock was ahead of the true time",
                          "as it was said with --clock-ahead", ("clock_zone",), (),
                          "as you measured it"),
    "accepted_trail_px": Fact("px", "trail at the target that the outing accepts",
                              "as the outing says", ()),
    "subject.height_m": Fact(
        "m", "height of the subject by all frames",
        "least squares: top and width as seen, with what was known of height, width and distances",
        ("subject.height_sigma_m", "subject.told_by_frames"), (),
        "one standard error is subject.height_sigma_m",
    ),
    "subject.height_sigma_m": Fact("m", "standard error of the height",
                                   "of the same least squares", ()),
    "subject.width_m": Fact("m", "width of the subject by all frames", "the same least squares",
                            ("subject.width_sigma_m",), (),
                            "one standard error is subject.width_sigma_m"),
    "subject.width_sigma_m": Fact("m", "standard error of the width",
                                  "of the same least squares", ()),
    "subject.told_by_frames": Fact(
        "of 1", "how much of the height's doubt the frames took away",
        "1 - standard error / doubt before", ("subject.height_sigma_m",),
    ),
    "subject.clock_ahead_s": Fact(
        "s", "how far the camera's clock was ahead of the time that was given",
        "the same least squares: a wrong clock turns every azimuth alike",
        ("subject.clock_sigma_s", "subject.clock_told", "clock_ahead_s"), (),
        "one standard error is subject.clock_sigma_s",
    ),
    "subject.clock_sigma_s": Fact("s", "standard error of that", "of the same least squares", ()),
    "subject.clock_told": Fact("of 1", "how much of the clock's doubt the frames took away",
                               "1 - standard error / doubt before", ("subject.clock_sigma_s",)),
    "compass.off_deg": Fact(
        "degrees", "how far clockwise of the truth the camera's compass was over the night",
        "mean of the frames' stars.compass.off_deg", ("compass.sigma_deg", "compass.frames"), (),
        "one standard error is compass.sigma_deg",
    ),
    "compass.sigma_deg": Fact("degrees", "standard error of that", "from the frames' scatter and "
                              "the declination", ("compass.frames",)),
    "compass.frames": Fact("frames", "frames that it is of", "those with a compass and stars", ()),
}  # fmt: skip
"""Every number of the review as a whole."""
