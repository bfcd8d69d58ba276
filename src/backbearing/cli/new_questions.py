"""The five questions of ``backbearing new``; what an option says already is not asked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from backbearing.base.errors import BackbearingError
from backbearing.base.lazy import Later
from backbearing.base.limits import LONGEST_NAME
from backbearing.base.numbers import counted, num
from backbearing.base.place_notation import read_place_fully, spell_place
from backbearing.base.text import terminal_safe
from backbearing.outing.kit_place import kit_file

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from backbearing.base.place_notation import PlaceRead
    from backbearing.outing import kit as kits
    from backbearing.outing.kit import Kit
    from backbearing.workflows import first_answers, first_outing
    from backbearing.workflows.first_answers import NamedThing
    from backbearing.workflows.first_outing import FirstAnswers, Ground, KeptTiles
else:
    # The starter file is written without them.
    kits = Later("backbearing.outing.kit")
    first_answers = Later("backbearing.workflows.first_answers")
    first_outing = Later("backbearing.workflows.first_outing")

_T = TypeVar("_T")

NEEDED: Final = ("at", "height", "night", "lenses", "ground")
"""Options without which there is no outing."""

KEPT: Final = "kept"
"""What --ground takes for the tiles that `backbearing ground` keeps."""

USUAL_SIGMA_M: Final = 5.0


@dataclass(frozen=True, slots=True)
class NewAsked:
    """What the options say."""

    at: str | None
    name: str | None
    kind: str | None
    height: str | None
    width: str | None
    night: str | None
    lenses: str | None
    ground: str | None
    camera: str | None
    first: dt.datetime | None


class Asker:
    """Ask for what the options leave open.

    Parameters
    ----------
    asked : NewAsked
    folder : Path
        Where the outing will lie.
    terminal : bool
        Whether there is somebody to ask.

    Attributes
    ----------
    kind : str
        What the subject is, as an option or the answer says.
    """

    def __init__(self, asked: NewAsked, folder: Path, *, terminal: bool) -> None:
        missing = [f"--{key}" for key in NEEDED if getattr(asked, key) is None]
        if missing and not terminal:
            raise click.UsageError(
                f"{missing[0]} is missing, and there is no terminal to ask on; give "
                f"{', '.join(missing)}, or --starter for a long commented file."
            )
        self.asked, self.folder, self.terminal = asked, folder, terminal
        self.questions = len(missing)
        self.number = 0
        self.kind = first_answers.plain_words(asked.kind or "")[:LONGEST_NAME]
        self.kit: Kit | None = kits.load_kit() if kit_file().is_file() else None

    def answers(self) -> FirstAnswers:
        """Ask until everything is answered.

        Raises
        ------
        BackbearingError
            For an option that is wrong; a wrong answer is asked again.
        """
        asked = self.asked
        if self.questions:
            click.echo("Enter takes what stands in brackets. Ctrl-C leaves nothing behind.")
        camera = first_answers.read_camera(asked.camera, self.kit)
        typed, read = self._place()
        kept, near = self._near(read)
        subject = self._subject()
        night = self._asked(
            "night", "Which night? A date such as 2027-06-05, or", first_answers.read_night,
            f"best of {first_answers.USUAL_NIGHTS}",
        )  # fmt: skip
        lenses = self._asked(
            "lenses", "Which lenses? " + ("" if self.kit else "Such as 16, 24, 85"),
            lambda text: first_answers.read_lenses(text, self.kit), self._own_lenses(),
        )  # fmt: skip
        ground = self._ground(read, kept, near)
        if asked.camera is None and "use" not in camera and self.terminal:
            click.echo("Camera: 36 x 24 mm, 6000 pixels wide; change it under [camera].")
        doubtful = read.sigma_m > USUAL_SIGMA_M
        return first_outing.FirstAnswers(
            read.place, typed, subject, self.kind, night, lenses, camera, ground,
            read.sigma_m if doubtful else None,
        )  # fmt: skip

    def another_night(self, answers: FirstAnswers, problem: BackbearingError) -> FirstAnswers:
        """Ask for the night again, where none of those asked for is good."""
        self._say(str(problem))
        night = self._until("Which night?", first_answers.read_night, None)
        return replace(answers, night=night)

    def _place(self) -> tuple[str, PlaceRead]:
        def read(text: str) -> tuple[str, PlaceRead]:
            return text, read_place_fully(text)

        example = "31 30 00 S 148 12 00 E, decimal degrees, UTM, MGRS"
        typed, found = self._asked("at", f"Where does it stand? ({example})", read)
        notes = "".join(f"; {note}" for note in found.notes)
        if found.sigma_m > 0.0:
            notes += f"; by its own word good to {num(found.sigma_m, 0)} m"
        if self.terminal:
            self._say(f"   {spell_place(found.place)}{notes}")
        return typed, found

    def _subject(self) -> NamedThing:
        asked = self.asked
        if asked.height is None:
            question = "What is it, and how high in metres? (old mill, 9)"
            found = self._until(self._counted(question), first_answers.read_subject, None)
            # What it is chooses the shape that pictures draw.
            self.kind = self.kind or found.name
        else:
            height_m = first_answers.read_length_m(asked.height)
            found = first_answers.checked_subject(asked.name or "", height_m, None)
        width_m = found.width_m
        if asked.width is not None:
            width_m = first_answers.read_length_m(asked.width, "The width")
        return first_answers.checked_subject(asked.name or found.name, found.height_m, width_m)

    def _near(self, read: PlaceRead) -> tuple[KeptTiles | None, str | None]:
        """Look for ground on this computer: tiles that are kept, or a raster's path.

        Without any that is said at once, while one answer and not four is given.
        """
        kept = first_outing.kept_tiles(read.place)
        if self.asked.ground is not None or kept is not None:
            return kept, None
        near = first_outing.found_ground((Path.cwd(), self.folder), read.place)
        if near is not None:
            return None, near.name if near.parent == Path.cwd() else str(near)
        spelt = spell_place(read.place)
        self._say("   No elevation raster of it is here. How to get one:")
        self._say(f'   backbearing ground --at "{spelt}"')
        return None, None

    def _ground(self, read: PlaceRead, kept: KeptTiles | None, near: str | None) -> Ground:
        def opened(text: str) -> Ground:
            if kept is not None and text.strip().lower() == KEPT:
                return first_outing.opened_tiles(kept, read.place)
            path = Path(text.strip().strip("'\"")).expanduser()
            return first_outing.opened_ground(path, self.folder, read.place)

        question = "Which elevation raster? (a GeoTIFF that reaches the ridges)"
        if kept is not None:
            tiles = counted(len(kept.files), "tiles")
            question = f"Which elevation raster? ({KEPT}: {tiles} of {kept.source.title})"
        return self._asked("ground", question, opened, near if kept is None else KEPT)

    def _own_lenses(self) -> str | None:
        names = [] if self.kit is None else list(self.kit.lens)
        # A name with a comma in it could not be read back.
        return ", ".join(name for name in names[:8] if not set(name) & set(",;")) or None

    def _asked(
        self, key: str, question: str, read: Callable[[str], _T], default: str | None = None
    ) -> _T:
        """Take an option's word, or ask."""
        word = getattr(self.asked, key)
        if word is not None:
            return read(word)
        return self._until(self._counted(question), read, default)

    def _counted(self, question: str) -> str:
        self.number += 1
        return f"{self.number} of {self.questions}  {question.strip()}"

    def _until(self, question: str, read: Callable[[str], _T], default: str | None) -> _T:
        """Ask until the answer can be read; each time say what is wrong with it."""
        while True:
            words: Any = click.prompt(question, default=default or "", show_default=bool(default))
            try:
                return read(str(words))
            except BackbearingError as problem:
                self._say(f"   {problem}")

    def _say(self, text: str) -> None:
        click.echo(terminal_safe(text))
