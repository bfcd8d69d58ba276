"""Places in every notation that people type, checked against the standards and other libraries."""

from __future__ import annotations

import math
import re
from pathlib import Path

import mgrs
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pyproj import Geod, Transformer

from backbearing.base.errors import PlaceError
from backbearing.base.place_notation import (
    LONGEST_PLACE,
    Place,
    read_place,
    read_place_fully,
    spell_place,
)

PAGE = Path(__file__).resolve().parents[2] / "docs" / "places.md"
LATS = st.floats(-90.0, 90.0)
LONS = st.floats(-180.0, 180.0)
GRID_LATS = st.floats(-79.9, 83.9)


def metres_apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return float(Geod(ellps="WGS84").inv(one[1], one[0], other[1], other[0])[2])


@pytest.mark.parametrize(
    "text",
    [
        "-31.5, 148.2",
        "-31.5,148.2",
        "-31.5 148.2",
        "- 31.5; +148.2",
        "(-31.5, 148.2)",
        "−31.5, 148.2",
        "31.5 S 148.2 E",
        "31.5S148.2E",
        "148.2 E, 31.5 S",
        "s31.5 e148.2",
        "31.5° South, 148.2° East",
        "31,5 S 148,2 E",
        "-31,5 148,2",
        "-31,5; 148,2",
        "-31,5, 148,2",
        "lat: -31.5, lon: 148.2",
        "longitude=148.2 latitude=-31.5",
        "31 30 00 S 148 12 00 E",
        "31 30 S 148 12 E",
        "31:30:00S 148:12:00E",
        "31°30'00\"S 148°12'00\"E",
        "31°30′00″S, 148°12′00″E",
        "31º 30’ 00” S 148º 12’ 00” E",
        "31° 30.0' S 148° 12.0' E",
        "31°30'0''S 148°12'0''E",
        "S 31 30 0, E 148 12 0",
        "S31°30' E148°12'",
        "31d30m00sS 148d12m00sE",
        "31 deg 30 min 0 sec S 148 deg 12 min 0 sec E",
        "-31°30' 148°12'",
        "-31 30 00, 148 12 00",
        "\u200e31.5\u00a0S\u202f148.2\u00a0E\ufeff",
        "geo:-31.5,148.2",
        "GEO:-31.50,148.200,1200",
        "geo:-31.5%2C148.2",
    ],
)
def test_one_place_in_many_notations(text: str) -> None:
    assert read_place(text) == pytest.approx((-31.5, 148.2), abs=1e-12)


def test_degrees_minutes_and_seconds_are_sixtieths() -> None:
    lat, lon = read_place("36 22 21 N 84 21 37 W")
    assert lat == pytest.approx(36.0 + 22.0 / 60.0 + 21.0 / 3600.0, abs=1e-12)
    assert lon == pytest.approx(-(84.0 + 21.0 / 60.0 + 37.0 / 3600.0), abs=1e-12)
    assert read_place("36° 22.35' N, 84° 21.6' W") == pytest.approx((36.3725, -84.36), abs=1e-12)


@given(LATS, LONS)
@example(-0.0, -180.0)
@example(90.0, 1e-300)
def test_decimal_degrees_come_back(lat: float, lon: float) -> None:
    for text in (
        f"{lat:.12f}, {lon:.12f}",
        f"{lat:.12f} {lon:.12f}",
        f"geo:{lat:.12f},{lon:.12f};crs=wgs84",
    ):
        assert read_place(text) == pytest.approx((lat, lon), abs=1e-11)
    comma = f"{lat:.6f} {lon:.6f}".replace(".", ",")
    assert read_place(comma) == pytest.approx((lat, lon), abs=1e-6)


@given(LATS, LONS)
def test_a_spelt_place_comes_back(lat: float, lon: float) -> None:
    read = read_place(spell_place(Place(lat, lon)))
    assert read == pytest.approx((lat, lon), abs=0.5e-5 + 1e-9)


@given(
    st.integers(0, 89), st.integers(0, 179), st.integers(0, 59), st.integers(0, 59_999),
    st.sampled_from("NS"), st.sampled_from("EW"),
    st.sampled_from([
        "{d} {m} {s} {h}", "{d}°{m}'{s}\"{h}", "{d}°{m}′{s}″ {h}", "{h} {d}:{m}:{s}",
        "{h}{d}°{m}'{s}\"", "{d}d{m}m{s}s{h}",
    ]),
    st.booleans(),
)  # fmt: skip
def test_sexagesimal_comes_back(
    lat_d: int, lon_d: int, minutes: int, milli: int, north: str, east: str, how: str, swap: bool
) -> None:
    seconds = milli / 1000.0
    parts = [
        how.format(d=lat_d, m=minutes, s=f"{seconds:.3f}", h=north),
        how.format(d=lon_d, m=minutes, s=f"{seconds:.3f}", h=east),
    ]
    lat, lon = read_place(" ".join(reversed(parts) if swap else parts))
    more = minutes / 60.0 + seconds / 3600.0
    assert lat == pytest.approx((lat_d + more) * (1 if north == "N" else -1), abs=1e-9)
    assert lon == pytest.approx((lon_d + more) * (1 if east == "E" else -1), abs=1e-9)


# RFC 5870, sections 6.1 and 6.4: the standard's own examples, and which of them are one place.
@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("geo:13.4125,103.8667", (13.4125, 103.8667)),
        ("geo:48.2010,16.3695,183", (48.2010, 16.3695)),
        ("geo:48.198634,16.371648;crs=wgs84;u=40", (48.198634, 16.371648)),
        ("geo:90,-22.43;crs=WGS84", (90.0, -22.43)),
        ("geo:66,30;u=6.500;FOo=this%2dthat", (66.0, 30.0)),
        ("geo:66.0,30;u=6.5;foo=this-that", (66.0, 30.0)),
        ("geo:22.300,-118.44", (22.3, -118.44)),
        ("geo:22.3,-118.4400", (22.3, -118.44)),
        ("geo:70,20;foo=1.00;bar=white", (70.0, 20.0)),
        ("geo:47,11;foo=blue;bar=white", (47.0, 11.0)),
        ("geo:22,0;bar=Blue", (22.0, 0.0)),
    ],
)
def test_the_geo_standards_own_examples(address: str, place: tuple[float, float]) -> None:
    assert read_place(address) == place


def test_what_a_geo_address_says_besides_is_told() -> None:
    read = read_place_fully("geo:48.2010,16.3695,183;u=40")
    assert read.sigma_m == 40.0
    assert any("altitude of 183 m" in note for note in read.notes)
    assert read_place_fully("geo:66,30;u=6.500").sigma_m == 6.5
    assert math.isnan(read_place_fully("geo:66,30").sigma_m)
    assert read_place_fully("geo:66,30?z=3").notes


def utm_text(lat: float, lon: float, half: str) -> str:
    zone = min(int((lon + 180.0) // 6.0) + 1, 60)
    to_metres = Transformer.from_crs(4326, (32700 if lat < 0 else 32600) + zone, always_xy=True)
    east, north = to_metres.transform(lon, lat)
    return f"{zone}{half} {east:.3f} {north:.3f}"


@given(GRID_LATS, LONS)
@example(-31.5, 148.2)
@example(0.0, 179.9999)
def test_utm_agrees_with_pyproj(lat: float, lon: float) -> None:
    half = " south" if lat < 0 else " north"
    assert metres_apart(read_place(utm_text(lat, lon, half)), (lat, lon)) < 0.01


@given(GRID_LATS.filter(lambda lat: not 32.0 <= lat <= 40.0 and abs(lat) > 1e-6), LONS)
def test_utm_with_its_bands_letter(lat: float, lon: float) -> None:
    band = "CDEFGHJKLMNPQRSTUVWX"[min(int((lat + 80.0) // 8.0), 19)]
    assert metres_apart(read_place(utm_text(lat, lon, band)), (lat, lon)) < 0.01


@given(GRID_LATS, LONS)
@example(-31.5, 148.2)
@example(60.0, 4.0)
@example(78.0, 12.0)
def test_mgrs_names_the_point_that_its_utm_figures_have_by_pyproj(lat: float, lon: float) -> None:
    """The reference is written by one library; where it lies is reckoned by another."""
    grid = mgrs.MGRS()
    reference = grid.toMGRS(lat, lon)
    zone, half, east, north = grid.MGRSToUTM(reference)
    to_degrees = Transformer.from_crs(
        (32700 if str(half) == "S" else 32600) + zone, 4326, always_xy=True
    )
    expected_lon, expected_lat = to_degrees.transform(east, north)
    read = read_place(reference)
    assert metres_apart(read, (expected_lat, expected_lon)) < 0.05
    assert metres_apart(read, (lat, lon)) < 1.5


@given(GRID_LATS, LONS, st.sampled_from([3, 4]))
def test_a_shorter_mgrs_is_the_middle_of_its_square(lat: float, lon: float, digits: int) -> None:
    side = 10.0 ** (5 - digits)
    read = read_place_fully(mgrs.MGRS().toMGRS(lat, lon, MGRSPrecision=digits))
    # The standard deviation of what lies anywhere along a side, by either axis.
    assert read.sigma_m == pytest.approx(side / math.sqrt(12.0))
    assert metres_apart(read.place, (lat, lon)) < side * math.sqrt(0.5) * 1.001 + 0.75
    assert f"{side:.0f} m wide" in read.notes[0]


def test_mgrs_is_read_as_people_part_it() -> None:
    exact = mgrs.MGRS().toMGRS(-31.5, 148.2)
    one = read_place(exact)
    parted = f"{exact[:3]} {exact[3:5]} {exact[5:10]} {exact[10:]}"
    for text in (exact.lower(), parted, f"MGRS {exact[:3]} {exact[3:5]} {exact[5:]}"):
        assert read_place(text) == one
    # Beyond the zones: polar squares.
    polar = mgrs.MGRS().toMGRS(88.0, 30.0)
    assert metres_apart(read_place(polar), (88.0, 30.0)) < 1.5


def test_s_behind_a_utm_zone_is_told_or_refused() -> None:
    # 6,512,000 m can only be south: as a northing of the north it would lie near 59 degrees.
    read = read_place_fully("55S 633000 6512000")
    assert read.place.lat_deg == pytest.approx(-31.52, abs=0.01)
    assert "south" in read.notes[0]
    assert read.place == read_place("55 south 633000 6512000") == read_place("55J 633000 6512000")
    # 4,000,000 m is 36 north in band S, and 54 south in the southern half.
    with pytest.raises(PlaceError, match=r"36\.14 degrees north .* or 54\.13 south"):
        read_place("55S 633000 4000000")
    assert read_place("55 north 633000 4000000").lat_deg == pytest.approx(36.14, abs=0.01)


def test_utm_as_people_type_it() -> None:
    one = read_place("55J 633000 6512000")
    for text in (
        "55 J 633000 6512000",
        "zone 55J 633000E 6512000N",
        "UTM 55j 633000 mE, 6512000 mN",
        "55J 633,000 6,512,000",
        "55J, 633000.0, 6512000.0",
    ):
        assert read_place(text) == one
    assert "just outside" in read_place_fully("55H 633000 6512000").notes[0]


@pytest.mark.parametrize(
    ("text", "saying"),
    [
        ("", "No place is written"),
        ("  \n ", "No place is written"),
        ("the old tree", "no place in a notation that is known"),
        ("nan, nan", "no place in a notation that is known"),
        ("inf, 0", "no place in a notation that is known"),
        ("0x1F, 3", "no place in a notation that is known"),
        ("1e1, 20", "which number is north or south"),
        ("31.5", "no two numbers"),
        ("148.2, -31.5", 'write the latitude first: "-31.5, 148.2"'),
        ("-31.5, 211", "here -149"),
        ("-31.5, 400", "beyond 180 degrees"),
        ("91 N 20 E", "beyond 90 degrees"),
        ("95, 99", "beyond 90 degrees"),
        ("31.5 S 148.2", "one letter with each"),
        ("31 S 148 S", "holds two latitudes"),
        ("-31.5 S 148.2 E", "both a minus sign and the letter S"),
        ("31 60 S 148 E", "60 or more"),
        ("31 30 61 S 148 E", "60 or more"),
        ("31.5 30 S 148 E", "decimals before the last part"),
        ("1 2 3 4 S 5 E", "no place in a notation that is known"),
        ("36 22 21 84 21 37", "where the latitude ends"),
        ("-31,148", "write points for decimals"),
        ("-31,5,148,2", "write points for decimals"),
        ("61J 633000 6512000", "from 1 to 60"),
        ("55J 63300 6512000", "no zone holds"),
        ("55 633000 6512000", "north from south"),
        ("55I 633000 6512000", "no band"),
        ("55Q 633000 6512000", "put the letter or the northing right"),
        ("55JFG", "100 km wide"),
        ("55JFG3312", "1 km wide"),
        ("55JFG330012000", "9 digits"),
        ("55JFG 330 12000", "8 digits"),
        ("55JZZ3300012000", "no square of the grid"),
        ("55HFG3300012000", "compare its letters"),
        ("geo:", "two or three numbers"),
        ("geo:1", "two or three numbers"),
        ("geo:1,2,3,4", "two or three numbers"),
        ("geo:1e1,2", "two or three numbers"),
        ("geo:nan,2", "two or three numbers"),
        ("geo:91,2", "beyond the Earth"),
        ("geo:1,181", "beyond the Earth"),
        ("geo:1,2;crs=nad27", "nad27"),
        ("geo:1,2;u=wide", "behind u="),
        ("geo:1,2;u=1;u=2", "doubled"),
        ("geo:0,0?q=31.5,148.2", "a search"),
    ],
)  # fmt: skip
def test_what_is_no_place_gets_one_sentence(text: str, saying: str) -> None:
    with pytest.raises(PlaceError) as caught:
        read_place(text)
    said = str(caught.value)
    assert saying in said
    assert "\n" not in said
    assert said.endswith((".", "?"))
    assert len(said) < 330


def test_an_endless_text_is_refused_at_once() -> None:
    for text in ("9" * 10**6, "1" * LONGEST_PLACE, " " * LONGEST_PLACE + "1, 2"):
        with pytest.raises(PlaceError):
            read_place(text)


@given(st.text(alphabet="0123456789.,;:-+ NSEWnsewdm°'\"′geoGEOcrsu=%?JHX\u200e\n", max_size=40))
@example("1" * 199 + ",")
@example("geo:%F0%9F,1")
@example("+-1, 2")
@example(":1 2")
@example("lat lon")
@example("° °")
def test_any_text_is_a_place_or_a_sentence(text: str) -> None:
    try:
        lat, lon = read_place(text)
    except PlaceError:
        return
    assert abs(lat) <= 90.0
    assert abs(lon) <= 180.0


def test_every_example_of_the_page_is_one_place() -> None:
    table = PAGE.read_text(encoding="utf-8").split("## ")[0]
    rows = re.findall(r"^\| .*? \| (.*) \|$", table, flags=re.MULTILINE)[1:]
    examples = [text for row in rows for text in re.findall(r"`([^`]+)`", row)]
    assert len(examples) > 15
    for text in examples:
        assert metres_apart(read_place(text), (-31.5, 148.2)) < 8.0, text
