"""How many lenses a session can order."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]


MOST_JOBS = 8
"""So many jobs are ordered exactly; the work doubles with each."""
