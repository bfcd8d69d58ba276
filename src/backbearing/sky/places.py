"""Apparent places seen from the Earth's centre, tabulated once and interpolated.

The full reduction (light time, deflection, aberration, precession, nutation) is Skyfield's
[Skyfield]_ on DE421 [DE421]_. It runs at evenly spaced nodes only; between them six-point
Lagrange interpolation carries the vector on celestial intermediate axes, which turns slowly:
the error stays under 0.001 arcsecond for a fixed target and 0.01 for the Moon and Mercury.
Within 3 degrees of the Sun, where no one photographs a night, the bending of light by the
Sun turns too sharply for daily nodes: up to 0.3 arcsecond outside 1 degree, 7 inside.
"""

from __future__ import annotations

import atexit
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.sky.instants import utc_from_mjd
from backbearing.sky.targets import BODIES, Target

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NODES_A_BLOCK = 32
_BEFORE, _AFTER = 2, 3
_STENCIL = _BEFORE + 1 + _AFTER
_DENSE = 1024


@cache
def ephemeris() -> Any:
    """Open DE421 as an installed package ships it; no network, no writing.

    Every body's table is taken into view at once. Left for later, forked processes would read
    the tables' sizes through one open file, whose place they move under one another's hands.
    """
    from importlib.util import find_spec

    from skyfield.jpllib import SpiceKernel

    spec = find_spec("skyfield_data")
    if spec is None or spec.origin is None:
        raise SkyError("the package skyfield-data is missing", hint="install it for its de421.bsp")
    kernel = SpiceKernel(str(Path(spec.origin).parent / "data" / "de421.bsp"))
    atexit.register(kernel.close)
    for segment in kernel.spk.segments:
        # Mapped, not read: a page of the file comes into memory when a number on it is asked for.
        segment.load_array()
    return kernel


@cache
def timescale() -> Any:
    """Skyfield's time scales with its own leap seconds and delta T; no network."""
    from skyfield.api import load

    return load.timescale(builtin=True)


@cache
def span_mjd() -> tuple[float, float]:
    """First and last Terrestrial Time (MJD) for which directions are given."""
    segments = ephemeris().spk.segments
    first = max(s.start_jd for s in segments) - 2_400_000.5
    last = min(s.end_jd for s in segments) - 2_400_000.5
    return first + 5.0, last - 5.0


def check_span(tt_mjd: NDArray[np.float64]) -> None:
    """Refuse instants outside the ephemeris.

    Raises
    ------
    SkyError
        Naming the first offending date and the span.
    """
    first, last = span_mjd()
    outside = (tt_mjd < first) | (tt_mjd > last)
    if not np.any(outside):
        return
    bad = float(np.asarray(tt_mjd)[outside].flat[0])
    # Some days in from its ends, so that the night of any date that is named lies within.
    named = (bad, first + 2.0, last - 3.0)
    days = [str(utc_from_mjd(m).astype("datetime64[D]")) for m in named]
    raise SkyError(
        f"{days[0]} lies outside the ephemeris DE421",
        hint=f"choose a date from {days[1]} to {days[2]}",
        date=days[0],
        first=days[1],
        last=days[2],
    )


def node_spacing_days(target: Target) -> float:
    """Distance between nodes: a quarter of a day for the Moon, one day for the rest."""
    return 0.25 if target.body_name == "moon" else 1.0


def full_reduction(target: Target, tt_mjd: NDArray[np.float64]) -> NDArray[np.float64]:
    """Apparent place (3, n) from the Earth's centre on celestial intermediate axes.

    Unit vectors for a fixed target, astronomical units for a body. ``tt_mjd`` is (n,).
    """
    from skyfield.api import Star
    from skyfield.constants import C_AUDAY
    from skyfield.earthlib import earth_rotation_angle

    t = timescale().tt_jd(np.floor(tt_mjd) + 2_400_000.5, tt_mjd - np.floor(tt_mjd))
    kernel = ephemeris()
    if target.body_name is None:
        thing = Star(
            ra_hours=(target.ra_deg or 0.0) / 15.0,
            dec_degrees=target.dec_deg,
            ra_mas_per_year=target.ra_cos_dec_mas_yr,
            dec_mas_per_year=target.dec_mas_yr,
            parallax_mas=target.parallax_mas,
        )
    else:
        thing = kernel[BODIES[target.body_name]]
    earth_at = kernel["earth"].at(t)
    gcrs = earth_at.observe(thing).apparent().xyz.au
    length = np.linalg.norm(gcrs, axis=0)
    if target.body_name is None:
        gcrs = gcrs / length
    else:
        # Aberration as it comes keeps the length; parallax (a difference of vectors) needs
        # the place stretched along the Earth's motion too, or the Moon is 0.35 arcsecond off.
        speed = earth_at.velocity.au_per_d / C_AUDAY
        gcrs = gcrs * (1.0 + np.sum(gcrs * speed, axis=0) / length)
    of_date = np.einsum("ij...,j...->i...", t.M, gcrs)
    # Sidereal time less rotation angle: both read the same UT1, which cancels.
    origins = 2.0 * np.pi * (earth_rotation_angle(t.whole, t.ut1_fraction) - t.gast / 24.0)
    c, s = np.cos(origins), np.sin(origins)
    return np.stack((c * of_date[0] - s * of_date[1], s * of_date[0] + c * of_date[1], of_date[2]))


@lru_cache(maxsize=512)
def _block(target: Target, index: int) -> NDArray[np.float64]:
    """Nodes (stencil's margin included) of one block, shape (3, block + stencil - 1)."""
    step = node_spacing_days(target)
    first, last = span_mjd()
    k = np.arange(-_BEFORE, _NODES_A_BLOCK + _AFTER) + index * _NODES_A_BLOCK
    # Nodes just past the span stay inside the ephemeris thanks to the span's margin.
    inside = (k * step >= first - 4.0) & (k * step <= last + 4.0)
    nodes = np.full((3, k.size), np.nan)
    nodes[:, inside] = full_reduction(target, np.asarray(k[inside] * step, dtype=np.float64))
    nodes.setflags(write=False)
    return nodes


def apparent_place(target: Target, tt_mjd: NDArray[np.float64]) -> NDArray[np.float64]:
    """Interpolate the apparent place at Terrestrial Times; shape (3, ...) for input (...).

    Raises
    ------
    SkyError
        An instant outside the ephemeris.
    """
    check_span(tt_mjd)
    t = np.asarray(tt_mjd, dtype=np.float64).ravel()
    if t.size == 0:
        return np.empty((3, *np.shape(tt_mjd)))
    place = _between_hours(target, t) if target.is_fixed else None
    if place is None:
        place = _between_nodes(target, t)
    return place.reshape(3, *np.shape(tt_mjd))


def _between_hours(target: Target, t: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Straight lines between hours, where instants are dense enough for it to pay.

    A fixed target's place bends so little in an hour (the fortnightly nutation, 0.2
    arcsecond) that a straight line is within 0.0001 arcsecond.
    """
    if t.size < _DENSE:
        return None
    first, last = int(np.floor(t.min() * 24.0)), int(np.ceil(t.max() * 24.0))
    if 4 * (last - first) > t.size:
        return None
    hours = np.arange(first, last + 1) / 24.0
    return np.stack([np.interp(t, hours, c) for c in _between_nodes(target, hours)])


def _between_nodes(target: Target, t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Six-point Lagrange interpolation between nodes, (3, n) at instants (n,)."""
    x = t / node_spacing_days(target)
    k = np.floor(x).astype(np.int64)
    blocks, position = np.unique(k // _NODES_A_BLOCK, return_inverse=True)
    nodes = np.concatenate([_block(target, int(b)) for b in blocks], axis=1)
    width = _NODES_A_BLOCK + _STENCIL - 1
    start = position * width + (k - blocks[position] * _NODES_A_BLOCK)
    place = np.zeros((3, x.size))
    for j, weight in enumerate(_lagrange_weights(x - k)):
        place += weight * np.take(nodes, start + j, axis=1)
    return place


def _lagrange_weights(s: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Weights of the nodes at -2 .. 3 for positions s in [0, 1)."""
    offsets = np.arange(-_BEFORE, _AFTER + 1)
    weights = []
    for j in offsets:
        others = offsets[offsets != j]
        weight = np.full_like(s, 1.0 / float(np.prod(j - others)))
        for m in others:
            weight *= s - m
        weights.append(weight)
    return weights
