"""One night settled: every lens's arc, the minutes that work, and the plan of it all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.alignment.night.prepared_night import prepare_night

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation


def plan_night(
    outing: Outing,
    elevation: Elevation | None = None,
    *,
    at: str | None = None,
    processes: int = 1,
    whole_skyline: bool = True,
) -> Plan:
    """Settle an outing: for each lens the stand and minute, the arc, and why not.

    Whoever changes one thing and asks again does better with
    :func:`~backbearing.alignment.night.prepared_night.prepare_night`.

    Parameters
    ----------
    outing : Outing
        As read from its file.
    elevation : Elevation, optional
        The raster, when it is open already.
    at : str, optional
        A local wall time such as ``"23:40"`` for every lens, instead of the file's.
    processes : int
        Of no effect any more: all lenses are settled as one array, in less time than it takes
        to begin a process.
    whole_skyline : bool
        Whether the plan holds the skyline all round. Without it ``skyline`` and
        ``ground_within`` are empty and only the rays under the target are sent, which on a
        large raster is most of the time; all else is the same but for last digits.
        Leave it True for a page, a picture of the ridge or a file.

    Raises
    ------
    OutingError, TerrainError, SkyError, CameraError
        One sentence each; see :mod:`backbearing.base.errors`.
    SelfCheckError
        Where a chosen stand's own numbers contradict what the plan says of it.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, plan_night
    >>> plan = plan_night(load_outing(sample / "outing.toml"))
    >>> for lens in plan.lenses:
    ...     print(f"{lens.lens.label}: {lens.stand.distance_m:.1f} m from the subject")
    16 mm: 22.4 m from the subject
    24 mm: 26.0 m from the subject
    40 mm: 32.1 m from the subject
    85 mm: 67.9 m from the subject
    """
    del processes
    return prepare_night(outing, elevation).plan(at=at, whole_skyline=whole_skyline)
