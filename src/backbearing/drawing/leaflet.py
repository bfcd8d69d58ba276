"""Leaflet's own files, read from the installed package and made fit to be inlined.

Nothing of Leaflet is kept in this repository: the files come from the
XStatic-Leaflet wheel at write time.
"""

from __future__ import annotations

import base64
import re
from functools import cache
from pathlib import Path

from backbearing.base.errors import WriteRefusedError

NOTICE = (
    "Leaflet 1.9.3, © 2010–2022 Volodymyr Agafonkin, © 2010–2011 CloudMade, "
    "BSD 2-Clause Licence; the page's map is composed with folium, MIT Licence."
)
"""Credit and licence of what a written page carries besides our own work."""


@cache
def leaflet_folder() -> Path:
    """Folder of the installed Leaflet files.

    Raises
    ------
    WriteRefusedError
        When the package is not installed.
    """
    try:
        from xstatic.pkg import leaflet
    except ImportError as problem:
        raise WriteRefusedError(
            "The page needs Leaflet's files from the package XStatic-Leaflet, which is not "
            "installed; install backbearing with its dependencies again."
        ) from problem
    return Path(leaflet.BASE_DIR)


def leaflet_licence() -> str:
    """Give the licence text that Leaflet asks every copy to carry; its wheel lacks it."""
    from importlib import resources

    text = resources.files("backbearing.drawing").joinpath("assets", "leaflet_licence.txt")
    return text.read_text(encoding="utf-8")


def _file(name: str) -> Path:
    path = leaflet_folder() / name
    if not path.is_file():
        raise WriteRefusedError(
            f"The installed XStatic-Leaflet package lacks {name}; install version 1.9.3.0.",
            file=str(path),
        )
    return path


@cache
def leaflet_script() -> str:
    """Leaflet's script, without its source-map line and safe inside a script element."""
    text = _file("leaflet.js").read_text(encoding="utf-8")
    text = re.sub(r"^//# sourceMappingURL=.*$", "", text, flags=re.MULTILINE)
    return re.sub(r"</(?=script)", r"<\\/", text, flags=re.IGNORECASE).strip()


@cache
def leaflet_style() -> str:
    """Leaflet's style sheet with its pictures as data URIs and nothing left to fetch."""
    text = _file("leaflet.css").read_text(encoding="utf-8")
    text = re.sub(r"\s*behavior:\s*url\(#default#VML\);", "", text)

    def inline(match: re.Match[str]) -> str:
        picture = _file(match.group(1).strip("'\" ")).read_bytes()
        return f"url(data:image/png;base64,{base64.b64encode(picture).decode('ascii')})"

    return re.sub(r"url\((?!data:)([^)]+)\)", inline, text).strip()
