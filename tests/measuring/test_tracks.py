"""GPX tracks in: what is read, and what a hostile file may not do."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import gpxpy.gpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import BackbearingError
from backbearing.measuring.tracks import MOST_FIXES, _seconds, read_track

if TYPE_CHECKING:
    from pathlib import Path

GOOD = (
    '<gpx xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="1" lon="2"/><trk><trkseg>'
    '<trkpt lat="36.5" lon="-84.25"><ele>400</ele><time>2027-03-04T10:00:00Z</time></trkpt>'
    '<trkpt lat="36.6" lon="-84.35"><time>2027-03-04T10:00:01.5Z</time></trkpt>'
    "</trkseg></trk></gpx>"
)


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "still.gpx"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_track_points_are_read_with_their_times(tmp_path: Path) -> None:
    track = read_track(written(tmp_path, GOOD))
    assert track.lat.tolist() == [36.5, 36.6]
    assert track.lon.tolist() == [-84.25, -84.35]
    assert track.time_s.tolist() == [0.0, 1.5]


def test_what_another_library_writes_is_read(tmp_path: Path) -> None:
    gpx = gpxpy.gpx.GPX()
    gpx.tracks.append(gpxpy.gpx.GPXTrack())
    for number in range(3):
        gpx.tracks[0].segments.append(gpxpy.gpx.GPXTrackSegment())
        point = gpxpy.gpx.GPXTrackPoint(36.0 + number, -84.0 - number)
        gpx.tracks[0].segments[-1].points.append(point)
    track = read_track(written(tmp_path, gpx.to_xml()))
    assert track.lat.tolist() == [36.0, 37.0, 38.0]
    assert all(map(math.isnan, track.time_s.tolist()))


POINT = '<gpx><trk><trkseg><trkpt lat="{}" lon="{}"/></trkseg></trk></gpx>'
BOMB = (
    '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    "<gpx><trk><name>&b;</name></trk></gpx>"
)
OUTSIDE = '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><name>&x;</name></gpx>'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (BOMB, "document type"),
        (OUTSIDE, "document type"),
        ("<gpx><trk>", "not well-formed"),
        ("<kml/>", "<kml> for its root"),
        ("<gpx/>", "holds no track"),
        ("<gpx>" + "<a>" * 300 + "</a>" * 300 + "</gpx>", "deep"),
        (POINT.format("nan", "1"), "lat is 'nan'"),
        (POINT.format("91", "1"), "lat is '91'"),
        (POINT.format("1", "inf"), "lon is 'inf'"),
        (POINT.format("1", "1e400"), "lon is '1e400'"),
        (POINT.format("one", "1"), "lat is 'one'"),
        ("<gpx><trk><trkseg><trkpt/></trkseg></trk></gpx>", "lat is 'missing'"),
        (b"\xff\xfe\x00<gpx/>", "well-formed"),
        ("", "is empty"),
    ],
)
def test_a_hostile_or_broken_file_gets_one_sentence(
    tmp_path: Path, text: str | bytes, said: str
) -> None:
    with pytest.raises(BackbearingError, match=said) as caught:
        read_track(written(tmp_path, text))
    assert "\n" not in str(caught.value)


def test_more_fixes_than_anybody_records_are_refused(tmp_path: Path) -> None:
    points = '<trkpt lat="1" lon="2"/>' * (MOST_FIXES + 1)
    with pytest.raises(BackbearingError, match="more than 200,000 fixes"):
        read_track(written(tmp_path, f"<gpx><trk><trkseg>{points}</trkseg></trk></gpx>"))


def test_a_folder_and_a_missing_file_are_said(tmp_path: Path) -> None:
    with pytest.raises(BackbearingError, match="is a folder"):
        read_track(tmp_path)
    with pytest.raises(BackbearingError, match="There is no file of a GPX track"):
        read_track(tmp_path / "none.gpx")


@given(st.text(max_size=60))
def test_any_time_is_seconds_or_unknown(text: str) -> None:
    found = _seconds(text)
    assert math.isnan(found) or math.isfinite(found)


@given(st.binary(max_size=300))
def test_any_bytes_are_a_track_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = written(tmp_path_factory.getbasetemp(), b"<gpx><trk><trkseg>" + data)
    with pytest.raises(BackbearingError):
        read_track(path)
