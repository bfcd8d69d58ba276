"""The public names: each loads, and each has an example in its docstring that runs.

A package's names stand in its ``__init__.pyi``. An example of a function or a class stands in its
docstring, that of a constant in the docstring of the module that defines it.
"""

from __future__ import annotations

import ast
import doctest
import re
import sys
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import pytest

import backbearing

if TYPE_CHECKING:
    from collections.abc import Iterator

PACKAGE: Final = Path(backbearing.__file__).resolve().parent
SAMPLE: Final = Path(__file__).resolve().parent.parent / "sample_terrain"

GIVEN: Final = ("plan", "elevation", "sample", "folder")
"""Names that an example may use without saying where they come from."""

SLOW: Final = {
    "crossing_times", "page_html", "plan_night", "plan_season", "rank_chunk", "scout",
    "scout_region", "sheet_html", "sheet_pdf", "views", "write_page", "write_previews",
    "write_sheet", "ChunkResult", "Context", "Ranking", "Season", "View",
}  # fmt: skip
"""Names whose examples take over a second and a half, or might."""

FLAGS: Final = doctest.ELLIPSIS


class Public(NamedTuple):
    """One name of a package's face."""

    package: str
    name: str

    @property
    def shown(self) -> str:
        """As one would import it."""
        return f"{self.package}.{self.name}"


def stubs() -> Iterator[tuple[str, list[str]]]:
    """Every package with a face, and the names that its stub lists."""
    for stub in sorted(PACKAGE.rglob("__init__.pyi")):
        parts = stub.parent.relative_to(PACKAGE.parent).parts
        tree = ast.parse(stub.read_text(encoding="utf-8"))
        lists = [node.names for node in tree.body if isinstance(node, ast.ImportFrom)]
        yield ".".join(parts), [alias.asname or alias.name for names in lists for alias in names]


PUBLIC: Final = [Public(package, name) for package, names in stubs() for name in names]
ONCE: Final = list(
    {id(getattr(import_module(p.package), p.name)): p for p in reversed(PUBLIC)}.values()
)
"""One way to each thing that is public."""


def test_faces_are_found() -> None:
    assert {package for package, _ in stubs()} >= {"backbearing", "backbearing.sky"}
    assert len(PUBLIC) > 120


@pytest.mark.parametrize("package", [package for package, _ in stubs()])
def test_a_face_lists_what_its_stub_lists_and_each_name_loads(package: str) -> None:
    module, names = import_module(package), dict(stubs())[package]
    assert len(set(names)) == len(names)
    own = {"__version__"} if package == "backbearing" else set()
    assert set(dir(module)) - own == set(names)
    for name in names:
        assert getattr(module, name) is not None
    assert set(module.__all__) - own == set(names)
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = module.no_such_name


def documented(public: Public) -> Any:
    """The thing in whose docstring a name's example stands."""
    thing = getattr(import_module(public.package), public.name)
    if isinstance(thing, type) or callable(thing):
        return thing
    (home,) = {
        module
        for name, module in list(sys.modules.items())
        if name.startswith("backbearing.")
        and public.name in vars(module)
        and re.search(rf"(?m)^{public.name}\b.*=", source_of(module))
    }
    return home


def source_of(module: Any) -> str:
    """The text of a module."""
    return Path(module.__file__).read_text(encoding="utf-8")


def examples_of(public: Public) -> doctest.DocTest:
    """The examples in a name's docstring; nothing is run."""
    text = documented(public).__doc__ or ""
    return doctest.DocTestParser().get_doctest(text, {}, public.shown, None, 0)


def marks(public: Public) -> list[pytest.MarkDecorator]:
    """Slow ones; Dask's keep company with its other tests, as its sockets outlive a test."""
    found = [pytest.mark.slow] if public.name in SLOW else []
    if public.name == "scout_region":
        found += [
            pytest.mark.xdist_group("dask"),
            pytest.mark.filterwarnings("ignore::ResourceWarning"),
            pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
            pytest.mark.filterwarnings("ignore::DeprecationWarning"),
            pytest.mark.filterwarnings("ignore::FutureWarning"),
        ]
    return found


@pytest.mark.parametrize("public", [pytest.param(p, marks=marks(p), id=p.shown) for p in ONCE])
def test_each_name_has_an_example_that_runs(
    public: Public, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    test = examples_of(public)
    code = "".join(example.source for example in test.examples)
    assert test.examples, f"{public.shown} has no example in its docstring"
    assert any(example.want for example in test.examples), f"{public.shown}: show what comes out"
    test.globs.update(given(code, request, tmp_path))
    runner = doctest.DocTestRunner(optionflags=FLAGS, verbose=False)
    said: list[str] = []
    runner.run(test, out=said.append, clear_globs=False)
    assert not runner.failures, "".join(said)
    assert is_shown(public, code, test.globs), f"the example of {public.shown} does not use it"


def is_shown(public: Public, code: str, after: dict[str, Any]) -> bool:
    """Whether an example names a thing, or leaves an instance of the class behind."""
    thing = documented(public)
    if re.search(rf"\b{public.name}\b", code):
        return True
    left = [v for value in after.values() for v in (value, *members(value))]
    return isinstance(thing, type) and any(isinstance(value, thing) for value in left)


def members(value: Any) -> tuple[Any, ...]:
    """What a list or a tuple holds."""
    return tuple(value) if isinstance(value, list | tuple) else ()


def given(code: str, request: pytest.FixtureRequest, tmp_path: Path) -> dict[str, Any]:
    """What an example uses of ``GIVEN``; the plan is made only for one that does."""
    used = [
        name
        for name in GIVEN
        if re.search(rf"(?<![\w.]){name}\b", code) and not re.search(rf"(?m)^{name} = ", code)
    ]
    ready = {"sample": SAMPLE, "folder": tmp_path}
    return {name: ready[name] if name in ready else request.getfixturevalue(name) for name in used}
