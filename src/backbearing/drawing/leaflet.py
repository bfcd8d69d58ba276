"""The map engine: Leaflet's own files, made fit to be inlined, and the map that folium makes.

Nothing of Leaflet is kept in this repository: the files come from the XStatic-Leaflet wheel at
write time.
"""

from __future__ import annotations

import base64
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import WriteRefusedError
from backbearing.drawing.page_shell import asset

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.drawing.relief import ReliefPicture

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
            "installed",
            hint="install backbearing with its dependencies again",
        ) from problem
    return Path(leaflet.BASE_DIR)


def leaflet_licence() -> str:
    """Give the licence text that Leaflet asks every copy to carry; its wheel lacks it."""
    return asset("drawing", "leaflet_licence.txt") + "\n"


def _file(name: str) -> Path:
    path = leaflet_folder() / name
    if not path.is_file():
        raise WriteRefusedError(
            f"The installed XStatic-Leaflet package lacks {name}",
            hint="install version 1.9.3.0",
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


def folium_map(
    middle: tuple[float, float], pictures: Mapping[str, ReliefPicture]
) -> tuple[str, str]:
    """Let folium make the map round a latitude and longitude and lay the relief on it.

    Returns
    -------
    tuple of str
        The map's element, and the script that makes it. Folium's own page shell, with
        its links to other hosts, is not used.
    """
    import folium

    # Emptied on the instance and before rendering: a render adds the links again.
    ground = folium.Map(
        location=list(middle),
        tiles=None,
        zoom_start=15,
        zoom_control=False,
        attribution_control=False,
        zoom_snap=0.25,
        zoom_delta=0.5,
        wheel_px_per_zoom_level=120,
    )
    ground.default_js, ground.default_css = [], []
    ground._id = "ground"
    pane = folium.map.CustomPane("relief", z_index=150)
    pane._id = "relief"
    ground.add_child(pane)
    for name, picture in pictures.items():
        overlay = folium.raster_layers.ImageOverlay(
            image=picture.data_uri, bounds=picture.box.corners, pixelated=False, pane="relief"
        )
        overlay._id = name
        ground.add_child(overlay)
    figure: Any = ground.get_root()
    figure.render()
    return figure.html.render(), figure.script.render()
