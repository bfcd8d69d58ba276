"""Write the reference: a page of the commands, and one for each package with public names."""

from __future__ import annotations

import inspect
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

from backbearing.base.lazy import public_homes
from backbearing.cli import COMMANDS, group

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

PACKAGES = {
    "backbearing": "The short way in: the names that most scripts need.",
    "backbearing.outing": "What is asked: subject, ground, night, camera, lenses.",
    "backbearing.terrain": "Elevation rasters, skylines and how sure they are.",
    "backbearing.sky": "Where things stand in the sky, and when it is dark.",
    "backbearing.camera": "Fields of view, shutter, focus, exposure.",
    "backbearing.measuring": "The subject by day: heights, widths, places, with their doubt.",
    "backbearing.alignment": "The main job: stands, minutes, nights.",
    "backbearing.plan": "What is answered: the values of a plan.",
    "backbearing.scouting": "Which of many places are worth the drive.",
    "backbearing.review": "After the night: frames beside their plan.",
    "backbearing.exports": "Files for other programs.",
    "backbearing.pictures": "What each lens will see, skylines, seasons.",
    "backbearing.sheet": "The printed page.",
    "backbearing.maps": "The page for the pocket.",
}

PUBLIC = {name: public_homes(import_module(name)) for name in PACKAGES if "." in name}
"""The public names of each package but the whole, and the modules they live in."""


def write_reference(folder: Path) -> None:
    """Write the pages into `folder`; a page that has not changed keeps its date."""
    folder.mkdir(exist_ok=True)
    pages = {"commands.rst": _commands_page()}
    pages |= {f"{name}.rst": _package_page(name, says) for name, says in PACKAGES.items()}
    pages["index.rst"] = _index_page()
    for name, text in pages.items():
        file = folder / name
        if not file.exists() or file.read_text(encoding="utf-8") != text:
            file.write_text(text, encoding="utf-8")
    for old in folder.glob("*.rst"):
        if old.name not in pages:
            old.unlink()


def _titled(title: str, body: str) -> str:
    return f"{title}\n{'=' * len(title)}\n\n{body}\n"


def _index_page() -> str:
    names = "\n".join(f"   {name}" for name in ("commands", *PACKAGES))
    return _titled("Reference", f".. toctree::\n   :maxdepth: 1\n\n{names}")


def _commands_page() -> str:
    """Every command's own help, word for word."""
    parts = []
    for name in COMMANDS:
        command = group.get_command(click.Context(group), name)
        if command is None:
            raise LookupError(name)
        with click.Context(command, info_name=f"backbearing {name}", max_content_width=80) as at:
            help_text = command.get_help(at)
        shown = "\n".join(f"   {line}".rstrip() for line in help_text.splitlines())
        parts.append(f"{name}\n{'-' * len(name)}\n\n.. code-block:: text\n\n{shown}\n")
    return _titled("Commands", "\n".join(parts))


def _package_page(package: str, says: str) -> str:
    module = import_module(package)
    rows = [f"{says}\n", f".. currentmodule:: {package}\n"]
    for name, home in sorted(public_homes(module).items()):
        if not name.startswith("__"):
            rows.append(_directive(module, name, home))
    return _titled(package, "\n".join(rows))


def _directive(module: ModuleType, name: str, home: str) -> str:
    """How one name is documented, and where its one full entry stands."""
    value: Any = getattr(module, name)
    owner = ".".join(home.split(".")[:2])
    if owner not in (module.__name__, home) and name in PUBLIC.get(owner, {}):
        role = "class" if inspect.isclass(value) else "func" if callable(value) else "data"
        target = f"{home}.{name}" if role == "data" else f"{owner}.{name}"
        return f"- :py:{role}:`{name} <{target}>`\n"
    if inspect.isclass(value):
        return f".. autoclass:: {name}\n   :members:\n"
    if inspect.isroutine(value) or inspect.isfunction(inspect.unwrap(value)):
        return f".. autofunction:: {name}\n"
    return f".. autodata:: {home}.{name}\n   :no-value:\n"
