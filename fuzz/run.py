"""Give every reader hostile bytes for as long as one says, and count what became of them.

python fuzz/run.py --seconds 600          all readers, shared over the time
python fuzz/run.py --cases 50000 outing   one reader, so many cases
python fuzz/run.py --again outing 1234    one case once more, with its trace

A reading may end in an answer or in an error of this package, in one line. Anything else is a
find: it is kept in fuzz/finds, printed with its number, and the run ends with code 1.
"""

from __future__ import annotations

import argparse
import faulthandler
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cases import mutated
from readers import readers

from backbearing.base.errors import BackbearingError

if TYPE_CHECKING:
    from cases import Reader

FINDS = Path(__file__).resolve().parent / "finds"
MOST_SECONDS = 10.0
MOST_BYTES = 4_000_000_000


class HangError(BaseException):
    """A reading took longer than ten seconds."""


def main() -> int:
    """Run as the command line says."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("names", nargs="*", help="readers; all when left out")
    words.add_argument("--seconds", type=float, default=60.0)
    words.add_argument("--cases", type=int, default=0, help="cases of each reader")
    words.add_argument("--first", type=int, default=0, help="number of the first case")
    words.add_argument("--again", nargs=2, metavar=("READER", "NUMBER"))
    asked = words.parse_args()
    warnings.simplefilter("ignore")
    known = readers()
    if asked.again:
        return _again(known[asked.again[0]], int(asked.again[1]))
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    faulthandler.enable()
    signal.signal(signal.SIGALRM, _hang)
    chosen = [known[name] for name in asked.names] if asked.names else list(known.values())
    found = 0
    for reader in chosen:
        seconds = 0.0 if asked.cases else asked.seconds / len(chosen)
        found += _try(reader, asked.first, asked.cases, seconds)
    return 1 if found else 0


def _try(reader: Reader, first: int, cases: int, seconds: float) -> int:
    count: Counter[str] = Counter()
    slowest, began, number = 0.0, time.monotonic(), first
    with tempfile.TemporaryDirectory(dir=_quick_folder()) as folder:
        path = Path(folder) / reader.file
        while number - first < cases if cases else time.monotonic() - began < seconds:
            data = mutated(reader, number)
            path.write_bytes(data)
            start = time.monotonic()
            what, trace = _outcome(reader, path)
            slowest = max(slowest, time.monotonic() - start)
            count[what] += 1
            if trace:
                _keep(reader, number, data, trace)
            number += 1
    spent = time.monotonic() - began
    print(
        f"{reader.name:12} {number - first:>8,} cases in {spent:6.1f} s: "
        f"{count['read']:,} read, {count['refused']:,} refused, {count['find']} finds, "
        f"{count['hang']} hangs; slowest {slowest:.2f} s",
        flush=True,
    )
    return count["find"] + count["hang"]


def _outcome(reader: Reader, path: Path) -> tuple[str, str]:
    signal.setitimer(signal.ITIMER_REAL, MOST_SECONDS)
    try:
        reader.read(path)
    except BackbearingError as problem:
        said = str(problem)
        if "\n" in said or len(said) > 2_000:
            return "find", f"not one short sentence: {said[:500]!r}"
        return "refused", ""
    except HangError:
        return "hang", traceback.format_exc()
    except BaseException:  # whatever it is, it is a find
        return "find", traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    return "read", ""


def _keep(reader: Reader, number: int, data: bytes, trace: str) -> None:
    FINDS.mkdir(exist_ok=True)
    stem = f"{reader.name.replace(' ', '-')}-{number}"
    (FINDS / f"{stem}{Path(reader.file).suffix}").write_bytes(data)
    (FINDS / f"{stem}.txt").write_text(trace, encoding="utf-8")
    print(f"FIND {reader.name} {number}: {trace.strip().splitlines()[-1][:160]}", flush=True)


def _again(reader: Reader, number: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / reader.file
        path.write_bytes(mutated(reader, number))
        print(mutated(reader, number)[:2_000])
        print(reader.read(path))
    return 0


def _hang(*_: Any) -> None:
    raise HangError


def _quick_folder() -> str | None:
    memory = "/dev/shm"  # noqa: S108  # each run makes a folder of its own in it
    return memory if os.access(memory, os.W_OK) else None


if __name__ == "__main__":
    sys.exit(main())
