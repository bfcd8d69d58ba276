"""The law of the rooms: nothing points up, nothing goes round, writers read values.

DEVELOPERS.md says which room knows of which. The law is read from the source alone: no module
is imported, and an import for the type checker counts like any other.
"""

from __future__ import annotations

import ast
import shutil
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

SOURCE: Final = Path(__file__).resolve().parents[1] / "src"
PACKAGE: Final = "backbearing"

GROUND: Final = (
    *("base", "terrain", "sky", "camera", "weather", "outing", "plan", "tables", "land"),
)
COMPUTING: Final = (
    *("terrain", "sky", "camera", "weather", "measuring", "fetching"),
    *("tables", "land", "alignment", "scouting", "review"),
)
WRITERS: Final = ("drawing", "pictures", "maps", "sheet", "exports", "explain")

SEES: Final[dict[str, set[str]]] = {
    "base": set(),
    "cluster": {"base"},
    "terrain": {"base"},
    "sky": {"base"},
    "camera": {"base"},
    "weather": {"base"},
    "measuring": {"base", "sky", "camera"},
    "outing": {"base", "terrain", "sky", "camera"},
    "fetching": {"base", "terrain", "outing"},
    "plan": {"base", "terrain", "sky", "camera", "outing"},
    "tables": {"base", "plan"},
    "land": {"base", "terrain", "sky", "camera", "outing", "plan", "tables"},
    "alignment": {*GROUND, "cluster"},
    "scouting": {*GROUND, "cluster", "alignment"},
    "review": {*GROUND, "alignment"},
    "drawing": {"base", "outing", "plan"},
    "pictures": {"base", "outing", "plan", "drawing"},
    "maps": {"base", "outing", "plan", "drawing", "pictures"},
    "sheet": {"base", "outing", "plan", "drawing", "pictures"},
    "exports": {"base", "outing", "plan", "drawing"},
    "explain": {"base", "outing", "plan"},
    "workflows": {*GROUND, "cluster", *COMPUTING, *WRITERS},
    "desk": {*GROUND, "cluster", *COMPUTING, *WRITERS, "workflows"},
    "cli": {*GROUND, "cluster", *COMPUTING, *WRITERS, "workflows", "desk"},
}
"""What each room may import from besides itself."""

SLOW: Final = {"numba", "reportlab"}
"""Libraries that take long to load: a module that needs one at its top, to compile its kernels or
to derive its classes, is itself imported inside functions, so that help stays quick."""


class Import(NamedTuple):
    """One name that a file asks for, and where."""

    name: str
    line: int
    in_function: bool
    for_types: bool


class File(NamedTuple):
    """What a file asks for, and whether it loads a slow library."""

    imports: tuple[Import, ...]
    loads_slow: bool


@dataclass(frozen=True)
class Arrow:
    """One import of one of our own modules: who, whom, and where it stands."""

    importer: str
    imported: str
    where: str
    in_function: bool


class Tree:
    """The modules under a folder, and their imports of one another."""

    def __init__(self, source: Path) -> None:
        self.paths = {_module(source, path): path for path in sorted(source.rglob("*.py"))}
        self.files = {name: _read(path.read_text("utf-8")) for name, path in self.paths.items()}
        self.arrows = tuple(self._arrows(source))

    def is_face(self, module: str) -> bool:
        """Whether a module is a package's ``__init__``."""
        return self.paths[module].name == "__init__.py"

    def _arrows(self, source: Path) -> Iterator[Arrow]:
        for importer, file in self.files.items():
            for name, line, in_function, _ in file.imports:
                if name.split(".")[0] == PACKAGE:
                    imported = name if name in self.files else name.rpartition(".")[0]
                    where = f"{self.paths[importer].relative_to(source).as_posix()}:{line}"
                    assert imported in self.files, f"{where}: there is no module {imported}"
                    yield Arrow(importer, imported, where, in_function)


def _module(source: Path, path: Path) -> str:
    parts = path.relative_to(source).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def _read(text: str) -> File:
    found = tuple(_imports(ast.parse(text), in_function=False))
    at_top = {one.name.split(".")[0] for one in found if not (one.in_function or one.for_types)}
    return File(found, bool(at_top & SLOW))


def _imports(tree: ast.AST, *, in_function: bool, for_types: bool = False) -> Iterator[Import]:
    """Every import below a node, also those of a branch for the type checker."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.ImportFrom):
            assert not node.level, f"line {node.lineno}: write the whole name of the module"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (Import(name, node.lineno, in_function, for_types) for name in names)
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
            yield from (Import(name, node.lineno, in_function, for_types) for name in names)
        elif not isinstance(node, ast.expr):
            inside = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
            types = isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
            yield from _imports(
                node, in_function=in_function or inside, for_types=for_types or types
            )


def room_of(module: str) -> str:
    """The part of a module's name behind the package's; empty for the package itself."""
    return f"{module}.".split(".")[1]


def broken(tree: Tree) -> list[str]:
    """Every arrow that breaks the law: file, line, and what is wrong with it."""
    found = []
    for arrow in tree.arrows:
        here, there = room_of(arrow.importer), room_of(arrow.imported)
        said = f"{arrow.where}: {here or PACKAGE} imports {arrow.imported}"
        if tree.is_face(arrow.imported):
            found.append(f"{said}, a package's face; import from the name's own module")
        elif here and here != there and there not in SEES[here]:
            found.append(f"{said}; it sees {', '.join(sorted(SEES[here])) or 'nothing'}")
        if arrow.in_function and not tree.files[arrow.imported].loads_slow:
            found.append(f"{said} inside a function; put it at the top of the file")
    return found


def circles(tree: Tree) -> list[str]:
    """Every arrow that is part of a circle: file, line, and where it leads."""
    after: dict[str, set[str]] = {name: set() for name in tree.files}
    for arrow in tree.arrows:
        after[arrow.importer].add(arrow.imported)

    @cache
    def reached(module: str) -> frozenset[str]:
        found, open_ends = set[str](), [module]
        while open_ends:
            new = after[open_ends.pop()] - found
            found |= new
            open_ends += new
        return frozenset(found)

    return [
        f"{arrow.where}: {arrow.importer} imports {arrow.imported}, which leads back to it"
        for arrow in tree.arrows
        if arrow.importer in reached(arrow.imported)
    ]


@pytest.fixture(scope="module")
def tree() -> Tree:
    return Tree(SOURCE)


def test_every_room_stands_in_the_law(tree: Tree) -> None:
    rooms = {path.name for path in (SOURCE / PACKAGE).iterdir() if (path / "__init__.py").exists()}
    assert rooms == SEES.keys()
    assert len(tree.arrows) > 1000


def test_the_law_has_an_order() -> None:
    # No two rooms see each other, directly or by way of others.
    rooms = dict(SEES)
    while rooms:
        lowest = [room for room, seen in rooms.items() if not seen & rooms.keys()]
        assert lowest, f"these see one another in a circle: {sorted(rooms)}"
        rooms = {room: seen for room, seen in rooms.items() if room not in lowest}


def test_the_law_lets_no_writer_see_a_room_that_computes() -> None:
    for writer in WRITERS:
        assert not SEES[writer] & {*COMPUTING, "workflows", "cli"}


def test_nothing_points_up(tree: Tree) -> None:
    assert not broken(tree), "\n".join(broken(tree))


def test_no_import_goes_round_in_a_circle(tree: Tree) -> None:
    assert not circles(tree), "\n".join(circles(tree))


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    shutil.copytree(
        SOURCE / PACKAGE, tmp_path / PACKAGE, ignore=shutil.ignore_patterns("__pycache__", "data")
    )
    return tmp_path


def plant(source: Path, name: str, lines: str) -> str:
    """Write lines at the end of a module; give file and line of the last of them."""
    path = source / PACKAGE / name
    text = f"{path.read_text(encoding='utf-8')}\n{lines}"
    path.write_text(f"{text}\n", encoding="utf-8")
    return f"{PACKAGE}/{name}:{len(text.splitlines())}: "


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("terrain/grid.py", "from backbearing.sky.targets import CORE"),
        ("maps/night_page.py", "from backbearing.alignment.night.plan_night import plan_night"),
        ("plan/stand.py", "if TYPE_CHECKING:\n    from backbearing.land.walks import Walk"),
        ("exports/gpx.py", "from backbearing.plan import Plan"),
        ("maps/charts.py", "def late() -> None:\n    from backbearing.base.text import length"),
        ("base/geodesy.py", "import backbearing.sky.targets"),
    ],
)
def test_a_planted_arrow_breaks_the_law_at_its_line(
    tree: Tree, copied: Path, name: str, lines: str
) -> None:
    where = plant(copied, name, lines)
    (found,) = set(broken(Tree(copied))) - set(broken(tree))
    assert found.startswith(where)


def test_a_planted_circle_is_found_at_its_line(copied: Path) -> None:
    # For the type checker alone, and by way of a third module.
    for name, line in (
        ("base/geodesy.py", "from backbearing.base.cautions import GENERAL"),
        ("base/cautions.py", "from backbearing.base.version import __version__"),
    ):
        plant(copied, name, line)
    assert not circles(Tree(copied))
    hidden = "if TYPE_CHECKING:\n    from backbearing.base.geodesy import Line"
    where = plant(copied, "base/version.py", hidden)
    found = circles(Tree(copied))
    assert len(found) == 3
    assert any(one.startswith(where) for one in found)
