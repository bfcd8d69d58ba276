"""A desk over invented ground in the south, and a client that is let in."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from backbearing.desk.application import Desk, application
from backbearing.desk.guard import Door, Guard
from invented import write_ground
from running_desk import Running

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

LAT, LON = -31.2, 148.6

OUTING = f"""\
# Written by hand; comments stay.
format = 1
name = "Wether hut"

[ground]
elevation = "ground.tif"
product = "none; invented"
vertical_sigma_m = 3.0

[subject]
name = "Wether hut (invented)"
kind = "hut"
lat = {LAT}  # by the map
lon = {LON}
height_m = 5.0
width_m = 6.0

[night]
evening = 2027-06-05

[camera]
sensor_width_mm = 36.0
sensor_height_mm = 24.0
width_px = 6000
height_px = 4000

[framing]
share = 0.3

[[lens]]
focal_length_mm = 24.0
f_number = 2.8

[[lens]]
focal_length_mm = 40.0
f_number = 2.8
"""


@pytest.fixture(scope="session")
def desk_ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rolling ground with a ridge to the south-east."""

    def height_m(east: Any, north: Any) -> Any:
        ridge = 160.0 * np.exp(-(((east - 1500.0 + 0.4 * north) / 500.0) ** 2))
        return 300.0 + 8.0 * np.sin(east / 400.0) * np.cos(north / 300.0) + ridge

    folder = tmp_path_factory.mktemp("ground")
    return write_ground(folder / "ground.tif", height_m, lat=LAT, lon=LON)


@pytest.fixture
def outing_file(desk_ground: Path, tmp_path: Path) -> Path:
    """An outing of its own for each test."""
    file = tmp_path / "outing.toml"
    file.write_text(OUTING.replace("ground.tif", desk_ground.as_posix()), encoding="utf-8")
    return file


@pytest.fixture
def door() -> Door:
    """A door with a key of its own."""
    return Door.at(8123)


@pytest.fixture
def desk(outing_file: Path) -> Iterator[Desk]:
    """The desk behind the door; its stop is noted."""
    stopped: list[bool] = []
    made = Desk(outing_file, lambda: stopped.append(True))
    made.stopped = stopped  # type: ignore[attr-defined]
    yield made
    made.close()


@pytest.fixture
def stranger(desk: Desk, door: Door) -> Iterator[TestClient]:
    """A client that has not been let in."""
    guarded = Guard(application(desk), door, largest_bytes=20_000)
    with TestClient(
        guarded, base_url=f"http://127.0.0.1:{door.port}", follow_redirects=False
    ) as client:
        yield client


@pytest.fixture
def client(stranger: TestClient, door: Door) -> TestClient:
    """A client that opened the address from the terminal."""
    assert stranger.get(f"/?key={door.key}").status_code == 303
    return stranger


@pytest.fixture
def running(outing_file: Path) -> Iterator[Running]:
    desk = Running(outing_file)
    yield desk
    desk.end()


@pytest.fixture
def photograph() -> Callable[..., bytes]:
    """Make a plain photograph that says its focal length."""

    def made(width: int = 1200, height: int = 800, *, focal_mm: float = 50.0) -> bytes:
        from PIL import Image
        from PIL.TiffImagePlugin import IFDRational

        picture = Image.new("RGB", (width, height), (120, 140, 160))
        said = picture.getexif()
        said.get_ifd(0x8769)[0x920A] = IFDRational(round(focal_mm * 10), 10)
        out = io.BytesIO()
        picture.save(out, "JPEG", exif=said)
        return out.getvalue()

    return made
