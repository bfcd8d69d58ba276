"""The page's solver beside the package's own: invented nights, random corrections, both answers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.outing.marks_request import MarkRequest, MarksRequest, ReadFrom
from backbearing.terrain.elevation import Elevation
from backbearing.workflows.carried_night import carried_of
from invented import CAMERA, write_outing

if TYPE_CHECKING:
    from backbearing.alignment.night.prepared_night import PreparedNight
    from backbearing.outing.request import Outing

    Floats = np.ndarray[Any, np.dtype[np.float64]]

SCRIPTS = ("field_sky.js", "field_ground.js", "field_frame.js", "field_solver.js")
ASSETS = Path(__file__).parents[1] / "src" / "backbearing" / "maps" / "assets"

GATE_SVG = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 80">
<path fill-rule="evenodd" d="M0 80 L0 10 L6 4 L12 10 L18 3 L24 9 L30 2 L36 9 L42 3 L48 10 L54 4
L60 10 L60 80 Z M18 66 L18 34 L22 26 L30 22 L38 26 L42 34 L42 66 L36 66 L34 60 L26 60 L24 66 Z"/>
</svg>"""


def rough(seed: int, *, slope: float = 0.0, ridge_m: float = 250.0) -> Any:
    """Rolling ground of waves of many lengths, tilted, with a long ridge far out all round."""
    draw = np.random.default_rng(seed)
    waves = [
        (draw.uniform(0.3, 1.0) * length / 60.0, *draw.uniform(0.0, 2.0 * np.pi, 2), length)
        for length in (180.0, 320.0, 700.0, 1_500.0, 3_100.0, 6_400.0)
    ]  # fmt: skip

    def height(east: Floats, north: Floats) -> Floats:
        away = np.hypot(east, north)
        z = 300.0 + slope * (north + 0.4 * east) * np.exp(-((away / 1_200.0) ** 2))
        z = z + ridge_m * np.exp(-(((away - 6_000.0) / 1_500.0) ** 2)) * (
            1.0 + 0.4 * np.sin(5.0 * np.arctan2(north, east))
        )
        for tall, turn, phase, length in waves:
            along = np.cos(turn) * east + np.sin(turn) * north
            z = z + tall * np.sin(2 * np.pi * along / length + phase)
        return np.asarray(z)

    return height


def plane_raster(height: Any, *, epsg: int, lat: float, lon: float, cell_m: float) -> Elevation:
    """A raster in a projected system about a place, heights by metres east and north on it."""
    from affine import Affine
    from pyproj import Transformer

    x, y = Transformer.from_crs(4326, epsg, always_xy=True).transform(lon, lat)
    n = round(9_000.0 / cell_m)
    east, north = np.meshgrid(np.arange(-n, n + 1) * cell_m, np.arange(n, -n - 1, -1) * cell_m)
    grid = Affine(cell_m, 0.0, x - (n + 0.5) * cell_m, 0.0, -cell_m, y + (n + 0.5) * cell_m)
    return Elevation.from_array(height(east, north), grid, f"EPSG:{epsg}")


@dataclass
class Place:
    """One invented outing, ready, with what its page carries."""

    name: str
    night: PreparedNight
    carried: dict[str, Any] = field(init=False)

    def __post_init__(self) -> None:
        self.carried = carried_of(self.night, self.night.plan(whole_skyline=False))


def places(folder: Path) -> list[Place]:
    """North and south, flat and steep, upright and level, box and outline, near the zenith."""
    may, june = dt.date(2027, 5, 28), dt.date(2027, 6, 6)
    wide = {"half_m": 9_000.0, "cell_m": 60.0}

    def asked(name: str, **keys: Any) -> Outing:
        own = folder / name
        own.mkdir()
        if keys.pop("svg", None):
            (own / "gate.svg").write_text(GATE_SVG, encoding="utf-8")
            keys["subject"] = {"height_m": 8.0, "width_m": 6.0, "outline": "gate.svg"}
        return write_outing(own, **keys)

    steep = asked(
        "steep", lat=46.42, lon=9.03, evening=dt.date(2027, 7, 3), ground=rough(2, slope=0.45),
        raster=wide, lenses=(35.0, {"focal_length_mm": 70.0, "share": 0.5}),
        camera=CAMERA | {"orientation": "portrait"}, night={"moon": "any"},
    )  # fmt: skip
    projected = plane_raster(
        rough(2, slope=0.45, ridge_m=120.0), epsg=32632, lat=46.42, lon=9.03, cell_m=25.0
    )
    return [
        Place(
            "north",
            prepare_night(
                asked(
                    "north", lat=36.31, lon=-84.22, evening=may, ground=rough(1), raster=wide,
                    lenses=(16.0, {"focal_length_mm": 24.0, "share": 0.28}, 50.0, 85.0),
                )
            ),
        ),
        Place("steep", prepare_night(steep, projected)),
        Place(
            "south",
            prepare_night(
                asked(
                    "south", lat=-31.4, lon=148.2, evening=june, ground=rough(3, slope=-0.2),
                    raster=wide, lenses=(14.0, 20.0, 35.0),
                    camera=CAMERA | {"orientation": "portrait"},
                    framing={"share": 0.25, "base_margin": 0.05},
                )
            ),
        ),
        Place(
            "width",
            prepare_night(
                asked(
                    "width", lat=30.2, lon=-103.9, evening=june, ground=rough(4), raster=wide,
                    lenses=(24.0, {"focal_length_mm": 15.0, "projection": "equisolid"}),
                    framing={"share": 0.2, "share_of": "width", "base_margin": 0.12}, svg=True,
                )
            ),
        ),
        Place(
            "level",
            prepare_night(
                asked(
                    "level", lat=-22.9, lon=-68.2, evening=june, ground=rough(5, slope=0.1),
                    raster=wide, lenses=({"focal_length_mm": 17.0, "rise_mm": 6.0}, 24.0),
                    framing={"share": 0.22, "level": True, "offset_deg": 3.0},
                    night={"clear_by_deg": 2.0},
                )
            ),
        ),
        Place(
            "gate",
            prepare_night(
                asked(
                    "gate", lat=38.7, lon=-109.6, evening=may, ground=rough(6), raster=wide,
                    lenses=(20.0, 35.0, 85.0), framing={"share": 0.45, "play_deg": 0.6}, svg=True,
                )
            ),
        ),
        Place(
            "moon",
            prepare_night(
                asked(
                    "moon", lat=41.2, lon=-112.1, evening=dt.date(2027, 6, 17), ground=rough(7),
                    raster=wide, lenses=(35.0, 100.0), night={"moon": "any", "sun_below_deg": -6.0},
                    target={"body": "moon"},
                )
            ),
        ),
    ]  # fmt: skip


def corrections(place: Place, count: int, seed: int) -> list[dict[str, Any]]:
    """Random questions: a lens, a moment, and something of everything that may be corrected."""
    draw = np.random.default_rng(seed)
    carried, own = place.carried, place.night.outing
    start, end = carried["night"]["start_s"], carried["night"]["end_s"]
    planned = [one["planned"] for one in carried["lenses"]]
    found = []
    for _ in range(count):
        lens = int(draw.integers(len(own.lenses)))
        given: dict[str, Any] = {}

        def sometimes(name: str, value: float, odds: float = 0.35, given: Any = given) -> None:
            if draw.uniform() < odds:
                given[name] = float(value)

        sometimes("subject_height_m", own.subject.height_m * draw.uniform(0.6, 1.9))
        sometimes("subject_width_m", own.subject.shown_width_m * draw.uniform(0.6, 1.7), 0.2)
        sometimes("ground_step_m", draw.uniform(-2.5, 2.5), 0.25)
        sometimes("eye_height_m", draw.uniform(0.3, 3.0))
        sometimes("base_margin", draw.uniform(0.0, 0.25), 0.25)
        sometimes("share", draw.uniform(0.12, 0.6), 0.25)
        sometimes("focal_mm", own.lenses[lens].lens.focal_length_mm * draw.uniform(0.8, 1.6), 0.15)
        sometimes("distance_m", draw.uniform(6.0, 60.0), 0.1)
        if draw.uniform() < 0.05 and planned[lens]:
            given["skyline_deg"] = float(draw.uniform(3.0, 14.0))
            given["skyline_azimuth_deg"] = float(
                planned[lens]["target_azimuth_deg"] + draw.uniform(-3, 3)
            )
            given["skyline_from"] = {"lat": planned[lens]["lat"], "lon": planned[lens]["lon"]}
            if draw.uniform() < 0.5:
                given["skyline_distance_m"] = float(draw.uniform(30.0, 900.0))
        time = float(draw.uniform(start + 90.0, end - 90.0))
        found.append({"lens": lens, "time_s": time, "correction": given})
    return found


def corrected(night: PreparedNight, one: dict[str, Any], share: float | None) -> PreparedNight:
    """The same question put to the package: an outing as it would be written, one lens alone."""
    given, own = one["correction"], night.outing
    subject, framing, ground = own.subject, own.framing, own.ground
    if "subject_height_m" in given:
        subject = subject.as_high_as(given["subject_height_m"])
    if "subject_width_m" in given:
        across = given["subject_width_m"] / subject.shown_width_m
        outline = None if subject.outline is None else subject.outline.stretched(across, 1.0)
        subject = replace(subject, width_m=given["subject_width_m"], outline=outline)
    framing = replace(
        framing,
        eye_height_m=given.get("eye_height_m", framing.eye_height_m),
        base_margin=given.get("base_margin", framing.base_margin),
    )
    lens = own.lenses[one["lens"]]
    if "focal_mm" in given:
        lens = replace(lens, lens=replace(lens.lens, focal_length_mm=given["focal_mm"]))
    if "ground_step_m" in given:
        lens = replace(lens, stand_drop_m=-given["ground_step_m"])
    if "share" in given or share is not None:
        lens = replace(lens, share=given.get("share") if share is None else share)
    if "skyline_deg" in given:
        reading = MarkRequest(
            altitude_deg=given["skyline_deg"],
            azimuth_deg=given["skyline_azimuth_deg"],
            distance_m=given.get("skyline_distance_m"),
            read_from=ReadFrom(**{"name": "", **given["skyline_from"]}),
        )
        ground = replace(ground, marks=MarksRequest((reading,)))
    return night.with_outing(
        replace(own, subject=subject, framing=framing, lenses=(lens,), ground=ground)
    )


def solver_page(chromium: Any) -> tuple[Any, Any]:
    """An empty page that knows the solver; and its context, to be closed."""
    context = chromium.new_context(offline=True)
    page = context.new_page()
    for name in SCRIPTS:
        page.add_script_tag(content=(ASSETS / name).read_text(encoding="utf-8"))
    return page, context


ANSWERS = """([carried, asked, every]) => {
  const solver = fieldSolver(carried);
  return asked.map(({ lens, time_s, correction }, n) => {
    const stand = solver.standAt(time_s, lens, correction);
    const wanted = every && n % every === 0 && stand.outside === null;
    return { stand, spans: wanted ? solver.usable(lens, correction) : null };
  });
}"""


def answers(
    page: Any, place: Place, asked: list[dict[str, Any]], spans_of_every: int = 0
) -> list[dict[str, Any]]:
    """What the page's solver says to all of them at once; to every n-th with its usable spans."""
    return list(page.evaluate(ANSWERS, [place.carried, asked, spans_of_every]))


def unlike_s(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> float:
    """Longest stretch in which just one of two sets of spans holds, seconds."""
    ends = sorted({v for span in (*one, *other) for v in span})
    worst = run = 0.0
    for low, high in pairwise(ends):
        middle = 0.5 * (low + high)
        differs = any(a <= middle <= b for a, b in one) != any(a <= middle <= b for a, b in other)
        run = run + high - low if differs else 0.0
        worst = max(worst, run)
    return worst


def metres_between(one: Any, lat: float, lon: float) -> float:
    """Distance of two places near one another, metres."""
    from backbearing.base.geodesy import line_between

    return float(line_between(lat1=one.lat, lon1=one.lon, lat2=lat, lon2=lon).distance_m)


def turned(one: float, other: float) -> float:
    """How far apart two azimuths are, degrees."""
    return abs((one - other + 180.0) % 360.0 - 180.0)
