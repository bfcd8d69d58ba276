"""Every number that people read is made in `base.numbers`: no other module formats one."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

SOURCE: Final = Path(__file__).resolve().parents[1] / "src" / "backbearing"

WRITERS: Final = ("cli", "drawing", "exports", "explain", "maps", "pictures", "sheet")

ALLOWED: Final = {
    "base/numbers.py": "the one place",
    "drawing/svg.py": "attributes of marks, not words, finite by the marks' own making",
}
"""Files that write numbers by themselves, and why."""

ROUNDED: Final = {
    "drawing/fonts.py": "a key of a memory of widths",
    "drawing/number_words.py": "goes on to `num`",
    "maps/charts.py": "whole turns are compared, nothing shown",
    "pictures/skyline_axes.py": "whole turns are compared, nothing shown",
}
"""Files of the writers' rooms that round for something else than showing, and why."""


def formatted_by_hand(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Lines that format a float, refusals aside: those quote what was written, as it was."""
    refusing = {
        id(node)
        for refusal in ast.walk(tree)
        if isinstance(refusal, ast.Raise)
        for node in ast.walk(refusal)
    }
    for node in ast.walk(tree):
        if id(node) in refusing:
            continue
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            parts = node.format_spec.values  # type: ignore[attr-defined]
            spec = "".join(p.value if isinstance(p, ast.Constant) else "0" for p in parts)
            # Those of clocks, such as %H:%M, end in letters of their own.
            if spec[-1:] in tuple("eEfFgGn%") and "%" not in spec[:-1]:
                yield node.lineno, ast.unparse(node)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod):
            if isinstance(node.left, ast.Constant) and isinstance(node.left.value, str):
                yield node.lineno, ast.unparse(node)
        elif isinstance(node, ast.Call) and ast.unparse(node.func) in ("format", "str.format"):
            yield node.lineno, ast.unparse(node)


def rounded_by_hand(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Calls of `round` with places: they keep the sign of zero, and `rounded` does not."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "round" and len(node.args) > 1:
            yield node.lineno, ast.unparse(node)


def test_no_module_formats_numbers_by_itself() -> None:
    found = [
        f"{path.relative_to(SOURCE)}:{line}: {what}"
        for path in sorted(SOURCE.rglob("*.py"))
        if path.relative_to(SOURCE).as_posix() not in ALLOWED
        for line, what in formatted_by_hand(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert not found, "use backbearing.base.numbers.num:\n" + "\n".join(found)


def test_no_writer_rounds_by_itself() -> None:
    found = [
        f"{path.relative_to(SOURCE)}:{line}: {what}"
        for room in WRITERS
        for path in sorted((SOURCE / room).rglob("*.py"))
        if path.relative_to(SOURCE).as_posix() not in ROUNDED
        for line, what in rounded_by_hand(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert not found, "use backbearing.base.numbers.rounded:\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("source", "caught"),
    [
        ("f'{x:.1f} m'", True),
        ("f'{x:.{n}f} m'", True),
        ("f'{x:g}'", True),
        ("f'{100 * x:.0%}'", True),
        ("'%.1f m' % x", True),
        ("format(x, '.1f')", True),
        ("raise ValueError(f'{x:g} is too much')", False),
        ("f'{time:%H:%M}'", False),
        ("f'{number:02d}'", False),
        ("f'{name:>10}'", False),
    ],
)
def test_the_check_sees_what_it_should(source: str, caught: bool) -> None:
    assert bool(list(formatted_by_hand(ast.parse(source)))) is caught


def test_every_exception_is_still_needed() -> None:
    for name in ALLOWED:
        tree = ast.parse((SOURCE / name).read_text(encoding="utf-8"))
        assert list(formatted_by_hand(tree)), name
    for name in ROUNDED:
        tree = ast.parse((SOURCE / name).read_text(encoding="utf-8"))
        assert list(rounded_by_hand(tree)), name
