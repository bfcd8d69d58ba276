"""The configuration file's ``[[tile_source]]`` sections: other products, other addresses.

``config.toml`` lies in the user's configuration folder. A source there goes before the built-in
ones, and takes the place of one with the same name.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, cast
from urllib.parse import urlsplit

from backbearing.base.errors import BackbearingError, FetchError, Where
from backbearing.base.input_files import is_missing, read_text
from backbearing.base.limits import shown
from backbearing.fetching.source import BUILT_IN, Box, TileSource
from backbearing.fetching.tile_scheme import SCHEMES, Corner, filled
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.source import Role

ROLES: Final = ("heights", "surface", "canopy")
MOST_SOURCES: Final = 100
LONGEST_TEXT: Final = 1_000

_KEYS: Final = (
    *("name", "template", "scheme", "product", "licence", "datum", "role", "absent"),
    *("not_released", "checksum", "error"),
)


def config_file() -> Path:
    """Where the configuration file lies, whether it exists or not."""
    from platformdirs import user_config_path

    return user_config_path("backbearing", appauthor=False) / "config.toml"


def tile_sources(config: Path | None = None) -> tuple[TileSource, ...]:
    """Give the sources of the configuration file, then the built-in ones.

    Parameters
    ----------
    config : Path, optional
        The file; the user's own when left out, and nothing is amiss when there is none.

    Raises
    ------
    FetchError
        For a source that cannot be used as written: file, section and key.
    """
    file = config_file() if config is None else config
    if config is None and is_missing(file):
        return BUILT_IN
    text = read_text(file, "settings", largest_bytes=LARGEST_BYTES, error=FetchError)
    found = parse_outing_text(text, file).get("tile_source", [])
    if not isinstance(found, list) or len(found) > MOST_SOURCES:
        raise FetchError(
            "tile_source is no list of sections",
            hint=f"write [[tile_source]], at most {MOST_SOURCES} of them",
            where=Where(file.name),
        )
    own = []
    for number, section in enumerate(found, start=1):
        where = f"[[tile_source]] number {number}"
        try:
            own.append(_source(section))
        except BackbearingError as problem:
            key = str(problem.facts.get("key", ""))
            raise problem.at(Where(file.name, where, key)) from problem
    names = [source.name for source in own]
    for name in names:
        if names.count(name) > 1:
            raise FetchError(
                f"two sections [[tile_source]] have the name {name!r}",
                hint="give each a name of its own",
                where=Where(file.name),
            )
    return (*own, *(source for source in BUILT_IN if source.name not in names))


def _source(section: Any) -> TileSource:
    """Make a source of a section."""
    if not isinstance(section, dict):
        raise FetchError("is no section", hint="write [[tile_source]] with keys below it")
    for key in section:
        if key not in _KEYS:
            raise FetchError(
                f"{shown(key)} is not a key that is known here",
                hint=f"the keys are {', '.join(_KEYS)}",
            )
    name = _text(section, "name").strip().lower()
    template = _text(section, "template", needed=False)
    if not name:
        raise FetchError("name is empty", hint="write what --source will take", key="name")
    for key, written in (("template", template), ("checksum", _text(section, "checksum", False))):
        if written:
            _check_address(key, written)
    scheme = _one_of(section, "scheme", tuple(SCHEMES), "one degree")
    return TileSource(
        name=name,
        template=template,
        scheme=SCHEMES[scheme],
        product=_text(section, "product", False).strip().lower(),
        licence=_text(section, "licence"),
        datum=_text(section, "datum", False),
        role=cast("Role", _one_of(section, "role", ROLES, "heights")),
        absent=cast("Any", _one_of(section, "absent", ("missing", "sea"), "missing")),
        not_released=_boxes(section.get("not_released", [])),
        checksum=_text(section, "checksum", False),
        stated_error=_text(section, "error", False),
    )


def _text(section: dict[str, Any], key: str, needed: bool = True) -> str:
    value = section.get(key, None if needed else "")
    if value is None:
        raise FetchError(f"{key} is missing", hint="add it, as text in quotes", key=key)
    if not isinstance(value, str) or len(value) > LONGEST_TEXT or not value.isprintable():
        raise FetchError(f"{key} is {shown(value)}", hint="write text in quotes", key=key)
    return value


def _one_of(section: dict[str, Any], key: str, known: tuple[str, ...], usual: str) -> str:
    value = section.get(key, usual)
    if value not in known:
        raise FetchError(
            f"{key} is {shown(value)}",
            hint=f"write one of {', '.join(repr(one) for one in known)}",
            key=key,
        )
    return str(value)


def _check_address(key: str, template: str) -> None:
    """Refuse what is no web address, and one in which two tiles would have the same place."""
    made = filled(template, Corner(-31, 138))
    try:
        parts = urlsplit(made)
        host = parts.hostname
    except ValueError:
        host = None
    if host is None or parts.scheme not in ("https", "http") or parts.username or "@" in host:
        raise FetchError(
            f"{key} is {shown(template)}",
            hint="write an address that begins with https:// or http://, without a user's name",
            key=key,
        )
    same = {filled(template, Corner(*one)) for one in ((-31, 138), (31, 138), (-31, -138))}
    if len(same) < 3 or made in (
        filled(template, Corner(-32, 138)),
        filled(template, Corner(-31, 139)),
    ):
        raise FetchError(
            f"{key} gives the same address for different tiles",
            hint="write {NS}{lat} and {EW}{lon} where the corner stands",
            key=key,
        )


def _boxes(value: Any) -> tuple[Box, ...]:
    good = isinstance(value, list) and all(
        isinstance(box, list)
        and len(box) == 4
        and all(isinstance(one, int) and not isinstance(one, bool) for one in box)
        for box in value
    )
    if not good:
        raise FetchError(
            f"not_released is {shown(value)}",
            hint="write a list of [south, west, north, east], corners of the first and last tile",
            key="not_released",
        )
    return tuple(Box(*box) for box in value)
