"""What the user asks of the frame: the subject, and how it should stand in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

from backbearing.base import asked
from backbearing.base.errors import CameraError, OutingError
from backbearing.base.limits import check_limits
from backbearing.outing.outline import Outline

POSITION_SIGMA_M: Final = 5.0
"""How well a receiver or a good map tells a place on the ground, metres (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A lone thing on the land.

    Parameters
    ----------
    lat, lon : float
        WGS84 degrees, of the middle of its base.
    height_m : float
        Height from its visible base to its top, metres.
    width_m : float, optional
        Width across the line of sight, metres; the outline's, or else half the height,
        when not given.
    base_height_m : float, optional
        Height of the visible base above the ground (a mill on a mound of masonry).
    ground_m : float, optional
        Ground elevation, metres, where the user knows better than the raster.
    name, kind : str, optional
        For people. Without an ``outline`` pictures draw a plausible shape of this ``kind``
        (:mod:`backbearing.outing.silhouettes`); nothing else follows from it.
    outline : Outline, optional
        Its real shape, as high as ``height_m``; a plain box is computed with when not given.
    position_sigma_m : float
        How well ``lat`` and ``lon`` are known, one standard deviation, metres.
    height_sigma_m, width_sigma_m : float
        How well height and width are known, one standard deviation, metres; 0 where nothing
        is said of it.

    Raises
    ------
    OutingError
        For a position off the globe or a size that is not positive and finite.

    Examples
    --------
    >>> from backbearing.outing import Subject
    >>> mill = Subject(lat=36.30250, lon=-84.18000, height_m=11.0, base_height_m=3.0, name="mill")
    >>> f"shown {mill.shown_width_m:.1f} m wide, as no width was given"
    'shown 5.5 m wide, as no width was given'
    """

    lat: float
    lon: float
    height_m: float
    width_m: float | None = None
    base_height_m: float = 0.0
    ground_m: float | None = None
    name: str = "subject"
    kind: str = ""
    outline: Outline | None = None
    position_sigma_m: float = POSITION_SIGMA_M
    height_sigma_m: float = 0.0
    width_sigma_m: float = 0.0

    def __post_init__(self) -> None:
        for key in ("lat", "lon"):
            asked.number(getattr(self, key), key, OutingError)
        for key in ("height_m", "width_m"):
            if key == "height_m" or getattr(self, key) is not None:
                asked.number(getattr(self, key), key, OutingError)
        if not (math.isfinite(self.lat) and -90.0 <= self.lat <= 90.0):
            hint = " (are lat and lon swapped?)" if 90.0 < abs(self.lat) <= 180.0 else ""
            raise OutingError(
                f"Subject lat {self.lat} is not between -90 and 90 degrees{hint}.", key="lat"
            )
        if not (math.isfinite(self.lon) and -180.0 <= self.lon <= 180.0):
            raise OutingError(
                f"Subject lon {self.lon} is not between -180 and 180 degrees",
                hint="write west longitudes as negative numbers",
                key="lon",
            )
        for key in ("height_m", "width_m"):
            value = getattr(self, key)
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise OutingError(
                    f"Subject {key} is {value}",
                    hint="write a length above zero, in metres",
                    key=key,
                )
        check_limits(self, OutingError)
        for key in ("height", "width"):
            size = self.height_m if key == "height" else self.shown_width_m
            if getattr(self, f"{key}_sigma_m") >= size:
                raise OutingError(
                    f"Subject {key}_sigma_m is {getattr(self, f'{key}_sigma_m'):g}, as much as its "
                    f"{key} of {size:g}",
                    hint="write one standard deviation, in metres",
                    key=f"{key}_sigma_m",
                )
        tall = self.height_m if self.outline is None else self.outline.height_m
        if not math.isclose(tall, self.height_m, rel_tol=1e-6):
            raise OutingError(
                f"The outline is {tall:g} m high and height_m is {self.height_m:g}",
                hint="give both the same height",
                key="outline",
            )

    @property
    def shown_width_m(self) -> float:
        """Width to draw, metres: the outline's, else as given, else half the height."""
        if self.outline is not None:
            return self.outline.width_m
        return self.width_m if self.width_m is not None else self.height_m / 2.0

    def size_doubt(self, share_of: Literal["height", "width"]) -> float:
        """One standard deviation of height or width, as a share of it."""
        if share_of == "height":
            return self.height_sigma_m / self.height_m
        return self.width_sigma_m / self.shown_width_m

    @property
    def shape(self) -> Outline:
        """The outline, or a plain box of the subject's size."""
        if self.outline is not None:
            return self.outline
        return Outline.box(self.shown_width_m, self.height_m)

    def as_high_as(self, height_m: float) -> Subject:
        """Return the same subject at another height; an outline is stretched with it.

        It keeps its width where ``width_m`` was given, and else its proportions.
        """
        if self.outline is None:
            return replace(self, height_m=height_m)
        up = height_m / self.outline.height_m
        across = 1.0 if self.width_m is not None else up
        outline = self.outline.stretched(across, up)
        return replace(self, height_m=height_m, outline=outline)


_PLACED = ("share", "base_margin", "edge_margin", "offset_deg", "eye_height_m", "play_deg")
"""What of a framing is always a number."""


@dataclass(frozen=True, slots=True)
class Framing:
    """How the subject and the target should stand in the frame.

    Parameters
    ----------
    share : float
        Fraction of the frame's height (or width, see ``share_of``) that the subject
        takes, above 0 and below 1.
    base_margin : float
        Fraction of the frame's height left below the subject's base; what comes out of
        a level camera is reported instead.
    edge_margin : float
        Fraction of the frame's width and height that the target must keep from the
        edges to count as in frame.
    offset_deg : float
        Target azimuth less subject azimuth at the stand; 0 puts it right behind.
    eye_height_m : float
        Height of the lens above the ground, metres.
    play_deg : float
        The angle by which the target may leave its place; ``play_m`` and
        ``play_minutes`` of a stand follow from it.
    stand_drop_m : float, optional
        Measured ground difference, metres: how far the ground at the stand lies
        below the ground at the subject (negative: above). Overrides the raster.
    share_of : {"height", "width"}
        What ``share`` counts: the subject's height against the frame's height, in the
        upright plane through its middle, or its outermost points against the frame's
        width.
    level : bool
        Keep the lens's axis level (pitch 0), so that uprights stay upright; a lens's
        ``rise_mm`` then sets where the base falls.
    above_top_deg : float, optional
        Where the target should stand: so many degrees of altitude over the subject's
        top, within ``play_deg``.
    target_box : tuple of float, optional
        Where the target should stand: within left, bottom, right, top, fractions of
        the frame from its left and its bottom edge.
    behind_subject : bool
        The target may stand behind the subject itself: a picture through it, or of what it
        hides. Otherwise such minutes do not count, unless ``above_top_deg`` is below 0 or
        ``target_box`` ends below the subject's top.

    Raises
    ------
    CameraError
        When share and margin do not fit in a frame, or a placement cannot exist.

    Examples
    --------
    >>> from backbearing.outing import Framing
    >>> framing = Framing(share=0.36, base_margin=0.08, eye_height_m=1.4)
    >>> f"{1.0 - framing.share - framing.base_margin:.0%} of the frame's height is left for the sky"
    "56% of the frame's height is left for the sky"
    """

    share: float = 0.4
    base_margin: float = 0.1
    edge_margin: float = 0.05
    offset_deg: float = 0.0
    eye_height_m: float = 1.6
    play_deg: float = 1.0
    stand_drop_m: float | None = None
    share_of: Literal["height", "width"] = "height"
    level: bool = False
    above_top_deg: float | None = None
    target_box: tuple[float, float, float, float] | None = None
    behind_subject: bool = False

    def __post_init__(self) -> None:
        for key in _PLACED:
            asked.number(getattr(self, key), key, CameraError)
        self._check_placement()
        if not 0.0 < self.share < 1.0:
            raise CameraError(
                f"Framing share is {self.share}",
                hint=f"write a fraction of the frame's {self.share_of} above 0 and below 1",
                key="share",
            )
        upright = 0.0 if self.level or self.share_of == "width" else self.share
        if not (self.base_margin >= 0.0 and self.base_margin + upright <= 1.0):
            raise CameraError(
                f"Framing base_margin {self.base_margin} and share {self.share} do not fit in one "
                "frame; together they may take at most 1.",
                key="base_margin",
            )
        if not 0.0 <= self.edge_margin < 0.5:
            raise CameraError(
                f"Framing edge_margin is {self.edge_margin}",
                hint="write a fraction from 0 to below 0.5",
                key="edge_margin",
            )
        if not -90.0 < self.offset_deg < 90.0:
            raise CameraError(
                f"Framing offset_deg is {self.offset_deg}",
                hint="write degrees between -90 and 90",
                key="offset_deg",
            )
        if not 0.0 < self.eye_height_m <= 100.0:
            raise CameraError(
                f"Framing eye_height_m is {self.eye_height_m}",
                hint="write the lens's height above the ground in metres, above 0",
                key="eye_height_m",
            )
        if not 0.0 < self.play_deg <= 45.0:
            raise CameraError(
                f"Framing play_deg is {self.play_deg}",
                hint="write degrees above 0, up to 45",
                key="play_deg",
            )

    def _check_placement(self) -> None:
        if self.share_of not in ("height", "width"):
            raise CameraError(
                f"Framing share_of is {self.share_of!r}",
                hint='write "height" or "width"',
                key="share_of",
            )
        if self.above_top_deg is not None and not -90.0 < self.above_top_deg < 90.0:
            raise CameraError(
                f"Framing above_top_deg is {self.above_top_deg}",
                hint="write degrees between -90 and 90",
                key="above_top_deg",
            )
        if self.target_box is None:
            return
        box = self.target_box
        known = len(box) == 4 and all(math.isfinite(v) for v in box)
        if not (known and 0.0 <= box[0] < box[2] <= 1.0 and 0.0 <= box[1] < box[3] <= 1.0):
            raise CameraError(
                f"Framing target_box is {list(box)}",
                hint=(
                    "write [left, bottom, right, top] as fractions of the frame from 0 to 1, "
                    "left below right and bottom below top"
                ),
                key="target_box",
            )
