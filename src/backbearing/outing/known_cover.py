"""Whether an outing's skylines know the trees and buildings of its ground, wholly or in part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.cautions import CoverKnown

if TYPE_CHECKING:
    from backbearing.outing.request import GroundRequest


def known_cover(ground: GroundRequest) -> CoverKnown:
    """Tell it from the raster's product and the files that stand beside it.

    A surface model knows both, as well as its cells do. A canopy knows no buildings, and a map
    what was drawn. What a product of ground has kept of its trees is not known for any place.
    """
    if ground.holds_cover or ground.cover.surface is not None:
        return CoverKnown.ALL
    return CoverKnown.PART if ground.cover.files else CoverKnown.NONE
