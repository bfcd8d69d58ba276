"""The same questions give the same bytes, whatever the process did before."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.terrain import Elevation
from invented import hill, write_ground

if TYPE_CHECKING:
    from pathlib import Path


def test_a_raster_just_opened_answers_alike_whatever_was_asked_of_others(tmp_path: Path) -> None:
    """The compiled march and the plain one differ in the last bits."""
    path = write_ground(tmp_path / "hill.tif", hill(120.0, 500.0), lat=46.0, lon=8.0)
    asked: dict[str, Any] = {
        "lat": 46.003, "lon": 8.001, "azimuths_deg": np.arange(0.0, 360.0, 7.0),
    }  # fmt: skip

    def answers() -> tuple[bytes, bytes]:
        opened = Elevation.open(path)
        many = opened.skylines(**asked, to_the_last_bit=False).altitudes_deg
        return many.tobytes(), opened.horizon(**asked).altitudes_deg.tobytes()

    first = answers()
    Elevation.open(path).skylines(**asked)  # loads the compiled march
    assert answers() == first
