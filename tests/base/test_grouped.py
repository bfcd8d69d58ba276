"""Values made of parts: every field of a part has its flat name, its type and its place."""

from __future__ import annotations

import dataclasses
import importlib
import pkgutil
from typing import ClassVar, get_type_hints

import pytest

import backbearing
from backbearing.base.grouped import (
    FieldOf,
    changed,
    flat_names,
    flat_types,
    flat_values,
    read_through,
)


@dataclasses.dataclass(frozen=True, slots=True)
class Spot:
    lat: float
    height_m: float


@dataclasses.dataclass(frozen=True, slots=True)
class Tree:
    name: str
    spot: Spot
    lat: ClassVar[FieldOf[float]] = FieldOf("spot")
    note: str = ""
    top_m: ClassVar[FieldOf[float]] = FieldOf("spot", "height_m")


OAK = Tree("oak", Spot(36.5, 12.0))


def grouped_classes() -> list[type]:
    """Every class of the package that reads through to a part."""
    found = []
    for module in pkgutil.walk_packages(backbearing.__path__, "backbearing."):
        if module.name.split(".")[-1].startswith("__"):
            continue
        names = vars(importlib.import_module(module.name)).values()
        own = [one for one in names if getattr(one, "__module__", "") == module.name]
        found += [one for one in own if isinstance(one, type) and read_through(one)]
    return found


def test_a_value_answers_for_its_parts() -> None:
    assert (OAK.lat, OAK.top_m) == (36.5, 12.0)
    assert flat_values(OAK) == {"name": "oak", "lat": 36.5, "note": "", "top_m": 12.0}
    assert flat_types(Tree) == {"name": "str", "lat": "float", "note": "str", "top_m": "float"}
    assert flat_names(Spot) == ("lat", "height_m")


def test_a_copy_is_changed_through_to_the_part() -> None:
    other = changed(OAK, top_m=9.0, note="felled")
    assert other == Tree("oak", Spot(36.5, 9.0), "felled")
    assert OAK.top_m == 12.0
    both = changed(OAK, spot=Spot(1.0, 2.0), lat=3.0)
    assert both.spot == Spot(3.0, 2.0)
    with pytest.raises(TypeError, match="girth"):
        changed(OAK, girth=1.0)


def test_the_names_are_read_only() -> None:
    # Before Python 3.12 a frozen class with slots words this refusal as a TypeError.
    with pytest.raises((AttributeError, TypeError)):
        OAK.lat = 1.0  # type: ignore[misc]
    assert OAK.lat == 36.5


def test_every_field_of_every_part_of_the_package_has_one_name_and_its_type() -> None:
    kinds = grouped_classes()
    assert len(kinds) >= 9
    for kind in kinds:
        parts = {one.name: one.type for one in dataclasses.fields(kind)}
        for part in {one.part for one in read_through(kind).values()}:
            module = vars(importlib.import_module(kind.__module__))
            name = str(parts[part])
            inner = module.get(name) or _imported(kind, name)
            named = {
                one.field: flat_types(kind)[flat]
                for flat, one in read_through(kind).items()
                if one.part == part
            }
            assert len(named) == sum(o.part == part for o in read_through(kind).values())
            assert named.keys() == set(flat_names(inner)) | (named.keys() & _properties(inner))
            for field, said in named.items():
                assert said == _said(inner, field), (kind, field)
        assert not set(read_through(kind)) & set(parts)


def _imported(kind: type, name: str) -> type:
    """A part's class that the module knows only when its types are checked."""
    plan = importlib.import_module("backbearing.plan.optics")
    found: type = getattr(plan, name)
    return found


def _properties(kind: type) -> set[str]:
    return {name for name, one in vars(kind).items() if isinstance(one, property)}


def _said(kind: type, name: str) -> str:
    found = vars(kind).get(name)
    if isinstance(found, property):
        return str(get_type_hints(found.fget)["return"].__name__)
    return flat_types(kind)[name]
