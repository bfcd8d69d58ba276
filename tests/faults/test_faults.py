"""What is left on disk when the machine fails: whole files or none, no drafts, the same again.

Each command is killed where it writes, stopped by hand, or finds the disk full, a folder closed
or its reader gone; the run after it must give the same bytes as one that was never disturbed.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_terrain" / "outing.toml"
RUN = "from backbearing.cli import main; main()"
KILLS = int(os.environ.get("KILLS", "4"))
"""How many runs are killed at a moment of chance; `make faults` asks for 200."""

FIXED = {"SOURCE_DATE_EPOCH": "1811808000"}
EXPORTS = ("plan.json", "plan.geojson", "plan.csv", "plan.gpx", "plan.kml", "plan.ics")


def command(
    *words: object, code: str = RUN, before: Any = None, **env: str | None
) -> subprocess.Popen[str]:
    whole = {**os.environ, "PYTHONPATH": str(ROOT / "src"), **FIXED, **env}
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)],
        env={key: value for key, value in whole.items() if value is not None},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        preexec_fn=before,  # noqa: PLW1509
    )


def exporting(folder: Path) -> list[object]:
    words: list[object] = ["stand", SAMPLE]
    for name in EXPORTS:
        words += ["--export", folder / name]
    return words


def digests(folder: Path) -> dict[str, str]:
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.iterdir())
    }


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("undisturbed")
    child = command(*exporting(folder))
    _, said = child.communicate()
    assert child.returncode == 0, said
    return digests(folder)


# The process kills itself at the nth call of a function through which every file goes.
KILLED_AT = """
import os, signal, sys
from backbearing.base import files
name, count = sys.argv[1], int(sys.argv[2])
del sys.argv[1:3]
usual, calls = getattr(os, name), []
def call(*given, **named):
    calls.append(1)
    if len(calls) == count:
        os.kill(os.getpid(), signal.SIGKILL)
    return usual(*given, **named)
setattr(os, name, call)
from backbearing.cli import main
main()
"""


@pytest.mark.slow
@pytest.mark.parametrize(("name", "count"), [("fsync", 1), ("fsync", 6), ("link", 4)])
def test_killed_while_writing(
    tmp_path: Path, undisturbed: dict[str, str], name: str, count: int
) -> None:
    child = command(name, count, *exporting(tmp_path), code=KILLED_AT)
    child.communicate()
    assert child.returncode == -signal.SIGKILL
    for path, digest in digests(tmp_path).items():
        # Whatever has its name is whole; hidden drafts go with the next run.
        assert path.startswith(".") or digest == undisturbed[path]
    for path in tmp_path.iterdir():
        if not path.name.startswith("."):
            path.unlink()
    again = command(*exporting(tmp_path))
    assert again.communicate()[1].count("Traceback") == 0
    assert digests(tmp_path) == undisturbed


@pytest.mark.slow
def test_killed_at_any_moment(tmp_path: Path, undisturbed: dict[str, str]) -> None:
    chance = random.Random(20270605)  # noqa: S311
    died = 0
    for turn in range(KILLS):
        folder = tmp_path / str(turn)
        folder.mkdir()
        child = command(*exporting(folder))
        time.sleep(chance.uniform(0.2, 3.0))
        child.kill()
        child.communicate()
        died += child.returncode == -signal.SIGKILL
        for path, digest in digests(folder).items():
            assert path.startswith(".") or digest == undisturbed[path]
    assert died > 0


FULL_DISK = """
import os, sys
count = int(sys.argv.pop(1))
usual, calls = os.fsync, []
def call(handle):
    calls.append(1)
    if len(calls) == count:
        raise OSError(28, "No space left on device")
    return usual(handle)
os.fsync = call
from backbearing.cli import main
main()
"""


@pytest.mark.slow
@pytest.mark.parametrize("count", [1, len(EXPORTS)])
def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, count: int) -> None:
    child = command(count, *exporting(tmp_path), code=FULL_DISK)
    _, said = child.communicate()
    assert child.returncode == 1
    assert "No space left on device" in said
    assert "Traceback" not in said
    assert list(tmp_path.iterdir()) == []


def test_a_limit_on_the_size_of_files_is_told(tmp_path: Path) -> None:
    import resource

    def small() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (4_000, 4_000))
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    child = command("new", "--starter", tmp_path / "outing.toml", before=small)
    _, said = child.communicate()
    assert child.returncode == 1, said
    assert "could not be written" in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.getuid() == 0, reason="the superuser may write anywhere")
def test_a_closed_folder_is_told(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    child = command("new", "--starter", tmp_path / "outing.toml")
    _, said = child.communicate()
    assert child.returncode == 1
    assert "could not be written" in said


@pytest.mark.slow
def test_stopped_by_hand(tmp_path: Path) -> None:
    child = command(*exporting(tmp_path))
    time.sleep(1.0)
    child.send_signal(signal.SIGINT)
    _, said = child.communicate()
    if child.returncode == 0:
        pytest.skip("it was done before it was stopped")
    assert "Traceback" not in said
    assert all(not path.name.startswith(".") for path in tmp_path.iterdir())


@pytest.mark.parametrize("seconds", ["0", "4102444800"], ids=["1970", "2100"])
def test_a_clock_that_is_set_wrong_stops_nothing(tmp_path: Path, seconds: str) -> None:
    child = command("stand", SAMPLE, "--export", tmp_path / "plan.gpx", SOURCE_DATE_EPOCH=seconds)
    _, said = child.communicate()
    assert child.returncode == 0, said
    assert (tmp_path / "plan.gpx").stat().st_size > 1_000


@pytest.mark.slow
def test_two_writers_of_one_file(tmp_path: Path, undisturbed: dict[str, str]) -> None:
    target = tmp_path / "plan.gpx"
    both = [command("stand", SAMPLE, "--export", target) for _ in range(2)]
    codes = sorted(child.wait() for child in both)
    said = "".join(child.communicate()[1] for child in both)
    assert codes == [0, 1], said
    assert "already there" in said or "could not be written" in said
    assert digests(tmp_path) == {"plan.gpx": undisturbed["plan.gpx"]}


@pytest.mark.slow
@pytest.mark.parametrize(
    "env",
    [
        {"LC_ALL": "C", "LANG": None, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"HOME": None, "XDG_CACHE_HOME": None},
        {"HOME": "/nonexistent", "TMPDIR": None},
        {"TZ": "Pacific/Kiritimati"},
        {"PYTHONHASHSEED": "7"},
    ],
    ids=["locale C", "no home", "home gone", "another zone", "another hash seed"],
)
def test_whatever_surrounds_it_the_bytes_are_the_same(
    tmp_path: Path, undisturbed: dict[str, str], env: dict[str, str | None]
) -> None:
    child = command(*exporting(tmp_path), **env)
    _, said = child.communicate()
    assert child.returncode == 0, said
    assert digests(tmp_path) == undisturbed
