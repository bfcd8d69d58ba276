"""Every answer of the desk is what its schema says, and whatever is asked gets a sentence."""

from __future__ import annotations

import json
import math
import runpy
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from starlette.routing import Route

from backbearing.desk.answering import without_folders
from backbearing.desk.schemas import ANSWERS, ERROR, schema_of
from invented_map import write_extract

if TYPE_CHECKING:
    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk

ROOT = Path(__file__).resolve().parents[2]
OWN = {"origin": "http://127.0.0.1:8123"}
NOT_JSON = {"/api/frame"}


def held(address: str, answer: Any) -> Any:
    Draft202012Validator(schema_of(address)).validate(answer)
    return answer


@pytest.mark.parametrize("address", sorted(ANSWERS))
def test_the_schemas_are_schemas(address: str) -> None:
    Draft202012Validator.check_schema(schema_of(address))


def test_the_page_of_schemas_is_up_to_date() -> None:
    made = runpy.run_path(str(ROOT / "docs" / "make_desk_schemas.py"))["schemas_page"]()
    assert (ROOT / "docs" / "desk_schemas.md").read_text(encoding="utf-8") == made


def test_each_address_that_answers_json_has_one(desk: Desk) -> None:
    asked = {
        f"{'POST' if 'POST' in (route.methods or ()) else 'GET'} {route.path}"
        for route in desk.routes()
        if isinstance(route, Route)
        and route.path.startswith(("/api/", "/stream/"))
        and route.path not in NOT_JSON
        and not route.path.endswith(".webp")
    }
    assert asked == set(ANSWERS)


@pytest.mark.slow
def test_every_answer_is_what_its_schema_says(client: TestClient, outing_file: Path) -> None:
    folder = outing_file.parent
    pytest.importorskip("osmium")
    write_extract(folder / "land.osm.pbf", lat=-31.2, lon=148.6)
    (folder / "things.csv").write_text(
        "name,lat,lon,height_m,kind\nOak,-31.201,148.601,7,tree\nFar,0,0,7,tree\nOff,-99,0,1,tree\n"
    )
    text = outing_file.read_text(encoding="utf-8")
    outing_file.write_text(f"{text}\n[scouting]\nnights = 2\n", encoding="utf-8")

    def asked(path: str, **what: Any) -> Any:
        params = {k: json.dumps(v) if isinstance(v, dict) else v for k, v in what.items()}
        given = client.get(path, params=params)
        assert given.status_code == 200, given.text
        return held(f"GET {path}", given.json())

    def told(path: str, **what: Any) -> Any:
        given = client.post(path, json=what, headers=OWN)
        assert given.status_code == 200, given.text
        return held(f"POST {path}", given.json())

    night = asked("/api/night", changes={"subject": {"height_m": 6.0}})
    middle = night["times"][len(night["times"]) // 2]
    for path in ("minute", "frames", "light"):
        for time_s in (night["times"][0], middle):
            asked(f"/api/{path}", time=time_s, lens=0)
    for kept in ("ground", "places", "online", "candidates", "season", "evening", "ridge"):
        asked(f"/api/{kept}")
    asked("/api/evening", fixed={"0": middle})
    asked("/api/from-stand", lat=-31.2003, lon=148.5997)
    asked("/api/under", lat=-31.2, lon=148.6)
    asked("/api/under", lat=10.0, lon=10.0)
    for zoom, half in ((9, 1.0), (13, 0.03), (17, 0.005)):
        asked(
            "/api/land", zoom=zoom, west=148.6 - half, east=148.6 + half,
            south=-31.2 - half, north=-31.2 + half,
        )  # fmt: skip
    assert asked("/api/find", text="wether")["found"]

    for kept in ("first", "fetch", "draft", "subject", "grounds"):
        asked(f"/api/{kept}")
    asked("/api/measure/ways")
    asked("/api/place", text="31 12 S 148 36 E")
    draft = {"place": "31 12 S 148 36 E", "height": "4", "lenses": "24"}
    told("/api/first/look", draft=draft)
    told("/api/first/look", draft={})
    told("/api/fetch/before", place="31 12 S 148 36 E", within_km="5")
    told("/api/fetch/stop")
    told("/api/draft", changes={"subject": {"height_m": 6.0}}, revision=night["revision"])
    told("/api/draft", changes={}, revision=night["revision"])
    angles = {"distance_m": 20, "top_deg": 10, "base_deg": -4}
    told("/api/measure", what="height", way="angles", answers=angles, changes={})
    told("/api/open", name="outing.toml")
    told("/api/candidates/start", file="things.csv", changes={})
    with client.stream("GET", "/stream/candidates") as stream:
        for line in stream.iter_lines():
            if line.startswith("data: "):
                held("GET /stream/candidates", json.loads(line[6:]))
    assert asked("/api/ranking", page=0)["count"] == 2
    assert asked("/api/ranking", page=0, what="left_out")["count"] == 1
    assert asked("/api/ranking", page=7)["rows"] == []
    asked("/api/ranking/marks")
    told("/api/candidates/resume")
    told("/api/candidates/stop")
    kept_now = told("/api/keep", changes={"subject": {"height_m": 6.5}}, revision=night["revision"])
    told("/api/undo", revision=kept_now["revision"])
    told("/api/stop")


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("It lies outside /home/a b/x/ground.tif, which", "It lies outside ground.tif, which"),
        (r"No file at C:\Users\me\x.tif; write", "No file at x.tif; write"),
        ("read '/srv/x/y.csv'.", "read 'y.csv'."),
        ("a share of 1/2 and f/2.8", "a share of 1/2 and f/2.8"),
        ("see https://host.invalid/a/b", "see https://host.invalid/a/b"),
        ("see docs/outing.md", "see docs/outing.md"),
    ],
)
def test_no_answer_shows_where_files_lie(said: str, shown: str) -> None:
    assert without_folders(said) == shown


SECTIONS = st.sampled_from(
    ["subject", "framing", "night", "camera", "ground", "lens", "lens[1]", "", "format", "session"]
)
KEYS = st.sampled_from(
    [
        *("lat", "lon", "height_m", "width_m", "name", "kind", "share", "base_margin"),
        *(
            "edge_margin",
            "eye_height_m",
            "evening",
            "clear_by_deg",
            "elevation",
            "outline",
            "place",
        ),
    ]
)
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**40), 10**40),
    st.floats(),
    st.text(max_size=40),
    st.sampled_from(
        [
            *("\x00", "\ud800", '"""', "]\n[ground]\nelevation = 'x'", "2027-02-30", "0001-01-01"),
            *("9999-12-31", "../../etc/passwd", "<script>", "é" * 3000, "2027-06-05T00:00:00Z"),
        ]
    ),
)
VALUES = st.recursive(
    ODD,
    lambda one: st.lists(one, max_size=3) | st.dictionaries(st.text(max_size=8), one, max_size=3),
    max_leaves=6,
)
CHANGES = st.dictionaries(
    SECTIONS | st.text(max_size=12),
    st.dictionaries(KEYS | st.text(max_size=12), VALUES, max_size=3) | VALUES,
    max_size=3,
)
TALE = ("Traceback", 'File "', ".py", "pytest-of", "site-packages", "Errno", "0x")


def refused_or_answered(response: Any, address: str) -> None:
    """One sentence and a refusal, or an answer as its schema has it; nothing of the inside."""
    if response.status_code == 200:
        held(address, response.json())
        return
    assert 400 <= response.status_code < 500, response.text
    error = response.json()
    Draft202012Validator(ERROR).validate(error)
    said = error["error"]
    assert said[-1] in ".?!", said
    assert "\n" not in said
    told = said.replace(".toml", "").replace(".tif", "")
    assert not [word for word in TALE if word in told], said


HOSTILE = settings(
    max_examples=80,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@pytest.mark.slow
@HOSTILE
@given(changes=CHANGES)
@example(changes={"subject": {"height_m": math.nan}})
@example(changes={"subject": {"height_m": math.inf}})
@example(changes={"subject": {"height_m": 1e308}})
@example(changes={"subject": {"lat": 90.0, "lon": 0.0}})
@example(changes={"subject": {"lat": True}})
@example(changes={"subject": {"name": "x" * 9_000}})
@example(changes={"subject": {"kind": "\ud800"}})
@example(changes={"framing": {"share": 1e-300}})
@example(changes={"framing": {"eye_height_m": 1e9}})
@example(changes={"night": {"evening": "9999-12-31"}})
@example(changes={"night": {"evening": "0001-01-01"}})
@example(changes={"night": {"clear_by_deg": -1e9}})
def test_whatever_is_turned_gets_an_answer_or_a_sentence(client: TestClient, changes: Any) -> None:
    text = json.dumps(changes)
    response = client.get("/api/night", params={"changes": text})
    refused_or_answered(response, "GET /api/night")
    if response.status_code != 200:
        for path, more in (
            ("minute", {"time": 1.8e9}),
            ("from-stand", {"lat": -31.2, "lon": 148.6}),
        ):
            other = client.get(f"/api/{path}", params={"changes": text, **more})
            refused_or_answered(other, f"GET /api/{path}")


@pytest.mark.slow
@HOSTILE
@given(
    changes=VALUES | CHANGES,
    text=st.text(max_size=60),
    numbers=st.lists(st.floats() | st.text(max_size=6), min_size=5, max_size=5),
)
def test_whatever_is_asked_gets_an_answer_or_a_sentence(
    client: TestClient, outing_file: Path, changes: Any, text: str, numbers: list[Any]
) -> None:
    before = outing_file.read_bytes()
    names = ("zoom", "west", "south", "east", "north")
    asked: list[tuple[str, dict[str, Any]]] = [
        ("/api/land", dict(zip(names, numbers, strict=True))),
        ("/api/ranking", {"page": numbers[0], "what": text}),
        ("/api/under", {"lat": numbers[0], "lon": numbers[1]}),
        ("/api/find", {"text": text.encode("utf-8", "replace").decode()}),
        ("/api/night", {"changes": text.encode("utf-8", "replace").decode()}),
        ("/api/minute", {"time": numbers[2]}),
        ("/api/light", {"time": numbers[2], "lens": numbers[0]}),
        ("/api/place", {"text": text.encode("utf-8", "replace").decode()}),
        ("/api/subject", {"changes": json.dumps(changes)}),
    ]
    for path, what in asked:
        plain = {k: str(v).encode("utf-8", "replace").decode() for k, v in what.items()}
        refused_or_answered(client.get(path, params=plain), f"GET {path}")
    body = json.dumps({"changes": changes, "file": text, "revision": text})
    ours = {"what": text, "way": text, "answers": changes, "draft": changes, "name": text}
    body = json.dumps({**json.loads(body), **ours, "place": text, "within_km": text})
    for path in (
        *("/api/keep", "/api/undo", "/api/candidates/start", "/api/candidates/resume"),
        *("/api/draft", "/api/open", "/api/measure", "/api/first/look", "/api/first/make"),
        "/api/fetch/before",
    ):
        headers = {**OWN, "content-type": "application/json"}
        refused_or_answered(client.post(path, content=body, headers=headers), f"POST {path}")
    assert outing_file.read_bytes() == before
