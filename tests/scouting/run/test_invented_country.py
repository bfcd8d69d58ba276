"""The invented country that large runs are measured on: seamless ground, the same things always."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

from backbearing.outing.load import load_outing
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from types import ModuleType

BENCHMARKS = Path(__file__).parents[3] / "benchmarks"


@pytest.fixture(scope="module")
def country() -> ModuleType:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(BENCHMARKS))
        import country as found
    return found


@pytest.fixture(scope="module")
def made(country: Any, tmp_path_factory: Any) -> Path:
    folder = tmp_path_factory.mktemp("country")
    small = country.Country(tiles=2, tile_cells=160, block=32)
    assert len(list(country.write_ground(small, folder / "ground"))) == 4
    country.write_outing(small, folder, "candidates.csv", 3, [24.0])
    return folder


def scattered(country: Any, count: int) -> Any:
    place = (country.CELL_M, country.WEST_M, country.NORTH_M, country.CRS)
    return country.Scattering(count, 320, *place)


def test_tiles_meet_without_a_seam_and_do_not_hang_on_one_another(country, made):
    whole = Elevation.open(made / "ground").heights_m
    np.testing.assert_array_equal(whole, country.heights_m(0, 0, 320))
    np.testing.assert_array_equal(whole[160:, 160:], country.heights_m(160, 160, 160))
    # Across the line between two tiles heights differ as they do elsewhere.
    steps = np.abs(np.diff(whole, axis=1)).mean(axis=0)
    assert steps[159] < 1.5 * np.median(steps)
    assert 0.0 < whole.min() < whole.max() < 4_000.0
    assert (country.heights_m(0, 0, 32, seed=8) != country.heights_m(0, 0, 32)).any()


def test_the_outing_reads_its_ground(country, made):
    outing = load_outing(made / "outing.toml")
    subject = outing.subject
    assert np.isfinite(outing.ground.open().height_at(lat=subject.lat, lon=subject.lon))


def test_all_formats_hold_the_same_things(country, made):
    pytest.importorskip("pyarrow")
    scattering = scattered(country, 300)
    forms = ("csv", "geojson", "geojsonl", "gpkg", "parquet")
    files = [country.write_candidates(scattering, made, form) for form in forms]
    first, *others = (read_candidates(file) for file in files)
    # A double within the 300 or another by chance takes one away.
    assert 295 <= len(first) <= 300
    assert len(first.others) == 15
    assert len(first.rejected) >= 2
    columns = ["kind", "height_m", "width_m", "height_is_guess", "access", "note"]
    for other in others:
        pd.testing.assert_frame_equal(
            pd.DataFrame(other.frame[columns]), pd.DataFrame(first.frame[columns])
        )
        np.testing.assert_allclose(other.frame.geometry.x, first.frame.geometry.x, atol=1e-9)


def test_an_extract_holds_them_too(country, made):
    pytest.importorskip("osmium")
    file = country.write_candidates(scattered(country, 300), made, "osm")
    found = read_candidates(file)
    assert 295 <= len(found) <= 300
    assert found.frame["id"].str.startswith("way").sum() >= 2
