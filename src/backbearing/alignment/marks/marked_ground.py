"""From the marks that an outing asks for to a raster with marks over it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand.uncertainty import sight_errors
from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.geodesy import point_along
from backbearing.base.text import shortened
from backbearing.land.places import read_places
from backbearing.sky.magnetic import magnetic_declination
from backbearing.terrain.marks.compared import ComparedMarks, ReadersEye
from backbearing.terrain.marks.mark_set import MarkSet
from backbearing.terrain.marks.marked_elevation import MarkedElevation, bare_of
from backbearing.terrain.marks.over_raster import SkylineMarks

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

    from backbearing.outing.marks_request import MarkRequest, MarksRequest, ReadFrom
    from backbearing.outing.request import Outing
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.height_errors import SightErrors


class UsedMarks(NamedTuple):
    """One set of marks: as read beside the raster, and as used after what was taken off.

    ``asked`` says whether anything was to be taken off.
    """

    read_from: ReadFrom
    read: ComparedMarks
    used: ComparedMarks
    tilt_taken_deg: float
    turn_taken_deg: float
    asked: bool = False


class OutingMarks(MarkedElevation):
    """A raster with an outing's marks over it; ``sets`` are what they were made from."""

    def __init__(self, bare: Elevation, sets: tuple[UsedMarks, ...], key: Hashable) -> None:
        super().__init__(bare, SkylineMarks(tuple(one.used.marks for one in sets)), key)
        self.sets = sets


def marked_ground(outing: Outing, elevation: Elevation, subject_ground_m: float) -> Elevation:
    """Put an outing's marks over its raster; the raster itself where it has none.

    Parameters
    ----------
    outing : Outing
    elevation : Elevation
        The raster, with other marks over it or none.
    subject_ground_m : float
        Ground at the subject, metres above sea level.

    Raises
    ------
    OutingError
        Where marks were read from a place that nobody knows, or whose ground is unknown.
    """
    bare, asked = bare_of(elevation), outing.ground.marks
    if not asked:
        return bare
    key = _key(outing, subject_ground_m)
    if isinstance(elevation, OutingMarks) and elevation.key == key:
        return elevation
    errors = sight_errors(outing.height_errors, bare, position_sigma_m=outing.position_sigma_m)
    by_eye: dict[tuple[ReadFrom, float], list[MarkRequest]] = {}
    for one in asked.readings:
        by_eye.setdefault((one.read_from, one.eye_height_m), []).append(one)
    sets = tuple(
        _used(
            _eye(outing, bare, place, eye_height_m, subject_ground_m), place, rows, outing, bare,
            errors,
        )
        for (place, eye_height_m), rows in by_eye.items()
    )  # fmt: skip
    return OutingMarks(bare, sets, key)


def _key(outing: Outing, subject_ground_m: float) -> Hashable:
    subject = outing.subject
    return (
        outing.ground, outing.safety, outing.night.evening,
        subject.lat, subject.lon, subject_ground_m,
    )  # fmt: skip


def _eye(
    outing: Outing, bare: Elevation, place: ReadFrom, eye_height_m: float, subject_ground_m: float
) -> ReadersEye:
    """Where a set was read; never inside the raster's ground."""
    lat, lon = _where(outing, place)
    try:
        raster = float(bare.height_at(lat=lat, lon=lon))
    except BackbearingError as problem:
        problem.at(outing.place("[[skyline_mark]]", "from"))
        raise
    ground = raster
    if (lat, lon) == (outing.subject.lat, outing.subject.lon):
        ground = float(np.fmax(raster, subject_ground_m))
    if not np.isfinite(ground):
        raise _refused(
            outing, f"the raster knows no ground at {place.words}", "name a place on the raster"
        )
    k, reach_m = outing.ground.refraction_k, outing.ground.reach_m
    return ReadersEye(lat, lon, eye_height_m, ground, k, reach_m)


def _where(outing: Outing, place: ReadFrom) -> tuple[float, float]:
    subject = outing.subject
    if place.lat is not None and place.lon is not None:
        return place.lat, place.lon
    if place.bearing_deg is not None and place.distance_m is not None:
        end = point_along(
            lat=subject.lat, lon=subject.lon, azimuth_deg=place.bearing_deg,
            distance_m=place.distance_m,
        )  # fmt: skip
        return float(end.lat), float(end.lon)
    if place.name == "subject":
        return subject.lat, subject.lon
    return _named(outing, place.name)


def _named(outing: Outing, name: str) -> tuple[float, float]:
    """Find a place of the user's own file by its name."""
    hint = 'write "subject", { lat, lon } or { bearing_deg, distance_m }'
    if outing.ground.places is None:
        raise _refused(
            outing, f"{shortened(name, 60)!r} is no place: there is no places file", hint
        )
    found = [one for one in read_places(outing.ground.places) if one.name == name]
    if len(found) != 1:
        many = "no place" if not found else f"{len(found)} places"
        raise _refused(outing, f"the places file has {many} called {shortened(name, 60)!r}", hint)
    middle = found[0].geometry.representative_point()
    return float(middle.y), float(middle.x)


def _refused(outing: Outing, what: str, hint: str) -> OutingError:
    return OutingError(
        what, hint=hint, where=outing.place("[[skyline_mark]]", "from"), file=str(outing.path),
        key="skyline_mark.from",
    )  # fmt: skip


def _used(  # what one set of marks is made of
    eye: ReadersEye,
    place: ReadFrom,
    rows: Sequence[MarkRequest],
    outing: Outing,
    bare: Elevation,
    errors: SightErrors,
) -> UsedMarks:
    """Read one set beside the raster, and take off what is asked to be."""
    read = MarkSet.of(
        (eye.lat, eye.lon, eye.ground_m + eye.eye_height_m),
        _azimuths_deg(eye, rows, outing),
        [one.altitude_deg for one in rows],
        sigmas_deg=[one.sigma_deg for one in rows],
        azimuth_sigmas_deg=[one.azimuth_doubt_deg for one in rows],
        distances_m=[np.nan if one.distance_m is None else one.distance_m for one in rows],
    )
    compared = ComparedMarks.of(bare, eye, read, errors)
    asked = outing.ground.marks
    taken = _taken_off(asked, compared)
    if taken == (0.0, 0.0, 0.0, 0.0):
        return UsedMarks(place, compared, compared, 0.0, 0.0, asked.correct)
    tilt, turn, tilt_sigma, turn_sigma = taken
    used = read.corrected(tilt_deg=tilt, azimuth_error_deg=turn)
    used = used.less_sure(altitude_deg=tilt_sigma, azimuth_deg=turn_sigma)
    return UsedMarks(place, compared, ComparedMarks.of(bare, eye, used, errors), tilt, turn, True)


def _taken_off(asked: MarksRequest, read: ComparedMarks) -> tuple[float, float, float, float]:
    """Tilt and turn to take off, and their sigmas: as written, as found where asked, or none."""
    if not asked.correct:
        return asked.tilt_deg or 0.0, asked.turn_deg or 0.0, 0.0, 0.0
    found = read.reading_errors
    values = (found.tilt_deg, found.turn_deg, found.tilt_sigma_deg, found.turn_sigma_deg)
    tilt, turn, tilt_sigma, turn_sigma = (float(v) for v in np.nan_to_num(values))
    return tilt, turn, tilt_sigma, turn_sigma


def _azimuths_deg(eye: ReadersEye, rows: Sequence[MarkRequest], outing: Outing) -> list[float]:
    """True azimuths; those by the needle turned by the declination told, or the model's."""
    model = None
    if any(one.compass_deg is not None and one.declination_deg is None for one in rows):
        found = magnetic_declination(
            lat=eye.lat, lon=eye.lon, height_m=eye.ground_m, when=outing.night.evening
        )
        if not found.known:
            raise _refused(
                outing, f"a compass bearing cannot be turned to true north: {found.sentence}",
                "write azimuth_deg, or declination_deg",
            )  # fmt: skip
        model = float(found.declination_deg)
    azimuths = []
    for one in rows:
        if one.compass_deg is None:
            azimuths.append(float(one.azimuth_deg or 0.0))
            continue
        declination = model if one.declination_deg is None else one.declination_deg
        assert declination is not None  # noqa: S101  # the model was asked for above
        azimuths.append(one.compass_deg + declination)
    return azimuths
