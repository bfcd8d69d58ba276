"""Share, level camera, placement, outlines, and what to give up when they cannot be met."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from backbearing.alignment import Framing, Subject, find_stands
from backbearing.alignment.night.from_outing import asked_minute, night_sky, scene_of, zone_of
from backbearing.alignment.night.lens_arc import settle_lens
from backbearing.alignment.stand.lens_figures import figures_of_each
from backbearing.base.errors import CameraError, OutingError
from backbearing.camera import Camera, Frame, Lens
from backbearing.outing.outline import Outline
from backbearing.outing.outline_svg import read_outline
from backbearing.sky import CORE

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.stand import LensPlan
    from backbearing.terrain import Elevation

NIGHT = dt.datetime(2027, 6, 6, 4, 20, tzinfo=dt.UTC)
CAMERA = Camera(36.0, 24.0, 6000, 4000)
TREE = Subject(lat=36.3726, lon=-84.3602, height_m=6.0, width_m=5.0)


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


def stand(lens: Lens, framing: Framing, subject: Subject = TREE, camera: Camera = CAMERA):
    (found,) = find_stands(subject, CORE, NIGHT, camera, [lens], framing)
    return found


@given(
    share=st.floats(0.05, 0.6),
    focal=st.floats(14.0, 135.0),
    rise=st.floats(-4.0, 11.0),
    projection=st.sampled_from(["rectilinear", "equisolid"]),
)
def test_a_level_camera_keeps_the_share_and_reports_the_margin(
    share: float, focal: float, rise: float, projection: str
) -> None:
    lens = Lens(max(focal, 20.0), projection=projection, rise_mm=rise)  # type: ignore[arg-type]
    found = stand(lens, Framing(share=share, level=True))
    assert found.pitch_deg == 0.0
    assert found.share == pytest.approx(share, abs=1e-8)
    # The base, 1.6 m and the Earth's curve below a level eye, by the projection alone.
    curve = 0.87 * found.distance_m**2 / (2.0 * 6_371_000.0)
    down = math.atan2(1.6 + curve, found.distance_m)
    mm = lens.focal_length_mm * (
        math.tan(down) if projection == "rectilinear" else 2.0 * math.sin(down / 2.0)
    )
    assert found.base_margin == pytest.approx(0.5 - (mm + rise) / 24.0, abs=1e-5)


@pytest.mark.slow
@given(share=st.floats(0.03, 0.5), focal=st.floats(14.0, 135.0), level=st.booleans())
def test_share_by_width_comes_back(share: float, focal: float, level: bool) -> None:
    found = stand(Lens(focal), Framing(share=share, share_of="width", level=level))
    assert found.share_width == pytest.approx(share, abs=1e-8)
    frame = Frame(CAMERA, Lens(focal), found.pitch_deg, found.bearing_deg)
    _, base = frame.direction(0.5, found.base_margin)
    corners = []
    for across, up in ((-2.5, 0.0), (2.5, 0.0), (-2.5, 6.0), (2.5, 6.0)):
        level_m = found.distance_m * math.tan(math.radians(base)) + up
        x, _ = frame.place(
            found.bearing_deg + math.degrees(math.atan2(across, found.distance_m)),
            math.degrees(math.atan2(level_m, math.hypot(across, found.distance_m))),
        )
        corners.append(x)
    assert max(corners) - min(corners) == pytest.approx(share, abs=1e-6)


MUSHROOM = Outline.of_widths(
    [[0.0, 2.0], [1.2, 0.7], [2.0, 0.8], [2.4, 3.6], [3.6, 3.0], [6.0, 1.0]], height_m=6.0
)
STEPPED = Outline(
    (((-2.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.5, 1.0), (0.5, 6.0), (-0.5, 6.0), (-2.0, 1.0)),),
    "stepped",
)


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
@pytest.mark.parametrize("level", [True, False])
@pytest.mark.parametrize("outline", [None, MUSHROOM, STEPPED])
def test_share_by_width_counts_the_bent_sides_of_a_fisheye(
    share: float, level: bool, outline: Outline | None
) -> None:
    lone = dataclasses.replace(TREE, width_m=6.0, outline=outline)
    fisheye = Lens(16.0, projection="equisolid")
    found = stand(fisheye, Framing(share=share, share_of="width", level=level), lone)
    assert found.share_width == pytest.approx(share, abs=1e-8)
    # Every centimetre of its edge through r = 2 f sin(theta / 2), by angles alone.
    edge = shapely.LinearRing((outline or Outline.box(6.0, 6.0)).rings[0]).segmentize(0.01)
    across, up = shapely.get_coordinates(edge).T
    d, pitch = found.distance_m, math.radians(found.pitch_deg)
    # The base falls at its margin: find its height over the eye from there.
    mm = (found.base_margin - 0.5) * CAMERA.frame_height_mm
    base = pitch + 2.0 * math.asin(mm / 32.0)
    rise = d * math.tan(base) + up
    forward = d * math.cos(pitch) + rise * math.sin(pitch)
    upward = rise * math.cos(pitch) - d * math.sin(pitch)
    theta = np.arctan2(np.hypot(across, upward), forward)
    x = 32.0 * np.sin(theta / 2.0) * across / np.hypot(across, upward)
    assert np.ptp(x) / CAMERA.frame_width_mm == pytest.approx(share, abs=1e-6)


def test_level_rectilinear_distance_is_the_pinhole_rule() -> None:
    # Size on the sensor over focal length is size over distance, at pitch 0 exactly.
    found = stand(Lens(35.0), Framing(share=0.3, level=True))
    assert found.distance_m == pytest.approx(35.0 * 6.0 / (0.3 * 24.0), rel=1e-6)


def test_a_level_frame_that_cuts_the_base_says_so() -> None:
    found = stand(Lens(14.0, rise_mm=10.0), Framing(share=0.8, level=True))
    assert found.base_margin < 0.0
    assert any("cuts off the subject's base" in said for said in found.cautions)


def test_a_box_of_the_frame_and_a_height_over_the_top_decide_in_frame() -> None:
    lens = Lens(35.0)
    free = stand(lens, Framing(share=0.36))
    assert free.in_frame
    around = (0.4, free.target_y - 0.02, 0.6, free.target_y + 0.02)
    above = (0.4, free.target_y + 0.01, 0.6, free.target_y + 0.05)
    assert stand(lens, Framing(share=0.36, target_box=around)).in_frame
    assert not stand(lens, Framing(share=0.36, target_box=above)).in_frame
    for off, expected in ((0.0, True), (0.9, True), (1.1, False), (-1.1, False)):
        framing = Framing(share=0.36, above_top_deg=free.above_top_deg + off)
        assert stand(lens, framing).in_frame is expected


def test_a_target_behind_the_subject_itself_is_said() -> None:
    found = stand(Lens(14.0), Framing(share=0.8, base_margin=0.1))
    assert found.above_top_deg < 0.0
    assert any("behind the subject itself" in said for said in found.cautions)
    beside = stand(Lens(14.0), Framing(share=0.8, base_margin=0.1, offset_deg=-40.0))
    assert not any("behind the subject itself" in said for said in beside.cautions)


@pytest.mark.parametrize(
    ("wrong", "key"),
    [
        ({"share_of": "area"}, "share_of"),
        ({"above_top_deg": 95.0}, "above_top_deg"),
        ({"target_box": (0.2, 0.9, 0.4, 0.3)}, "target_box"),
        ({"target_box": (0.2, 0.3, 0.4, 1.3)}, "target_box"),
        ({"share": 1.0, "share_of": "width"}, "share"),
    ],
)
def test_placements_that_cannot_exist_are_refused(wrong: dict[str, object], key: str) -> None:
    with pytest.raises(CameraError) as caught:
        Framing(**wrong)  # type: ignore[arg-type]
    assert caught.value.facts["key"] == key


def settled(
    outing: Outing, elevation: Elevation, number: int, at: str | None = None, **framing: object
) -> LensPlan:
    asked = dataclasses.replace(outing.framing, **framing)  # type: ignore[arg-type]
    changed = dataclasses.replace(outing, framing=asked)
    scene, zone = scene_of(changed, elevation), zone_of(changed)
    sky, request = night_sky(changed.night, scene, zone), changed.lenses[number]
    scene = scene.with_share(request.share)
    return settle_lens(
        scene,
        request.lens,
        sky,
        asked_minute(changed, at or request.at or changed.night.at, zone),
        lambda asked: figures_of_each(asked, changed),
    )


@pytest.mark.slow
def test_what_is_given_up_is_then_reachable(outing: Outing, elevation: Elevation) -> None:
    found = settled(outing, elevation, 2, "02:00", share=0.7, base_margin=0.25, behind_subject=True)
    kinds = {one.give_up: one for one in found.compromises}
    assert {"share", "base_margin", "orientation", "lens", "placement"} <= set(kinds)
    assert kinds["share"].sentence in found.sentence
    share = kinds["share"].value
    reached = settled(outing, elevation, 2, "02:00", share=share, base_margin=0.25)
    assert reached.stand is not None
    assert reached.stand.in_frame
    over = settled(outing, elevation, 2, "02:00", share=share + 0.01, base_margin=0.25)
    assert over.stand is not None
    assert not over.stand.in_frame
    margin = kinds["base_margin"].value
    lower = settled(outing, elevation, 2, "02:00", share=0.7, base_margin=margin)
    assert lower.stand is not None
    assert lower.stand.in_frame


@pytest.mark.slow
def test_a_box_over_the_target_asks_for_more_and_not_for_less(
    outing: Outing, elevation: Elevation
) -> None:
    """A wide lens holds the target below the box: only more share, margin or lens lifts it."""
    box = {"target_box": (0.3, 0.6, 0.7, 0.95)}
    found = settled(outing, elevation, 0, **box)
    assert found.stand is None
    kinds = {one.give_up: one for one in found.compromises}
    assert kinds["share"].value > outing.framing.share
    assert kinds["base_margin"].value > outing.framing.base_margin
    assert kinds["lens"].value > 15.0
    margin = kinds["base_margin"].value
    assert f"at least {margin:.3g}" in found.sentence
    lifted = settled(outing, elevation, 0, base_margin=margin, **box)
    assert lifted.stand is not None
    assert lifted.stand.in_frame
    assert lifted.stand.target_y == pytest.approx(0.6, abs=0.01)
    longer = dataclasses.replace(
        outing, lenses=(dataclasses.replace(outing.lenses[0], lens=Lens(kinds["lens"].value)),)
    )
    assert settled(longer, elevation, 0, **box).stand is not None


@pytest.mark.slow
def test_a_place_over_the_top_that_no_minute_gives_names_the_nearest(
    outing: Outing, elevation: Elevation
) -> None:
    found = settled(outing, elevation, 2, above_top_deg=60.0)
    assert found.stand is None
    (nearest,) = [one for one in found.compromises if one.give_up == "placement"]
    assert "nearest to 60° over the top" in found.sentence
    assert 0.0 < nearest.value < 30.0


def test_a_framing_that_can_be_met_gives_nothing_up(outing: Outing, elevation: Elevation) -> None:
    assert settled(outing, elevation, 1).compromises == ()


def test_a_lens_may_have_its_own_share(outing: Outing, elevation: Elevation) -> None:
    own = dataclasses.replace(outing.lenses[1], share=0.2)
    changed = dataclasses.replace(outing, lenses=(own,))
    found = settled(changed, elevation, 0)
    assert found.asked_share == 0.2
    assert found.stand is not None
    assert found.stand.share == pytest.approx(0.2, abs=1e-8)


# Outlines.


def test_widths_at_heights_make_a_shape_alike_on_both_sides() -> None:
    shape = Outline.of_widths([[0, 1], [2, 0.5], [4, 4], [6, 0]], height_m=6.0)
    assert (shape.width_m, shape.height_m) == (4.0, 6.0)
    (ring,) = shape.rings
    assert {(-x, y) for x, y in ring} == set(ring)


@pytest.mark.parametrize(
    ("rows", "saying"),
    [
        ([[0, 1]], "two rows"),
        ([[1, 1], [6, 1]], "rise from height 0"),
        ([[0, 1], [3, 1], [3, 2], [6, 1]], "rise from height 0"),
        ([[0, 1], [5, 1]], "last row must be the top"),
        ([[0, -1], [6, 1]], "below 0"),
        ([[0, 1, 2], [6, 1]], "two rows or more"),
    ],
)
def test_rows_that_make_no_shape_are_refused(rows: list[list[float]], saying: str) -> None:
    with pytest.raises(OutingError, match=saying):
        Outline.of_widths(rows, height_m=6.0)


def svg(tmp_path: Path, inside: str) -> Path:
    path = tmp_path / "shape.svg"
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg">{inside}</svg>', encoding="utf-8")
    return path


def test_an_svg_triangle_is_scaled_to_the_subject(tmp_path: Path) -> None:
    path = svg(tmp_path, '<path d="M10,50 l 40 0 -20-40z"/>')
    shape = read_outline(path, height_m=8.0, width_m=None)
    np.testing.assert_allclose(shape.rings[0][:3], [(-4.0, 0.0), (4.0, 0.0), (0.0, 8.0)])
    wide = read_outline(path, height_m=8.0, width_m=2.0)
    assert wide.width_m == pytest.approx(2.0)


def test_curves_are_those_of_the_standard(tmp_path: Path) -> None:
    # Source: SVG 1.1 chapter 8: a circle's quarter by cubic Beziers, k = 4/3 (sqrt 2 - 1).
    k = 100.0 * 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)
    path = svg(
        tmp_path,
        f'<path d="M 100 0 c 0 {k} {k - 100} 100 -100 100 S -100 {k} -100 0 '
        f'{-k} -100 0 -100 S 100 {-k} 100 0 Z"/>',
    )
    shape = read_outline(path, height_m=2.0, width_m=None)
    radii = [math.hypot(x, y - 1.0) for x, y in shape.rings[0]]
    np.testing.assert_allclose(radii, 1.0, atol=5e-4)


def test_quadratics_lines_and_polygons_are_read(tmp_path: Path) -> None:
    path = svg(tmp_path, '<path d="M0 0H10V10Q5 20 0 10T-10 10Z"/><polygon points="2,2 4,2 3,4"/>')
    shape = read_outline(path, height_m=1.0, width_m=1.0)
    assert len(shape.rings) == 2
    assert len(shape.rings[0]) > 30


@pytest.mark.parametrize(
    ("inside", "saying"),
    [
        ("", "no closed"),
        ('<path d="M0 0 A 5 5 0 0 1 9 9 Z"/>', "arcs as curves"),
        ('<path d="L0 0 1 1 2 0"/>', "begin with M"),
        ('<path d="M0 0 L 1"/>', "numbers after L"),
        ('<path d="M0 0 L 1 1 # 2 2"/>', "in its path data"),
        ('<g transform="scale(2)"><path d="M0 0 1 1 2 0z"/></g>', "transform"),
        ('<path d="M0 0 5 0 9 0z"/>', "area"),
        ("<path", "not well-formed"),
    ],
)
def test_drawings_that_cannot_be_read_say_why(tmp_path: Path, inside: str, saying: str) -> None:
    with pytest.raises(OutingError, match=saying):
        read_outline(svg(tmp_path, inside), height_m=1.0, width_m=None)


def test_an_svg_with_entities_or_bytes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bomb.svg"
    path.write_text(
        '<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg><path d="M0 0 1 1 2 0z"/></svg>', encoding="utf-8"
    )
    with pytest.raises(OutingError, match="document type"):
        read_outline(path, height_m=1.0, width_m=None)
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(OutingError, match="UTF-8"):
        read_outline(path, height_m=1.0, width_m=None)
    with pytest.raises(OutingError, match="cannot be read"):
        read_outline(tmp_path / "none.svg", height_m=1.0, width_m=None)


def test_an_outline_must_be_as_high_as_the_subject() -> None:
    with pytest.raises(OutingError, match="same height"):
        Subject(lat=0.0, lon=0.0, height_m=5.0, outline=Outline.box(2.0, 6.0))


def test_the_outlines_width_is_the_one_that_counts() -> None:
    shape = Outline.of_widths([[0, 1], [6, 3]], height_m=6.0)
    lone = dataclasses.replace(TREE, outline=shape)
    assert lone.shown_width_m == 3.0
    narrow = stand(Lens(35.0), Framing(share=0.2, share_of="width"), lone)
    wide = stand(Lens(35.0), Framing(share=0.2, share_of="width"))
    assert narrow.distance_m < wide.distance_m
