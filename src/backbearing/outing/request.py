"""The outing file: what the user asks for, read from TOML, checked, and frozen.

The shape of the file (sections, keys, types) is checked here; the values are
checked by the objects they become, and every refusal names file and key.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar

from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import BackbearingError, Hint, OutingError, Where
from backbearing.base.grouped import FieldOf
from backbearing.base.units import METRIC, Units
from backbearing.outing.cover_request import CoverRequest
from backbearing.outing.marks_request import MarksRequest
from backbearing.outing.scouting_request import ScoutRequest
from backbearing.outing.subject import POSITION_SIGMA_M
from backbearing.sky.nights import DARK_BELOW_DEG
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.height_errors import StatedErrors
from backbearing.terrain.reading.products import ASSUMED_ERRORS, PRODUCTS, product_named

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.camera.sensor import Sensor
    from backbearing.outing.light_request import LampRequest, SkyFrom, TrackerRequest
    from backbearing.outing.session_request import SessionRequest
    from backbearing.outing.subject import Framing, Subject
    from backbearing.sky.targets import Target

FORMAT = 1


@dataclass(frozen=True, slots=True)
class RasterNumbers:
    """How a raster's numbers are read where it does not say so itself."""

    vertical_unit: str | None = None
    voids: tuple[float, ...] = ()
    band: int | None = None


@dataclass(frozen=True, slots=True)
class GroundRequest:
    """Which raster to read and how; paths are absolute.

    What ``numbers`` holds can be read from the request itself, as ``ground.band``.
    """

    elevation: tuple[Path, ...]
    places: Path | None = None
    cover: CoverRequest = field(default=CoverRequest())
    numbers: RasterNumbers = field(default=RasterNumbers())
    vertical_unit: ClassVar[FieldOf[str | None]] = FieldOf("numbers")
    voids: ClassVar[FieldOf[tuple[float, ...]]] = FieldOf("numbers")
    band: ClassVar[FieldOf[int | None]] = FieldOf("numbers")
    product: str = ""
    vertical_sigma_m: float | None = None
    relative_sigma_m: float | None = None
    error_range_m: float | None = None
    canopy_m: float = 0.0
    clearing_m: float = 100.0
    refraction_k: float = DEFAULT_REFRACTION_K
    reach_m: float = DEFAULT_REACH_M
    credit: str = ""
    marks: MarksRequest = field(default=MarksRequest(), repr=False)

    @property
    def holds_cover(self) -> bool:
        """Whether the raster is a product that holds trees and buildings already."""
        product = PRODUCTS.get(self.product.strip().lower())
        return product is not None and product.cover == "all"

    def open(self) -> Elevation:
        """Open the raster, with the trees and buildings on it that it does not hold already.

        Raises
        ------
        TerrainError, OutingError
            When it cannot be read and placed without guessing.
        """
        source = self.elevation[0] if len(self.elevation) == 1 else list(self.elevation)
        bare = Elevation.open(
            source, vertical_unit=self.vertical_unit, voids=self.voids, band=self.band
        )
        return bare if self.holds_cover else self.cover.over(bare)


@dataclass(frozen=True, slots=True)
class NightRequest:
    """Which night, how dark, and how clear of the ridge."""

    evening: dt.date
    time_zone: str | None = None
    sun_below_deg: float = DARK_BELOW_DEG
    moon: str | float = "down"
    moon_adds_mag: float | None = None
    clear_by_deg: float = 1.0
    at: str | None = None
    aerosol_mag: float | None = None
    forecast: Path | None = None


@dataclass(frozen=True, slots=True)
class LensRequest:
    """A lens, and the clock time and share asked for it, if any.

    With ``panorama`` its turn of a session is as long as the frames that cover what the kit's
    widest lens sees.
    """

    lens: Lens
    at: str | None = None
    stand_drop_m: float | None = None
    share: float | None = None
    panorama: bool = False


@dataclass(frozen=True, slots=True)
class ExposureRequest:
    """How to expose, how bright the sky is, and how many frames to stack.

    ``brightness_from`` says whether ``sky_mag_arcsec2`` is the outing's own number or its raster's;
    then ``artificial_mcd_m2`` of it are artificial light at the zenith, and else unknown.
    ``lamp`` is what [light] asks and ``tracker`` what [tracker] does; None without one.
    """

    iso: float = 3200.0
    sky_mag_arcsec2: float = 21.6
    core_mag_arcsec2: float = 20.5
    frames: int = 8
    gain: float = 3.0
    pause_s: float = 2.0
    sensor: Sensor | None = None
    lamp: LampRequest | None = field(default=None, repr=False)
    tracker: TrackerRequest | None = None
    brightness_from: SkyFrom = "asked"
    artificial_mcd_m2: float = math.nan


@dataclass(frozen=True, slots=True)
class AcceptedRequest:
    """What is accepted in a frame: a star's trail and the blur of the subject, pixels.

    ``panorama_overlap`` is the least share that neighbours of a panorama have in common.
    """

    trail_px: float = 3.0
    blur_px: float = 2.0
    panorama_overlap: float = 0.3


@dataclass(frozen=True, slots=True)
class SafetyRequest:
    """How well a position is known, one standard deviation in metres, and whom to call."""

    position_sigma_m: float = POSITION_SIGMA_M
    emergency_number: str = ""


@dataclass(frozen=True, slots=True)
class Outing:
    """Everything an outing file says, validated.

    ``path`` is the file it came from; relative paths inside it were resolved
    against its folder. ``units`` are those in which a person reads lengths. What
    ``accepted`` and ``safety`` hold can be read from the outing itself, as
    ``outing.accepted_trail_px`` or ``outing.emergency_number``.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from backbearing.outing import load_outing
    >>> outing = load_outing(sample / "outing.toml")
    >>> closer = replace(outing, framing=replace(outing.framing, share=0.5))
    >>> f"{outing.framing.share:.0%}, then {closer.framing.share:.0%} of the frame's height"
    "36%, then 50% of the frame's height"
    """

    path: Path
    name: str
    subject: Subject
    target: Target
    camera: Camera
    lenses: tuple[LensRequest, ...]
    framing: Framing
    night: NightRequest
    ground: GroundRequest
    accepted: AcceptedRequest = AcceptedRequest()
    safety: SafetyRequest = SafetyRequest()
    accepted_trail_px: ClassVar[FieldOf[float]] = FieldOf("accepted", "trail_px")
    position_sigma_m: ClassVar[FieldOf[float]] = FieldOf("safety")
    emergency_number: ClassVar[FieldOf[str]] = FieldOf("safety")
    accepted_blur_px: ClassVar[FieldOf[float]] = FieldOf("accepted", "blur_px")
    panorama_overlap: ClassVar[FieldOf[float]] = FieldOf("accepted")
    exposure: ExposureRequest = ExposureRequest()
    session: SessionRequest | None = None
    scouting: ScoutRequest = field(default_factory=ScoutRequest)
    units: Units = METRIC

    @property
    def height_errors(self) -> StatedErrors:
        """Errors of the raster's heights: stated, its product's, or assumed.

        Raises
        ------
        OutingError
            For a product that is not known.
        """
        ground = self.ground
        errors = ASSUMED_ERRORS
        if ground.vertical_sigma_m is not None:
            errors = StatedErrors(ground.vertical_sigma_m)
        elif ground.product:
            try:
                errors = product_named(ground.product).errors
            except BackbearingError as problem:
                raise self.refuse(
                    "ground", "product", problem.what, hint=problem.hint_parts
                ) from problem
        if ground.relative_sigma_m is not None:
            errors = replace(
                errors,
                relative_sigma_m=ground.relative_sigma_m,
                steep_relative_sigma_m=math.nan,
            )
        if ground.error_range_m is not None:
            errors = replace(errors, range_m=ground.error_range_m)
        return errors

    @property
    def vertical_sigma_m(self) -> float:
        """Standard deviation of one of the raster's heights.

        Raises
        ------
        OutingError
            For a product that is not known.
        """
        return self.height_errors.sigma_m

    def with_lenses(self, lenses: Sequence[LensRequest]) -> Outing:
        """Return the same outing for fewer of its lenses; for others, without its session."""
        session = self.session
        if session is not None:
            known = [self.lenses.index(one) for one in lenses if one in self.lenses]
            minutes = tuple(session.minutes[i] for i in known)
            session = replace(session, minutes=minutes) if len(known) == len(lenses) else None
        return replace(self, lenses=tuple(lenses), session=session)

    def with_moon_adding(self, most_mag: float) -> Outing:
        """Return the same outing, accepting a Moon that adds at most so many magnitudes."""
        return replace(self, night=replace(self.night, moon_adds_mag=most_mag))

    def place(self, section: str, key: str = "") -> Where:
        """Name a section of this file, as it stands there, and a key in it."""
        return Where(self.path.name, section, key)

    def refuse(
        self, section: str, key: str, because: str | BackbearingError, *, hint: Hint = ()
    ) -> OutingError:
        """Build the error that names this file, a section and a key, in words or for another."""
        if isinstance(because, BackbearingError):
            what, hint = because.what, because.hint_parts
        else:
            what = because
        return OutingError(
            what,
            hint=hint,
            where=self.place(f"[{section}]", key),
            file=str(self.path),
            key=f"{section}.{key}",
        )
