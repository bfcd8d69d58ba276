"""Time the desk in a headless browser: what a hand does, until the page shows it.

Run ``python benchmarks/desk.py`` from the repository's root, on a machine that does nothing else
(a minute; 200 actions and three drags). Asked: the minute turned to stands on the map in 50 ms, to
pictures in 150 ms, the subject moved to stands in 400 ms, each at the 95th percentile; 30 frames a
second while a hand drags.
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


SHARE = """(share) => new Promise((done) => {
  const field = document.querySelector("input[name='framing.share']");
  const start = performance.now();
  document.addEventListener("desk-night", () => {
    document.addEventListener("desk-minute", () => done(performance.now() - start), { once: true });
  }, { once: true });
  field.value = share;
  field.dispatchEvent(new Event("change", { bubbles: true }));
})"""

STAMP = """() => {
  window.stamps = [];
  const stamp = (now) => {
    window.stamps.push(now);
    window.stamping = requestAnimationFrame(stamp);
  };
  window.stamping = requestAnimationFrame(stamp);
}"""

STAMPS = "() => { cancelAnimationFrame(window.stamping); return window.stamps; }"


def dragged(page: Any, name: str, path: list[tuple[float, float]]) -> None:
    """Drag along a path, and print how many frames a second the page drew meanwhile."""
    page.mouse.move(*path[0])
    page.mouse.down()
    page.evaluate(STAMP)
    for x, y in path[1:]:
        page.mouse.move(x, y)
        page.wait_for_timeout(8)
    gaps_ms = np.diff(page.evaluate(STAMPS))
    page.mouse.up()
    most = np.percentile(gaps_ms, 95.0)
    print(
        f"{name:34} {1e3 / gaps_ms.mean():6.0f} frames a second, {1e3 / most:.0f} at p5 (asked 30)"
    )
    page.wait_for_timeout(1500)


def middle(page: Any, selector: str) -> tuple[float, float]:
    """Where the middle of an element stands on the page."""
    box = page.locator(selector).first.bounding_box()
    return box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0


def told(name: str, spent_ms: list[float], asked_ms: float) -> None:
    """Print the middle and the 95th percentile beside what is asked."""
    half, most = np.percentile(spent_ms, [50.0, 95.0])
    share = most / asked_ms
    print(
        f"{name:34} {half:6.0f} ms median {most:6.0f} ms p95, {share:.2f} of {asked_ms:.0f} asked"
    )


def timed(page: Any) -> None:
    """Do the actions, and print what they took."""
    slider = page.locator("#minute")
    first, last = (float(slider.get_attribute(key) or 0) for key in ("min", "max"))
    random = np.random.default_rng(1)
    minutes = (first + 60.0 * random.integers(0, int((last - first) // 60.0), 80)).tolist()
    told("minute to stands", [page.evaluate(TURN, one) for one in minutes], 50.0)
    page.wait_for_timeout(3000)
    told("minute to pictures", [page.evaluate(PICTURES, one) for one in minutes], 150.0)
    lat = float(page.locator("input[name='subject.lat']").input_value())
    places = (lat + 1e-5 * random.integers(-200, 200, 20)).tolist()
    told("subject to stands", [page.evaluate(MOVE, round(one, 7)) for one in places], 400.0)
    shares = random.uniform(0.2, 0.45, 20).round(3).tolist()
    told("share to stands and pictures", [page.evaluate(SHARE, one) for one in shares], 550.0)
    page.wait_for_timeout(2000)
    box = page.locator("#profile").bounding_box()
    across = np.linspace(0.2, 0.8, 200) * box["width"] + box["x"]
    dragged(page, "dragging the minute", [(x, box["y"] + 60.0) for x in across.tolist()])
    x, y = middle(page, ".spot.subject svg")
    turn = np.linspace(0.0, 6.28, 200)
    circle = zip((x + 30.0 * np.sin(turn)).tolist(), (y + 9.0 * turn).tolist(), strict=True)
    dragged(page, "dragging the subject", list(circle))
    x, y = middle(page, ".inhand .hold.share")
    dragged(page, "dragging the share", [(x, y + 20.0 * np.sin(one)) for one in turn.tolist()])


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
