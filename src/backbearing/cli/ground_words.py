"""What ``backbearing ground`` says of a place's ground, on one screen or in full."""

from __future__ import annotations

import math
import shlex
from typing import TYPE_CHECKING, Any

from backbearing.base.geodesy import curvature_drop_m
from backbearing.base.numbers import counted, num
from backbearing.base.units import METRIC
from backbearing.cli.screen import Screen
from backbearing.fetching.fetch import TileState
from backbearing.fetching.reach import LOW_DEG

if TYPE_CHECKING:
    from backbearing.fetching.report import GroundReport
    from backbearing.workflows.ground import GroundAsked, GroundDone, GroundWork

MOST_LINES = 6


def document(done: GroundDone) -> dict[str, Any]:
    """Give all of it as plain data."""
    piece = done.piece
    return {
        **done.report.document(),
        "taken": None if done.taken is None else done.taken._asdict(),
        "piece": None
        if piece is None
        else {
            "file": str(piece.path),
            "rows": piece.rows,
            "cols": piece.cols,
            "missing": [corner._asdict() for corner in piece.missing],
        },
        "stays": list(done.stays),
        "written": None if done.written is None else str(done.written),
    }


def print_done(asked: GroundAsked, work: GroundWork, done: GroundDone, *, everything: bool) -> None:
    """Print what was found and done, and what to type next."""
    report, out = done.report, Screen()
    out.title(
        f"Ground within {METRIC.length(report.within_m)} of {num(report.lat, 5)}, "
        f"{num(report.lon, 5)}"
    )
    out.labelled("Skyline", _reach_words(report))
    out.labelled("Tiles", _tile_words(report))
    _say_tiles(out, done, everything=everything)
    source = report.source
    holds = f" {source.surface[0].upper()}{source.surface[1:]}." if source.surface else ""
    out.labelled("Heights", f"above {source.datum or 'a level that is not stated'}.{holds}")
    out.labelled("Published error", f"{source.errors}.")
    out.labelled("Licence", source.licence or "not stated; ask its maker")
    out.labelled("Kept in", str(report.cache.home(source)))
    if done.piece is not None:
        size = _megabytes(done.piece.path.stat().st_size)
        out.say(f"Wrote {done.piece.path}: {done.piece.rows} x {done.piece.cols} cells, {size}.")
    if done.written is not None:
        out.say(f"Wrote [ground] elevation, product and credit into {done.written}.")
        if done.stays:
            out.say(
                f"Care: {', '.join(done.stays)} under [ground] stayed, and was written for another "
                "raster; take it out unless it holds for this one."
            )
    out.say(f"Next: {_next(asked, work, done)}", hang=2)
    out.show()


def nothing_found(done: GroundDone) -> bool:
    """Whether the servers were asked, and have no tile about the place."""
    report = done.report
    return bool(report.of(TileState.MISSING)) and not (report.files or report.to_come)


def _reach_words(report: GroundReport) -> str:
    """Say how far land can show here, and what may show from beyond what is asked."""
    reach, high = report.reach, report.reach.highest
    within = METRIC.length(report.within_m)
    drop_m = float(curvature_drop_m(report.within_m, reach.refraction_k))
    rise_m = reach.least_rise_m(report.within_m, LOW_DEG)
    eye = f"an eye at {METRIC.length(reach.eye_m)}" if reach.eye_m else "an eye at the sea's level"
    beyond = f"only land {num(rise_m, 0)} m above you still rises above {num(LOW_DEG)}°"
    if rise_m >= high.height_m - reach.eye_m:
        beyond = f"none of it rises above {num(LOW_DEG)}°"
    return (
        f"land here stands at most {num(high.height_m, 0)} m high ({high.why}); over {eye} it can "
        f"rise above the horizontal from {METRIC.length(reach.distance_m(0.0))} away and above "
        f"{num(LOW_DEG)}° from {METRIC.length(reach.distance_m(LOW_DEG))}. Beyond {within} the "
        f"Earth has curved away {num(drop_m, 0)} m, so {beyond}."
    )


def _tile_words(report: GroundReport) -> str:
    parts = [
        f"{len(report.of(state))} {words}"
        for state, words in (
            (TileState.HERE, "here"),
            (TileState.SEA, "open sea"),
            (TileState.TO_FETCH, "to fetch"),
            (TileState.MISSING, "missing"),
            (TileState.FAILED, "failed"),
            (TileState.NO_SERVER, "not fetched"),
        )
        if report.of(state)
    ]
    said = f"{len(report.tiles)} of {report.source.title}: {', '.join(parts)}"
    if not report.of(TileState.TO_FETCH):
        return f"{said}."
    return f"{said}, {_size_words(report)}."


def _size_words(report: GroundReport) -> str:
    """How many megabytes are still to come, and where that comes from."""
    size = report.expected_bytes
    if math.isnan(size):
        return "of a size that is not known before"
    if report.size_known:
        return f"about {_megabytes(size)} (by the mean of those here)"
    return f"{_megabytes(size)} at most (unpacked; an estimate, for they come packed)"


def _megabytes(size: float) -> str:
    return f"{num(size / 1e6, 0 if size >= 1e7 else 1)} MB"


def _say_tiles(out: Screen, done: GroundDone, *, everything: bool) -> None:
    """Say what is wrong with tiles, and which are to be brought by another machine."""
    report, most = done.report, 10_000 if everything else MOST_LINES
    if done.taken is not None:
        taken = done.taken
        out.say(f"Took {counted(len(taken.corners), 'tiles')} that you brought.", indent=2)
        if taken.refused:
            out.some([f"{one}." for one in taken.refused], most)
    wrong = report.of(TileState.NO_SERVER, TileState.FAILED, TileState.MISSING)
    trouble = dict.fromkeys(f"{one.said[:1].upper()}{one.said[1:]}." for one in wrong if one.said)
    if trouble:
        out.some(list(trouble), most)
    if report.of(TileState.MISSING) or (done.piece is not None and done.piece.missing):
        out.say("Missing ground is unknown, not sea: no skyline is seen over it.", indent=2)
    failed = report.of(TileState.NO_SERVER, TileState.FAILED)
    by_hand = [url for _, url in report.by_hand]
    if by_hand and (failed or everything):
        out.say("Another machine can bring these, then --from FOLDER:", indent=2)
        out.some(by_hand, most)


def _next(asked: GroundAsked, work: GroundWork, done: GroundDone) -> str:
    """The next command."""
    if nothing_found(done):
        return "another source (--source NAME) may have it; docs/ground.md says which there are"
    named = [] if asked.outing is None else [str(asked.outing)]
    if done.written is not None:
        return shlex.join(["backbearing", "stand", *named])
    words = ["backbearing", "ground", *named]
    words += [] if asked.at is None else ["--at", asked.at]
    words += [] if asked.within_m is None else ["--within", f"{num(asked.within_m / 1000.0)}km"]
    words += ["--source", done.report.source.name] if asked.source or done.taken else []
    if done.report.to_come and done.piece is None:
        words += ["--fetch"]
    if named:
        words += [*(["--window"] if work.window else []), "--write"]
    elif not done.report.to_come:
        return "backbearing new outing.toml, then backbearing ground outing.toml --write"
    return shlex.join(words)
