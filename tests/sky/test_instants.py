from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from backbearing.base.errors import SkyError
from backbearing.sky.instants import aware, mjd_parts, utc_array, utc_from_mjd

ADDIS = ZoneInfo("Africa/Addis_Ababa")


def test_all_kinds_of_instants_agree() -> None:
    there = datetime(2027, 6, 12, 23, 40, tzinfo=ADDIS)
    utc = np.datetime64("2027-06-12T20:40")
    assert utc_array(there) == utc
    assert utc_array([there, there.astimezone(UTC)]).tolist() == [utc.astype("O")] * 2
    assert utc_array(utc).dtype == np.dtype("datetime64[us]")
    assert utc_array([[there], [there]]).shape == (2, 1)


def test_no_instants_are_an_empty_array_of_instants() -> None:
    assert utc_array([]).dtype == np.dtype("datetime64[us]")
    assert utc_array(()).shape == (0,)


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (datetime(2027, 6, 12, 23, 40), "has no time zone"),  # noqa: DTZ001
        ([datetime(2027, 6, 12, 23, 40)], "has no time zone"),  # noqa: DTZ001
        (np.array(["2027-06-12", "NaT"], dtype="datetime64[s]"), "missing"),
        (np.array([1.0, 2.0]), "not instants"),
        (["tonight", None], "not an? instant"),
        ("2027-06-12", "not instants"),
    ],
)
def test_other_things_are_refused(bad: object, says: str) -> None:
    with pytest.raises(SkyError, match=says):
        utc_array(bad)


def test_days_and_fractions() -> None:
    utc = np.array(["1858-11-17", "2000-01-01T12:00", "1858-11-16T18:00"], dtype="datetime64[us]")
    day, fraction = mjd_parts(utc)
    assert day.tolist() == [0, 51544, -1]
    assert fraction.tolist() == [0.0, 0.5, 0.75]
    assert (utc_from_mjd(day + fraction) == utc).all()
    assert aware(utc[1]) == datetime(2000, 1, 1, 12, tzinfo=UTC)
