"""A picture of the skyline with the target's path and clock over it, for print or screen."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.base.text import night_label
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import ground_words
from backbearing.drawing.palette import SKYLINE, SKYLINE_RED
from backbearing.drawing.wall_clock import WallClock
from backbearing.pictures.figure_files import checked_picture, write_figure
from backbearing.pictures.skyline_axes import draw_figure
from backbearing.pictures.skyline_layout import lay_out_skyline, readings_in
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import ArrayLike

    from backbearing.base.units import Units
    from backbearing.pictures.skyline_layout import PathPoint, SeenSubject, TimeSpan, Within
    from backbearing.plan.plan import Plan


def ridge_picture(
    plan: Plan, path: str | Path, *, night: bool = False, overwrite: bool = False,
    units: Units = METRIC,
) -> Path:  # fmt: skip
    """Draw a plan's skyline and the target's path; see :func:`draw_skyline`.

    Parameters
    ----------
    plan : Plan
        Read for its skyline, path, dark windows and stands.
    path : str or Path
        Where to write, ending in ``.svg`` or ``.png``.
    night : bool
        Red on black.
    overwrite : bool
        Whether a file that is already there may be replaced.
    units : Units
        In which lengths are read.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way or cannot be written.

    Examples
    --------
    The sample outing's ``plan``, into ``folder``:

    >>> from backbearing.pictures import ridge_picture
    >>> ridge_picture(plan, folder / "ridge.svg", night=True).name
    'ridge.svg'
    """
    marks = [(lens.stand.time, lens.lens.label) for lens in at_turns(plan).lenses if lens.stand]
    return draw_skyline(
        [p.azimuth_deg for p in plan.skyline_all_round],
        [p.altitude_deg for p in plan.skyline_all_round],
        [(p.time, p.azimuth_deg, p.altitude_deg) for p in plan.sky_path],
        path,
        zone=plan.zone,
        title=f"{plan.subject.name}: {plan.target.name}, {night_label(plan.evening)}",
        note=units.sentence(f"Seen {plan.viewpoint_note}.") + ground_words(plan.ground.credit),
        dark=[(d.start, d.end) for d in plan.dark],
        within=[(g.within_m, g.step_deg, g.altitudes_deg) for g in plan.ground_within],
        moon=[(p.time, p.azimuth_deg, p.altitude_deg) for p in plan.moon_path],
        marks=marks,
        readings=[
            (m.azimuth_deg, m.altitude_deg)
            for m in (plan.land.marks.at_viewpoint if plan.land.marks else ())
        ],
        night=night,
        overwrite=overwrite,
        units=units,
    )


def draw_skyline(
    azimuths_deg: ArrayLike,
    altitudes_deg: ArrayLike,
    points: Sequence[PathPoint],
    path: str | Path,
    *,
    zone: str,
    title: str,
    note: str = "",
    dark: Sequence[TimeSpan] = (),
    marks: Sequence[tuple[dt.datetime, str]] = (),
    within: Sequence[Within] = (),
    moon: Sequence[PathPoint] = (),
    subject: SeenSubject | None = None,
    readings: Sequence[tuple[float, float]] = (),
    night: bool = False,
    overwrite: bool = False,
    units: Units = METRIC,
) -> Path:
    """Draw a terrain skyline with a target's path and local clock times over it.

    Parameters
    ----------
    azimuths_deg, altitudes_deg : array_like
        Skyline, shape ``(n,)``, true azimuths; NaN altitude where unknown.
    points : sequence of (time, azimuth_deg, altitude_deg)
        The target's path in order of time; times are timezone-aware.
    path : str or Path
        Where to write, ending in ``.svg`` or ``.png``. The same input gives the same SVG.
    zone : str
        IANA time zone of the clock labels.
    title, note : str
        For people; shown as they are, never as formulas.
    dark : sequence of (start, end)
        Dark windows: the path is drawn strong inside them.
    marks : sequence of (time, label)
        Moments to point out on the path.
    within : sequence of (distance_m, step_deg, altitudes_deg)
        Skylines of the ground within a distance alone, nearest first, from azimuth 0 on:
        nearer ground is drawn darker.
    moon : sequence of (time, azimuth_deg, altitude_deg)
        The Moon's path while it is up.
    subject : SeenSubject, optional
        The subject, from :func:`backbearing.pictures.skyline_subject.seen_subject`.
    readings : sequence of (azimuth_deg, altitude_deg)
        Measured marks of the true skyline, drawn as small ticks.
    night : bool
        Red on black.
    overwrite : bool
        Whether a file that is already there may be replaced.
    units : Units
        In which lengths are read.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way or cannot be written.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.pictures import draw_skyline
    >>> path = draw_skyline(
    ...     [140.0, 150.0, 160.0, 170.0], [9.0, 11.5, 10.0, 7.0],
    ...     [
    ...         (datetime(2027, 6, 6, 4, tzinfo=timezone.utc), 146.6, 16.1),
    ...         (datetime(2027, 6, 6, 5, tzinfo=timezone.utc), 161.0, 21.5),
    ...     ],
    ...     folder / "ridge.svg", zone="America/New_York", title="The ridge to the south",
    ... )
    >>> path.name
    'ridge.svg'
    """
    target = checked_picture(path, "a skyline picture", overwrite=overwrite)
    layout = lay_out_skyline(
        azimuths_deg, altitudes_deg, points, dark, within=within, moon=moon, subject=subject
    )
    layout = replace(layout, readings=readings_in(layout, readings))
    palette = SKYLINE_RED if night else SKYLINE
    return write_figure(
        target,
        lambda: draw_figure(layout, WallClock(zone), title, note, marks, palette, units),
        title=title,
        letters_pt=11.0,
        overwrite=overwrite,
    )
