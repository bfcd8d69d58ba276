"""GRIB and NetCDF are read in a process of their own.

The libraries behind both are written in C, and a damaged or hostile file can make them stop the
whole process or never end: of some hundreds of GRIB files with a few wrong bytes one did each. The
child reads, and hands back plain arrays; whatever becomes of it, the answer here is one sentence.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import sys
from pathlib import Path
from typing import Final

import numpy as np

from backbearing.base.apart import ApartError, answer_apart, asked_apart, hold_memory
from backbearing.base.errors import BackbearingError, SkyError
from backbearing.weather.forecast import CloudForecast
from backbearing.weather.reading.grib import read_grib
from backbearing.weather.reading.netcdf import read_netcdf
from backbearing.weather.reading.points import NearPoints

MOST_SECONDS: Final = 90.0
MOST_MEMORY_BYTES: Final = 6 * 2**30


def read_apart(path: Path, near: NearPoints, kind: str) -> CloudForecast:
    """Read a forecast in a child process.

    Parameters
    ----------
    path : Path
    near : NearPoints
        Which points to keep.
    kind : {"grib", "netcdf"}

    Raises
    ------
    SkyError
        As its reader has it, or for a file that makes it stop or never end.
    """
    question = [str(path.absolute()), near.lat, near.lon, near.within_m, kind]
    try:
        said, body = asked_apart(__name__, question, most_seconds=MOST_SECONDS)
    except ApartError as problem:
        raise _damaged(path, f"its reader {problem}") from None
    if "error" in said:
        raise SkyError(said["error"], hint=said["hint"], file=str(path))
    with np.load(io.BytesIO(body), allow_pickle=False) as held:
        cover = {layer: held[f"cover_{layer}"] for layer in said["layers"]}
        run = None if said["run"] is None else dt.datetime.fromisoformat(said["run"])
        return CloudForecast(
            path.name, held["times"], held["lat"], held["lon"], cover, said["reach_m"], run
        )


def _damaged(path: Path, why: str) -> SkyError:
    return SkyError(f"{path.name} is damaged ({why})", hint="download it anew", file=str(path))


def main() -> None:
    """Read what the one argument asks for, and write it, or the sentence, to standard output."""
    named, lat, lon, within_m, kind = json.loads(sys.argv[1])
    hold_memory(MOST_MEMORY_BYTES)
    try:
        found = _read(Path(named), NearPoints(lat, lon, within_m), kind)
    except BackbearingError as problem:
        answer_apart({"error": problem.what, "hint": problem.hint})
        return
    body = io.BytesIO()
    np.savez(
        body, times=found.times, lat=found.lat, lon=found.lon,
        **{f"cover_{layer}": values for layer, values in found.cover.items()},  # type: ignore[arg-type]
    )  # fmt: skip
    run = None if found.run is None else found.run.isoformat()
    head = {"layers": list(found.cover), "reach_m": found.reach_m, "run": run}
    answer_apart(head, body.getvalue())


def _read(path: Path, near: NearPoints, kind: str) -> CloudForecast:
    return read_grib(path, near) if kind == "grib" else read_netcdf(path, near)


if __name__ == "__main__":
    main()
