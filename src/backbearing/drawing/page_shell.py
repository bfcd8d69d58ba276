"""The shell of every page that we write: assets, templates, and a policy that lets nothing in.

A page opens from disk and asks no other computer for anything. Its content security policy
allows the very scripts and styles that were written into it, by their hashes, pictures from
inside the page, and nothing else. ``assets/page.html`` is what all pages share; the rooms'
templates extend it.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jinja2 import Environment

SHARED: Final = "drawing"
"""The room whose assets every template may use."""


@cache
def asset(room: str, name: str) -> str:
    """Read one of a room's own scripts, styles, templates or texts."""
    folder = resources.files(f"backbearing.{room}") / "assets"
    return (folder / name).read_text(encoding="utf-8").strip()


def filled_page(
    room: str, template: str, *, styles: Sequence[str], scripts: Sequence[str] = (),
    asleep: Sequence[str] = (), first: Sequence[str] = (), **parts: Any,
) -> str:  # fmt: skip
    """Fill one of a room's templates; whatever it is filled with is escaped.

    Parameters
    ----------
    room : str
        Whose template it is, such as ``"maps"``.
    template : str
        Its name.
    styles, scripts : sequence of str
        Written into the page as they are, and allowed there: our own files, Leaflet's, and
        what folium makes of numbers and pictures. Nothing of the user's may be in them.
    asleep : sequence of str
        Styles for no medium until a script of the page names one: what a page without
        scripts must do without.
    first : sequence of str
        Scripts that run before anything is shown.
    parts
        What the template asks for.
    """
    from markupsafe import Markup

    return (
        _templates(room)
        .get_template(template)
        .render(
            styles=[Markup(style) for style in styles],  # noqa: S704 -- see above
            scripts=[Markup(script) for script in scripts],  # noqa: S704 -- see above
            asleep=[Markup(style) for style in asleep],  # noqa: S704 -- see above
            first=[Markup(script) for script in first],  # noqa: S704 -- see above
            policy=content_policy([*first, *scripts], [*styles, *asleep]),
            **parts,
        )
    )


def filled_block(room: str, template: str, block: str, **parts: Any) -> str:
    """Fill one block of a room's template, to be set into another page; escaped alike.

    Parameters
    ----------
    room, template, block : str
        Whose template it is, its name, and the name of the block in it.
    parts
        What the block asks for.
    """
    found = _templates(room).get_template(template)
    return "".join(found.blocks[block](found.new_context(parts))).strip()


def content_policy(scripts: Sequence[str], styles: Sequence[str]) -> str:
    """Content security policy that allows exactly these scripts and styles."""
    return "; ".join(
        [
            "default-src 'none'",
            "script-src " + " ".join(_hash(script) for script in scripts),
            "style-src " + " ".join(_hash(style) for style in styles),
            "img-src data:",
            "connect-src 'none'",
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


@cache
def _templates(room: str) -> Environment:
    from jinja2 import ChoiceLoader, Environment, FunctionLoader, StrictUndefined

    def source_of(where: str) -> FunctionLoader:
        def found(name: str) -> str | None:
            try:
                return asset(where, name)
            except FileNotFoundError:
                return None

        return FunctionLoader(found)

    return Environment(
        loader=ChoiceLoader([source_of(room), source_of(SHARED)]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
