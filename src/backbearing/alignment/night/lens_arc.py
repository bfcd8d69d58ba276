"""One lens through one night: its arc, the stretches that work, and the minute chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.stand.compromises import compromises
from backbearing.alignment.stand.settled_stands import Settled, settle
from backbearing.alignment.stand.spans import middle_of_longest, spans_where
from backbearing.alignment.stand.stands import stand_at
from backbearing.plan.stand import ArcPoint, LensPlan, Limit, Span

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.night.from_outing import AskedMinute
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.compromise import Compromise
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.stand import Stand

    Flags = NDArray[np.bool_]

MOST_ADVICE = 3
"""So many compromises are put into the sentence; all of them stand in the plan."""


@dataclass(frozen=True, slots=True)
class MomentLimits:
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

    @property
    def hidden(self) -> Flags:
        """Where nothing spoils a moment but the subject itself, before the target."""
        others = [holds for limit, holds in self.limits.items() if limit != "subject"]
        return np.asarray(self.limits["subject"] & ~np.any(others, axis=0))

    def at(self, i: int) -> tuple[Limit, ...]:
        """Limits that hold at one moment."""
        return tuple(limit for limit, holds in self.limits.items() if holds[i])


def settle_lens(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    asked: AskedMinute | None,
    figures: Callable[[Stand | None], LensFigures],
) -> LensPlan:
    """Find a lens's arc and usable stretches, choose its minute, and settle the stand.

    Without an asked minute, the middle of the longest usable stretch is chosen: the
    minute with the most room before and after. Where something too short for the arc's
    samples spoils just that minute, the nearest sample that nothing spoils.

    Parameters
    ----------
    scene : Scene
        As this lens sees it, its own share and drop in place.
    lens : Lens
    sky : NightSky
    asked : AskedMinute or None
    figures : callable
        What the lens makes of a stand.
    """
    found = limits_at(scene, lens, sky, sky.times)
    usable = spans_where(
        sky.times, found.usable, lambda times: limits_at(scene, lens, sky, times).usable
    )
    framed = spans_where(
        sky.times,
        found.framed,
        lambda times: limits_at(scene, lens, sky, times, skyline=False).framed,
    )
    hidden: tuple[Span, ...] = ()
    if found.hidden.any():
        hidden = spans_where(
            sky.times, found.hidden, lambda times: limits_at(scene, lens, sky, times).hidden
        )
    if asked is not None:
        moment: dt.datetime | None = asked.time
    else:
        moment = _unspoilt(scene, lens, sky, found, middle_of_longest(usable))
    stand = _stand(scene, lens, moment)
    spoilt = limits_at(scene, lens, sky, [asked.time]).at(0) if asked else ()
    given_up: tuple[Compromise, ...] = ()
    if spoilt or not asked:
        given_up = _compromises(scene, lens, sky, found, asked)
    said = _asked_words(asked.clock, spoilt, usable, sky) if asked and spoilt else ""
    said = said or sentence_of(found, usable, framed, sky, hidden)
    return LensPlan(
        lens=lens,
        stand=stand,
        arc=_arc(sky.times, found),
        usable=usable,
        framed=framed,
        sentence=" ".join([said, *(one.sentence for one in given_up[:MOST_ADVICE])]),
        figures=figures(stand),
        asked_at=asked.clock if asked else None,
        asked_share=scene.framing.share,
        compromises=given_up,
        hidden=hidden,
    )


def _stand(scene: Scene, lens: Lens, moment: dt.datetime | None) -> Stand | None:
    """The stand of a moment; None without one that is a place."""
    if moment is None:
        return None
    stand = stand_at(scene, lens, moment)
    return stand if np.isfinite(stand.lat) else None


def _unspoilt(
    scene: Scene, lens: Lens, sky: NightSky, found: MomentLimits, moment: dt.datetime | None
) -> dt.datetime | None:
    """The moment itself where nothing spoils it, else the nearest usable sample."""
    if moment is None or limits_at(scene, lens, sky, [moment]).usable[0]:
        return moment
    good = [time for time, usable in zip(sky.times, found.usable, strict=True) if usable]
    return min(good, key=lambda time: abs(time - moment))


def _compromises(
    scene: Scene, lens: Lens, sky: NightSky, found: MomentLimits, asked: AskedMinute | None
) -> tuple[Compromise, ...]:
    """What to give up: for an asked minute that the frame spoils, or for a whole night."""
    if asked is not None:
        limits = limits_at(scene, lens, sky, [asked.time], skyline=False).at(0)
        if not {"frame", "no stand", "subject"} & set(limits):
            return ()
        times: Sequence[dt.datetime] = [asked.time]
    elif found.usable.any() or not sky.times:
        return ()
    else:
        others = [found.limits[key] for key in ("twilight", "moon", "ridge", "horizon")]
        clear = ~np.any(others, axis=0)
        times = [t for t, good in zip(sky.times, clear, strict=True) if good]
        if not times and not found.framed.any():
            times = sky.times
    return compromises(scene, lens, times, sky.clock)


def limits_at(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    times: Sequence[dt.datetime],
    *,
    skyline: bool = True,
) -> MomentLimits:
    """Settle a lens at the moments and say what limits each of them."""
    settled = settle(scene, lens, times, skyline=skyline)
    none = ~np.isfinite(settled.places.lat)
    sunless = np.array([sky.is_sunless(time) for time in times], dtype=bool)
    dark = np.array([sky.is_dark(time) for time in times], dtype=bool)
    with np.errstate(invalid="ignore"):
        down = settled.target_altitude_deg <= 0.0
        ridge = (settled.clearance_deg < sky.clear_by_deg) & ~down
    unknown = ~np.isfinite(settled.clearance_deg) & ~none
    return MomentLimits(
        settled,
        {
            "twilight": ~sunless,
            "moon": sunless & ~dark,
            "ridge": ridge,
            "horizon": down,
            "frame": ~settled.in_frame & ~none,
            "subject": settled.spoilt_behind,
            "unknown ground": unknown,
            "no stand": none,
        },
    )


def _arc(times: Sequence[dt.datetime], found: MomentLimits) -> tuple[ArcPoint, ...]:
    settled, places = found.settled, found.settled.places
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
            limits=found.at(i),
        )
        for i, time in enumerate(times)
    )


def sentence_of(
    found: MomentLimits,
    usable: Sequence[Span],
    framed: Sequence[Span],
    sky: NightSky,
    hidden: Sequence[Span] = (),
) -> str:
    """Say in words what the night gives this lens, or what takes it away."""
    if usable:
        held = "" if found.framed.all() else f" The frame holds both only {_clocks(framed, sky)}."
        behind = f" Behind the subject itself {_clocks(hidden, sky)}." if hidden else ""
        return f"Works {_clocks(usable, sky)}.{held}{behind}"
    if not found.limits["twilight"].size:
        return "The target is never above the horizontal while the Sun is down."
    if found.limits["no stand"].all():
        return "No stand: no distance along the back bearing gives the asked share on this ground."
    if not framed:
        return (
            "Never holds subject and target at once this night: at the asked share and margin the "
            "target stays out of its place in the frame."
        )
    cause = _listed([limit for limit, holds in found.limits.items() if holds[found.framed].any()])
    return f"The frame holds both {_clocks(framed, sky)}, but then it is spoilt by {cause}."


def _asked_words(clock: str, spoilt: Sequence[Limit], usable: Sequence[Span], sky: NightSky) -> str:
    rest = f" Nothing spoils {_clocks(usable, sky)}." if usable else ""
    return f"At {clock} it is spoilt by {_listed(spoilt)}.{rest}"


_SPOILERS: dict[Limit, str] = {
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "horizon": "the horizon (the target is below the horizontal)",
    "frame": "the frame (the target falls outside its place in it)",
    "subject": "the subject itself (the target is behind it)",
    "unknown ground": "unknown ground towards the target",
    "no stand": "the ground (no stand gives the framing)",
}


def _listed(limits: Sequence[Limit]) -> str:
    words = [_SPOILERS[limit] for limit in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _clocks(spans: Sequence[Span], sky: NightSky) -> str:
    said = [f"{sky.clock(span.start)} to {sky.clock(span.end)}" for span in spans]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}" if said else ""
