"""What the desk answers of a night: its profile, its stands, what each lens sees.

Every number comes from the same prepared night that a plan stands on; here it is only put into the
short rows that a page can draw from.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import math
import threading
from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from backbearing.alignment.night.plan_season import plan_season, stand_crossings
from backbearing.alignment.night.prepared_night import PreparedNight, prepare_night
from backbearing.alignment.view.lens_views import view_of
from backbearing.base.errors import BackbearingError
from backbearing.base.plain import plain
from backbearing.base.text import night_label
from backbearing.desk.beside_minute import beside_stand
from backbearing.desk.evening_answer import evening_rows
from backbearing.desk.minute_frames import frame_rows, quick_views, seen_by
from backbearing.desk.night_light import light_rows
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.desk.outing_on_disk import Changes, OutingOnDisk
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, LensArc, Span, Stand
    from backbearing.plan.view import View

NIGHTS_KEPT: Final = 6
SEASON_NIGHTS: Final = 120


class NightAnswers:
    """The nights that were asked last, ready to be asked again.

    Parameters
    ----------
    outing : OutingOnDisk
    """

    def __init__(self, outing: OutingOnDisk) -> None:
        self._outing = outing
        self._nights: OrderedDict[str, PreparedNight] = OrderedDict()
        self._facts: Plan | None = None
        self._stands: tuple[PreparedNight, float, tuple[Stand | None, ...]] | None = None
        self._lock = threading.Lock()

    def make_ready(self) -> None:
        """Do beforehand what the first picture would have to wait for."""
        with self._lock, contextlib.suppress(BackbearingError):
            night = self._prepared({})
            plan = self._plan(night)
            middle = night.sky.times[len(night.sky.times) // 2]
            quick_views(plan, night.stands_at(middle), night.scene.elevation, night.scene.dark_sky)

    def night(self, changes: Changes) -> dict[str, Any]:
        """The profile of a night: what changes with the clock, for every lens.

        Times are seconds since 1970, UTC; angles degrees; lengths metres; unknown is None.
        """
        with self._lock:
            night = self._prepared(changes)
            arcs = night.arcs()
        outing = night.outing
        subject = outing.subject
        declination = magnetic_declination(
            lat=subject.lat, lon=subject.lon, when=outing.night.evening
        )
        return {
            "name": outing.name,
            "subject": {
                "name": subject.name,
                "kind": subject.kind,
                "lat": subject.lat,
                "lon": subject.lon,
                "height_m": subject.height_m,
                "width_m": subject.width_m,
                "ground_m": night.scene.subject_ground_m,
            },
            "framing": {
                "share": outing.framing.share,
                "base_margin": outing.framing.base_margin,
                "edge_margin": outing.framing.edge_margin,
                "eye_height_m": outing.framing.eye_height_m,
            },
            "evening": outing.night.evening.isoformat(),
            "night_label": night_label(outing.night.evening),
            "clear_by_deg": outing.night.clear_by_deg,
            "zone": night.sky.zone,
            "offsets": _offsets(night),
            "declination_deg": declination.declination_deg,
            "aspect": outing.camera.frame_width_mm / outing.camera.frame_height_mm,
            "target": outing.target.name,
            "times": [round(time.timestamp()) for time in night.sky.times],
            "dark": [[w.start.timestamp(), w.end.timestamp()] for w in night.sky.dark],
            "sunless": [[w.start.timestamp(), w.end.timestamp()] for w in night.sky.sunless],
            "events": [[e.time.timestamp(), e.name] for e in night.events],
            "light": light_rows(night),
            "lenses": [_arc(one) for one in arcs],
        }

    def minute(self, changes: Changes, time_s: float) -> list[dict[str, Any] | None]:
        """Each lens's stand at one moment with its cautions; None where it has none."""
        with self._lock:
            return _stands(self._stands_at(self._prepared(changes), time_s))

    def light(self, changes: Changes, time_s: float, lens: int) -> dict[str, Any] | None:
        """Light, air, trees and cloud at one lens's stand; None where it has none."""
        with self._lock:
            night = self._prepared(changes)
            _check_lens(night, lens)
            return beside_stand(night, self._stands_at(night, time_s), lens)

    def frames(self, changes: Changes, time_s: float, *, red: bool) -> dict[str, Any]:
        """Everything of a minute: the stands as `minute` has them, and what each lens sees.

        Pictures are rows to paint; see :mod:`backbearing.drawing.mark_rows`.
        """
        with self._lock:
            night = self._prepared(changes)
            stands = self._stands_at(night, time_s)
            views = quick_views(
                self._plan(night), stands, night.scene.elevation, night.scene.dark_sky
            )
            rows = _stands(stands)
        return {
            "stands": plain(rows),
            "frames": [
                None
                if view is None or stand is None
                else frame_rows(view, stand, night.outing, red=red)
                for view, stand in zip(views, stands, strict=True)
            ],
        }

    def view(self, changes: Changes, time_s: float, lens: int) -> View | None:
        """What one lens sees from its stand at one moment; None where it has no stand."""
        with self._lock:
            night = self._prepared(changes)
            _check_lens(night, lens)
            stand = self._stands_at(night, time_s)[lens]
            if stand is None:
                return None
            plan = self._plan(night)
            return view_of(plan, seen_by(plan, stand, night.scene.dark_sky), night.scene.elevation)

    def from_stand(self, changes: Changes, *, lat: float, lon: float) -> dict[str, Any]:
        """The other way round: when the target stands behind the subject, seen from a place.

        With how each lens would frame the subject from there.
        """
        with self._lock:
            night = self._prepared(changes)
        outing = night.outing
        found = stand_crossings(
            outing,
            night.scene,
            stand_lat=lat,
            stand_lon=lon,
            first_night=outing.night.evening,
            zone=night.sky.zone,
        )
        return {
            "distance_m": found.distance_m,
            "bearing_deg": found.bearing_deg,
            "reason": found.reason,
            "lenses": [one.lens.label for one in outing.lenses],
            "crossings": [
                {
                    "time": one.time.timestamp(),
                    "spoilt_by": one.spoilt_by,
                    "clearance_deg": one.target.clearance_deg,
                    "frames": one.frames,
                }
                for one in found
            ],
        }

    def evening(self, changes: Changes, fixed: Mapping[int, float] | None = None) -> dict[str, Any]:
        """All lenses one after another; see :func:`.evening_rows`."""
        with self._lock:
            return evening_rows(self._prepared(changes), fixed or {})

    def places(self) -> dict[str, Any]:
        """The user's own places as GeoJSON, in longitude and latitude."""
        with self._lock:
            night = self._prepared({})
        return {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "geometry": place.geometry,
                    "properties": {
                        "kind": place.kind,
                        "name": place.name,
                        "note": place.note,
                        "access": place.access,
                    },
                }
                for place in night.places
            ],
        }

    def season(self, changes: Changes, *, nights: int = SEASON_NIGHTS) -> list[dict[str, Any]]:
        """Many nights from the outing's own on: minutes as asked, or why there are none."""
        outing = self._outing.draft(changes)
        with self._lock:
            night = self._prepared(changes)
        first = outing.night.evening - dt.timedelta(days=nights // 3)
        season = plan_season(
            outing, first_night=first, nights=nights, elevation=night.scene.elevation
        )
        return [
            {
                "evening": one.evening.isoformat(),
                "label": one.label,
                "minutes": one.window_minutes,
                "clear_minutes": one.clear_minutes,
                "dark_minutes": one.dark_minutes,
                "why_not": one.why_not,
            }
            for one in season.nights
        ]

    def prepared(self, changes: Changes) -> PreparedNight:
        """The prepared night of a draft; it never changes, so it may be asked beside others."""
        with self._lock:
            return self._prepared(changes)

    def _prepared(self, changes: Changes) -> PreparedNight:
        """The prepared night of a draft, from one that is at hand where that serves."""
        key = json.dumps([self._outing.revision, changes], sort_keys=True)
        if key in self._nights:
            self._nights.move_to_end(key)
            return self._nights[key]
        outing = self._outing.draft(changes)
        last = next(reversed(self._nights.values()), None)
        made = prepare_night(outing) if last is None else last.with_outing(outing)
        self._nights[key] = made
        if len(self._nights) > NIGHTS_KEPT:
            self._nights.popitem(last=False)
        return made

    def _stands_at(self, night: PreparedNight, time_s: float) -> tuple[Stand | None, ...]:
        """The stands of a minute; the minute's pictures ask for them again."""
        kept = self._stands
        if kept is None or kept[0] is not night or kept[1] != time_s:
            kept = night, time_s, night.stands_at(_moment(time_s))
            self._stands = kept
        return kept[2]

    def _plan(self, night: PreparedNight) -> Plan:
        """A plan whose common facts are the draft's, to look through a lens by."""
        outing = night.outing
        if self._facts is None:
            alone = replace(night, outing=replace(outing, session=None))
            self._facts = alone.plan(whole_skyline=False)
        return replace(
            self._facts,
            subject=outing.subject,
            camera=outing.camera,
            framing=outing.framing,
            target=outing.target,
            zone=night.sky.zone,
        )


def _arc(one: LensArc) -> dict[str, Any]:
    return {
        "label": one.lens.label,
        "points": [_point(point) for point in one.arc],
        "usable": [_span(span) for span in one.usable],
        "framed": [_span(span) for span in one.framed],
    }


def _point(point: ArcPoint) -> list[Any]:
    """One moment of an arc: place, distance, bearing, pitch, target, skyline, limits."""
    return [
        round(point.lat, 7),
        round(point.lon, 7),
        round(point.distance_m, 3),
        round(point.bearing_deg, 3),
        round(point.pitch_deg, 3),
        round(point.target_altitude_deg, 4),
        round(point.skyline_deg, 4),
        list(point.limits),
    ]


def _check_lens(night: PreparedNight, lens: int) -> None:
    if not 0 <= lens < len(night.outing.lenses):
        raise BackbearingError(f"There is no lens number {lens}", hint="count from 0")


def _stands(stands: Sequence[Stand | None]) -> list[dict[str, Any] | None]:
    return [None if stand is None else _stand(stand) for stand in stands]


def _stand(stand: Stand) -> dict[str, Any]:
    return {
        "lens": stand.lens.label,
        "lat": stand.lat,
        "lon": stand.lon,
        "distance_m": stand.distance_m,
        "bearing_deg": stand.bearing_deg,
        "pitch_deg": stand.pitch_deg,
        "altitude_deg": stand.target_altitude_deg,
        "clearance_deg": stand.clearance_deg,
        "clearance_sigma_deg": stand.clearance_sigma_deg,
        "verdict": stand.verdict,
        "play_minutes": stand.play_minutes,
        "in_frame": stand.in_frame,
        "cautions": list(stand.cautions),
    }


def _span(span: Span) -> list[float]:
    return [span.start.timestamp(), span.end.timestamp()]


def _offsets(night: PreparedNight) -> list[list[float]]:
    """Moments from which on the zone's clock is so many minutes ahead of UTC."""
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(night.sky.zone)
    found: list[list[float]] = []
    for time in night.sky.times:
        ahead = time.astimezone(zone).utcoffset()
        minutes = ahead.total_seconds() / 60.0 if ahead is not None else 0.0
        if not found or found[-1][1] != minutes:
            found.append([time.timestamp(), minutes])
    return found


def _moment(time_s: float) -> dt.datetime:
    if not math.isfinite(time_s) or abs(time_s) > 1e11:
        raise BackbearingError("The moment is no time", hint="give seconds since 1970")
    return dt.datetime.fromtimestamp(time_s, dt.UTC)
