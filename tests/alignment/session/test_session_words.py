"""How a session is said: as many lenses as there are."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import pytest

from backbearing.alignment.session.session_words import session_sentence
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.camera.bodies_and_lenses import Lens

if TYPE_CHECKING:
    from collections.abc import Sequence

FIRST = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)


@dataclass
class Turn:
    """What the sentence reads of a turn, or of a lens without one."""

    lens: Lens
    frames_start: dt.datetime
    frames_end: dt.datetime


def turns(focal_lengths_mm: Sequence[float]) -> Any:
    hour = dt.timedelta(hours=1)
    return [
        Turn(Lens(focal_length_mm=focal), FIRST + i * hour, FIRST + (i + 0.5) * hour)
        for i, focal in enumerate(focal_lengths_mm)
    ]


@pytest.mark.parametrize(
    ("taken", "left", "begins"),
    [
        ([24.0], [], "The one lens has its turn: 24 mm at 04:00; done at 04:30."),
        (
            [24.0],
            [40.0],
            "1 of 2 lenses has a turn: 24 mm at 04:00; done at 04:30. Left",
        ),
        ([24.0, 40.0], [], "2 of 2 lenses have a turn: 24 mm at 04:00, 40 mm at 05:00; done"),
        ([], [24.0], "No lens has a turn this night: 24 mm."),
    ],
)
def test_one_lens_is_not_said_in_the_plural(
    taken: list[float], left: list[float], begins: str
) -> None:
    sky = NightSky(zone="UTC", times=(), dark=(), sunless=(), clear_by_deg=1.0)
    said = session_sentence(turns(taken), cast("Any", turns(left)), sky)
    assert said.startswith(begins)
