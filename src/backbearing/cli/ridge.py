"""``backbearing ridge``: the skyline from a stand, with the target's path over it."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import click

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.stand.uncertainty import CLEARS_SIGMAS, NEAR_GROUND_M, WRONG_SHARE
from backbearing.base.cautions import IN_NO_RASTER
from backbearing.base.errors import NothingFoundError
from backbearing.base.numbers import num, per_cent
from backbearing.base.text import compass_point, degrees, night_label, rise_words
from backbearing.base.wall_clock import hm
from backbearing.cli.common import (
    all_switch,
    at_option,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.cli.marks_table import print_ridge_marks, ridge_marks_line
from backbearing.cli.ridge_area import AreaAsked, answer_area
from backbearing.cli.screen import Screen
from backbearing.cli.sharing import sharing_options
from backbearing.outing.known_cover import known_cover
from backbearing.outing.load import load_outing
from backbearing.pictures.skyline_picture import draw_skyline
from backbearing.pictures.skyline_subject import seen_subject
from backbearing.plan.turns import at_turns, turn_of_each

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.alignment.ridge.skyline_view import PathPoint, RidgeView
    from backbearing.base.units import Units
    from backbearing.outing.request import LensRequest, Outing
    from backbearing.pictures.skyline_layout import SeenSubject
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan

MOST_ROWS = 14
"""Lines of the short table."""


@dataclass(frozen=True, slots=True)
class SeenFrom:
    """From where to look: a lens's stand at its minute or the asked one, or a spot."""

    lens: float | None
    spot: tuple[float, float] | None
    at: str | None


@click.command("ridge", help="The skyline from a stand, with the target's path over it.")
@outing_argument
@click.option("--lens", type=float, metavar="MM", help="From the stand of this focal length.")
@click.option(
    "--spot", nargs=2, type=float, metavar="LAT LON", help="From this spot instead of a stand."
)
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw it too, to a .svg or .png file.",
)
@click.option(
    "--area",
    "areas",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write where the target clears the ridge, for every cell of the raster: .tif holds the "
    "numbers, .html the page with a layer of them. Repeat for both.",
)
@click.option(
    "--within",
    "within_km",
    type=float,
    metavar="KM",
    help="With --area: only cells so far from the subject, north, south, east and west.",
)
@sharing_options(processes=None)
@at_option
@click.option("--red", is_flag=True, help="Draw red on black, for eyes used to the dark.")
@overwrite_switch
@all_switch
@json_switch
@gathered(seen=SeenFrom, every=AreaAsked)
def command(  # noqa: D103
    outing: Path,
    seen: SeenFrom,
    every: AreaAsked,
    picture: Path | None,
    red: bool,
    overwrite: bool,
    everything: bool,
    as_json: bool,
) -> int:
    from_one = seen.lens is not None or seen.spot is not None or picture is not None or red
    if every.areas and from_one:
        raise click.UsageError(
            "--area answers every cell: leave out --lens, --spot, --picture and --red."
        )
    if every.within_km is not None and not every.areas:
        raise click.UsageError("--within limits an area: add --area FILE.")
    if every.sharing is not None and not every.areas:
        raise click.UsageError(
            "--processes, --scheduler and --keep share the work of an area: add --area FILE."
        )
    asked = load_outing(outing)
    if every.areas:
        return answer_area(asked, every, seen.at, overwrite=overwrite, as_json=as_json)
    eye = _where(asked, seen)
    view = ridge_view(asked, lat=eye.lat, lon=eye.lon)
    if picture is not None:
        _draw(asked, view, eye, picture, red=red, overwrite=overwrite)
    if as_json:
        print_json({"format": "backbearing-ridge", "version": 1, "seen": eye.named, "view": view})
    else:
        then = f"backbearing ridge {outing} --picture skyline.svg"
        _print(view, eye, asked, everything=everything, then=then)
        if picture is not None:
            click.echo(f"Drew {picture}.")
    return 0 if view.clear_and_dark else 3


@dataclass(frozen=True, slots=True)
class Eye:
    """Whence the skyline is seen, and of a stand what is done there."""

    lat: float
    lon: float
    named: str
    plan: Plan | None = None
    lens: LensPlan | None = None
    shot: Shot | None = None

    @property
    def marks(self) -> list[tuple[dt.datetime, str]]:
        """The minute of the stand: its turn's where there is one."""
        if self.lens is None or self.lens.stand is None:
            return []
        turn = "" if self.shot is None else f", turn {self.shot.number}"
        return [(self.lens.stand.time, f"{self.lens.lens.label}{turn}")]

    def sentence(self, zone: dt.tzinfo) -> str:
        """Say when its frames are, behind a sentence; nothing of a spot."""
        if self.lens is None or self.lens.stand is None:
            return ""
        if self.shot is None:
            return f" The stand is for {hm(self.lens.stand.time, zone)}."
        start, end = (hm(t, zone) for t in (self.shot.frames_start, self.shot.frames_end))
        return f" Turn {self.shot.number}: frames {start} to {end}."


def _where(asked: Outing, seen: SeenFrom) -> Eye:
    """Choose the spot: as given, a lens's stand, or the first stand of the night."""
    lens, spot = seen.lens, seen.spot
    if spot is not None:
        return Eye(spot[0], spot[1], f"from {num(spot[0], 5)}, {num(spot[1], 5)}")
    requests = [r for r in asked.lenses if lens is None or r.lens.focal_length_mm == lens]
    if not requests:
        known = ", ".join(f"{num(r.lens.focal_length_mm)}" for r in asked.lenses)
        raise click.BadParameter(
            f"{asked.path.name} has no lens of {lens:g} mm; it has {known}.", param_hint="--lens"
        )
    plan = plan_night(_limited(asked, requests), at=seen.at, whole_skyline=False)
    pairs = zip(at_turns(plan).lenses, turn_of_each(plan), strict=True)
    for found, shot in sorted(pairs, key=lambda pair: inf if pair[1] is None else pair[1].number):
        if lens is not None and found.lens.focal_length_mm != lens:
            continue
        if found.stand is not None:
            named = f"from the {found.lens.label} stand"
            return Eye(found.stand.lat, found.stand.lon, named, plan, found, shot)
    if lens is not None:
        raise NothingFoundError(f"The {lens:g} mm lens has no stand: {_sentence_of(plan, lens)}")
    words = "from the subject (no lens has a stand)"
    return Eye(asked.subject.lat, asked.subject.lon, words)


def _sentence_of(plan: Plan, focal_length_mm: float) -> str:
    return next(one.sentence for one in plan.lenses if one.lens.focal_length_mm == focal_length_mm)


def _limited(asked: Outing, requests: list[LensRequest]) -> Outing:
    """Leave out the other lenses, unless turns depend on them."""
    return asked.with_lenses(requests) if asked.session is None else asked


def _draw(
    asked: Outing, view: RidgeView, eye: Eye, picture: Path, *, red: bool, overwrite: bool
) -> None:
    units = asked.units
    draw_skyline(
        view.horizon.azimuths_deg,
        view.horizon.altitudes_deg,
        [(p.time, p.azimuth_deg, p.altitude_deg) for p in view.path],
        picture,
        zone=view.zone,
        title=f"Skyline {eye.named}, night of {night_label(view.evening)}",
        note=f"{view.target_name}, seen from {units.small(view.eye_height_m)} above the ground "
        f"({units.length(view.ground_m)}) at {num(view.lat, 5)}, {num(view.lon, 5)}. "
        f"{_trees(asked)}",
        dark=[(span.start, span.end) for span in view.dark],
        within=[(g.within_m, g.step_deg, g.altitudes_deg) for g in view.ground_within],
        moon=[(p.time, p.azimuth_deg, p.altitude_deg) for p in view.moon_path],
        marks=eye.marks,
        subject=_subject(asked, eye, view),
        readings=[(m.azimuth_deg, m.altitude_deg) for m in view.marks],
        night=red,
        overwrite=overwrite,
        units=units,
    )


def _trees(asked: Outing) -> str:
    """What the picture's note says of trees and buildings."""
    files = asked.ground.cover.files
    if asked.ground.holds_cover:
        return "The raster is a surface model: trees and buildings are in it."
    if not files:
        return "Trees and buildings are not in the raster."
    return (
        f"Palest, over the bare ground: trees and buildings of {', '.join(f.name for f in files)}."
    )


def _subject(asked: Outing, eye: Eye, view: RidgeView) -> SeenSubject | None:
    """The subject as it is seen from a stand; heights of a mere spot are not asked for."""
    if eye.plan is None or eye.lens is None or eye.lens.stand is None:
        return None
    stand, subject = eye.lens.stand, asked.subject
    ground = stand.ground_m if isfinite(stand.ground_m) else view.ground_m
    return seen_subject(
        subject,
        bearing_deg=stand.bearing_deg,
        distance_m=stand.distance_m,
        base_up_m=eye.plan.subject_ground_m + subject.base_height_m - ground - view.eye_height_m,
    )


def _print(view: RidgeView, eye: Eye, asked: Outing, *, everything: bool, then: str) -> None:
    out, units = Screen(), asked.units
    out.title(f"Skyline {eye.named}, night of {night_label(view.evening)}")
    out.say(
        f"{num(view.lat, 6)}, {num(view.lon, 6)}; ground {units.length(view.ground_m)}, eye "
        f"{units.small(view.eye_height_m)} above it. Times in {view.zone}."
    )
    zone = ZoneInfo(view.zone)
    out.say(_when_words(view, zone) + eye.sentence(zone))
    if view.marks:
        out.say(ridge_marks_line(view.marks))
    out.blank()
    shown = [p for p in view.path if p.time.astimezone(zone).minute % 20 == 0]
    if not everything:
        shown = shown[:: -(-len(shown) // MOST_ROWS) or 1]
    heads = ("time", "azimuth", "target", "ridge", "ridge is", "over it", "")
    out.listing(
        heads,
        [
            (
                hm(point.time, zone),
                f"{num(point.azimuth_deg, 0)}° {compass_point(point.azimuth_deg)}",
                degrees(point.altitude_deg),
                degrees(point.skyline_deg),
                units.length(point.skyline_distance_m)
                + (", mark" if point.by_mark else ", trees" if point.by_cover else ""),
                f"{degrees(point.clearance_deg)} ± {degrees(point.clearance_sigma_deg)}",
                _state_words(point),
            )
            for point in shown
        ],
        words={""},
    )
    out.blank()
    if everything and view.marks:
        print_ridge_marks(out, view.marks, units)
    if everything:
        out.say(_about_words(view, zone, units))
    else:
        care = IN_NO_RASTER[known_cover(asked.ground)]
        out.say(f"Care: {care}. More lines, what ± is worth: --all.")
        out.say(f"Next: {then}", hang=2)
    out.show()


def _state_words(point: PathPoint) -> str:
    """Clear or hidden, unless the raster's own error leaves it open."""
    if point.verdict == "too close to call":
        return point.verdict
    return point.state if point.dark or point.state != "clear" else "clear, not dark"


def _when_words(view: RidgeView, zone: dt.tzinfo) -> str:
    """Say when the target stands clear of the ridge, and when of that in the dark."""
    if not view.path:
        return "The target is never above the horizontal while the Sun is down."
    margin = f"{num(view.clear_by_deg)}° over the ridge"
    unknown = (
        f" {per_cent(view.unknown_share)} of the ground towards it is unknown: a ridge there "
        "would not be seen."
        if view.unknown_share > 0
        else ""
    )
    if not view.clear:
        return f"The target never stands {margin} this night.{unknown}"
    spans = " and ".join(f"{hm(s.start, zone)} to {hm(s.end, zone)}" for s in view.clear)
    dark = " and ".join(f"{hm(s.start, zone)} to {hm(s.end, zone)}" for s in view.clear_and_dark)
    in_the_dark = f"In the dark: {dark}." if dark else "Never in the dark."
    return f"At least {margin} from {spans}. {in_the_dark}{unknown}"


def _about_words(view: RidgeView, zone: dt.tzinfo, units: Units) -> str:
    """Say what the figures hold and cannot see."""
    return (
        "Trees and buildings are not in the raster. "
        "± is one standard deviation, from the raster's stated error (near heights err alike), "
        "other ground that may be the true ridge, the eye's height, the bending of light and the "
        f"position. {_doubt_words(view, zone, units)}"
    )


def _doubt_words(view: RidgeView, zone: dt.tzinfo, units: Units) -> str:
    """What clear and too close are worth, and where no raster can tell."""
    said = (
        f"Clear of doubt is {num(CLEARS_SIGMAS)} of them over the true ridge; over many places "
        f"that proves wrong less than 1 time in {num(1.0 / WRONG_SHARE, 0)}."
    )
    rises = (point.clearance_bias_deg for point in view.path)
    if rise := rise_words(max(filter(isfinite, rises), default=0.0)):
        said += f" By the raster's errors {rise}, at most here."
    near = [point for point in view.path if point.skyline_distance_m < NEAR_GROUND_M]
    if near:
        first, last = hm(near[0].time, zone), hm(near[-1].time, zone)
        said += (
            f" Between {first} and {last} it stands within {units.length(NEAR_GROUND_M)} at times: "
            "rocks, bushes and hollows so near are in no raster; look for yourself."
        )
    return said
