"""Cameras and lenses as plain measurements: no brand data, only sizes.

>>> from backbearing.camera import FORMATS_MM
>>> width_mm, height_mm = FORMATS_MM["Four Thirds"]
>>> f"{width_mm} by {height_mm} mm"
'17.3 by 13.0 mm'
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

from backbearing.base.errors import CameraError
from backbearing.base.limits import check_limits
from backbearing.base.numbers import num
from backbearing.camera._numbers import require_number
from backbearing.camera.lens_label import lens_label

if TYPE_CHECKING:
    from collections.abc import Mapping

Orientation = Literal["landscape", "portrait"]
Projection = Literal["rectilinear", "equisolid"]

SQUARE_PIXEL_TOLERANCE: Final = 0.03
"""Largest relative difference between pixel width and height; sensor sizes are often
published to 0.1 mm, which alone makes about one percent."""

WIDEST_FISHEYE_DEG: Final = 190.0
"""Largest corner-to-corner angle of a fisheye frame that this package works with: a
15 mm equisolid lens on 36 x 24 mm needs 184.6 degrees and is meant to work."""

FORMATS_MM: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "135": (36.0, 24.0),
        "APS-C": (23.6, 15.7),
        "Four Thirds": (17.3, 13.0),
        "44x33": (43.8, 32.9),
        "1-inch": (13.2, 8.8),
    }
)
"""Sensor sizes by their trade names, width and height in landscape, millimetres. 135 film
is 36 x 24 mm (ISO 1007); the others are common practice, no source: makers differ by some
tenths of a millimetre, so write your own sensor's size where you know it."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A sensor: its size, its pixels and which way up it is held.

    Parameters
    ----------
    sensor_width_mm, sensor_height_mm : float
        Size as the sensor lies in landscape, millimetres.
    width_px, height_px : int
        Pixel counts, in landscape.
    orientation : {"landscape", "portrait"}
        How the camera is held; the ``frame_*`` properties follow it.
    name : str, optional
        For people; never interpreted.

    Raises
    ------
    CameraError
        For a size or count that cannot exist, pixels that are not square within
        3 percent, or an unknown orientation.

    Examples
    --------
    >>> from backbearing.camera import Camera
    >>> camera = Camera(width_px=6000, height_px=4000, orientation="portrait")
    >>> f"{camera.frame_width_mm:g} mm wide, {camera.pixel_pitch_um:.2f} um a pixel"
    '24 mm wide, 6.00 um a pixel'
    """

    sensor_width_mm: float = 36.0
    sensor_height_mm: float = 24.0
    width_px: int = 6000
    height_px: int = 4000
    orientation: Orientation = "landscape"
    name: str = ""

    def __post_init__(self) -> None:
        width = require_number(self.sensor_width_mm, "sensor_width_mm", "millimetres")
        height = require_number(self.sensor_height_mm, "sensor_height_mm", "millimetres")
        for key in ("width_px", "height_px"):
            if require_number(getattr(self, key), key, "whole pixels") % 1.0:
                raise CameraError(
                    f"{key} is {getattr(self, key)}", hint="write whole pixels", key=key
                )
        if self.orientation not in ("landscape", "portrait"):
            raise CameraError(
                f"Camera orientation is {self.orientation!r}",
                hint='write "landscape" or "portrait"',
                key="orientation",
            )
        check_limits(self, CameraError)
        if height > width:
            raise CameraError(
                f"The sensor is given as {width:g} mm wide and {height:g} mm high",
                hint='give both as it lies in landscape and write orientation = "portrait"',
                key="sensor_height_mm",
            )
        self._refuse_odd_pixels()

    def _refuse_odd_pixels(self) -> None:
        across = self.sensor_width_mm / self.width_px
        along = self.sensor_height_mm / self.height_px
        if abs(across - along) > SQUARE_PIXEL_TOLERANCE * min(across, along):
            fitting = round(self.width_px * self.sensor_height_mm / self.sensor_width_mm)
            raise CameraError(
                f"A sensor of {self.sensor_width_mm:g} x {self.sensor_height_mm:g} mm with "
                f"{self.width_px} x {self.height_px} pixels has pixels of {1e3 * across:.2f} x "
                f"{1e3 * along:.2f} micrometres, which are not square; {self.width_px} pixels "
                f"across go with about {fitting} in height.",
                key="height_px",
            )

    @property
    def frame_width_mm(self) -> float:
        """Width of the frame as held, millimetres."""
        return self.sensor_height_mm if self.orientation == "portrait" else self.sensor_width_mm

    @property
    def frame_height_mm(self) -> float:
        """Height of the frame as held, millimetres."""
        return self.sensor_width_mm if self.orientation == "portrait" else self.sensor_height_mm

    @property
    def frame_width_px(self) -> int:
        """Width of the frame as held, pixels."""
        return int(self.height_px if self.orientation == "portrait" else self.width_px)

    @property
    def frame_height_px(self) -> int:
        """Height of the frame as held, pixels."""
        return int(self.width_px if self.orientation == "portrait" else self.height_px)

    @property
    def frame_diagonal_mm(self) -> float:
        """Corner to corner, millimetres."""
        return math.hypot(self.sensor_width_mm, self.sensor_height_mm)

    @property
    def pixel_pitch_um(self) -> float:
        """Mean of pixel width and height, micrometres."""
        across = self.sensor_width_mm / self.width_px
        along = self.sensor_height_mm / self.height_px
        return 500.0 * (across + along)

    def held(self, orientation: Orientation) -> Camera:
        """Return the same camera held the asked way.

        Raises
        ------
        CameraError
            For an unknown orientation.
        """
        return replace(self, orientation=orientation)

    def cropped(self, *, width_px: int, height_px: int) -> Camera:
        """Return the camera that keeps only the middle of its frame.

        Parameters
        ----------
        width_px, height_px : int
            What is kept, in landscape, pixels.

        Returns
        -------
        Camera
            Same pixel size, smaller sensor.

        Raises
        ------
        CameraError
            When the crop is larger than the sensor or higher than wide.
        """
        if width_px > self.width_px or height_px > self.height_px:
            raise CameraError(
                f"A crop of {width_px} x {height_px} pixels does not fit in {self.width_px} x "
                f"{self.height_px}",
                hint="write at most that",
                key="width_px",
            )
        return replace(
            self,
            sensor_width_mm=self.sensor_width_mm * width_px / self.width_px,
            sensor_height_mm=self.sensor_height_mm * height_px / self.height_px,
            width_px=width_px,
            height_px=height_px,
        )

    @classmethod
    def of_format(
        cls, name: str, *, width_px: int, orientation: Orientation = "landscape"
    ) -> Camera:
        """Return a camera with a generic sensor size and square pixels.

        Parameters
        ----------
        name : str
            A key of `FORMATS_MM`, such as ``"135"`` or ``"Four Thirds"``.
        width_px : int
            Pixels across, in landscape.
        orientation : {"landscape", "portrait"}
            How it is held.

        Returns
        -------
        Camera

        Raises
        ------
        CameraError
            For a format that is not listed.
        """
        if name not in FORMATS_MM:
            raise CameraError(
                f"Sensor format {name!r} is not known",
                hint=(
                    f"write one of {', '.join(FORMATS_MM)}, or the sensor's width and height in "
                    "millimetres"
                ),
                key="format",
            )
        width_mm, height_mm = FORMATS_MM[name]
        return cls(
            sensor_width_mm=width_mm,
            sensor_height_mm=height_mm,
            width_px=width_px,
            height_px=round(
                require_number(width_px, "width_px", "whole pixels") * height_mm / width_mm
            ),
            orientation=orientation,
            name=name,
        )


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens, ideal but for its projection.

    Parameters
    ----------
    focal_length_mm : float
        Focal length, millimetres.
    f_number : float
        Focal length over the entrance pupil's diameter, as set.
    projection : {"rectilinear", "equisolid"}
        Straight lines stay straight, or a fisheye of equal solid angles.
    name : str, optional
        For people; never interpreted.
    rise_mm : float, optional
        How far the frame's centre lies above the lens's axis in the upright picture,
        millimetres: a shift lens raised, or a picture cropped off centre.

    Raises
    ------
    CameraError
        For a focal length or f-number that cannot exist, or an unknown projection.

    Examples
    --------
    >>> from backbearing.camera import Lens
    >>> lens = Lens(focal_length_mm=40.0, f_number=2.0)
    >>> lens.label
    '40 mm'
    """

    focal_length_mm: float
    f_number: float = 2.8
    projection: Projection = "rectilinear"
    name: str = ""
    rise_mm: float = 0.0

    def __post_init__(self) -> None:
        require_number(self.focal_length_mm, "focal_length_mm", "millimetres")
        number = require_number(self.f_number, "f_number", "such as 2.8")
        if number < 0.5:
            raise CameraError(
                f"f_number is {number:g}; no lens in air opens wider than f/0.5.", key="f_number"
            )
        if self.projection not in ("rectilinear", "equisolid"):
            raise CameraError(
                f"Lens projection is {self.projection!r}",
                hint='write "rectilinear" for an ordinary lens or "equisolid" for a fisheye',
                key="projection",
            )
        require_number(self.rise_mm, "rise_mm", "millimetres", above=-math.inf)
        check_limits(self, CameraError)

    @property
    def label(self) -> str:
        """Short text for tables: ``16 mm``, ``15 mm fisheye``."""
        return lens_label(self.focal_length_mm, self.projection)


def check_pair(camera: Camera, lens: Lens) -> None:
    """Refuse a fisheye that cannot fill the camera's frame.

    Parameters
    ----------
    camera : Camera
    lens : Lens

    Raises
    ------
    CameraError
        When the frame's corners would need more than `WIDEST_FISHEYE_DEG` across; the
        image of an equisolid lens ends at a radius of two focal lengths.
    """
    if lens.projection != "equisolid":
        return
    corner_mm = math.hypot(
        camera.frame_width_mm / 2.0, camera.frame_height_mm / 2.0 + abs(lens.rise_mm)
    )
    shortest_mm = corner_mm / (2.0 * math.sin(math.radians(WIDEST_FISHEYE_DEG / 4.0)))
    if lens.focal_length_mm < shortest_mm:
        half_sine = corner_mm / (2.0 * lens.focal_length_mm)
        needs = (
            f"would need {num(4.0 * math.degrees(math.asin(half_sine)), 0)} degrees corner to "
            "corner"
            if half_sine <= 1.0
            else "has no image in its corners at any angle"
        )
        raise CameraError(
            f"A frame of {camera.frame_width_mm:g} x {camera.frame_height_mm:g} mm behind a "
            f"{lens.focal_length_mm:g} mm equisolid fisheye {needs}, and {WIDEST_FISHEYE_DEG:g} "
            "is the limit",
            hint=(
                f"write a focal length of at least {math.ceil(10.0 * shortest_mm) / 10.0:g} mm, "
                "or crop the sensor"
            ),
            key="focal_length_mm",
        )
