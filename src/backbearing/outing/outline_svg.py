"""Reading an outline from an SVG file: its paths and polygons, curves flattened."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError
from backbearing.base.input_files import is_missing, read_text
from backbearing.base.xml_stream import XmlStream
from backbearing.outing.outline import Outline

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

Point = complex

MOST_BYTES: Final = 1_000_000
MOST_DRAWN: Final = 100_000
CURVE_STEPS: Final = 16
_TOKEN = re.compile(r"([A-Za-z])|([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)|([\s,]+)|(.)", re.S)
_NUMBERS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}


def read_outline(path: Path, *, height_m: float, width_m: float | None) -> Outline:
    """Read an SVG file's shapes [SVG11]_ as an outline of a subject.

    Every ``path`` and ``polygon`` counts, wherever it stands in the file; together they are
    scaled to the subject's height (and width, where given), the lowest point on its base.

    Parameters
    ----------
    path : Path
        The file.
    height_m, width_m : float
        The subject's size, metres; without a width the drawing keeps its proportions.

    Raises
    ------
    OutingError
        When the file cannot be read, has a document type, a transform, an arc or no shape.
    """
    if is_missing(path):
        raise _refuse(path, "cannot be read (there is no such file)")
    read_text(path, "an outline", largest_bytes=MOST_BYTES, key="outline")
    rings: list[list[tuple[float, float]]] = []

    def start(kind: str, attributes: dict[str, str]) -> None:
        if attributes.get("transform"):
            raise _refuse(path, f"has a transform on <{kind}>; save it with transforms applied")
        if kind == "path":
            rings.extend(path_rings(attributes.get("d", ""), path))
        elif kind == "polygon":
            rings.extend(path_rings(f"M {attributes.get('points', '')} Z", path))
        if sum(map(len, rings)) > MOST_DRAWN:
            raise _refuse(path, f"has more than {MOST_DRAWN:,} points; simplify it")

    try:
        XmlStream(path, "svg", start, lambda _name, _text: None).read()
    except OutingError as problem:
        raise _refuse_as(path, problem) from problem
    rings = [ring for ring in rings if len(ring) >= 3]
    if not rings:
        raise _refuse(path, "has no closed <path> or <polygon>; draw the outline as one")
    return Outline.fitted(rings, height_m=height_m, width_m=width_m, source=path.name)


def _refuse_as(path: Path, problem: OutingError) -> OutingError:
    """Say of an outline what the reading of its XML said of the file."""
    if "key" in problem.facts:
        return problem
    return _refuse(path, problem.what.removeprefix(f"{path.name} ").rstrip("."))


def _refuse(path: Path, what: str) -> OutingError:
    return OutingError(f"The outline {path.name} {what}.", key="outline", file=str(path))


def path_rings(data: str, path: Path) -> list[list[tuple[float, float]]]:
    """Turn SVG path data into rings of points, y downwards as drawn."""
    rings: list[list[Point]] = []
    here = start = 0j
    control: Point | None = None
    before = ""
    for letter, numbers in _commands(data, path):
        kind = letter.upper()
        base = here if letter.islower() else 0j
        if kind == "M":
            here = start = base + complex(*numbers)
            rings.append([here])
        elif kind == "Z":
            here = start
        else:
            if not rings:
                raise _refuse(path, "has a path that does not begin with M")
            if before in ("Z", "z"):
                rings.append([start])
            reflected = here if control is None else 2.0 * here - control
            points, control = _piece(kind, numbers, base, here, reflected, before.upper())
            rings[-1] += points
            here = points[-1]
        if kind not in "CSQT":
            control = None
        before = letter
    return [[(p.real, p.imag) for p in ring] for ring in rings]


def _piece(
    kind: str, numbers: list[float], base: Point, here: Point, reflected: Point, before: str
) -> tuple[list[Point], Point | None]:
    """Points of one drawing command after ``here``, and its last control point."""
    if kind == "H":
        return [complex(numbers[0] + base.real, here.imag)], None
    if kind == "V":
        return [complex(here.real, numbers[0] + base.imag)], None
    at = [base + complex(x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    if kind == "L":
        return at, None
    if kind == "S":
        at.insert(0, reflected if before in ("C", "S") else here)
    if kind == "T":
        at.insert(0, reflected if before in ("Q", "T") else here)
    curve = _cubic if len(at) == 3 else _quadratic
    steps = [(i + 1) / CURVE_STEPS for i in range(CURVE_STEPS)]
    return [curve(here, *at)(t) for t in steps], at[-2]


def _cubic(a: Point, b: Point, c: Point, d: Point) -> Callable[[float], Point]:
    return lambda t: (
        (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
    )


def _quadratic(a: Point, b: Point, c: Point) -> Callable[[float], Point]:
    return lambda t: (1 - t) ** 2 * a + 2 * t * (1 - t) * b + t * t * c


def _commands(data: str, path: Path) -> Iterator[tuple[str, list[float]]]:
    """Split path data into one command with its numbers at a time, repeats unrolled."""
    letter = ""
    numbers: list[float] = []
    for token in [*_TOKEN.finditer(data), None]:
        found = token.group(1) if token else "end"
        if found:
            yield from _unrolled(letter, numbers, path)
            letter, numbers = found, []
            if token and letter.upper() not in _NUMBERS:
                hint = "write arcs as curves" if letter in "Aa" else "see the SVG path commands"
                raise _refuse(path, f"uses the path command {letter}; {hint}")
        elif token and token.group(2):
            numbers.append(float(token.group(2)))
        elif token and token.group(4):
            raise _refuse(path, f"has {token.group(4)!r} in its path data")


def _unrolled(letter: str, numbers: list[float], path: Path) -> Iterator[tuple[str, list[float]]]:
    if not letter:
        if numbers:
            raise _refuse(path, "has a path that does not begin with M")
        return
    count = _NUMBERS[letter.upper()]
    if count == 0:
        yield letter, []
        return
    if not numbers or len(numbers) % count:
        raise _refuse(path, f"has {len(numbers)} numbers after {letter}, not {count} for each")
    for i in range(0, len(numbers), count):
        # Pairs after the first of an M are lines.
        shown = letter if i == 0 or letter not in "Mm" else {"M": "L", "m": "l"}[letter]
        yield shown, numbers[i : i + count]
