"""Towns and how many live in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backbearing.plan.ranking import Rejected

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Towns:
    """Towns with their people; arrays of shape (m,), degrees."""

    name: tuple[str, ...]
    lat: Floats
    lon: Floats
    population: Floats
    source: str = ""
    rejected: tuple[Rejected, ...] = ()

    def __len__(self) -> int:
        return len(self.name)
