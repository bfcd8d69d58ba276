"""Candidates from tables and GeoJSON: what is read, filled in, refused and joined."""

from __future__ import annotations

import json
import unicodedata

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import OutingError
from backbearing.outing.subject import Subject
from backbearing.scouting.reading.candidate_table import COLUMNS
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.reading.kinds import KINDS, kind_named, kind_of_tags
from backbearing.tables.cleaned import clean
from backbearing.tables.limits import LARGEST_BYTES

HEADER = "name,lat,lon,height_m,width_m,kind\n"


@pytest.fixture
def csv(tmp_path):
    def write(text: str | bytes, name: str = "list.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return path

    return write


def test_a_table_becomes_points_with_its_sizes(csv):
    found = read_candidates(
        csv(HEADER + "Averil Chapel,36.3726,-84.3602,6,5,tree\nOld barn,36.4,-84.4,,,Barns\n")
    )
    frame = found.frame
    assert list(frame.columns) == [*COLUMNS, "geometry"]
    assert frame.crs.to_epsg() == 4326
    assert list(frame.index) == [0, 1]
    assert frame["id"].tolist() == ["row 2", "row 3"]
    assert frame["name"].tolist() == ["Averil Chapel", "Old barn"]
    assert frame["kind"].tolist() == ["tree", "barn"]
    assert (frame.geometry.y[0], frame.geometry.x[0]) == (36.3726, -84.3602)
    assert frame["height_m"].tolist() == [6.0, KINDS["barn"].height_m]
    assert frame["height_is_guess"].tolist() == [False, True]
    assert frame["width_is_guess"].tolist() == [False, True]
    assert frame["access"].tolist() == ["unknown", "unknown"]
    assert found.rejected == ()
    assert len(found) == 2


def test_a_guessed_width_keeps_the_kinds_proportions(csv):
    frame = read_candidates(csv(HEADER + "a,1,2,16,,tree\n")).frame
    tree = KINDS["tree"]
    assert frame["width_m"][0] == pytest.approx(tree.width_m * 16.0 / tree.height_m)


def test_every_candidate_makes_a_subject(csv):
    rows = "".join(f"x{i},{i},{-i},,,{kind}\n" for i, kind in enumerate(KINDS))
    found = read_candidates(csv(HEADER + rows))
    assert len(found.frame) + len(found.others) == len(KINDS)
    for row in found.frame.itertuples():
        Subject(lat=row.geometry.y, lon=row.geometry.x, height_m=row.height_m, width_m=row.width_m)


def test_lines_are_counted_as_the_file_counts(csv):
    text = HEADER + '"two\nlines",1,1,,,tree\n\nbad,95,100,,,tree\r\nlast,2,2,x,,tree\n'
    found = read_candidates(csv(text))
    assert found.frame["name"].tolist() == ["two lines"]
    assert [r.row for r in found.rejected] == [5, 6]
    assert found.rejected[0].reason == (
        "Row 5: lat 95, lon 100 lies off the globe; write WGS84 degrees."
    )
    assert found.rejected[1].reason == (
        "Row 6: height_m is 'x'; write a number in metres, without a unit."
    )


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ('a,"48,12",1,,,tree', "lat is '48,12'; write a decimal point: 48.12"),
        ("a,48,12,1,5,,,tree", "has 8 cells and the header 6"),
        ("a,48", "has 2 cells and the header 6"),
        ("a,nan,1,,,tree", "lat is 'nan'; write a number"),
        ("a,inf,1,,,tree", "lat is 'inf'; write a number"),
        ("a,1e999,1,,,tree", "write a finite number"),
        ("a,1_0,1,,,tree", "lat is '1_0'; write a number"),
        ("a,١,1,,,tree", "write a number"),
        ("a,,1,,,tree", "lat is missing; write WGS84 degrees"),
        ("a,,,,,tree", "lat and lon are missing"),
        ("a,100,20,,,tree", "are lat and lon swapped?"),
        ("a,1,181,,,tree", "lies off the globe"),
        ("a,1,1,0,,tree", "height_m is 0; write metres from 0.05 to 2,000"),
        ("a,1,1,-3,,tree", "height_m is -3"),
        ("a,1,1,1e-300,,tree", "height_m is 1e-300"),
        ("a,1,1,5,9000,tree", "width_m is 9000"),
        ("a,1,1,40 ft,,tree", "without a unit"),
    ],
)
def test_a_bad_row_is_said_and_the_rest_goes_on(csv, cells, said):
    found = read_candidates(csv(HEADER + cells + "\ngood,1,1,,,tree\n"))
    assert len(found.frame) == 1
    assert len(found.rejected) == 1
    assert found.rejected[0].row == 2
    assert said in found.rejected[0].reason
    assert found.rejected[0].reason.endswith(".")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name;lat;lon\na;48,1;2,3\n", "separates its columns by semicolons"),
        ("name\tlat\tlon\na\t1\t2\n", "separates its columns by tabs"),
        ("name,latitude,lon\n", "has no column lat"),
        ("lat,lon,lat\n1,2,3\n", "has the column lat twice"),
        ('lat,lon\n"1,2\n', "close its quotes"),
        (HEADER, "holds no place that can be a candidate"),
        (HEADER, "it is empty; write a row or feature for each place"),
        (b"name,lat,lon\n\xff\xfe,1,2\n", "is not UTF-8 text"),
        ("a,b\n".encode("utf-16"), "is not UTF-8 text"),
        (b"", "is empty"),
        (b"\n\n", "has no column lat"),
        ('lat,lon,name\n1,2,"' + "x" * 200_000 + '"\n', "near line 2"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_in_a_sentence(csv, text, said):
    with pytest.raises(OutingError, match=r"list\.csv") as refused:
        read_candidates(csv(text))
    assert said in str(refused.value)


def test_a_byte_order_mark_and_other_columns_do_no_harm(csv):
    found = read_candidates(csv("\ufeffLAT,Lon ,remark,,\n1,2,hello,x,y\n"))
    assert (found.frame.geometry.y[0], found.frame.geometry.x[0]) == (1.0, 2.0)
    assert found.frame["kind"][0] == "other"
    assert found.notes == ("Columns that are not read here: 'remark', ' 3', ' 4'.",)


def test_a_kind_that_is_not_known_is_kept_as_a_note(csv):
    found = read_candidates(csv("lat,lon,kind\n1,2,Hay wagon\n3,4,lone_tree\n"))
    assert found.frame["kind"].tolist() == ["other", "tree"]
    assert found.frame["note"].tolist() == ["of kind Hay wagon", ""]
    assert found.frame["name"].tolist() == ["place, row 2", "tree, row 3"]


def test_roles_and_kinds_part_subjects_from_clutter(csv):
    found = read_candidates(
        csv("lat,lon,kind,role\n1,1,tree,\n2,2,tree,clutter\n3,3,house,\n4,4,house,Candidate\n")
    )
    assert found.frame["id"].tolist() == ["row 2", "row 5"]
    assert found.others["id"].tolist() == ["row 3", "row 4"]
    said = "1 row counts as clutter by its kind (houses); give it the role candidate to have it"
    assert found.notes == (f"{said} ranked.",)


@pytest.mark.parametrize(("column", "word"), [("access", "shut"), ("role", "subject")])
def test_a_word_that_is_not_known_is_no_guess(csv, column, word):
    found = read_candidates(csv(f"lat,lon,{column}\n1,1,{word}\n"))
    assert len(found.frame) == 0
    assert f"{column} is {word!r}; write one of" in found.rejected[0].reason


def test_doubles_are_joined_and_said(csv):
    found = read_candidates(
        csv(
            HEADER
            + ",45,7,,,tree\nOak,45.000005,7,9,,tree\nhut,45,7,,,hut\nfar,45.00002,7,,,tree\n"
        )
    )
    assert found.frame["name"].tolist() == ["Oak", "hut", "far"]
    assert found.frame["height_m"].tolist() == [9.0, KINDS["hut"].height_m, KINDS["tree"].height_m]
    assert not found.frame["height_is_guess"][0]
    assert [r.row for r in found.rejected] == [3]
    assert found.rejected[0].reason == (
        "Row 3: the same kind in the same place as row 2, 0.6 m off; joined with it."
    )


def test_doubles_are_found_across_the_antimeridian_and_at_the_pole(csv):
    found = read_candidates(
        csv("lat,lon,kind\n10,180,tree\n10,-180,tree\n90,0,tree\n90,120,tree\n")
    )
    assert found.frame["id"].tolist() == ["row 2", "row 4"]
    assert [r.row for r in found.rejected] == [3, 5]


@given(
    steps=st.lists(
        st.tuples(st.integers(-30, 30), st.integers(-30, 30), st.sampled_from("ab")),
        min_size=1,
        max_size=40,
    )
)
def test_no_two_of_what_stays_are_doubles_and_every_double_is_near_one_that_stays(steps):
    from backbearing.base.geodesy import line_between
    from backbearing.scouting.reading.duplicates import doubles

    lat = np.array([48.0 + y * 3e-6 for y, _, _ in steps])
    lon = np.array([11.0 + x * 4e-6 for _, x, _ in steps])
    group = np.array([g for _, _, g in steps])
    found = doubles(lat=lat, lon=lon, group=group, among=np.ones(len(lat), dtype=bool))
    stays = [i for i in range(len(lat)) if i not in found]
    for i in stays:
        for j in stays:
            if i < j and group[i] == group[j]:
                line = line_between(lat1=lat[i], lon1=lon[i], lat2=lat[j], lon2=lon[j])
                assert line.distance_m > 0.9999
    for i, (first, metres) in found.items():
        assert first in stays
        assert first < i
        assert group[i] == group[first]
        line = line_between(lat1=lat[i], lon1=lon[i], lat2=lat[first], lon2=lon[first])
        assert metres == pytest.approx(float(line.distance_m), abs=1e-4)


def test_thousands_in_one_place_are_joined_without_harm(csv):
    found = read_candidates(csv("lat,lon,kind\n" + "45.1,7.2,tree\n" * 5000))
    assert len(found.frame) == 1
    assert len(found.rejected) == 4999


HOSTILE = [
    "\u202egnirts",
    "a\u2066b",
    "\x1b[31mred",
    "tab\there",
    "nul\x00",
    "\u200bzero",
    "<script>alert(1)</script>",
    "${alert(1)}\\",
    "'; DROP TABLE",
    "=HYPERLINK(1)",
    "👩\u200d🌾 farm",
    "क\u094dष",
    "x" * 5000,
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_become_harmless(csv, tmp_path, name):
    path = tmp_path / "list.geojson"
    feature = {
        "type": "Feature",
        "properties": {"name": name, "kind": name, "note": name},
        "geometry": {"type": "Point", "coordinates": [7.0, 45.0]},
    }
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    row = read_candidates(path).frame.iloc[0]
    for text in (row["name"], row["note"]):
        assert len(text) <= 1_000 * 8
        assert not any(unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") for c in text)
        assert not any(c in text for c in "\u202e\u2066\u200b")
        text.encode("utf-8")
    if name.isprintable() and len(name) < 100:
        assert row["name"] == name


def test_half_a_surrogate_pair_is_named_by_its_code_point(tmp_path):
    path = tmp_path / "list.json"
    path.write_text(
        '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a\\ud800"},'
        '"geometry":{"type":"Point","coordinates":[7,45]}}]}'
    )
    assert read_candidates(path).frame["name"][0] == "a<U+D800>"


@given(st.text(max_size=300))
def test_cleaned_text_is_clean_for_good(text):
    once = clean(text, 200)
    assert clean(once, 10_000) == once
    once.encode("utf-8")
    assert "\n" not in once


@given(st.binary(max_size=400))
def test_no_bytes_make_a_table_fail_otherwise_than_in_a_sentence(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(b"lat,lon,name,kind\n1,2,x,tree\n" + data)
    said = ""
    try:
        found = read_candidates(path)
    except OutingError as refused:
        said = str(refused)
    assert "any.csv" in said or len(found.frame) + len(found.others) + len(found.rejected) >= 1


def test_files_are_refused_before_they_are_read(tmp_path, monkeypatch):
    for name, said in (
        ("list.xlsx", "not .xlsx"),
        ("list.kmz", "unpack it"),
        ("list", "a bare name"),
        ("list.pbf", ".osm.pbf"),
        ("list.vrt", "not .vrt"),
    ):
        (tmp_path / name).write_text("x")
        with pytest.raises(OutingError, match="candidates are read from") as refused:
            read_candidates(tmp_path / name)
        assert said in str(refused.value)
    with pytest.raises(OutingError, match="There is no file of candidates"):
        read_candidates(tmp_path / "none.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(OutingError, match="is a folder"):
        read_candidates(tmp_path / "folder.csv")
    monkeypatch.setitem(LARGEST_BYTES, ".csv", 10)
    (tmp_path / "big.csv").write_text("lat,lon\n1,2\n")
    with pytest.raises(OutingError, match="is larger than"):
        read_candidates(tmp_path / "big.csv")
    (tmp_path / "few.csv").write_text("lat,lon\n")
    with pytest.raises(OutingError, match="has no layers"):
        read_candidates(tmp_path / "few.csv", layer="x")


def test_the_words_of_kinds_lead_to_one_kind_each():
    for kind in KINDS.values():
        assert kind_named(kind.name) is kind
        assert kind_named(kind.plural.upper()) is kind
        for word in kind.words:
            assert kind_named(word) is not None
        assert 0.5 <= kind.height_m <= 200.0
        assert 0.3 <= kind.width_m <= 100.0
    assert kind_named("no such thing") is None
    assert kind_named("") is None


@pytest.mark.parametrize(
    ("tags", "kind"),
    [
        ({"natural": "tree"}, "tree"),
        ({"natural": "tree", "denotation": "avenue"}, "town tree"),
        ({"building": "yes"}, "house"),
        ({"building": "no"}, None),
        ({"building": "yes", "ruins": "yes"}, "ruin"),
        ({"historic": "castle", "ruins": "yes"}, "ruin"),
        ({"historic": "castle"}, "castle"),
        ({"building": "chapel", "amenity": "place_of_worship"}, "chapel"),
        ({"amenity": "place_of_worship"}, "church"),
        ({"man_made": "tower"}, "tower"),
        ({"man_made": "tower", "tower:type": "communication"}, "mast"),
        ({"power": "tower"}, "pylon"),
        ({"power": "generator", "generator:source": "wind"}, "wind turbine"),
        ({"power": "generator", "generator:source": "solar"}, None),
        ({"man_made": "windpump"}, "windpump"),
        ({"natural": "wood"}, "wood"),
        ({"natural": "stone"}, "rock"),
        ({"building": "barn", "man_made": "tower"}, "barn"),
        ({"name": "nothing"}, None),
        ({}, None),
    ],
)
def test_tags_lead_to_kinds(tags, kind):
    found = kind_of_tags(tags)
    assert (found.name if found else None) == kind


@pytest.mark.parametrize(("metres", "joined"), [(0.95, True), (1.05, False)])
def test_rows_within_a_metre_are_one_thing(metres: float, joined: bool) -> None:
    from pyproj import Geod

    from backbearing.scouting.reading.duplicates import doubles

    lon, lat, _ = Geod(ellps="WGS84").fwd(-84.0, 36.0, 25.0, metres)
    found = doubles(
        lat=np.array([36.0, lat]), lon=np.array([-84.0, lon]), group=np.array(["tree", "tree"]),
        among=np.ones(2, dtype=bool),
    )  # fmt: skip
    assert (1 in found) is joined
