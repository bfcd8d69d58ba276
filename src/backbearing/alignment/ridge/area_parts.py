"""An area swept part by part: by processes, over a cluster, stopped and taken up again."""

from __future__ import annotations

import hashlib
import io
import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, ClassVar, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation, scene_of
from backbearing.alignment.ridge.area_cells import AreaPart, Look
from backbearing.alignment.ridge.bearing_sweep import Layers
from backbearing.alignment.ridge.ground_ahead import GroundAhead, ground_groups, with_highest
from backbearing.alignment.ridge.over_cover import swept_of
from backbearing.base.files import write_file
from backbearing.cluster.kept import KeptFormat
from backbearing.cluster.question import digest_of, stamps_of
from backbearing.cluster.shared_work import shared_out

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.alignment.ridge.area_cells import Nodes
    from backbearing.alignment.ridge.bearing_sweep import Passes
    from backbearing.alignment.ridge.ground_ahead import GroundGroup
    from backbearing.alignment.stand.scene import Scene
    from backbearing.cluster.kept import Progress
    from backbearing.cluster.shared_work import Sharing
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import AreaCells
    from backbearing.terrain.elevation import Elevation

METHOD: Final = 1
"""Raised whenever the figures of a part change, so that no kept part of old is used."""

PARTS: Final = 9
"""Into about so many parts an area of ordinary size is cut, however it is shared."""

LEAST_SIDE, LARGEST_SIDE = 160, 2048
"""Cells along the side of a part. Ground ahead of a part is swept again for each that looks over
it: nine parts take about 2.2 times the work of all in one, 25 four times."""


def parts_of(cells: AreaCells) -> list[AreaPart]:
    """Cut an area into parts; by its size alone, so that a run goes on with other processes."""
    rows, cols = cells.shape
    side = math.ceil(math.sqrt(rows * cols / PARTS))
    side = min(max(side, LEAST_SIDE), LARGEST_SIDE)
    down, across = (
        np.linspace(0, n, 1 + math.ceil(n / side)).astype(int).tolist() for n in (rows, cols)
    )
    return [AreaPart(r0, r1, c0, c1) for r0, r1 in pairwise(down) for c0, c1 in pairwise(across)]


def over_the_tops(scene: Scene) -> Scene:
    """The scene over the tops of trees and buildings as one raster, for a sweep has one raster."""
    if scene.elevation is None:
        return scene
    return replace(scene, elevation=swept_of(scene.elevation))


def _save(layers: Layers, path: Path) -> None:
    held = io.BytesIO()
    np.savez_compressed(held, **layers._asdict())
    write_file(path, held.getvalue(), overwrite=True)


def _load(path: Path, size: int) -> Layers | None:
    try:
        with np.load(path, allow_pickle=False) as data:
            layers = Layers(**{name: data[name] for name in Layers._fields})
    except Exception:  # a damaged archive fails in every way there is
        return None
    whole = all(one.size == size and one.dtype == np.float32 for one in layers)
    return layers if whole else None


@dataclass(frozen=True)
class AreaJob:
    """What all parts of an area share.

    Attributes
    ----------
    outing : Outing
        For the ground; without measured marks.
    cells : AreaCells
    nodes : Nodes
    passes : Passes
    groups : tuple of GroundGroup
        The ground that each bearing is swept on, the same for all parts.
    question : mapping of str to str
    """

    outing: Outing
    cells: AreaCells
    nodes: Nodes
    passes: Passes
    groups: tuple[GroundGroup, ...]
    question: Mapping[str, str]

    what: ClassVar[str] = "cells"
    form: ClassVar[KeptFormat[Layers]] = KeptFormat("ridge", _save, _load)

    @classmethod
    def of(
        cls, outing: Outing, look: Look, cells: AreaCells, nodes: Nodes, passes: Passes
    ) -> AreaJob:
        """Settle on what ground the parts are swept, and what their answers hang on."""
        # No cloud is asked for, so no worker needs the file.
        outing = replace(outing, night=replace(outing.night, forecast=None))
        bearings = passes.bearings_deg
        groups = with_highest(ground_groups(cells, look, bearings), cells, look, bearings)
        return cls(outing, cells, nodes, passes, groups, _question(outing, look, cells, passes))

    @property
    def digest(self) -> str:
        """Of the question."""
        return digest_of(sorted(self.question.items()))

    def files(self) -> tuple[Path, ...]:
        """The raster's files, and those of the trees and buildings on it."""
        return _files(self.outing)

    def opened(self) -> Look:
        """Open the raster, with the tops of trees and buildings."""
        return Look.of(over_the_tops(scene_of(self.outing, open_elevation(self.outing))))

    def work(self, opened: Look, parcel: AreaPart) -> Layers:
        """Sweep a part's cells."""
        ground = GroundAhead(self.cells, opened, self.passes.bearings_deg, parcel, self.groups)
        return self.passes.over(ground, self.nodes, parcel)


def _files(outing: Outing) -> tuple[Path, ...]:
    return (*outing.ground.elevation, *outing.ground.cover.files)


def _question(outing: Outing, look: Look, cells: AreaCells, passes: Passes) -> dict[str, str]:
    return {
        "the method": digest_of(METHOD),
        "the subject": digest_of(outing.subject),
        "the target": digest_of(outing.target),
        "the night": digest_of(outing.night),
        "the target's way over the area": digest_of(*(_said(value) for value in passes.values())),
        "the eye, the air or the reach": digest_of(
            look.eye_height_m, look.refraction_k, look.reach_m
        ),
        "the area": digest_of(cells),
        "the raster or what stands on it": digest_of(
            outing.ground, stamps_of(_files(outing)), _heights(look.elevation)
        ),
    }


def _said(value: object) -> object:
    return value.tobytes() if isinstance(value, np.ndarray) else value


def _heights(elevation: Elevation) -> str:
    """Heights that lie in no file name themselves."""
    if elevation.in_pieces or elevation.source != "array":
        return ""
    return hashlib.sha256(np.ascontiguousarray(elevation.heights_m).tobytes()).hexdigest()


def swept_shared(job: AreaJob, look: Look, sharing: Sharing, progress: Progress | None) -> Layers:
    """Sweep an area part by part; each goes to its place as it comes home.

    Raises
    ------
    WriteRefusedError, BackbearingError
        As `shared_out`.
    """
    parts = parts_of(job.cells)
    sizes = [part.shape[0] * part.shape[1] for part in parts]
    if sharing.scheduler is None and sharing.processes > 1 and not look.elevation.in_pieces:
        # What is read and compiled here is not read and compiled by every child.
        job.work(look, AreaPart(0, 1, 0, 1))
    layers = Layers.empty(job.cells.shape)
    for number, found in shared_out(job, parts, sizes, sharing, opened=look, progress=progress):
        layers.put(parts[number], found)
    return layers
