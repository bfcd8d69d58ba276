"""Values made of parts that also answer to the names of what their parts hold.

A large value keeps its numbers in a few smaller ones, and names each of them once more::

    @dataclass(frozen=True, slots=True)
    class Stand:
        position: Position
        lat: ClassVar[FieldOf[float]] = FieldOf("position")
        skyline_deg: ClassVar[FieldOf[float]] = FieldOf("skyline", "altitude_deg")

``stand.lat`` is ``stand.position.lat``, typed and read-only. The flat names, in the order of the
class's body, are what JSON shows: how a value is grouped inside does not reach a file.
"""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from inspect import get_annotations
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Generic, TypeVar, overload

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    D = TypeVar("D", bound=DataclassInstance)

T = TypeVar("T")

_WRITTEN = ("ClassVar[FieldOf[", "]]")
"""What stands about the type of a name that is read through, in a class's body."""


class FieldOf(Generic[T]):
    """A field of one of a value's parts, read under a name of the value's own.

    Parameters
    ----------
    part : str
        The value's field that holds the part.
    field : str, optional
        The part's own field; of the same name when left out.
    """

    def __init__(self, part: str, field: str = "") -> None:
        self.part = part
        self.field = field

    def __set_name__(self, owner: type, name: str) -> None:
        self.field = self.field or name
        self._read = attrgetter(f"{self.part}.{self.field}")

    @overload
    def __get__(self, value: None, owner: type) -> FieldOf[T]: ...

    @overload
    def __get__(self, value: object, owner: type) -> T: ...

    def __get__(self, value: object | None, owner: type) -> FieldOf[T] | T:
        if value is None:
            return self
        found: T = self._read(value)
        return found


@lru_cache(maxsize=256)
def flat_names(kind: type[DataclassInstance]) -> tuple[str, ...]:
    """Names of a value's fields, those of its parts in place of the parts, in order.

    Parameters
    ----------
    kind : type
        A dataclass; one without parts gives its fields as they are.
    """
    read = read_through(kind)
    fields = [field.name for field in dataclasses.fields(kind)]
    if not read:
        return tuple(fields)
    shown = {*read, *fields} - {one.part for one in read.values()}
    return tuple(name for name in get_annotations(kind) if name in shown)


def read_through(kind: type) -> dict[str, FieldOf[Any]]:
    """The names under which a class shows fields of its parts, and where each is found."""
    return {name: one for name, one in vars(kind).items() if isinstance(one, FieldOf)}


def flat_types(kind: type[DataclassInstance]) -> dict[str, str]:
    """The types of the same names, as the class's body writes them."""
    said = {field.name: str(field.type) for field in dataclasses.fields(kind)}
    for name in read_through(kind):
        said[name] = str(get_annotations(kind)[name]).removeprefix(_WRITTEN[0])[: -len(_WRITTEN[1])]
    return {name: said[name] for name in flat_names(kind)}


def flat_values(value: DataclassInstance) -> dict[str, Any]:
    """A value's fields by their flat names; the values themselves as they are."""
    return {name: getattr(value, name) for name in flat_names(type(value))}


def changed(value: D, **changes: Any) -> D:
    """Copy a value with other fields, those of its parts among them.

    ``changed(stand, lat=1.0)`` is ``replace(stand, position=replace(stand.position, lat=1.0))``.

    Raises
    ------
    TypeError
        When the value has no field of that name.
    """
    read = read_through(type(value))
    own = {name: new for name, new in changes.items() if name not in read}
    inner: dict[str, dict[str, Any]] = {}
    for name, new in changes.items():
        if name in read:
            inner.setdefault(read[name].part, {})[read[name].field] = new
    for part, new in inner.items():
        own[part] = dataclasses.replace(own.get(part, getattr(value, part)), **new)
    return dataclasses.replace(value, **own)
