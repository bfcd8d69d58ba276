"""One self-contained page: the map that folium makes, our own relief, and every fact.

The page opens from disk with no network and makes no request.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from backbearing.base.cautions import GENERAL
from backbearing.base.units import METRIC
from backbearing.drawing.arcs import ROLES
from backbearing.drawing.base_map import base_map
from backbearing.drawing.leaflet import folium_map, leaflet_script, leaflet_style
from backbearing.drawing.page_shell import asset, filled_page
from backbearing.drawing.texts import Texts, json_block
from backbearing.drawing.wall_clock import WallClock
from backbearing.maps.area import area_layer
from backbearing.maps.charts import night_chart, skyline_chart
from backbearing.maps.dial_and_rings import dial_and_rings
from backbearing.maps.field_data import dusk_and_dawn_s, field_data
from backbearing.maps.field_rows import correction_rows, tick_kinds
from backbearing.maps.layers import layers
from backbearing.maps.page_previews import page_comparison, page_pictures
from backbearing.maps.page_text import page_text
from backbearing.maps.session_layers import session_layers
from backbearing.maps.session_text import session_text
from backbearing.maps.turn_text import by_itself
from backbearing.plan.in_units import in_units
from backbearing.plan.turns import as_planned

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.base.units import Units
    from backbearing.drawing.base_map import MapGround
    from backbearing.maps.area import CellPixels
    from backbearing.plan.clearance import AreaCells, ClearGround, RidgeArea
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

SOLVER_SCRIPTS = ("field_sky.js", "field_ground.js", "field_frame.js", "field_solver.js")
FIELD_SCRIPTS = (
    "field_words.js",
    "field_clock.js",
    "field_kept.js",
    "field_stands.js",
    "field_now.js",
    "field_correct.js",
    "field_ticks.js",
    "field_where.js",
    "field_map.js",
    "field.js",
)
SCRIPTS = ("labels.js", "ground.js", *SOLVER_SCRIPTS, *FIELD_SCRIPTS, "page.js")
STYLES = ("page.css", "ground.css", "field.css")


@dataclass(frozen=True, slots=True)
class Still:
    """What the page shows where no script runs, and what it prints: the sheet, escaped.

    Attributes
    ----------
    html : str
        The sheet's body, its maps and pictures in it.
    style : str
        How it is set, on paper and on a screen.
    """

    html: str
    style: str


@dataclass(frozen=True, slots=True)
class PageValues:
    """What a plan's page shows besides the plan itself, all of it computed before.

    Attributes
    ----------
    ground : MapGround
        For relief and contours.
    seen : tuple of View
        What each lens with a stand will see, in a session from its turn's stand.
    still : Still
        The plan without scripts, and on paper.
    clear : tuple of ClearGround
        Ground round the stands from which the ridge is clear, at their minutes.
    area : RidgeArea or None
        The same for a larger area and a whole night.
    pixels : mapping of AreaCells to tuple of CellPixels
        Where the cells of both lie on the map.
    units : Units
        How a person reads lengths; what the page's scripts compute with stays metric.
    carried : mapping or None
        What the page's own solver works from; None for a page without.
    """

    ground: MapGround
    seen: tuple[View, ...]
    still: Still
    clear: tuple[ClearGround, ...] = ()
    area: RidgeArea | None = None
    pixels: Mapping[AreaCells, tuple[CellPixels, ...]] = field(default_factory=dict)
    units: Units = METRIC
    carried: Mapping[str, Any] | None = None


def night_page(plan: Plan, values: PageValues) -> str:
    """Make the page; the same plan and values give the same bytes.

    Returns
    -------
    str
        HTML, complete, with nothing left to fetch.
    """
    clock, texts, units = WallClock(plan.zone), Texts(), values.units
    pictures = page_pictures(plan, values.seen, units)
    plan = in_units(plan, units)
    remark, plan = by_itself(plan, clock, units), as_planned(plan)
    drawn = {
        **layers(plan, clock, texts, units),
        **dial_and_rings(plan, values.ground, clock, units),
    }
    base = base_map(values.ground, units)
    washed = area_layer(plan, texts, values.clear, values.area, values.pixels, units)
    facts = page_text(plan, clock, texts, units)
    for turn in facts["turns"]:
        turn["picture"] = pictures.get(turn["index"])
    session = session_text(plan, clock, texts, units)
    ground = {
        **drawn,
        **base.contours,
        "session": session_layers(plan, texts),
        "clear": washed,
        "title": texts.add(plan.name),
        "units": units.name,
    }
    pocket = field_data(plan, clock, texts, units)
    map_html, map_script = folium_map((plan.subject.lat, plan.subject.lon), base.pictures)
    return _fill(
        facts=facts | {"by_itself": remark},
        care=GENERAL[0],
        heights="feet" if units.name == "imperial" else "metres",
        session=session,
        clear=washed,
        clear_shown=values.area is not None,
        has_light=session is not None and bool(session["light"]),
        roles=ROLES,
        used_roles={run["role"] for lens in drawn["lenses"] for run in lens["arc"]},
        sky_chart=skyline_chart(plan, clock),
        night_chart=night_chart(plan, clock),
        comparison=page_comparison(plan, units) if pictures else None,
        declination=drawn["declination_deg"],
        ground_json=json_block(ground),
        field_json=json_block(pocket),
        text_json=json_block(texts.all),
        carried_json=None if values.carried is None else json_block(values.carried),
        corrections=correction_rows(units),
        tick_kinds=tick_kinds(light=pocket["light"]),
        dusk_s=dusk_and_dawn_s(plan),
        map_html=map_html,
        map_script=map_script,
        still=values.still,
    )


def _fill(*, map_html: str, map_script: str, still: Still, **parts: Any) -> str:
    from markupsafe import Markup

    return filled_page(
        "maps",
        "night.html",
        styles=[still.style + "\n" + asset("maps", "still.css")],
        asleep=[leaflet_style(), *(asset("maps", name) for name in STYLES)],
        first=[asset("maps", "first.js")],
        scripts=[leaflet_script(), map_script, *(asset("maps", name) for name in SCRIPTS)],
        # Of folium's making, from numbers alone.
        map_html=Markup(map_html),  # noqa: S704
        # Set from a template of our own, which escaped whatever it was filled with.
        still=Markup(still.html),  # noqa: S704
        **parts,
    )
