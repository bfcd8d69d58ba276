"""The light of a night for the profile: twilight in steps, the Moon's altitude and what it adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.sky.directions import direction
from backbearing.sky.moonlight import moonlight_at
from backbearing.sky.targets import Target

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.night.prepared_night import PreparedNight

    Floats = NDArray[np.float64]

STEPS: Final = (
    ("day", -0.8333),
    ("civil twilight", -6.0),
    ("nautical twilight", -12.0),
    ("astronomical twilight", -18.0),
)
"""Down to which altitude of the Sun's centre each step goes, degrees [USNO]_; night below."""


def light_rows(night: PreparedNight) -> dict[str, Any]:
    """The Sun's steps and the Moon at the night's moments, from the subject's place.

    Returns
    -------
    dict
        ``steps``: start, end and name of each step of the Sun; ``moon_altitude_deg`` and
        ``moon_adds_mag`` (at the target; None where no model holds) at the night's moments;
        ``moon_lit``: its lit share in the middle of them.
    """
    subject = night.outing.subject
    there: dict[str, Any] = {
        "lat": subject.lat,
        "lon": subject.lon,
        "height_m": night.scene.subject_ground_m,
        "times": list(night.sky.times),
    }
    _, sun_deg = direction(Target.body("sun"), **there, refraction=False)
    moon = moonlight_at(night.outing.target, **there)
    seconds = np.array([time.timestamp() for time in night.sky.times])
    return {
        "steps": _steps(seconds, sun_deg),
        "moon_altitude_deg": np.round(moon.altitude_deg, 2).tolist(),
        "moon_adds_mag": [
            round(more, 2) if np.isfinite(more) else None for more in moon.brightening_mag.tolist()
        ],
        "moon_lit": round(float(moon.lit[len(seconds) // 2]), 3),
    }


def _steps(seconds: Floats, sun_deg: Floats) -> list[list[Any]]:
    """Stretches of one step each, their ends on straight lines between the moments."""
    names = [name for name, _ in STEPS] + ["night"]
    bounds = np.array([bound for _, bound in STEPS])
    step = (sun_deg[:, None] < bounds).sum(axis=1)
    rows: list[list[Any]] = []
    start = float(seconds[0])
    for i in np.flatnonzero(np.diff(step)):
        bound = bounds[min(step[i], step[i + 1])]
        share = (bound - sun_deg[i]) / (sun_deg[i + 1] - sun_deg[i])
        end = float(seconds[i] + share * (seconds[i + 1] - seconds[i]))
        rows.append([round(start), round(end), names[step[i]]])
        start = end
    rows.append([round(start), round(float(seconds[-1])), names[step[-1]]])
    return rows
