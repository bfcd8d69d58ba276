"""A night made ready to be asked again and again: what a plan, a desk and a page stand on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from backbearing.alignment.night.from_outing import (
    AskedMinute,
    asked_minute,
    night_sky,
    open_elevation,
    same_raster,
    scene_of,
    where_and_when,
    zone_of,
)
from backbearing.alignment.night.lens_arc import (
    Arcs,
    AskedLens,
    arc_points,
    arcs_of,
    chosen_at,
    limits_of_each,
    settle_lenses,
)
from backbearing.alignment.night.moved_stand import off_closed_ground
from backbearing.alignment.night.plan_facts import (
    SkylineAsNeeded,
    events_of,
    land_of,
    notes_of,
    sky_of,
    skyline_of,
)
from backbearing.alignment.night.self_check import check_plan
from backbearing.alignment.stand.cloud_seen import with_cloud
from backbearing.alignment.stand.ground_cautions import each_with_surroundings, surroundings_of_each
from backbearing.alignment.stand.lens_figures import LensStand, figures_of_each
from backbearing.alignment.stand.needed import EVERYTHING
from backbearing.alignment.stand.place_stand import StandAsked, place_each
from backbearing.alignment.stand.settled_stands import LensTimes
from backbearing.alignment.stand.stand_doubts import (
    plan_with_doubts,
    target_skylines,
    with_doubts,
)
from backbearing.base import asked
from backbearing.base.cautions import general
from backbearing.base.errors import OutingError, SkyError
from backbearing.base.geodesy import point_along
from backbearing.base.lazy import Later
from backbearing.base.version import __version__
from backbearing.base.wall_clock import now_utc
from backbearing.land.places import read_places
from backbearing.land.sky_of_outing import with_sky_of_raster
from backbearing.outing.known_cover import known_cover
from backbearing.outing.request import Outing
from backbearing.plan.marks import marks_notes
from backbearing.plan.plan import Plan, PlanBasis
from backbearing.plan.stand import LensArc
from backbearing.terrain.marks.marked_elevation import MarkedElevation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.marks import marked_ground, marks_told
    from backbearing.alignment.night import lamp_light
    from backbearing.alignment.session import plan_session
    from backbearing.alignment.stand.needed import Needed
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import LensRequest
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.place import Place
    from backbearing.plan.plan import PlanLand, SkyEvent
    from backbearing.plan.session import Session
    from backbearing.plan.stand import ArcPoint, LensPlan, Stand
    from backbearing.terrain.elevation import Elevation
else:
    # Half of all the planning code; many outings have no session.
    plan_session = Later("backbearing.alignment.session.plan_session")
    # Few outings have a lamp, or skyline marks.
    lamp_light = Later("backbearing.alignment.night.lamp_light")
    marked_ground = Later("backbearing.alignment.marks.marked_ground")
    marks_told = Later("backbearing.alignment.marks.marks_told")


def prepare_night(outing: Outing, elevation: Elevation | None = None) -> PreparedNight:
    """Make a night ready to be asked again and again.

    Parameters
    ----------
    outing : Outing
        As read from its file.
    elevation : Elevation, optional
        The raster, when it is open already.

    Raises
    ------
    OutingError, TerrainError, SkyError
        One sentence each; see :mod:`backbearing.base.errors`.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, prepare_night
    >>> night = prepare_night(load_outing(sample / "outing.toml"))
    >>> [f"{stand.distance_m:.1f} m" for stand in night.stands_at("01:00")]
    ['22.4 m', '26.0 m', '32.1 m', '67.9 m']
    >>> taller = night.with_subject_height(8.0)
    >>> [f"{stand.distance_m:.1f} m" for stand in taller.stands_at("01:00")]
    ['25.5 m', '29.7 m', '36.6 m', '77.5 m']
    """
    outing = asked.instance(
        outing, Outing, "outing", OutingError, "pass what load_outing gives for a file"
    )
    outing = with_sky_of_raster(outing)
    elevation = open_elevation(outing) if elevation is None else elevation
    scene = scene_of(outing, elevation)
    places = read_places(outing.ground.places) if outing.ground.places else ()
    zone = zone_of(outing)
    events = events_of(outing, scene, zone)
    return PreparedNight(outing, scene, night_sky(outing.night, scene, zone), events, places)


@dataclass(frozen=True, eq=False)
class PreparedNight:
    """One evening, subject, ground and kit, with all that does not hang on what is asked next.

    Made by `prepare_night`; never changed. What it says is what a plan of the same outing says.
    The ways that begin with ``with_`` give a night for another outing, which keeps what the
    change leaves true. Arcs are worked out when they are first asked for, and kept.

    Attributes
    ----------
    outing : Outing
    scene : Scene
        Subject, target, camera and ground, joined.
    sky : NightSky
        Moments of the arcs, and the windows of Sun and Moon.
    events : tuple of SkyEvent
        Of Sun and Moon, in order of time.
    places : tuple of Place
        From the user's places file.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, prepare_night
    >>> night = prepare_night(load_outing(sample / "outing.toml")).with_eye_height(1.2)
    >>> [f"{point.distance_m:.1f} m" for point in night.points_at("01:00")]
    ['22.3 m', '26.0 m', '32.1 m', '67.8 m']
    """

    outing: Outing
    scene: Scene
    sky: NightSky
    events: tuple[SkyEvent, ...]
    places: tuple[Place, ...]

    def points_at(self, time: dt.datetime | str) -> tuple[ArcPoint, ...]:
        """Where each lens's stand is at one moment, and what spoils it there: the least to show.

        Parameters
        ----------
        time : datetime or str
            Aware, or a local wall time of the night such as ``"23:40"``.

        Raises
        ------
        SkyError, OutingError
            For a time without zone, or a clock time that the night does not have.
        """
        times = [self._moment(time)]
        found = limits_of_each(
            [LensTimes(one.scene, one.lens, times) for one in self._lenses], self.sky
        )
        return tuple(arc_points(times, one)[0] for one in found)

    def stands_at(self, time: dt.datetime | str) -> tuple[Stand | None, ...]:
        """Each lens's stand at one moment, with all its cautions; None where there is none.

        The same as in a plan that asks for this minute. See `points_at` for the parameter.
        """
        moment = self._moment(time)
        chosen = chosen_at(self._lenses, self.sky, [moment] * len(self._lenses))
        there = [i for i, one in enumerate(chosen) if one is not None and one.stand is not None]
        stands = [one.stand for one in chosen if one is not None and one.stand is not None]
        scene, scenes = self.scene, [self._lenses[i].scene for i in there]
        seen = (
            target_skylines(stands, scene, scene.elevation) if stands and scene.elevation else None
        )
        told = each_with_surroundings(stands, scenes, self.places, seen)
        told = with_cloud(with_doubts(told, scene, seen), scene.forecast)
        found = dict(zip(there, told, strict=True))
        return tuple(found.get(i) for i in range(len(chosen)))

    def arcs(self) -> tuple[LensArc, ...]:
        """Each lens's arc through the night, and the stretches that work."""
        found = self._arcs
        return tuple(
            LensArc(one.lens, arc_points(self.sky.times, limits), *spans)
            for one, limits, spans in zip(self._lenses, *found, strict=True)
        )

    def plan(self, *, at: str | None = None, whole_skyline: bool = True) -> Plan:
        """Settle every lens, and the session if one is asked for.

        Parameters
        ----------
        at : str, optional
            A local wall time such as ``"23:40"`` for every lens, instead of the file's.
        whole_skyline : bool
            Whether the plan holds the skyline all round; see :func:`.plan_night`.

        Raises
        ------
        OutingError, TerrainError, SkyError, CameraError
            One sentence each; see :mod:`backbearing.base.errors`.
        SelfCheckError
            Where a chosen stand's own numbers contradict what the plan says of it.
        """
        return self.part(replace(EVERYTHING, skyline=whole_skyline), at=at)

    def part(self, needed: Needed, *, at: str | None = None) -> Plan:
        """Settle as much of the plan as is needed: not to be shown as a plan.

        What is not needed stays empty; all else is the same as in `plan`.
        """
        outing, scene, sky, places = self.outing, self.scene, self.sky, self.places
        skyline = skyline_of(scene) if needed.skyline else None
        over, lenses = skyline or SkylineAsNeeded(scene), self._settled(at, needed)
        plan = Plan(
            name=outing.name,
            subject=outing.subject,
            target=outing.target,
            camera=outing.camera,
            framing=outing.framing,
            evening=outing.night.evening,
            zone=sky.zone,
            sky=sky_of(outing.night, scene, over, sky, self.events),
            lenses=lenses,
            land=_with_marks(land_of(outing.ground, scene, skyline, places), scene, lenses),
            cautions=general(known_cover(outing.ground)),
            notes=notes_of(outing, scene),
            basis=PlanBasis(
                scene.refraction_k,
                outing.accepted_trail_px,
                outing.emergency_number,
                made=now_utc(),
                version=__version__,
            ),
            session=self._session(lenses, needed),
        )
        if plan.land.marks is not None:
            plan = replace(plan, notes=(*plan.notes, *marks_notes(plan.land.marks)))
        plan = plan_with_doubts(plan, scene)
        if outing.exposure.lamp is not None and needed.light:
            plan = replace(plan, lamp=lamp_light.lamp_of(outing, scene, sky, plan))
        check_plan(plan, sky)
        return plan

    def with_outing(self, outing: Outing) -> PreparedNight:
        """Make the night of another outing ready, keeping what the change leaves true.

        Raises
        ------
        OutingError, TerrainError, SkyError
            As `prepare_night`.
        """
        own, outing = self.outing, with_sky_of_raster(outing)
        elevation = self.scene.elevation if same_raster(own, outing) else open_elevation(outing)
        assert elevation is not None  # noqa: S101  # an outing always has a raster
        if where_and_when(own) != where_and_when(outing) or own.ground != outing.ground:
            return prepare_night(outing, elevation)
        scene = scene_of(outing, elevation)
        if scene.subject_ground_m != self.scene.subject_ground_m:
            return prepare_night(outing, elevation)
        return PreparedNight(outing, scene, self.sky, self.events, self.places)

    def with_share(self, share: float) -> PreparedNight:
        """The same with another share of the frame; lenses with a share of their own keep it."""
        own = self.outing
        return self.with_outing(replace(own, framing=replace(own.framing, share=share)))

    def with_eye_height(self, eye_height_m: float) -> PreparedNight:
        """The same with the camera so high above the ground, metres."""
        own = self.outing
        framing = replace(own.framing, eye_height_m=eye_height_m)
        return self.with_outing(replace(own, framing=framing))

    def with_subject_height(self, height_m: float) -> PreparedNight:
        """The same with a subject so high from its visible base, metres; an outline grows along."""
        own = self.outing
        return self.with_outing(replace(own, subject=own.subject.as_high_as(height_m)))

    def with_lenses(self, lenses: Sequence[LensRequest]) -> PreparedNight:
        """The same with these lenses; see :meth:`.Outing.with_lenses` for the session."""
        return self.with_outing(self.outing.with_lenses(lenses))

    def with_subject_at(self, *, lat: float, lon: float) -> PreparedNight:
        """The same with the subject in another place, WGS84 degrees, on the raster's ground.

        Ground that the user set by hand stays behind: it was the old place's. So do skyline marks
        that were read there.
        """
        own = self.outing
        moved = replace(own.subject, lat=lat, lon=lon, ground_m=None)
        marks = own.ground.marks.kept_at(lat=own.subject.lat, lon=own.subject.lon)
        return self.with_outing(
            replace(own, subject=moved, ground=replace(own.ground, marks=marks))
        )

    def with_subject_moved(self, *, azimuth_deg: float, distance_m: float) -> PreparedNight:
        """The same with the subject so many metres away on a true azimuth, along a geodesic."""
        subject = self.outing.subject
        end = point_along(
            lat=subject.lat, lon=subject.lon, azimuth_deg=azimuth_deg, distance_m=distance_m
        )
        return self.with_subject_at(lat=float(end.lat), lon=float(end.lon))

    @cached_property
    def _lenses(self) -> tuple[AskedLens, ...]:
        """The lenses with their own shares and drops, whatever minutes the file asks for."""
        return tuple(
            AskedLens(self.scene.with_drop(one.stand_drop_m).with_share(one.share), one.lens)
            for one in self.outing.lenses
        )

    @cached_property
    def _arcs(self) -> Arcs:
        return arcs_of(self._lenses, self.sky)

    def _moment(self, time: dt.datetime | str) -> dt.datetime:
        if isinstance(time, str):
            asked = asked_minute(self.outing, time, self.sky.zone)
            assert asked is not None  # noqa: S101  # a clock time was given
            return asked.time
        if time.tzinfo is None:
            raise SkyError(
                f"The time {time.isoformat()} has no zone", hint="give an aware datetime"
            )
        return time.astimezone(dt.UTC)

    def _settled(self, at: str | None, needed: Needed) -> tuple[LensPlan, ...]:
        """Settle the lenses off closed ground, with what surrounds their stands."""
        outing = self.outing
        asked = [
            asked_minute(outing, at or one.at or outing.night.at, self.sky.zone)
            for one in outing.lenses
        ]
        lenses = [one._replace(asked=a) for one, a in zip(self._lenses, asked, strict=True)]
        settled = settle_lenses(lenses, self.sky, self._figures, self._arcs)
        moved = [
            self._off_closed_ground(one, lens) for one, lens in zip(settled, lenses, strict=True)
        ]
        stands = [one.stand for one in moved]
        if needed.surroundings:
            stands = surroundings_of_each(stands, [one.scene for one in lenses], self.places)
        placed = [
            StandAsked(lens.scene, lens.lens, stand)
            for lens, stand in zip(lenses, stands, strict=True)
            if stand is not None
        ]
        pace_m = outing.session.pace_m if outing.session is not None else None
        placings = iter(place_each(placed, zone=self.sky.zone, pace_m=pace_m))
        return tuple(
            one if stand is None else replace(one, stand=stand, placing=next(placings))
            for one, stand in zip(moved, stands, strict=True)
        )

    def _session(self, lenses: tuple[LensPlan, ...], needed: Needed) -> Session | None:
        if self.outing.session is None:
            return None
        return plan_session.plan_session(
            self.outing, self.scene, self.sky, lenses, self.places, needed
        )

    def _figures(self, asked: Sequence[LensStand]) -> list[LensFigures]:
        return figures_of_each(asked, self.outing)

    def _off_closed_ground(self, night: LensPlan, lens: AskedLens) -> LensPlan:
        def settled_at(asked: AskedMinute) -> LensPlan:
            return settle_lenses([lens._replace(asked=asked)], self.sky, self._figures)[0]

        return off_closed_ground(night, self.places, self.sky, settled_at)


def _with_marks(land: PlanLand, scene: Scene, lenses: Sequence[LensPlan]) -> PlanLand:
    """The land with what is to be told of its skyline marks."""
    if not isinstance(scene.elevation, MarkedElevation):
        return land
    marked = scene.elevation
    assert isinstance(marked, marked_ground.OutingMarks)  # noqa: S101  # as the scene made it
    return replace(land, marks=marks_told.plan_marks(marked, scene, lenses))
