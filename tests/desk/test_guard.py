"""Only the desk's own page is answered, and an answer tells nothing of the inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backbearing.desk.guard import Door

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk

PATHS = ("/", "/style.css", "/api/night", "/api/ground", "/tiles/5/0/0.webp", "/take/page.html")


@pytest.mark.parametrize("path", PATHS)
def test_a_stranger_gets_nothing(stranger: TestClient, path: str) -> None:
    given = stranger.get(path)
    assert given.status_code == 403
    assert given.json() == {"error": "Open the desk by the address that the terminal shows."}


def test_the_right_key_opens_and_leaves_the_address(stranger: TestClient, door: Door) -> None:
    given = stranger.get(f"/?key={door.key}")
    assert given.status_code == 303
    assert given.headers["location"] == "/"
    kept = given.headers["set-cookie"]
    assert "HttpOnly" in kept
    assert "SameSite=Strict" in kept
    assert "Path=/" in kept
    assert stranger.get("/").status_code == 200


@pytest.mark.parametrize("key", ["", "x", "é" * 9, "A" * 43])
def test_a_wrong_key_stays_outside(stranger: TestClient, key: str) -> None:
    assert stranger.get("/", params={"key": key}).status_code == 403


def test_every_run_has_another_key() -> None:
    keys = {Door.at(1).key for _ in range(50)}
    assert len(keys) == 50
    assert min(map(len, keys)) >= 43  # 32 bytes in base 64


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "evil.example:8123", "0.0.0.0:8123", ""]
)
def test_a_name_bound_to_this_computer_by_others_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/api/night", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {},
    ],
)
def test_another_pages_form_or_fetch_changes_nothing(
    client: TestClient, desk: Desk, outing_file: Path, headers: dict[str, str]
) -> None:
    before = outing_file.read_bytes()
    asked = {"changes": {"subject": {"height_m": 9.0}}, "revision": desk.outing.revision}
    assert client.post("/api/keep", json=asked, headers=headers).status_code == 403
    assert client.post("/api/stop", json={}, headers=headers).status_code == 403
    assert outing_file.read_bytes() == before
    assert not desk.stopped  # type: ignore[attr-defined]


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_page_reads_nothing(client: TestClient, site: str) -> None:
    assert client.get("/api/night", headers={"sec-fetch-site": site}).status_code == 403


def test_a_form_of_plain_text_is_no_change(client: TestClient, outing_file: Path) -> None:
    own = {"origin": "http://127.0.0.1:8123", "content-type": "text/plain"}
    before = outing_file.read_bytes()
    assert client.post("/api/keep", content=b'{"changes": {}}', headers=own).status_code == 422
    assert outing_file.read_bytes() == before


def test_policy_stands_on_every_answer(client: TestClient) -> None:
    for path in ("/", "/api/night", "/api/nothing", "/tiles/99/0/0.webp"):
        policy = client.get(path).headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
    page = client.get("/").text
    assert "<script>" not in page
    assert " style=" not in page
    assert " on" not in page.replace(" one", "").replace(" only", "").split("<body>")[0]


def test_too_large_a_body_is_refused_whether_or_not_it_says_so(client: TestClient) -> None:
    own = {"origin": "http://127.0.0.1:8123", "content-type": "application/json"}
    assert client.post("/api/keep", content=b" " * 30_000, headers=own).status_code == 413
    unsaid = (b" " * 1_000 for _ in range(30))
    assert client.post("/api/keep", content=unsaid, headers=own).status_code == 413


def test_what_fails_inside_is_not_told(
    client: TestClient, desk: Desk, capfd: pytest.CaptureFixture[str], outing_file: Path
) -> None:
    outing_file.unlink()
    given = client.get("/api/night")
    assert given.status_code in (422, 500)
    assert "Traceback" not in given.text
    assert str(outing_file.parent) not in given.text


@given(
    path=st.text(max_size=40),
    query=st.dictionaries(
        st.sampled_from(["changes", "time", "lat", "lon", "lens"]), st.text(max_size=40)
    ),
)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_request_brings_the_desk_down(
    client: TestClient, path: str, query: dict[str, str]
) -> None:
    for address in ("/api/night", "/api/minute", "/api/under", "/api/frame"):
        given = client.get(address, params=query)
        assert given.status_code in (200, 204, 422)
        assert given.status_code != 422 or given.json()["error"]
    bare = "/" + "".join(c for c in path if c.isprintable() and c not in "?#\\")
    assert client.get(bare).status_code in (200, 204, 307, 403, 404, 405)
