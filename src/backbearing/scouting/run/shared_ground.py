"""The ground of a run, opened so that the workers of a machine unpack it once between them."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from backbearing.cluster.opened import let_go, opened_once
from backbearing.scouting.ranking.context import Context
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.shared_pieces import close_pieces, with_shared_pieces

if TYPE_CHECKING:
    from backbearing.cluster.dask_cluster import Cluster
    from backbearing.scouting.ranking.context import Standing
    from backbearing.scouting.ranking.task import ScoutTask


def opened_context(task: ScoutTask, digest: str, standing: Standing) -> Context:
    """On a worker: what a task reads, opened at the first parcel and shared with the others.

    What stands about is the first parcel's: put that of each parcel in its place.
    """

    def opener() -> Context:
        return Context.opened(task, standing, with_shared_pieces(bare_of(task.ground.open())))

    return opened_once(digest, opener)


def close_ground(digest: str, *, remove: bool) -> None:
    """On a worker: let go of what `opened_context` opened, and remove the shared pieces.

    They stay where another process has them open, whose turn it is then.
    """
    context = let_go(digest)
    if isinstance(context, Context):
        close_pieces(context.elevation, remove=remove)


def close_ground_everywhere(cluster: Cluster, digest: str, *, remove: bool) -> None:
    """Have every worker let go of the ground; one that is lost has done so already."""
    # Whatever has come home counts, also when a worker does not answer any more.
    with suppress(Exception):
        cluster.client.run(close_ground, digest, remove=remove)
