"""Nearer ground and the Moon for the picture of the skyline."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from backbearing.alignment import Plan


def test_nearer_ground_never_rises_above_farther(plan: Plan) -> None:
    layers = [np.array(layer.altitudes_deg) for layer in plan.ground_within]
    assert [layer.within_m for layer in plan.ground_within] == [500.0, 1_500.0, 5_000.0, 15_000.0]
    skyline = np.array([p.altitude_deg for p in plan.skyline])
    for nearer, farther in zip(layers, [*layers[1:], skyline], strict=True):
        # Sight lines are fitted to some millimetres, anew for each reach.
        assert np.all(nearer <= farther + 5e-4)


def test_the_young_moon_sets_early(deep_valley_plan: Plan) -> None:
    plan = deep_valley_plan
    # New Moon on 2027-06-04 at 19:40 UTC (ephem 4.2.1): down before the core is up that night.
    assert all(p.altitude_deg > 0.0 for p in plan.moon_path)
    moonset = next(e.time for e in plan.events if e.name == "moonset")
    assert all(p.time <= moonset or p.altitude_deg < 0.6 for p in plan.moon_path)
