"""The kit file: what an outing takes from it, what wins, and what is said of a wrong one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import BackbearingError
from backbearing.outing.kit import load_kit, uses_kit
from backbearing.outing.kit_place import KIT_VARIABLE, kit_file
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

KIT = """
format = 1

[body."my body"]
sensor_width_mm = 35.9
sensor_height_mm = 23.9
width_px = 7008
height_px = 4672
iso = 6400
read_noise_e = 1.7
accepted_trail_px = 4.0

[body.small]
sensor_format = "APS-C"
width_px = 5184

[lens."the 35"]
focal_length_mm = 35.0
f_number = 1.8

[lens.fisheye]
focal_length_mm = 12.0
projection = "equisolid"

[light."small lamp"]
lumens = 200
width_m = 0.12
height_m = 0.31

[me]
eye_height_m = 1.45
pace_m = 0.71
setup_minutes = 5
accepted_trail_px = 2.0
accepted_blur_px = 1.5
"""

OUTING = """
format = 1
[ground]
elevation = "ground.tif"
[subject]
place = "31 30 S 148 12 E"
height_m = 7.0
[night]
evening = 2027-06-05
[camera]
use = "my body"
[[lens]]
use = "the 35"
[[lens]]
focal_length_mm = 20.0
"""

SESSION = '[session]\nlight = "small lamp"\n'


@pytest.fixture
def kit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "kit.toml"
    path.write_text(KIT, encoding="utf-8")
    monkeypatch.setenv(KIT_VARIABLE, str(path))
    return path


def outing_file(folder: Path, text: str = OUTING) -> Path:
    path = folder / "outing.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_an_outing_takes_body_and_lens_by_their_names(tmp_path: Path, kit: Path) -> None:
    outing = load_outing(outing_file(tmp_path))
    camera = outing.camera
    assert (camera.sensor_width_mm, camera.sensor_height_mm) == (35.9, 23.9)
    assert (camera.width_px, camera.height_px) == (7008, 4672)
    assert outing.exposure.iso == 6400.0
    assert outing.exposure.sensor is not None
    assert outing.exposure.sensor.read_noise_e == 1.7
    first, second = (one.lens for one in outing.lenses)
    assert (first.focal_length_mm, first.f_number, first.label) == (35.0, 1.8, "35 mm")
    assert second.focal_length_mm == 20.0


def test_the_outing_wins_then_the_body_then_me(tmp_path: Path, kit: Path) -> None:
    plain = load_outing(outing_file(tmp_path))
    # The body's 4 pixels over one's own 2; one's own 1.5 where the body says nothing.
    assert (plain.accepted_trail_px, plain.accepted_blur_px) == (4.0, 1.5)
    assert plain.framing.eye_height_m == 1.45
    own = OUTING.replace('use = "my body"', 'use = "my body"\naccepted_trail_px = 6.0')
    own = own.replace('use = "the 35"', 'use = "the 35"\nf_number = 4.0')
    own += "[framing]\neye_height_m = 1.1\n[exposure]\niso = 800\n"
    said = load_outing(outing_file(tmp_path, own))
    assert (said.accepted_trail_px, said.framing.eye_height_m) == (6.0, 1.1)
    assert (said.exposure.iso, said.lenses[0].lens.f_number) == (800.0, 4.0)
    assert said.lenses[0].lens.focal_length_mm == 35.0


def test_one_way_of_telling_a_size_drives_out_the_other(tmp_path: Path, kit: Path) -> None:
    text = OUTING.replace('use = "my body"', 'use = "my body"\nsensor_format = "Four Thirds"')
    camera = load_outing(outing_file(tmp_path, text)).camera
    assert (camera.sensor_width_mm, camera.width_px) == (17.3, 7008)


def test_a_session_takes_its_light_and_ones_own_pace(tmp_path: Path, kit: Path) -> None:
    session = load_outing(outing_file(tmp_path, OUTING + SESSION)).session
    assert session is not None
    assert (session.light_width_m, session.light_height_m) == (0.12, 0.31)
    assert session.pace_m == 0.71
    assert session.minutes[0][1] == 5.0
    assert load_outing(outing_file(tmp_path)).session is None


def test_my_own_habits_come_with_the_body_only(tmp_path: Path, kit: Path) -> None:
    text = OUTING.replace(
        'use = "my body"',
        "sensor_width_mm = 36\nsensor_height_mm = 24\nwidth_px = 6000\nheight_px = 4000",
    )
    outing = load_outing(outing_file(tmp_path, text))
    assert outing.framing.eye_height_m == 1.6
    assert outing.lenses[0].lens.focal_length_mm == 35.0


def test_an_outing_that_uses_nothing_reads_no_kit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "kit.toml"
    broken.write_text("this is no kit", encoding="utf-8")
    monkeypatch.setenv(KIT_VARIABLE, str(broken))
    text = OUTING.replace('use = "my body"', 'sensor_format = "135"\nwidth_px = 6000')
    text = text.replace('use = "the 35"', "focal_length_mm = 35.0")
    assert load_outing(outing_file(tmp_path, text)).camera.width_px == 6000
    assert not uses_kit({"lens": [{"focal_length_mm": 35.0}], "camera": 3})


def test_where_the_kit_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(KIT_VARIABLE, str(tmp_path / "another.toml"))
    assert kit_file() == tmp_path / "another.toml"
    assert kit_file(tmp_path / "named.toml") == tmp_path / "named.toml"
    monkeypatch.delenv(KIT_VARIABLE)
    # XDG Base Directory Specification: $XDG_CONFIG_HOME; elsewhere the system's own place.
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    assert kit_file().name == "kit.toml"
    assert "backbearing" in kit_file().parts


def said_of(path: Path, **options: bool) -> str:
    with pytest.raises(BackbearingError) as caught:
        load_outing(path, **options)
    said = str(caught.value)
    assert "\n" not in said
    return said


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"my body"', '"my bdy"', '[camera] use is \'my bdy\'; did you mean "my body"?'),
        ('"the 35"', '"xyz"', "[[lens]] number 1, use is 'xyz'; write the name of a lens"),
        ('use = "my body"', "use = 3", "[camera] use is 3; write the name of a body"),
        ('use = "the 35"', "use = []", "[[lens]] number 1, use is []; write the name of a lens"),
        ('"small lamp"', '"smal lamp"', '[session] light is \'smal lamp\'; did you mean "small'),
    ],
)  # fmt: skip
def test_an_unknown_name_is_answered_with_the_nearest(
    tmp_path: Path, kit: Path, old: str, new: str, said: str
) -> None:
    text = (OUTING + SESSION).replace(old, new, 1)
    assert said_of(outing_file(tmp_path, text)).startswith(f"outing.toml: {said}")


def test_a_kit_that_is_missing_is_asked_for(tmp_path: Path, kit: Path) -> None:
    kit.unlink()
    said = said_of(outing_file(tmp_path))
    assert said.startswith("outing.toml: [camera] use names something of the kit")
    assert str(kit) in said
    assert "backbearing kit --write" in said


def test_a_strangers_outing_looks_nothing_up_in_my_kit(tmp_path: Path, kit: Path) -> None:
    assert "author's kit" in said_of(outing_file(tmp_path), trusted=False)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("= 7008", '= "wide"', '[body."my body"] width_px is \'wide\'; write a whole number'),
        ("iso =", "isso =", 'isso is not a key that is known here; did you mean iso?'),
        ("iso = 6400", "iso = 0", '[body."my body"] iso is 0'),
        ('"APS-C"', '"APSC"', '[body."small"]'),
        ("width_px = 5184", "", '[body."small"] width_px is missing; add it, see `backbearing kit'),
        ("f_number = 1.8", "f_number = 0", '[lens."the 35"] f_number is 0'),
        ("focal_length_mm = 12.0", "", '[lens."fisheye"] focal_length_mm is missing'),
        ("width_m = 0.12", "width_m = 120", '[light."small lamp"] width_m is 120'),
        ("eye_height_m = 1.45", "eye_height_m = 145", "[me]"),
        ("pace_m = 0.71", "pace_m = 71", "[me] pace_m is 71"),
        ("[me]", "[myself]", "[myself] is not a key that is known here"),
        ("format = 1", "format = 2", "format is 2"),
        ("format = 1", "", "format is missing"),
    ],
)  # fmt: skip
def test_a_wrong_kit_is_told_by_file_and_key(
    tmp_path: Path, kit: Path, old: str, new: str, said: str
) -> None:
    assert old in KIT
    kit.write_text(KIT.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BackbearingError) as caught:
        load_kit()
    assert str(caught.value).startswith("kit.toml: ")
    assert said in str(caught.value)
    assert said_of(outing_file(tmp_path)) == str(caught.value)


def test_a_kit_of_nothing_is_a_kit(kit: Path) -> None:
    kit.write_text("format = 1\n", encoding="utf-8")
    assert load_kit().body == {}


def test_the_outing_as_parsed_stays_as_it_is(tmp_path: Path, kit: Path) -> None:
    import tomllib

    from backbearing.outing.kit import with_kit

    raw = tomllib.loads(OUTING)
    whole = with_kit(raw, tmp_path / "outing.toml")
    assert raw == tomllib.loads(OUTING)
    assert not uses_kit(whole)
    assert whole["lens"][0]["focal_length_mm"] == 35.0


def test_a_lamps_lumens_go_where_light_is_asked_for(kit: Path, tmp_path: Path) -> None:
    asked = OUTING.replace("[night]", '[session]\nlight = "small lamp"\n{}\n[night]')
    path = tmp_path / "lamp.toml"
    lamps = []
    for more in ("", "[light]", "[light]\nlumens = 90"):
        path.write_text(asked.format(more), encoding="utf-8")
        lamps.append(load_outing(path).exposure.lamp)
    assert lamps[0] is None
    assert [lamp.lumens for lamp in lamps[1:] if lamp is not None] == [200.0, 90.0]
    assert kit.exists()
