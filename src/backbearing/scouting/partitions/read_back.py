"""A folder of ranked parts read back as a ranking: the first ones, a page, a province."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.base.errors import NothingFoundError
from backbearing.plan.ranking import Ranking
from backbearing.scouting.partitions.merged import find
from backbearing.scouting.partitions.ranked_folder import open_ranked

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.scouting.partitions.merged import Wanted
    from backbearing.scouting.partitions.ranked_folder import RankedFolder


@dataclass(frozen=True, eq=False)
class ReadBack:
    """Part of a ranking, and how far the whole is.

    Attributes
    ----------
    folder : RankedFolder
    ranking : Ranking
        The rows that were wanted, with their ranks among all that have come home.
    parcels, done, ranked : int
        Parcels and candidates that have come home, and those of them that have a rank.
    """

    folder: RankedFolder
    ranking: Ranking
    parcels: int
    done: int
    ranked: int


def read_ranked(folder: Path, wanted: Wanted) -> ReadBack:
    """Read part of the ranking in a folder; no more than that part is held.

    Raises
    ------
    OutingError
        When the folder holds no ranking in parts.
    NothingFoundError
        When no parcel has come home yet.
    DamagedPartError
        For a file that is not what was written.
    BackbearingError
        When pyarrow is not installed.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``, into a folder of its own:

    >>> import tempfile
    >>> from pathlib import Path
    >>> from backbearing import load_outing
    >>> from backbearing.scouting import Sharing, Wanted, read_ranked, scout_into
    >>> outing, things = load_outing(sample / "outing.toml"), sample / "lone_things.csv"
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = scout_into(outing, things, Path(folder), nights=3, sharing=Sharing(processes=1))
    ...     back = read_ranked(Path(folder), Wanted(top=2))
    >>> back.done, back.ranking.frame["rank"].tolist()
    (39, [1, 2])
    """
    made = open_ranked(folder)
    files = made.files()
    found = find(files, wanted)
    if found is None:
        raise NothingFoundError(
            f"No parcel of {folder} has come home yet",
            hint="go on with backbearing scout --into, as it was begun",
        )
    asked = made.asked
    ranking = Ranking(
        frame=found.frame,
        minutes=found.minutes.reshape(len(found.frame), asked.nights, 1),
        first_night=asked.first_night,
        nights=asked.nights,
        lenses_mm=asked.lenses_mm,
        lens_names=asked.lens_names,
        zone=asked.zone,
        weights=asked.weights,
        rejected=made.rejected,
        notes=made.notes,
        asked=asked.limits,
    )
    return ReadBack(made, ranking, len(files), found.done, found.ranked)
