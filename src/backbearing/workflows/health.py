"""Whether this installation has all it needs: packages, ephemeris, zones, an outing."""

from __future__ import annotations

import math
import platform
from dataclasses import dataclass
from importlib import metadata
from typing import TYPE_CHECKING, Final

from backbearing.alignment.marks.marked_ground import OutingMarks
from backbearing.alignment.marks.marks_told import plan_marks
from backbearing.alignment.night.from_outing import open_elevation, scene_of
from backbearing.base.errors import BackbearingError
from backbearing.base.input_files import is_missing
from backbearing.base.numbers import counted, num
from backbearing.base.text import crs_name
from backbearing.base.units import METRIC
from backbearing.drawing.leaflet import leaflet_script, leaflet_style
from backbearing.fetching.cache import TileCache, ground_folder
from backbearing.fetching.reach import LOW_DEG, SkylineReach, highest_land, nearest_edge_m
from backbearing.outing.kit import load_kit
from backbearing.outing.kit_place import kit_file
from backbearing.outing.load import load_outing
from backbearing.plan.marks import marks_line
from backbearing.sky.instants import utc_from_mjd
from backbearing.sky.magnetic import magnetic_declination
from backbearing.sky.places import span_mjd
from backbearing.sky.zones import zone_at

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.terrain.elevation import Elevation

PACKAGES: Final = (
    *("astropy-iers-data", "folium", "geopandas", "matplotlib", "mgrs", "numba", "numpy"),
    *(
        "platformdirs",
        "pygeomag",
        "pyproj",
        "rasterio",
        "shapely",
        "skyfield",
        "skyfield-data",
        "tzdata",
        "XStatic-Leaflet",
    ),
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at."""

    what: str
    found: str
    good: bool
    care: bool = False
    """Whether it is worth a look all the same."""


def examine(outing: Path | None = None) -> list[Finding]:
    """Look at the installation, and at an outing file when one is given."""
    findings = [
        Finding("backbearing", metadata.version("backbearing"), good=True),
        Finding("python", f"{platform.python_version()} on {platform.system()}", good=True),
        *(_package(name) for name in PACKAGES),
        _tried("ephemeris", _ephemeris),
        _tried("magnetic model", _magnetic),
        _tried("zone of a known place", _zone),
        _tried("map code", _leaflet),
        _tried("ground tiles", _tiles),
        _tried("kit", _kit),
    ]
    if outing is not None:
        findings.extend(_outing(outing))
    return findings


def _package(name: str) -> Finding:
    try:
        return Finding(name, metadata.version(name), good=True)
    except metadata.PackageNotFoundError:
        return Finding(name, f"is not installed; run `pip install {name}`", good=False)


def _tried(what: str, look: Callable[[], str]) -> Finding:
    try:
        return Finding(what, look(), good=True)
    except (BackbearingError, OSError, ImportError, ValueError) as problem:
        return Finding(what, str(problem), good=False)


def _ephemeris() -> str:

    first, last = (utc_from_mjd(mjd).astype("datetime64[D]") for mjd in span_mjd())
    return f"de421, {first} to {last}"


def _magnetic() -> str:
    import datetime as dt

    today = dt.datetime.now(dt.UTC).date()
    found = magnetic_declination(lat=36.0, lon=-84.0, when=today)
    return f"{found.model} for {today.isoformat()}" if found.known else found.sentence


def _zone() -> str:

    zone = str(zone_at(lat=36.0, lon=-84.0))
    if zone != "America/New_York":
        raise ValueError(f"36 N 84 W came out as {zone}, not America/New_York")
    return f"36 N 84 W is in {zone}"


def _kit() -> str:
    file = kit_file()
    if is_missing(file):
        return f"none at {file}; none is needed"
    kit = load_kit(file)
    lights = counted(len(kit.light), "lights")
    lenses = counted(len(kit.lens), "lenses", "lens")
    return f"{file}: {counted(len(kit.body), 'bodies', 'body')}, {lenses}, {lights}"


def _leaflet() -> str:

    return f"Leaflet from its package, {len(leaflet_script()) + len(leaflet_style())} characters"


def _outing(path: Path) -> list[Finding]:
    """Look at an outing: the file, the raster under it, the subject on the raster."""
    try:
        outing = load_outing(path)
        elevation = open_elevation(outing)
        scene = scene_of(outing, elevation)
    except BackbearingError as problem:
        return [Finding("outing", str(problem), good=False)]
    lenses = counted(len(outing.lenses), "lenses", "lens")
    marks = _marks(scene)
    rows, columns = elevation.shape
    south, west, north, east = elevation.bounds
    return [
        Finding(
            "outing",
            f"{path}: {outing.name}, {lenses}",
            good=True,
        ),
        Finding(
            "elevation",
            f"{rows} x {columns} cells of {num(elevation.cell_size_m, 0)} m, "
            f"{crs_name(elevation.crs)}{_tied(elevation)}, {num(south, 4)} to {num(north, 4)} N, "
            f"{num(west, 4)} to {num(east, 4)} E",
            good=True,
        ),
        Finding("ground at subject", f"{num(scene.subject_ground_m, 1)} m", good=True),
        _tried("zone at subject", lambda: _zone_of(outing.subject.lat, outing.subject.lon)),
        *marks,
        _ground_reach(outing, elevation, path),
    ]


def _tiles() -> str:
    """Where tiles are kept, how many, how large."""
    folder = ground_folder()
    held = TileCache(folder).held()
    seas = f" and {counted(held.seas, 'of open sea', 'of open sea')}" if held.seas else ""
    return f"{counted(held.tiles, 'tiles')}{seas}, {num(held.size_bytes / 1e6, 0)} MB in {folder}"


def _ground_reach(outing: Outing, elevation: Elevation, path: Path) -> Finding:
    """Whether the raster ends sooner than land about the subject can matter."""
    subject = outing.subject
    edge_m = nearest_edge_m(elevation, lat=subject.lat, lon=subject.lon)
    highest = highest_land(lat=subject.lat, lon=subject.lon)
    reach = SkylineReach(0.0, highest, outing.ground.refraction_k)
    wanted_m = min(reach.distance_m(LOW_DEG), outing.ground.reach_m)
    ends = f"ends {METRIC.length(edge_m)} from the subject"
    if edge_m >= wanted_m:
        return Finding("ground's reach", ends, good=True)
    rise = METRIC.length(reach.least_rise_m(edge_m, LOW_DEG))
    return Finding(
        "ground's reach",
        f"the raster {ends}; beyond it land {rise} above you would rise over {num(LOW_DEG)}° "
        f"unseen. More of it: backbearing ground {path}",
        good=True,
        care=True,
    )


def _marks(scene: Scene) -> list[Finding]:
    """Look at the skyline marks: none stands below bare ground, and nothing is tilted."""
    if not isinstance(scene.elevation, OutingMarks):
        return []
    marks = plan_marks(scene.elevation, scene, ())
    below = [
        f"a reading {num(-one.over_deg, 1)}° below bare ground at {num(one.azimuth_deg, 0)}°: tilt?"
        for one in marks.all
        if one.stands == "below"
    ]
    more = f" ({counted(len(below) - 1, 'others', 'other')})" if len(below) > 1 else ""
    if below:
        return [Finding("skyline marks", below[0] + more, good=False)]
    return [Finding("skyline marks", marks_line(marks), good=True)]


def _tied(elevation: Elevation) -> str:
    """Published accuracy of the raster's tie to WGS84; nothing where it is WGS84."""
    within = elevation.placed_within_m
    if within == 0.0:
        return ""
    return f" (tied to WGS84 within {num(within)} m)" if math.isfinite(within) else " (tie unknown)"


def _zone_of(lat: float, lon: float) -> str:

    return str(zone_at(lat=lat, lon=lon))
