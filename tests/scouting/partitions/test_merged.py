"""Parts merged against the whole table sorted at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import geopandas
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Geod

from backbearing.base.errors import OutingError
from backbearing.scouting.partitions import merged
from backbearing.scouting.partitions.geoparquet import DamagedPartError, write_parquet
from backbearing.scouting.partitions.merged import Box, Circle, Wanted, find

if TYPE_CHECKING:
    from pathlib import Path

pytest.importorskip("pyarrow")

ROWS, PARTS = 5000, 7


@pytest.fixture(scope="module")
def table() -> geopandas.GeoDataFrame:
    """Scores with ties and failures, in the order of the file, on both sides of 180 degrees."""
    rng = np.random.default_rng(11)
    score = np.round(rng.uniform(0.0, 99.0, ROWS), 1)
    score[rng.random(ROWS) < 0.1] = np.nan
    score[:40] = 100.0
    lon = (rng.uniform(170.0, 190.0, ROWS) + 180.0) % 360.0 - 180.0
    return geopandas.GeoDataFrame(
        {
            "id": [f"row {i}" for i in range(ROWS)],
            "score": score,
            "row": np.arange(ROWS, dtype=np.int64),
            "best_minutes": list(rng.integers(0, 400, (ROWS, 3)).astype(np.uint16)),
        },
        geometry=geopandas.points_from_xy(lon, rng.uniform(-50.0, -30.0, ROWS)),
        crs="EPSG:4326",
    )


@pytest.fixture(scope="module")
def files(table: geopandas.GeoDataFrame, tmp_path_factory: Any) -> list[Path]:
    """The table in parts, each sorted, of two row groups where there are over 1,000 rows."""
    folder = tmp_path_factory.mktemp("merged")
    # Bands of longitude, so that a box leaves whole parts out.
    part = np.clip(((table.geometry.x.to_numpy() % 360.0) - 170.0) / 20.0 * PARTS, 0, PARTS - 1)
    part[:1200] = 0.0
    paths = []
    for number in range(PARTS):
        some = table[part.astype(int) == number]
        some = some.sort_values(["score", "row"], ascending=[False, True], na_position="last")
        paths.append(write_parquet(some, folder / f"part-{number}.parquet"))
    return paths


def whole(table: geopandas.GeoDataFrame) -> geopandas.GeoDataFrame:
    order = table.sort_values(["score", "row"], ascending=[False, True], na_position="last")
    return order.assign(place=np.arange(1, ROWS + 1))


def check(found: Any, expected: geopandas.GeoDataFrame) -> None:
    assert found.frame["id"].tolist() == expected["id"].tolist()
    ranks = [
        None if np.isnan(s) else p
        for s, p in zip(expected["score"], expected["place"], strict=True)
    ]
    assert (
        found.frame["rank"].astype(object).where(found.frame["rank"].notna(), None).tolist()
        == ranks
    )
    assert found.frame.geometry.x.tolist() == expected.geometry.x.tolist()
    minutes = np.array(expected["best_minutes"].tolist()).reshape(-1, 3)
    np.testing.assert_array_equal(found.minutes.reshape(-1, 3), minutes)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    top=st.integers(1, 3000),
    after=st.integers(0, 5200),
    west=st.floats(-180.0, 180.0),
    wide=st.floats(0.0, 30.0),
    everywhere=st.booleans(),
    failed=st.booleans(),
)
def test_any_page_of_any_box_is_that_of_the_whole(
    table, files, top, after, west, wide, everywhere, failed
):
    east = (west + wide + 180.0) % 360.0 - 180.0
    box = Box(west, -45.0, east, -33.0)
    found = find(files, Wanted(top, after, None if everywhere else box, failed))
    rows = whole(table)
    if not everywhere:
        turn = (rows.geometry.x - west) % 360.0
        rows = rows[(turn <= (east - west) % 360.0) & rows.geometry.y.between(-45.0, -33.0)]
    if not failed:
        rows = rows[rows["score"].notna()]
    check(found, rows.iloc[after : after + top])
    assert (found.done, found.ranked) == (ROWS, int(table["score"].notna().sum()))


def test_within_so_many_metres_of_a_place(table, files):
    found = find(files, Wanted(1000, where=Circle(-40.0, 179.5, 250_000.0)))
    rows = whole(table)
    rows = rows[rows["score"].notna()]
    away = Geod(ellps="WGS84").inv(
        np.full(len(rows), 179.5), np.full(len(rows), -40.0), rows.geometry.x, rows.geometry.y
    )[2]
    # A sphere's distance is within 0.6 % of the ellipsoid's.
    assert set(rows["id"][away < 248_000.0]) <= set(found.frame["id"])
    assert set(found.frame["id"]) <= set(rows["id"][away < 252_000.0])
    assert len(found.frame) > 50


def test_what_cannot_matter_is_not_opened(files, monkeypatch):
    read: list[str] = []
    plain = merged._of_part

    def noted(part: Any, *more: Any) -> Any:
        read.append(part.path.name)
        return plain(part, *more)

    monkeypatch.setattr(merged, "_of_part", noted)
    found = find(files, Wanted(top=30))
    # The 40 best stand in the first part, and no other comes up to them.
    assert read == ["part-0.parquet"]
    assert found.frame["rank"].tolist() == list(range(1, 31))


def test_a_damaged_part_is_named(files, tmp_path):
    broken = tmp_path / "part-9.parquet"
    data = bytearray(files[1].read_bytes())
    data[len(data) // 3] ^= 0xFF
    broken.write_bytes(data)
    with pytest.raises(DamagedPartError, match=r"part-9\.parquet is damaged .*; delete it"):
        find([broken], Wanted(top=3000, failed=True))


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: Wanted(top=0), "1 to 20,000"),
        (lambda: Wanted(top=20_001), "1 to 20,000"),
        (lambda: Wanted(after=-1), "after 0 to"),
        (lambda: Box(0.0, 10.0, 1.0, 5.0), "none on the globe"),
        (lambda: Box(0.0, float("nan"), 1.0, 5.0), "none on the globe"),
        (lambda: Box(-200.0, 0.0, 1.0, 5.0), "none on the globe"),
    ],
)
def test_what_cannot_be_asked_is_refused(ask, said):
    with pytest.raises(OutingError, match=said):
        ask()


def test_no_part_at_all_is_none():
    assert find([], Wanted()) is None
