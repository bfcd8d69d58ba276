"""From rough rows to candidates: checked, filled with usual sizes, doubles joined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, get_args

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.numbers import num
from backbearing.plan.place import Access
from backbearing.plan.ranking import Rejected
from backbearing.scouting.reading.candidate_table import COLUMNS, Candidates
from backbearing.scouting.reading.duplicates import doubles
from backbearing.scouting.reading.kinds import KINDS, OTHER, Kind, kind_named
from backbearing.tables.cleaned import LONGEST_NAME, check_places, clean
from backbearing.tables.raw_table import counted

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    from backbearing.tables.raw_table import Notes, Rough

    Floats = NDArray[np.float64]

ACCESSES: Final[tuple[str, ...]] = get_args(Access)
ROLES: Final = ("candidate", "clutter")

LEAST_SIZE_M, MOST_SIZE_M = 0.05, 2_000.0
"""Sizes that a thing in the frame can have, metres; beyond them a unit is wrong."""

LONGEST_NOTE: Final = 1_000


@dataclass(frozen=True)
class Checked:
    """Rows by themselves, before doubles are joined: arrays and lists of equal length.

    Attributes
    ----------
    rough : Rough
        With sizes filled, faults noted.
    kinds : list of Kind
    access : list of str
    clutter : ndarray of bool
        What only stands in the way.
    by_kind : ndarray of bool
        Those of them that the file does not call so: their kind does.
    """

    rough: Rough
    kinds: list[Kind]
    access: list[str]
    clutter: NDArray[np.bool_]
    by_kind: NDArray[np.bool_]

    @property
    def kept(self) -> NDArray[np.bool_]:
        """Rows without a fault."""
        kept = np.ones(len(self.rough), dtype=np.bool_)
        kept[list(self.rough.faults)] = False
        return kept

    @property
    def groups(self) -> NDArray[Any]:
        """What must be alike for two rows to be one thing."""
        kind_names = np.array([kind.name for kind in self.kinds], dtype=object)
        return np.asarray(np.where(self.clutter, "~", "") + kind_names)


def check_rows(rough: Rough) -> Checked:
    """Check rows each by itself, and fill in the usual sizes of what they are."""
    kinds = _kinds(rough)
    access = _words(rough, rough.access, "access", ACCESSES, "unknown")
    role = _words(rough, rough.role, "role", ROLES, "")
    check_places(rough.lat, rough.lon, rough.faults)
    _fill_sizes(rough, kinds)
    by_kind = np.array([not kind.lone for kind in kinds], dtype=np.bool_)
    said = np.array([bool(word) for word in role], dtype=np.bool_)
    clutter = np.where(said, np.array([word == "clutter" for word in role]), by_kind)
    return Checked(rough, kinds, access, np.asarray(clutter, dtype=np.bool_), by_kind & ~said)


def settle(rough: Rough, file: Path) -> Candidates:
    """Check rough rows and make candidates of those that pass.

    Raises
    ------
    OutingError
        When the file holds no row at all.
    """
    if not len(rough):
        raise nothing_in(file)
    rows = check_rows(rough)
    kept, clutter = rows.kept, rows.clutter
    double_of = doubles(lat=rough.lat, lon=rough.lon, group=rows.groups, among=kept)
    _join(rough, double_of)
    for i in double_of:
        kept[i] = False
    columns = _columns(rough, rows.kinds, rows.access)
    names = {rows.kinds[i].plural for i in np.flatnonzero(rows.by_kind)}
    return Candidates(
        frame=_frame(rough, columns, kept & ~clutter),
        others=_frame(rough, columns, kept & clutter),
        rejected=_rejected(rough, double_of),
        source=file.name,
        notes=notes_of_file(rough.notes, int(rows.by_kind.sum()), names),
    )


def notes_of_file(notes: Notes, by_kind: int, kinds: Iterable[str]) -> tuple[str, ...]:
    """Say what was settled for a whole file.

    Parameters
    ----------
    notes : Notes
        What its reader has to say.
    by_kind : int
        Rows that count as clutter by their kind alone.
    kinds : iterable of str
        Those kinds, in the plural.
    """
    said, drawn = list(notes.said), notes.drawn
    if drawn:
        said.insert(
            0,
            f"{counted(drawn, 'line or area stands', 'lines and areas stand')} at a point on it, "
            "as wide as it is in the mean of all directions where no width_m is given.",
        )
    if by_kind:
        one, many = "row counts as clutter by its kind", "rows count as clutter by their kind"
        said.append(
            f"{counted(by_kind, one, many)} ({', '.join(sorted(kinds))}); give "
            f"{'it' if by_kind == 1 else 'one'} the role candidate to have it ranked."
        )
    return tuple(said)


def nothing_in(file: Path) -> OutingError:
    """Refuse a file without a row; of an extract only things of known kinds become rows."""
    if file.name.lower().endswith(".osm.pbf"):
        return OutingError(
            f"{file.name} holds no place that can be a candidate",
            hint=(
                "see the kinds that are known: "
                f"{', '.join(name for name, kind in KINDS.items() if kind.lone)}"
            ),
            file=str(file),
        )
    return OutingError(
        f"{file.name} holds no place that can be a candidate: it is empty",
        hint="write a row or feature for each place that may be worth the drive",
        file=str(file),
    )


def _rejected(rough: Rough, double_of: dict[int, tuple[int, float]]) -> tuple[Rejected, ...]:
    """Say of every row that is left out why, in the order of the file."""
    reasons = dict(rough.faults)
    for i, (first, metres) in double_of.items():
        reasons[i] = said_of_double(rough.ids[first], metres)
    return tuple(rejected(rough.number[i], rough.ids[i], reasons[i]) for i in sorted(reasons))


def said_of_double(first: str, metres: float) -> str:
    """Why a row was joined with the one of this id."""
    return f"the same kind in the same place as {first}, {num(metres, 1)} m off; joined with it"


def rejected(number: int, row: str, reason: str) -> Rejected:
    """Tell people of a row that is left out."""
    return Rejected(number, f"{row[:1].upper()}{row[1:]}: {reason}.")


def _kinds(rough: Rough) -> list[Kind]:
    known: dict[str, Kind] = {}
    out = []
    for i, word in enumerate(rough.kind):
        kind = known.get(word)
        if kind is None:
            kind = known[word] = kind_named(word) or OTHER
        if kind is OTHER and word and not rough.note[i]:
            rough.note[i] = f"of kind {word}" if word.casefold() != "other" else ""
        out.append(kind)
    return out


def _words(
    rough: Rough, values: list[str], column: str, known: tuple[str, ...], default: str
) -> list[str]:
    out = []
    for i, value in enumerate(values):
        word = " ".join(value.casefold().replace("_", " ").split())
        if word and word not in known:
            rough.faults.setdefault(
                i, f"{column} is {clean(word, 40)!r}; write one of {', '.join(known)}"
            )
        out.append(word or default)
    return out


def _fill_sizes(rough: Rough, kinds: list[Kind]) -> None:
    """Refuse sizes that nothing has; give the kind's usual ones where the file is silent."""
    for key in ("height_m", "width_m"):
        size = getattr(rough, key)
        with np.errstate(invalid="ignore"):
            odd = (size < LEAST_SIZE_M) | (size > MOST_SIZE_M)
        for i in np.flatnonzero(odd):
            rough.faults.setdefault(
                int(i),
                f"{key} is {num(size[i])}; write metres from {num(LEAST_SIZE_M)} to "
                f"{int(MOST_SIZE_M):,}, or leave it blank",
            )
        silent = np.isnan(size)
        usual = np.array([getattr(kind, key) for kind in kinds])
        if key == "width_m":
            # Proportions outlast a known height better than a usual width does.
            known = ~rough.height_is_guess & ~silent_height(rough)
            tall = np.array([kind.height_m for kind in kinds])
            usual = np.where(known, usual * rough.height_m / tall, usual)
            usual = np.clip(usual, LEAST_SIZE_M, MOST_SIZE_M)
        setattr(rough, key, np.where(silent, usual, size))
        guess = getattr(rough, key.replace("_m", "_is_guess"))
        guess |= silent


def silent_height(rough: Rough) -> NDArray[np.bool_]:
    """Whether a row's height is still unknown."""
    return np.isnan(rough.height_m)


def _join(rough: Rough, double_of: dict[int, tuple[int, float]]) -> None:
    """Let the first of a pair take what only the second knows."""
    for i, (first, _) in double_of.items():
        for key, mark in (("height_m", "height_is_guess"), ("width_m", "width_is_guess")):
            if getattr(rough, mark)[first] and not getattr(rough, mark)[i]:
                getattr(rough, key)[first] = getattr(rough, key)[i]
                getattr(rough, mark)[first] = False
        rough.name[first] = rough.name[first] or rough.name[i]


def shown_name(name: str, kind: str, row: str) -> str:
    """Give a thing's clean name, or else its kind and row."""
    return clean(name, LONGEST_NAME) or f"{kind if kind != OTHER.name else 'place'}, {row}"


def _columns(rough: Rough, kinds: list[Kind], access: list[str]) -> dict[str, Any]:
    named = zip(rough.name, kinds, rough.ids, strict=True)
    names = [shown_name(name, kind.name, row) for name, kind, row in named]
    return {
        "id": rough.ids,
        "name": names,
        "kind": [kind.name for kind in kinds],
        "height_m": rough.height_m,
        "width_m": rough.width_m,
        "height_is_guess": rough.height_is_guess,
        "width_is_guess": rough.width_is_guess,
        "access": access,
        "note": [clean(note, LONGEST_NOTE) for note in rough.note],
    }


def _frame(
    rough: Rough, columns: dict[str, Any], chosen: NDArray[np.bool_]
) -> geopandas.GeoDataFrame:
    import geopandas
    import pandas as pd

    table = pd.DataFrame({key: columns[key] for key in COLUMNS})[chosen].reset_index(drop=True)
    points = geopandas.points_from_xy(rough.lon[chosen], rough.lat[chosen])
    return geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")
