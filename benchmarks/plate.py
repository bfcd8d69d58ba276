"""Eight frames of 24 million pixels through ``review --stood --plate``: peak memory, CPU time.

Run ``python benchmarks/plate.py`` from the repository's root (some three minutes, most of it for
drawing the frames; ``--keep FOLDER`` keeps them for the next run). The review runs in a process of
its own, whose peak resident memory and CPU time are told.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "review"), str(ROOT / "tests")]

LENSES_MM = (14, 18, 24, 28, 35, 50, 70, 85)
WIDE_PX = 6000


def outing_of(folder: Path) -> Path:
    """Write the sample's outing with eight lenses and no session."""
    text = (ROOT / "sample_terrain" / "outing.toml").read_text(encoding="utf-8")
    head, rest = text.split("[[lens]]", 1)
    tail = rest[rest.index("[safety]") :]
    for one in (ROOT / "sample_terrain").iterdir():
        head = head.replace(f'"{one.name}"', f'"{one.as_posix()}"')
        tail = tail.replace(f'"{one.name}"', f'"{one.as_posix()}"')
    share = {14: 0.2, 18: 0.24, 24: 0.28}
    lenses = "".join(
        f"[[lens]]\nfocal_length_mm = {mm}\nf_number = 2.0\nshare = {share.get(mm, 0.36)}\n\n"
        for mm in LENSES_MM
    )
    file = folder / "outing.toml"
    file.write_text(head + lenses + tail, encoding="utf-8")
    return file


def draw(folder: Path, outing_file: Path) -> list[Path]:
    """Render a frame of each lens that has a stand; those that are there stay."""
    from frames_of_night import Truth, frame_of

    from backbearing.alignment import plan_night
    from backbearing.outing.load import load_outing
    from backbearing.plan.turns import at_turns

    plan = plan_night(load_outing(outing_file))
    files = []
    for i, lens in enumerate(one for one in at_turns(plan).lenses if one.stand is not None):
        file = folder / f"frame{i}.jpg"
        if not file.exists():
            truth = Truth(left_m=0.5, farther_m=0.3, height_m=7.2)
            frame_of(folder, plan, lens, truth, wide_px=WIDE_PX, name=file.name, seed=i)
        files.append(file)
    return files


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--keep", type=Path)
    asked.add_argument("--kind", default="png", choices=["png", "jpg", "tif", "html"])
    told = asked.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = told.keep or Path(made)
        folder.mkdir(parents=True, exist_ok=True)
        outing = outing_of(folder)
        files = draw(folder, outing)
        target = folder / f"plate.{told.kind}"
        started = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, "-c", "from backbearing.cli import main; main()", "review",
             str(outing), *map(str, files), "--stood", "--plate", str(target), "--overwrite"],
            check=True,
        )  # fmt: skip
        ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = ended.ru_utime + ended.ru_stime - started.ru_utime - started.ru_stime
    print(
        f"{len(files)} frames of {WIDE_PX} pixels across: {cpu:.1f} s of CPU, "
        f"peak {ended.ru_maxrss / 1024.0:.0f} MiB"
    )


if __name__ == "__main__":
    main()
