"""Candidates and ways from an OpenStreetMap extract that the test writes itself."""

from __future__ import annotations

import builtins

import numpy as np
import pytest

from backbearing.base.errors import OutingError
from backbearing.base.osm_lengths import height_of, length_m, width_of
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.site.ways import Ways

osmium = pytest.importorskip("osmium")


class Extract:
    """Gathers elements and writes them in the order that the format wants."""

    def __init__(self, path):
        self.path = path
        self.nodes, self.ways, self.relations = [], [], []

    def node(self, lat, lon, **tags):
        made = osmium.osm.mutable.Node(id=len(self.nodes) + 1, location=(lon, lat), tags=tags)
        self.nodes.append(made)
        return made.id

    def way(self, corners, **tags):
        """Draw a way through (lat, lon) corners; one that ends where it began is closed."""
        ids = {}
        for lat, lon in corners:
            ids.setdefault((lat, lon), None)
            if ids[lat, lon] is None:
                ids[lat, lon] = self.node(lat, lon)
        nodes = [ids[corner] for corner in corners]
        made = osmium.osm.mutable.Way(id=len(self.ways) + 1, nodes=nodes, tags=tags)
        self.ways.append(made)
        return made.id

    def square(self, lat, lon, side_m, **tags):
        dy = side_m / 2.0 / 111_000.0
        dx = dy / np.cos(np.radians(lat))
        corners = [(lat + y * dy, lon + x * dx) for y, x in ((-1, -1), (-1, 1), (1, 1), (1, -1))]
        return self.way([*corners, corners[0]], **tags)

    def relation(self, ways, **tags):
        members = [("w", way, "outer") for way in ways]
        made = osmium.osm.mutable.Relation(
            id=len(self.relations) + 1, members=members, tags={"type": "multipolygon", **tags}
        )
        self.relations.append(made)

    def written(self):
        with osmium.SimpleWriter(str(self.path)) as writer:
            for node in self.nodes:
                writer.add_node(node)
            for way in self.ways:
                writer.add_way(way)
            for relation in self.relations:
                writer.add_relation(relation)
        return self.path


@pytest.fixture
def extract(tmp_path):
    return Extract(tmp_path / "land.osm.pbf")


def test_nodes_ways_and_areas_become_candidates(extract):
    extract.node(45.0, 7.0, natural="tree", height="12.5", diameter_crown="9 m", name="Oak")
    extract.node(45.001, 7.0, natural="tree", denotation="avenue")
    extract.node(45.002, 7.0, man_made="windpump", height="40'")
    extract.node(45.003, 7.0, amenity="bench")
    extract.square(45.01, 7.0, 20.0, building="barn", **{"building:levels": "2"})
    extract.square(45.02, 7.0, 20.0, building="yes")
    outline = extract.square(45.03, 7.0, 40.0)
    extract.relation([outline], historic="ruins", access="private", name="Old mill")
    found = read_candidates(extract.written())
    frame = found.frame.set_index("id")
    assert list(frame.index) == ["node 1", "node 3", "way 1", "relation 1"]
    assert frame["kind"].tolist() == ["tree", "windpump", "barn", "ruin"]
    assert frame["name"].tolist() == ["Oak", "windpump, node 3", "barn, way 1", "Old mill"]
    assert frame["height_m"].tolist()[:3] == [12.5, pytest.approx(40 * 0.3048), 6.0]
    assert frame["height_is_guess"].tolist() == [False, False, True, True]
    assert frame["width_m"]["node 1"] == 9.0
    assert frame["width_m"]["way 1"] == pytest.approx(80.0 / np.pi, rel=5e-3)
    assert frame["width_is_guess"].tolist() == [False, True, False, False]
    assert frame.geometry.y["relation 1"] == pytest.approx(45.03, abs=1e-7)
    assert frame["access"].tolist() == ["unknown", "unknown", "unknown", "closed"]
    assert found.others["kind"].tolist() == ["town tree", "house"]
    assert "OpenStreetMap contributors" in found.notes[0]


def test_a_node_in_its_own_outline_is_one_thing(extract):
    extract.node(45.0, 7.0, man_made="tower", name="Signal tower", height="18")
    extract.square(45.0, 7.0, 10.0, building="yes")
    extract.node(45.1, 7.0, building="chapel", name="St Fell")
    extract.square(45.1, 7.0, 10.0, building="chapel", name="Chapel")
    extract.node(45.2, 7.0, natural="tree")
    extract.square(45.2, 7.0, 30.0, building="yes")
    found = read_candidates(extract.written())
    frame = found.frame.set_index("id")
    assert frame["name"].to_dict() == {
        "way 1": "Signal tower",
        "way 2": "Chapel",
        f"node {extract.nodes[10].id}": f"tree, node {extract.nodes[10].id}",
    }
    assert frame["height_m"]["way 1"] == 18.0
    assert found.others["kind"].tolist() == ["house"]
    assert [r.row for r in found.rejected] == [extract.nodes[0].id, extract.nodes[5].id]
    assert "it lies in way 1, which is the same thing" in found.rejected[0].reason


def test_a_wood_stands_along_its_edge_and_not_in_its_middle(extract):
    extract.square(45.0, 7.0, 600.0, natural="wood")
    extract.way([(45.1, 7.0), (45.1009, 7.0)], natural="tree_row")
    extract.node(45.2, 7.0, natural="wood")
    extract.node(45.3, 7.0, natural="tree")
    found = read_candidates(extract.written())
    woods = found.others[found.others["kind"] == "wood"]
    assert len(woods) == pytest.approx(80, abs=2)
    off = np.maximum(
        (woods.geometry.y - 45.0).abs() * 111_000.0,
        (woods.geometry.x - 7.0).abs() * 111_000.0 * np.cos(np.radians(45.0)),
    )
    assert off.min() == pytest.approx(300.0, abs=1.0)
    assert (found.others["kind"] == "tree row").sum() == 4


def test_an_extract_with_nothing_of_use_says_what_is_looked_for(extract):
    extract.node(45.0, 7.0, amenity="bench")
    with pytest.raises(OutingError, match="windpump"):
        read_candidates(extract.written())


def test_hostile_tags_become_harmless(extract):
    extract.node(
        45.0, 7.0, natural="tree", name="a\u202eb\x1b[31m", height="1e9", description="x" * 250
    )
    extract.node(45.1, 7.0, natural="tree", height="9" * 30)
    extract.node(45.2, 7.0, natural="tree", height="ten", width="-4")
    found = read_candidates(extract.written())
    assert found.frame["name"][0] == "a<U+202E>b<U+001B>[31m"
    assert found.frame["height_is_guess"].tolist() == [True, True]
    assert "height_m is 1e+30" in found.rejected[0].reason


def test_a_torn_extract_is_refused_in_a_sentence(extract, tmp_path):
    for i in range(2000):
        extract.node(45.0 + i * 1e-4, 7.0, natural="tree", name=f"tree {i}")
    whole = extract.written().read_bytes()
    for cut in (10, len(whole) // 2, len(whole) - 3):
        torn = tmp_path / "torn.osm.pbf"
        torn.write_bytes(whole[:cut])
        with pytest.raises(OutingError, match=r"torn\.osm\.pbf"):
            read_candidates(torn)


def test_another_format_under_this_name_is_refused(tmp_path):
    path = tmp_path / "land.osm.pbf"
    path.write_text('<osm version="0.6"><node id="1" lat="45" lon="7"/></osm>')
    with pytest.raises(OutingError, match="cannot be read as an OpenStreetMap extract in PBF"):
        read_candidates(path)


def test_without_the_package_the_sentence_says_how_to_get_it(extract, monkeypatch):
    extract.node(45.0, 7.0, natural="tree")
    path = extract.written()
    known = builtins.__import__

    def missing(name, *args, **kwargs):
        if name.split(".")[0] == "osmium":
            raise ImportError(name)
        return known(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(OutingError, match="pip install 'backbearing"):
        read_candidates(path)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("", None),
        ("tall", None),
        ("12,5", None),
        ("10-12", None),
        ("~12", None),
        ("12;14", None),
        ("-3", None),
        ("12 furlongs", None),
        ("'", None),
        ("1e3", None),
        ("12 m 5", None),
        ("9" * 60, None),
        (".5", 0.5),
        (" 12 ", 12.0),
        ("12 cm", 0.12),
        ("5 FT", 1.524),
        ("7' 4\"", 2.2352),
        ("7′4″", 2.2352),
        ('4"', 0.1016),
        ("7 ft 4 in", 2.2352),
    ],
)
def test_lengths_and_what_is_none(text, metres):
    found = length_m(text)
    assert np.isnan(found) if metres is None else found == pytest.approx(metres, rel=1e-12)


def test_heights_and_widths_by_several_tags():
    assert height_of({"height": "20", "min_height": "5"}) == (15.0, False)
    assert height_of({"height": "20", "min_height": "25"}) == (20.0, False)
    assert height_of({"est_height": "7 m"}) == (7.0, True)
    assert height_of({"building:levels": "3", "roof:levels": "1"}) == (12.0, True)
    assert height_of({"height": "0", "building:levels": "2"}) == (6.0, True)
    assert np.isnan(height_of({})[0])
    assert width_of({"width": "4", "diameter_crown": "9"}) == 4.0
    assert width_of({"diameter_crown": "9"}) == 9.0
    assert np.isnan(width_of({"width": "wide"}))


def test_ways_of_an_extract(extract):
    extract.way([(45.0, 7.0), (45.0, 7.01)], highway="track", name="Long lane")
    extract.way([(45.001, 7.0), (45.001, 7.01)], highway="motorway")
    extract.way([(45.002, 7.0), (45.002, 7.01)], highway="service", access="private")
    extract.node(45.02, 7.0, amenity="parking", name="Lay-by")
    extract.node(45.03, 7.0, amenity="parking", access="private")
    extract.square(45.05, 7.0, 100.0, natural="water", name="Tarn")
    extract.square(45.06, 7.0, 100.0, landuse="military")
    extract.square(45.07, 7.0, 100.0, landuse="farmland")
    extract.square(45.08, 7.0, 100.0, landuse="quarry")
    extract.square(45.09, 7.0, 100.0, landuse="farmland", access="yes")
    ways = Ways.read(extract.written())
    near = ways.nearest_way(lat=[45.0018, 45.021], lon=[7.005, 7.0])
    assert near.name.tolist() == ["Long lane", "Lay-by"]
    assert near.distance_m == pytest.approx([200.0, 111.1], rel=2e-3)
    assert ways.nearest_parking_m(lat=[45.03], lon=[7.0]) == pytest.approx(1111.3, rel=1e-3)
    land = ways.land_of(lat=[45.06, 45.07, 45.08, 45.09, 45.2], lon=[7.0] * 5)
    assert land.access.tolist() == ["closed", "ask first", "unknown", "open", "unknown"]
    assert ways.on_closed_ground(lat=[45.05, 45.06, 45.07, 45.08], lon=[7.0] * 4).tolist() == [
        *(True, True, False, True)
    ]
    assert ways.water_within(lat=[45.051, 45.06], lon=[7.0, 7.0], distance_m=80.0).tolist() == [
        *(True, False)
    ]
    assert any("OpenStreetMap contributors" in note for note in ways.notes)
    assert any("sea" in note for note in ways.notes)
