"""Run the desk until it is stopped: on this computer only, and leaving nothing behind."""

from __future__ import annotations

import contextlib
import socket
import threading
from typing import TYPE_CHECKING

import uvicorn

from backbearing.base.errors import BackbearingError
from backbearing.desk.application import Desk, application
from backbearing.desk.guard import Door, Guard
from backbearing.desk.long_answers import ready

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.desk.online_tiles import OnlineTiles


def serve(
    file: Path | None,
    *,
    folder: Path | None = None,
    port: int = 0,
    opened: Callable[[str], None],
    online: OnlineTiles | None = None,
) -> None:
    """Serve the desk until Ctrl-C or the page's own stop.

    Parameters
    ----------
    file : Path or None
        The outing, which must load; None where the page begins with what lies in the folder.
    folder : Path, optional
        The only folder that the page may choose from; the outing's own when left out.
    port : int
        0 lets the system choose a free one.
    opened : callable
        Called with the address once the desk listens.
    online : OnlineTiles, optional
        Tiles of a server that the user named; the page shows them on request.

    Raises
    ------
    BackbearingError
        When the port is taken.
    """
    listening = _socket(port)
    door = Door.at(listening.getsockname()[1])

    def stop() -> None:
        server.should_exit = True

    desk = Desk(file, stop, folder)
    desk.online = online
    config = uvicorn.Config(
        Guard(application(desk), door, pictures_from=online.host if online else ""),
        log_level="warning",
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_keep_alive=30,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=32_768,
        limit_concurrency=64,
    )
    server = uvicorn.Server(config)

    def make_ready() -> None:
        if desk.is_open:
            desk.answers.make_ready()
            desk.work.make_ready(ready, desk.outing.file)

    threading.Thread(target=make_ready, daemon=True).start()
    opened(door.address)
    try:
        with contextlib.suppress(KeyboardInterrupt):  # uvicorn raises it again once it has stopped
            server.run(sockets=[listening])
    finally:
        listening.close()
        desk.close()


def _socket(port: int) -> socket.socket:
    """Listen on the loopback address alone."""
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        made.bind(("127.0.0.1", port))
    except (OSError, OverflowError) as problem:
        made.close()
        raise BackbearingError(
            f"The port {port} cannot be used here", hint="leave --port out: a free one is taken"
        ) from problem
    made.listen(64)
    return made
