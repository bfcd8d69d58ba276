"""Compiled code is kept where the user may write, and nothing ends where he may not."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import backbearing
from backbearing.base.kept_code import SAYING, own_folder

PROGRAM = """
import numpy as np
from backbearing.base.kept_code import when_compiling
when_compiling(print)
from backbearing.scouting.ranking._drop_kernels import falls_and_levels
z = np.array([[10.0, 0.0], [10.0, 0.0]])
fall, over, level = np.zeros(1), np.zeros(1), np.zeros(1)
falls_and_levels(z, np.zeros(1), np.zeros(1), 30.0, 30.0, 100.0, 0.1, fall, over, level)
print(fall[0], over[0], int(level[0]), falls_and_levels._cache.cache_path)
"""


@pytest.fixture
def sealed(tmp_path: Path) -> Path:
    """A copy of the package beside which nothing can be kept, not even by root."""
    source = Path(backbearing.__file__).parent
    copied = tmp_path / "installed" / "backbearing"
    shutil.copytree(source, copied, ignore=shutil.ignore_patterns("__pycache__", "assets"))
    for kernels in copied.rglob("_*kernels.py"):
        (kernels.parent / "__pycache__").touch()
    return copied.parent


def run(sealed: Path, temporary: Path) -> list[str]:
    nowhere = "/dev/null/nowhere"
    seen = {
        **os.environ, "PYTHONPATH": str(sealed), "TMPDIR": str(temporary), "HOME": nowhere,
        "XDG_CACHE_HOME": nowhere, "PYTHONDONTWRITEBYTECODE": "1",
    }  # fmt: skip
    seen.pop("NUMBA_CACHE_DIR", None)
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], env=seen, capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="how a system forbids writing differs")
def test_a_sealed_install_of_a_user_without_a_home_compiles_once(
    sealed: Path, tmp_path: Path
) -> None:
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    first = run(sealed, temporary)
    # From the upper left pixel 10 m fall over one cell of 30 m; it and the one below are level.
    assert first[0] == SAYING
    assert first[1].startswith("10.0 30.0 2 ")
    assert str(temporary) in first[1]
    assert run(sealed, temporary) == first[1:]


def test_what_is_kept_among_temporary_files_is_the_users_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    folder = own_folder()
    if folder is None:
        pytest.skip("no user numbers on this system")
    assert folder.parent == tmp_path
    folder.chmod(0o777)
    assert own_folder() is None
    folder.rmdir()
    folder.symlink_to(tmp_path)
    assert own_folder() is None
