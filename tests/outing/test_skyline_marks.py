"""[[skyline_mark]] and tables of marks: what is read, what is refused, what is written."""

from __future__ import annotations

import copy
import datetime as dt
from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import OutingError
from backbearing.outing.append_marks import append_marks, marks_csv
from backbearing.outing.load import load_outing
from backbearing.outing.mark_rows import read_marks
from backbearing.outing.marks_request import MarkRequest, MarksRequest, ReadFrom
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

EVENING = dt.date(2027, 5, 8)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_outing(tmp_path, lat=-31.2, lon=149.1, evening=EVENING, raster={"half_m": 300.0})
    return tmp_path / "outing.toml"


def added(path: Path, more: str, ground: str = "") -> MarksRequest:
    text = path.read_text(encoding="utf-8")
    text = text.replace("[ground]\n", f"[ground]\n{ground}\n") + more
    path.write_text(text, encoding="utf-8")
    return load_outing(path).ground.marks


def test_marks_of_all_kinds_are_read(path: Path) -> None:
    marks = added(
        path,
        """
[[skyline_mark]]
azimuth_deg = 150
altitude_deg = 9.5
distance_m = 80
[[skyline_mark]]
compass_deg = 140
declination_deg = 11.5
altitude_deg = 8
sigma_deg = 0.25
azimuth_sigma_deg = 1.5
eye_height_m = 1.7
from = { bearing_deg = 330, distance_m = 20 }
[[skyline_mark]]
azimuth_deg = 160
altitude_deg = 7
from = { lat = "31 12 0 S", lon = 149.1001 }
[[skyline_mark]]
azimuth_deg = 170
altitude_deg = 7
from = "the gate"
""",
    )
    assert marks.readings[0] == MarkRequest(9.5, azimuth_deg=150.0, distance_m=80.0)
    assert marks.readings[1].read_from == ReadFrom("", None, None, 330.0, 20.0)
    assert marks.readings[1].azimuth_doubt_deg == 1.5
    assert marks.readings[2].read_from == ReadFrom("", -31.2, 149.1001)
    assert marks.readings[3].read_from == ReadFrom("the gate")
    assert not marks.correct
    assert hash(marks) == hash(copy.deepcopy(marks))


def test_a_table_beside_the_outing_is_read(path: Path) -> None:
    (path.parent / "marks.csv").write_text(
        "# read on a Sunday\n"
        "altitude_deg,azimuth_deg,compass_deg,distance_m,from_lat,from_lon,sigma_deg\n"
        "9.5,150,,80,,,\n8,,141,,-31.2001,149.1,0.2\n",
        encoding="utf-8-sig",
    )
    marks = added(path, "", 'skyline_marks = "marks.csv"\nmarks_correct = true')
    assert marks.correct
    assert marks.readings[0] == MarkRequest(9.5, azimuth_deg=150.0, distance_m=80.0)
    assert marks.readings[1] == MarkRequest(
        8.0, compass_deg=141.0, sigma_deg=0.2, read_from=ReadFrom("", -31.2001, 149.1)
    )


def test_an_outing_without_marks_has_none(path: Path) -> None:
    ground = load_outing(path).ground
    assert not ground.marks
    assert "marks=" not in repr(ground)


@pytest.mark.parametrize(
    ("section", "ground", "says"),
    [
        ("azimuth_deg = 10\naltitude_deg = 95", "", "altitude_deg.*-45 to 85"),
        ("azimuth_deg = 10\naltitude_deg = nan", "", "altitude_deg.*finite"),
        ("azimuth_deg = 10\naltitude_deg = 1e308", "", "altitude_deg.*-45 to 85"),
        ("altitude_deg = 5", "", "either azimuth_deg .* or compass_deg"),
        ("azimuth_deg = 1\ncompass_deg = 1\naltitude_deg = 5", "", "either azimuth_deg"),
        ("azimuth_deg = 10", "", "altitude_deg is missing"),
        ("azimuth_deg = 10\naltitude_deg = 5\nsigma_deg = 0", "", "sigma_deg.*0.001"),
        ("azimuth_deg = 10\naltitude_deg = 5\ndistance_m = -4", "", "distance_m.*1 to"),
        ("azimuth_deg = 10\naltitude_deg = 5\nfrom = {lat = 3}", "", "name in quotes"),
        ("azimuth_deg = 10\naltitude_deg = 5\nfrom = 7", "", "from"),
        ("azimuth_deg = 10\naltitude_deg = 5\nfrom = {latt = 3}", "", "latt.*did you mean lat"),
        ("azimuth_deg = 10\naltitude_deg = 5\ndistnce_m = 3", "", "did you mean distance_m"),
        ("azimuth_deg = 1\naltitude_deg = 5\ndeclination_deg = 3", "", "goes with compass_deg"),
        ("azimuth_deg = '10'\naltitude_deg = 5", "", "azimuth_deg.*without quotes"),
        ("azimuth_deg = 10\naltitude_deg = 5", "marks_correct = 1", "marks_correct.*true or false"),
        ("azimuth_deg = 10\naltitude_deg = 5", "marks_correct = true\nmarks_tilt_deg = 1",
         "corrected in two ways"),
        ("", "marks_tilt_deg = 1", "no skyline marks to correct"),
        ("", 'skyline_marks = "none.csv"', "There is no file of skyline marks"),
    ],
)  # fmt: skip
def test_what_is_no_mark_is_refused_in_one_sentence(
    path: Path, section: str, ground: str, says: str
) -> None:
    more = f"\n[[skyline_mark]]\n{section}\n" if section else ""
    with pytest.raises(OutingError, match=says) as caught:
        added(path, more, ground)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_the_refusal_says_which_mark(path: Path) -> None:
    good = "\n[[skyline_mark]]\nazimuth_deg = 10\naltitude_deg = 5\n"
    with pytest.raises(OutingError, match=r"\[\[skyline_mark\]\] number 2, sigma_deg"):
        added(path, good + good + "sigma_deg = 99\n")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("\n\n# nothing\n", "lacks altitude_deg"),
        ("azimuth,altitude\n1,2\n", "has the column 'azimuth'"),
        ("azimuth_deg;altitude_deg\n1;2\n", "not separated by commas"),
        ("azimuth_deg,distance_m\n1,2\n", "lacks altitude_deg"),
        ("azimuth_deg,azimuth_deg,altitude_deg\n1,1,2\n", "a column twice"),
        ("azimuth_deg,altitude_deg\n1,nan\n", "has 'nan' as altitude_deg in line 2"),
        ("azimuth_deg,altitude_deg\n1,inf\n", "has 'inf' as altitude_deg in line 2"),
        ("azimuth_deg,altitude_deg\n1,1e308\n", "has '1e308' as altitude_deg in line 2"),
        ("azimuth_deg,altitude_deg\n1e308,3\n", "has '1e308' as azimuth_deg in line 2"),
        ("azimuth_deg,altitude_deg\n1,4\n2,high\n", "has 'high' as altitude_deg in line 3"),
        ("azimuth_deg,altitude_deg\n1,4\n2\n", "has 1 cells in line 3"),
        ("azimuth_deg,altitude_deg\n1,\n", "has no altitude_deg in line 2"),
        ("azimuth_deg,compass_deg,altitude_deg\n1,1,5\n", "has not one azimuth in line 2"),
        ("azimuth_deg,altitude_deg,from_lat\n1,5,-31\n", "has half a place in line 2"),
        ('azimuth_deg,altitude_deg\n"1,4\n', "cannot be read in line 2"),
        ("azimuth_deg,altitude_deg\n" + "1,2\n" * 100_000, "has 100,000 rows"),
        ("azimuth_deg,altitude_deg\n" + "100.25,2.125\n" * 100_000, "is larger than 1 MB"),
        ("azimuth_deg,altitude_deg\n1,１\n", "has '１' as altitude_deg"),
        ("\x00\x01\x02", "has the column"),
    ],
)  # fmt: skip
def test_hostile_tables_get_one_sentence(tmp_path: Path, text: str, says: str) -> None:
    table = tmp_path / "marks.csv"
    table.write_text(text, encoding="utf-8")
    with pytest.raises(OutingError, match=says) as caught:
        read_marks(table)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_a_table_of_no_text_is_refused(tmp_path: Path) -> None:
    table = tmp_path / "marks.csv"
    table.write_bytes(b"azimuth_deg,altitude_deg\n\xff\xfe\n")
    with pytest.raises(OutingError, match="not UTF-8"):
        read_marks(table)


MARKS = (
    MarkRequest(9.5, azimuth_deg=150.0, distance_m=80.0),
    MarkRequest(8.25, compass_deg=141.5, sigma_deg=0.2, read_from=ReadFrom("", -31.2001, 149.1)),
)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_writing_marks_changes_nothing_else_and_reads_back(path: Path, line_end: str) -> None:
    text = "# mine\n" + path.read_text(encoding="utf-8").rstrip("\n")
    before = text.replace("\n", line_end).encode("utf-8")
    path.write_bytes(before)
    stands_by = (
        *MARKS,
        MarkRequest(3.0, azimuth_deg=9.0, read_from=ReadFrom("", None, None, 330.0, 20.0)),
    )
    assert append_marks(path, stands_by) == path.resolve()
    after = path.read_bytes()
    assert after.startswith(before)
    assert (b"\r\n" in after) is (line_end == "\r\n")
    assert after.count(b"\n") - after.count(b"\r\n") in (0, after.count(b"\n"))
    assert load_outing(path).ground.marks.readings == stands_by
    append_marks(path, MARKS[:1])
    assert load_outing(path).ground.marks.readings == (*stands_by, MARKS[0])


def test_what_would_be_no_outing_is_not_written(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(OutingError, match="altitude_deg"):
        append_marks(path, [MarkRequest(89.0, azimuth_deg=1.0)])
    assert path.read_bytes() == before


def test_a_table_that_is_written_reads_back(tmp_path: Path) -> None:
    table = tmp_path / "marks.csv"
    table.write_text(marks_csv(MARKS), encoding="utf-8")
    assert read_marks(table) == MARKS
    with pytest.raises(OutingError, match="latitude and longitude"):
        marks_csv([MarkRequest(3.0, azimuth_deg=9.0, read_from=ReadFrom("the gate"))])


def test_marks_stay_where_they_were_read_when_a_subject_moves() -> None:
    stand = MarkRequest(3.0, azimuth_deg=9.0, read_from=ReadFrom("", None, None, 0.0, 1110.0))
    kept = MarksRequest((*MARKS, stand)).kept_at(lat=10.0, lon=20.0)
    assert kept.readings[0].read_from == ReadFrom("", 10.0, 20.0)
    assert kept.readings[1] == MARKS[1]
    there = kept.readings[2].read_from
    # A minute of latitude is 1,843 m at 10 degrees (WGS84).
    assert there.lat == pytest.approx(10.01003, abs=1e-4)
    assert there.lon == pytest.approx(20.0)
