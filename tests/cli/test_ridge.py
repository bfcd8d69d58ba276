"""``backbearing ridge --json``: the whole skyline as numbers, and strict JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from backbearing.cli.ridge import command

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.slow
def test_the_skyline_is_printed_as_numbers(tmp_path: Path, sample_text: str) -> None:
    path = tmp_path / "outing.toml"
    path.write_text(sample_text, encoding="utf-8")
    done = CliRunner().invoke(
        command, [str(path), "--json"], standalone_mode=False, catch_exceptions=False
    )

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON")

    said = json.loads(done.stdout, parse_constant=refuse)
    assert said["format"] == "backbearing-ridge"
    view = said["view"]
    horizon = view["horizon"]
    # A quarter of a degree apart, all round.
    assert horizon["azimuths_deg"][:3] == [0.0, 0.25, 0.5]
    assert len(horizon["altitudes_deg"]) == len(horizon["distances_m"]) == 1440
    assert all(isinstance(one, float) for one in horizon["azimuths_deg"])
    # The target over the skyline right below it, from the picture's own grid, roughly.
    assert view["path"]
    for point in view["path"]:
        below = horizon["altitudes_deg"][round(point["azimuth_deg"] * 4) % 1440]
        assert abs(point["skyline_deg"] - below) < 2.0
        assert point["clearance_deg"] == point["altitude_deg"] - point["skyline_deg"]
