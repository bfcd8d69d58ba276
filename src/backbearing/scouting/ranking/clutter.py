"""What else stands in the frame around and behind a subject."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import azimuth_of, wrap_180_deg
from backbearing.base.geodesy import altitude_of, sphere_xyz_m
from backbearing.base.local_plane import offsets_m
from backbearing.camera.framing import frame_position
from backbearing.scouting.reading.kinds import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.best_stands import BestStands
    from backbearing.scouting.ranking.candidate_stands import LensQuestion
    from backbearing.scouting.ranking.context import Context, Standing

    Floats = NDArray[np.float64]

LEAST_SHARE: Final = 0.1
"""Things that look less than a tenth as tall as the subject are left out (our own choice)."""

FARTHEST_M: Final = 2000.0
"""Nothing farther from the stand than this is looked for."""

SAME_M: Final = 0.5
"""What stands so near to the subject is the subject again, from another row."""

SIGHT_STEPS: Final = 24
"""Places between stand and thing at which the ground may hide it."""

MOST_NAMED: Final = 3


@dataclass(frozen=True)
class Clutter:
    """What shares the frames of n candidates.

    Attributes
    ----------
    count : ndarray of int, shape (n,)
        Things in the frame besides the subject.
    load : ndarray, shape (n,)
        Sum of their heights in the frame over the subject's, each at most 1.
    words : list of str
        ``2 pines behind to the left``; empty where there is nothing.
    """

    count: NDArray[np.int64]
    load: Floats
    words: list[str]


@dataclass(frozen=True)
class _Pairs:
    """Candidates (rows) and things that stand near their stands, shape (p,)."""

    row: NDArray[np.int64]
    thing: NDArray[np.int64]
    distance_m: Floats
    azimuth_deg: Floats

    def where(self, keep: NDArray[np.bool_]) -> _Pairs:
        return _Pairs(
            self.row[keep], self.thing[keep], self.distance_m[keep], self.azimuth_deg[keep]
        )


def clutter(
    context: Context, questions: list[LensQuestion], which: NDArray[np.int64], at: BestStands
) -> Clutter:
    """Find what shares the frame with each subject at its best stand.

    The data's other features within 2 km, as boxes of their size on the raster's ground;
    those behind a rise of the ground are left out. Trees of a wood that no row names are
    not seen.
    """
    count = np.zeros(len(which), dtype=np.int64)
    load = np.zeros(len(which))
    found: list[list[str]] = [[] for _ in which]
    for lens in np.unique(which[np.isfinite(at.lat)]).tolist():
        rows = np.flatnonzero((which == lens) & np.isfinite(at.lat))
        pairs = _near(context.standing, questions[lens], at, rows)
        if not len(pairs.row):
            continue
        pairs, relative, side = _in_frame(context, questions[lens], at, pairs)
        np.add.at(count, pairs.row, 1)
        np.add.at(load, pairs.row, relative)
        for row, thing, where in zip(pairs.row, pairs.thing, side, strict=True):
            found[row].append(f"{context.standing.kind[thing]}|{where}")
    return Clutter(count, load, [_words(things) for things in found])


def _near(
    standing: Standing, question: LensQuestion, at: BestStands, rows: NDArray[np.int64]
) -> _Pairs:
    """Things that could look tall enough, by their height over their distance."""
    group = question.group
    tallest = float(np.nanmax(standing.height_m, initial=0.0))
    looks = LEAST_SHARE * group.height_m[rows] / at.distance_m[rows]
    reach = np.minimum(tallest / np.maximum(looks, 1e-9), FARTHEST_M)
    spots = sphere_xyz_m(lat=at.lat[rows], lon=at.lon[rows])
    lists = standing.tree.query_ball_point(spots, reach, return_sorted=True)
    size = np.array([len(found) for found in lists], dtype=np.int64)
    thing = np.concatenate([np.asarray(found, dtype=np.int64) for found in lists])
    row = np.repeat(rows, size)
    distance, azimuth = _from_stand(standing, at, row, thing)
    own = _apart_m(standing, group.lat[row], group.lon[row], thing) < SAME_M
    tall = standing.height_m[thing] / np.maximum(distance, 0.1) >= np.repeat(looks, size)
    return _Pairs(row, thing, distance, azimuth).where(tall & ~own & (distance > SAME_M))


def _from_stand(
    standing: Standing, at: BestStands, row: NDArray[np.int64], thing: NDArray[np.int64]
) -> tuple[Floats, Floats]:
    """Distance and azimuth from each stand to each thing."""
    east, north = offsets_m(
        lat1=at.lat[row], lon1=at.lon[row], lat2=standing.lat[thing], lon2=standing.lon[thing]
    )
    return np.hypot(north, east), azimuth_of(east, north)


def _apart_m(standing: Standing, lat: Floats, lon: Floats, thing: NDArray[np.int64]) -> Floats:
    here = sphere_xyz_m(lat=lat, lon=lon)
    there = sphere_xyz_m(lat=standing.lat[thing], lon=standing.lon[thing])
    return np.asarray(np.linalg.norm(here - there, axis=1))


def _in_frame(
    context: Context, question: LensQuestion, at: BestStands, pairs: _Pairs
) -> tuple[_Pairs, Floats, list[str]]:
    """Keep what shows in the frame; how tall it looks beside the subject, and where it is."""
    standing, row = context.standing, pairs.row
    eye = at.ground_m[row] + question.fit.framing.eye_height_m
    ground = np.asarray(
        context.elevation.height_at(lat=standing.lat[pairs.thing], lon=standing.lon[pairs.thing])
    )
    rise = ground - eye
    base = altitude_of(rise, pairs.distance_m, question.asked.refraction_k)
    top = altitude_of(
        rise + standing.height_m[pairs.thing], pairs.distance_m, question.asked.refraction_k
    )
    half = np.degrees(np.arctan2(standing.width_m[pairs.thing] / 2.0, pairs.distance_m))
    shows = np.zeros(len(row), dtype=np.bool_)
    for across, up in ((0.0, 0.0), (0.0, 0.5), (0.0, 1.0), (-1.0, 0.5), (1.0, 0.5)):
        x, y = frame_position(
            question.fit.camera,
            question.fit.lens,
            axis_azimuth_deg=at.bearing_deg[row],
            pitch_deg=at.pitch_deg[row],
            azimuth_deg=pairs.azimuth_deg + across * half,
            altitude_deg=base + up * (top - base),
        )
        with np.errstate(invalid="ignore"):
            shows |= (x >= 0.0) & (x <= 1.0) & (y >= 0.0) & (y <= 1.0)
    shows &= _in_sight(context, question, at, pairs, top)
    subject = at.top_altitude_deg[row] - at.base_altitude_deg[row]
    relative = np.clip((top - base) / subject, 0.0, 1.0)
    turn = wrap_180_deg(pairs.azimuth_deg - at.bearing_deg[row])
    own_half = np.degrees(np.arctan2(question.group.width_m[row] / 2.0, at.distance_m[row]))
    side = _sides(turn, half + own_half, pairs.distance_m, at.distance_m[row])
    kept = np.flatnonzero(shows)
    return pairs.where(shows), relative[kept], [side[i] for i in kept.tolist()]


def _sides(turn_deg: Floats, touch_deg: Floats, away_m: Floats, subject_m: Floats) -> list[str]:
    """``behind to the left`` and so on, as seen from the stand."""
    words = []
    for turn, touch, away, subject in zip(turn_deg, touch_deg, away_m, subject_m, strict=True):
        depth = "behind" if away > subject else "in front"
        if abs(turn) <= touch:
            words.append(f"straight {depth}")
        else:
            words.append(f"{depth} to the {'right' if turn > 0.0 else 'left'}")
    return words


def _in_sight(
    context: Context, question: LensQuestion, at: BestStands, pairs: _Pairs, top_deg: Floats
) -> NDArray[np.bool_]:
    """Whether no ground between stand and thing rises over its top, as the raster has it."""
    window, row = question.group.window, pairs.row
    share = np.linspace(0.0, 1.0, SIGHT_STEPS + 2)[1:-1]
    away = pairs.distance_m[:, None] * share
    stand = context.elevation.grid.pixels(lat=at.lat[row], lon=at.lon[row])
    steps, turn = window.steps[row], np.radians(pairs.azimuth_deg)
    east, north = away * np.sin(turn)[:, None], away * np.cos(turn)[:, None]
    pixel_row = stand.row[:, None] - window.row0 + east * steps[:, :1] + north * steps[:, 2:3]
    pixel_col = stand.col[:, None] - window.col0 + east * steps[:, 1:2] + north * steps[:, 3:]
    ground = window.heights_at(pixel_row, pixel_col)
    eye = (at.ground_m[row] + question.fit.framing.eye_height_m)[:, None]
    ridge = altitude_of(ground - eye, away, question.asked.refraction_k)
    return np.asarray(~(np.nan_to_num(ridge, nan=-90.0) > top_deg[:, None]).any(axis=1))


def _words(things: list[str]) -> str:
    """Name the three commonest sorts of things, with their number and side."""
    if not things:
        return ""

    said = []
    counted = Counter(things).most_common()
    for key, number in counted[:MOST_NAMED]:
        kind, where = key.split("|", 1)
        known = KINDS.get(kind)
        one = known.name if known and kind != "other" else "other thing"
        many = known.plural if known and kind != "other" else "other things"
        said.append(f"{number} {many} {where}" if number > 1 else f"{one} {where}")
    rest = sum(number for _, number in counted[MOST_NAMED:])
    return ", ".join(said) + (f" and {rest} more" if rest else "")
