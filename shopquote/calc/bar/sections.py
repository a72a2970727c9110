"""Bar sections: round, square, hex, flat, tube, box and angle.

Sizes are `Length`; areas and masses leave as floats in the unit of the name.
Corner radii of hollow and hot-rolled sections are not counted. Begin at
`parse_section`.
"""

import re
from dataclasses import dataclass, field
from functools import cached_property
from math import pi, sqrt
from typing import Literal, get_args

from shopquote.calc.job import BendAxis
from shopquote.calc.units import Length, Unit, parse_length, show_length
from shopquote.errors import InputError, nearest_word

SectionKind = Literal["round", "square", "hex", "flat", "tube", "box", "angle"]

SECTION_KINDS: tuple[SectionKind, ...] = get_args(SectionKind)

# Larger than any bar that is bent by a small shop; keeps areas and sums sane.
LARGEST_SIZE = Length.from_mm(1000)
LONGEST_SECTION_TEXT = 120

_HOW_TYPED: dict[SectionKind, str] = {
    "round": "round D",
    "square": "square D",
    "hex": "hex D",
    "flat": "flat W x T",
    "tube": "tube D x wall",
    "box": "box W x H x wall",
    "angle": "angle A x B x t",
}

EXPECTED_SECTION = "; ".join(_HOW_TYPED.values())

_UNIT_WORD = re.compile(r"(mm|cm|m|inches|inch|in|foot|feet|ft|''|\"|'|″|′|”|’)\.?\s*$", re.IGNORECASE)


@dataclass(frozen=True)
class Section:
    """The cross section of a bar; `text` is kept as typed and not compared.

    Sizes by kind: round, square, hex (across flats): one; flat: width,
    thickness; tube: outside diameter, wall; box: width, height, wall; angle: leg,
    leg, thickness. Flat, box and angle carry the larger size first.
    """

    kind: SectionKind
    sizes: tuple[Length, ...]
    text: str = field(default="", compare=False)

    @cached_property
    def key(self) -> str:
        """Exact name in millimetres, the same for every way of typing one section.

        >>> parse_section('flat 1/4 x 2 in', "mm").key
        'flat 50.8 x 6.35'
        """
        return f"{self.kind} " + " x ".join(_plain_mm(size) for size in self.sizes)

    def name(self, unit: Unit) -> str:
        """The section in the words of a job's unit.

        >>> parse_section("flat 50.8 x 6.35", "mm").name("in")
        'flat 2 x 1/4 in'
        """
        shown = [show_length(size, unit, exact=True) for size in self.sizes]
        if any(not text.endswith(unit) for text in shown):
            shown = [show_length(size, "mm", exact=True) for size in self.sizes]
        word = shown[0].rsplit(" ", 1)[1]
        return f"{self.kind} " + " x ".join(text.rsplit(" ", 1)[0] for text in shown) + f" {word}"

    @cached_property
    def sizes_mm(self) -> tuple[float, ...]:
        """The sizes as float millimetres."""
        return tuple(size.mm_float for size in self.sizes)

    @cached_property
    def area_mm2(self) -> float:
        """Area of metal in the section, mm2."""
        size = self.sizes_mm
        if self.kind == "round":
            return pi / 4 * size[0] ** 2
        if self.kind == "square":
            return size[0] ** 2
        if self.kind == "hex":
            return sqrt(3) / 2 * size[0] ** 2
        if self.kind == "flat":
            return size[0] * size[1]
        if self.kind == "tube":
            return pi * size[1] * (size[0] - size[1])
        if self.kind == "box":
            return size[0] * size[1] - (size[0] - 2 * size[2]) * (size[1] - 2 * size[2])
        return size[2] * (size[0] + size[1] - size[2])

    @cached_property
    def perimeter_mm(self) -> float:
        """Outside perimeter, mm: the surface that is painted, per mm of bar."""
        size = self.sizes_mm
        if self.kind in ("round", "tube"):
            return pi * size[0]
        if self.kind == "square":
            return 4 * size[0]
        if self.kind == "hex":
            return 2 * sqrt(3) * size[0]
        return 2 * (size[0] + size[1])

    @property
    def is_hollow(self) -> bool:
        """Whether the section encloses a space: to be vented before heat or zinc."""
        return self.kind in ("tube", "box")

    @property
    def has_axes(self) -> bool:
        """Whether bending the easy and the hard way differ."""
        return self.kind in ("flat", "box", "angle") and self.sizes[0] != self.sizes[1]

    def depth_mm(self, axis: BendAxis = "easy") -> float:
        """Size in the plane of the bend, mm: the T of every bending formula.

        Easy bends a flat across its thickness, a box or angle across its smaller
        side; hard the other way. A hex bends across its flats.
        """
        size = self.sizes_mm
        if self.kind in ("flat", "box", "angle"):
            return size[1] if axis == "easy" else size[0]
        return size[0]

    def width_mm(self, axis: BendAxis = "easy") -> float:
        """Size across the plane of the bend, mm."""
        size = self.sizes_mm
        if self.kind in ("flat", "box", "angle"):
            return size[0] if axis == "easy" else size[1]
        if self.kind == "hex":
            return 2 / sqrt(3) * size[0]
        return size[0]

    def centroid_mm(self, axis: BendAxis = "easy") -> float:
        """Centroid's distance from the inner face of a bend, mm.

        Half the depth for every section but the angle, which bends with its heel inside.
        """
        if self.kind != "angle":
            return self.depth_mm(axis) / 2
        depth, across, wall = self.depth_mm(axis), self.width_mm(axis), self.sizes_mm[2]
        lying = across * wall
        standing = (depth - wall) * wall
        return (lying * wall / 2 + standing * (wall + depth) / 2) / (lying + standing)

    def mass_per_m(self, density_kg_m3: float) -> float:
        """Mass per metre, kg/m.

        >>> round(parse_section("round 12", "mm").mass_per_m(7850), 3)
        0.888
        """
        return self.area_mm2 * 1e-6 * density_kg_m3


def parse_section(text: str, unit: Unit) -> Section:
    """Read a section as typed; bare numbers are in `unit`.

    A unit behind the last size only is the unit of all sizes, as on drawings:
    "flat 50 x 6 mm".

    Raises:
        InputError: an unknown word, a wrong count of sizes, or sizes that enclose
            no metal.
    """
    shown = text if len(text) <= LONGEST_SECTION_TEXT else text[:57] + "..."
    kind, rest = _split_kind(text, shown)
    words = re.split(r"[x×]", rest, flags=re.IGNORECASE)
    wanted = _HOW_TYPED[kind].count(" x ") + 1
    if len(words) != wanted or not all(word.strip() for word in words):
        raise InputError(f"Bar {shown!r} has {_count_of(words)}; expected {_HOW_TYPED[kind]!r}.")
    sizes = [_parse_size(word, unit, shown) for word in _spread_unit(words)]
    if kind in ("flat", "box", "angle") and sizes[0] < sizes[1]:
        sizes[0], sizes[1] = sizes[1], sizes[0]
    _check_walls(kind, sizes, shown)
    return Section(kind, tuple(sizes), text.strip())


def _split_kind(text: str, shown: str) -> tuple[SectionKind, str]:
    if len(text) > LONGEST_SECTION_TEXT:
        raise InputError(f"Bar {shown!r} is longer than {LONGEST_SECTION_TEXT} characters.")
    match = re.match(r"\s*([A-Za-z]+)(.*)", text, re.DOTALL)
    word = match[1].lower() if match else ""
    for kind in SECTION_KINDS:
        if word == kind and match:
            return kind, match[2]
    near = nearest_word(word, SECTION_KINDS) if word else None
    meant = f" Did you mean {near!r}?" if near else ""
    raise InputError(f"Bar {shown!r} is not a section; expected {EXPECTED_SECTION}.{meant}")


def _spread_unit(words: list[str]) -> list[str]:
    last = _UNIT_WORD.search(words[-1])
    if last and not any(_UNIT_WORD.search(word) for word in words[:-1]):
        return [f"{word} {last[1]}" for word in words[:-1]] + words[-1:]
    return words


def _parse_size(word: str, unit: Unit, shown: str) -> Length:
    try:
        size = parse_length(word, unit)
    except InputError as error:
        raise InputError(f"Bar {shown!r}: {error.message}") from None
    if not 0 < size.nm <= LARGEST_SIZE.nm:
        raise InputError(f"Bar {shown!r}: size {word.strip()!r} must be above 0 and at most 1000 mm.")
    return size


def _check_walls(kind: SectionKind, sizes: list[Length], shown: str) -> None:
    smallest = min(sizes[:-1]) if len(sizes) > 1 else sizes[0]
    wall = sizes[-1]
    if kind in ("tube", "box") and 2 * wall.nm >= smallest.nm:
        raise InputError(
            f"Bar {shown!r}: a wall of {_plain_mm(wall)} mm leaves no bore; type a solid bar instead."
        )
    if kind == "angle" and wall.nm >= smallest.nm:
        raise InputError(f"Bar {shown!r}: thickness {_plain_mm(wall)} mm is not below the shorter leg.")


def _count_of(words: list[str]) -> str:
    count = sum(1 for word in words if word.strip())
    return "1 size" if count == 1 else f"{count} sizes"


def _plain_mm(length: Length) -> str:
    number = f"{length.mm:f}"
    return number.rstrip("0").rstrip(".") if "." in number else number
