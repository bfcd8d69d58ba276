"""A subject's real outline: rings of points, metres across and up from the middle of its base."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Sequence

Ring = tuple[tuple[float, float], ...]

MOST_POINTS: Final = 4000
"""An outline with more points than this is refused: no frame shows so many."""


@dataclass(frozen=True)
class Outline:
    """Closed rings in metres, filled by the even-odd rule.

    Parameters
    ----------
    rings : tuple of rings
        Each a tuple of ``(across_m, up_m)``: across the line of sight from the middle of
        the subject's base, to the right as seen from the stand, and up from its base.
    source : str
        Where it comes from, for people.

    Raises
    ------
    OutingError
        For a ring without an area, a point that is not finite, or too many points.
    """

    rings: tuple[Ring, ...]
    source: str = ""

    def __post_init__(self) -> None:
        points = [point for ring in self.rings for point in ring]
        if not points or any(len(ring) < 3 for ring in self.rings):
            raise OutingError("An outline needs three points or more in each ring.", key="outline")
        if len(points) > MOST_POINTS:
            raise OutingError(
                f"The outline has {len(points)} points",
                hint=f"simplify it to {MOST_POINTS} or fewer",
                key="outline",
            )
        if not all(math.isfinite(v) for point in points for v in point):
            raise OutingError("The outline has a point that is not a number.", key="outline")
        if self.width_m <= 0.0 or self.height_m <= 0.0:
            raise OutingError("The outline has no area", hint="draw a closed shape", key="outline")

    def __hash__(self) -> int:
        """Of the rings, counted once: what is kept for an outline is looked up again and again."""
        return self._rings_hash

    @cached_property
    def _rings_hash(self) -> int:
        return hash(self.rings)

    @cached_property
    def width_m(self) -> float:
        """From its leftmost to its rightmost point, metres."""
        across = [x for ring in self.rings for x, _ in ring]
        return max(across) - min(across)

    @cached_property
    def height_m(self) -> float:
        """From its lowest to its highest point, metres."""
        up = [y for ring in self.rings for _, y in ring]
        return max(up) - min(up)

    def hull(self) -> Ring:
        """Corners of the smallest convex shape around it, anticlockwise.

        Monotone chain [Andrew1979]_; in a straight-line projection the outermost points
        of the outline are among them.
        """
        return _hull(self.rings)

    def stretched(self, across: float, up: float) -> Outline:
        """Return it so many times as wide and as high."""
        rings = tuple(tuple((x * across, y * up) for x, y in ring) for ring in self.rings)
        return Outline(rings, self.source)

    @classmethod
    def box(cls, width_m: float, height_m: float) -> Outline:
        """A plain upright box, its sides with points between, for fisheyes bend them."""
        steps = [i / 8.0 for i in range(8)]
        half = width_m / 2.0
        ring = (
            [(-half + width_m * s, 0.0) for s in steps]
            + [(half, height_m * s) for s in steps]
            + [(half - width_m * s, height_m) for s in steps]
            + [(-half, height_m * (1.0 - s)) for s in steps]
        )
        return cls((tuple(ring),), "box")

    @classmethod
    def of_widths(cls, rows: Sequence[Sequence[float]], *, height_m: float) -> Outline:
        """Build a shape that is alike left and right, from rows of height and width.

        Parameters
        ----------
        rows : sequence of (up_m, width_m)
            Rising from the base, 0, to the top, ``height_m``.
        height_m : float
            The subject's height, which the last row must reach.

        Raises
        ------
        OutingError
            When the rows do not rise from 0 to the subject's height, or a width is negative.
        """
        if len(rows) < 2 or any(len(row) != 2 for row in rows):
            raise OutingError(
                "Subject widths_m needs two rows or more, each [height, width] in metres.",
                key="widths_m",
            )
        heights = [float(row[0]) for row in rows]
        if heights[0] != 0.0 or any(b <= a for a, b in pairwise(heights)):
            raise OutingError(
                "Subject widths_m must rise from height 0: write the lowest row first.",
                key="widths_m",
            )
        if not math.isclose(heights[-1], height_m, rel_tol=1e-6):
            raise OutingError(
                f"Subject widths_m ends at {heights[-1]:g} m and height_m is {height_m:g}; the "
                "last row must be the top.",
                key="widths_m",
            )
        if any(row[1] < 0.0 for row in rows):
            raise OutingError("Subject widths_m has a width below 0.", key="widths_m")
        right = [(float(width) / 2.0, float(up)) for up, width in rows]
        left = [(-x, up) for x, up in reversed(right)]
        return cls((tuple(dict.fromkeys(right + left)),), "widths at heights")

    @classmethod
    def fitted(
        cls,
        rings: Sequence[Sequence[tuple[float, float]]],
        *,
        height_m: float,
        width_m: float | None,
        source: str,
    ) -> Outline:
        """Scale a drawing (y downwards) to a height, and to a width where one is given.

        The lowest point becomes the base and the middle between the outermost points the
        middle.
        """
        across = [x for ring in rings for x, _ in ring]
        down = [y for ring in rings for _, y in ring]
        if not across or max(down) <= min(down) or max(across) <= min(across):
            raise OutingError(f"{source} draws no shape with an area.", key="outline")
        tall = height_m / (max(down) - min(down))
        wide = tall if width_m is None else width_m / (max(across) - min(across))
        middle, lowest = (max(across) + min(across)) / 2.0, max(down)
        return cls(
            tuple(tuple(((x - middle) * wide, (lowest - y) * tall) for x, y in r) for r in rings),
            source,
        )


@lru_cache(maxsize=32)
def _hull(rings: tuple[Ring, ...]) -> Ring:
    points = sorted({point for ring in rings for point in ring})
    lower, upper = _chain(points), _chain(points[::-1])
    return tuple(lower[:-1] + upper[:-1])


def _chain(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    out: list[tuple[float, float]] = []
    for x, y in points:
        while len(out) >= 2:
            (ax, ay), (bx, by) = out[-2], out[-1]
            if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0.0:
                break
            out.pop()
        out.append((x, y))
    return out
