"""The draft of an outing in a small file beside it, so that a desk that is killed loses nothing.

It holds only while the outing is what it was a draft of; kept changes and another's changes end it.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

from starlette.routing import Route

from backbearing.base.errors import BackbearingError
from backbearing.base.files import write_file
from backbearing.desk.answering import answered, body_of, checked_changes, text_in

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

    from backbearing.desk.open_outing import OpenOuting
    from backbearing.desk.outing_on_disk import Changes

DRAFT_BYTES: Final = 100_000


def routes(desk: OpenOuting) -> list[Route]:
    """The addresses of the draft."""

    async def give(request: Request) -> Response:
        return await answered(lambda: {"changes": kept_changes(desk)})

    async def take(request: Request) -> Response:
        asked = await body_of(request)
        changes, revision = checked_changes(asked.get("changes")), text_in(asked, "revision", 80)
        return await answered(lambda: {"kept": keep_changes(desk, changes, revision)})

    return [
        Route("/api/draft", give, methods=["GET"]),
        Route("/api/draft", take, methods=["POST"]),
    ]


def kept_changes(desk: OpenOuting) -> Changes:
    """Read the draft of the outing as it stands; empty where there is none that fits."""
    file = draft_file(desk.outing.file)
    try:
        if file.is_symlink() or file.stat().st_size > DRAFT_BYTES:
            return {}
        found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        if found["revision"] != desk.outing.revision:
            return {}
        changes = checked_changes(found["changes"])
        desk.outing.draft(changes)
    except (OSError, ValueError, KeyError, TypeError, RecursionError, BackbearingError):
        return {}
    return changes


def keep_changes(desk: OpenOuting, changes: Changes, revision: str) -> bool:
    """Keep a draft, or take it away where nothing is changed; whether one lies there now.

    Raises
    ------
    BackbearingError
        For a draft that is none; what lay there stays.
    """
    file = draft_file(desk.outing.file)
    if not changes or revision != desk.outing.revision:
        file.unlink(missing_ok=True)
        return False
    desk.outing.draft(changes)
    text = json.dumps({"revision": revision, "changes": changes}, indent=1)
    if len(text) > DRAFT_BYTES:
        return False
    write_file(file, text, overwrite=True)
    return True


def draft_file(outing: Path) -> Path:
    """Where the draft of an outing lies."""
    return outing.with_name(f".{outing.name}.desk-draft.json")
