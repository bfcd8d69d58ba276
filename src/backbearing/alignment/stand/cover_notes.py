"""What a plan says of the trees and buildings on its ground: what was counted, what not twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.text import length
from backbearing.terrain.reading.products import PRODUCTS

if TYPE_CHECKING:
    from backbearing.outing.request import GroundRequest
    from backbearing.terrain.cover.covered_elevation import CoveredElevation


def cover_notes(ground: GroundRequest, covered: CoveredElevation | None) -> list[str]:
    """Sentences on the cover that was counted; none where nothing was asked."""
    product = PRODUCTS.get(ground.product.strip().lower())
    named, one = " and ".join(p.name for p in ground.cover.files), len(ground.cover.files) == 1
    if covered is None:
        if not named or product is None:
            return []
        return [
            (
                f"{product.name} holds trees and buildings already ({product.surface}): {named} "
                f"{'is' if one else 'are'} not counted a second time."
            )
        ]
    said = [
        (
            f"Trees and buildings on the skyline are those of {named}; ground that "
            f"{'it does' if one else 'they do'} not know counts as bare."
        )
    ]
    if covered.near is not None:
        said.append(
            f"Within {length(covered.near_m)} of a stand they are known in cells of "
            f"{length(covered.near.cell_size_m)}; beyond, over an area, and at a minute or stand "
            f"that you choose on the page itself in the ground's cells of "
            f"{length(covered.cell_size_m)}."
        )
    mapped = covered.stack.mapped
    if mapped is not None:
        said.append(
            f"Of {len(mapped.heights_m):,} woods, trees and buildings of {mapped.name} "
            f"{mapped.guesses:,} have a height that is a guess by kind, an estimate or a number of "
            "storeys. Map data (c) OpenStreetMap contributors, Open Database Licence 1.0."
        )
    if product is not None and product.cover == "part":
        said.append(
            f"{product.name} holds part of the trees already ({product.surface}): with "
            f"{named} on it a wooded skyline may stand too high, and never too low for that."
        )
    if ground.canopy_m > 0.0:
        said.append(f"canopy_m is not counted beside {named}.")
    return said
