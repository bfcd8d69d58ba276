"""Time the four previews of the sample night, warm: views, then SVG and PNG.

Run ``python benchmarks/previews.py`` from the repository's root (five seconds).
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.alignment import plan_night
from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.view.lens_views import views
from backbearing.drawing.png import drawing_png
from backbearing.drawing.svg import drawing_svg
from backbearing.outing.load import load_outing
from backbearing.pictures.preview import preview_sheet

if TYPE_CHECKING:
    from collections.abc import Callable


def best_of(run: Callable[[], object], times: int = 5) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        spent.append(time.perf_counter() - start)
    return min(spent)


def main() -> None:
    outing = load_outing(Path("sample_terrain/outing.toml"))
    elevation = open_elevation(outing)
    plan = plan_night(outing, elevation)
    seen = views(plan, elevation)
    print(f"views of {len(seen)} lenses   {best_of(lambda: views(plan, elevation)):6.3f} s")
    svg = best_of(lambda: [drawing_svg(preview_sheet(view)) for view in seen])
    png = best_of(lambda: [drawing_png(preview_sheet(view)) for view in seen])
    print(f"as SVG               {svg:6.3f} s\nas PNG               {png:6.3f} s")


if __name__ == "__main__":
    main()
