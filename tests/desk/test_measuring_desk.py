"""Height and width at the desk: the ways of the command, and a photograph, by plain geometry."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from starlette.testclient import TestClient

    Photograph = Callable[..., bytes]

OWN = {"origin": "http://127.0.0.1:8123"}


def taken(client: TestClient, content: bytes, name: str = "mill.jpg") -> Any:
    return client.post(f"/upload/photograph/{name}", content=content, headers=OWN)


def measure(client: TestClient, what: str, way: str, **answers: Any) -> Any:
    body = {"what": what, "way": way, "answers": answers, "changes": {}}
    return client.post("/api/measure", json=body, headers=OWN)


def test_two_angles_give_the_height_of_the_triangle(client: TestClient) -> None:
    found = measure(client, "height", "angles", distance_m=20.0, top_deg=30.0, base_deg=-4.0)
    subject = found.json()["changes"]["subject"]
    by_hand = 20.0 * (math.tan(math.radians(30.0)) + math.tan(math.radians(4.0)))
    assert subject["height_m"] == pytest.approx(by_hand, abs=0.006)
    assert 0.1 < subject["height_sigma_m"] < 1.0
    assert "give or take" in found.json()["says"]


def test_a_photograph_gives_what_a_pinhole_gives(
    client: TestClient, photograph: Photograph
) -> None:
    facts = taken(client, photograph()).json()
    assert (facts["width_px"], facts["height_px"], facts["focal_length_mm"]) == (1200, 800, 50.0)
    found = measure(
        client, "height", "picture", picture=facts["picture"], distance_m=30.0,
        top_px=[600, 200], base_px=[600, 500], horizon_row_px=400,
    ).json()  # fmt: skip
    # 36 mm lie on 1200 pixels: 50 mm are 1667 of them, and 300 rows 30 m away are 5.4 m.
    focal_px = 50.0 / 36.0 * 1200.0
    assert found["changes"]["subject"]["height_m"] == pytest.approx(
        30.0 * 300.0 / focal_px, abs=0.01
    )
    wide = measure(
        client, "width", "picture", picture=facts["picture"], distance_m=30.0,
        left_px=[500, 400], right_px=[700, 400], horizon_row_px=400,
    ).json()  # fmt: skip
    assert wide["changes"]["subject"]["width_m"] == pytest.approx(30.0 * 200.0 / focal_px, abs=0.02)


def test_what_is_measured_goes_into_the_file(client: TestClient, outing_file: Path) -> None:
    from backbearing.outing.load import load_outing

    found = measure(client, "height", "angles", distance_m=20.0, top_deg=10.0, base_deg=-4.0)
    changes = found.json()["changes"]
    revision = client.get("/api/night").json()["revision"]
    kept = client.post("/api/keep", json={"changes": changes, "revision": revision}, headers=OWN)
    assert kept.status_code == 200
    subject = load_outing(outing_file).subject
    assert subject.height_m == changes["subject"]["height_m"]
    assert subject.height_sigma_m == changes["subject"]["height_sigma_m"]


@pytest.mark.parametrize("picture", ["/etc/passwd", "../x.jpg", 3, None, ["a"], "0" * 16])
def test_no_path_of_a_request_is_opened(client: TestClient, picture: Any) -> None:
    answer = measure(
        client, "height", "picture", picture=picture, distance_m=30.0, top_px=[1, 1],
        base_px=[1, 9],
    )  # fmt: skip
    assert answer.status_code == 422
    assert "passwd" not in answer.text


@pytest.mark.parametrize(
    ("what", "way", "answers"),
    [
        ("drop", "angle", {}), ("height", "guess", {}), ("height", "angles", {}),
        ("height", "angles", {"distance_m": "far", "top_deg": 3, "base_deg": 1}),
        ("height", "angles", {"distance_m": 20, "top_deg": 3, "base_deg": 9}),
        ("height", "angles", {"distance_m": 20, "top_deg": 3, "base_deg": -9, "path": "/x"}),
        ("width", "bearings", {"distance_m": -1, "left_deg": 3, "right_deg": 9}),
    ],
)  # fmt: skip
def test_readings_without_a_result_are_a_sentence(
    client: TestClient, what: str, way: str, answers: Any
) -> None:
    answer = measure(client, what, way, **answers)
    assert answer.status_code == 422
    assert answer.json()["error"].endswith(".")


def test_what_is_no_photograph_is_refused(client: TestClient) -> None:
    for name, content in (
        ("a.jpg", b"no picture"), ("a.jpg", b""), ("a.svg", b"<svg/>"), ("a.jpg", b"\xff\xd8\xff"),
    ):  # fmt: skip
        assert taken(client, content, name).status_code == 422


def test_only_the_last_photographs_are_kept(client: TestClient, photograph: Photograph) -> None:
    words = [taken(client, photograph(60, 40)).json()["picture"] for _ in range(5)]
    spots = {"distance_m": 30.0, "top_px": [30, 5], "base_px": [30, 30]}
    first = measure(client, "height", "picture", picture=words[0], **spots)
    assert "choose it again" in first.json()["error"]
    last = measure(client, "height", "picture", picture=words[-1], **spots)
    assert "choose it again" not in last.text
