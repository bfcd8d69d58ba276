"""GeoJSON read a piece at a time: what `json` reads whole, wherever the pieces end."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backbearing.base.errors import OutingError
from backbearing.tables import json_stream
from backbearing.tables.json_stream import Members, features_of_sequence

if TYPE_CHECKING:
    from pathlib import Path

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)
DOCUMENTS = st.fixed_dictionaries(
    {"type": st.just("FeatureCollection"), "features": st.lists(VALUES, max_size=6)},
    optional={"crs": VALUES, "näme": VALUES},
)


@given(document=DOCUMENTS, piece=st.integers(1, 40), indent=st.sampled_from([None, 1]))
@settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_features_are_those_of_the_whole_wherever_pieces_end(
    document: Any, piece: int, indent: int | None, tmp_path: Path
) -> None:
    file = tmp_path / "any.geojson"
    file.write_text(json.dumps(document, indent=indent, ensure_ascii=False), "utf-8-sig")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(json_stream, "PIECE", piece)
        members = Members(file)
        assert list(members.features()) == document["features"]
        assert members.others == {k: v for k, v in document.items() if k != "features"}


@pytest.mark.parametrize("piece", [1, 2, 3, 1000])
def test_a_lone_feature_and_a_sequence(piece: int, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(json_stream, "PIECE", piece)
    feature = {"type": "Feature", "properties": {"name": "Ährenfeld\u2028"}, "geometry": None}
    text = json.dumps(feature, ensure_ascii=False)
    (tmp_path / "one.geojson").write_text(text, encoding="utf-8")
    assert list(Members(tmp_path / "one.geojson").features()) == [feature]
    (tmp_path / "some.geojsonl").write_text(f"{text}\r\n\n\x1e{text}\n{text}", encoding="utf-8")
    assert list(features_of_sequence(tmp_path / "some.geojsonl")) == [feature] * 3


@pytest.mark.parametrize("text", ['{"features": ["', '{"features": [[1, ', '{"name": "', "["])
def test_a_value_without_end_is_refused_before_it_fills_the_memory(
    text: str, tmp_path: Path, monkeypatch: Any
) -> None:
    monkeypatch.setattr(json_stream, "LONGEST", 10_000)
    monkeypatch.setattr(json_stream, "PIECE", 100)
    more = "1, " if text.endswith(", ") else "x"
    (tmp_path / "long.geojson").write_text(text + 200_000 * more, encoding="utf-8")
    members = Members(tmp_path / "long.geojson")
    with pytest.raises(OutingError, match=r"more than 10,000 letters|no list of features"):
        list(members.features())
    assert len(members._text) < 50_000
