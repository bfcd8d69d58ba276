"""``backbearing desk``: the page on this computer where an outing is made by hand and eye."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.base.lazy import Later
from backbearing.cli.common import kit_option

if TYPE_CHECKING:
    from backbearing.desk import folder, online_tiles, serve
    from backbearing.outing import load
    from backbearing.workflows import open_zip
else:
    # The web server, for this command alone.
    folder = Later("backbearing.desk.folder")
    load = Later("backbearing.outing.load")
    open_zip = Later("backbearing.workflows.open_zip")
    serve = Later("backbearing.desk.serve")
    online_tiles = Later("backbearing.desk.online_tiles")


@click.command("desk", help="The whole job on a page of this computer, by hand and eye.")
@click.argument(
    "what", metavar="[OUTING_FOLDER_OR_ZIP]", type=click.Path(path_type=Path), default="."
)
@kit_option
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="A port of your choice.")
@click.option("--no-browser", is_flag=True, help="Only print the address; open nothing.")
@click.option(
    "--tiles",
    metavar="ADDRESS",
    help="Online tiles that the map may show on request: https://HOST/{z}/{x}/{y}.png.",
)
@click.option("--tiles-credit", metavar="TEXT", default="", help="Whom the map names for them.")
def command(what: Path, port: int, no_browser: bool, tiles: str | None, tiles_credit: str) -> None:
    """Open the desk for an outing, a folder that holds one, several or none, or a friend's zip."""
    online = online_tiles.OnlineTiles(tiles, tiles_credit) if tiles else None
    home, outing = _begun(what)

    def opened(address: str) -> None:
        click.echo(f"The desk is open at {address}")
        click.echo("Nobody else can see it; it stops with Ctrl-C or the page's own button.")
        if not no_browser:
            click.launch(address)

    serve.serve(outing, folder=home, port=port, opened=opened, online=online)
    click.echo("The desk is closed.")


def _begun(what: Path) -> tuple[Path, Path | None]:
    """The folder, and the outing to open: the one named, or the only one there."""
    if what.suffix.lower() == ".zip" and what.is_file():
        home = what.resolve().parent
        outing = open_zip.unpacked(what.resolve(), home)
        click.echo(f"Unpacked into the folder {outing.parent.name}.")
        return home, outing
    if not what.is_dir():
        load.load_outing(what)  # what is wrong with it is said here, not on a page
        return what.resolve().parent, what.resolve()
    home = what.resolve()
    found = folder.outings_in(home)
    if len(found) != 1 or found[0].problem:
        return home, None
    return home, home / found[0].name
