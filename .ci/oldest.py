"""Print the oldest release that pyproject.toml allows of each package that Backbearing needs.

For ``pip install --constraint``: what a test needs on top is not held.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parent.parent
EXTRAS = ("osm", "raw", "region", "review")


def oldest(line: str) -> str:
    """Give ``name==version`` for ``name>=version`` (or ``name==version``)."""
    wanted = Requirement(line)
    (bound,) = wanted.specifier
    if bound.operator not in (">=", "=="):
        raise SystemExit(f"{line}: write the oldest release that works, as {wanted.name}>=1.2.")
    return f"{wanted.name}=={bound.version}"


def main() -> None:
    """Print one line a package."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [line for extra in EXTRAS for line in project["optional-dependencies"][extra]]
    print("\n".join(map(oldest, [*project["dependencies"], *extras])))


if __name__ == "__main__":
    main()
