"""Where a session's numbers of pictures, of what was not chosen, and of the one line come from."""

from __future__ import annotations

from typing import Final

from backbearing.explain.plan import Fact

_PICTURE: Final[dict[str, Fact]] = {
    "above_top_deg": Fact("degrees", "target over the subject's top, middle of the frames",
                          "target altitude less altitude of the top",
                          ("target_altitude_deg", "distance_m"), ("Ghilani2012",)),
    "above_top_wanted_deg": Fact(
        "degrees", "how far over the top it should stand",
        "as asked, else midway in the frame between the top and the target's upper limit",
        ("pitch_deg", "share", "base_margin"), ("Ray2002",),
    ),
    "above_top_off_deg": Fact("degrees", "how far it is off that", "their difference, no sign",
                              ("above_top_deg", "above_top_wanted_deg")),
    "ridge_doubt_deg": Fact(
        "degrees", "what the skyline's doubt may take from the clearance",
        "its bias and 2.5 standard deviations",
        ("clearance_bias_deg", "clearance_sigma_deg"),
    ),
    "ridge_short_deg": Fact("degrees", "what is then short of the asked clearance",
                            "clear_by_deg + doubt - least clearance, not below 0",
                            ("ridge_doubt_deg",)),
    "skyline_break_short_deg": Fact("degrees", "how much too low the top stands over the land",
                                    "skyline_break_wanted_deg - break, not below 0",
                                    ("skyline_break_deg",)),
    "alike_off_deg": Fact("degrees", "how unlike the turn before in height over the top",
                          "difference to the turn before, no sign", ("above_top_deg",)),
    "above_top_cost_m": Fact("m", "what that counts in the choice",
                             "degrees off x above_top_costs_m_per_deg", ("above_top_off_deg",)),
    "ridge_cost_m": Fact("m", "what that counts in the choice",
                         "degrees short x ridge_costs_m_per_deg", ("ridge_short_deg",)),
    "skyline_break_cost_m": Fact("m", "what that counts in the choice",
                                 "degrees short x skyline_break_costs_m_per_deg",
                                 ("skyline_break_short_deg",)),
    "alike_cost_m": Fact("m", "what that counts in the choice",
                         "degrees unlike x alike_costs_m_per_deg", ()),
    "stand_before_shows_cost_m": Fact(
        "m", "what it counts that somebody at the stand before would show",
        "stand_before_shows_costs_m where any of them falls into the frame", (),
    ),
    "light_moves_cost_m": Fact(
        "m", "what it counts that a hidden light must be moved",
        "light_moves_costs_m where no spot hides it from both stands, the subject a post", (),
    ),
}  # fmt: skip

_TURN_SKY: Final[dict[str, Fact]] = {
    "air_mag": Fact("mag", "how much dimmer than overhead the air makes the target",
                    "extinction of the site x (air mass less 1)",
                    ("target_altitude_deg", "haze_mag"), ("Schaefer1998", "Kasten1989")),
    "bright_sky_mag": Fact("mag", "how much brighter the sky behind it is than a natural zenith",
                           "22.0 less the magnitude of dark sky, Moon and twilight, not below 0",
                           ("behind_mag_arcsec2",), ("Falchi2016", "KS1991", "Schaefer1998")),
    "cloud_share": Fact("", "cloud in the line of sight by the forecast",
                        "layers where the line passes 2, 5 and 9 km, at random over one another",
                        (), ("Geleyn1979",)),
    "air_cost_m": Fact("m", "what that counts in the choice",
                       "magnitudes x air_costs_m_per_mag", ("air_mag",)),
    "bright_sky_cost_m": Fact("m", "what that counts in the choice",
                              "magnitudes x bright_sky_costs_m_per_mag", ("bright_sky_mag",)),
    "cloud_cost_m": Fact("m", "what that counts in the choice", "share x cloud_costs_m",
                         ("cloud_share",)),
}  # fmt: skip

_OTHER: Final[dict[str, Fact]] = {
    "frames_start": Fact("UTC", "another start of the turn",
                         "falls least short of one wish, all turns kept in their order; or that "
                         "of walking and waiting alone", (), ("Held1962",)),
    "minutes": Fact("minutes", "how much later that is", "difference of the starts",
                    ("frames_start",)),
    "above_top_change_deg": Fact("degrees", "how much higher over the top the target then is",
                                 "difference of the two starts", ("frames_start",)),
    "clearance_change_deg": Fact("degrees", "how much more clearance there then is",
                                 "difference of the two starts", ("frames_start",)),
    "skyline_break_change_deg": Fact("degrees", "how much higher the top then stands over the land",
                                     "difference of the two starts", ("frames_start",)),
    "picture_saves_m": Fact("m", "what the turn's own picture would count less",
                            "difference of the two starts", ("frames_start",)),
    "costs_m": Fact("m", "what the whole session would count more",
                    "least cost of the order through that start less the least cost",
                    ("frames_start",), ("Held1962",)),
}  # fmt: skip

_PRICE: Final[dict[str, Fact]] = {
    "picture_m": Fact("m", "what the pictures of all turns count", "sum of the turns' costs",
                      ("lenses",)),
    "walking_picture_m": Fact("m", "the same by walking and waiting alone",
                              "sum of the turns' costs there", ("lenses",)),
    "more_walked_m": Fact("m", "how much farther one walks for the pictures, in straight lines",
                          "sum of the ways less those by walking and waiting alone", ("lenses",)),
    "more_waiting_minutes": Fact("minutes", "how much longer one waits for the pictures",
                                 "sum of the waits less those by walking and waiting alone",
                                 ("lenses",)),
}  # fmt: skip

_LINE: Final[dict[str, Fact]] = {
    "time": Fact("UTC", "the line's minute",
                 "most lenses, then the shortest span, then least of pictures' costs and metres "
                 "aside, on whole minutes", ("lenses",)),
    "bearing_deg": Fact("degrees true", "along the line towards the subject",
                        "target azimuth less the offset", ("time",), ("Meeus1998",)),
    "bearing_magnetic_deg": Fact("degrees magnetic", "the same by compass",
                                 "true less declination", ("bearing_deg",), ("WMM2025",)),
    "start": Fact("UTC", "the first frame", "the line's minute less half the span", ("time",)),
    "end": Fact("UTC", "the last frame", "the line's minute plus half the span", ("time",)),
    "span_minutes": Fact("minutes", "from the first frame to the last",
                         "all frames, and change_minutes between lenses", ("change_minutes",)),
    "change_minutes": Fact("minutes", "between one lens and the next", "as asked", ()),
}  # fmt: skip

_ON_LINE: Final[dict[str, Fact]] = {
    "frames_start": Fact("UTC", "the lens's first frame", "one lens after the other", ()),
    "frames_end": Fact("UTC", "the lens's last frame", "first frame plus their minutes", ()),
    "lat": Fact("degrees", "its stand on the line", "solved for the line's minute", (),
                ("Karney2013",)),
    "lon": Fact("degrees", "its stand on the line", "solved for the line's minute", (),
                ("Karney2013",)),
    "distance_m": Fact("m", "that stand to the subject", "as a stand of the line's minute", (),
                       ("Karney2013",)),
    "pitch_deg": Fact("degrees", "altitude of the frame's centre", "as a stand of that minute", (),
                      ("Ray2002",)),
    "above_top_deg": Fact("degrees", "target over the subject's top at the lens's minute",
                          "target altitude less altitude of the top", ("lat", "lon"),
                          ("Ghilani2012",)),
    "least_clearance_deg": Fact("degrees", "least height over the ridge while the frames run",
                                "smallest target altitude less skyline altitude", ("lat", "lon"),
                                ("Ghilani2012", "Bennett1982")),
    "off_deg": Fact("degrees", "how far the target is off its place at the lens's minute",
                    "angle on the sky between the two minutes", ("frames_start",),
                    ("Meeus1998",)),
    "right_deg": Fact("degrees", "how far right of its place it is", "difference of azimuths",
                      ("frames_start",)),
    "above_top_loss_deg": Fact("degrees", "how much lower over the top than at the line's minute",
                               "difference of altitudes", ("frames_start",)),
    "clearance_loss_deg": Fact("degrees", "how much less clearance than at the line's minute",
                               "clearance then less the least while the frames run",
                               ("least_clearance_deg",)),
    "aside_m": Fact("m", "how far left the line of the lens's own minute passes",
                    "distance x sin(right_deg)", ("distance_m", "right_deg")),
}  # fmt: skip

PICTURE_PARTS: Final = (
    ("picture", _PICTURE), ("turn_sky", _TURN_SKY), ("other", _OTHER), ("price", _PRICE),
    ("line", _LINE), ("on_line", _ON_LINE),
)  # fmt: skip
"""The parts of a session whose names begin so, and their rows."""
