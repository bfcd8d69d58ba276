"""The same outing again, from its JSON, and in the mirror of the equator."""

from __future__ import annotations

import datetime as dt
import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.alignment.stand.stands import find_stands
from backbearing.base.grouped import changed
from backbearing.base.plain import plain
from backbearing.exports.plan_json import plan_document, plan_json
from backbearing.outing.load import load_outing
from backbearing.plan.stand import LensArc
from backbearing.sky.targets import Target
from backbearing.terrain.elevation import Elevation
from soak.raw_sky import mirrored

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.plan.stand import Stand
    from soak.claims import Looked

NEAR: Final = 1e-4
"""Of a distance, and in the mirror's angles by degrees times a hundred: aberration is not
mirrored (20 seconds of arc)."""

MIRROR_DEG: Final = 0.03

SAME: Final = 1e-6
"""Metres and degrees of the same stand on two ways."""


def json_contradictions(looked: Looked) -> Iterator[str]:
    """JSON holds the same values, no word that is not JSON's, and is written the same again."""
    text = plan_json(looked.plan)

    def refuse(word: str) -> None:
        message = f"JSON holds {word}"
        raise ValueError(message)

    read = json.loads(text, parse_constant=refuse)
    if read != plan_document(looked.plan):
        yield "JSON reads back otherwise"
    if json.dumps(read, ensure_ascii=False, indent=1) + "\n" != text:
        yield "JSON is written otherwise the second time"


def second_time(looked: Looked, folder: Path) -> Iterator[str]:
    """Reading the file and settling the night again gives the same bytes."""
    outing = load_outing(folder / "outing.toml")
    again = changed(plan_night(outing, open_elevation(outing)), made=looked.plan.made)
    if plan_json(again) != plan_json(looked.plan):
        yield "settled a second time it is another plan"


def prepared_contradictions(looked: Looked, folder: Path) -> Iterator[str]:
    """A night made ready says what the plan says, and of a changed outing what its plan says."""
    outing = load_outing(folder / "outing.toml")
    night = prepare_night(outing, open_elevation(outing))
    for lens_plan, arc in zip(looked.plan.lenses, night.arcs(), strict=True):
        told = LensArc(
            lens_plan.lens, lens_plan.arc, lens_plan.usable, lens_plan.framed, lens_plan.hidden
        )
        if plain(arc) != plain(told):
            yield f"prepared, {arc.lens.label} has another arc"
    for i, lens_plan in enumerate(looked.plan.lenses):
        stand = lens_plan.stand
        if stand is None:
            continue
        told_stand = night.stands_at(stand.time)[i]
        if told_stand is None:
            yield f"prepared, {stand.lens.label} has no stand at {stand.time}"
            continue
        for name in ("lat", "lon", "distance_m", "clearance_deg", "clearance_sigma_deg",
                     "target_altitude_deg", "share", "skyline_break_deg"):  # fmt: skip
            one, other = getattr(stand, name), getattr(told_stand, name)
            if not (abs(one - other) <= SAME or (math.isnan(one) and math.isnan(other))):
                yield f"prepared, {stand.lens.label} has {name} {other!r} for {one!r}"
        if stand.verdict != told_stand.verdict:
            yield f"prepared, {stand.lens.label} is {told_stand.verdict}, not {stand.verdict}"
    changed_night = night.with_share(0.8 * outing.framing.share).with_eye_height(1.1)
    fresh = plan_night(changed_night.outing, open_elevation(changed_night.outing))
    again = changed(changed_night.plan(), made=fresh.made)
    for where in list(_apart(plan_document(again), plan_document(fresh), "plan"))[:3]:
        yield f"prepared and changed: {where}"


def mirror_contradictions(looked: Looked, folder: Path) -> Iterator[str]:
    """Ground, subject and target mirrored in the equator give the mirrored stands."""
    outing, ground = looked.outing, looked.ground
    if not (ground.crs.is_geographic and outing.target.is_fixed):
        return
    stands = [one.stand for one in looked.plan.lenses if one.stand is not None]
    if not stands:
        return
    other = Elevation.open(_flipped(folder))
    subject = replace(outing.subject, lat=-outing.subject.lat)
    for stand in stands[:2]:
        asked = next(one for one in outing.lenses if one.lens == stand.lens)
        framing = replace(outing.framing, offset_deg=-outing.framing.offset_deg)
        if asked.stand_drop_m is not None:
            framing = replace(framing, stand_drop_m=asked.stand_drop_m)
        if asked.share is not None:
            framing = replace(framing, share=asked.share)
        ra, dec = mirrored(outing.target, stand.time)
        [image] = find_stands(
            subject,
            Target.radec(ra_deg=ra, dec_deg=dec),
            stand.time,
            outing.camera,
            [stand.lens],
            framing,
            other,
            refraction_k=outing.ground.refraction_k,
            max_distance_m=outing.ground.reach_m,
        )
        for wrong in _unlike(stand, image):
            yield f"{stand.lens.label} in the mirror: {wrong}"


def _apart(one: Any, other: Any, where: str) -> Iterator[str]:
    """Where two documents differ by more than a millionth, or a moment by more than a second."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from _apart(one[key], other[key], f"{where}.{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for i, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from _apart(a, b, f"{where}[{i}]")
    elif isinstance(one, float) and isinstance(other, float):
        if abs(one - other) > SAME:
            yield f"{where} is {one!r} and {other!r}"
    elif one != other and not _same_second(one, other):
        yield f"{where} is {str(one)[:200]} and {str(other)[:200]}"


def _same_second(one: Any, other: Any) -> bool:
    try:
        apart = dt.datetime.fromisoformat(one) - dt.datetime.fromisoformat(other)
    except (TypeError, ValueError):
        return False
    return abs(apart) <= dt.timedelta(seconds=1)


def _unlike(stand: Stand, image: Stand) -> Iterator[str]:
    if math.isnan(image.lat) or stand.target_altitude_deg > 80.0:
        if math.isnan(image.lat):
            yield "no stand"
        return
    pairs: dict[str, tuple[float, float, float]] = {
        "distance_m": (stand.distance_m, image.distance_m, 0.02 + 2e-3 * stand.distance_m),
        "ground_m": (stand.ground_m, image.ground_m, 0.1),
        "pitch_deg": (stand.pitch_deg, image.pitch_deg, 0.2),
        "share": (stand.share, image.share, 1e-3),
        "target_altitude_deg": (
            stand.target_altitude_deg, image.target_altitude_deg, MIRROR_DEG,
        ),
        "clearance_deg": (stand.clearance_deg, image.clearance_deg, 0.3),
        "bearing_deg": (
            0.0, abs((stand.bearing_deg + image.bearing_deg) % 360.0 - 180.0),
            MIRROR_DEG / math.cos(math.radians(stand.target_altitude_deg)),
        ),
    }  # fmt: skip
    for name, (one, other, near) in pairs.items():
        if math.isnan(one) != math.isnan(other) or abs(one - other) > near:
            yield f"{name} is {other:.4f} for {one:.4f}"


def _flipped(folder: Path) -> Path:
    import rasterio
    from affine import Affine

    out = folder / "mirror.tif"
    with rasterio.open(folder / "ground.tif") as raster:
        profile: dict[str, Any] = dict(raster.profile)
        heights = np.flipud(raster.read(raster.count))
        west, south = raster.transform.c, raster.bounds.bottom
        step = raster.transform.a, raster.transform.e
    profile["count"] = 1
    profile["transform"] = Affine(step[0], 0.0, west, 0.0, step[1], -south)
    with rasterio.open(out, "w", **profile) as raster:
        raster.write(heights, 1)
    return out
