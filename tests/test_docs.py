"""The documents say what the code does."""

from __future__ import annotations

import re
import runpy
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from backbearing.base.references import REFERENCES
from backbearing.cli import COMMANDS

if TYPE_CHECKING:
    import pytest

ROOT = Path(__file__).resolve().parent.parent


def test_readmes_python_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", text, flags=re.DOTALL)
    monkeypatch.chdir(ROOT)
    exec(compile(code, "README.md", "exec"), {})  # noqa: S102  # our own text
    assert "40 mm 36.30" in capsys.readouterr().out


def test_readme_names_every_command() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in COMMANDS:
        assert f"| `{command}` |" in text


def test_readme_opens_with_the_job_then_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.index("You want one frame") < text.index("make demo") < text.index("make test")
    assert text.index("make test") < text.index("## ")


def test_references_page_is_up_to_date() -> None:
    module = runpy.run_path(str(ROOT / "docs" / "make_references.py"))
    page = (ROOT / "docs" / "references.md").read_text(encoding="utf-8")
    assert module["references_page"]() == page


def test_every_citation_has_a_reference() -> None:
    for path in sorted((ROOT / "src").rglob("*.py")):
        for key in re.findall(
            r"\[([A-Z][\w-]*\d{4}\w?|DE421|USNO)\]_", path.read_text(encoding="utf-8")
        ):
            assert key in REFERENCES, (path.name, key)


def test_every_name_that_the_documents_import_is_there() -> None:
    found = 0
    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        text = page.read_text(encoding="utf-8")
        for fence in re.findall(r"```python\n(.*?)```", text, flags=re.DOTALL):
            for module, names in re.findall(
                r"^from (backbearing[\w.]*) import (\([^)]*\)|[^\n]*)", fence, flags=re.MULTILINE
            ):
                for name in re.findall(r"(\w+)(?: as \w+)?", names.split("#")[0]):
                    assert hasattr(import_module(module), name), (page.name, module, name)
                    found += 1
    assert found > 40


def test_starter_outing_has_the_right_shape(tmp_path: Path) -> None:
    from backbearing.outing.load import load_outing

    starter = ROOT / "src" / "backbearing" / "data" / "starter_outing.toml"
    outing = load_outing(starter)
    assert outing.target.name
    assert len(outing.lenses) == 2
