"""`review` on frames: what it would write, what it writes, and how far it is meanwhile."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from backbearing.cli import group
from backbearing.cli.frame_progress import FrameProgress
from backbearing.outing.load import load_outing
from backbearing.plan.turns import at_turns

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "review"))

from frames_of_night import Truth, compass, frame_of


@pytest.fixture(scope="module")
def frame(tmp_path_factory, plan):
    lens = at_turns(plan).lenses[1]
    written = compass(lens.stand.bearing_deg + 4.0)
    return frame_of(
        tmp_path_factory.mktemp("frames"), plan, lens, Truth(height_m=7.4), wide_px=1200, **written
    )[0]


def asked(*words):
    return CliRunner().invoke(group, ["review", *map(str, words)])


def test_it_says_what_it_would_write_and_then_writes_it(tmp_path, sample_text, frame):
    outing = tmp_path / "outing.toml"
    outing.write_text(sample_text, encoding="utf-8")
    dry = asked(outing, frame, "--stands-within", "0.3", "--plate", tmp_path / "plate.html")
    assert dry.exit_code == 0, dry.output
    assert "What --learn would write" in dry.stdout
    assert "skyline marks off" in dry.stdout
    assert "compass is" in dry.stdout
    assert len(dry.stdout.splitlines()) <= 30
    assert outing.read_text(encoding="utf-8") == sample_text
    assert (tmp_path / "plate.html").exists()
    done = asked(outing, frame, "--learn")
    assert done.exit_code == 0, done.output
    assert "Learned\n" in done.stdout
    assert "The outing as it was: outing.before-1.toml" in done.stdout
    assert (tmp_path / "outing.before-1.toml").read_text(encoding="utf-8") == sample_text
    assert load_outing(outing).ground.marks.readings
    again = asked(outing, frame, "--learn")
    assert again.exit_code == 1
    assert "learned twice" in str(again.exception)


def test_stars_are_not_asked_of_exif_alone(frame):
    refused = asked(frame, "--exif-only", "--stands-within", "1")
    assert refused.exit_code != 0


def test_progress_is_told_on_the_error_stream(capsys, monkeypatch):
    clock = iter([0.0, 0.1, 8.0, 9.0])
    monkeypatch.setattr("backbearing.cli.frame_progress.time.monotonic", lambda: next(clock))
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False, raising=False)
    tell = FrameProgress(3)
    for name in ("a.jpg", "b\x1b[31m.jpg", "c.jpg"):
        tell(name)
    tell.close()
    out, said = capsys.readouterr()
    # Into a log seldom: the second frame, eight seconds on.
    assert out == ""
    assert said.splitlines() == ["Frame 2 of 3: b<U+001B>[31m.jpg, about 16 s left"]
