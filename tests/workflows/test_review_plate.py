"""The plate of a review: frames of one subject at one size of it."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from backbearing.base.errors import NothingFoundError, WriteRefusedError
from backbearing.pictures.plate import PlateFrame, plate_columns
from backbearing.plan.turns import at_turns
from backbearing.review import review_frames
from backbearing.workflows.review_plate import check_plate, write_plate

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


def test_the_whole_way_from_files_to_plate(tmp_path, outing, plan):
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
    review = review_frames(outing, files, plan=plan, measure=False)
    target = write_plate(review, outing, plan, files, tmp_path / "plate.png")
    with Image.open(target) as made:
        assert made.width > 1000
    page = write_plate(
        review, outing, plan, files, tmp_path / "plate.html", match_exposure=True
    ).read_text(encoding="utf-8")
    assert page.count("<figure>") == len(files)
    assert "Exposures matched" in page
    assert not re.search(r"(?:src|href)=\"(?!data:)", page)
    with pytest.raises(WriteRefusedError):
        write_plate(review, outing, plan, files, tmp_path / "plate.png")


def test_no_frame_no_plate(tmp_path, outing, plan):
    review = review_frames(outing, [], plan=plan)
    with pytest.raises(NothingFoundError, match="no plate"):
        write_plate(review, outing, plan, [], tmp_path / "plate.png")
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
    page.focus("#lens")
    page.keyboard.press("ArrowRight")
    assert page.locator("#which").inner_text() == "40 mm"
    assert page.locator("figure:visible img:visible").get_attribute("alt") == "40 mm, as taken"
    page.check("#planned")
    assert page.locator("figure:visible img:visible").get_attribute("alt") == "40 mm, as planned"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert complaints == []
    context.close()
