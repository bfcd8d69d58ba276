"""What a session is worked out from, gathered once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.alignment.session.between_turns import BetweenTurns, StandsOf
from backbearing.alignment.session.schedule import Schedule, best_schedule
from backbearing.alignment.session.tasks import (
    Limits,
    PictureCosts,
    Task,
    jobs_of,
    starts_of_each,
    usable,
)
from backbearing.alignment.session.turn_pictures import Seen, pictures_of
from backbearing.alignment.stand.needed import EVERYTHING, Needed

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.alignment.session.between_turns import Post
    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.schedule import Jobs
    from backbearing.alignment.session.turn_pictures import TurnPictures
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
    post : Post
        The subject as it hides a light.
    needed : Needed
        What of the session is asked for.
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
    post: Post
    needed: Needed = EVERYTHING

    def starts(self, tasks: Sequence[Task], limits: Limits | None = None) -> list[Starts]:
        """All starts of lenses on the session's grid."""
        times = [self.times] * len(tasks)
        asked = limits or self.limits
        return [
            found if found.allowed.any() else found.close_to_the_subject()
            for found in starts_of_each(tasks, self.sky, times, asked, self.ground.places)
        ]

    def pictures(self, starts: Sequence[Starts]) -> list[TurnPictures]:
        """What every lens shows at each start that nothing but closed ground spoils."""
        open_to_all = [usable(one, ("barred",)) for one in starts]
        seen = [
            Seen(task.scene, task.lens, one.settled, one.clearance_deg.min(axis=0), one.middles)
            for task, one in zip(self.tasks, starts, strict=True)
        ]
        return pictures_of(seen, open_to_all, self.asked.picture)

    def between(self, tasks: Sequence[Task], starts: Sequence[Starts]) -> BetweenTurns:
        """What one turn's stand does to the next one's picture and light."""
        stands = [
            StandsOf.of(task.scene, task.lens, one.settled, self.ground.local)
            for task, one in zip(tasks, starts, strict=True)
        ]
        return BetweenTurns.of(self.asked, self.post, stands)

    def costs_of(
        self, tasks: Sequence[Task], starts: Sequence[Starts], pictures: Sequence[TurnPictures]
    ) -> PictureCosts | None:
        """What pictures count in the choice; None where nothing is wished for."""
        wishes, clear_by = self.asked.picture, self.sky.clear_by_deg
        if not pictures:
            return None
        return PictureCosts(
            np.array([one.cost_m(wishes, clear_by) for one in pictures]),
            np.array([one.above_top_deg for one in pictures]),
            wishes.alike_costs_m_per_deg,
            self.between(tasks, starts),
        )

    def jobs(
        self,
        tasks: Sequence[Task],
        starts: Sequence[Starts],
        ignoring: tuple[str, ...] = (),
        pictures: Sequence[TurnPictures] = (),
    ) -> Jobs:
        """Lay lenses out for the scheduler."""
        return jobs_of(
            tasks,
            starts,
            night_factor=self.asked.night_factor,
            wait_costs_m=self.asked.wait_costs_m,
            room_minutes=self.asked.room_minutes,
            ignoring=ignoring,
            pictures=self.costs_of(tasks, starts, pictures),
        )

    def best(
        self,
        tasks: Sequence[Task],
        starts: Sequence[Starts],
        ignoring: tuple[str, ...] = (),
        pictures: Sequence[TurnPictures] = (),
    ) -> Schedule:
        """Put lenses in their best order; without pictures by walking and waiting alone."""
        if not tasks or not self.times:
            return Schedule((), 0.0)
        return best_schedule(self.jobs(tasks, starts, ignoring, pictures))
