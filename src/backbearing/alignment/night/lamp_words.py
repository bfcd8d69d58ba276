"""The lamp's figures in words."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import counted, figures, num
from backbearing.base.text import length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.outing.light_request import LampRequest
    from backbearing.plan.lamp import LampSpot, LampTurn, SkyParts

DARKEST_SHARE: Final = 0.01
"""Below this share few lamps can be dimmed (judgement, no source)."""

CARE: Final = (
    (
        "A lamp seen for a moment costs eyes their night vision for many minutes (common practice, "
        "no source): light it once everybody is ready, warn, and never let it shine at a stand."
    ),
    (
        "It burns into the frames of everybody within sight of the subject: ask others before it "
        "is lit, and put it out between your own frames (common practice, no source)."
    ),
)
NOTES: Final = (
    (
        "The lamp is taken as small, its lumens as spread evenly over its beam: the middle of a "
        "real beam is brighter, by a stop or so. The face is matt, dry and turned to the camera."
    ),
    (
        "A hidden light is told by the facet of a broken edge that shows most (own model, no "
        "source): a smooth edge shows none, leaves and grass that let light through show more. "
        "Good to two stops."
    ),
    "Starlight and moonlight on the subject itself come on top. Airglow is not foreseen.",
)


def share_words(share: float) -> str:
    """A share of the lamp's power as its dial or a person says it: ``0.3 %``, ``12 %``."""
    hundredths = 100.0 * share
    return f"{figures(hundredths, 1 if hundredths < 10.0 else 2)} %"


def lux_words(lux: float) -> str:
    """Lux with as many digits as they deserve: ``0.02 lux``, ``1.4 lux``."""
    return f"{figures(lux)} lux"


def with_words(spot: LampSpot, asked: LampRequest) -> LampSpot:
    """Give the spot with what it says: how much too bright, and the ways to tame it."""
    who = {
        "asked": f"From your place at {length(spot.distance_m)}, {num(spot.angle_deg, 0)}° off",
        "hidden": f"Hidden {length(spot.distance_m)} behind, on its broken edge at most",
    }.get(
        spot.place,
        f"On the {spot.place} at {length(spot.distance_m)}, {num(spot.angle_deg, 0)}° off",
    )
    said = f"{who}: {num(asked.lumens)} lm at full power give {lux_words(spot.full_lux)}"
    if not spot.over_stops > 0.0:
        near = spot.distance_m * 2.0 ** (spot.over_stops / 2.0)
        if not math.isfinite(spot.over_stops):
            return replace(spot, sentence=f"{said}: no light falls on what the camera sees.")
        return replace(
            spot,
            sentence=f"{said}, {num(-spot.over_stops, 1)} stops too little: a stronger lamp, or "
            f"some {length(near)} from the subject.",
        )
    ways = [f"dim it to {share_words(spot.dim_share)}"]
    if spot.dim_share < DARKEST_SHARE:
        ways[0] += ", which few lamps can"
    if abs(spot.sheets_off_stops) <= 1.0:
        sheets = counted(spot.sheets, "sheets")
        ways.append(f"{sheets} of white paper over it ({_off(spot.sheets_off_stops)})")
    if abs(spot.card_off_stops) <= 1.0:
        ways.append(f"a white card to bounce it off from there ({_off(spot.card_off_stops)})")
    told = f"{said}, {num(spot.over_stops, 1)} stops too bright: {', or '.join(ways)}"
    return replace(
        spot, sentence=f"{told}; good to {num(spot.off_sigma_stops, 0)} stops, so measure."
    )


def _off(stops: float) -> str:
    if abs(stops) < 0.05:
        return "as wanted"
    return f"{counted(float(num(abs(stops), 1)), 'stops')} {'over' if stops > 0.0 else 'under'}"


def turn_words(
    sky: SkyParts,
    asked: LampRequest,
    lux: tuple[float, float],
) -> str:
    """Say how bright sky and subject are; ``lux`` is what is wanted and its doubt in stops."""
    face = asked.face.name
    if not math.isfinite(sky.sky_cd_m2):
        return "How bright the sky behind the subject is then is unknown: no light is told."
    over = "over" if asked.stops_over_sky >= 0.0 else "under"
    return (
        f"The sky behind the subject is {figures(1e3 * sky.sky_cd_m2)} mcd/m2. For {face} "
        f"{num(abs(asked.stops_over_sky))} stops {over} it the subject needs {lux_words(lux[0])}, "
        f"within {num(lux[1], 1)} stops: the lowest range of a light meter, beside the subject. A "
        "meter that ends above it: measure full power, and count stops down."
    )


def shutter_words(turns: Sequence[LampTurn]) -> str:
    """Say how far the lenses' shutters lie apart; nothing where they do not."""
    under = [
        f"{turn.lens} {num(-turn.shutter_stops, 1)}" for turn in turns if turn.shutter_stops < -0.05
    ]
    if not under:
        return ""
    return (
        f"At one aperture and ISO the shutters lie apart, in stops under the longest: "
        f"{', '.join(under)}. Sky and lamp change alike, so the lamp stays as it is; light that "
        "burns for only a part of a frame counts by its seconds, and differs so between them."
    )


def line_of(turns: Sequence[LampTurn]) -> str:
    """The answer in one short line: what all lenses need, and the first place's share."""
    known = [turn for turn in turns if math.isfinite(turn.wanted_lux)]
    if not known:
        return "Lamp: the sky's brightness is unknown at every stand."
    least, most = min(t.wanted_lux for t in known), max(t.wanted_lux for t in known)
    low, high = figures(least), figures(most)
    lux = low if low == high else f"{low} to {high}"
    sigma = num(max(t.lux_sigma_stops for t in known), 0)
    said = f"Lamp: {lux} lux on the subject, within {sigma} stop"
    spots = [spot for turn in known[:1] for spot in turn.spots]
    if not spots:
        return f"{said}. Why: --all."
    spot = spots[0]
    if not spot.over_stops > 0.0:
        return f"{said}; yours is too weak."
    return f"{said}; dim yours to {share_words(spot.dim_share)} ({spot.place})."
