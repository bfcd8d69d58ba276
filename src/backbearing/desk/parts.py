"""What the parts of the desk may use of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.desk.online_tiles import OnlineTiles
    from backbearing.desk.outing_on_disk import OutingOnDisk
    from backbearing.desk.work import Work
    from backbearing.terrain.elevation import Elevation


class DeskParts(Protocol):
    """A run of the desk, as its parts see it.

    Attributes
    ----------
    work : Work
        For what takes long.
    at_close : list of callable
        Called when the desk is closed.
    online : OnlineTiles or None
        Tiles that the user allowed when the desk was started.
    """

    work: Work
    at_close: list[Callable[[], None]]
    online: OnlineTiles | None

    @property
    def outing(self) -> OutingOnDisk:
        """The outing that is open."""

    @property
    def elevation(self) -> Elevation:
        """Its raster."""
