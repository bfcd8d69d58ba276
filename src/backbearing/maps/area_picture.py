"""Pictures of an area's cells on the map, in five tones.

The tones rise in lightness, dark where the ridge hides the target: they stay apart for
every kind of colour sight, and in red on black. Unknown ground has no tone. A cell is drawn
as a whole: it speaks for its own centre.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.drawing.palette import CLEARANCE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.drawing.mercator import Box


@dataclass(frozen=True, slots=True)
class CellPixels:
    """Pixels of a picture in Web Mercator: the cell under each, -1 off the area."""

    row: NDArray[np.int64]
    col: NDArray[np.int64]
    box: Box

    def picture(self, classes: NDArray[np.int8]) -> bytes:
        """Classes of the area's cells as a lossless WebP; unknown ground is transparent."""
        from PIL import Image

        drawn = classes[self.row, self.col]
        drawn[(self.row < 0) | (self.col < 0)] = -1
        tones = np.array([*((*tone, 255) for tone in CLEARANCE), (0, 0, 0, 0)], dtype=np.uint8)
        stream = io.BytesIO()
        image = Image.fromarray(tones[drawn], "RGBA")
        image.save(stream, "WEBP", lossless=True, method=3)
        return stream.getvalue()

    def data_uri(self, classes: NDArray[np.int8]) -> str:
        """The picture as text for a page."""
        text = base64.b64encode(self.picture(classes)).decode("ascii")
        return f"data:image/webp;base64,{text}"
