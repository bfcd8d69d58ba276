"""The outing file's keys for camera, framing, subject's shape and exposure."""

from __future__ import annotations

import dataclasses
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import BackbearingError
from backbearing.outing.load import load_outing
from backbearing.outing.schema import OutingShape

if TYPE_CHECKING:
    from backbearing.outing.request import Outing

STARTER = Path(__file__).parents[2] / "src" / "backbearing" / "data" / "starter_outing.toml"


@pytest.fixture
def change(tmp_path: Path, sample_text: str):
    """Put a line at the head of a section in place of what that key said before."""

    def make(*changes: tuple[str, str]) -> Outing:
        text = sample_text
        for section, line in changes:
            if not section:
                text += f"\n{line}\n"
                continue
            key = line.split("=")[0].strip()
            head, tail = text.split(f"{section}\n", 1)
            body, *rest = tail.split("\n[", 1)
            kept = [r for r in body.splitlines() if r.split("=")[0].strip() != key]
            new = "\n".join([line, *kept]) if line else body
            text = "\n[".join([f"{head}{section}\n{new}", *rest])
        path = tmp_path / "outing.toml"
        path.write_text(text, encoding="utf-8")
        return load_outing(path)

    return make


def test_a_camera_by_its_formats_name(tmp_path: Path, sample_text: str) -> None:
    body = 'sensor_format = "Four Thirds"\nwidth_px = 5184\norientation = "portrait"\n'
    head, tail = sample_text.split("[camera]\n", 1)
    path = tmp_path / "outing.toml"
    path.write_text(f"{head}[camera]\n{body}\n[{tail.split(chr(10) + '[', 1)[1]}", encoding="utf-8")
    camera = load_outing(path).camera
    assert (camera.sensor_width_mm, camera.sensor_height_mm) == (17.3, 13.0)
    assert camera.height_px == 3895
    assert camera.frame_height_mm == 17.3


def test_crop_share_rise_and_projection(change) -> None:
    outing = change(
        ("[camera]", "crop_px = [3000, 2000]"),
        ("[[lens]]", "rise_mm = 5.0"),
        ("[[lens]]", "share = 0.2"),
    )
    assert outing.camera.sensor_width_mm == pytest.approx(18.0)
    assert outing.camera.width_px == 3000
    assert outing.lenses[0].lens.rise_mm == 5.0
    assert outing.lenses[0].share == 0.2
    assert [lens.share for lens in outing.lenses[1:]] == [0.28, None, None]


def test_framing_and_exposure_keys_arrive(change) -> None:
    outing = change(
        ("[framing]", 'share_of = "width"'),
        ("[framing]", "level = true"),
        ("[framing]", "above_top_deg = 8.0"),
        ("[framing]", "target_box = [0.3, 0.5, 0.7, 0.9]"),
        ("[camera]", "accepted_blur_px = 3.0"),
        ("[camera]", "panorama_overlap = 0.4"),
        ("", "[exposure]\niso = 1600\nquantum_efficiency = 0.6\nframes = 12"),
    )
    framing = outing.framing
    assert (framing.share_of, framing.level, framing.above_top_deg) == ("width", True, 8.0)
    assert framing.target_box == (0.3, 0.5, 0.7, 0.9)
    assert (outing.accepted_blur_px, outing.panorama_overlap) == (3.0, 0.4)
    assert (outing.exposure.iso, outing.exposure.frames) == (1600.0, 12)
    assert outing.exposure.sensor is not None
    assert outing.exposure.sensor.quantum_efficiency == 0.6


def test_the_sample_has_an_outline_as_high_as_its_gable(outing: Outing) -> None:
    shape = outing.subject.outline
    assert shape is not None
    assert shape.height_m == pytest.approx(7.0)
    assert shape.width_m == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("section", "line", "saying"),
    [
        ("[camera]", 'sensor_format = "135"', "sensor_format, or sensor_width_mm"),
        ("[camera]", "crop_px = [9000, 4000]", "does not fit"),
        ("[camera]", "crop_px = [3000]", "crop_px"),
        ("[camera]", "accepted_blur_px = 0", "accepted_blur_px"),
        ("[framing]", 'share_of = "area"', "'height' or 'width'"),
        ("[framing]", "level = 3", "level"),
        ("[framing]", "above_top_deg = 120.0", "between -90 and 90"),
        ("[framing]", "target_box = [0.5, 0.2, 0.1, 0.9]", "left, bottom, right, top"),
        ("[framing]", "target_box = [0.5, 0.2]", "target_box"),
        ("[framing]", "share = 0.95", "do not fit in one frame"),
        ("[subject]", "widths_m = [[0, 1], [6, 2]]", "one way only"),
        ("[subject]", 'outline = "gone.svg"', "gone.svg cannot be read"),
        ("[subject]", "height_m = -4.0", "height_m is -4.0"),
        ("[[lens]]", "share = 1.5", "share"),
        ("[[lens]]", "focal_length_mm = 0", "focal_length_mm is 0"),
        ("[[lens]]", 'projection = "stereographic"', "'rectilinear' or 'equisolid'"),
        ("", "[exposure]\nquantum_efficiency = 1.5", "quantum_efficiency is 1.5"),
        ("", "[exposure]\nframes = 0", "frames"),
        ("", "[exposure]\niso = -5", "iso"),
        ("", "[exposure]\nsky_mag = 21", "sky_mag_arcsec2"),
    ],
)
def test_a_bad_value_is_refused_with_its_section(
    change, section: str, line: str, saying: str
) -> None:
    with pytest.raises(BackbearingError) as caught:
        change((section, line))
    said = str(caught.value)
    assert saying in said
    assert said.startswith("outing.toml: ")
    assert (section or "[exposure]") in said
    assert "\n" not in said


def test_a_fisheye_of_two_hundred_degrees_is_refused(change) -> None:
    from backbearing.alignment import plan_night

    outing = change(("[[lens]]", 'projection = "equisolid"'))
    short = dataclasses.replace(outing.lenses[0].lens, focal_length_mm=14.0)
    outing = outing.with_lenses((dataclasses.replace(outing.lenses[0], lens=short),))
    with pytest.raises(BackbearingError, match="190 is the limit"):
        # 14 mm equisolid on 36 x 24 mm would need 201 degrees corner to corner.
        plan_night(outing)


def test_every_key_stands_in_the_starter_file() -> None:
    text = STARTER.read_text(encoding="utf-8")
    tomllib.loads(text)
    for section in ("subject", "camera", "framing", "exposure"):
        shape = OutingShape.model_fields[section].annotation
        body = text.split(f"[{section}]\n", 1)[1].split("\n[", 1)[0]
        for key in shape.model_fields:
            if key not in {"kind"}:
                assert key in body, (section, key)


# 12' 36" is 0.21 of a degree.
PLACE = 'place = "31 30 00 S 148 12 36 E"'


def with_place(text: str, line: str, *, keep: tuple[str, ...] = ()) -> str:
    head, tail = text.split("[subject]\n", 1)
    body, rest = tail.split("\n[", 1)
    lines = [r for r in body.splitlines() if r.split("=")[0].strip() not in {"lat", "lon", *keep}]
    return f"{head}[subject]\n{line}\n" + "\n".join(lines) + f"\n[{rest}"


def loaded(folder: Path, text: str) -> Outing:
    path = folder / "outing.toml"
    path.write_text(text, encoding="utf-8")
    return load_outing(path)


def test_a_place_stands_for_lat_and_lon(tmp_path: Path, sample_text: str) -> None:
    subject = loaded(tmp_path, with_place(sample_text, PLACE)).subject
    assert (subject.lat, subject.lon) == pytest.approx((-31.5, 148.21), abs=1e-12)


def test_a_place_that_tells_its_doubt_is_no_better_known(tmp_path: Path, sample_text: str) -> None:
    sigma = ("position_sigma_m",)
    doubtful = with_place(sample_text, 'place = "geo:-31.5,148.2;u=40"', keep=sigma)
    assert loaded(tmp_path, doubtful).subject.position_sigma_m == 40.0
    # Not better than the usual 5 m, unless the outing says so itself.
    sure = with_place(sample_text, 'place = "geo:-31.5,148.2;u=1"', keep=sigma)
    assert loaded(tmp_path, sure).subject.position_sigma_m == 5.0
    own = with_place(
        sample_text, 'place = "geo:-31.5,148.2;u=40"\nposition_sigma_m = 3.0', keep=sigma
    )
    assert loaded(tmp_path, own).subject.position_sigma_m == 3.0


@pytest.mark.parametrize(
    ("line", "saying"),
    [
        ('place = "31 30 S 148 12 E"\nlat = -31.5', "in one way"),
        ('place = "31 30 S 148 12 E"\nlat = -31.5\nlon = 148.2', "in one way"),
        ("", "in one way"),
        ("lat = -31.5", "only lat is there"),
        ("lon = 148.2", "only lon is there"),
        ("place = -31.5", "write a place in quotes"),
        ('place = "148.2, -31.5"', "write the latitude first"),
        ('place = "by the creek"', "write it such as"),
    ],
)
def test_a_place_in_no_way_or_in_two(
    tmp_path: Path, sample_text: str, line: str, saying: str
) -> None:
    with pytest.raises(BackbearingError) as caught:
        loaded(tmp_path, with_place(sample_text, line))
    said = str(caught.value)
    assert said.startswith("outing.toml: [subject]")
    assert saying in said
    assert "\n" not in said


def test_a_moved_subject_stays_told_in_its_own_way(tmp_path: Path, sample_text: str) -> None:
    from backbearing.outing.write_keys import set_keys

    path = tmp_path / "outing.toml"
    path.write_text(with_place(sample_text, f"{PLACE}  # by the creek"), encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    set_keys(path, {"subject": {"lat": -31.5125, "lon": 148.25, "height_m": 5.0}})
    subject = load_outing(path).subject
    assert (subject.lat, subject.lon, subject.height_m) == (-31.5125, 148.25, 5.0)
    # One of the two alone leaves the other where it was.
    set_keys(path, {"subject": {"lat": -31.4}})
    assert (load_outing(path).subject.lat, load_outing(path).subject.lon) == (-31.4, 148.25)
    after = path.read_text(encoding="utf-8")
    assert "# by the creek" in after
    assert len(after.splitlines()) == len(before.splitlines())


def test_what_is_left_aside_of_a_place_is_said(tmp_path: Path, sample_text: str) -> None:
    text = with_place(sample_text, 'place = "geo:-31.5,148.2,640"')
    with pytest.warns(UserWarning, match="altitude of 640 m is not used"):
        assert loaded(tmp_path, text).subject.lat == -31.5
    with pytest.warns(UserWarning, match="S behind the zone was read as south"):
        loaded(tmp_path, with_place(sample_text, 'place = "55S 633000 6512000"'))
