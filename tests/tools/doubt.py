"""Hold the stated doubt of skylines against drawn rasters, for every product; ``make doubt``.

Prints, by product, ground and distance of the skyline, the stated over the true standard
deviation, the share of places within 20 %, and how often a target that just clears is hidden.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from backbearing.terrain.reading.products import PRODUCTS
from doubt_trials import RELIEF, Trial, trial

BANDS_M = ((5.0, 100.0), (100.0, 1e3), (1e3, 2e4))
COLUMNS = f"{'product':20}{'ground':8}{'skyline':>14}{'places':>8}{'ratio p10 p50 p90':>22}"


def row(found: Trial, low_m: float, high_m: float) -> str:
    """Sum up the places whose skyline stands between two distances."""
    band = (found.distance_m > low_m) & (found.distance_m <= high_m)
    ratio = (found.sigma / found.spread)[band]
    p10, p50, p90 = np.percentile(ratio, [10, 50, 90])
    within = np.mean(np.abs(ratio - 1.0) < 0.2)
    hidden = found.hidden[band]
    return (
        f"{low_m:6g} to{high_m:6g} m{band.sum():7}{p10:10.2f}{p50:6.2f}{p90:6.2f}{within:9.0%}"
        f"{hidden.mean():9.1%}{hidden.max():8.1%}"
    )


def main() -> None:
    """Run the trials asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--product", choices=PRODUCTS, action="append")
    asked.add_argument("--draws", type=int, default=400)
    asked.add_argument("--size", type=int, default=500)
    given = asked.parse_args()
    print(f"{COLUMNS}{'in 20 %':>9}{'hidden':>9}{'worst':>8}")
    for key in given.product or PRODUCTS:
        for kind in RELIEF:
            found = trial(key, kind, size=given.size, draws=given.draws)
            for low_m, high_m in BANDS_M:
                print(f"{key:20}{kind:8}{row(found, low_m, high_m)}", flush=True)


if __name__ == "__main__":
    main()
