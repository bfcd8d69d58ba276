"""What every chunk of a task shares: the ground, the nights, and everything that stands."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.stand.cover_seen import crown_radius_m
from backbearing.base.geodesy import sphere_xyz_m
from backbearing.scouting.ranking.dark_times import dark_times, night_clock
from backbearing.scouting.ranking.raster_window import HELD_CELLS
from backbearing.scouting.site.site import SiteData
from backbearing.terrain.cover.covered_elevation import CoveredElevation, covered_of

if TYPE_CHECKING:
    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.dark_times import DarkTimes, NightClock
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """All that stands on the land, candidates first; arrays of shape (f,).

    Attributes
    ----------
    lat, lon, height_m, width_m : ndarray
    kind : ndarray of str
    tree : scipy.spatial.cKDTree
        On the sphere, in metres.
    """

    lat: Floats
    lon: Floats
    height_m: Floats
    width_m: Floats
    kind: NDArray[np.str_]
    tree: Any

    @classmethod
    def of(cls, candidates: Candidates) -> Standing:
        """Gather candidates and whatever else the file holds."""
        import pandas as pd

        keep = ["height_m", "width_m", "kind", "geometry"]
        both = [f[keep] for f in (candidates.frame, candidates.others) if len(f)]
        if not both:
            return cls.from_frame(candidates.frame)
        return cls.from_frame(pd.concat(both, ignore_index=True) if len(both) > 1 else both[0])

    @classmethod
    def from_frame(cls, frame: geopandas.GeoDataFrame) -> Standing:
        """Gather the rows of one frame."""
        from scipy.spatial import cKDTree

        lat = np.asarray(frame.geometry.y, dtype=np.float64)
        lon = np.asarray(frame.geometry.x, dtype=np.float64)
        return cls(
            lat=lat,
            lon=lon,
            height_m=np.asarray(frame["height_m"], dtype=np.float64),
            width_m=np.asarray(frame["width_m"], dtype=np.float64),
            kind=_texts(frame["kind"]),
            tree=cKDTree(sphere_xyz_m(lat=lat, lon=lon)),
        )

    def part(self, rows: NDArray[np.intp]) -> Standing:
        """Keep some of the things, in the order given."""
        from scipy.spatial import cKDTree

        return Standing(
            self.lat[rows],
            self.lon[rows],
            self.height_m[rows],
            self.width_m[rows],
            self.kind[rows],
            cKDTree(self.tree.data[rows]),
        )


def _without_the_things(elevation: Elevation, standing: Standing) -> Elevation:
    """The raster, its cover taken off about all that stands: a candidate is no wood of its own."""
    covered = covered_of(elevation)
    if covered is None:
        return elevation
    return CoveredElevation.of(covered.bare, covered.stack, NEAR_CELL_M).clear_about(
        lat=standing.lat,
        lon=standing.lon,
        radius_m=crown_radius_m(standing.height_m, standing.width_m),
    )


def _texts(column: Any) -> NDArray[np.str_]:
    return np.array(["" if value is None else str(value) for value in column], dtype=np.str_)


NEAR_CELL_M: Final = 6.0
"""No finer is cover near a stand looked at: candidates lie far and wide, and the cover about all
of them is read from the file."""


@dataclass
class Context:
    """What a process needs to rank chunks of one task; made once and kept.

    Attributes
    ----------
    elevation : Elevation
    clock : NightClock
    standing : Standing
        What can clutter a frame.
    site : SiteData
        Ways, land, towns and the sky's brightness, as far as there are files of them.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, read_candidates
    >>> from backbearing.scouting import Context, task_of
    >>> task = task_of(load_outing(sample / "outing.toml"), lat=36.35, lon=-84.13, nights=3)
    >>> context = Context.of(task, read_candidates(sample / "lone_things.csv"))
    >>> f"{context.elevation.cell_size_m:.0f} m a cell"
    '84 m a cell'
    """

    task: ScoutTask
    elevation: Elevation
    clock: NightClock
    standing: Standing
    site: SiteData
    _cells: dict[tuple[int, int], DarkTimes] = field(default_factory=dict)

    @classmethod
    def of(
        cls, task: ScoutTask, candidates: Candidates, elevation: Elevation | None = None
    ) -> Context:
        """Open what a task reads, with all that the candidates' file holds standing about.

        Raises
        ------
        BackbearingError
            For files that cannot be read.
        """
        return cls.opened(task, Standing.of(candidates), elevation)

    @classmethod
    def opened(
        cls, task: ScoutTask, standing: Standing, elevation: Elevation | None = None
    ) -> Context:
        """Open what a task reads, with what stands about given."""
        elevation = task.ground.open() if elevation is None else elevation
        return cls(
            task,
            _without_the_things(elevation, standing),
            night_clock(task),
            standing,
            SiteData.of(task),
        )

    def among(self, standing: Standing) -> Context:
        """The same with other things about; the ground stays open."""
        ground = _without_the_things(self.elevation, standing)
        return replace(self, elevation=ground, standing=standing)

    def dark_times(self, row: int, col: int) -> DarkTimes:
        """Dark times of one cell of the lattice, remembered."""
        key = (row, col)
        if key not in self._cells:
            self._cells[key] = dark_times(self.task, row=row, col=col)
        return self._cells[key]

    def warm(self) -> None:
        """Read what forked children are to share: the raster, where it is held whole."""
        from backbearing.scouting.ranking import _drop_kernels, _minute_kernels  # noqa: F401

        rows, cols = self.elevation.shape
        if rows * cols <= HELD_CELLS:
            _ = self.elevation.heights_m
            covered = covered_of(self.elevation)
            if covered is not None:
                _ = covered.tops.heights_m
