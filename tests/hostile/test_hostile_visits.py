"""Tracks and notebooks that are meant to harm: refused in a sentence, within time and memory."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

TRACKS = {
    "a bomb of entities": (
        '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        "<gpx><trk><name>&b;</name></trk></gpx>"
    ),
    "a tag without an end": "<gpx><trk" + " " * 3_000_000,
    "elements in elements": "<gpx>" + "<a>" * 100_000,
    "a comment without an end": "<gpx><!--" + "x" * 3_000_000,
    "endless fixes": "<gpx><trk><trkseg>" + '<trkpt lat="1" lon="2"/>' * 300_000,
    "a number without an end": '<gpx><trk><trkpt lat="' + "9" * 500_000 + '" lon="1"/>',
}
NOTEBOOKS = {
    "brackets in brackets": "height = " + "[" * 50_000,
    "an endless number": "height = " + "9" * 100_000,
    "one key of endless parts": "a" + ".a" * 100_000 + " = 1",
    "a word that is no section": 'height = "x"',
    "what is not text": "\x00\x01",
}


@pytest.mark.parametrize("name", TRACKS)
def test_a_track(name: str, refused: Callable[[str, Path], str], tmp_path: Path) -> None:
    path = tmp_path / "it.gpx"
    path.write_text(TRACKS[name], encoding="utf-8")
    assert "it.gpx" in refused("track", path)


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_a_notebook(name: str, refused: Callable[[str, Path], str], tmp_path: Path) -> None:
    path = tmp_path / "it.toml"
    path.write_text(NOTEBOOKS[name], encoding="utf-8")
    assert "it.toml" in refused("notebook", path)
