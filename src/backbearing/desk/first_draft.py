"""What was answered on the empty sheet so far, and what each answer is understood as.

The answers lie in a small file of the folder until the outing is made of them, so that a desk which
is killed midway goes on where it was.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.files import write_file
from backbearing.base.limits import LONGEST_NAME, shown
from backbearing.base.numbers import counted, num
from backbearing.base.place_notation import read_place_fully, spell_place
from backbearing.desk.answering import without_folders
from backbearing.desk.folder import file_named, free_place
from backbearing.outing.kit import load_kit
from backbearing.outing.kit_place import kit_file
from backbearing.outing.silhouettes import shape_note
from backbearing.outing.subject import Subject
from backbearing.workflows.first_answers import (
    USUAL_CAMERA,
    BestOf,
    checked_subject,
    plain_words,
    read_camera,
    read_length_m,
    read_lenses,
    read_night,
)
from backbearing.workflows.first_outing import (
    RASTERS,
    FirstAnswers,
    kept_tiles,
    opened_ground,
    opened_tiles,
    settled,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.base.place_notation import PlaceRead
    from backbearing.outing.kit import Kit
    from backbearing.workflows.first_answers import NamedThing
    from backbearing.workflows.first_outing import Ground

DRAFT_NAME: Final = ".desk-first.json"
DRAFT_BYTES: Final = 20_000
KEPT: Final = "kept"
"""What the ground is called that `backbearing ground` keeps on this computer."""

USUAL_SIGMA_M: Final = 5.0
"""A place known no better than this says so in the outing."""


@dataclass(frozen=True, slots=True)
class FirstDraft:
    """The answers as typed; the ground is the name of a raster of the folder, or `KEPT`."""

    ground: str = ""
    within_km: str = ""
    place: str = ""
    name: str = ""
    kind: str = ""
    height: str = ""
    width: str = ""
    night: str = ""
    lenses: str = ""
    camera: str = ""

    @classmethod
    def of(cls, asked: Any) -> FirstDraft:
        """Take a page's answers.

        Raises
        ------
        OutingError
            For what is no set of short texts.
        """
        known = {one.name for one in fields(cls)}
        if not isinstance(asked, dict) or not all(
            key in known and isinstance(value, str) and len(value) <= 2_000
            for key, value in asked.items()
        ):
            raise OutingError("The answers are not what the page asks", hint="load the page again")
        return cls(**asked)


def kept_draft(folder: Path) -> FirstDraft:
    """Read the answers that a folder holds; none where it holds none."""
    file = folder / DRAFT_NAME
    try:
        if file.is_symlink() or file.stat().st_size > DRAFT_BYTES:
            return FirstDraft()
        return FirstDraft.of(json.loads(file.read_text(encoding="utf-8")))
    except (OSError, ValueError, RecursionError, OutingError):
        return FirstDraft()


def keep_draft(folder: Path, draft: FirstDraft) -> None:
    """Keep the answers in the folder, unless nothing is typed yet; raises as `write_file` does."""
    if draft == FirstDraft(ground=draft.ground):
        forget_draft(folder)
        return
    if draft == kept_draft(folder):
        return
    write_file(folder / DRAFT_NAME, json.dumps(asdict(draft), indent=1), overwrite=True)


def forget_draft(folder: Path) -> None:
    """Take the answers away once an outing is made of them."""
    (folder / DRAFT_NAME).unlink(missing_ok=True)


def own_kit() -> Kit | None:
    """Give the user's kit; None where there is none."""
    return load_kit() if kit_file().is_file() else None


class Understood:
    """What the answers are understood as; each part raises one sentence where it is not.

    Parameters
    ----------
    draft : FirstDraft
    folder : Path
        Where the raster lies, and where the outing will.
    """

    def __init__(self, draft: FirstDraft, folder: Path) -> None:
        self.draft, self.folder = draft, folder

    def place(self) -> PlaceRead:
        """Where the subject stands."""
        return read_place_fully(self.draft.place)

    def ground(self, read: PlaceRead) -> Ground:
        """The ground chosen, held to the place."""
        named = self.draft.ground
        if not named:
            raise OutingError("No ground is chosen", hint="choose or bring some")
        if named == KEPT:
            tiles = kept_tiles(read.place)
            if tiles is None:
                raise OutingError(
                    "No ground about that place is kept on this computer", hint="bring it first"
                )
            return opened_tiles(tiles, read.place)
        return opened_ground(file_named(self.folder, named, RASTERS), self.folder, read.place)

    def subject(self) -> NamedThing:
        """What stands there, and how large."""
        draft = self.draft
        if not draft.height.strip():
            raise OutingError("The height is not said", hint='write metres such as "9", or "30 ft"')
        width = draft.width.strip()
        width_m = read_length_m(width, "The width") if width else None
        return checked_subject(draft.name, read_length_m(draft.height), width_m)

    def kind(self) -> str:
        """What it is, for people and for the shape that pictures draw."""
        return plain_words(self.draft.kind or self.draft.name)[:LONGEST_NAME]

    def night(self) -> dt.date | BestOf:
        """The evening, or that it is to be chosen."""
        return read_night(self.draft.night.strip() or "best")

    def answers(self) -> FirstAnswers:
        """Everything together."""
        read, kit = self.place(), own_kit()
        return FirstAnswers(
            place=read.place,
            typed=self.draft.place,
            subject=self.subject(),
            kind=self.kind(),
            night=self.night(),
            lenses=read_lenses(self.draft.lenses, kit),
            camera=read_camera(self.draft.camera, kit),
            ground=self.ground(read),
            position_sigma_m=read.sigma_m if read.sigma_m > USUAL_SIGMA_M else None,
        )

    def said(self) -> dict[str, dict[str, Any]]:
        """One sentence for each answer: what it is taken for, or what to write instead."""
        parts: dict[str, Callable[[], str]] = {
            "place": self._place_said, "ground": self._ground_said, "subject": self._subject_said,
            "lenses": self._lenses_said, "camera": self._camera_said, "night": self._night_said,
        }  # fmt: skip
        found: dict[str, dict[str, Any]] = {}
        for name, say in parts.items():
            try:
                found[name] = {"ok": True, "says": say()}
            except BackbearingError as problem:
                found[name] = {"ok": False, "says": without_folders(str(problem))}
        return found

    def _place_said(self) -> str:
        read = self.place()
        notes = "".join(f"; {note}" for note in read.notes)
        if read.sigma_m > 0.0:
            notes += f"; by its own word good to {num(read.sigma_m, 0)} m"
        return f"{spell_place(read.place)}{notes}."

    def _ground_said(self) -> str:
        if not self.draft.ground:
            raise OutingError("No ground is chosen", hint="choose or bring some")
        try:
            read = self.place()
        except BackbearingError:
            return "Chosen. Whether it holds the subject is seen once its place is known."
        ground = self.ground(read)
        height = float(ground.elevation.height_at(lat=read.place.lat_deg, lon=read.place.lon_deg))
        return f"It holds the subject; the ground there stands {num(height, 0)} m high."

    def _subject_said(self) -> str:
        thing = self.subject()
        subject = Subject(
            lat=0.0, lon=0.0, height_m=thing.height_m, width_m=thing.width_m, name=thing.name,
            kind=self.kind(),
        )  # fmt: skip
        note = shape_note(subject)
        return f"{thing.name}, {num(thing.height_m, 1)} m high; {note}."

    def _lenses_said(self) -> str:
        found = read_lenses(self.draft.lenses, own_kit())
        return f"{counted(len(found), 'lenses', 'lens')}."

    def _camera_said(self) -> str:
        found = read_camera(self.draft.camera, own_kit())
        if dict(found) == USUAL_CAMERA:
            return "Taken as 36 x 24 mm and 6000 pixels wide, since none is named."
        if "use" in found:
            return f"{shown(found['use'])} of your kit."
        return "Understood."

    def _night_said(self) -> str:
        night = self.night()
        if isinstance(night, BestOf):
            return f"The best of the next {night.nights} nights, chosen when the outing is made."
        return f"The night that begins on {night:%d %B %Y}."


def made(draft: FirstDraft, folder: Path) -> Path:
    """Write the outing that the answers make, over no other file, and forget the answers.

    Raises
    ------
    BackbearingError
        For what is not understood, or a season without a night.
    """
    answers = Understood(draft, folder).answers()
    file = free_place(folder, "outing.toml")
    tonight = dt.datetime.now().astimezone().date()
    text, _, _ = settled(answers, file, tonight)
    write_file(file, text)
    forget_draft(folder)
    return file
