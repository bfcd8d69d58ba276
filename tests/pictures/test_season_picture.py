from __future__ import annotations

import colorsys
import datetime as dt
import io
import re
from dataclasses import replace
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from backbearing.alignment import plan_season
from backbearing.base.errors import WriteRefusedError
from backbearing.base.grouped import changed
from backbearing.drawing.palette import MAP, SEASON, SEASON_RED, SeasonPalette
from backbearing.pictures import season_picture
from backbearing.pictures.season_picture import draw_season
from backbearing.pictures.season_rows import lay_out

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

    from backbearing.outing.request import Outing
    from backbearing.plan.season import Season
    from backbearing.terrain import Elevation


@pytest.fixture(scope="module")
def season(outing: Outing, elevation: Elevation) -> Season:
    return plan_season(
        outing, first_night=dt.date(2027, 5, 25), nights=14, stand_lat=36.30272,
        stand_lon=-84.18010, elevation=elevation,
    )  # fmt: skip


def test_rows_hold_the_seasons_own_times(season: Season) -> None:
    picture = lay_out(season)
    windows = [(i, w) for i, n in enumerate(season.nights) for w in n.windows]
    assert len(picture.bands["window"]) == len(windows)
    for (a, b, top, bottom), (row, window) in zip(picture.bands["window"], windows, strict=True):
        assert row < top < bottom < row + 1
        assert (b - a) * 60.0 == pytest.approx(window.minutes, abs=1e-6)
        utc_noon = dt.datetime.combine(season.nights[row].evening, dt.time(16), tzinfo=dt.UTC)
        assert a == pytest.approx((window.start - utc_noon).total_seconds() / 3600.0, abs=1e-9)
    assert picture.firsts.count(True) == 2
    assert len(picture.crossings) == 14


def test_the_moon_stands_as_high_as_it_is_lit(season: Season) -> None:
    picture = lay_out(season)
    lit = {i: n.events.moon_lit for i, n in enumerate(season.nights)}
    for a, b, top, bottom in picture.bands["moon"]:
        row = int(top)
        assert b > a
        assert bottom - top == pytest.approx(0.88 * max(lit[row], 0.06), abs=1e-9)


@pytest.mark.parametrize(
    ("first", "forward"), [(dt.date(2027, 3, 12), 1.0), (dt.date(2027, 11, 5), -1.0)]
)
def test_clock_changes_shift_the_wall(
    outing: Outing, elevation: Elevation, first: dt.date, forward: float
) -> None:
    """New York: forward at 02:00 on 14 March 2027, back at 02:00 on 7 November."""
    found = plan_season(outing, first_night=first, nights=3, elevation=elevation)
    boxes = lay_out(found).bands["dark"]
    rows = [[box for box in boxes if int(box[2]) == row] for row in range(3)]
    dusk = [row[0][0] for row in rows]
    assert dusk[2] - dusk[1] == pytest.approx(forward, abs=0.05)
    assert dusk[1] - dusk[0] == pytest.approx(0.0, abs=0.05)
    assert [len(row) for row in rows] == [1, 2, 1]
    # Each part is as long as it lasts: the skipped hour stays empty, the repeated one is double.
    for row, night in zip(rows, found.nights, strict=True):
        assert sum(b - a for a, b, _, _ in row) * 60.0 == pytest.approx(
            night.dark_minutes, abs=0.05
        )
    (_, end, _, _), (start, _, _, _) = rows[1]
    assert end == pytest.approx(14.0, abs=1e-3)
    assert start == pytest.approx(14.0 + forward, abs=1e-3)


def test_a_window_within_the_repeated_hour_is_not_lost(season: Season) -> None:
    """01:50 to 01:10 by the wall, twenty minutes on 7 November 2027."""
    start = dt.datetime(2027, 11, 7, 5, 50, tzinfo=dt.UTC)
    night = season.nights[0]
    window = replace(night.windows[0], start=start, end=start + dt.timedelta(minutes=20))
    one = replace(night, evening=dt.date(2027, 11, 6), windows=(window,))
    boxes = lay_out(changed(season, nights=(one,), crossings=())).bands["window"]
    assert sum(b - a for a, b, _, _ in boxes) * 60.0 == pytest.approx(20.0, abs=0.05)


def test_a_row_without_a_window_says_why(season: Season, tmp_path: Path) -> None:
    first = season.nights[0]
    poor = [
        replace(first, windows=(), window_minutes=0.0, outcome=outcome)
        for outcome in ("no darkness", "never so high", "moon", "below the skyline")
    ]
    few = changed(season, nights=(first, *poor), crossings=())
    text = draw_season(tmp_path / "s.svg", few).read_text(encoding="utf-8")
    for words in ("not dark", "never rises", "Moon", "ridge"):
        assert f">{words}<" in text


def test_svg_is_the_same_twice_and_keeps_hostile_text_as_text(
    season: Season, tmp_path: Path
) -> None:
    named = replace(season, subject_name="<script>alert(1)</script> $x^2$ & \u202eoak")
    one = draw_season(tmp_path / "a.svg", named)
    two = draw_season(tmp_path / "b.svg", named)
    assert one.read_bytes() == two.read_bytes()
    tree = ET.fromstring(one.read_text(encoding="utf-8"))  # noqa: S314  # our own file
    assert not [e for e in tree.iter() if e.tag.endswith("script")]
    assert any("$x^2$" in (e.text or "") for e in tree.iter())


@pytest.mark.slow
@pytest.mark.parametrize("nights", [1, 40, 365])
def test_png_of_any_length_is_a_page(
    outing: Outing, elevation: Elevation, tmp_path: Path, nights: int
) -> None:
    from matplotlib.image import imread

    found = plan_season(outing, first_night=dt.date(2027, 1, 1), nights=nights, elevation=elevation)
    path = draw_season(tmp_path / "s.png", found)
    pixels = imread(io.BytesIO(path.read_bytes()))
    assert pixels.shape[1] == round(8.27 * 160)
    assert 600 < pixels.shape[0] <= round(11.69 * 160) + 1


def test_red_version_has_neither_green_nor_blue(season: Season, tmp_path: Path) -> None:
    from matplotlib.image import imread

    path = draw_season(tmp_path / "s.png", season, night=True)
    pixels = imread(io.BytesIO(path.read_bytes()))
    assert pixels[..., 0].max() > 0.9
    assert pixels[..., 1:3].max() == 0.0


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 section 1.4.3."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("palette", [SEASON, SEASON_RED])
def test_the_window_leaps_out_without_any_hue(palette: SeasonPalette) -> None:
    """WCAG 2.2 section 1.4.11 asks 3:1 of a graphic against what it lies on."""
    for ground in ("paper", "day", "twilight", "dark", "moon"):
        assert contrast(palette.window.css, getattr(palette, ground).css) >= 3.0, ground
    assert contrast(palette.ink.css, palette.paper.css) >= 4.5


def test_good_nights_are_not_in_the_colour_of_warning() -> None:
    """Hue of ISO 3864-1's safety colours: red for prohibition, yellow for warning (from memory);
    a window lies with neither, and has its hue from the map's good stands."""
    hue, _, strong = colorsys.rgb_to_hls(*(part / 255.0 for part in SEASON.window))
    assert 180.0 < 360.0 * hue < 270.0
    assert strong > 0.1
    assert SEASON.window == MAP.go
    # The Moon's and the window's colours for eyes without red or green cones lie apart as blue and
    # yellow do, which is the axis that such eyes keep.
    assert SEASON.window.blue - SEASON.window.red > 80
    assert SEASON.moon.red - SEASON.moon.blue > 60


@pytest.mark.parametrize(
    ("most", "end"), [(0.2, 2.0), (2.0, 2.0), (2.1, 4.0), (5.7, 6.0), (11.0, 12.0), (24.0, 24.0)]
)
def test_the_bars_stand_on_a_scale_with_a_unit(
    season: Season, tmp_path: Path, most: float, end: float
) -> None:
    nights = tuple(
        replace(night, window_minutes=60.0 * most * (i == 0), windows=night.windows[: i == 0])
        for i, night in enumerate(season.nights)
    )
    for count in (2, 14):
        few = changed(season, nights=nights[:count], crossings=())
        text = draw_season(tmp_path / "s.svg", few, overwrite=True).read_text(encoding="utf-8")
        said = re.findall(r">([^<>]+)</text>", text)
        assert said.count("hours") == 2  # above and below
        for share in (0.0, 0.5, 1.0):
            assert said.count(f"{share * end:g}") == 2
    # The bar is so much of the scale: both are boxes in the same axes.
    figure = season_figure(changed(season, nights=nights, crossings=()))
    across = [line.get_xdata() for line in figure.axes[0].lines]
    scales = [x for x in across if len(x) == 2 and 0.0 < x[1] - x[0] < 0.5]
    bar = figure.axes[0].collections[-1].get_paths()[0].vertices[:, 0]
    left, right = scales[0]
    assert (max(bar) - min(bar)) / (right - left) == pytest.approx(most / end)
    assert min(bar) == pytest.approx(left)


def season_figure(season: Season) -> Figure:
    return season_picture._figure(lay_out(season), SEASON)


def test_other_suffixes_and_files_in_the_way_are_refused(season: Season, tmp_path: Path) -> None:
    with pytest.raises(WriteRefusedError, match=re.escape(".svg or .png")):
        draw_season(tmp_path / "s.pdf", season)
    path = draw_season(tmp_path / "s.svg", season)
    with pytest.raises(WriteRefusedError, match="already there"):
        draw_season(path, season)


def test_the_moon_is_drawn_from_sunset_to_sunrise_only(season: Season) -> None:
    picture = lay_out(season)
    drawn = {row: [] for row in range(len(season.nights))}
    for a, b, top, _ in picture.bands["moon"]:
        drawn[int(top)].append((a, b))
    cut = 0
    for row, night in enumerate(season.nights):
        noon = dt.datetime.combine(night.evening, dt.time(16), tzinfo=dt.UTC)  # noon in summer
        expected = []
        for moon in night.moon_up:
            for sunless in night.sunless:
                start, end = max(moon.start, sunless.start), min(moon.end, sunless.end)
                cut += moon.start < sunless.start < moon.end or moon.start < sunless.end < moon.end
                if end > start:
                    expected.append(
                        tuple((time - noon).total_seconds() / 3600.0 for time in (start, end))
                    )
        assert len(drawn[row]) == len(expected)
        for found, wanted in zip(sorted(drawn[row]), sorted(expected), strict=True):
            assert found == pytest.approx(wanted, abs=1e-6)
    assert cut >= 5  # the Moon is up at dawn or at dusk on many of these nights
