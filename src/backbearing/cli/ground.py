"""``backbearing ground``: the elevation for a place, told first and brought when asked."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from backbearing.base.errors import NothingFoundError
from backbearing.base.numbers import num
from backbearing.base.units import read_length_m
from backbearing.cli.common import all_switch, gathered, json_switch, overwrite_switch, print_json
from backbearing.cli.ground_words import document, nothing_found, print_done
from backbearing.fetching.download import Manner
from backbearing.fetching.fetch import TileState
from backbearing.workflows.ground import GroundAsked, GroundFolders, GroundWork, do

if TYPE_CHECKING:
    from backbearing.fetching.fetch import Progress

LONG_WAIT_S: Final = 15.0


def _length(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    return None if value is None else read_length_m(value)


@click.command(
    "ground",
    help="The elevation for a place: how far it must reach, which tiles, their size and licence. "
    "Nothing is fetched without --fetch.",
)
@click.argument("outing", type=click.Path(path_type=Path), required=False)
@click.option("--at", metavar="PLACE", help="The place; the outing's subject when left out.")
@click.option(
    "--within",
    "within_m",
    metavar="LENGTH",
    callback=_length,
    help="How far ground is wanted, such as 40km or 25mi; as far as land can rise over 1 degree, "
    "and the outing's reach at most, when left out.",
)
@click.option(
    "--highest",
    "highest_m",
    metavar="LENGTH",
    callback=_length,
    help="The highest land about the place, such as 1900m, where you know it.",
)
@click.option(
    "--source", metavar="NAME", default="", help='Which tiles: "copernicus 30" when left out.'
)
@click.option("--fetch", is_flag=True, help="Bring the tiles that are not here yet.")
@click.option(
    "--from",
    "from_path",
    type=click.Path(path_type=Path),
    metavar="PATH",
    help="Take tiles that you brought yourself: a folder, a zip or a tar.",
)
@click.option("--window", is_flag=True, help="Only the piece within reach, as one small GeoTIFF.")
@click.option("--write", is_flag=True, help="Name the ground in the outing file.")
@click.option(
    "--cache", type=click.Path(path_type=Path), metavar="FOLDER", help="Keep tiles there instead."
)
@click.option(
    "--config",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Read [[tile_source]] there instead of in your config.toml.",
)
@overwrite_switch
@all_switch
@json_switch
@gathered(asked=GroundAsked, work=GroundWork, folders=GroundFolders)
def command(  # noqa: D103
    asked: GroundAsked,
    work: GroundWork,
    folders: GroundFolders,
    everything: bool,
    as_json: bool,
) -> int:
    if asked.outing is None and asked.at is None and Path("outing.toml").is_file():
        asked = GroundAsked(
            Path("outing.toml"), None, asked.within_m, asked.highest_m, asked.source
        )
    bar = _Bar()
    done = do(asked, work, folders, told=bar, manner=Manner(pause=_waited))
    bar.close()
    if as_json:
        print_json(document(done))
    else:
        print_done(asked, work, done, everything=everything)
    if done.report.of(TileState.FAILED, TileState.NO_SERVER):
        return 1
    return NothingFoundError.exit_code if nothing_found(done) else 0


def _waited(seconds: float) -> None:
    """Wait as a server asks, and say so where it takes a while."""
    if seconds >= LONG_WAIT_S:
        click.echo(f"The server asks to wait {num(seconds, 0)} s.", err=True)
    time.sleep(seconds)


class _Bar:
    """Say the progress in one line on a terminal: bytes, and the time left at this pace."""

    def __init__(self) -> None:
        self._began = time.monotonic()
        self._said = 0.0
        self._open = False

    def __call__(self, now: Progress) -> None:
        passed = time.monotonic() - self._began
        if not sys.stderr.isatty() or passed - self._said < 0.5:
            return
        self._said, self._open = passed, True
        click.echo(f"\r{progress_words(now, passed)}\x1b[K", err=True, nl=False)

    def close(self) -> None:
        """End the line."""
        if self._open:
            click.echo("\r\x1b[K", err=True, nl=False)


def progress_words(now: Progress, passed_s: float) -> str:
    """Say how far it is, and how long it still takes."""
    got, whole = now.got_bytes / 1e6, max(now.expected_bytes, now.got_bytes) / 1e6
    said = f"{now.done} of {now.of} tiles"
    if now.got_bytes:
        said += f", {num(got, 0)} of about {num(whole, 0)} MB"
    if now.got_bytes and passed_s > 1.0:
        left = (whole - got) / (got / passed_s)
        long = left > 90.0
        said += f", about {num(left / 60.0 if long else left, 0)} {'min' if long else 's'} left"
    return said
