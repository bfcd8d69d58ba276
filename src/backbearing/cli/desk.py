"""``backbearing desk``: the page on this computer where an outing is made by hand and eye."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backbearing.base.lazy import Later
from backbearing.cli.common import outing_argument
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.desk import online_tiles, serve
else:
    # The web server, for this command alone.
    serve = Later("backbearing.desk.serve")
    online_tiles = Later("backbearing.desk.online_tiles")


@click.command("desk", help="The whole job on a page of this computer, by hand and eye.")
@outing_argument
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="A port of your choice.")
@click.option("--no-browser", is_flag=True, help="Only print the address; open nothing.")
@click.option(
    "--tiles",
    metavar="ADDRESS",
    help="Online tiles that the map may show on request: https://HOST/{z}/{x}/{y}.png.",
)
@click.option("--tiles-credit", metavar="TEXT", default="", help="Whom the map names for them.")
def command(
    outing: Path, port: int, no_browser: bool, tiles: str | None, tiles_credit: str
) -> None:
    """Open the desk for an outing."""
    online = online_tiles.OnlineTiles(tiles, tiles_credit) if tiles else None
    load_outing(outing)  # what is wrong with it is said here, not on a page

    def opened(address: str) -> None:
        click.echo(f"The desk is open at {address}")
        click.echo("Nobody else can see it; it stops with Ctrl-C or the page's own button.")
        if not no_browser:
            click.launch(address)

    serve.serve(outing.resolve(), port=port, opened=opened, online=online)
    click.echo("The desk is closed.")
