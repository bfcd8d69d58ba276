"""Change a module's own numbers one at a time, and see whether its tests notice.

    python tests/tools/thresholds.py
    python tests/tools/thresholds.py land/walks drawing/contours
    python tests/tools/thresholds.py alignment/stand/solve --tests tests/alignment/stand

Without a module those of `CHOSEN` are tried: their numbers decide what a plan claims. Every
number at the top of a module (a constant, a table's entry, a bound of the outing's schema) is
doubled and halved, in memory: no file is touched. The tests are those named in `CHOSEN`, else
the module's mirrored file, else its mirrored room. Mutmut, which `make mutants` runs too,
plants its mutants inside functions only; these numbers are outside of them.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import importlib.abc
import importlib.util
import os
import resource
import signal
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from importlib.machinery import ModuleSpec

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "backbearing"
FACTORS = (2.0, 0.5)
LONGEST_S = 300
"""Seconds of work after which a run is taken for one without end."""

# What the tests import anyway, loaded once before the forks.
HEAVY = (
    "matplotlib.figure", "numba", "numpy", "pandas", "pydantic", "pyproj", "pytest", "rasterio",
    "scipy.interpolate", "scipy.optimize", "shapely", "skyfield.api",
)  # fmt: skip


_STANDS = "alignment/stand/test_stands.py"
_WALKS = "land/test_walks.py"
_DROPS = "alignment/stand/test_ground_cautions.py"
_LIGHT = ("sky/test_moonlight.py", "outside/test_moonlight_outside.py")

CHOSEN: dict[str, tuple[str, ...]] = {
    "alignment/night/self_check": (),
    "alignment/session/frame_starts": (),
    "alignment/session/side_lights": (),
    "alignment/session/tasks": (
        "alignment/session/test_tasks.py",
        "alignment/session/test_frame_starts.py",
    ),
    "alignment/stand/ground_cautions": (),
    "alignment/stand/lens_optics": (),
    "alignment/stand/place_stand": (),
    "alignment/stand/solve": (_STANDS,),
    "alignment/stand/spans": (),
    "alignment/stand/stand_cautions": (_STANDS,),
    "alignment/stand/uncertainty": (),
    "base/cautions": (_WALKS, _DROPS, _STANDS),
    "drawing/contours": (),
    "land/access": (),
    "land/detours": (),
    "land/places": (),
    "land/routes": (_WALKS,),
    "land/walks": (),
    "outing/schema": (),
    "plan/steps": ("alignment/stand/test_place_stand.py",),
    "review/clock": ("review/test_exif.py",),
    "review/compare": (),
    "review/picture": ("review/test_exif.py",),
    "review/region": (),
    "review/words": (),
    "scouting/ranking/lens_grid": (),
    "scouting/ranking/scoring": (),
    "scouting/site/town_glow": (),
    "sky/glow": _LIGHT,
    "sky/moonlight": _LIGHT,
    "sky/window_reasons": (),
    "terrain/slope_and_drops": (),
}
"""Modules to try, and tests of theirs that are not in their mirrored file."""


@dataclass(frozen=True)
class Mutant:
    """One number of a module, and what stands in its place."""

    module: str
    name: str
    line: int
    column: int
    old: float
    new: float

    def __str__(self) -> str:
        return f"{self.module}.py:{self.line} {self.name}: {self.old:g} -> {self.new:g}"


def mutants_of(module: str, only: Sequence[str] = ()) -> Iterator[Mutant]:
    """Find the numbers of a module's constants and of its classes' fields."""
    tree = ast.parse((SOURCE / f"{module}.py").read_text(encoding="utf-8"))
    for name, value in _assigned(tree.body):
        if only and name not in only:
            continue
        for node in ast.walk(value):
            number = node.value if isinstance(node, ast.Constant) else None
            if isinstance(number, bool) or not isinstance(number, int | float) or not number:
                continue
            for factor in FACTORS:
                new = type(number)(number * factor)
                if new not in (number, 0):
                    yield Mutant(module, name, node.lineno, node.col_offset, number, new)


def _assigned(body: Sequence[ast.stmt]) -> Iterator[tuple[str, ast.expr]]:
    for one in body:
        if isinstance(one, ast.ClassDef):
            for name, value in _assigned(one.body):
                yield f"{one.name}.{name}", value
        elif isinstance(one, ast.Assign) and isinstance(one.targets[0], ast.Name):
            yield one.targets[0].id, one.value
        elif isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
            yield one.target.id, one.annotation
            if one.value is not None:
                yield one.target.id, one.value


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Load one module with one number changed."""

    def __init__(self, mutant: Mutant) -> None:
        self.mutant = mutant
        self.full_name = "backbearing." + mutant.module.replace("/", ".")
        self.path = SOURCE / f"{mutant.module}.py"

    def find_spec(self, name: str, path: Any = None, target: Any = None) -> ModuleSpec | None:
        """Answer for the one module."""
        if name != self.full_name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: Any) -> None:
        """Run the module's source with the number changed."""
        tree = ast.parse(self.path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and (node.lineno, node.col_offset) == (
                self.mutant.line,
                self.mutant.column,
            ):
                node.value = self.mutant.new
        exec(compile(tree, str(self.path), "exec"), module.__dict__)  # noqa: S102


def passes(mutant: Mutant | None, tests: Sequence[str]) -> bool:
    """Run tests in a fork, with a mutant planted; True where none of them fails."""
    child = os.fork()
    if not child:
        code = 70
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S))
            code = _tested(mutant, tests)
        finally:
            os._exit(code)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    # All passed; some failed; could not even be collected; went on without end.
    if code not in (0, 1, 2, -signal.SIGXCPU, -signal.SIGKILL):
        raise SystemExit(f"pytest could not run {' '.join(tests)}: it ended with {code}")
    return code == 0


def _tested(mutant: Mutant | None, tests: Sequence[str]) -> int:
    import pytest

    nowhere = os.open(os.devnull, os.O_WRONLY)
    if mutant is not None:
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        sys.meta_path.insert(0, Planted(mutant))
        if "numba" in (SOURCE / f"{mutant.module}.py").read_text(encoding="utf-8"):
            # Compiled code keeps its constants: let it be compiled anew.
            os.environ["NUMBA_CACHE_DIR"] = tempfile.mkdtemp()
    return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *tests]))


def tests_of(module: str) -> list[str]:
    """Tests of a module: as chosen, else its mirrored file, else its mirrored room."""
    if CHOSEN.get(module):
        return [str(ROOT / "tests" / test) for test in CHOSEN[module]]
    at = ROOT / "tests" / module
    own = at.parent / f"test_{at.name.lstrip('_')}.py"
    return [str(own if own.exists() else at.parent)]


def main() -> int:
    """Plant every mutant of the modules asked for, and print those that live."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("modules", nargs="*", help="such as land/walks")
    parser.add_argument("--tests", nargs="+", help="in place of the mirrored file")
    parser.add_argument("--only", nargs="+", default=(), help="names of constants")
    asked = parser.parse_args()
    sys.path.insert(0, str(SOURCE.parent))
    os.chdir(ROOT)
    for name in HEAVY:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    tried = lived_in_all = 0
    for module in asked.modules or CHOSEN:
        tests = asked.tests or tests_of(module)
        found = list(mutants_of(module, asked.only))
        if not found:
            print(f"{module}: no numbers of its own")
            continue
        if not passes(None, tests):
            print(f"{module}: its tests fail without a mutant")
            return 1
        lived = [mutant for mutant in found if passes(mutant, tests)]
        for mutant in lived:
            print(f"  lives: {mutant}", flush=True)
        print(f"{module}: {len(found) - len(lived)} of {len(found)} noticed", flush=True)
        tried, lived_in_all = tried + len(found), lived_in_all + len(lived)
    print(f"{tried - lived_in_all} of {tried} noticed in all")
    return 0 if not lived_in_all else 2


if __name__ == "__main__":
    sys.exit(main())
