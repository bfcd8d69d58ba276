"""Write docs/desk_schemas.md from the desk's schemas."""

from __future__ import annotations

import json
from pathlib import Path

from backbearing.desk.schemas import ANSWERS, ERROR, schema_of

HEAD = """# What the desk answers

JSON Schema (draft 2020-12) of every answer of [the desk](desk.md), by method and address. Angles
are degrees, lengths metres, times seconds since 1970 in UTC, unknown is `null`, places are WGS84.
Made by `docs/make_desk_schemas.py` from `desk/schemas.py`; the tests hold every answer to it.

## What goes wrong

Every answer of status 400 and above is one sentence.

"""


def block(schema: object) -> str:
    """Show a schema."""
    return f"```json\n{json.dumps(schema, indent=1)}\n```\n"


def schemas_page() -> str:
    """Return the page's text."""
    parts = [f"\n## `{address}`\n\n{block(schema_of(address))}" for address in ANSWERS]
    return HEAD + block(ERROR) + "".join(parts)


if __name__ == "__main__":
    page = Path(__file__).resolve().parent / "desk_schemas.md"
    page.write_text(schemas_page(), encoding="utf-8")
