"""Random valid outings one after another, and everything that is wrong with them.

``make soak`` runs this; one seed again::

    make soak SEED=123 N=1

Every warning is an error. CPU time is of `plan_night` alone, in this process.
"""

from __future__ import annotations

import argparse
import gc
import statistics
import sys
import tempfile
import time
import traceback
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.errors import OutingError
from soak.again import (
    json_contradictions,
    mirror_contradictions,
    prepared_contradictions,
    second_time,
)
from soak.claims import Looked, contradictions
from soak.orders import order_contradictions
from soak.outings import random_outing
from soak.outputs import bad_words, doubled_spaces, outputs_of
from soak.raw_ground import RawGround
from soak.turns import turn_contradictions

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

PAGES_OF = 50
"""Of so many outings of a run all pages, pictures and files are written and read, if no
other number is asked for."""

TWICE_OF = 5
"""One of so many is settled a second time, on other ways, and its JSON read back."""


@dataclass
class Soaked:
    """What became of one seed."""

    seed: int
    cpu_s: float = 0.0
    stands: int = 0
    turns: int = 0
    refused: str = ""
    wrong: list[str] = field(default_factory=list)


def soak(seed: int, *, pages: bool, twice: bool = True) -> Soaked:
    """Settle one random outing and try all that must hold of it."""
    found = Soaked(seed)
    with tempfile.TemporaryDirectory() as name:
        try:
            _try(found, Path(name), pages=pages, twice=twice)
        except Exception:  # whatever it is, the seed is told and the run goes on
            found.wrong.append(traceback.format_exc(limit=-6))
        # Rasters stay open until they are collected, and no folder goes before.
        gc.collect()
    return found


def _try(found: Soaked, folder: Path, *, pages: bool, twice: bool) -> None:
    outing = random_outing(folder, found.seed)
    elevation = open_elevation(outing)
    began = time.process_time()
    try:
        plan = plan_night(outing, elevation)
    except OutingError as problem:
        # A clock time that the night has not, or has twice, is known only here.
        found.refused = str(problem)
        return
    found.cpu_s = time.process_time() - began
    found.stands = sum(one.stand is not None for one in plan.lenses)
    found.turns = len(plan.session.shots) if plan.session is not None else 0
    looked = Looked(outing, plan, RawGround(folder / "ground.tif"))
    found.wrong += contradictions(looked)
    found.wrong += turn_contradictions(looked)
    found.wrong += mirror_contradictions(looked, folder)
    found.wrong += order_contradictions(looked, elevation, found.seed)
    if twice:
        found.wrong += json_contradictions(looked)
        found.wrong += second_time(looked, folder)
        found.wrong += prepared_contradictions(looked, folder)
    found.wrong += [f"doubled spaces: {said!r}" for said in doubled_spaces(plan)]
    for name, text in outputs_of(outing, plan, elevation, pages=pages):
        found.wrong += [f"{name}: {words!r}" for words in bad_words(text)]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the seeds and tell; 1 where anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--outings", type=int, default=50, help="how many")
    parser.add_argument("--pages", type=int, default=PAGES_OF, help="of how many all pages")
    asked = parser.parse_args(arguments)
    every = max(1, asked.outings // max(1, asked.pages))
    done: list[Soaked] = []
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        # As pyproject.toml has it for the tests.
        warnings.filterwarnings("ignore", "Use `@` matmul", PendingDeprecationWarning)
        warnings.filterwarnings("ignore", "Conversion of an array", DeprecationWarning)
        for i in range(asked.outings):
            one = soak(asked.seed + i, pages=i % every == 0, twice=i % TWICE_OF == 0)
            done.append(one)
            for line in _told(one):
                print(line, flush=True)
    for line in _summed(done):
        print(line)
    return int(any(one.wrong for one in done))


def _told(one: Soaked) -> Iterator[str]:
    said = f"seed {one.seed}: {one.stands} stands, {one.turns} turns, {one.cpu_s:.2f} s"
    yield f"{said}; refused: {one.refused}" if one.refused else said
    for wrong in one.wrong:
        yield f"  WRONG {wrong}"


def _summed(done: Sequence[Soaked]) -> Iterator[str]:
    settled = sorted((one for one in done if not one.refused), key=lambda one: one.cpu_s)
    wrong = [one.seed for one in done if one.wrong]
    yield (
        f"{len(done)} outings, seeds {done[0].seed} to {done[-1].seed}: "
        f"{sum(one.stands for one in done)} stands, {sum(one.turns for one in done)} turns, "
        f"{len(done) - len(settled)} refused, {len(wrong)} wrong"
    )
    if settled:
        at = [one.cpu_s for one in settled]
        worst = ", ".join(f"{one.cpu_s:.2f} (seed {one.seed})" for one in settled[:-6:-1])
        yield (
            f"CPU seconds of a plan: median {statistics.median(at):.2f}, "
            f"p95 {at[min(len(at) - 1, int(0.95 * len(at)))]:.2f}; worst {worst}"
        )
    for seed in wrong:
        yield f"again: make soak SEED={seed} N=1"


if __name__ == "__main__":
    sys.exit(main())
