"""Remake ``src/backbearing/data/stars.csv`` from the npm package ``d3-celestial``.

Fetch the package with its ordinary client (``npm pack d3-celestial``), unpack it, and run
``python docs/make_stars.py package/data/stars.6.json``. See ``STARS.md`` beside the table
for credit and terms.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

TABLE = Path(__file__).resolve().parent.parent / "src" / "backbearing" / "data" / "stars.csv"
HEADER = "hip,ra_deg,dec_deg,v_mag,b_v\n"


def star_rows(document: dict) -> list[str]:
    """Rows of the table, brightest first; right ascension from 0 to below 360."""
    rows = []
    for feature in document["features"]:
        lon, lat = feature["geometry"]["coordinates"]
        facts = feature["properties"]
        colour = facts.get("bv")
        shown = f"{float(colour):.2f}" if colour not in (None, "") else ""
        rows.append((facts["mag"], feature["id"], f"{lon % 360.0:.4f},{lat:.4f}", shown))
    return [f"{hip},{place},{mag:.2f},{colour}\n" for mag, hip, place, colour in sorted(rows)]


if __name__ == "__main__":
    source = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
    table = star_rows(source)
    TABLE.write_text(HEADER + "".join(table), encoding="utf-8")
    sys.stdout.write(f"{len(table)} stars in {TABLE}\n")
