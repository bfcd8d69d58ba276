"""One self-contained page: the map that folium makes, our own relief, and every fact.

The page opens from disk with no network and makes no request. Its content security
policy allows the very scripts and styles that were written into it, by their hashes,
pictures from inside the page, and nothing else.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from backbearing.base.files import check_free, write_file
from backbearing.drawing.base_map import base_of
from backbearing.drawing.clock import Clock
from backbearing.drawing.leaflet import leaflet_script, leaflet_style
from backbearing.drawing.texts import Texts, json_block
from backbearing.maps.area import area_layer
from backbearing.maps.charts import night_chart, skyline_chart
from backbearing.maps.facts import facts
from backbearing.maps.layers import ROLES, layers
from backbearing.maps.page_previews import page_comparison, page_pictures
from backbearing.maps.session_facts import session_facts
from backbearing.maps.session_layers import session_layers
from backbearing.maps.surroundings import surroundings

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from jinja2 import Environment

    from backbearing.drawing.base_map import Base
    from backbearing.plan.clearance import ClearGround, RidgeArea
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation

SCRIPTS = ("labels.js", "ground.js", "page.js")
STYLES = ("page.css", "ground.css")


def write_page(
    plan: Plan,
    elevation: Elevation,
    path: str | Path,
    *,
    clear: Sequence[ClearGround] = (),
    area: RidgeArea | None = None,
    overwrite: bool = False,
) -> Path:
    """Write the plan's page.

    Parameters
    ----------
    plan : Plan
        What to show.
    elevation : Elevation
        The ground under it, for relief and contours.
    path : str or Path
        Where to write; its folder must exist.
    clear, area
        As in :func:`page_html`.
    overwrite : bool
        Whether a file that is already there may be replaced.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        When a file is in the way or cannot be written; nothing on disk changes then.
    """
    from pathlib import Path

    check_free(Path(path), overwrite=overwrite)
    page = page_html(plan, elevation, clear=clear, area=area)
    return write_file(path, page, overwrite=overwrite)


def page_html(
    plan: Plan,
    elevation: Elevation,
    *,
    clear: Sequence[ClearGround] = (),
    area: RidgeArea | None = None,
) -> str:
    """Make the page; the same plan and raster give the same bytes.

    Parameters
    ----------
    plan : Plan
        What to show.
    elevation : Elevation
        The ground under it, for relief and contours.
    clear : sequence of ClearGround
        Ground round the stands from which the ridge is clear, at their minutes; a layer
        that the page's key turns on.
    area : RidgeArea, optional
        The same for a larger area and a whole night.

    Returns
    -------
    str
        HTML, complete, with nothing left to fetch.
    """
    clock, texts = Clock(plan.zone), Texts()
    drawn = {**layers(plan, clock, texts), **surroundings(plan, elevation, clock)}
    base = base_of(elevation, plan)
    washed = area_layer(plan, elevation, texts, clear, area)
    told = facts(plan, clock, texts)
    session = session_facts(plan, clock, texts)
    ground = {
        **drawn,
        **base.contours,
        "session": session_layers(plan, clock, texts),
        "clear": washed,
        "title": texts.add(plan.name),
    }
    map_html, map_script = folium_map((plan.subject.lat, plan.subject.lon), base)
    return _fill(
        facts=told,
        session=session,
        clear=washed,
        has_light=session is not None and bool(session["light"]),
        roles=ROLES,
        used_roles={run["role"] for lens in drawn["lenses"] for run in lens["arc"]},
        sky_chart=skyline_chart(plan, clock),
        night_chart=night_chart(plan, clock),
        pictures=page_pictures(plan, elevation),
        comparison=page_comparison(plan),
        declination=drawn["declination_deg"],
        ground_json=json_block(ground),
        text_json=json_block(texts.all),
        map_html=map_html,
        map_script=map_script,
    )


def folium_map(middle: tuple[float, float], base: Base) -> tuple[str, str]:
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
    for name, picture in base.pictures.items():
        overlay = folium.raster_layers.ImageOverlay(
            image=picture.data_uri, bounds=picture.box.corners, pixelated=False, pane="relief"
        )
        overlay._id = name
        ground.add_child(overlay)
    figure: Any = ground.get_root()
    figure.render()
    return figure.html.render(), figure.script.render()


def _fill(*, map_html: str, map_script: str, **parts: Any) -> str:
    from markupsafe import Markup

    styles = [leaflet_style(), *map(asset, STYLES)]
    scripts = [leaflet_script(), map_script, *map(asset, SCRIPTS)]
    return (
        templates()
        .get_template("shell.html")
        .render(
            # Our own files, Leaflet's, and folium's script, which holds numbers and
            # picture data only: none of it comes from the user.
            styles=[Markup(s) for s in styles],  # noqa: S704
            scripts=[Markup(s) for s in scripts],  # noqa: S704
            map_html=Markup(map_html),  # noqa: S704
            policy=content_policy(scripts, styles),
            **parts,
        )
    )


def content_policy(scripts: list[str], styles: list[str]) -> str:
    """Content security policy that allows exactly these scripts and styles."""
    return "; ".join(
        [
            "default-src 'none'",
            "script-src " + " ".join(_hash(s) for s in scripts),
            "style-src " + " ".join(_hash(s) for s in styles),
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
def asset(name: str) -> str:
    """Read one of the pages' own scripts, styles or templates."""
    folder = resources.files("backbearing.maps") / "assets"
    return (folder / name).read_text(encoding="utf-8").strip()


@cache
def templates() -> Environment:
    """Give the pages' templates; whatever they are filled with is escaped."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    return Environment(
        loader=FunctionLoader(asset),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
