"""Where the numbers of the lamp and of twilight come from: the same kind of data as for a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import figures
from backbearing.base.plain import plain
from backbearing.explain.plan import Fact
from backbearing.explain.told import told

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.explain.plan import Explanation
    from backbearing.plan.lamp import GroundFrame, LampSpot, LampTurn, PlanLamp
    from backbearing.plan.plan import Plan

_SKY = ("lamp.sky_mcd_m2", "lamp.stops_over_sky")
_LAMP = ("lamp.lumens", "lamp.beam_deg")

LAMP_FACTS: Final[dict[str, Fact]] = {
    "lamp.lumens": Fact("lm", "the lamp at full power", "as asked", ()),
    "lamp.beam_deg": Fact("degrees", "its beam from edge to edge", "as asked", ()),
    "lamp.stops_over_sky": Fact("stops", "the subject over the sky behind it", "as asked", ()),
    "lamp.reflectance": Fact(
        "", "share of light that the subject gives back", "as asked, or the table's", (),
        ("Oke1987",),
    ),
    "lamp.sky_mcd_m2": Fact(
        "mcd/m2", "the sky behind the subject at each stand",
        "108000 x 10^(-0.4 m) cd/m2 of the dark sky and Milky Way; the Moon and twilight brighten "
        "the dark sky", (), ("Falchi2016", "KS1991", "Schaefer1998"),
    ),
    "lamp.wanted_mcd_m2": Fact(
        "mcd/m2", "the subject then", "sky x 2^stops", _SKY,
    ),
    "lamp.wanted_lux": Fact(
        "lux", "light on the subject that makes it so", "pi L / reflectance",
        ("lamp.wanted_mcd_m2", "lamp.reflectance"), ("Palmer2010",),
    ),
    "lamp.lux_sigma_stops": Fact(
        "stops", "one standard deviation of that",
        "root of the squares of the dark sky's doubt, twilight's 0.7 mag by share, and half the "
        "surface's range (judgement, no source)", ("lamp.sky_mcd_m2", "lamp.reflectance"),
    ),
    "lamp.shutter_stops": Fact(
        "stops", "each lens's shutter over the night's longest, at one aperture and ISO",
        "log2(shutter / longest)", (),
    ),
    "lamp.full_lux": Fact(
        "lux", "what the lamp gives at full power, by lens and place",
        "I cos(a) / d^2 with I = lumens / (2 pi (1 - cos(beam / 2))); of a hidden light with "
        "cos(gamma / 2), gamma between the ways to lamp and camera (own model, no source)",
        _LAMP, ("Palmer2010",),
    ),
    "lamp.over_stops": Fact(
        "stops", "how much too bright that is", "log2(full / wanted)",
        ("lamp.full_lux", "lamp.wanted_lux"),
    ),
    "lamp.off_sigma_stops": Fact(
        "stops", "one standard deviation of that",
        "that of the wanted lux with 0.5 stop of lamp, 2 stops of a hidden one (judgement, no "
        "source)", ("lamp.lux_sigma_stops",),
    ),
    "lamp.dim_share": Fact(
        "", "share of its power that is wanted", "wanted / full",
        ("lamp.full_lux", "lamp.wanted_lux"),
    ),
    "lamp.sheets": Fact(
        "sheets", "white paper over it that comes nearest; 0 where it is too weak",
        "each passes 0.2, the first spreads it, I = 0.2 lumens / pi (common practice, no source)",
        ("lamp.lumens", "lamp.wanted_lux"),
    ),
    "lamp.sheets_off_stops": Fact(
        "stops", "how far off those sheets are", "log2(with them / wanted)", ("lamp.sheets",),
    ),
    "lamp.card_off_stops": Fact(
        "stops", "how far off a white card in its place is that it is bounced off",
        "log2(0.8 lumens / pi cos(a) / d^2 / wanted) (common practice, no source)",
        ("lamp.lumens", "lamp.wanted_lux"),
    ),
    "lamp.level_lux": Fact(
        "lux", "twilight on level ground that lights it as far under the night's sky as asked",
        "pi L / reflectance of the ground, L = sky x 2^-stops", ("lamp.sky_mcd_m2",),
        ("Palmer2010",),
    ),
    "lamp.dusk": Fact(
        "UTC", "when twilight gives that in the evening",
        "root of the cubics in the Sun's altitude for log10 lux", ("lamp.level_lux",),
        ("Janiczek1987",),
    ),
    "lamp.dawn": Fact(
        "UTC", "the same in the morning", "as dusk", ("lamp.level_lux",), ("Janiczek1987",),
    ),
    "lamp.ground_lux": Fact(
        "lux", "twilight in the frame of the ground", "10^cubic of the Sun's altitude", (),
        ("Janiczek1987",),
    ),
    "lamp.ground_shutter_s": Fact(
        "s", "shutter of a frame of the ground that puts it 3 stops under clipping",
        "full well x base ISO / ISO / 8 / electrons a second, to the nearest marked speed",
        ("lamp.ground_lux",), ("Bessell1998", "Ray2002"),
    ),
    "lamp.ground_snr": Fact(
        "", "signal-to-noise of the ground there, in a pixel", "S / sqrt(S + R^2)",
        ("lamp.ground_shutter_s",), ("Howell2006",),
    ),
    "lamp.sky_over_ground_stops": Fact(
        "stops", "the sky over the ground in that frame",
        "log2 of twilight at the target's place in the frame over the ground's luminance",
        ("lamp.ground_lux",), ("Schaefer1998",),
    ),
}  # fmt: skip
"""Of several lenses or places, a number of each stands in a list."""

_OF_TURN: Final[dict[str, Callable[[LampTurn], float]]] = {
    "lamp.sky_mcd_m2": lambda one: 1e3 * one.sky.sky_cd_m2,
    "lamp.wanted_mcd_m2": lambda one: 1e3 * one.wanted_cd_m2,
    "lamp.wanted_lux": lambda one: one.wanted_lux,
    "lamp.lux_sigma_stops": lambda one: one.lux_sigma_stops,
    "lamp.shutter_stops": lambda one: one.shutter_stops,
}
_OF_SPOT: Final[dict[str, Callable[[LampSpot], float]]] = {
    "lamp.full_lux": lambda one: one.full_lux,
    "lamp.over_stops": lambda one: one.over_stops,
    "lamp.off_sigma_stops": lambda one: one.off_sigma_stops,
    "lamp.dim_share": lambda one: one.dim_share,
    "lamp.sheets": lambda one: float(one.sheets),
    "lamp.sheets_off_stops": lambda one: one.sheets_off_stops,
    "lamp.card_off_stops": lambda one: one.card_off_stops,
}
_OF_FRAME: Final[dict[str, Callable[[GroundFrame], float]]] = {
    "lamp.ground_lux": lambda one: one.ground_lux,
    "lamp.ground_shutter_s": lambda one: one.shutter_s,
    "lamp.ground_snr": lambda one: one.ground_snr,
    "lamp.sky_over_ground_stops": lambda one: one.sky_over_ground_stops,
}


def lamp_explanations(plan: Plan) -> dict[str, Explanation]:
    """Explain every number of the lamp, keyed ``lamp.wanted_lux``; none without a [light]."""
    if plan.lamp is None:
        return {}
    return told(LAMP_FACTS, _values(plan.lamp), within="lamp.")


def _values(lamp: PlanLamp) -> dict[str, Any]:
    blue = lamp.blue_hour
    values: dict[str, Any] = {
        "lamp.lumens": lamp.asked.lumens,
        "lamp.beam_deg": lamp.asked.beam_deg,
        "lamp.stops_over_sky": lamp.asked.stops_over_sky,
        "lamp.reflectance": lamp.reflectance,
        "lamp.level_lux": None if blue is None else blue.level_lux,
        "lamp.dusk": None if blue is None else plain(blue.dusk),
        "lamp.dawn": None if blue is None else plain(blue.dawn),
    }
    for name, of in _OF_TURN.items():
        values[name] = _told((turn.lens, of(turn)) for turn in lamp.turns)
    for name, of_spot in _OF_SPOT.items():
        values[name] = _told(
            (f"{turn.lens} {spot.place}", of_spot(spot))
            for turn in lamp.turns
            for spot in turn.spots
        )
    frames = () if blue is None else blue.frames
    for name, of_frame in _OF_FRAME.items():
        values[name] = _told((one.lens, of_frame(one)) for one in frames)
    return values


def _told(pairs: Any) -> str | None:
    return ", ".join(f"{label}: {figures(value, 3)}" for label, value in pairs) or None
