"""One lens through one night: its arc, the stretches that work, and the minute chosen."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.plan import ArcPoint, LensPlan, Limit, Span, Stand
from backbearing.alignment.scene import Scene, Settled, settle
from backbearing.alignment.spans import middle_of_longest, spans_where
from backbearing.alignment.stands import stand_at
from backbearing.errors import BackbearingError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.prepare import NightSky
    from backbearing.camera import Lens
    from backbearing.outing import LensRequest, Outing

    Flags = NDArray[np.bool_]


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
    minute with the most room before and after.
    """
    lens = request.lens
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
    moment = _asked(outing, clock, zone) if clock else middle_of_longest(usable)
    stand = None if moment is None else stand_at(scene, lens, moment)
    if stand is not None and not np.isfinite(stand.lat):
        stand = None
    spoilt: tuple[Limit, ...] = ()
    if moment is not None and clock:
        spoilt = judge(scene, lens, sky, [moment]).at(0)
    return LensPlan(
        lens=lens,
        stand=stand,
        arc=_arc(sky.times, judged),
        usable=usable,
        framed=framed,
        sentence=_sentence(lens, judged, usable, framed, clock, spoilt, zone),
        asked_at=clock,
        **_optics(scene, lens, stand, outing.accepted_trail_px),
    )


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
        ridge = settled.clearance_deg < sky.clear_by_deg
    unknown = ~np.isfinite(settled.clearance_deg) & ~none
    return Judged(
        settled,
        {
            "twilight": ~sunless,
            "moon": sunless & ~dark,
            "ridge": ridge,
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
    from backbearing.sky.zones import at_clock, named_zone

    try:
        return at_clock(outing.night.evening, clock, named_zone(zone)).astimezone(dt.UTC)
    except BackbearingError as problem:
        raise outing.refuse("night", "at", str(problem)) from problem


def _sentence(
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
            f"{lens.label} never holds subject and target at once this night: at the asked share "
            "and margin the target stays outside the frame. Lower the share, raise edge or base "
            "less, turn the camera, or take a shorter lens."
        )
    cause = _listed([limit for limit in judged.limits if judged.limits[limit][judged.framed].any()])
    return f"The frame holds both {_clock_list(framed, zone)}, but then it is spoilt by {cause}."


_SPOILERS: dict[Limit, str] = {
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "frame": "the frame (the target falls outside it)",
    "unknown ground": "unknown ground towards the target",
    "no stand": "the ground (no stand gives the framing)",
}


def _listed(limits: Sequence[Limit]) -> str:
    words = [_SPOILERS[limit] for limit in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _clock_list(spans: Sequence[Span], zone: str) -> str:
    from zoneinfo import ZoneInfo

    local = ZoneInfo(zone)
    said = [
        f"{span.start.astimezone(local):%H:%M} to {span.end.astimezone(local):%H:%M}"
        for span in spans
    ]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}" if said else ""


def _optics(
    scene: Scene, lens: Lens, stand: Stand | None, accepted_trail_px: float
) -> dict[str, float]:
    """Shutter, trails and focus figures at the stand; NaN where there is none."""
    from backbearing.camera import hyperfocal_distance_m

    hyperfocal = float(hyperfocal_distance_m(lens.focal_length_mm, lens.f_number))
    figures = dict.fromkeys(
        ("trail_core_px", "trail_corner_px", "shutter_s", "infinity_blur_px"), float("nan")
    )
    figures["hyperfocal_m"] = hyperfocal
    if stand is None:
        return figures
    from backbearing.camera.focus import subject_blur_px

    figures["infinity_blur_px"] = float(subject_blur_px(scene.camera, lens, stand.distance_m))
    return figures | _trails(scene, lens, stand, accepted_trail_px)


def _trails(scene: Scene, lens: Lens, stand: Stand, accepted_px: float) -> dict[str, float]:
    """Longest standard shutter whose trail at the target is accepted, and its trails."""
    from backbearing.camera.exposure import STANDARD_SHUTTERS_S
    from backbearing.camera.frame_trails import trails_in_frame
    from backbearing.camera.trailing import trail_at

    if not np.isfinite(stand.target_x):
        return {}
    aim = {"pitch_deg": stand.pitch_deg, "azimuth_deg": stand.bearing_deg, "lat": stand.lat}
    series = np.sort(np.asarray(STANDARD_SHUTTERS_S, dtype=np.float64))
    trails = trail_at(
        scene.camera, lens, x=stand.target_x, y=stand.target_y, shutter_s=series, **aim
    )
    accepted = np.flatnonzero(trails <= accepted_px)
    if not accepted.size:
        return {}
    best = int(accepted[-1])
    worst = trails_in_frame(
        scene.camera, lens, shutter_s=float(series[best]), **aim
    ).worst_corner_px
    return {
        "shutter_s": float(series[best]),
        "trail_core_px": float(trails[best]),
        "trail_corner_px": float(worst),
    }
