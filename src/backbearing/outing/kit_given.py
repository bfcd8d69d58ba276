"""Which of an outing's numbers its file leaves to the kit, for who asks where a number is from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

from backbearing.base.input_files import checked_path, read_text
from backbearing.outing.kit import load_kit, uses_kit, with_kit
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

REST_ON: Final[dict[str, tuple[str, ...]]] = {
    "pixel_pitch_um": ("sensor_width_mm", "sensor_format", "width_px"),
    "frame_height_mm": ("sensor_height_mm", "sensor_format"),
}
"""Figures that a plan makes of the body's keys at once."""


class KitGiven(NamedTuple):
    """The kit's file, and for each key that it gave the thing whose it is.

    ``lenses`` has one mapping for each lens, in the outing's order.
    """

    file: Path
    common: Mapping[str, str]
    lenses: tuple[Mapping[str, str], ...]


def given_by_kit(path: str | Path) -> KitGiven | None:
    """Compare an outing as written with what the kit makes of it; None where it uses no kit.

    Raises
    ------
    OutingError
        As `load_kit` and `with_kit` do.
    """
    file = checked_path(path)
    raw = parse_outing_text(read_text(file, "an outing", largest_bytes=LARGEST_BYTES), file)
    if not uses_kit(raw):
        return None
    kit = load_kit()
    whole = with_kit(raw, file, kit=kit)
    body = raw.get("camera", {}).get("use")
    common: dict[str, str] = {}
    for section in ("camera", "exposure", "framing", "session"):
        for key in _new(raw.get(section, {}), whole.get(section, {})):
            common[key] = f'body "{body}"' if key in kit.body.get(body, {}) else "me"
            if key in ("light_width_m", "light_height_m"):
                common[key] = f'light "{raw["session"]["light"]}"'
    for figure, keys in REST_ON.items():
        given = [common[key] for key in keys if key in common]
        if given:
            common[figure] = given[0]
    lenses = tuple(
        dict.fromkeys(_new(said, meant), f'lens "{said.get("use")}"')
        for said, meant in zip(raw["lens"], whole["lens"], strict=True)
    )
    return KitGiven(kit.path, common, lenses)


def _new(said: Any, meant: Any) -> list[str]:
    return [key for key in meant if key not in said]
