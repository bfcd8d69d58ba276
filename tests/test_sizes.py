"""What fits into one head: fields of a value, parameters of a function, lines of a module."""

from __future__ import annotations

import ast
from pathlib import Path

import backbearing

ROOT = Path(backbearing.__file__).parent
MOST_FIELDS = 15
MOST_PARAMETERS = 8
MOST_LINES = 400
LONG_FUNCTION = 40

_DOCUMENTED = "its keywords are documented in docs/python.md and stay; it gathers them at once"
_DRAWN = "a picture's own words and switches, each by keyword"

MORE_PARAMETERS = {
    "alignment/night/crossings.py:crossing_times": _DOCUMENTED,
    "alignment/stand/stands.py:find_stands": _DOCUMENTED,
    "sky/darkness.py:dark_windows": _DOCUMENTED,
    "terrain/elevation.py:Elevation.horizon": _DOCUMENTED,
    "terrain/elevation.py:Elevation.skylines": _DOCUMENTED,
    "scouting/run/run.py:scout": "the same in docs/scouting.md",
    "scouting/run/dask_cluster.py:scout_region": "the same in docs/region.md",
    "pictures/skyline_picture.py:draw_skyline": _DRAWN,
}
"""Functions with more parameters than eight, and why; compiled kernels aside."""

COMPILED = {"_compiled", "_inlined", "compiled", "apart", "kept", "njit"}
"""What numba compiles, in modules that import it, takes arrays and numbers and no value objects."""

LONGER_MODULES = {
    "terrain/elevation.py": "one class with its documented ways in and out",
}


def modules() -> list[tuple[str, str]]:
    """Name below the package, and text, of every module."""
    return [
        (path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8"))
        for path in sorted(ROOT.rglob("*.py"))
    ]


def functions(text: str) -> list[tuple[str, ast.FunctionDef]]:
    """Every function of a module under its own and its class's name."""
    found = []

    def look(node: ast.AST, within: str) -> None:
        for child in ast.iter_child_nodes(node):
            name = within
            if isinstance(child, ast.ClassDef | ast.FunctionDef):
                name = f"{within}.{child.name}".lstrip(".")
            if isinstance(child, ast.FunctionDef):
                found.append((name, child))
            look(child, name)

    look(ast.parse(text), "")
    return found


def parameters(function: ast.FunctionDef) -> int:
    """How many things a function is given, itself or its class aside."""
    args = function.args
    names = [one.arg for one in (*args.posonlyargs, *args.args, *args.kwonlyargs)]
    more = (args.vararg is not None) + (args.kwarg is not None)
    return len(names) + more - (names[:1] in (["self"], ["cls"]))


def is_compiled(function: ast.FunctionDef, text: str) -> bool:
    """Whether numba makes machine code of a function of this module."""
    names = {ast.unparse(one).partition("(")[0] for one in function.decorator_list}
    return bool(names & COMPILED) and "from numba import" in text


def fields(node: ast.ClassDef) -> int:
    """How many fields a value class has; what it reads through to a part is none."""
    lines = [one for one in node.body if isinstance(one, ast.AnnAssign)]
    return sum("ClassVar" not in ast.unparse(one.annotation) for one in lines)


def is_value(node: ast.ClassDef) -> bool:
    """Whether a class is a dataclass, a named tuple or a model of a file's section."""
    made = [ast.unparse(one) for one in (*node.decorator_list, *node.bases)]
    return any("dataclass" in one or "NamedTuple" in one for one in made)


def test_no_value_has_more_fields_than_one_remembers() -> None:
    found = [
        f"{where}:{node.name} has {fields(node)}"
        for where, text in modules()
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ClassDef) and is_value(node) and fields(node) > MOST_FIELDS
    ]
    assert not found


def test_no_function_is_given_more_than_one_remembers() -> None:
    found = {
        f"{where}:{name}"
        for where, text in modules()
        for name, function in functions(text)
        if parameters(function) > MOST_PARAMETERS and not is_compiled(function, text)
    }
    assert found - set(MORE_PARAMETERS) == set()
    assert set(MORE_PARAMETERS) - found == set(), "no longer needs its reason"


def test_no_module_is_longer_than_one_reads() -> None:
    found = {where for where, text in modules() if len(text.splitlines()) > MOST_LINES}
    assert found - set(LONGER_MODULES) == set()
    assert set(LONGER_MODULES) - found == set(), "no longer needs its reason"


def test_few_functions_are_long(record_property) -> None:  # type: ignore[no-untyped-def]
    """The share is told, not held: a long docstring makes a short function long."""
    lengths = [
        (function.end_lineno or 0) - function.lineno + 1
        for _, text in modules()
        for _, function in functions(text)
    ]
    long = sum(length > LONG_FUNCTION for length in lengths)
    print(f"{long} of {len(lengths)} functions ({long / len(lengths):.1%}) over 40 lines")
    record_property("functions_over_40_lines", long / len(lengths))
    assert len(lengths) > 1000
