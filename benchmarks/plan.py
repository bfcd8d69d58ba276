"""Time the plan of a night against an earlier commit and against a plain loop, in one run.

Run ``python benchmarks/plan.py`` from the repository's root (about three minutes). The earlier
commit is checked out beside this one with ``git worktree`` and runs in processes of its own, in
turn with ours, so that a machine whose speed drifts drifts for both; CPU time is told, so that
others at work on it count less. The questions of a prepared night are told as shares of a whole
plan, whole commands as multiples of a bare interpreter's start. ``--same`` also compares the two
plans number by number.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
EARLIER = "577d53f"
OUTING = ROOT / "sample_terrain" / "outing.toml"

IN_PROCESS = """
import json, resource, statistics, sys, time
from dataclasses import replace
from backbearing.alignment import plan_night
from backbearing.outing import load_outing
asked = load_outing(sys.argv[1])
ground = asked.ground.open()
def spent():
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime
def timed(outing):
    start = spent()
    plan_night(outing, ground)
    return spent() - start
bare = replace(asked, session=None)
first = timed(asked)
told = {
    "first": first,
    "session": [timed(asked) for _ in range(int(sys.argv[2]))],
    "bare": [timed(bare) for _ in range(int(sys.argv[2]))],
    "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
}
print(json.dumps(told))
"""

PREPARED = """
import json, resource, statistics, sys
from dataclasses import replace
from backbearing.alignment import plan_night, prepare_night
from backbearing.outing import load_outing
asked = replace(load_outing(sys.argv[1]), session=None)
ground = asked.ground.open()
def spent(work):
    def once():
        before = resource.getrusage(resource.RUSAGE_SELF)
        work()
        after = resource.getrusage(resource.RUSAGE_SELF)
        return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    once()
    return statistics.median(once() for _ in range(int(sys.argv[2])))
night = prepare_night(asked, ground)
lenses = asked.lenses[1:]
print(json.dumps({
    "plan_night, no session": spent(lambda: plan_night(asked, ground)),
    "prepare_night": spent(lambda: prepare_night(asked, ground)),
    "points at a minute": spent(lambda: night.points_at("01:00")),
    "stands at a minute": spent(lambda: night.stands_at("01:00")),
    "arcs of all lenses": spent(lambda: replace(night).arcs()),
    "arcs, another share": spent(lambda: night.with_share(0.3).arcs()),
    "arcs, another height": spent(lambda: night.with_subject_height(8.0).arcs()),
    "arcs, another eye": spent(lambda: night.with_eye_height(1.1).arcs()),
    "arcs, other lenses": spent(lambda: night.with_lenses(lenses).arcs()),
    "arcs, a metre away": spent(
        lambda: night.with_subject_moved(azimuth_deg=90.0, distance_m=1.0).arcs()
    ),
    "arcs, a kilometre away": spent(
        lambda: night.with_subject_moved(azimuth_deg=200.0, distance_m=1000.0).arcs()
    ),
}))
"""

COMMAND = "from backbearing.cli import main; main()"

COMMANDS: dict[str, list[str]] = {
    "--help": ["--help"],
    "stand, no session": ["stand", "{bare}"],
    "stand": ["stand", "{outing}"],
    "explain, a number": ["explain", "{outing}", "85mm.distance_m"],
    "explain, misspelt": ["explain", "{outing}", "85mm.distanze_m"],
    "ridge, one lens": ["ridge", "{outing}", "--lens", "85"],
    "nights": ["nights", "{outing}"],
    "sheet": ["sheet", "{outing}", "--pdf", "{into}/s.pdf", "--overwrite"],
    "demo": ["demo", "--outing", "{outing}", "--into", "{into}/demo"],
}

COLD = "demo"
"""The command that is also told with no compiled code kept, once: compiling takes a while."""


def environment(tree: Path, **more: str) -> dict[str, str]:
    found = {**os.environ, "PYTHONPATH": str(tree / "src"), "PYTHONWARNINGS": "ignore", **more}
    # Compiled Python files are kept, as an installed package has them.
    found.pop("PYTHONDONTWRITEBYTECODE", None)
    return found


def children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def run(tree: Path, words: list[str], cwd: Path, **more: str) -> tuple[float, str]:
    """CPU seconds (user and system) and what was said; ``more`` goes to the environment."""
    start = children_s()
    done = subprocess.run(
        [sys.executable, *words],
        env=environment(tree, **more), cwd=cwd, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return children_s() - start, done.stdout or done.stderr


def peak_mb(tree: Path, words: list[str], cwd: Path) -> float:
    """Peak memory of the command alone: a small parent runs it and asks the system."""
    parent = (
        "import resource, subprocess, sys;"
        "subprocess.run(sys.argv[1:], capture_output=True, check=False);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"
    )
    _, said = run(tree, ["-c", parent, sys.executable, *words], cwd)
    return float(said.split()[-1])


def in_process(trees: dict[str, Path], times: int) -> None:
    print("plan_night on the sample, four lenses, in the process (medians, CPU seconds)")
    rounds: dict[str, list[dict[str, Any]]] = {name: [] for name in trees}
    for _ in range(2):
        for name, tree in trees.items():
            _, said = run(tree, ["-c", IN_PROCESS, str(OUTING), str(times)], ROOT)
            rounds[name].append(json.loads(said.splitlines()[-1]))
    for name, told in rounds.items():
        session = statistics.median(s for one in told for s in one["session"])
        bare = statistics.median(s for one in told for s in one["bare"])
        print(
            f"  {name:8}  with session {session:7.3f}   without {bare:7.3f}   first "
            f"{min(one['first'] for one in told):6.2f}   peak {told[-1]['peak_mb']:5.0f} MB"
        )
    ours, theirs = rounds["ours"], rounds["earlier"]
    for what in ("session", "bare"):
        pairs = [
            statistics.median(b[what]) / statistics.median(a[what])
            for a, b in zip(ours, theirs, strict=True)
        ]
        print(f"  earlier / ours, {what}: {min(pairs):.1f} to {max(pairs):.1f}")


def prepared(times: int) -> None:
    """Tell what the questions of a prepared night cost beside a whole plan, in one process."""
    _, said = run(ROOT, ["-c", PREPARED, str(OUTING), str(max(5, times))], ROOT)
    told = json.loads(said.splitlines()[-1])
    whole = told["plan_night, no session"]
    print(
        "a prepared night on the sample, four lenses (medians, CPU milliseconds, share of a plan)"
    )
    for name, seconds in told.items():
        print(f"  {name:26} {1e3 * seconds:7.1f} ms   {seconds / whole:5.2f}")


def commands(trees: dict[str, Path], times: int, into: Path) -> None:
    bare_outing = into / "bare.toml"
    text = OUTING.read_text(encoding="utf-8")
    start, end = text.index("[session]"), text.index("[safety]")
    text = text[:start] + text[end:]
    for file in OUTING.parent.iterdir():
        text = text.replace(f'"{file.name}"', f'"{file.as_posix()}"')
    bare_outing.write_text(text, encoding="utf-8")
    places = {"{outing}": str(OUTING), "{bare}": str(bare_outing), "{into}": str(into)}
    print(
        "whole commands, warm, CPU: multiples of a bare interpreter's start (median), and peak MB"
    )
    print(f"  {'':22}" + "".join(f"{name:>20}" for name in trees))
    for label, words in COMMANDS.items():
        filled = filled_in(words, places)
        spent: dict[str, list[float]] = {name: [] for name in trees}
        for tree in trees.values():
            run(tree, filled, ROOT)
        for _ in range(times):
            start_s = statistics.median(run(ROOT, ["-c", "pass"], ROOT)[0] for _ in range(5))
            for name, tree in trees.items():
                spent[name].append(run(tree, filled, ROOT)[0] / start_s)
        row = f"  {label:22}"
        for name, tree in trees.items():
            row += f"{statistics.median(spent[name]):10.0f} x{peak_mb(tree, filled, ROOT):6.0f} MB"
        print(row)
    for name, tree in trees.items():
        with tempfile.TemporaryDirectory() as empty:
            words = filled_in(COMMANDS[COLD], places)
            spent_s, _ = run(tree, words, ROOT, NUMBA_CACHE_DIR=empty)
        print(f"  {COLD}, no compiled code kept: {name} {spent_s:.1f} s of CPU")


def filled_in(words: list[str], places: dict[str, str]) -> list[str]:
    filled = ["-c", COMMAND]
    for word in words:
        for key, value in places.items():
            word = word.replace(key, value)  # noqa: PLW2901
        filled.append(word)
    return filled


def plain_loop() -> None:  # noqa: PLR0915  # one straight loop is the point
    """Do it as one would by hand: Skyfield at each minute, a march along each ray, bisection."""
    import math

    import numpy as np
    from pyproj import Geod
    from skyfield.api import Star, load, load_file, wgs84
    from skyfield_data import get_skyfield_data_path

    from backbearing.outing import load_outing

    asked = load_outing(OUTING)
    ground = asked.ground.open()
    heights = np.asarray(ground.heights_m)
    geod = Geod(ellps="WGS84")
    inverse = ~ground.transform
    subject, framing = asked.subject, asked.framing

    def height(lat: float, lon: float) -> float:
        col, row = inverse * (lon, lat)
        row, col = row - 0.5, col - 0.5
        i, j = math.floor(row), math.floor(col)
        u, v = row - i, col - j
        cell = heights[i : i + 2, j : j + 2]
        return float(
            (cell[0, 0] * (1 - v) + cell[0, 1] * v) * (1 - u)
            + (cell[1, 0] * (1 - v) + cell[1, 1] * v) * u
        )

    began = time.perf_counter()
    earth = load_file(str(Path(get_skyfield_data_path()) / "de421.bsp"))["earth"]
    scale = load.timescale(builtin=True)
    core = Star(ra_hours=266.41683 / 15.0, dec_degrees=-29.00781)
    base_m = height(subject.lat, subject.lon)
    minutes = 0
    for lens in asked.lenses:
        tall = 2 * math.atan(asked.camera.sensor_height_mm / 2 / lens.lens.focal_length_mm)
        asked_angle = framing.share * tall
        for minute in range(0, 600, 2):
            here = earth + wgs84.latlon(subject.lat, subject.lon, base_m)
            time_now = scale.utc(2027, 6, 6, 0, minute)
            alt, az, _ = here.at(time_now).observe(core).apparent().altaz("standard")
            if alt.degrees <= 0.0:
                continue
            minutes += 1
            near, far = 1.0, 500.0
            for _ in range(40):
                middle = (near + far) / 2
                lon, lat, _ = geod.fwd(subject.lon, subject.lat, az.degrees + 180.0, middle)
                up = base_m - height(lat, lon) - framing.eye_height_m
                angle = math.atan2(up + subject.height_m, middle) - math.atan2(up, middle)
                near, far = (middle, far) if angle > asked_angle else (near, middle)
            eye = height(lat, lon) + framing.eye_height_m
            best, step, at = -90.0, 15.0, 30.0
            while at < 40_000.0:
                lon2, lat2, _ = geod.fwd(lon, lat, az.degrees, at)
                col, row = inverse * (lon2, lat2)
                if not (1 < row < heights.shape[0] - 2 and 1 < col < heights.shape[1] - 2):
                    break
                drop = at * at * (1 - 0.13) / (2 * 6_371_000.0)
                best = max(best, math.degrees(math.atan2(height(lat2, lon2) - eye - drop, at)))
                at += step
    spent = time.perf_counter() - began
    print(f"plain loop: {minutes} lens-minutes (no edges, no session, no doubt) in {spent:.1f} s")


def same(trees: dict[str, Path], into: Path) -> None:
    plans = []
    for tree in trees.values():
        words = ["-c", COMMAND, "stand", str(OUTING), "--json"]
        plans.append(json.loads(run(tree, words, into)[1]))
    worst: dict[str, float] = {}
    missing: list[str] = []

    def walk(one: Any, other: Any, key: str, path: str) -> None:
        if isinstance(one, dict) and isinstance(other, dict):
            missing.extend(f"{path}.{name}" for name in one.keys() - other.keys())
            for name in one.keys() & other.keys():
                walk(one[name], other[name], name, f"{path}.{name}")
        elif isinstance(one, list) and isinstance(other, list):
            if len(one) != len(other):
                missing.append(f"{path}: {len(one)} and {len(other)}")
            for i, (a, b) in enumerate(zip(one, other, strict=False)):
                walk(a, b, key, f"{path}[{i}]")
        elif isinstance(one, int | float) and isinstance(other, int | float):
            worst[key] = max(worst.get(key, 0.0), abs(one - other))
        elif one != other and key not in ("made", "version"):
            missing.append(f"{path}: {str(one)[:60]!r} and {str(other)[:60]!r}")

    walk(plans[1], plans[0], "", "")
    print("largest differences of the two plans, by key")
    for key, off in sorted(worst.items(), key=lambda pair: -pair[1])[:15]:
        print(f"  {key:28} {off:.3g}")
    for line in missing[:20]:
        print(f"  differs: {line}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--same", action="store_true", help="compare the plans' numbers too")
    parser.add_argument("--only", choices=["process", "prepared", "commands", "loop", "same"])
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        into = Path(folder)
        earlier = into / "earlier"
        subprocess.run(
            ["git", "worktree", "add", "--detach", "--quiet", str(earlier), EARLIER],
            cwd=ROOT, check=True,
        )  # fmt: skip
        trees = {"ours": ROOT, "earlier": earlier}
        try:
            if asked.only in (None, "process"):
                in_process(trees, asked.times)
            if asked.only in (None, "prepared"):
                prepared(asked.times)
            if asked.only in (None, "commands"):
                commands(trees, asked.times, into)
            if asked.only in (None, "loop"):
                plain_loop()
            if asked.same or asked.only == "same":
                same(trees, into)
        finally:
            subprocess.run(
                ["git", "worktree", "remove", "--force", str(earlier)], cwd=ROOT, check=False
            )


if __name__ == "__main__":
    main()
