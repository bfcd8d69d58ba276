"""Bring the tiles that are not here yet: two at a time, a sentence for each that does not come."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from typing import TYPE_CHECKING, Final, NamedTuple

from backbearing.base.errors import BackbearingError, FetchError
from backbearing.fetching.answer import ServerError, Trouble
from backbearing.fetching.cache import is_sea
from backbearing.fetching.download import Manner, download, held_alone, keep_held
from backbearing.fetching.sea_tile import write_sea_tile
from backbearing.fetching.tile_check import check_tile
from backbearing.fetching.tile_scheme import Corner, Layout, corner_in
from backbearing.terrain.reading.files import ReadingOptions, open_file

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from pathlib import Path

    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.source import TileSource

MOST_CONNECTIONS: Final = 2
"""At one time, to be no burden to a public server."""

MOST_TILES: Final = 400
"""Tiles of one call; a mistaken reach asks for more."""


class TileState(StrEnum):
    """What is known of a tile."""

    HERE = "here"
    SEA = "sea"
    TO_FETCH = "to fetch"
    MISSING = "missing"
    FAILED = "failed"
    NO_SERVER = "no server"


class TileFound(NamedTuple):
    """A tile, where it is, and what is to be said of it.

    Attributes
    ----------
    corner : Corner
    state : TileState
    path : Path or None
        Its file, or that which stands for open sea.
    said : str
        Why it is not here, in a sentence.
    """

    corner: Corner
    state: TileState
    path: Path | None = None
    said: str = ""


class Progress(NamedTuple):
    """How far the fetching is: bytes so far and in all, as far as servers have said."""

    done: int
    of: int
    got_bytes: int
    expected_bytes: int


@dataclass
class _Tally:
    """Counts what all connections bring, and tells it."""

    of: int
    told: Callable[[Progress], None]
    done: int = 0
    got: dict[Corner, int] = field(default_factory=dict)
    whole: dict[Corner, int] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)
    stopped: threading.Event = field(default_factory=threading.Event)

    def came(self, corner: Corner, got: int, whole: int | None) -> None:
        if self.stopped.is_set():
            raise ServerError("it was stopped")
        with self.lock:
            self.got[corner] = got
            self.whole[corner] = max(got, whole or 0)
            self._tell()

    def ended(self) -> None:
        with self.lock:
            self.done += 1
            self._tell()

    def _tell(self) -> None:
        known = sum(self.whole.values())
        begun = len(self.whole)
        expected = round(known / begun * self.of) if begun else 0
        self.told(Progress(self.done, self.of, sum(self.got.values()), expected))


def looked_up(
    corners: Sequence[Corner], source: TileSource, cache: TileCache
) -> tuple[TileFound, ...]:
    """Say of each tile whether it is here; asks nobody."""
    return tuple(_here(corner, source, cache) for corner in corners)


def _here(corner: Corner, source: TileSource, cache: TileCache) -> TileFound:
    path = cache.found(source, corner)
    if path is None:
        return TileFound(corner, TileState.TO_FETCH)
    return TileFound(corner, TileState.SEA if is_sea(path) else TileState.HERE, path)


def fetch(
    corners: Sequence[Corner],
    source: TileSource,
    cache: TileCache,
    *,
    told: Callable[[Progress], None] = lambda _: None,
    manner: Manner | None = None,
) -> tuple[TileFound, ...]:
    """Bring those tiles that are not here.

    Parameters
    ----------
    corners : sequence of Corner
        At most 400.
    source, cache
        From where, and where to.
    told : callable, optional
        Is told the progress, from any thread but never from two at once.
    manner : Manner, optional
        How servers are treated.

    Returns
    -------
    tuple of TileFound
        In the order asked. Where the server cannot be reached the others are not tried.

    Raises
    ------
    FetchError
        For a source without an address, and for too many tiles.
    """
    manner = manner or Manner()
    found = {one.corner: one for one in looked_up(corners, source, cache)}
    wanted = _wanted(found.values(), source)
    cache.tidy(source)
    tally = _Tally(len(wanted), told)
    no_server: list[str] = []

    def bring(corner: Corner) -> TileFound:
        if no_server:
            return TileFound(corner, TileState.NO_SERVER, None, no_server[0])
        one = _brought(corner, source, cache, tally, manner)
        if one.state is TileState.NO_SERVER:
            no_server.append(one.said)
        tally.ended()
        return one

    with ThreadPoolExecutor(MOST_CONNECTIONS) as pool:
        try:
            found.update((one.corner, one) for one in pool.map(bring, wanted))
        except BaseException:
            # Stopped by hand: what runs ends with its next piece, and its part stays.
            tally.stopped.set()
            pool.shutdown(cancel_futures=True)
            raise
    absent = [one.corner for one in found.values() if one.state is TileState.MISSING]
    found.update((corner, _absent(corner, source, cache)) for corner in absent)
    return tuple(found[corner] for corner in corners)


def _wanted(found: Iterable[TileFound], source: TileSource) -> list[Corner]:
    """Which tiles are to be asked for."""
    if not source.template:
        raise FetchError(
            f"Tiles of {source.name} are only taken by hand",
            hint="download them, then add --from FOLDER_OR_ZIP",
        )
    wanted = [one.corner for one in found if one.state is TileState.TO_FETCH]
    if len(wanted) > MOST_TILES:
        raise FetchError(
            f"{len(wanted)} tiles are wanted, and at most {MOST_TILES} are fetched at once",
            hint="ask for ground within fewer kilometres",
        )
    return wanted


def _brought(
    corner: Corner,
    source: TileSource,
    cache: TileCache,
    tally: _Tally,
    manner: Manner,
) -> TileFound:
    """Bring one tile, and word what went wrong."""
    place = cache.place(source, corner)

    def came(got: int, whole: int | None) -> None:
        keep_held(place)
        tally.came(corner, got, whole)

    try:
        with held_alone(place, manner.pause):
            here = _here(corner, source, cache)
            if here.state is not TileState.TO_FETCH:
                return here
            download(
                source.url(corner),
                place,
                most_bytes=source.most_bytes(corner),
                check=partial(check_tile, source=source, corner=corner, said=place.name),
                told=came,
                manner=manner,
                checksum_url=source.checksum_url(corner),
            )
    except ServerError as problem:
        if problem.kind is Trouble.ABSENT:
            return TileFound(corner, TileState.MISSING)
        silent = problem.kind is Trouble.SILENT and not tally.got
        if problem.kind is Trouble.UNREACHABLE or silent:
            return TileFound(corner, TileState.NO_SERVER, None, problem.said)
        return TileFound(corner, TileState.FAILED, None, f"{corner.name}: {problem.said}")
    except BackbearingError as problem:
        return TileFound(corner, TileState.FAILED, None, f"{corner.name}: {problem}".rstrip("."))
    return TileFound(corner, TileState.HERE, place)


def _absent(corner: Corner, source: TileSource, cache: TileCache) -> TileFound:
    """What a tile is that the server does not have: sea by the source's word, else missing.

    Only when the source has given some tile: an address with a slip in it has none either, and
    its land must not turn to sea.
    """
    if cache.mean_bytes(source) is None:
        return TileFound(
            corner,
            TileState.MISSING,
            None,
            f"{corner.name}: the server has no such tile, nor has it given any other yet, so that "
            "this is not taken for sea: look at the place and at the source's template",
        )
    layout = _sea_layout(corner, source, cache) if source.is_sea(corner) else None
    if layout is not None:
        place = cache.sea_place(source, corner)
        write_sea_tile(place, layout, f"open sea: {source.title} has no tile here")
        return TileFound(corner, TileState.SEA, place)
    return TileFound(
        corner,
        TileState.MISSING,
        None,
        f"{corner.name}: the server has no such tile, and the source does not say that it is sea",
    )


def _sea_layout(corner: Corner, source: TileSource, cache: TileCache) -> Layout | None:
    """How a tile would lie: by the scheme, else as the source's other tiles do."""
    known = source.scheme.layout(corner)
    if known is not None or source.scheme.shared_edge or source.scheme.degrees > 1:
        return known
    for path in cache.land(source):
        other = corner_in(path.name)
        if other is not None:
            grid = open_file(path, ReadingOptions()).grid
            rows, cols = grid.shape
            west = corner.lon + (grid.transform.c - other.lon + 180.0) % 360.0 - 180.0
            return Layout(rows, cols, west, corner.lat + grid.transform.f - other.lat)
    return None


def by_another_machine(found: Sequence[TileFound], source: TileSource) -> Iterator[tuple[str, str]]:
    """File name and address of each tile that is not here, for a machine with a network."""
    for one in found:
        if one.path is None and one.state is not TileState.MISSING and source.template:
            yield source.file_name(one.corner), source.url(one.corner)


def common_layout(found: Sequence[TileFound], source: TileSource) -> set[Layout | None]:
    """Sizes of the tiles found: more than one where they lie on both sides of a step in width."""
    return {
        None if layout is None else Layout(layout.rows, layout.cols, 0.0, 0.0)
        for layout in (source.scheme.layout(one.corner) for one in found)
    }
