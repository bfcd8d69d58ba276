"""What a session is worked out from, gathered once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.alignment.session.schedule import Schedule, best_schedule
from backbearing.alignment.session.tasks import (
    Limits,
    Task,
    jobs_of,
    starts_of_each,
)

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.walks_between import WalkedGround
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.place import Place


@dataclass(frozen=True, slots=True)
class SessionSetup:
    """Everything that a session is computed from.

    Attributes
    ----------
    outing : Outing
    asked : SessionRequest
        The outing's session.
    scene : Scene
    sky : NightSky
    ground : WalkedGround
        What walks are measured on.
    parking : Place or None
        Where the session is walked to from.
    limits : Limits
    tasks : tuple of Task
        One for each lens.
    times : tuple of datetime
        Whole minutes at which frames may begin, UTC.
    """

    outing: Outing
    asked: SessionRequest
    scene: Scene
    sky: NightSky
    ground: WalkedGround
    parking: Place | None
    limits: Limits
    tasks: tuple[Task, ...]
    times: tuple[dt.datetime, ...]

    def starts(self, tasks: Sequence[Task], limits: Limits | None = None) -> list[Starts]:
        """All starts of lenses on the session's grid."""
        times = [self.times] * len(tasks)
        asked = limits or self.limits
        return [
            found if found.allowed.any() else found.behind_the_subject()
            for found in starts_of_each(tasks, self.sky, times, asked, self.ground.places)
        ]

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
