"""The documents build as a site that stands alone, and a broken one does not build."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parent.parent


def built(source: Path, out: Path, *, pages: str = "html") -> subprocess.CompletedProcess[str]:
    """Build as `make docs` does: every warning is an error."""
    return subprocess.run(
        [
            sys.executable,
            "-m",
            "sphinx",
            "-q",
            "-W",
            "--keep-going",
            "-E",
            "-b",
            pages,
            source,
            out,
        ],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    shutil.copytree(ROOT / "docs", folder / "docs", ignore=shutil.ignore_patterns("reference"))
    (folder / "maps").mkdir()
    for picture in (ROOT / "maps").glob("example*"):
        shutil.copy(picture, folder / "maps")
    done = built(folder / "docs", folder / "out")
    assert done.returncode == 0, done.stderr[:3000]
    return folder / "out"


def test_the_site_holds_every_document_and_every_public_name(site: Path) -> None:
    for page in (ROOT / "docs").glob("*.md"):
        assert (site / f"{page.stem}.html").exists(), page.name
    for stub in (ROOT / "src" / "backbearing").glob("*/__init__.pyi"):
        package = stub.parent.name
        shown = (site / "reference" / f"backbearing.{package}.html").read_text(encoding="utf-8")
        for name in re.findall(r" as (\w+)$", stub.read_text(encoding="utf-8"), flags=re.MULTILINE):
            assert re.search(rf"\b{name}\b", shown), (package, name)


def test_the_commands_stand_in_it(site: Path) -> None:
    from backbearing.cli import COMMANDS

    shown = (site / "reference" / "commands.html").read_text(encoding="utf-8")
    for command in COMMANDS:
        assert f"Usage: backbearing {command} " in shown


def test_nothing_of_it_comes_from_elsewhere(site: Path) -> None:
    pages = [*site.rglob("*.html"), *site.rglob("*.css")]
    assert len(pages) > 20
    for page in pages:
        text = page.read_text(encoding="utf-8")
        brought = re.findall(r"<(?:script|img|iframe|source)[^>]*\bsrc=\"([^\"]*)\"", text)
        brought += re.findall(r"<link[^>]*\brel=\"stylesheet\"[^>]*\bhref=\"([^\"]*)\"", text)
        brought += re.findall(r"<link[^>]*\bhref=\"([^\"]*)\"[^>]*\brel=\"stylesheet\"", text)
        brought += re.findall(r"(?:url\(|@import )[\"']?([^\"')]*)", text)
        assert not [target for target in brought if re.match(r"(?:https?:)?//", target)], page.name


@pytest.mark.parametrize(
    ("slip", "says"),
    [
        ("[gone](no-such-page.md)", "no-such-page"),
        ("[gone](index.md#no-such-heading)", "no-such-heading"),
        ("```{eval-rst}\nSee [Nobody1900]_.\n```", "Nobody1900"),
    ],
)
def test_a_broken_link_or_citation_stops_the_build(tmp_path: Path, slip: str, says: str) -> None:
    """A folder of two small pages with the site's own settings, so that it builds in seconds."""
    conf = (ROOT / "docs" / "conf.py").read_text(encoding="utf-8")
    conf = re.sub(r"    app.connect\(\"builder-inited\".*\n", "", conf)
    conf = conf.replace("from make_reference import", "from reference_less import")
    (tmp_path / "reference_less.py").write_text("def write_reference(folder):\n    pass\n")
    (tmp_path / "conf.py").write_text(conf, encoding="utf-8")
    (tmp_path / "index.md").write_text("# Home\n\n```{toctree}\npage\n```\n", encoding="utf-8")
    (tmp_path / "page.md").write_text("# Page\n\nAll is well.\n", encoding="utf-8")
    assert built(tmp_path, tmp_path / "out", pages="dummy").returncode == 0
    (tmp_path / "page.md").write_text(f"# Page\n\n{slip}\n", encoding="utf-8")
    done = built(tmp_path, tmp_path / "out", pages="dummy")
    assert done.returncode != 0
    assert says in done.stderr
