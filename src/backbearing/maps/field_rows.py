"""The rows of the page's correction form, as sentences with numbers to fill in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from backbearing.base.units import Units


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a row: words, or a number to fill in with the name it adds to the row's.

    A number's ``unit`` stays on its line.
    """

    text: str = ""
    input: str = ""
    label: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class CorrectionRow:
    """One thing that may be otherwise than planned.

    Attributes
    ----------
    key : str
        Its place in what the phone keeps, and what the page's script does with it.
    name : str
        What a reader of the screen calls it.
    pieces : tuple of Piece
    own : bool
        Whether it holds for the lens in hand alone.
    signed : bool
        Whether its numbers may be below zero, for which a keyboard of digits has no key.
    """

    key: str
    name: str
    pieces: tuple[Piece, ...]
    own: bool = False
    signed: bool = False

    @property
    def kind(self) -> str:
        """How the page's script reads it."""
        return self.key


TICKS: Final = (
    ("peg set", "Peg set"),
    ("focus checked", "Focus checked"),
    ("frames taken", "Frames taken"),
)
LIGHT_TICK: Final = ("light placed", "Light placed")


def tick_kinds(*, light: bool) -> tuple[tuple[str, str], ...]:
    """What is ticked of each turn, as files name it and as the page does."""
    return (*TICKS, LIGHT_TICK) if light else TICKS


def correction_rows(units: Units) -> tuple[CorrectionRow, ...]:
    """Every row, in the order in which a person on the spot finds things out."""
    m = "ft" if units.name == "imperial" else "m"
    return (
        _row("height", "Height of the subject", "The subject is", m, "tall."),
        _row("width", "Width of the subject", "It is", m, "wide."),
        CorrectionRow(
            "readings",
            "Two clinometer readings",
            (
                Piece("Its top reads"),
                Piece(input="upper", label=": top, degrees", unit="°"),
                Piece("and its foot"),
                Piece(input="lower", label=": foot, degrees", unit="°"),
                Piece("from"),
                Piece(input="away", label=f": distance, {m}", unit=m),
                Piece("away."),
            ),
            signed=True,
        ),
        _row("back", "Room to go back", "I can stand only", m, "away with this lens.", own=True),
        _row("ground", "Ground at the stand", "The ground there is", m,
             "higher than at the subject (minus: lower).", signed=True),
        _row("eye", "Height of the lens", "The lens stands", m, "over the ground."),
        _row("focal", "Focal length", "The lens in hand is of", "mm", "", own=True),
        _row("share", "Share of the frame", "With this lens the subject shall take", "%",
             "of the frame's height.", own=True),
        _row("compass", "Compass at the peg", "At this lens's peg the compass reads", "°",
             "to the subject."),
        _row("skyline", "Reading of the ridge",
             "At this lens's peg the ridge behind the subject reads", "°", "up (minus: down).",
             signed=True),
    )  # fmt: skip


def _row(
    key: str, name: str, before: str, unit: str, after: str,
    *, own: bool = False, signed: bool = False,
) -> CorrectionRow:  # fmt: skip
    pieces = (Piece(before), Piece(input="value", unit=unit), Piece(after))
    return CorrectionRow(key, name, pieces, own, signed)
