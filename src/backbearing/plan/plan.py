"""The plan: everything that was settled, immutable, for every writer to read.

No writer computes astronomy or terrain; what a page, a sheet or an export shows
stands here. Times are timezone-aware UTC; ``Plan.zone`` is the zone to show.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from backbearing.base.cautions import CoverKnown
from backbearing.base.errors import OutingError
from backbearing.base.grouped import FieldOf
from backbearing.base.notebook import table_html
from backbearing.base.text import night_label
from backbearing.camera.angles import field_of_view
from backbearing.sky.magnetic import MODEL
from backbearing.sky.targets import CORE

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject
    from backbearing.plan.lamp import PlanLamp
    from backbearing.plan.marks import PlanMarks
    from backbearing.plan.place import Place
    from backbearing.plan.session import Session
    from backbearing.plan.stand import LensPlan
    from backbearing.sky.targets import Target
    from backbearing.sky.windows import DarkWindow


@dataclass(frozen=True, slots=True)
class SkyPoint:
    """The target's apparent direction at a moment, seen from the subject."""

    time: dt.datetime
    azimuth_deg: float
    altitude_deg: float


@dataclass(frozen=True, slots=True)
class SkyEvent:
    """A named event of the night: twilight, moonset, the core clearing the ridge."""

    time: dt.datetime
    name: str


@dataclass(frozen=True, slots=True)
class SkylinePoint:
    """One azimuth of the terrain skyline seen from the plan's viewpoint."""

    azimuth_deg: float
    altitude_deg: float
    distance_m: float


@dataclass(frozen=True, slots=True)
class GroundWithin:
    """Skyline of the ground within a distance: altitudes from azimuth 0 on, evenly spaced."""

    within_m: float
    step_deg: float
    altitudes_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class GroundFacts:
    """What is known of the elevation raster behind the plan.

    ``vertical_datum`` is what its heights count from, as its own tag says; empty when it
    does not say. Of ``vertical_sigma_m``, one standard deviation of a height,
    ``local_sigma_m`` is each height's own and holds together over ``error_range_m``; the
    rest is common to wider ground. ``cover`` names the files of trees and buildings on it;
    ``cover_known`` says whether skylines know these: ``none``, ``part`` or ``all``.
    """

    source: str
    crs: str
    rows: int
    columns: int
    cell_m: float
    vertical_sigma_m: float
    credit: str
    canopy_m: float = 0.0
    clearing_m: float = 0.0
    vertical_datum: str = ""
    local_sigma_m: float = math.nan
    error_range_m: float = math.nan
    cover: str = ""
    cover_known: CoverKnown = CoverKnown.NONE


@dataclass(frozen=True, slots=True)
class PlanSky:
    """The night's sky, as seen from the subject.

    Attributes
    ----------
    dark : tuple of DarkWindow
        Sun and Moon as asked, and the target clear of the ridge.
    dark_reason : str
        Why there is none.
    path, moon_path : tuple of SkyPoint
        The target and the Moon.
    events : tuple of SkyEvent
        In order of time.
    """

    dark: tuple[DarkWindow, ...]
    dark_reason: str
    path: tuple[SkyPoint, ...]
    events: tuple[SkyEvent, ...]
    moon_path: tuple[SkyPoint, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanLand:
    """The land about the subject.

    Attributes
    ----------
    subject_ground_m : float
        Ground elevation at the subject, metres.
    viewpoint_lat, viewpoint_lon : float
        From where the skyline is seen, and ``viewpoint_note`` in words.
    skyline : tuple of SkylinePoint
        All round; empty in a plan that was asked for without (``whole_skyline=False``).
    places : tuple of Place
        Of the user's own file.
    raster : GroundFacts
        What is known of the heights.
    ground_within : tuple of GroundWithin
        Skylines of the nearer ground alone; empty where ``skyline`` is.
    marks : PlanMarks or None
        Measured skyline marks, and how they and the raster differ.
    """

    subject_ground_m: float
    viewpoint_lat: float
    viewpoint_lon: float
    viewpoint_note: str
    skyline: tuple[SkylinePoint, ...]
    places: tuple[Place, ...]
    raster: GroundFacts
    ground_within: tuple[GroundWithin, ...] = ()
    marks: PlanMarks | None = None


@dataclass(frozen=True, slots=True)
class PlanBasis:
    """What a plan rests on, beside its outing.

    Attributes
    ----------
    refraction_k : float
        Terrestrial refraction coefficient.
    accepted_trail_px : float
    emergency_number : str
    made : datetime
        UTC.
    version : str
        Of this package.
    """

    refraction_k: float
    accepted_trail_px: float
    emergency_number: str
    made: dt.datetime
    version: str


@dataclass(frozen=True, slots=True)
class Plan:
    """One night, one subject, all lenses: the answer that every writer shows.

    Attributes
    ----------
    name : str
    subject, target, camera, framing
        As asked.
    evening : date
        The first of the night's two dates.
    zone : str
        The zone to show times in.
    lenses : tuple of LensPlan
    sky : PlanSky
    land : PlanLand
    basis : PlanBasis
    cautions, notes : tuple of str
    session : Session or None
    lamp : PlanLamp or None
        How bright the light must be, where the outing has a [light] section.

    Notes
    -----
    What ``sky``, ``land`` and ``basis`` hold can be read from the plan itself, as ``plan.dark``,
    ``plan.places``, ``plan.ground`` (the raster) or ``plan.made``, and JSON shows it so.

    Examples
    --------
    Of the sample outing's ``plan``, as `backbearing.plan_night` gives it:

    >>> plan.zone, plan.target.name
    ('America/New_York', 'Milky Way core (Sgr A*)')
    >>> [lens.lens.label for lens in plan.lenses if lens.stand is not None]
    ['16 mm', '24 mm', '40 mm', '85 mm']
    >>> f"dark from {plan.dark[0].start:%H:%M} to {plan.dark[0].end:%H:%M %Z}"
    'dark from 23:08 to 02:22 EDT'
    """

    name: str
    subject: Subject
    subject_ground_m: ClassVar[FieldOf[float]] = FieldOf("land")
    target: Target
    camera: Camera
    framing: Framing
    evening: dt.date
    zone: str
    sky: PlanSky
    dark: ClassVar[FieldOf[tuple[DarkWindow, ...]]] = FieldOf("sky")
    dark_reason: ClassVar[FieldOf[str]] = FieldOf("sky")
    lenses: tuple[LensPlan, ...]
    land: PlanLand
    viewpoint_lat: ClassVar[FieldOf[float]] = FieldOf("land")
    viewpoint_lon: ClassVar[FieldOf[float]] = FieldOf("land")
    viewpoint_note: ClassVar[FieldOf[str]] = FieldOf("land")
    skyline: ClassVar[FieldOf[tuple[SkylinePoint, ...]]] = FieldOf("land")
    sky_path: ClassVar[FieldOf[tuple[SkyPoint, ...]]] = FieldOf("sky", "path")
    events: ClassVar[FieldOf[tuple[SkyEvent, ...]]] = FieldOf("sky")
    places: ClassVar[FieldOf[tuple[Place, ...]]] = FieldOf("land")
    ground: ClassVar[FieldOf[GroundFacts]] = FieldOf("land", "raster")
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    basis: PlanBasis
    emergency_number: ClassVar[FieldOf[str]] = FieldOf("basis")
    refraction_k: ClassVar[FieldOf[float]] = FieldOf("basis")
    accepted_trail_px: ClassVar[FieldOf[float]] = FieldOf("basis")
    made: ClassVar[FieldOf[dt.datetime]] = FieldOf("basis")
    version: ClassVar[FieldOf[str]] = FieldOf("basis")
    ground_within: ClassVar[FieldOf[tuple[GroundWithin, ...]]] = FieldOf("land")
    moon_path: ClassVar[FieldOf[tuple[SkyPoint, ...]]] = FieldOf("sky")
    marks: ClassVar[FieldOf[PlanMarks | None]] = FieldOf("land")
    session: Session | None = None
    lamp: PlanLamp | None = None

    @property
    def target_word(self) -> str:
        """What the target is called where room is short."""
        return "Core" if self.target == CORE else "Target"

    @property
    def skyline_all_round(self) -> tuple[SkylinePoint, ...]:
        """The skyline, for what draws it.

        Raises
        ------
        OutingError
            In a plan that was asked for without.
        """
        if not self.land.skyline:
            raise OutingError(
                "this plan holds no skyline to draw", hint="plan the night with whole_skyline=True"
            )
        return self.land.skyline

    @property
    def magnetic_model(self) -> str:
        """The model behind every magnetic bearing."""
        return MODEL

    def field_width_deg(self, lens: Lens) -> float:
        """How wide a lens sees on the plan's camera, degrees."""
        return field_of_view(self.camera, lens).horizontal_deg

    def _repr_html_(self) -> str:
        """Show the lenses' stands as a table, for a notebook."""
        from zoneinfo import ZoneInfo

        zone = ZoneInfo(self.zone)
        rows: list[list[object]] = []
        for one in self.lenses:
            at = one.stand
            if at is None:
                rows.append([one.lens.label, None, None, None, None, None, one.sentence])
                continue
            time = None if at.time is None else at.time.astimezone(zone)
            figures = [at.distance_m, at.bearing_deg, at.pitch_deg, at.clearance_deg]
            rows.append([one.lens.label, time, *figures, one.sentence])
        names = ["lens", "time", "distance, m", "bearing, °", "tilt, °", "clearance, °", ""]
        said = f"{self.name}, night of {night_label(self.evening)}, times in {self.zone}."
        return table_html(said, names, rows, self.cautions)
