"""One lens through one night: its arc, the stretches that work, and the minute chosen."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from backbearing.alignment.stand.compromises import compromises
from backbearing.alignment.stand.lens_figures import lens_figures
from backbearing.alignment.stand.scene import Scene, Settled, settle
from backbearing.alignment.stand.spans import middle_of_longest, spans_where
from backbearing.alignment.stand.stands import stand_at
from backbearing.base.errors import BackbearingError
from backbearing.plan.stand import ArcPoint, LensPlan, Limit, Span
from backbearing.sky.zones import at_clock, named_zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import LensRequest, Outing
    from backbearing.plan.compromise import Compromise

    Flags = NDArray[np.bool_]

MOST_ADVICE = 3
"""So many compromises are put into the sentence; all of them stand in the plan."""


@dataclass(frozen=True, slots=True)
class Judged:
    """Limits at ``n`` moments: for each limit, whether it holds, shape ``(n,)``."""

    settled: Settled
    limits: dict[Limit, Flags]

    @property
    def usable(self) -> Flags:
        """Where no limit holds."""
        limited: Flags = np.any(list(self.limits.values()), axis=0)
        return ~limited

    @property
    def framed(self) -> Flags:
        """Where there is a stand whose frame holds the target, whatever the sky does."""
        return ~(self.limits["no stand"] | self.limits["frame"])

    def at(self, i: int) -> tuple[Limit, ...]:
        """Limits that hold at one moment."""
        return tuple(limit for limit, holds in self.limits.items() if holds[i])


def settle_lens(
    scene: Scene, request: LensRequest, outing: Outing, sky: NightSky, *, at: str | None, zone: str
) -> LensPlan:
    """Find a lens's arc and usable stretches, choose its minute, and settle the stand.

    Without an asked minute, the middle of the longest usable stretch is chosen: the
    minute with the most room before and after. Where something too short for the arc's
    samples spoils just that minute, the nearest sample that nothing spoils.
    """
    lens = request.lens
    scene = scene.with_share(request.share)
    judged = judge(scene, lens, sky, sky.times)
    usable = spans_where(
        sky.times, judged.usable, lambda times: judge(scene, lens, sky, times).usable
    )
    framed = spans_where(
        sky.times,
        judged.framed,
        lambda times: judge(scene, lens, sky, times, skyline=False).framed,
    )
    clock = at or request.at or outing.night.at
    if clock:
        moment: dt.datetime | None = _asked(outing, clock, zone)
    else:
        moment = _unspoilt(scene, lens, sky, judged, middle_of_longest(usable))
    stand = None if moment is None else stand_at(scene, lens, moment)
    if stand is not None and not np.isfinite(stand.lat):
        stand = None
    spoilt: tuple[Limit, ...] = ()
    if moment is not None and clock:
        spoilt = judge(scene, lens, sky, [moment]).at(0)
    given_up: tuple[Compromise, ...] = ()
    if spoilt or not clock:
        given_up = _compromises(scene, lens, sky, judged, moment if spoilt else None, zone)
    said = sentence_of(lens, judged, usable, framed, clock, spoilt, zone)
    return LensPlan(
        lens=lens,
        stand=stand,
        arc=_arc(sky.times, judged),
        usable=usable,
        framed=framed,
        sentence=" ".join([said, *(one.sentence for one in given_up[:MOST_ADVICE])]),
        figures=lens_figures(scene, lens, stand, outing),
        asked_at=clock,
        asked_share=scene.framing.share,
        compromises=given_up,
    )


def _unspoilt(
    scene: Scene, lens: Lens, sky: NightSky, judged: Judged, moment: dt.datetime | None
) -> dt.datetime | None:
    """The moment itself where nothing spoils it, else the nearest usable sample."""
    if moment is None or judge(scene, lens, sky, [moment]).usable[0]:
        return moment
    good = [time for time, usable in zip(sky.times, judged.usable, strict=True) if usable]
    return min(good, key=lambda time: abs(time - moment))


def _compromises(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    judged: Judged,
    asked: dt.datetime | None,
    zone: str,
) -> tuple[Compromise, ...]:
    """What to give up: for an asked minute that the frame spoils, or for a whole night."""
    from zoneinfo import ZoneInfo

    if asked is not None:
        if not {"frame", "no stand"} & set(judge(scene, lens, sky, [asked], skyline=False).at(0)):
            return ()
        times: Sequence[dt.datetime] = [asked]
    elif judged.usable.any() or not sky.times:
        return ()
    else:
        others = [judged.limits[key] for key in ("twilight", "moon", "ridge", "horizon")]
        clear = ~np.any(others, axis=0)
        times = [t for t, good in zip(sky.times, clear, strict=True) if good]
        if not times and not judged.framed.any():
            times = sky.times
    local = ZoneInfo(zone)
    return compromises(scene, lens, times, lambda time: f"{time.astimezone(local):%H:%M}")


def judge(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    times: Sequence[dt.datetime],
    *,
    skyline: bool = True,
) -> Judged:
    """Settle a lens at the moments and say what limits each of them."""
    settled = settle(scene, lens, times, skyline=skyline)
    none = ~np.isfinite(settled.places.lat)
    sunless = np.array([sky.is_sunless(time) for time in times], dtype=bool)
    dark = np.array([sky.is_dark(time) for time in times], dtype=bool)
    with np.errstate(invalid="ignore"):
        down = settled.target_altitude_deg <= 0.0
        ridge = (settled.clearance_deg < sky.clear_by_deg) & ~down
    unknown = ~np.isfinite(settled.clearance_deg) & ~none
    return Judged(
        settled,
        {
            "twilight": ~sunless,
            "moon": sunless & ~dark,
            "ridge": ridge,
            "horizon": down,
            "frame": ~settled.in_frame & ~none,
            "unknown ground": unknown,
            "no stand": none,
        },
    )


def _arc(times: Sequence[dt.datetime], judged: Judged) -> tuple[ArcPoint, ...]:
    settled, places = judged.settled, judged.settled.places
    return tuple(
        ArcPoint(
            time=time,
            lat=float(places.lat[i]),
            lon=float(places.lon[i]),
            distance_m=float(places.distance_m[i]),
            bearing_deg=float(places.bearing_deg[i]),
            pitch_deg=float(settled.pitch_deg[i]),
            target_altitude_deg=float(settled.target_altitude_deg[i]),
            skyline_deg=float(settled.skyline_deg[i]),
            clearance_deg=float(settled.clearance_deg[i]),
            target_x=float(settled.target_x[i]),
            target_y=float(settled.target_y[i]),
            limits=judged.at(i),
        )
        for i, time in enumerate(times)
    )


def _asked(outing: Outing, clock: str, zone: str) -> dt.datetime:

    try:
        return at_clock(outing.night.evening, clock, named_zone(zone)).astimezone(dt.UTC)
    except BackbearingError as problem:
        raise outing.refuse("night", "at", str(problem)) from problem


def sentence_of(
    lens: Lens,
    judged: Judged,
    usable: Sequence[Span],
    framed: Sequence[Span],
    clock: str | None,
    spoilt: Sequence[Limit],
    zone: str,
) -> str:
    """Say in words what the night gives this lens, or what takes it away."""
    good = _clock_list(usable, zone)
    if clock and spoilt:
        rest = f" Nothing spoils {good}." if good else ""
        return f"At {clock} it is spoilt by {_listed(spoilt)}.{rest}"
    if usable:
        held = (
            ""
            if judged.framed.all()
            else f" The frame holds both only {_clock_list(framed, zone)}."
        )
        return f"Works {good}.{held}"
    if not judged.limits["twilight"].size:
        return "The target is never above the horizontal while the Sun is down."
    if judged.limits["no stand"].all():
        return "No stand: no distance along the back bearing gives the asked share on this ground."
    if not framed:
        return (
            "Never holds subject and target at once this night: at the asked share and margin the "
            "target stays out of its place in the frame."
        )
    cause = _listed([limit for limit in judged.limits if judged.limits[limit][judged.framed].any()])
    return f"The frame holds both {_clock_list(framed, zone)}, but then it is spoilt by {cause}."


_SPOILERS: dict[Limit, str] = {
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "horizon": "the horizon (the target is below the horizontal)",
    "frame": "the frame (the target falls outside its place in it)",
    "unknown ground": "unknown ground towards the target",
    "no stand": "the ground (no stand gives the framing)",
}


def _listed(limits: Sequence[Limit]) -> str:
    words = [_SPOILERS[limit] for limit in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _clock_list(spans: Sequence[Span], zone: str) -> str:
    local = ZoneInfo(zone)
    said = [
        f"{span.start.astimezone(local):%H:%M} to {span.end.astimezone(local):%H:%M}"
        for span in spans
    ]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}" if said else ""
