"""What a minute is worth: half by its place in the frame, half by its clearance."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from backbearing.scouting.ranking import chunk
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.task import task_of


def test_clearance_counts_up_to_five_degrees_over_the_asked_margin(
    plain_outing, make_candidates, made_ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    level = made_ground(lambda east, north: 100.0)
    there = make_candidates(36.0, -84.0)
    # New Moon is past by three days and the core goes down in the dark.
    evening = dt.date(2027, 9, 3)
    # So low the core stands behind the thing itself: asked for, so that its minutes count.
    framing = replace(plain_outing.framing, behind_subject=True)
    plain_outing = replace(plain_outing, framing=framing)
    task = task_of(plain_outing, lat=36.0, lon=-84.0, first_night=evening, nights=1)
    kept, scored = [], chunk.scored
    monkeypatch.setattr(chunk, "scored", lambda *found: kept.append(found[-1]) or scored(*found))
    chunk.rank_chunk(task, there.frame, Context.of(task, there, level))
    wide = kept[0].looks[0]
    by_clearance = (wide.worth - 0.5 * wide.fit)[0]
    # Hour angles a degree apart. Sgr A* stands at -29.019 degrees (of date, astropy 8.0.2); the
    # air lifts it by Bennett's formula. The skyline of level ground is the horizontal, to some
    # hundredths of a degree; a degree over it is asked for, and from six on more makes no minute
    # better.
    turn, lat, dec = np.radians(np.arange(360)), np.radians(36.0), np.radians(-29.02)
    true = np.degrees(
        np.arcsin(np.sin(lat) * np.sin(dec) + np.cos(lat) * np.cos(dec) * np.cos(turn))
    )
    seen = np.isfinite(by_clearance) & (true > -0.5)
    altitude = true[seen] + 1.0 / np.tan(np.radians(true[seen] + 7.31 / (true[seen] + 4.4))) / 60.0
    assert ((altitude > 1.5) & (altitude < 5.5)).sum() >= 5
    assert altitude.max() > 20.0
    expected = 0.5 * np.clip((altitude - 1.0) / 5.0, 0.0, 1.0)
    assert by_clearance[seen] == pytest.approx(expected, abs=0.01)
