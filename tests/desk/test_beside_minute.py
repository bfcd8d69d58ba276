"""Light, air, trees and cloud beside the desk's minute: what the outing has, with its doubt."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pytest

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.outing.load import load_outing
from invented import write_ground

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

    from running_desk import Running

EVERYTHING = """
[light]
lumens = 180
distance_m = 6
angle_deg = 40
reflectance = 0.3
stops_over_sky = 2

[exposure]
sky_mag_arcsec2 = 21.5
core_mag_arcsec2 = 20.5
"""
WOOD_M = 18.0


def with_everything(file: Path) -> None:
    """Ask for a lamp, put a wood on the ridge, and bring a forecast."""
    folder = file.parent

    def wood(east: Any, north: Any) -> Any:
        return WOOD_M * (abs(east - 1500.0 + 0.4 * north) < 500.0)

    write_ground(folder / "wood.tif", wood, lat=-31.2, lon=148.6)
    hours = [dt.datetime(2027, 6, 5, 6, tzinfo=dt.UTC) + dt.timedelta(hours=h) for h in range(18)]
    rows = [f"{hour.isoformat()},2027-06-05T00:00Z,20,0,50" for hour in hours]
    head = "time,run,low_percent,middle_percent,high_percent"
    (folder / "cloud.csv").write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    text = file.read_text(encoding="utf-8")
    text = text.replace("[subject]", 'canopy = "wood.tif"\n\n[subject]', 1)
    text = text.replace("[camera]", 'forecast = "cloud.csv"\n\n[camera]', 1)
    file.write_text(text + EVERYTHING, encoding="utf-8")


def low_minute(client: TestClient) -> float:
    """A moment at which the target stands over the ridge in the south-east."""
    night = client.get("/api/night").json()
    arc = night["lenses"][0]["points"]
    found = [i for i, p in enumerate(arc) if p[5] is not None and 12.0 < p[5] < 25.0 and p[3] < 180]
    return float(night["times"][found[len(found) // 2]])


def beside(client: TestClient, time: float) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    stands = client.get("/api/minute", params={"time": time}).json()
    asked = [{"time": time, "lens": i} for i, stand in enumerate(stands) if stand]
    return stands[0], [client.get("/api/light", params=one).json() for one in asked]


def test_an_outing_that_asks_for_nothing_hears_of_the_air_alone(client: TestClient) -> None:
    """[Kasten1989] and the sum of molecules, haze and ozone that docs/light.md gives, by hand."""
    stand, (said, *_) = beside(client, low_minute(client))
    assert [key for key, value in said.items() if value is not None] == ["air", "behind"]
    # What a minute is asked for again and again has none of it.
    assert "beside" not in stand
    altitude = stand["altitude_deg"]
    mass = 1.0 / (math.sin(math.radians(altitude)) + 0.50572 * (altitude + 6.07995) ** -1.6364)
    ground_m = client.get("/api/night").json()["subject"]["ground_m"]
    haze = 0.1 * math.exp(-ground_m / 1500.0)
    in_v = 0.1066 * math.exp(-ground_m / 8200.0) + haze + 0.031
    assert said["air"]["dimmer_mag"] == pytest.approx(in_v * (mass - 1.0), rel=0.01)
    assert said["air"]["sigma_mag"] == pytest.approx(0.5 * haze * mass, rel=0.01)
    assert said["air"]["redder_mag"] > 0.0
    assert "±" in said["air"]["says"][0]


def test_the_sky_behind_is_the_asked_number_or_that_of_towns(
    client: TestClient, outing_file: Path
) -> None:
    _, (asked, *_) = beside(client, low_minute(client))
    assert asked["behind"]["from"] == "asked"
    # 21.6 mag/arcsec2 by m = -2.5 log10(L / 108000).
    assert asked["behind"]["mag_arcsec2"] == 21.6
    assert asked["behind"]["cd_m2"] == pytest.approx(108_000.0 * 10.0 ** (-0.4 * 21.6))
    (outing_file.parent / "towns.csv").write_text(
        "name,lat,lon,population\nPelham,-31.35,148.75,40000\n", encoding="utf-8"
    )
    text = outing_file.read_text(encoding="utf-8")
    more = '\n[exposure]\nbrightness_from = "towns"\n\n[scouting]\ntowns = "towns.csv"\n'
    outing_file.write_text(text + more, encoding="utf-8")
    _, (lit, *_) = beside(client, low_minute(client))
    assert lit["behind"]["from"] == "towns"
    assert 20.0 < lit["behind"]["mag_arcsec2"] < 21.5
    assert 0.4 < lit["behind"]["sigma_mag"] < 0.9
    assert "Pelham" in lit["behind"]["says"][0]


def test_the_lamp_is_the_relations_own(client: TestClient, outing_file: Path) -> None:
    """Lux and share by hand [Palmer2010]: E = pi L / reflectance; E = I cos(a) / d^2."""
    with_everything(outing_file)
    _, each = beside(client, low_minute(client))
    sky = 108_000.0 * (10.0 ** (-0.4 * 21.5) + 10.0 ** (-0.4 * 20.5))
    lux = 4.0 * sky * math.pi / 0.3
    lamp = each[0]["lamp"]
    # The Moon of that night is new and the Sun far down.
    assert lamp["wanted_lux"] == pytest.approx(lux, rel=0.01)
    candela = 180.0 / (2.0 * math.pi * (1.0 - math.cos(math.radians(60.0))))
    slant = math.hypot(6.0, 2.5)
    full = candela / slant**2 * math.cos(math.radians(40.0)) * 6.0 / slant
    assert lamp["dim_share"] == pytest.approx(lux / full, rel=0.01)
    said = " ".join(lamp["says"])
    assert "lux, within" in said
    assert "dim it to" in said
    assert "stops under the longest" in said
    shutters = [one["lamp"]["shutter_stops"] for one in each]
    assert shutters[0] == 0.0
    assert shutters[1] < -0.3


def test_bare_and_covered_skyline_stand_apart_by_the_wood(
    client: TestClient, outing_file: Path
) -> None:
    with_everything(outing_file)
    stand, (said, *_) = beside(client, low_minute(client))
    skyline = said["skyline"]
    up = skyline["covered_deg"] - skyline["bare_deg"]
    assert stand["altitude_deg"] - skyline["covered_deg"] == pytest.approx(stand["clearance_deg"])
    # A wood of 18 m on a ridge between 1 and 2.5 km away.
    assert math.degrees(WOOD_M / 2500.0) < up < math.degrees(WOOD_M / 1000.0)
    assert "18 m" in skyline["cover"]
    assert "over bare ground" in skyline["says"][0]
    assert "±" in skyline["says"][0]


def test_cloud_over_the_place_and_towards_the_target(client: TestClient, outing_file: Path) -> None:
    """Layers at random over one another: 1 - 0.8 * 0.5."""
    with_everything(outing_file)
    time = low_minute(client)
    stand, (said, *_) = beside(client, time)
    assert said["cloud"]["site"] == pytest.approx(0.6)
    assert said["cloud"]["towards"] is None or said["cloud"]["towards"] == pytest.approx(0.6)
    assert said["cloud"]["says"][0] in stand["cautions"]
    assert "h before" in said["cloud"]["says"][0]
    assert len(said["cloud"]["says"]) == 2
    # The same as the plan's own stand of that minute.
    night = prepare_night(load_outing(outing_file))
    moment = dt.datetime.fromtimestamp(time, dt.UTC)
    clock = moment.astimezone(ZoneInfo(night.sky.zone)).strftime("%H:%M")
    planned = night.plan(at=clock, whole_skyline=False).lenses[0].stand
    assert planned is not None
    there = night.stands_at(clock)[0]
    assert there is not None
    assert there.cloud.words == planned.cloud.words
    assert there.cautions == planned.cautions


def test_places_for_lights_and_the_blue_hour_of_a_minute(
    client: TestClient, outing_file: Path
) -> None:
    with_everything(outing_file)
    time = low_minute(client)
    _, (without, *_) = beside(client, time)
    assert without["lights"] is None
    outing_file.write_text(outing_file.read_text(encoding="utf-8") + "\n[session]\n", "utf-8")
    stand, (said, *_) = beside(client, time)
    lights = said["lights"]
    [[away, bearing, room], *_] = lights["hidden"]
    # Behind the subject, as the stand sees it, and near.
    assert abs((bearing - stand["bearing_deg"] + 180.0) % 360.0 - 180.0) < 20.0
    assert 0.0 < away < 30.0
    assert room > 0.0
    assert len(lights["sides"]) == 2
    assert any("hides" in line for line in lights["says"])
    # The places are told to the lamp, with what tames it there.
    assert len(said["lamp"]["says"]) >= len(without["lamp"]["says"]) + 3
    blue = said["blue_hour"]
    # Evening twilight ends at some -18 degrees, an hour and a half after sunset.
    dark = client.get("/api/night").json()["sunless"][0]
    assert dark[0] - 3.0 * 3600.0 < blue["dusk"] < dark[0] < dark[1] < blue["dawn"]
    assert blue["frame_at"] in (
        pytest.approx(blue["dusk"], abs=5_400.0), pytest.approx(blue["dawn"], abs=5_400.0)
    )  # fmt: skip
    assert blue["shutter_s"] > 0.0
    assert len(blue["says"]) == 2


def test_no_stand_no_light_and_no_such_lens(client: TestClient) -> None:
    night = client.get("/api/night").json()
    arc = night["lenses"][0]["points"]
    none = [t for t, p in zip(night["times"], arc, strict=True) if p[0] is None]
    for time in none[:1]:
        given = client.get("/api/light", params={"time": time, "lens": 0})
        assert given.json() is None
    given = client.get("/api/light", params={"time": night["times"][0], "lens": 99})
    assert given.status_code == 422
    assert "no lens number 99" in given.json()["error"]


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("width", [1400, 390])
def test_it_lies_folded_under_the_answer(
    chromium: Any, running: Running, outing_file: Path, width: int
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    with_everything(outing_file)
    context = chromium.new_context(
        viewport={"width": width, "height": 900}, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(running.address)
    page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")
    fold = page.locator("#beside")
    fold.wait_for(state="visible", timeout=60_000)
    assert not page.locator("#beside dl").is_visible()
    page.get_by_text("Light, air, trees and cloud").click()
    names = ["The lamp", "Blue hour", "Air", "Sky behind", "Trees", "Cloud"]
    page.locator("#beside dd").first.wait_for(timeout=60_000)
    assert page.locator("#beside dt").all_inner_texts() == names
    said = page.locator("#beside dl").inner_text()
    for words in ("lux, within", "dim it to", "dimmer than overhead", "bare ground", "cloud"):
        assert words in said
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for theme in ("day", "red"):
        assert Axe().run(page).response["violations"] == [], theme
        page.get_by_role("button", name="Red light").click()
    context.close()
