"""TOML as people write it by hand: bounded before it is parsed, its slips taught in a sentence.

The standard library's parser nests as deep as the text does and builds every dotted key, so
that a short file can ask for gigabytes; and what it says of a comma for a decimal point is of no
help at night. Both are settled here, before and after the parser.
"""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError, Where

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_BYTES: Final = 500_000
DEEPEST: Final = 12
"""Brackets within brackets, and names in one dotted key."""

MOST_LINES: Final = 20_000
LONGEST_NUMBER: Final = 400
"""Digits of a number; Python itself refuses 4,300 and more."""

_QUOTED: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"""'
    r"|'''.*?'''"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*",
    re.S,
)
_DOTTED: Final = re.compile(rf"(?<![\w\"'-])(?:[\w\"'-]+[ \t]*\.[ \t]*){{{DEEPEST},}}")
_DIGITS: Final = re.compile(rf"[0-9_]{{{LONGEST_NUMBER},}}")
_AT_LINE: Final = re.compile(r"\(at line (\d+), column (\d+)\)")

_SLIPS: Final[tuple[tuple[re.Pattern[str], str], ...]] = (
    (
        re.compile(r"=\s*[-+]?\d+,\d+\s*(#.*)?$"),
        "write the decimal point as a point, such as -30.99986",
    ),
    (
        re.compile(r"=\s*\d{1,4}[/.]\d{1,2}[/.]\d{1,4}\s*(#.*)?$"),
        "write dates as year-month-day without quotes, such as 2027-06-05",
    ),
    (
        re.compile(r"=\s*\d{1,2}-\d{1,2}-\d{4}\s*(#.*)?$"),
        "write dates as year-month-day without quotes, such as 2027-06-05",
    ),
    (
        re.compile(r"=\s*\d{1,2}:\d{2}\s*(#.*)?$"),
        'write times in quotes, such as "23:50"',
    ),
    (
        re.compile(r"=\s*[-+]?\d+(\.\d+)?\s*(m|mm|deg|°|px|s|km|ft)\b", re.I),
        "write the number alone; the unit stands in the key's name",
    ),
    (
        re.compile(r"=\s*[-+]?\d+\s*°"),
        'write degrees as a number such as -30.99986, or in quotes as "30 59 59.5 S"',
    ),
    (re.compile(r"=\s*(#.*)?$"), "write a value after the equals sign, or take the line out"),
    (re.compile(r"=\s*(True|False|TRUE|FALSE|yes|no)\b"), "write true or false in small letters"),
    (re.compile(r"=\s*[A-Za-z]"), "write text in quotes"),
    (re.compile(r"=\s*0\d"), "write numbers without zeros before them"),
    (re.compile(r"^\s*[\w-]+\s*:\s"), "write key = value, with an equals sign"),
)


def parse_outing_text(
    text: str, file: Path, example: str = "backbearing new --starter"
) -> dict[str, Any]:
    """Parse the text of an outing file, or of another for which ``example`` prints a fresh one.

    Raises
    ------
    OutingError
        With the line, what is wrong there and what to write instead.
    """
    plain = text.replace("\r\n", "\n")
    _check_bounds(plain, file, example)
    try:
        return tomllib.loads(plain)
    except tomllib.TOMLDecodeError as problem:
        raise _taught(plain, file, problem, example) from problem
    except (ValueError, RecursionError, OverflowError) as problem:
        raise OutingError(
            f"{file.name} holds a value that no outing has",
            hint=f"compare it with a fresh file from `{example}`",
            file=str(file),
        ) from problem


def _check_bounds(text: str, file: Path, example: str) -> None:
    bare = _QUOTED.sub(lambda found: '""' + "\n" * found.group().count("\n"), text)
    if bare.count("\n") > MOST_LINES:
        raise _refuse(file, f"has more than {MOST_LINES:,} lines", example)
    number = _DIGITS.search(bare)
    if number:
        line = bare.count("\n", 0, number.start()) + 1
        raise _refuse(
            file, f"has a number of {LONGEST_NUMBER} digits or more in line {line}", example
        )
    dotted = _DOTTED.search(bare)
    if dotted:
        line = bare.count("\n", 0, dotted.start()) + 1
        raise _refuse(file, f"has a key of more than {DEEPEST} parts in line {line}", example)
    depth = 0
    for found in re.finditer(r"[\[\]{}]", bare):
        depth += 1 if found.group() in "[{" else -1
        if depth > DEEPEST:
            line = bare.count("\n", 0, found.start()) + 1
            raise _refuse(file, f"has brackets more than {DEEPEST} deep in line {line}", example)


def _taught(text: str, file: Path, problem: tomllib.TOMLDecodeError, example: str) -> OutingError:
    at = _AT_LINE.search(str(problem))
    lines = text.split("\n")
    number = int(at.group(1)) if at else len(lines)
    written = lines[number - 1].strip() if number <= len(lines) else ""
    for slip, hint in _SLIPS:
        if written and slip.search(written):
            key = written.split("=")[0].split(":")[0].strip()
            return OutingError(
                f"line {number} is {_cut(written)!r}",
                hint=hint,
                where=Where(file.name, key=key if re.fullmatch(r"[\w-]{1,40}", key) else ""),
                file=str(file),
                line=number,
            )
    return OutingError(
        f"{file.name} is not valid TOML: {_cut(str(problem), 200)}",
        hint=f"compare the line with a fresh file from `{example}`",
        file=str(file),
        line=number,
    )


def _cut(text: str, longest: int = 60) -> str:
    return text if len(text) <= longest else text[: longest - 3] + "..."


def _refuse(file: Path, what: str, example: str) -> OutingError:
    return OutingError(
        f"{file.name} {what}, which no outing needs",
        hint=f"compare it with a fresh file from `{example}`",
        file=str(file),
    )
