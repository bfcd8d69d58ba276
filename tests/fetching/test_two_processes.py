"""Runs of the command as processes: one killed half-way and taken up, two at once."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.fetching.fetch import TileState, fetch
from backbearing.fetching.tile_scheme import Corner

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.download import Manner

HERE = Corner(-32, 138)


def rough(lat: Any, lon: Any) -> Any:
    """Land that hardly packs."""
    shape = np.broadcast_shapes(np.shape(lat), np.shape(lon))
    return np.random.default_rng(1).uniform(0.0, 500.0, shape)


def started(served: Any, cache: TileCache, tmp_path: Path) -> subprocess.Popen[str]:
    config = tmp_path / "config.toml"
    config.write_text(
        f'[[tile_source]]\nname = "invented"\ntemplate = "{served.template}"\nlicence = "ours"\n'
    )
    words = ["ground", "--at", "-31.5 138.5", "--within", "5km", "--fetch"]
    words += ["--cache", str(cache.folder), "--config", str(config)]
    program = "from backbearing.cli import main; main()"
    return subprocess.Popen(
        [sys.executable, "-c", program, *words], stdout=subprocess.PIPE, text=True
    )


@pytest.mark.slow
def test_a_run_that_is_killed_is_taken_up_by_the_next(
    served: Any, cache: TileCache, tmp_path: Path, manner: Manner
) -> None:
    original = served.tile(HERE, size=500, heights=rough)
    size = original.stat().st_size
    served.faults(Invented="slow")
    run = started(served, cache, tmp_path)
    part = cache.place(served.source(), HERE).with_name(f"{original.name}.part")
    for _ in range(1200):
        if part.exists() and part.stat().st_size > size // 4:
            break
        time.sleep(0.02)
    run.kill()
    run.communicate()
    had = part.stat().st_size
    assert size // 4 < had < size
    assert part.with_name(f"{original.name}.lock").exists()
    served.faults()
    (found,) = fetch([HERE], served.source(), cache, manner=manner)
    assert found.state is TileState.HERE
    assert found.path is not None
    assert found.path.read_bytes() == original.read_bytes()
    (last,) = [request for request in served.requests if request["range"]]
    assert (last["range"], last["status"], last["sent"]) == (f"bytes={had}-", 206, size - had)
    assert [path.name for path in found.path.parent.iterdir()] == [original.name]


@pytest.mark.slow
def test_two_runs_at_once_ask_once_and_both_have_it(
    served: Any, cache: TileCache, tmp_path: Path
) -> None:
    original = served.tile(HERE, size=500, heights=rough)
    served.faults(Invented="slow")
    runs = [started(served, cache, tmp_path) for _ in range(2)]
    said = [" ".join(run.communicate(timeout=60)[0].split()) for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    assert all("1 of invented: 1 here." in words for words in said)
    assert [request["sent"] for request in served.requests] == [original.stat().st_size]
