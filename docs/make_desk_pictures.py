"""Photograph the desk for the README: the sample outing, by day and in red light.

Run ``python docs/make_desk_pictures.py`` from the repository's root. It needs Playwright and a
Chromium; the pictures are written to ``docs/images``.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

CHROMIUM = "/usr/bin/chromium"
IMAGES = Path(__file__).resolve().parent / "images"
PATIENCE_MS = 180_000


def photograph(page: Any, name: str) -> None:
    """Save what the window shows, with few colours: a drawing needs no more."""
    from PIL import Image

    file = IMAGES / name
    page.screenshot(path=file)
    with Image.open(file) as shot:
        shot.convert("RGB").quantize(192, dither=Image.Dither.NONE).save(file, optimize=True)
    print(f"{file.name}: {file.stat().st_size // 1000} kB")


def main() -> None:
    """Open a desk on a copy of the sample, put the lenses in order, and photograph it."""
    IMAGES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        sample = Path(folder) / "sample"
        shutil.copytree("sample_terrain", sample)
        start = "from backbearing.cli import main; main()"
        command = [sys.executable, "-c", start, "desk", str(sample / "outing.toml"), "--no-browser"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as desk:  # noqa: S603  # our own
            told = desk.stdout.readline() if desk.stdout is not None else ""
            address = re.search(r"http://\S+", told)
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1400, "height": 900})
            page.goto(address.group() if address else "")
            page.wait_for_selector("html[data-ready=yes]", timeout=PATIENCE_MS, state="attached")
            page.click("#evening-plan")
            for shown in ("#turns button", "#season svg"):
                page.wait_for_selector(shown, timeout=PATIENCE_MS)
            page.click("#turns button >> nth=2")
            page.wait_for_timeout(4000)
            page.evaluate("window.scrollTo(0, 0)")
            photograph(page, "desk.png")
            page.click("#theme")
            page.wait_for_timeout(3000)
            photograph(page, "desk_red.png")
            browser.close()
            desk.terminate()


if __name__ == "__main__":
    main()
