"""When a lens may begin its frames: the target clear of the subject itself."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from backbearing.alignment.session.frame_starts import Starts, lens_starts
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.alignment.stand.scene import Scene
from backbearing.camera import Camera, Lens
from backbearing.outing.subject import Framing, Subject
from backbearing.sky import CORE
from backbearing.sky.windows import DarkWindow

# On the evening of 5 June 2027 the core is about 18 degrees up at 36 north, and rising slowly.
FIRST = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)
CAMERA = Camera(36.0, 24.0, 6016, 4016)
POLE = Subject(lat=36.37262, lon=-84.36021, height_m=30.0, width_m=0.4)


def starts(offset_deg: float, *, frames_minutes: float = 2.0, play_deg: float = 1.0) -> Starts:
    """A tall pole on level ground, the target beside it by so much, all night dark."""
    framing = Framing(share=0.75, base_margin=0.1, offset_deg=offset_deg, play_deg=play_deg)
    scene = Scene(POLE, 0.0, CORE, CAMERA, framing, None)
    night = DarkWindow(
        start=FIRST - dt.timedelta(hours=2), end=FIRST + dt.timedelta(hours=2),
        evening=dt.date(2027, 6, 5),
    )  # fmt: skip
    sky = NightSky((FIRST,), (night,), (night,), 0.0)
    return lens_starts(scene, Lens(24.0), sky, [FIRST], frames_minutes)


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
