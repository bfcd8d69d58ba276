"""A ranking in a folder: what was asked, and a file for each parcel that has come home.

``ranking.json`` says what was asked and is written before the first parcel is sent;
``candidates/`` is the parts folder that the parcels were cut from; ``ranked/`` holds one
GeoParquet file a parcel, each written at once. What is there is good, however the run ended.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass, field, fields
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError
from backbearing.base.files import made_folder, write_file
from backbearing.base.plain import plain
from backbearing.outing.scouting_request import Weights
from backbearing.plan.ranking import RankingAsked, Rejected
from backbearing.scouting.partitions.candidate_parts import MOST_TOLD
from backbearing.scouting.partitions.geoparquet import damaged, opened

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.base.units import UnitsName
    from backbearing.scouting.partitions.cut import ParcelName

FORMAT: Final = "backbearing-ranking-parts"
VERSION: Final = 1
INDEX: Final = "ranking.json"
CANDIDATES: Final = "candidates"
RANKED: Final = "ranked"


@dataclass(frozen=True)
class SpanAsked:
    """Over which nights, with which lenses, and how it was weighed.

    Attributes
    ----------
    first_night : date
    nights : int
    zone : str
    lenses_mm : tuple of float
    lens_names : tuple of str
    weights : Weights
    limits : RankingAsked
        What else the numbers were asked for.
    """

    first_night: dt.date
    nights: int
    zone: str
    lenses_mm: tuple[float, ...]
    lens_names: tuple[str, ...]
    weights: Weights
    limits: RankingAsked = field(default=RankingAsked())


@dataclass(frozen=True)
class RankedFolder:
    """A folder of a ranking.

    Attributes
    ----------
    folder : Path
    digest : str
        Of the outing, what it reads, the candidates, and how they are cut into parcels.
    outing : str
        Where the outing file was.
    units : str
        In which its reader reads lengths.
    asked : SpanAsked
    candidates, parcels : int
        How many there are to do.
    notes : tuple of str
        For the ranking.
    rejected : tuple of Rejected
        The first 1,000 rows of the file that were left out.
    rejected_count : int
        All of them.
    """

    folder: Path
    digest: str
    outing: str
    units: UnitsName
    asked: SpanAsked
    candidates: int
    parcels: int
    notes: tuple[str, ...]
    rejected: tuple[Rejected, ...]
    rejected_count: int

    def path_of(self, parcel: str) -> Path:
        """Where the answer to a parcel of this name is kept."""
        return self.folder / RANKED / f"{self._prefix}{parcel}.parquet"

    @property
    def _prefix(self) -> str:
        return f"{self.digest[:12]}-"

    def files(self) -> list[Path]:
        """Answers that have come home, by name."""
        found = (self.folder / RANKED).glob(f"{self._prefix}*.parquet")
        return sorted(found)

    def is_whole(self, name: ParcelName) -> bool:
        """Whether a parcel's answer is there, readable to its end, with all its rows.

        Raises
        ------
        DamagedPartError
            When it is there and is not what was written.
        """
        path = self.path_of(name.text)
        if not path.is_file():
            return False
        with opened(path) as file:
            if file.metadata.num_rows != name.count:
                raise damaged(path, "it holds other rows than its parcel")
        return True


def begin(made: RankedFolder) -> RankedFolder:
    """Write ``ranking.json``, or go on with the one that is there if it asks the same.

    Raises
    ------
    OutingError
        When the folder holds another ranking.
    WriteRefusedError
        When the disk refuses.
    """
    folder = made.folder
    if (folder / INDEX).exists():
        there = open_ranked(folder)
        if there.digest != made.digest:
            raise other_ranking(folder)
    made_folder(folder / RANKED)
    document = {
        "format": FORMAT,
        "version": VERSION,
        **{key: value for key, value in asdict(made).items() if key not in ("folder", "asked")},
        **asdict(made.asked),
        "first_night": made.asked.first_night.isoformat(),
        "limits": plain(made.asked.limits),
        "rejected": [asdict(one) for one in made.rejected[:MOST_TOLD]],
    }
    text = json.dumps(document, ensure_ascii=True, indent=1)
    write_file(folder / INDEX, f"{text}\n", overwrite=True)
    return made


def other_ranking(folder: Path) -> OutingError:
    """Refuse a folder whose ranking was asked otherwise."""
    return OutingError(
        f"{folder} holds a ranking of another outing, other candidates, nights or chunks",
        hint="name an empty folder, or ask for what was asked there",
        folder=str(folder),
    )


def open_ranked(folder: Path) -> RankedFolder:
    """Open the folder of a ranking; of its files only ``ranking.json`` is read.

    Raises
    ------
    OutingError
        When there is none.
    DamagedPartError
        When ``ranking.json`` is not what was written.
    """
    path = folder / INDEX
    if not path.is_file():
        raise OutingError(
            f"{folder} holds no ranking in parts",
            hint="make one with backbearing scout --into FOLDER",
            folder=str(folder),
        )
    try:
        found: Any = json.loads(path.read_text(encoding="utf-8"))
        if (found["format"], found["version"]) != (FORMAT, VERSION):
            raise damaged(path, "it is of another format or version")
        return RankedFolder(
            folder,
            _plain_word(found["digest"]),
            str(found["outing"]),
            "imperial" if found["units"] == "imperial" else "metric",
            SpanAsked(
                dt.date.fromisoformat(found["first_night"]),
                int(found["nights"]),
                str(found["zone"]),
                tuple(map(float, found["lenses_mm"])),
                tuple(map(str, found["lens_names"])),
                Weights(**found["weights"]),
                _limits(found.get("limits") or {}),
            ),
            int(found["candidates"]),
            int(found["parcels"]),
            tuple(map(str, found["notes"])),
            tuple(Rejected(int(one["row"]), str(one["reason"])) for one in found["rejected"]),
            int(found["rejected_count"]),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OutingError) as problem:
        raise damaged(path, problem) from problem


def _limits(told: dict[str, Any]) -> RankingAsked:
    """What was asked, as it was written; unknown where it says nothing of it."""
    named = [one.name for one in fields(RankingAsked)]
    return RankingAsked(**{key: told[key] for key in named if told.get(key) is not None})


def _plain_word(text: Any) -> str:
    if not (isinstance(text, str) and text.isalnum() and len(text) >= 12):
        raise ValueError("its digest is no word")
    return text
