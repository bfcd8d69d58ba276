"""Record the plans of an earlier commit: in ``tests``, ``python -m held_plans.record``.

The commit is checked out beside this one with ``git worktree`` and plans in processes of its own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

from held_plans.outings import OUTINGS, kept, write

HERE: Final = Path(__file__).resolve().parent
EARLIER: Final = "577d53f"
COMMAND: Final = "from backbearing.cli import main; main()"


def main() -> None:
    """Check the commit out, plan every outing with it, and write what is held."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        tree = folder / "earlier"
        git = ["git", "-C", str(HERE), "worktree"]
        subprocess.run([*git, "add", "--detach", "--quiet", str(tree), EARLIER], check=True)
        try:
            plans = {one: planned(tree, write(folder, one)) for one in OUTINGS}
        finally:
            subprocess.run([*git, "remove", "--force", str(tree)], check=True)
    text = json.dumps({"commit": EARLIER, "plans": plans}, indent=None, separators=(",", ":"))
    (HERE / "plans.json").write_text(text.replace('{"stand"', '\n{"stand"') + "\n", "utf-8")


def planned(tree: Path, outing: Path) -> list[dict[str, object]]:
    """What the checkout in a folder says of an outing."""
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, "stand", str(outing), "--json"],
        env=os.environ | {"PYTHONPATH": str(tree / "src")}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    return kept(json.loads(done.stdout))


if __name__ == "__main__":
    main()
