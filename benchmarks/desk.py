"""Time the desk in a headless browser: what a hand does, until the page shows it.

Run ``python benchmarks/desk.py`` from the repository's root, on a machine that does nothing else
(a minute). Asked: the minute turned to stands on the map in 50 ms, to pictures in 150 ms, the
subject moved to stands in 400 ms, each at the 95th percentile.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

CHROMIUM = "/usr/bin/chromium"
ACTIONS = 200

TURN = """(time) => new Promise((done) => {
  const slider = document.getElementById("minute");
  const start = performance.now();
  slider.value = time;
  slider.dispatchEvent(new Event("input"));
  requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - start)));
})"""

PICTURES = """(time) => new Promise((done) => {
  const slider = document.getElementById("minute");
  const start = performance.now();
  document.addEventListener("desk-minute", () => done(performance.now() - start), { once: true });
  slider.value = time;
  slider.dispatchEvent(new Event("input"));
})"""

MOVE = """(lat) => new Promise((done) => {
  const field = document.querySelector("input[name='subject.lat']");
  const start = performance.now();
  document.addEventListener("desk-night", () => {
    requestAnimationFrame(() => done(performance.now() - start));
  }, { once: true });
  field.value = lat;
  field.dispatchEvent(new Event("change", { bubbles: true }));
})"""


def told(name: str, spent_ms: list[float], asked_ms: float) -> None:
    """Print the middle and the 95th percentile beside what is asked."""
    half, most = np.percentile(spent_ms, [50.0, 95.0])
    print(f"{name:34} {half:6.0f} ms median {most:6.0f} ms p95 (asked {asked_ms:.0f})")


def timed(page: Any) -> None:
    """Do the actions, and print what they took."""
    slider = page.locator("#minute")
    first, last = (float(slider.get_attribute(key) or 0) for key in ("min", "max"))
    random = np.random.default_rng(1)
    minutes = (first + 60.0 * random.integers(0, int((last - first) // 60.0), ACTIONS)).tolist()
    told("minute to stands", [page.evaluate(TURN, one) for one in minutes], 50.0)
    page.wait_for_timeout(3000)
    told("minute to pictures", [page.evaluate(PICTURES, one) for one in minutes], 150.0)
    lat = float(page.locator("input[name='subject.lat']").input_value())
    places = (lat + 1e-5 * random.integers(-200, 200, ACTIONS // 4)).tolist()
    told("subject to stands", [page.evaluate(MOVE, round(one, 7)) for one in places], 400.0)


def main() -> None:
    """Run a desk of its own on a copy of the sample."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        sample = Path(folder) / "sample"
        shutil.copytree("sample_terrain", sample)
        start = "from backbearing.cli import main; main()"
        command = [sys.executable, "-c", start, "desk", str(sample / "outing.toml"), "--no-browser"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as desk:
            assert desk.stdout is not None  # it is a pipe
            address = re.search(r"http://\S+", desk.stdout.readline())
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
            page = browser.new_page(viewport={"width": 1400, "height": 900})
            page.goto(address.group() if address else "")
            page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")
            page.wait_for_timeout(3000)
            timed(page)
            browser.close()
            desk.terminate()


if __name__ == "__main__":
    main()
