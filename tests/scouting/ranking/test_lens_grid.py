"""What a minute is worth: half by its place in the frame, half by its clearance."""

from __future__ import annotations

import numpy as np
import pytest
from backbearing.scouting.ranking.stand_solver import ManyProblem

from backbearing.scouting.ranking.chunk import _group
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.hour_angle_grid import sight_over
from backbearing.scouting.ranking.lens_grid import lens_nodes
from backbearing.scouting.ranking.task import task_of


def test_clearance_counts_up_to_five_degrees_over_the_asked_margin(
    plain_outing, make_candidates, made_ground
) -> None:
    level = made_ground(lambda east, north: 100.0)
    there = make_candidates(36.0, -84.0)
    task = task_of(plain_outing, lat=36.0, lon=-84.0, nights=1)
    context = Context.of(task, there, level)
    lat, lon = np.array([36.0]), np.array([-84.0])
    group = _group(there.frame, lat, lon, context)
    nodes = np.arange(300, 360)  # the core rises in the south-east, and 60 degrees on it culminates
    sight = sight_over(
        nodes=nodes, dec_deg=context.clock.dec_deg, lat=lat, height_m=np.array([100.0])
    )
    wide = ManyProblem.of(
        group, task.camera, task.lenses[0].lens, task.framing_of(0), task.ground.refraction_k
    )
    found = lens_nodes(context, wide, sight, sight.altitude_deg >= -1.0)
    by_clearance = (found.worth - 0.5 * found.fit)[0, nodes]
    # The skyline of level ground is the horizontal, to some hundredths of a degree; a degree is
    # asked for, and from six on more makes no minute better.
    altitude = sight.altitude_deg[0]
    some = np.isfinite(by_clearance)
    assert some[(altitude > 0.5) & (altitude < 20.0)].all()
    assert ((altitude > 1.5) & (altitude < 5.5)).sum() >= 3
    expected = 0.5 * np.clip((altitude - 1.0) / 5.0, 0.0, 1.0)
    assert by_clearance[some] == pytest.approx(expected[some], abs=0.01)
