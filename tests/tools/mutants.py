"""Count what `mutmut run` has found so far: mutants noticed by the tests, module by module."""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
UNTRIED, LIVED, UNCOVERED = None, 0, (5, 33)  # exit codes, as mutmut has them


def counted(meta: Path) -> Counter[str]:
    """Noticed, lived, covered by no test and not yet tried, by mutmut's notes on one module."""
    found: Counter[str] = Counter()
    for code in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"].values():
        named = {UNTRIED: "not tried", LIVED: "lived", **dict.fromkeys(UNCOVERED, "not covered")}
        found[named.get(code, "noticed")] += 1
    return found


def main() -> int:
    """Print a line for each module."""
    source = ROOT / "mutants" / "src" / "backbearing"
    total: Counter[str] = Counter()
    for meta in sorted(source.rglob("*.meta")):
        one = counted(meta)
        if one:
            print(f"{_line(one)}  {meta.relative_to(source).as_posix().removesuffix('.meta')}")
            total += one
    if not total:
        print("No mutants: run `mutmut run` first.")
        return 1
    print(f"{_line(total)}  in all")
    return 0


def _line(one: Counter[str]) -> str:
    tried = one.total() - one["not tried"]
    rest = ", ".join(f"{one[name]} {name}" for name in ("not covered", "not tried") if one[name])
    return f"{one['noticed']:5} of {tried:5} noticed" + (f" ({rest})" if rest else "")


if __name__ == "__main__":
    sys.exit(main())
