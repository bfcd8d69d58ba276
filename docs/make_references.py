"""Write docs/references.md from the table in the package."""

from __future__ import annotations

from pathlib import Path

from backbearing.base.references import REFERENCES

HEAD = """# Sources of the formulas

Keys as they stand in docstrings and in `backbearing explain`. Made by `docs/make_references.py`.

"""


def references_page() -> str:
    """Return the page's text."""
    return HEAD + "".join(f"- **{key}** {REFERENCES[key]}.\n" for key in sorted(REFERENCES))


if __name__ == "__main__":
    Path(__file__).with_name("references.md").write_text(references_page(), encoding="utf-8")
