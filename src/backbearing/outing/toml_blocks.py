r"""Take whole entries and keys out of the text of a TOML file, or put entries in; the rest stays.

As in :mod:`backbearing.outing.toml_edit` the parser has the last word: what it reads afterwards
must be what was read before, less what was taken and with what was put in.
"""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import OutingError
from backbearing.outing.toml_edit import toml_value
from backbearing.outing.toml_scan import scan

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from backbearing.outing.toml_scan import Header, Key


def with_entries(
    text: str, name: str, kept: Sequence[int], added: Sequence[Mapping[str, Any]]
) -> str:
    r"""Keep some of the ``[[name]]`` entries, take the others out, and put new ones after them.

    Parameters
    ----------
    text : str
        Valid TOML.
    name : str
        Of the entries, such as ``lens``.
    kept : sequence of int
        Their numbers from 1, ascending.
    added : sequence of mappings
        For each new entry its keys.

    Raises
    ------
    OutingError
        For a number that there is none of, or a layout in which entries cannot be moved alone.

    Examples
    --------
    >>> from backbearing.outing.toml_blocks import with_entries
    >>> text = "[[lens]]\nfocal = 16  # wide\n\n[[lens]]\nfocal = 24\n\n[night]\nat = 1\n"
    >>> print(with_entries(text, "lens", [1], [{"focal": 85}]), end="")
    [[lens]]
    focal = 16  # wide
    <BLANKLINE>
    [[lens]]
    focal = 85
    <BLANKLINE>
    [night]
    at = 1
    """
    before = _read(text)
    entries = before.get(name, [])
    if not isinstance(entries, list) or list(kept) != sorted({*kept}):
        raise _laid_out(name)
    if kept and not 1 <= kept[0] <= kept[-1] <= len(entries):
        raise OutingError(f"There is no [[{name}]] number {kept[-1]}", hint="load the page again")
    keys, headers = scan(text)
    blocks = [
        _block(text, keys, headers, i) for i, one in enumerate(headers) if one.path == (name,)
    ]
    if len(blocks) != len(entries):
        raise _laid_out(name)
    end = "\r\n" if "\r\n" in text else "\n"
    # New entries stand where the last one of the kind ended, or at the end of the file.
    at = blocks[-1][1] if blocks else len(text)
    made = _joined(text[:at], [_written(name, one, end) for one in added], text[at:], end)
    for number, (start, stop) in reversed(list(enumerate(blocks, 1))):
        if number not in kept:
            made = made[:start] + _without_gap(made, start, stop)
    wanted = {**before, name: [*(entries[number - 1] for number in kept), *map(dict, added)]}
    if not wanted[name]:
        del wanted[name]
    return _checked(made, wanted, name)


def without_keys(text: str, section: str, names: Collection[str]) -> str:
    r"""Take keys out of a ``[section]``, their lines with them.

    Raises
    ------
    OutingError
        For a layout in which a key cannot be taken out alone.

    Examples
    --------
    >>> from backbearing.outing.toml_blocks import without_keys
    >>> without_keys("[camera]\nuse = 'mine'  # new\nwidth_px = 6000\n", "camera", ["use"])
    '[camera]\nwidth_px = 6000\n'
    """
    before = _read(text)
    held = before.get(section)
    if not isinstance(held, dict) or not set(names) & set(held):
        return text
    made = text
    for key in reversed(scan(text)[0]):
        if len(key.path) == 2 and key.path[0] == section and key.path[1] in names:
            start = text.rfind("\n", 0, key.start) + 1
            stop = text.find("\n", key.value_end) + 1 or len(text)
            made = made[:start] + made[stop:]
    rest = {key: value for key, value in held.items() if key not in names}
    return _checked(made, {**before, section: rest}, section)


def _block(text: str, keys: Sequence[Key], headers: Sequence[Header], i: int) -> tuple[int, int]:
    """From where to where an entry stands: its header to the end of its last key's line."""
    inner = [j for j in range(i, len(headers)) if headers[j].path[:1] == headers[i].path]
    own = [i]
    for j in inner:
        if j == own[-1] + 1 and len(headers[j].path) > 1:
            own.append(j)
    ends = [headers[own[-1]].end, *(key.value_end for key in keys if key.header in own)]
    start = text.rfind("\n", 0, headers[i].start) + 1
    return start, text.find("\n", max(ends)) + 1 or len(text)


def _without_gap(text: str, start: int, stop: int) -> str:
    """What follows an entry that goes, without the empty lines that set it apart."""
    rest = text[stop:]
    return rest.lstrip("\r\n") if text[:start].endswith(("\n\n", "\r\n\r\n")) else rest


def _joined(head: str, blocks: Sequence[str], tail: str, end: str) -> str:
    if not blocks:
        return head + tail
    if head and not head.endswith("\n"):
        head += end
    gap = end if head.strip() else ""
    return head + gap + end.join(blocks) + tail


def _written(name: str, keys: Mapping[str, Any], end: str) -> str:
    lines = [f"[[{name}]]", *(f"{key} = {toml_value(value)}" for key, value in keys.items())]
    return "".join(line + end for line in lines)


def _read(text: str) -> dict[str, Any]:
    return tomllib.loads(text.replace("\r\n", "\n"))


def _checked(made: str, wanted: dict[str, Any], name: str) -> str:
    try:
        read: Any = _read(made)
    except (tomllib.TOMLDecodeError, RecursionError):
        read = None
    if read != wanted:
        raise _laid_out(name)
    return made


def _laid_out(name: str) -> OutingError:
    return OutingError(
        f"{name} is laid out in the file so that it cannot be changed alone",
        hint="change it there by hand",
        key=name,
    )
