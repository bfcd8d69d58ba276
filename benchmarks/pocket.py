"""Time the page's own solver in a headless browser whose processor is slowed four times.

Run ``python benchmarks/pocket.py`` from the repository's root, on a machine that does nothing else
(half a minute). Asked: from a correction to the stands of all lenses in 50 ms, at the 95th
percentile; a page of at most 3 MB.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.outing.load import load_outing
from backbearing.workflows.plan_page import write_page

CHROMIUM = "/usr/bin/chromium"
SLOWED = 4
CORRECTIONS = 200
FEW = 12

START = """() => {
  const carried = JSON.parse(document.getElementById("carried").textContent);
  const start = performance.now();
  globalThis.solver = fieldSolver(carried);
  return [performance.now() - start];
}"""

STANDS = """(all) => all.map(([time, correction]) => {
  const start = performance.now();
  for (let lens = 0; lens < solver.lenses.length; lens++) solver.standAt(time, lens, correction);
  return performance.now() - start;
})"""

USABLE = """(all) => all.map(([, correction], n) => {
  const start = performance.now();
  solver.usable(n % solver.lenses.length, correction);
  return performance.now() - start;
})"""

TABLE = """(all) => all.map(([, correction], n) => {
  const start = performance.now();
  solver.lateTable(n % solver.lenses.length, correction, 300);
  return performance.now() - start;
})"""


def told(name: str, spent_ms: list[float], asked_ms: float | None = None) -> None:
    """Print the middle and the 95th percentile beside what is asked."""
    half, most = np.percentile(spent_ms, [50.0, 95.0])
    asked = "" if asked_ms is None else f" (asked {asked_ms:.0f})"
    print(f"{name:44} {half:7.1f} ms median {most:7.1f} ms p95{asked}")


def asked_of(carried: dict[str, Any]) -> list[list[Any]]:
    """Moments, and corrections that no answer was kept for."""
    draw = np.random.default_rng(18)
    start, end = carried["night"]["start_s"], carried["night"]["end_s"]
    return [
        [
            float(draw.uniform(start, end)),
            {
                "subject_height_m": float(draw.uniform(5.0, 9.0)),
                "eye_height_m": float(draw.uniform(0.5, 2.0)),
            },
        ]
        for _ in range(CORRECTIONS)
    ]


def main() -> None:
    """Write the sample's page, open it, and time its solver."""
    outing = load_outing(Path("sample_terrain/outing.toml"))
    elevation = open_elevation(outing)
    plan = plan_night(outing, elevation)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        path = write_page(plan, elevation, Path(folder) / "page.html", outing=outing)
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page()
        page.goto(path.as_uri())
        page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")
        text = page.evaluate('() => document.getElementById("carried").textContent')
        print(
            f"page {path.stat().st_size / 1e6:.2f} MB (asked 3), carried {len(text) / 1e3:.0f} kB"
        )
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        asked = asked_of(json.loads(text))
        print(f"Processor slowed {SLOWED} times:")
        told("the solver made ready", page.evaluate(START))
        told("a correction to the stands of four lenses", page.evaluate(STANDS, asked), 50.0)
        told("the usable stretches of one lens", page.evaluate(USABLE, asked[:FEW]))
        told("a late table of one lens, every 5 minutes", page.evaluate(TABLE, asked[:FEW]))
        browser.close()


if __name__ == "__main__":
    main()
