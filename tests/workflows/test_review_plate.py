"""The plate of a review: frames of one subject at one size of it."""

from __future__ import annotations

import datetime as dt
import re
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from backbearing.base.errors import NothingFoundError, WriteRefusedError
from backbearing.pictures.plate import (
    WIDEST_PX,
    PlateFrame,
    abreast,
    plate_columns,
    plate_picture,
    widest_frame_px,
)
from backbearing.plan.turns import at_turns
from backbearing.review.night import Given, reviewed
from backbearing.review.picture import Picture
from backbearing.workflows.review_plate import PlateLook, check_plate, write_plate

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "review"))

from star_fields import ratio, save


def box_picture(width, height, *, column, base, tall, sky=70):
    """A dark box on dark land against an even sky."""
    pixels = np.full((height, width, 3), sky, dtype=np.uint8)
    pixels[base:] = 4
    half = round(tall * 3.0 / 7.0)
    pixels[base - tall : base, column - half : column + half] = 4
    return pixels


def tall_of(picture):
    """Rows of the dark box in a column of a plate, over the land beside it."""
    dark = np.asarray(picture.convert("L")) < 30
    land = int(dark[:, 2].argmax()) if dark[:, 2].any() else dark.shape[0]
    middle = dark[:, dark.shape[1] // 2 - 3 : dark.shape[1] // 2 + 3].all(axis=1)
    return land - int(middle.argmax())


@pytest.fixture(scope="module")
def view(plan, elevation):
    from backbearing.alignment.view.lens_views import view_of

    lens = next(one for one in plan.lenses if one.stand is not None)
    return view_of(plan, lens, elevation)


def test_frames_of_other_sizes_come_to_one_size_of_the_subject(view):
    sizes = [(900, 600, 450, 480, 160), (1500, 1000, 760, 830, 390), (640, 480, 300, 400, 150)]
    frames = [
        PlateFrame(
            label=f"{i}", says=(), picture=box_picture(w, h, column=c, base=b, tall=t),
            column_px=c, base_px=b, tall_px=t, view=view, planned_share=0.3, planned_margin=0.1,
            degree_px=10.0,
        )
        for i, (w, h, c, b, t) in enumerate(sizes)
    ]  # fmt: skip
    columns = plate_columns(frames)
    assert len({one.taken.size for one in columns} | {one.planned.size for one in columns}) == 1
    # None is enlarged, so all are as the smallest; edges are good to a pixel or two.
    assert [tall_of(one.taken) for one in columns] == pytest.approx([150, 150, 150], abs=2)


def test_the_whole_way_from_files_to_plate(tmp_path, outing, plan, monkeypatch):
    files = []
    for i, lens in enumerate(one for one in at_turns(plan).lenses if one.stand is not None):
        stand = lens.stand
        tall, base = round(stand.share * 1000), round((1.0 - stand.base_margin) * 1000)
        files.append(
            save(
                tmp_path / f"f{i}.jpg",
                box_picture(1500, 1000, column=790, base=base, tall=tall, sky=60 + 20 * i),
                shutter=ratio(10),
                time=stand.time.strftime("%Y:%m:%d %H:%M:%S"),
                offset="+00:00",
                focal=ratio(lens.lens.focal_length_mm),
            )
        )
    decoded = []
    load = Picture.load
    monkeypatch.setattr(Picture, "load", lambda path: decoded.append(path.name) or load(path))
    look = PlateLook(outing, plan)
    review = reviewed(outing, plan, files, Given(measure=False), looks=[look])
    assert sorted(decoded) == sorted(file.name for file in files)
    for name, kind in (("plate.png", "PNG"), ("plate.jpg", "JPEG"), ("plate.tif", "TIFF")):
        with Image.open(write_plate(look, review, tmp_path / name)) as made:
            assert made.format == kind
            assert 1000 < made.width <= WIDEST_PX
    page = write_plate(look, review, tmp_path / "plate.html", match_exposure=True).read_text(
        encoding="utf-8"
    )
    # Nothing is decoded again, and what is kept of each frame is small.
    assert len(decoded) == len(files)
    assert all(one.pixels.nbytes < 12_000_000 for one in look.kept.values())
    assert page.count("<figure>") == len(files)
    assert "Exposures matched" in page
    assert not re.search(r"(?:src|href)=\"(?!data:)", page)
    with pytest.raises(WriteRefusedError):
        write_plate(look, review, tmp_path / "plate.png")


def test_of_a_lens_s_frames_the_one_nearest_to_its_turn_is_shown(tmp_path, outing, plan):
    lens = next(one for one in at_turns(plan).lenses if one.stand is not None)
    files = [
        save(
            tmp_path / f"{minutes}.jpg",
            box_picture(600, 400, column=300, base=330, tall=120),
            time=(lens.stand.time + dt.timedelta(minutes=minutes)).strftime("%Y:%m:%d %H:%M:%S"),
            offset="+00:00",
            focal=ratio(lens.lens.focal_length_mm),
        )
        for minutes in (90, 0, -120)
    ]
    look = PlateLook(outing, plan)
    reviewed(outing, plan, files, Given(measure=False), looks=[look])
    assert [one.frame.name for one in look.kept.values()] == ["0.jpg"]


def test_many_frames_stand_in_rows_no_wider_than_a_picture_may_be(view):
    frames = [
        PlateFrame(
            label=f"{i} mm", says=("far", "large"), column_px=450, base_px=480, tall_px=160,
            picture=box_picture(900, 600, column=450, base=480, tall=160), view=view,
            planned_share=0.3, planned_margin=0.1, degree_px=10.0,
        )
        for i in range(8)
    ]  # fmt: skip
    assert [abreast(n) for n in (1, 4, 5, 8, 9)] == [1, 4, 3, 4, 3]
    columns = plate_columns(frames, widest_px=widest_frame_px(8))
    made = plate_picture(columns, title="t", notes=["n"])
    wide, tall = columns[0].taken.size
    assert made.width == 4 * (wide + 12) + 12 <= WIDEST_PX
    assert made.height > 4 * tall


def test_no_frame_no_plate(tmp_path, outing, plan):
    look = PlateLook(outing, plan)
    review = reviewed(outing, plan, [], Given(), looks=[look])
    with pytest.raises(NothingFoundError, match="no plate"):
        write_plate(look, review, tmp_path / "plate.png")
    with pytest.raises(WriteRefusedError, match=r"\.png, \.jpg, \.tif or \.html"):
        check_plate(tmp_path / "plate.gif")


@pytest.mark.browser
def test_the_page_turns_from_lens_to_lens(tmp_path, chromium, view):
    from backbearing.pictures.plate import plate_page

    frames = [
        PlateFrame(
            label=f"{mm} mm", says=("<b>far</b>",), column_px=450, base_px=480, tall_px=160,
            picture=box_picture(900, 600, column=450, base=480, tall=160), view=view,
            planned_share=0.3, planned_margin=0.1, degree_px=10.0,
        )
        for mm in (16, 40)
    ]  # fmt: skip
    file = tmp_path / "plate.html"
    file.write_text(plate_page(plate_columns(frames), title="A <i>mill</i>", notes=["n"]))
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    complaints = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.goto(file.as_uri())
    assert page.locator("h1").inner_text() == "A <i>mill</i>"
    assert page.locator("figure:visible").count() == 1
    # The plan stands beside the frame; then either alone.
    shown = page.locator("figure:visible img:visible")
    assert [one.get_attribute("alt") for one in shown.all()] == [
        "16 mm, as taken", "16 mm, as planned",
    ]  # fmt: skip
    page.focus("#lens")
    page.keyboard.press("ArrowRight")
    assert page.locator("#which").inner_text() == "40 mm"
    page.keyboard.press("p")
    assert [one.get_attribute("alt") for one in shown.all()] == ["40 mm, as taken"]
    page.keyboard.press("p")
    assert [one.get_attribute("alt") for one in shown.all()] == ["40 mm, as planned"]
    page.get_by_label("both").check()
    assert shown.count() == 2
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.check("#red")
    over = page.evaluate("getComputedStyle(document.body, '::after').mixBlendMode")
    assert over == "multiply"
    assert complaints == []
    context.close()


@pytest.mark.browser
def test_without_scripts_the_frames_are_rows(tmp_path, chromium, view):
    from backbearing.pictures.plate import plate_page

    frames = [
        PlateFrame(
            label=f"{mm} mm", says=("12 m as planned",), column_px=450, base_px=480, tall_px=160,
            picture=box_picture(900, 600, column=450, base=480, tall=160), view=view,
            planned_share=0.3, planned_margin=0.1, degree_px=10.0,
        )
        for mm in (16, 40)
    ]  # fmt: skip
    file = tmp_path / "plate.html"
    file.write_text(plate_page(plate_columns(frames), title="A mill", notes=["n"]))
    context = chromium.new_context(
        viewport={"width": 1280, "height": 800}, java_script_enabled=False
    )
    page = context.new_page()
    page.goto(file.as_uri())
    assert page.locator("figure img:visible").count() == 4
    assert not page.locator("#turn").is_visible()
    taken, planned = (page.locator("figure").first.locator("img").nth(i) for i in (0, 1))
    assert taken.bounding_box()["y"] == planned.bounding_box()["y"]
    context.close()
