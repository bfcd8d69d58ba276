"""The previews as pictures: safe, steady, red where asked, and true to the view."""

from __future__ import annotations

import dataclasses
import io
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from backbearing.alignment.view.lens_views import views
from backbearing.base.errors import NothingFoundError, WriteRefusedError
from backbearing.base.grouped import changed
from backbearing.drawing.palette import VIEW, VIEW_RED
from backbearing.drawing.png import drawing_png
from backbearing.drawing.svg import drawing_svg
from backbearing.pictures.preview import preview_sheet, side_by_side_sheet, write_sheet
from backbearing.pictures.preview_files import preview_files
from backbearing.pictures.preview_frame import moon_shape, sky_picture, star_colours
from backbearing.plan.turns import as_walked
from backbearing.plan.view import MoonDisc, Planet
from backbearing.workflows.write_all import write_previews

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.plan.view import View
    from backbearing.terrain import Elevation

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = '</title><script>alert(1)</script> "x" & \u202e${1}'


@pytest.fixture(scope="module")
def seen(plan: Plan, elevation: Elevation) -> tuple[View, ...]:
    return views(plan, elevation)


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def test_svg_is_well_formed_and_asks_for_nothing(seen: tuple[View, ...]) -> None:
    text = drawing_svg(preview_sheet(seen[1], guides=True))
    root = ET.fromstring(text)  # noqa: S314
    assert root.get("role") == "img"
    for element in root.iter():
        assert element.tag.startswith(SVG)
        assert "style" not in element.attrib
        for key, value in element.attrib.items():
            assert not key.startswith("on")
            if key.endswith("href"):
                assert value.startswith("data:image/png;base64,")
    assert drawing_svg(preview_sheet(seen[1], guides=True)) == text


def test_every_star_of_the_view_is_drawn_at_its_place(seen: tuple[View, ...]) -> None:
    view = seen[3]
    root = ET.fromstring(drawing_svg(preview_sheet(view, width_px=1000)))  # noqa: S314
    drawn = {(float(c.get("cx")), float(c.get("cy"))) for c in root.iter(f"{SVG}circle")}
    high = 1000.0 / view.aspect
    for x, y in zip(view.stars.x, view.stars.y, strict=True):
        at = (float(f"{x * 1000.0:.1f}"), float(f"{(1.0 - y) * high:.1f}"))
        assert at in drawn


def test_red_pictures_have_no_green_or_blue(seen: tuple[View, ...]) -> None:
    red = pixels(drawing_png(preview_sheet(seen[0], night=True, guides=True)))
    assert red[..., 1:].max() == 0
    assert red[..., 0].max() > 150
    text = drawing_svg(preview_sheet(seen[0], night=True, guides=True))
    for colour in re.findall(r"#([0-9a-f]{6})", text):
        assert colour.endswith("0000")


def test_sky_is_brighter_than_land_and_the_subject_darkest(seen: tuple[View, ...]) -> None:
    view = seen[1]
    picture = pixels(drawing_png(preview_sheet(view, width_px=900))).sum(axis=2)
    high = 900.0 / view.aspect
    ridge = float(np.interp(0.1, view.ridge[:, 0], view.ridge[:, 1]))
    above = picture[round((1 - ridge) * high) - 12, 80:100].mean()
    below = picture[round((1 - ridge) * high) + 12, 80:100].mean()
    assert above > 1.5 * below
    # The trunk, a tenth of the way up.
    up = 1.0 - (0.08 + 0.05)
    row = picture[round(up * high)]
    assert row[400:520].min() < below / 2


def test_the_bar_of_ten_degrees_grows_with_the_lens(seen: tuple[View, ...]) -> None:
    widths = [view.core_width for view in seen]
    assert widths == sorted(widths)
    assert widths[-1] > 3.0 * widths[0]


def test_guides_only_when_asked(seen: tuple[View, ...]) -> None:
    view = changed(seen[1], target_box=(0.3, 0.5, 0.7, 0.9))
    plain = drawing_svg(preview_sheet(view))
    guided = drawing_svg(preview_sheet(view, guides=True))
    assert "stroke-dasharray" not in plain
    assert guided.count("stroke-dasharray") == 2
    assert view.target_name in guided.split("</desc>")[1]


def test_the_hidden_light_is_drawn_with_its_key(
    deep_valley_plan: Plan, elevation: Elevation
) -> None:
    view = views(as_walked(deep_valley_plan), elevation)[0]
    bare = dataclasses.replace(view, hidden=None)
    # No ground hides the light from all four turns, so that the picture shows its own.
    key = "ground where a light hides from this stand alone"
    for lay_out in (preview_sheet, lambda v, **k: side_by_side_sheet([v], title="one", **k)):
        lit, without = (drawing_svg(lay_out(v)) for v in (view, bare))
        assert key in lit.split("</desc>")[0]
        assert key in lit.split("</desc>")[1]
        assert key not in without
        ink = "#ffb02e"
        assert lit.count(f'stroke="{ink}"') == 4
        assert ink not in without
        # Seen through the subject: drawn after it.
        assert lit.index(ink) > lit.index('fill="#030406"')
    red = pixels(drawing_png(preview_sheet(view, night=True)))
    assert red[..., 1:].max() == 0


@pytest.mark.slow
def test_pictures_show_each_lens_at_its_turn(
    plan: Plan, elevation: Elevation, tmp_path: Path
) -> None:
    write_previews(plan, elevation, tmp_path)
    title = (tmp_path / "view-16mm.svg").read_text(encoding="utf-8").split("</title>")[0]
    (shot,) = (s for s in plan.session.shots if s.lens.label == "16 mm")
    assert f"turn {shot.number}, " in title


def test_a_bright_sky_has_a_fainter_band_and_says_so(seen: tuple[View, ...]) -> None:
    dark = changed(seen[2], sky_adds_mag=0.0)
    moonlit = changed(seen[2], sky_adds_mag=3.0)
    for palette in (VIEW, VIEW_RED):
        spread = [np.ptp(sky_picture(v, palette).sum(axis=2).astype(int)) for v in (dark, moonlit)]
        assert spread[1] < 0.6 * spread[0]
        level = [np.median(sky_picture(v, palette).sum(axis=2)) for v in (dark, moonlit)]
        assert level[1] > level[0]
    words = "brightens the sky at the target by up to 3.0 mag"
    assert words in drawing_svg(side_by_side_sheet([dark, moonlit], title="two"))
    assert "brightens" not in drawing_svg(side_by_side_sheet([dark], title="one"))


def test_hostile_names_stay_text(seen: tuple[View, ...]) -> None:
    view = changed(seen[1], target_name=HOSTILE)
    text = drawing_svg(side_by_side_sheet([view], title=HOSTILE, guides=True))
    root = ET.fromstring(text)  # noqa: S314
    assert not list(root.iter(f"{SVG}script"))
    assert "\u202e" not in text
    assert drawing_png(side_by_side_sheet([view], title=HOSTILE, guides=True))


def test_a_moon_and_a_planet_are_drawn(seen: tuple[View, ...]) -> None:
    moon = MoonDisc(0.25, 0.8, 0.03, 0.3, 200.0)
    planet = Planet("saturn", 0.75, 0.8, 0.4)
    bare = changed(seen[1], moon=None, planets=())
    with_both = changed(bare, moon=moon, planets=(planet,))
    difference = pixels(drawing_png(preview_sheet(with_both))) - pixels(
        drawing_png(preview_sheet(bare))
    )
    high = 1080.0 / bare.aspect
    left = difference[round(0.2 * high), 270 - 19 : 270 + 19].max()
    assert left > 300 / 3
    assert "Saturn" in drawing_svg(preview_sheet(with_both))


@pytest.mark.parametrize(("lit", "area"), [(0.0, 0.0), (0.25, 0.25), (0.5, 0.5), (1.0, 1.0)])
def test_the_lit_part_of_the_moon_has_its_share_of_the_disc(lit: float, area: float) -> None:
    # Source: the terminator is half an ellipse of half-width 1 - 2k, so the lit area is k pi.
    x, y = np.array(moon_shape(lit, 37.0)).T
    shoelace = 0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))
    assert shoelace / np.pi == pytest.approx(area, abs=0.01)


def test_stars_are_blue_to_orange_by_their_index() -> None:
    blue, white, orange = star_colours(np.array([-0.2, np.nan, 1.6]), red=False)
    assert blue[2] > blue[0]
    assert orange[0] > orange[2]
    assert min(white) > 230


def test_files_are_named_once_each(plan: Plan, seen: tuple[View, ...]) -> None:
    names = list(preview_files(plan, [*seen, seen[0]]))
    assert names[:3] == ["views.svg", "views.png", "views-red.png"]
    assert {"view-16mm-1.svg", "view-16mm-2.svg", "view-40mm.png"} <= set(names)
    assert len(names) == len(set(names)) == 13
    assert preview_files(plan, []) == {}
    with pytest.raises(NothingFoundError):
        side_by_side_sheet([], title="none")


@pytest.mark.slow
def test_writing_refuses_before_it_writes(
    plan: Plan, elevation: Elevation, tmp_path: Path, seen: tuple[View, ...]
) -> None:
    (tmp_path / "view-85mm.png").write_text("mine")
    with pytest.raises(WriteRefusedError):
        write_previews(plan, elevation, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["view-85mm.png"]
    written = write_previews(plan, elevation, tmp_path, overwrite=True)
    assert len(written) == 11
    with pytest.raises(WriteRefusedError, match=r"\.svg or \.png"):
        write_sheet(preview_sheet(seen[0]), tmp_path / "view.jpg")


@pytest.mark.slow
def test_stand_draws_pictures_and_compares(tmp_path: Path) -> None:
    from backbearing.cli import group

    sample = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"
    folder = tmp_path / "pictures"
    run = CliRunner().invoke(
        group,
        ["stand", str(sample), "--compare", "--all", "--pictures", str(folder), "--guides"],
        standalone_mode=False,
    )
    assert run.exception is None, run.output
    assert "core, frame heights" in run.output
    assert "common rules" in run.output
    assert "fails by 2 pixels" in " ".join(run.output.split())
    assert (folder / "views.png").exists()
    wrong = CliRunner().invoke(group, ["stand", str(sample), "--guides"])
    assert wrong.exit_code == 2
