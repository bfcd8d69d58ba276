"""Candidates as columns, and the rows that were refused."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base.notebook import table_html
from backbearing.base.numbers import counted

if TYPE_CHECKING:
    import geopandas

    from backbearing.plan.ranking import Rejected


COLUMNS: Final = (
    *("id", "name", "kind", "height_m", "width_m", "height_is_guess", "width_is_guess"),
    *("access", "note"),
)
"""Columns of both frames, before the geometry."""


@dataclass(frozen=True, eq=False)
class Candidates:
    """Possible subjects, and what else stands about them.

    Attributes
    ----------
    frame : geopandas.GeoDataFrame
        Points in EPSG:4326, index 0 to n - 1, with the columns ``id`` (``row 12``,
        ``node 123``), ``name``, ``kind`` (one of ``KINDS``, or ``other``), ``height_m`` and
        ``width_m`` in metres, ``height_is_guess`` and ``width_is_guess``, ``access`` (open,
        ask first, closed or unknown) and ``note``.
    others : geopandas.GeoDataFrame
        The same columns for whatever is no candidate itself and can clutter a frame.
    rejected : tuple of Rejected
        Rows left out, or joined with another, in the order of the file.
    source : str
        The file's name.
    notes : tuple of str
        What was settled for the whole file, in sentences.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import read_candidates
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> first = candidates.frame.iloc[0]
    >>> f"{first['name']}: a {first['kind']} of {first['height_m']:.1f} m"
    'Hollin oak: a tree of 7.7 m'
    """

    frame: geopandas.GeoDataFrame
    others: geopandas.GeoDataFrame
    rejected: tuple[Rejected, ...]
    source: str
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.frame)

    def _repr_html_(self) -> str:
        """Show the first rows as a table, for a notebook."""
        names = ["id", "name", "kind", "height_m", "width_m", "access"]
        rows = self.frame[names].head(10).to_numpy().tolist()
        said = f"{counted(len(self), 'candidates')} from {self.source}, "
        said += f"{counted(len(self.others), 'things')} beside them."
        heads = [name.removesuffix("_m") for name in names]
        return table_html(said, heads, rows, [*(r.reason for r in self.rejected), *self.notes])
