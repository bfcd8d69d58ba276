"""One self-contained page: the map that folium makes, our own relief, and every fact.

The page opens from disk with no network and makes no request.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.files import check_free, write_file
from backbearing.drawing.arcs import ROLES
from backbearing.drawing.base_map import base_of
from backbearing.drawing.clock import Clock
from backbearing.drawing.leaflet import folium_map, leaflet_script, leaflet_style
from backbearing.drawing.page_shell import asset, filled_page
from backbearing.drawing.texts import Texts, json_block
from backbearing.maps.area import area_layer
from backbearing.maps.charts import night_chart, skyline_chart
from backbearing.maps.facts import facts
from backbearing.maps.layers import layers
from backbearing.maps.page_previews import page_comparison, page_pictures
from backbearing.maps.session_facts import session_facts
from backbearing.maps.session_layers import session_layers
from backbearing.maps.surroundings import surroundings

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

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
    map_html, map_script = folium_map((plan.subject.lat, plan.subject.lon), base.pictures)
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


def _fill(*, map_html: str, map_script: str, **parts: Any) -> str:
    from markupsafe import Markup

    return filled_page(
        "maps",
        "night.html",
        styles=[leaflet_style(), *(asset("maps", name) for name in STYLES)],
        scripts=[leaflet_script(), map_script, *(asset("maps", name) for name in SCRIPTS)],
        # Of folium's making, from numbers alone.
        map_html=Markup(map_html),  # noqa: S704
        **parts,
    )
