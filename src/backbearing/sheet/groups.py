"""Blocks made of blocks: side by side, balanced, kept together, in a box."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backbearing.drawing.pdf_canvas import Pen
    from backbearing.sheet.blocks import Block


@dataclass(frozen=True, slots=True)
class Columns:
    """Blocks side by side: each column a share of the width."""

    columns: tuple[tuple[Block, ...], ...]
    shares: tuple[float, ...]
    gap: float = 14.0

    def _width(self, width: float, share: float) -> float:
        return (width - self.gap * (len(self.columns) - 1)) * share

    def height(self, width: float) -> float:  # noqa: D102
        return max(
            sum(block.height(self._width(width, share)) for block in column)
            for column, share in zip(self.columns, self.shares, strict=True)
        )

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        for column, share in zip(self.columns, self.shares, strict=True):
            wide, top = self._width(width, share), y
            for block in column:
                block.draw(pen, x, top, wide)
                top += block.height(wide)
            x += wide + self.gap


@dataclass(frozen=True, slots=True)
class Balanced:
    """Blocks in two columns of about one height."""

    blocks: tuple[Block, ...]

    def _halves(self, width: float) -> Columns:
        wide = (width - 14.0) / 2.0
        tall = [block.height(wide) for block in self.blocks]
        cut = min(range(len(tall) + 1), key=lambda i: (max(sum(tall[:i]), sum(tall[i:])), -i))
        return Columns((self.blocks[:cut], self.blocks[cut:]), (0.5, 0.5))

    def height(self, width: float) -> float:  # noqa: D102
        return self._halves(width).height(width)

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        self._halves(width).draw(pen, x, y, width)


@dataclass(frozen=True, slots=True)
class Together:
    """Blocks that stay on one page."""

    blocks: tuple[Block, ...]

    def height(self, width: float) -> float:  # noqa: D102
        return sum(block.height(width) for block in self.blocks)

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        for block in self.blocks:
            block.draw(pen, x, y, width)
            y += block.height(width)


@dataclass(frozen=True, slots=True)
class Boxed:
    """Blocks in a box: what must not be overlooked."""

    blocks: tuple[Block, ...]
    rim: float = 6.0

    def height(self, width: float) -> float:  # noqa: D102
        inner = width - 2.0 * self.rim
        return sum(block.height(inner) for block in self.blocks) + 1.4 * self.rim + 3.0

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        pen.box(x, y + 3.0, width, self.height(width) - 4.0, thick=1.4)
        top = y + 3.0 + 0.6 * self.rim
        for block in self.blocks:
            block.draw(pen, x + self.rim, top, width - 2.0 * self.rim)
            top += block.height(width - 2.0 * self.rim)
