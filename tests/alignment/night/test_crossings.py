from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment import Framing, Subject, crossing_times
from backbearing.base.errors import OutingError
from backbearing.base.geodesy import line_between, point_along
from backbearing.camera import Camera, Lens
from backbearing.sky import CORE, Target, direction

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation

TREE = Subject(lat=36.3726, lon=-84.3602, height_m=6.0)
CAMERA = Camera(36.0, 24.0, 6000, 4000)
LENSES = [Lens(14.0), Lens(50.0)]
JUNE = dt.date(2027, 6, 1)


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


def stand(back_deg: float = 345.0, distance_m: float = 14.0) -> dict[str, float]:
    end = point_along(lat=TREE.lat, lon=TREE.lon, azimuth_deg=back_deg, distance_m=distance_m)
    return {"stand_lat": float(end.lat), "stand_lon": float(end.lon)}


@pytest.mark.slow
def test_target_and_subject_share_an_azimuth_at_every_crossing() -> None:
    here = stand()
    found = crossing_times(**here, subject=TREE, first_night=JUNE, nights=400)
    # One for each sidereal day.
    assert len(found) in (400, 401, 402)
    line = line_between(
        lat1=here["stand_lat"], lon1=here["stand_lon"], lat2=TREE.lat, lon2=TREE.lon
    )
    azimuth, altitude = direction(
        CORE, lat=here["stand_lat"], lon=here["stand_lon"], times=found.instants
    )
    assert azimuth == pytest.approx(float(line.azimuth_deg), abs=1e-5)
    assert [c.altitude_deg for c in found] == pytest.approx(altitude, abs=1e-6)
    assert np.asarray(found).dtype == "datetime64[us]"


@pytest.mark.parametrize("within_deg", [0.2, 3.0])
def test_stretch_ends_at_the_asked_angle(within_deg: float) -> None:
    here = stand()
    found = crossing_times(**here, subject=TREE, first_night=JUNE, nights=5, within_deg=within_deg)
    for one in found:
        assert one.start < one.time < one.end
        for end, sign in ((one.start, -1.0), (one.end, 1.0)):
            azimuth, _ = direction(CORE, lat=here["stand_lat"], lon=here["stand_lon"], times=end)
            assert float(azimuth) - one.azimuth_deg == pytest.approx(sign * within_deg, abs=1e-5)
        assert one.minutes_within == pytest.approx(
            (one.end.timestamp() - one.start.timestamp()) / 60.0, abs=1e-6
        )


def test_a_turn_short_of_the_subject_is_near_and_not_a_crossing() -> None:
    """Polaris swings out to a greatest azimuth; a subject just beyond it is never crossed."""
    polaris = Target.star("Polaris")
    times = np.datetime64("2027-06-02") + np.arange(1440) * np.timedelta64(1, "m")
    azimuth, _ = direction(polaris, lat=TREE.lat, lon=TREE.lon, times=times)
    greatest = float(((azimuth + 180.0) % 360.0 - 180.0).max())
    here = stand((greatest + 0.1 + 180.0) % 360.0)
    found = crossing_times(
        **here, subject=TREE, target=polaris, first_night=JUNE, nights=3, within_deg=0.3
    )
    assert found == []
    assert 2 <= len(found.near) <= 4
    assert "only swings between azimuths" in found.reason
    assert found.instants.size == 0


def test_below_the_horizontal_there_is_a_reason() -> None:
    found = crossing_times(**stand(180.0), subject=TREE, first_night=JUNE, nights=2)
    assert found == []
    assert "below the horizontal" in found.reason


def test_dark_or_not_and_why() -> None:
    found = crossing_times(**stand(), subject=TREE, first_night=dt.date(2027, 1, 1), nights=365)
    causes = {cause for one in found for cause in one.spoilt_by}
    assert {"daylight", "twilight", "moon"} <= causes
    for one in found:
        _, sun = direction(
            Target.body("sun"), **{k[6:]: v for k, v in stand().items()}, times=one.time,
            refraction=False,
        )  # fmt: skip
        assert ("daylight" in one.spoilt_by) == (sun >= -50.0 / 60.0)
        assert ("twilight" in one.spoilt_by) == (-18.0 <= sun < -50.0 / 60.0)
        assert one.dark == (not {"daylight", "twilight", "moon"} & set(one.spoilt_by))
        assert one.usable == (one.sentence == "Nothing spoils it.")


def test_over_the_top_or_behind_the_subject() -> None:
    high = crossing_times(**stand(distance_m=8.0), subject=TREE, first_night=JUNE)[0]
    low = crossing_times(**stand(distance_m=30.0), subject=TREE, first_night=JUNE)[0]
    assert "subject" in high.spoilt_by
    assert high.over_top_deg < 0.0 < low.over_top_deg
    assert "subject" not in low.spoilt_by
    rise = 6.0 - 1.6
    assert low.subject_top_deg == pytest.approx(np.degrees(np.arctan(rise / 30.0)), abs=1e-3)


def test_frames_agree_with_the_camera() -> None:
    found = crossing_times(
        **stand(), subject=TREE, first_night=JUNE, camera=CAMERA, lenses=LENSES,
        framing=Framing(share=0.3, base_margin=0.1),
    )[0]  # fmt: skip
    wide, long = found.frames
    assert wide.in_frame
    assert not long.in_frame
    assert wide.target_x == pytest.approx(0.5, abs=1e-5)
    tall = found.subject_top_deg - found.subject_base_deg
    assert long.share == pytest.approx(tall / 27.0, rel=0.1)  # a 48 mm sees 27 degrees upright


def test_on_real_ground_the_ridge_counts(outing: Outing, elevation: Elevation) -> None:
    found = crossing_times(
        **stand(325.0), subject=outing.subject, first_night=JUNE, nights=3, elevation=elevation,
        clear_by_deg=1.0,
    )  # fmt: skip
    assert all("ridge" in one.spoilt_by for one in found)
    assert found[0].clearance_deg == pytest.approx(
        found[0].altitude_deg - found[0].skyline_deg, abs=1e-9
    )


def test_planets_and_moon_cross_too() -> None:
    found = crossing_times(
        **stand(0.0), subject=TREE, target=Target.body("moon"), first_night=JUNE, nights=10,
        moon="any",
    )  # fmt: skip
    assert 9 <= len(found) <= 10
    assert all(np.isnan(one.lean_deg) for one in found)


def test_nonsense_is_refused() -> None:
    with pytest.raises(OutingError, match="at the subject"):
        crossing_times(stand_lat=TREE.lat, stand_lon=TREE.lon, subject=TREE, first_night=JUNE)
    with pytest.raises(OutingError, match="not above 0"):
        crossing_times(**stand(), subject=TREE, first_night=JUNE, within_deg=0.0)
