"""Write docs/elevation-products.md from the table in the package."""

from __future__ import annotations

import math
from pathlib import Path

from backbearing.terrain.reading.products import PRODUCTS, SIGMAS_IN_LE90

HEAD = f"""# Elevation products

What their makers say of their heights, for `product` under `[ground]` of an outing file. LE90 is
the linear error that 90% of heights stay within, metres; one standard deviation is LE90 /
{SIGMAS_IN_LE90}. The figures hold for whole continents and open ground, and are worse on steep
slopes and under trees. They are quoted from memory of the documents named. Made by
`docs/make_products.py`.

| `product` | name | cell | absolute LE90 | relative LE90 | what its surface is | source |
|---|---|---|---|---|---|---|
"""


def products_page() -> str:
    """Return the page's text."""
    rows = []
    for key, product in PRODUCTS.items():
        absolute, relative = (
            f"{value:g} m" if math.isfinite(value) else "none known"
            for value in (product.absolute_le90_m, product.relative_le90_m)
        )
        cells = (
            f"`{key}`", product.name, product.cell, absolute, relative, product.surface,
            product.source,
        )  # fmt: skip
        rows.append(f"| {' | '.join(cells)} |\n")
    return HEAD + "".join(rows)


if __name__ == "__main__":
    Path(__file__).with_name("elevation-products.md").write_text(products_page(), encoding="utf-8")
