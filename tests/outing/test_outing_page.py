"""docs/outing.md names every key of the outing file, with the default that the schema has."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.kit_schema import KitBodyShape, KitLightShape, MeShape
from backbearing.outing.light_shapes import LightShape, TrackerShape
from backbearing.outing.load import load_outing
from backbearing.outing.mark_shapes import SkylineMarkShape
from backbearing.outing.schema import CameraShape, LensShape, OutingShape, SessionShape

if TYPE_CHECKING:
    from pydantic import BaseModel

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGE = (DOCS / "outing.md").read_text(encoding="utf-8")

LISTS = {"lens": LensShape, "skyline_mark": SkylineMarkShape}
OPTIONAL = {"session": SessionShape, "light": LightShape, "tracker": TrackerShape}
SHAPES: dict[str, Any] = {
    name: LISTS.get(name, OPTIONAL.get(name, field.annotation))
    for name, field in OutingShape.model_fields.items()
    if name not in {"format", "name", "units"}
}


def rows(heading: str) -> dict[str, str]:
    """Keys of the table under a heading, each with its default as it stands there."""
    body = PAGE.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
    return dict(re.findall(r"^\| `(\w+)` \| (.*?) \|", body, flags=re.MULTILINE))


def keys_of(shape: type[BaseModel]) -> dict[str, Any]:
    return {field.alias or name: field for name, field in shape.model_fields.items()}


@pytest.mark.parametrize("name", sorted(SHAPES))
def test_every_key_stands_there_with_its_default(name: str) -> None:
    found = rows(f"[[{name}]]" if name in LISTS else f"[{name}]")
    expected = keys_of(SHAPES[name])
    assert found.keys() == expected.keys()
    for key, field in expected.items():
        said = found[key]
        if field.is_required():
            assert said == "needed", key
        elif field.default in (None, "", []) or isinstance(field.default, tuple | dict):
            # No value of its own: words say what it then is.
            assert not said.startswith("`"), key
        elif key == "from":
            assert said == '`"subject"`'
        else:
            assert said.startswith("`"), key
            assert tomllib.loads(f"it = {said.strip('`')}")["it"] == field.default, key


def test_the_file_itself() -> None:
    found = rows("The file itself")
    assert found.keys() == {"format", "name", "units"}
    for key in ("name", "units"):
        default = OutingShape.model_fields[key].default
        assert tomllib.loads(f"it = {found[key].strip('`')}")["it"] == default


def test_the_least_outing_is_one(tmp_path: Path) -> None:
    (text,) = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
    path = tmp_path / "outing.toml"
    path.write_text(text, encoding="utf-8")
    assert load_outing(path).subject.lat == -31.5


def test_the_kits_page_names_every_key() -> None:
    page = (DOCS / "kit.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(\w+)`", page))
    for shape in (KitBodyShape, KitLightShape, MeShape):
        assert shape.model_fields.keys() <= named
    # What a kit says of a body an outing takes under the same name.
    assert CameraShape.model_fields.keys() & KitBodyShape.model_fields.keys()
