"""Everything on disk from values that were computed once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.alignment.view import lens_views
from backbearing.alignment.view.lens_views import views
from backbearing.maps.night_page import night_page
from backbearing.plan.turns import at_turns
from backbearing.terrain import Elevation
from backbearing.workflows.plan_page import page_html, page_values
from backbearing.workflows.write_all import write_all

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from backbearing.plan.plan import Plan


def test_each_lens_is_looked_through_once_for_page_sheet_and_pictures(
    plan: Plan, elevation: Elevation, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[str] = []
    view_of = lens_views.view_of

    def counted(plan: Plan, lens: object, elevation: Elevation | None) -> object:
        looked.append(lens.lens.label)  # type: ignore[attr-defined]
        return view_of(plan, lens, elevation)  # type: ignore[arg-type]

    monkeypatch.setattr(lens_views, "view_of", counted)
    write_all(plan, elevation, tmp_path)
    assert looked == [lens.lens.label for lens in plan.lenses if lens.stand is not None]


def test_a_page_is_set_without_the_raster(
    plan: Plan, elevation: Elevation, monkeypatch: pytest.MonkeyPatch
) -> None:
    clear = clear_ground(plan, elevation)
    html = page_html(plan, elevation, clear=clear)
    values = page_values(plan, elevation, views(at_turns(plan), elevation), clear=clear)
    for name in ("height_at", "horizon", "skylines", "window_m"):
        monkeypatch.delattr(Elevation, name)
    assert night_page(plan, values) == html
