"""The desk in Firefox: it opens, follows the minute, and asks nothing of anybody else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.load import load_outing
from running_desk import Running

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = [pytest.mark.browser, pytest.mark.slow]

RIGHT = "\ue014"
"""The arrow key to the right (WebDriver, table of key codes)."""

TAB, ENTER = "\ue004", "\ue007"
LAT, LON = -31.2, 148.6


def test_it_opens_and_follows_the_minute(firefox: Any, running: Running) -> None:
    firefox.forget()
    firefox.open(running.address)
    firefox.until("document.documentElement.dataset.ready === 'yes'", within_s=60.0)
    before = firefox.value("document.getElementById('answer').textContent")
    firefox.value("document.getElementById('minute').focus()")
    firefox.type(RIGHT * 3)
    answer = firefox.until(
        "document.getElementById('answer').textContent !== "
        f"{before!r} && document.getElementById('answer').textContent"
    )

    def minutes(text: str) -> int:
        return int(text[:2]) * 60 + int(text[3:5])

    assert (minutes(answer) - minutes(before)) % 1440 == 3
    # A picture: pixels of many colours, not a canvas that was only cleared.
    firefox.until(
        "[...document.querySelectorAll('#frames canvas')].some(one => one.width && new Set("
        "new Uint32Array(one.getContext('2d').getImageData(0, 0, one.width, one.height)"
        ".data.buffer)).size > 20)"
    )
    firefox.click("#theme")
    assert firefox.value("document.documentElement.dataset.theme") == "red"
    assert firefox.errors() == []
    own = running.address.split("/?")[0]
    assert [one for one in firefox.asked() if not one.startswith((own, "data:", "blob:"))] == []


def test_from_an_empty_folder_to_the_desk(
    firefox: Any, desk_ground: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    folder = tmp_path / "outings"
    folder.mkdir()
    (folder / "ground.tif").write_bytes(desk_ground.read_bytes())
    desk = Running(folder)
    try:
        firefox.forget()
        firefox.open(desk.address)
        firefox.until("document.querySelector('#first-map .leaflet-tile-loaded')", within_s=60.0)
        for field, said in {
            "place": f"{LAT}, {LON}",
            "name": "Quill barn",
            "kind": "barn",
            "height": "6",
            "lenses": "24, 50",
            "night": "2027-06-04",
        }.items():
            firefox.click(f"#first input[name={field}]")
            firefox.type(said)
        firefox.type(TAB)
        firefox.until("document.getElementById('ground-says').textContent.includes('holds')")
        firefox.click("#make")
        ready = "document.documentElement.dataset.ready === 'yes'"
        firefox.until(f"document.getElementById('profile') && {ready}", within_s=90.0)
        assert firefox.value("document.getElementById('name').textContent") == "Quill barn"
        kept = load_outing(folder / "outing.toml")
        assert kept.subject.lat == pytest.approx(LAT, abs=1e-6)
        firefox.until("document.getElementById('place').value !== ''")
        firefox.click("#place")
        firefox.value("document.getElementById('place').select()")
        # A window that no screen shows has no focus to lose: Enter tells the change there.
        firefox.type(f"{LAT + 0.0005:.4f}, {LON}{ENTER}")
        firefox.until("!document.getElementById('keep').disabled", within_s=60.0)
        firefox.click("#keep")
        firefox.until("document.getElementById('keep').disabled", within_s=60.0)
        kept = load_outing(folder / "outing.toml")
        assert kept.subject.lat == pytest.approx(LAT + 0.0005, abs=1e-6)
        assert firefox.errors() == []
    finally:
        desk.end()
