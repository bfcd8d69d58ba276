"""``backbearing measure skyline``: marks of the true skyline, read or off a daytime frame."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from backbearing.base.cautions import VISIT
from backbearing.base.errors import OutingError
from backbearing.base.files import check_free, write_file
from backbearing.base.numbers import counted, num
from backbearing.base.text import compass_point, degrees
from backbearing.camera.frame_attitude import KnownPoint
from backbearing.cli.common import gathered, json_switch, overwrite_switch, print_json
from backbearing.cli.marks_table import print_marks
from backbearing.cli.measure_asking import asking
from backbearing.cli.screen import Screen
from backbearing.outing.append_marks import append_marks, marks_csv
from backbearing.outing.load import load_outing
from backbearing.outing.mark_rows import read_marks
from backbearing.outing.marks_request import MARK_LIMITS, SUBJECT, MarkRequest, ReadFrom
from backbearing.plan.marks import marks_line, marks_notes
from backbearing.workflows.skyline_readings import (
    FrameSize,
    beside_raster,
    held_frame,
    marks_of_points,
    optics_of,
    placed,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.outing.request import Outing
    from backbearing.plan.marks import PlanMarks
    from backbearing.workflows.skyline_readings import HeldFrame

NAN: Final = float("nan")
MOST_ROWS: Final = 14

_FILE: Final = click.Path(path_type=Path)


@dataclass(frozen=True, slots=True)
class Read:
    """Readings by flags and tables, how sure, how far the things, and where they were read."""

    table: Path | None
    reading: tuple[tuple[float, float], ...]
    by_compass: bool
    sigma_deg: float | None
    distance_m: float | None
    from_stand: tuple[float, float] | None
    from_place: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Framed:
    """A daytime frame: its pixels, its size, and what is known in it."""

    points: Path | None
    photo: Path | None
    focal_length_mm: float | None
    sensor_width_mm: float | None
    width_px: int | None
    height_px: int | None
    fisheye: bool


@dataclass(frozen=True, slots=True)
class Held:
    """How the frame was held."""

    known: tuple[tuple[float, float, float, float], ...]
    azimuth_at: tuple[float, float, float] | None
    level_row: float | None
    tilt_deg: float | None
    roll_deg: float


@dataclass(frozen=True, slots=True)
class Answer:
    """Beside what to lay the marks, and where to write them."""

    outing: Path | None
    write: Path | None
    csv: Path | None


@click.command(
    "skyline", help="Marks of the true skyline: by clinometer, phone or a daytime frame."
)
@click.option("--table", type=_FILE, metavar="CSV", help="Readings: azimuth_deg,altitude_deg,...")
@click.option(
    "--reading", type=float, nargs=2, multiple=True, metavar="AZ ALT", help="One of them. Repeat."
)
@click.option("--by-compass", is_flag=True, help="The azimuths of --reading are by the needle.")
@click.option("--sigma", "sigma_deg", type=float, metavar="DEG", help="One sigma of altitudes.")
@click.option("--distance", "distance_m", type=float, metavar="M", help="Of the things read.")
@click.option(
    "--from-stand", type=float, nargs=2, metavar="DEG M", help="Read so far from the subject."
)
@click.option("--from-place", type=float, nargs=2, metavar="LAT LON", help="Read there.")
@click.option("--points", type=_FILE, metavar="CSV", help="Pixels of a frame: column_px,row_px.")
@click.option("--photo", type=_FILE, metavar="FILE", help="The frame, for its focal length.")
@click.option("--focal", "focal_length_mm", type=float, metavar="MM", help="Focal length.")
@click.option(
    "--sensor-width", "sensor_width_mm", type=float, metavar="MM", help="Of its longer side."
)
@click.option("--width-px", type=int, metavar="N", help="The frame's width in pixels.")
@click.option("--height-px", type=int, metavar="N", help="Its height.")
@click.option("--fisheye", is_flag=True, help="An equisolid lens instead of a rectilinear one.")
@click.option(
    "--known", type=float, nargs=4, multiple=True, metavar="COL ROW AZ ALT",
    help="A point of known direction. Two fix all.",
)  # fmt: skip
@click.option(
    "--azimuth-at", type=float, nargs=3, metavar="COL ROW AZ", help="A point of known azimuth."
)
@click.option("--level-row", type=float, metavar="ROW", help="Where the level horizon is.")
@click.option("--tilt", "tilt_deg", type=float, metavar="DEG", help="Of the lens, upwards.")
@click.option(
    "--roll", "roll_deg", type=float, default=0.0, metavar="DEG", help="Clockwise from behind."
)
@click.option("--outing", type=_FILE, metavar="OUTING", help="Lay them beside its raster.")
@click.option("--write", type=_FILE, metavar="OUTING", help="Add them to this outing file.")
@click.option("--csv", type=_FILE, metavar="CSV", help="Write them as a table.")
@overwrite_switch
@json_switch
@gathered(read=Read, framed=Framed, held=Held, answer=Answer)
def command(  # noqa: D103
    read: Read, framed: Framed, held: Held, answer: Answer, overwrite: bool, as_json: bool
) -> int:
    if answer.csv is not None:
        check_free(answer.csv, overwrite=overwrite)
    named = answer.outing or answer.write
    outing = None if named is None else load_outing(named)
    frame = _frame(framed, held, outing)
    marks = placed(_marks(read, framed, frame), _place(read), _distance(read))
    if not marks and asking():
        read = replace(read, reading=_asked())
        marks = placed(_marks(read, framed, frame), _place(read), _distance(read))
    if not marks:
        raise click.UsageError("Give readings: --reading AZ ALT, --table CSV or --points CSV.")
    beside = None if outing is None else beside_raster(outing, marks)
    written: list[Path] = []
    if answer.csv is not None:
        written.append(write_file(answer.csv, marks_csv(marks), overwrite=overwrite))
    if answer.write is not None:
        written.append(append_marks(answer.write, marks))
    if as_json:
        print_json(
            {
                "format": "backbearing-skyline-marks", "version": 1, "marks": marks,
                "frame": None if frame is None else frame.attitude, "beside": beside,
                "written": [str(path) for path in written],
            }
        )  # fmt: skip
    else:
        _print(marks, frame, beside, outing, written)
    return 0


def _frame(framed: Framed, held: Held, outing: Outing | None) -> HeldFrame | None:
    """Find how the frame was held, if there is one."""
    if framed.points is None:
        if framed.photo is not None or held.known:
            raise click.UsageError("A frame needs its pixels: add --points CSV.")
        return None
    sensor = framed.sensor_width_mm
    if sensor is None and outing is not None:
        sensor = outing.camera.sensor_width_mm
    size = FrameSize(
        framed.focal_length_mm, sensor, framed.width_px, framed.height_px, framed.fisheye
    )
    optics = optics_of(framed.photo, size)
    known = [KnownPoint(*one) for one in held.known]
    if held.azimuth_at is not None:
        known.append(KnownPoint(*held.azimuth_at, NAN))
    if held.level_row is not None:
        known.append(KnownPoint((optics.width_px - 1) / 2.0, held.level_row, NAN, 0.0))
    return held_frame(optics, known, tilt_deg=held.tilt_deg, roll_deg=held.roll_deg)


def _marks(read: Read, framed: Framed, frame: HeldFrame | None) -> list[MarkRequest]:
    """All readings, however they were given."""
    marks: list[MarkRequest] = []
    for azimuth, altitude in read.reading:
        _check("--reading", "azimuth_deg", azimuth)
        _check("--reading", "altitude_deg", altitude)
        way: dict[str, Any] = (
            {"compass_deg": azimuth} if read.by_compass else {"azimuth_deg": azimuth}
        )
        marks.append(MarkRequest(altitude, **way))
    if read.table is not None:
        marks += read_marks(read.table)
    if frame is not None and framed.points is not None:
        marks += marks_of_points(framed.points, frame)
    if read.sigma_deg is None:
        return marks
    _check("--sigma", "sigma_deg", read.sigma_deg)
    return [replace(one, sigma_deg=read.sigma_deg) for one in marks]


def _asked() -> tuple[tuple[float, float], ...]:
    """Ask whoever sits there for readings, until an empty line."""
    found: list[tuple[float, float]] = []
    while True:
        line = click.prompt(
            "Azimuth and altitude, degrees (nothing to end)", default="", show_default=False,
            err=True,
        )  # fmt: skip
        if not line.strip():
            return tuple(found)
        try:
            azimuth, altitude = (float(part) for part in line.replace(",", " ").split())
        except ValueError:
            click.echo("Write two numbers, such as 152 9.5.", err=True)
            continue
        found.append((azimuth, altitude))


def _distance(read: Read) -> float | None:
    if read.distance_m is not None:
        _check("--distance", "distance_m", read.distance_m)
    return read.distance_m


def _place(read: Read) -> ReadFrom:
    if read.from_stand is not None and read.from_place is not None:
        raise click.UsageError("Say where in one way: --from-stand or --from-place.")
    if read.from_stand is not None:
        bearing, distance = read.from_stand
        _check("--from-stand", "bearing_deg", bearing)
        _check("--from-stand", "distance_m", distance)
        return ReadFrom("", None, None, bearing, distance)
    if read.from_place is not None:
        lat, lon = read.from_place
        _check("--from-place", "from_lat", lat)
        _check("--from-place", "from_lon", lon)
        return ReadFrom("", lat, lon)
    return SUBJECT


def _check(flag: str, key: str, value: float) -> None:
    """Hold a number to what a mark's may be."""
    if not MARK_LIMITS[key].holds(value):
        raise OutingError(f"{flag} has {value:g}", hint=MARK_LIMITS[key].hint, key=key)


def _print(
    marks: Sequence[MarkRequest],
    frame: HeldFrame | None,
    beside: PlanMarks | None,
    outing: Outing | None,
    written: Sequence[Path],
) -> None:
    out = Screen()
    out.title(f"{counted(len(marks), 'skyline marks')} read from {marks[0].read_from.words}")
    if frame is not None:
        out.say(_frame_words(frame))
    if beside is not None and outing is not None:
        out.say(marks_line(beside))
        print_marks(out, beside, outing.units, most=MOST_ROWS)
        out.some(list(marks_notes(beside)), 6)
    else:
        step = -(-len(marks) // MOST_ROWS) or 1
        out.listing(("azimuth", "altitude", "thing is"), [_row(one) for one in marks[::step]])
        if step > 1:
            out.say(f"Every {num(step)}th is shown; all: --json or --csv FILE.")
    out.labelled("Care", VISIT)
    for path in written:
        out.say(f"Wrote {path}.")
    if not written:
        out.say("Next: the same with --write outing.toml adds them to it", hang=2)
    out.show()


def _row(mark: MarkRequest) -> tuple[str, ...]:
    azimuth: Any = mark.azimuth_deg if mark.compass_deg is None else mark.compass_deg
    by = "mag" if mark.compass_deg is not None else compass_point(azimuth % 360.0)
    away = "unknown" if mark.distance_m is None else f"{num(mark.distance_m, 0)} m"
    return (
        f"{num(azimuth, 1)}° {by}",
        f"{degrees(mark.altitude_deg)} ± {degrees(mark.sigma_deg)}",
        away,
    )


def _frame_words(frame: HeldFrame) -> str:
    held = frame.attitude
    said = (
        f"The frame looked to {num(held.azimuth_deg, 1)}°, tilted {num(held.pitch_deg, 1)}° up, "
        f"rolled {num(held.roll_deg, 1)}° clockwise; a pixel is {num(frame.optics.pixel_deg, 3)}°."
    )
    if held.misfit_deg > 0.0:
        said += f" The known points are off by {num(held.misfit_deg, 2)}° (root mean square)."
    return said
