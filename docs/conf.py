"""How `make docs` builds the site: every page of this folder and the reference of the public names.

The site is read from disk as well as from a server: no font, script or picture of it comes from
elsewhere. A link that leads nowhere or a citation without a source stops the build.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sphinx.application import Sphinx

FOLDER = Path(__file__).resolve().parent
sys.path.insert(0, str(FOLDER))

from make_reference import write_reference  # noqa: E402  # from this folder

from backbearing.base.version import __version__  # noqa: E402

project = "Backbearing"
author = "the authors of Backbearing"
project_copyright = author
version = release = __version__

extensions = ["sphinx.ext.autodoc", "numpydoc", "myst_parser"]
source_suffix = {".rst": "restructuredtext", ".md": "markdown"}
exclude_patterns = ["README.md"]
myst_heading_anchors = 3
myst_enable_extensions = ["deflist"]

autodoc_member_order = "bysource"
autodoc_class_signature = "separated"
# The signature says the types, the docstring shapes and units.
numpydoc_show_class_members = False
default_role = None
add_module_names = False

# The list of sources is whole: a source that only `explain` names is no fault.
suppress_warnings = ["ref.citation"]

html_theme = "furo"
html_title = f"Backbearing {version}"
html_copy_source = False
html_show_sphinx = False
html_theme_options = {"navigation_with_keys": True}


def _citations(app: Sphinx, docname: str, source: list[str]) -> None:
    """Make the list of sources citable: `[Key]_` in a docstring leads to it."""
    if docname != "references":
        return
    head, _, rows = source[0].partition("\n- ")
    made = [
        f".. [{key}] {_plain(text)}"
        for key, text in re.findall(r"\*\*([^*]+)\*\* (.*)", f"- {rows}")
    ]
    source[0] = head + "\n```{eval-rst}\n" + "\n".join(made) + "\n```\n"


def _plain(text: str) -> str:
    """Keep what is only punctuation in a title from being read as markup."""
    return re.sub(r"([*`|_])", r"\\\1", text)


def setup(app: Sphinx) -> None:
    """Make the pages of the reference first, then read all pages."""
    app.connect("builder-inited", lambda app: write_reference(Path(app.srcdir) / "reference"))
    app.connect("source-read", _citations)
