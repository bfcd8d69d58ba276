"""What the schemas of the desk's answers are put together from [JSONSchema2020]_."""

from __future__ import annotations

from typing import Any, Final

Schema = dict[str, Any]

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

TEXT: Final[Schema] = {"type": "string"}
NUMBER: Final[Schema] = {"type": "number"}
COUNT: Final[Schema] = {"type": "integer", "minimum": 0}
TRUTH: Final[Schema] = {"type": "boolean"}
LAT: Final[Schema] = {"type": "number", "minimum": -90, "maximum": 90}
LON: Final[Schema] = {"type": "number", "minimum": -180, "maximum": 180}
LENGTH_M: Final[Schema] = {"type": "number", "minimum": 0}
SHARE: Final[Schema] = {"type": "number", "minimum": 0, "maximum": 1}
DATE: Final[Schema] = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
REVISION: Final[Schema] = {"type": "string", "pattern": "^[0-9a-f]{20}$"}


def known(schema: Schema) -> Schema:
    """What may be unknown."""
    return {"anyOf": [schema, {"type": "null"}]}


def several(schema: Schema, *, most: int | None = None) -> Schema:
    """A list of one kind."""
    found: Schema = {"type": "array", "items": schema}
    return found if most is None else {**found, "maxItems": most}


def row(*cells: Schema) -> Schema:
    """A list of so many, each of its own kind."""
    return {"type": "array", "prefixItems": list(cells), "items": False, "minItems": len(cells)}


def facts(_more: bool = False, /, **keys: Schema) -> Schema:
    """An object with all of these keys, and with others where more may come."""
    found: Schema = {"type": "object", "properties": keys, "required": list(keys)}
    return found if _more else {**found, "additionalProperties": False}


PAIR: Final = row(LAT, NUMBER)
"""Latitude and longitude; the longitude of a map's corner may pass 180."""

SPAN: Final = row(NUMBER, NUMBER)
BOX: Final = row(PAIR, PAIR)
"""South-west and north-east."""
