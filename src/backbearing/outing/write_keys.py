"""Set keys of an outing file: only those, its comments kept, all of it or nothing."""

from __future__ import annotations

import codecs
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import BackbearingError, OutingError, Where
from backbearing.base.files import write_file
from backbearing.base.input_files import checked_path, read_text
from backbearing.base.numbers import num
from backbearing.base.place_notation import read_place
from backbearing.outing.load import outing_of
from backbearing.outing.toml_edit import changed_toml
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


def set_keys(path: str | Path, changes: Mapping[str, Mapping[str, Any]]) -> Path:
    r"""Set keys of an outing file, and change nothing else in it.

    Comments, order and line ends stay; the new file takes the old one's place at once. A file
    that can be loaded as an outing can be loaded after it too, or is left as it is.

    Parameters
    ----------
    path : path
        The file.
    changes : mapping of mappings
        For each section its keys and their new values, such as
        ``{"subject": {"height_m": 7.2, "height_sigma_m": 0.3}}``; see
        `backbearing.outing.toml_edit.changed_toml`.

    Returns
    -------
    Path
        The file written; where it is a link, what the link leads to.

    Raises
    ------
    OutingError
        When the file is missing or not TOML, a value cannot be written, or the outing would no
        longer hold together.
    WriteRefusedError
        When the disk refuses.

    Examples
    --------
    Into ``folder``:

    >>> from backbearing.outing import set_keys
    >>> _ = (folder / "outing.toml").write_text("[subject]\nheight_m = 6.0  # a guess\n")
    >>> print(set_keys(folder / "outing.toml", {"subject": {"height_m": 7.2}}).read_text(), end="")
    [subject]
    height_m = 7.2  # a guess
    """
    file = checked_path(path)
    text = read_text(file, "an outing", largest_bytes=LARGEST_BYTES)
    before = parse_outing_text(text, file)
    try:
        made = changed_toml(text, in_its_own_way(before, changes))
    except OutingError as problem:
        raise problem.at(Where(file.name)) from None
    after = parse_outing_text(made, file)
    if _loads(before, file):
        outing_of(after, file)
    return file.resolve() if made == text else replaced_text(file, made)


def replaced_text(file: Path, text: str) -> Path:
    """Put a text in the place of a file's, at once; a byte order mark stays, a link too.

    Returns the file written; where ``file`` is a link, what it leads to.
    """
    target = file.resolve()
    mark = codecs.BOM_UTF8 if target.read_bytes().startswith(codecs.BOM_UTF8) else b""
    return write_file(target, mark + text.encode("utf-8"), overwrite=True)


def in_its_own_way(
    before: Mapping[str, Any], changes: Mapping[str, Mapping[str, Any]]
) -> Mapping[str, Mapping[str, Any]]:
    """Let a new ``lat`` or ``lon`` of the subject go where the file holds them in one ``place``.

    Parameters
    ----------
    before : mapping
        The file as parsed.
    changes : mapping of mappings
        As for `set_keys`.
    """
    held, wanted = before.get("subject"), changes.get("subject", {})
    moved = {key: wanted[key] for key in ("lat", "lon") if key in wanted}
    if not moved or not isinstance(held, dict) or not isinstance(held.get("place"), str):
        return changes
    there = read_place(held["place"])
    lat, lon = moved.get("lat", there.lat_deg), moved.get("lon", there.lon_deg)
    rest = {key: value for key, value in wanted.items() if key not in moved}
    return {**changes, "subject": {"place": f"{num(lat, 7)}, {num(lon, 7)}", **rest}}


def _loads(raw: dict[str, Any], file: Path) -> bool:
    """Whether a file could be loaded as it stands."""
    try:
        outing_of(raw, file)
    except BackbearingError:
        return False
    return True
