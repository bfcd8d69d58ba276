"""Rows of `explain` for the numbers of a ranked site."""

from __future__ import annotations

from typing import Final

from backbearing.base.numbers import num
from backbearing.explain.plan import Fact
from backbearing.outing.score_limits import (
    BEST_NIGHTS,
    BRIGHT_SKY_MAG,
    DARK_SKY_MAG,
    DIM_AIR_MAG,
    FAINT_GLOW_MAG,
    FULL_MINUTES,
    LEAST_LEVEL_SHARE,
    LEVEL_DEG,
)
from backbearing.outing.scouting_request import PARTS

OWN_CHOICE: Final = "an order by this project's own limits, no measured quality"

_SITE: Final = ("lat", "lon", "height_m")
_STAND: Final = ("stand_lat", "stand_lon", "best_time")

SITE_FACTS: Final[dict[str, Fact]] = {
    "score": Fact(
        "of 100", "how well the site does, by the asked weights",
        "100 x sum(weight x part) / sum(weight), over the parts that are known; with a weight for "
        "cloud part_cloud is one of them",
        tuple(name for part in PARTS for name in (f"part_{part}", f"weight_{part}")), (),
        f"{OWN_CHOICE}; a place on maps, no promise of access or safety",
    ),
    "unknown_weight": Fact(
        "of the weights", "share of the weights that stands on nothing known",
        "1 - sum(weight of the known parts) / sum(weight)",
        tuple(name for part in PARTS for name in (f"part_{part}", f"weight_{part}")),
    ),
    "part_dark": Fact(
        "of 1", "dark, clear time with the subject framed",
        f"mean over the {BEST_NIGHTS} best nights (all where there are fewer) of "
        f"min(minutes / {num(FULL_MINUTES)}, 1), each night by its best lens",
        ("best_nights_minutes", "weight_dark", "sun_below_deg", "moon", "clear_by_deg"), (),
        f"minutes to about 1 a night (docs/scouting.md); {OWN_CHOICE}",
    ),
    "part_altitude": Fact(
        "of 1", "how well the target sits over the subject in the kit's frames",
        "mean over the lenses of their best dark clear fit: 1 midway between the subject's top and "
        "the frame's upper limit, 0 at either or without a minute",
        ("lens_fits", "weight_altitude"), (), OWN_CHOICE,
    ),
    "part_skyline_break": Fact(
        "of 1", "how much of the subject stands against the sky",
        "skyline_break_deg / subject_deg, over what level ground leaves there: "
        f"max(1 - eye height / height, {num(LEAST_LEVEL_SHARE, 1)}); from 0 to 1",
        ("skyline_break_deg", "subject_deg", "height_m", "eye_height_m", "weight_skyline_break"),
        (), f"as the raster's ground behind it; {OWN_CHOICE}",
    ),
    "part_isolation": Fact(
        "of 1", "how little else of the data stands in the frame",
        "1 / (1 + isolation_load)", ("isolation_load", "isolation_count", "weight_isolation"), (),
        f"trees and things that no row names are not seen; {OWN_CHOICE}",
    ),
    "part_ground": Fact(
        "of 1", "ground for the tripod",
        f"half of 1 - (slope - {num(LEVEL_DEG)}) / (steepest - {num(LEVEL_DEG)}), from 0 to 1, and "
        "half of the lenses' share that has a feasible stand",
        ("slope_deg", "steepest_deg", "feasible_share", "weight_ground"), (),
        f"the raster's slope over its own cell: a step or a ditch is not in it; {OWN_CHOICE}",
    ),
    "part_walk": Fact(
        "of 1", "how near the stand is to a known way",
        "1 - walk_m / longest_walk_m, from 0 to 1", ("walk_m", "longest_walk_m", "weight_walk"),
        (), f"a straight line is not a walk; {OWN_CHOICE}",
    ),
    "part_town_glow": Fact(
        "of 1", "no glow of known towns behind the target",
        f"1 - town_glow_mag / {num(FAINT_GLOW_MAG)}, from 0 to 1",
        ("town_glow_mag", "weight_town_glow"), (), OWN_CHOICE,
    ),
    "part_sky": Fact(
        "of 1", "how dark the zenith is",
        f"(sky_mag_arcsec2 - {num(BRIGHT_SKY_MAG)}) / ({num(DARK_SKY_MAG)} - "
        f"{num(BRIGHT_SKY_MAG)}), from 0 to 1",
        ("sky_mag_arcsec2", "weight_sky"), ("Falchi2016",), OWN_CHOICE,
    ),
    "part_air": Fact(
        "of 1", "how little the air dims the target",
        f"1 - air_mag / {num(DIM_AIR_MAG)}, from 0 to 1", ("air_mag", "weight_air"), (),
        OWN_CHOICE,
    ),
    "part_behind": Fact(
        "of 1", "how dark the sky behind the target is",
        f"(behind_mag_arcsec2 - {num(BRIGHT_SKY_MAG)}) / ({num(DARK_SKY_MAG)} - "
        f"{num(BRIGHT_SKY_MAG)}), from 0 to 1",
        ("behind_mag_arcsec2", "weight_behind"), ("Falchi2016",), OWN_CHOICE,
    ),
    "part_cloud": Fact(
        "of 1", "how clear the line of sight is by the forecast", "1 - cloud_towards",
        ("cloud_towards", "weight_cloud"), (), "a forecast: see docs/cloud.md",
    ),
    "total_minutes": Fact(
        "minutes", "dark clear minutes of all nights, each by its best lens",
        "sum over the nights of the largest of the lenses' minutes",
        ("first_night", "nights", "sun_below_deg", "moon", "clear_by_deg", "target"),
        ("Skyfield", "DE421", "Bennett1982"), "about 1 minute a night (docs/scouting.md)",
    ),
    "good_nights": Fact(
        "nights", "nights with enough of such minutes",
        "nights with least_minutes or more by their best lens",
        ("least_minutes", "first_night", "nights"), (), "as the minutes: see total_minutes",
    ),
    "best_lens_mm": Fact(
        "mm", "the lens of the best minute",
        "largest worth: half the target's place in the frame, half its clearance up to 5 degrees "
        "over the asked margin, less by a dark end",
        ("best_time", "clear_by_deg"),
    ),
    "clearance_deg": Fact(
        "degrees", "target above the skyline at the best minute",
        "target altitude less the skyline's along the ray from the stand",
        (*_STAND, "target_altitude_deg", "eye_height_m", "refraction_k", "elevation",
         "clearance_sigma_deg", "clearance_bias_deg"),
        ("Ghilani2012", "Brunner1984"),
        "one standard deviation is clearance_sigma_deg; the true skyline stands clearance_bias_deg "
        "higher on average; trees are in no bare raster",
    ),
    "clearance_sigma_deg": Fact(
        "degrees", "one standard deviation of the clearance",
        "spread of the highest of the points near the skyline, whose heights err as the raster is "
        "said to, with the eye's height, the position and the air",
        ("vertical_sigma_m", "position_sigma_m", "elevation"), ("Rolstad2009", "Hugonnet2022"),
    ),
    "clearance_bias_deg": Fact(
        "degrees", "how much higher than found the true skyline stands on average",
        "mean of the same highest, less the skyline found",
        ("vertical_sigma_m", "position_sigma_m", "elevation"), ("Rolstad2009", "Hugonnet2022"),
    ),
    "target_altitude_deg": Fact(
        "degrees", "apparent altitude of the target from the stand at the best minute",
        "apparent place of date turned to the local horizon, raised by refraction",
        ("target", *_STAND), ("Skyfield", "DE421", "Bennett1982"),
    ),
    "target_azimuth_deg": Fact(
        "degrees true", "azimuth of the target from the stand at the best minute",
        "apparent place of date turned to the local horizon",
        ("target", *_STAND), ("Skyfield", "DE421"),
    ),
    "back_bearing_deg": Fact(
        "degrees true", "azimuth from the subject to the stand",
        "bearing at the stand towards the subject, turned by 180",
        ("lat", "lon", "stand_lat", "stand_lon"), ("Karney2013",),
    ),
    "distance_m": Fact(
        "m", "from the subject to the stand",
        "the distance at which the subject takes the asked share of the best lens's frame",
        ("height_m", "best_lens_mm", "eye_height_m", "elevation"), ("Ray2002", "Ghilani2012"),
        "within 0.05 m of the plan's own stand; in proportion to the height, which may be a guess "
        "(height_is_guess)",
    ),
    "stand_lat": Fact(
        "degrees", "latitude of the stand", "end of the geodesic from the subject",
        ("lat", "lon", "back_bearing_deg", "distance_m"), ("Karney2013",),
    ),
    "stand_lon": Fact(
        "degrees", "longitude of the stand", "end of the geodesic from the subject",
        ("lat", "lon", "back_bearing_deg", "distance_m"), ("Karney2013",),
    ),
    "subject_deg": Fact(
        "degrees", "how tall the subject looks from the stand",
        "altitude of its top less that of its base", ("height_m", "distance_m", "eye_height_m"),
        ("Ghilani2012",),
    ),
    "skyline_break_deg": Fact(
        "degrees", "subject's top above the land behind it; negative is drowned",
        "altitude of the top less the largest altitude of the ground beyond the subject",
        ("height_m", "distance_m", "eye_height_m", "elevation"), ("Ghilani2012",),
    ),
    "isolation_count": Fact(
        "things", "other things of the data in the frame",
        "rows within 2 km of the stand, at least a tenth as tall in the frame, in sight over the "
        "raster's ground",
        (*_STAND, "best_lens_mm"), (), "things that no row names are not counted",
    ),
    "isolation_load": Fact(
        "subjects", "their heights in the frame, in heights of the subject",
        "sum over the things of min(their height in the frame / the subject's, 1)",
        ("isolation_count", "subject_deg"), (), "as isolation_count",
    ),
    "feasible_share": Fact(
        "of the lenses", "lenses with a stand on ground fit for a tripod",
        "lenses with a stand no steeper than steepest_deg and off closed land and water, over all",
        ("steepest_deg", "elevation"),
    ),
    "slope_deg": Fact(
        "degrees", "slope of the ground at the stand",
        "largest slope of the raster's surface there", ("stand_lat", "stand_lon", "elevation"),
        (), "of the raster's own cell: smaller steps are not in it",
    ),
    "walk_m": Fact(
        "m", "from the stand to the nearest known way",
        "shortest straight line to the ways, tracks and parking of your files",
        ("stand_lat", "stand_lon", "ways"), (),
        "as the crow flies: water, fences and closed land may lie between",
    ),
    "town_glow_mag": Fact(
        "mag", "how much known towns brighten the target's direction",
        "2.5 log10(1 + sum of 0.01 people / km^2.5 x share), share 0.1 + 0.9 ((1 + cos off) / 2)^2 "
        "by the azimuth off the town",
        ("towns", "stand_lat", "stand_lon", "target_azimuth_deg"), ("Walker1977",),
        "a law of old lamps, and a share of our own: some tenths at best; today's towns may shine "
        "several times more or less",
    ),
    "sky_mag_arcsec2": Fact(
        "mag/arcsec2", "brightness of the zenith",
        "the cell of your raster of sky brightness at the stand",
        ("sky_brightness", "stand_lat", "stand_lon"), ("Falchi2016",), "as good as that raster",
    ),
    "air_mag": Fact(
        "mag", "how much dimmer than overhead the air makes the target at the best minute",
        "extinction at the stand's height x (air mass less 1)",
        ("target_altitude_deg", "elevation"), ("Schaefer1998", "Kasten1989"),
        "one standard deviation is air_sigma_mag",
    ),
    "air_sigma_mag": Fact(
        "mag", "one standard deviation of that",
        "half of the haze (judgement, no source) x air mass", ("target_altitude_deg",),
    ),
    "behind_mag_arcsec2": Fact(
        "mag/arcsec2", "the dark sky behind the target at the best minute",
        "-2.5 log10((natural + towns) / 108000 cd/m2), the towns by Garstang's model, their level "
        "your raster's where one is named",
        ("towns", "stand_lat", "stand_lon", "target_azimuth_deg", "target_altitude_deg"),
        ("Garstang1986", "Garstang1989", "Cinzano2000", "Walker1977", "Patat2003", "Falchi2016"),
        "one standard deviation is behind_sigma_mag; ridges that hide a town's light are not in it",
    ),
    "behind_sigma_mag": Fact(
        "mag", "one standard deviation of that",
        "0.4 of the natural and 0.9 of the towns' light by their shares, 0.7 with a raster "
        "(judgement, no source)", ("behind_mag_arcsec2",),
    ),
    "unknown_share": Fact(
        "of the way", "share of the ray over the raster towards the target that is unknown ground",
        "unknown samples over all", ("elevation", "target_azimuth_deg"), (),
        "a ridge there would not be seen",
    ),
    "cloud_site": Fact(
        "of the sky", "cloud over the stand at the best minute, by the forecast",
        "nearest point, linear between the forecast's times", _STAND, ("Geleyn1979",),
        "a forecast: see docs/cloud.md",
    ),
    "cloud_towards": Fact(
        "of the sky", "cloud where the line of sight to the target passes 2, 5 and 9 km",
        "each layer where the ray meets it, joined at random",
        (*_STAND, "target_azimuth_deg", "target_altitude_deg"), ("Geleyn1979",),
        "a forecast: see docs/cloud.md",
    ),
    "height_m": Fact(
        "m", "height of the subject", "as the candidates' file says, else a guess by its kind",
        ("height_is_guess", "kind"), (), "distance and parts follow it in proportion",
    ),
    "width_m": Fact(
        "m", "width of the subject", "as the candidates' file says, else a guess by its kind",
        ("width_is_guess", "kind"),
    ),
    "lat": Fact("degrees", "latitude of the subject", "as the candidates' file says", ("id",)),
    "lon": Fact("degrees", "longitude of the subject", "as the candidates' file says", ("id",)),
    "rank": Fact(
        "", "place in the order, 1 for the best", "by score, ties as in the file", ("score",),
    ),
}  # fmt: skip
"""Every number of a site."""

LENS_FACTS_OF_SITE: Final[dict[str, Fact]] = {
    "minutes": Fact(
        "minutes", "dark clear minutes of all nights with this lens",
        "sum over the nights", ("first_night", "nights", "clear_by_deg", "sun_below_deg", "moon"),
        (), "about 1 minute a night (docs/scouting.md)",
    ),
    "distance_m": Fact(
        "m", "from the subject to this lens's stand at its own best minute",
        "the distance at which the subject takes the asked share of its frame",
        ("height_m", "eye_height_m", "elevation"), ("Ray2002", "Ghilani2012"),
    ),
    "clearance_deg": Fact(
        "degrees", "target above the skyline from this lens's stand at its own best minute",
        "target altitude less the skyline's", ("elevation", "refraction_k"), ("Ghilani2012",),
        "doubted like clearance_deg of the best lens",
    ),
    "fit": Fact(
        "of 1", "how well the target sits in this lens's best dark clear minute",
        "1 midway between the subject's top and the frame's upper limit, 0 at either or without a "
        "minute", ("height_m", "eye_height_m", "clear_by_deg"), (), OWN_CHOICE,
    ),
}  # fmt: skip
"""Every number of a lens's columns, by what follows its name: ``lens_40_minutes``."""
