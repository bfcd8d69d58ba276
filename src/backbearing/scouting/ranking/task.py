"""One scouting task: all that a chunk of candidates needs to know, small and picklable."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.from_outing import zone_of
from backbearing.base.errors import SkyError
from backbearing.base.numbers import num
from backbearing.outing.scouting_request import MOST_NIGHTS, ScoutRequest

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from backbearing.camera.bodies_and_lenses import Camera
    from backbearing.outing.request import GroundRequest, LensRequest, NightRequest, Outing
    from backbearing.outing.subject import Framing
    from backbearing.sky.targets import Target
    from backbearing.terrain.height_errors import StatedErrors

METHOD: Final = 7
"""Raised whenever the numbers of a chunk or the order of chunks change, so that no kept chunk of
old is used."""

NODE_STEP_DEG: Final = 1.0
"""Spacing of the hour angles at which stands and skylines are solved: 4 minutes."""


@dataclass(frozen=True)
class ScoutTask:
    """What is asked of every candidate.

    Attributes
    ----------
    camera, lenses, framing, target, night, ground : as in the outing
        The framing's measured drop belongs to one subject and is left out.
    request : ScoutRequest
        Weights, limits and files.
    first_night : date
    nights : int
    zone : str
        Time zone of every clock time, and of the noons that part the nights.
    height_errors : StatedErrors
        Of the raster.
    position_sigma_m : float
        Of the tripod's position.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing
    >>> from backbearing.scouting import task_of
    >>> task = task_of(load_outing(sample / "outing.toml"), lat=36.35, lon=-84.13)
    >>> str(task.first_night), task.nights, f"{task.height_errors.sigma_m:.1f} m"
    ('2027-04-10', 150, '5.5 m')
    """

    camera: Camera
    lenses: tuple[LensRequest, ...]
    framing: Framing
    target: Target
    night: NightRequest
    ground: GroundRequest
    request: ScoutRequest
    first_night: dt.date
    nights: int
    zone: str
    height_errors: StatedErrors
    position_sigma_m: float

    @property
    def lenses_mm(self) -> tuple[float, ...]:
        """Focal lengths in the order of the outing."""
        return tuple(float(one.lens.focal_length_mm) for one in self.lenses)

    @property
    def lens_names(self) -> tuple[str, ...]:
        """A name for each lens's columns: ``lens_40``, and ``lens_40_2`` for a second one."""
        names: list[str] = []
        for focal in self.lenses_mm:
            name = f"lens_{num(focal)}".replace(".", "_")
            count = sum(n == name or n.startswith(f"{name}_x") for n in names)
            names.append(name if not count else f"{name}_x{count + 1}")
        return tuple(names)

    def framing_of(self, lens: int) -> Framing:
        """Give the framing asked of one lens, with its own share if it has one."""
        share = self.lenses[lens].share
        return self.framing if share is None else replace(self.framing, share=share)

    def files(self) -> tuple[Path, ...]:
        """Files and folders that the task reads."""
        asked = self.request
        places = (
            self.ground.places,
            *self.ground.cover.files,
            asked.ways,
            asked.towns,
            asked.sky_brightness,
        )
        return (*self.ground.elevation, *(path for path in places if path is not None))

    def digest(self) -> str:
        """Name this task by what it asks and by the size and date of the files it reads."""
        stamps = [_stamp(path) for path in self.files()]
        text = repr((METHOD, NODE_STEP_DEG, self, stamps))
        return hashlib.sha256(text.encode()).hexdigest()[:20]


def _stamp(path: Path) -> tuple[str, list[tuple[str, int, int]]]:
    if not path.exists():
        return str(path), []
    parts = sorted(path.iterdir()) if path.is_dir() else [path]
    return str(path), [(p.name, p.stat().st_size, p.stat().st_mtime_ns) for p in parts]


def task_of(
    outing: Outing,
    *,
    lat: float,
    lon: float,
    first_night: dt.date | None = None,
    nights: int | None = None,
) -> ScoutTask:
    """Make the task of an outing.

    Parameters
    ----------
    outing : Outing
    lat, lon : float
        A place among the candidates, degrees, whose time zone is used where the outing
        names none.
    first_night, nights : optional
        Instead of the outing's own.

    Raises
    ------
    SkyError
        For too many nights.
    OutingError
        For a zone or a product that is not known.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing
    >>> from backbearing.scouting import task_of
    >>> outing = load_outing(sample / "outing.toml")
    >>> task_of(outing, lat=36.35, lon=-84.13, nights=10).zone
    'America/New_York'
    """
    request = outing.scouting
    count = request.nights if nights is None else nights
    if not 1 <= count <= MOST_NIGHTS:
        raise SkyError(
            f"{count} nights were asked for", hint=f"ask for 1 to {MOST_NIGHTS}", nights=count
        )
    return ScoutTask(
        camera=outing.camera,
        lenses=outing.lenses,
        framing=replace(outing.framing, stand_drop_m=None),
        target=outing.target,
        night=outing.night,
        ground=outing.ground,
        request=request,
        first_night=first_night or request.first_night or outing.night.evening,
        nights=count,
        zone=zone_of(replace(outing, subject=replace(outing.subject, lat=lat, lon=lon))),
        height_errors=outing.height_errors,
        position_sigma_m=outing.position_sigma_m,
    )
