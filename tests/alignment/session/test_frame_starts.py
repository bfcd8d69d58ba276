"""When a lens may begin its frames: the target clear of the subject itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from backbearing.alignment.session.frame_starts import Starts, lens_starts
from backbearing.alignment.session.tasks import jobs_of
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.alignment.stand.scene import Scene
from backbearing.camera import Camera, Lens
from backbearing.outing.subject import Framing, Subject
from backbearing.sky import CORE
from backbearing.sky.windows import DarkWindow

# On the evening of 5 June 2027 the core is about 18 degrees up at 36 north, and rising slowly.
FIRST = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)
CAMERA = Camera(36.0, 24.0, 6000, 4000)
POLE = Subject(lat=36.3726, lon=-84.3602, height_m=30.0, width_m=0.4)


def starts(
    offset_deg: float, *, frames_minutes: float = 2.0, play_deg: float = 1.0, count: int = 1
) -> Starts:
    """A tall pole on level ground, the target beside it by so much, all night dark."""
    framing = Framing(share=0.75, base_margin=0.1, offset_deg=offset_deg, play_deg=play_deg)
    scene = Scene(POLE, 0.0, CORE, CAMERA, framing, None)
    night = DarkWindow(
        start=FIRST - dt.timedelta(hours=2), end=FIRST + dt.timedelta(hours=2),
        evening=dt.date(2027, 6, 5),
    )  # fmt: skip
    times = [FIRST + dt.timedelta(minutes=i) for i in range(count)]
    sky = NightSky(
        zone="UTC", times=tuple(times), dark=(night,), sunless=(night,), clear_by_deg=0.0
    )
    return lens_starts(scene, Lens(24.0), sky, times, frames_minutes)


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize(
    ("gap_deg", "spoilt"),
    [
        (-0.2, True),  # behind the pole itself
        (0.5, True),  # beside it, nearer than the play of a degree
        (1.5, False),
        (1.9, False),
    ],
)
def test_the_target_keeps_off_the_subject_by_the_play(
    side: float, gap_deg: float, *, spoilt: bool
) -> None:
    # Half the pole's width as seen from where it fills three quarters of the frame's height.
    middle = starts(0.0).settled.places
    half = float(np.degrees(np.arctan2(0.2, middle.distance_m[0])))
    assert float(middle.top_altitude_deg[0]) > 25.0  # the pole reaches well over the core
    found = starts(side * (half + gap_deg))
    assert 15.0 < float(found.altitude_deg.max()) < 21.0
    assert found.causes["subject"].tolist() == [spoilt]


@pytest.mark.parametrize(("frames_minutes", "looks"), [(2.0, 3), (4.0, 3), (9.0, 7), (200.0, 61)])
def test_frames_are_looked_at_every_two_minutes_or_sixty_times(
    frames_minutes: float, looks: int
) -> None:
    # An odd number of looks, so that the middle is one of them: six gaps in nine minutes.
    assert starts(5.0, frames_minutes=frames_minutes).altitude_deg.shape == (looks, 1)


def test_a_start_costs_its_missing_room_twice_and_a_millimetre_a_minute() -> None:
    # Forty starts that all hold: the i-th could be 39 - i minutes later, and 15 are asked for.
    # Each minute short of that counts as two minutes' waiting, at three metres each; the walk is
    # Tobler's on level ground without a path, 100 exp(-0.175) 0.6 m a minute, over 1.5 by night.
    found = starts(5.0, count=40)
    # Without a raster the ground behind is unknown; everything else holds.
    one = replace(found, causes={k: v for k, v in found.causes.items() if k != "unknown ground"})
    assert one.allowed.all()
    task: Any = SimpleNamespace(
        scene=SimpleNamespace(subject=POLE),
        minutes=SimpleNamespace(before_frames=9.0, walk_minutes=2.0, frames_minutes=2.0),
    )
    jobs = jobs_of([task], [one], night_factor=1.5, wait_costs_m=3.0, room_minutes=15.0)
    expected = [0.001 * i + 2.0 * 3.0 * max(15.0 - (39 - i), 0.0) for i in range(40)]
    assert jobs.start_cost[0] == pytest.approx(expected)
    assert jobs.metres_per_minute == pytest.approx(33.578, abs=0.001)


def test_starts_without_a_stand_pass_quietly() -> None:
    # A share that no distance gives: every place is unknown, and warnings are errors here.
    framing = Framing(share=0.75, base_margin=0.1, eye_height_m=1.6)
    low = Subject(lat=36.3726, lon=-84.3602, height_m=0.2)
    scene = Scene(low, 0.0, CORE, CAMERA, framing, None)
    night = DarkWindow(
        start=FIRST - dt.timedelta(hours=2), end=FIRST + dt.timedelta(hours=2),
        evening=dt.date(2027, 6, 5),
    )  # fmt: skip
    sky = NightSky("UTC", (FIRST,), (night,), (night,), 0.0)
    found = lens_starts(scene, Lens(14.0), sky, [FIRST], 2.0)
    assert found.causes["no stand"].tolist() == [True]
    assert found.causes["subject"].tolist() == [False]
