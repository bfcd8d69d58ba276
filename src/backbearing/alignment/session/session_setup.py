"""What a session is worked out from, and the clock times asked in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.alignment.session.schedule import Schedule, best_schedule
from backbearing.alignment.session.tasks import (
    Limits,
    Task,
    jobs_of,
    starts_of,
)
from backbearing.base.errors import BackbearingError
from backbearing.base.local_plane import LocalPlane
from backbearing.sky.zones import at_clock, named_zone

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.place import Place


@dataclass(frozen=True, slots=True)
class Work:
    """Everything that a session is computed from, gathered once."""

    outing: Outing
    asked: SessionRequest
    scene: Scene
    sky: NightSky
    zone: str
    places: tuple[Place, ...]
    limits: Limits
    tasks: tuple[Task, ...]
    times: tuple[dt.datetime, ...]

    @property
    def local(self) -> LocalPlane:
        """Metres about the subject."""
        return LocalPlane(self.scene.subject.lat, self.scene.subject.lon)

    def starts(self, task: Task, limits: Limits | None = None) -> Starts:
        """All starts of one lens on the session's grid."""
        at = task.request.at
        pinned = clock_time(self.outing, self.zone, at, "at") if at else None
        found = starts_of(task, self.sky, self.times, limits or self.limits, self.places, pinned)
        return found if found.allowed.any() else found.behind_the_subject()

    def best(
        self, tasks: Sequence[Task], starts: Sequence[Starts], ignoring: tuple[str, ...] = ()
    ) -> Schedule:
        """Put lenses in their best order."""
        if not tasks or not self.times:
            return Schedule((), 0.0)
        jobs = jobs_of(
            tasks,
            starts,
            night_factor=self.asked.night_factor,
            wait_costs_m=self.asked.wait_costs_m,
            room_minutes=self.asked.room_minutes,
            ignoring=ignoring,
        )
        return best_schedule(jobs)


def clock_time(outing: Outing, zone: str, clock: str, key: str) -> dt.datetime:
    """Read a local wall time of the outing's night, UTC."""
    try:
        return at_clock(outing.night.evening, clock, named_zone(zone)).astimezone(dt.UTC)
    except BackbearingError as problem:
        raise outing.refuse("session", key, str(problem)) from problem
