"""The cross-section of a bar, read from its text; the kinds are in `section_kinds`.

Sizes are `Length`; areas and the like are floats in the unit of their name. Begin at `parse_section`.
"""

import re
from collections.abc import Sequence
from dataclasses import field, replace
from functools import cached_property, lru_cache

from shopquote.calc.bar.outline import Outline, Point, profile_of
from shopquote.calc.bar.pipes import pipe_sizes
from shopquote.calc.bar.plastic import integrate
from shopquote.calc.bar.section_kind import SectionKind, Work
from shopquote.calc.bar.section_kinds import KINDS
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis
from shopquote.calc.units import Length, Unit, parse_length, show_length, spread_unit
from shopquote.errors import InputError, counted, nearest_word

SECTION_KINDS: tuple[str, ...] = tuple(KINDS)

# Greatest size of a bar: larger than any that a small shop bends.
LARGEST_SIZE = Length.from_mm(1000)
WIDEST = Length.from_mm(3000)  # of a piece of sheet or mesh
LONGEST_SECTION_TEXT = 120

EXPECTED_SECTION = "; ".join([*(kind.typed for kind in KINDS.values()), "pipe 25 medium"])

# Word of the kind by every name of it.
_NAMES = {name: kind.word for kind in KINDS.values() for name in (kind.word, *kind.names)}
_DIAMETER = re.compile(r"\s*(?:[øØ⌀]|dia\.?(?=[ \d]))")  # "round Ø12", "tube Ø 25 x 2"
# Sizes before the name: "12 mm round", "40 x 6 flat bar". Longest names first, so that "half round" is not
# read as "round".
_NAME_BEHIND = re.compile(
    r"\s*(\d.*?)[\s-]*(?<![^\W\d_])("
    + "|".join(re.escape(name).replace(r"\ ", r"\s+") for name in sorted(_NAMES, key=len, reverse=True))
    + r")(?:\s+bars?)?\s*",
    re.DOTALL | re.IGNORECASE,
)
# The name before the sizes; longest first, so that "square tube" is not read as "square".
_NAME_BEFORE = re.compile(
    r"\s*("
    + "|".join(
        re.escape(name).replace(r"\ ", r"[\s-]+")
        for name in sorted(_NAMES, key=len, reverse=True)
        if " " in name
    )
    + r"|[^\W\d_]+(?:-[^\W\d_]+)?|ø|⌀)(?![^\W\d_])(?:\s+bars?\b)?(.*)",
    re.DOTALL | re.IGNORECASE,
)  # fmt: skip
# Names after which one size may stand for both sides: SHS 40 x 3, L 50 x 5.
_BOTH_SIDES = {"shs", "l", "ea", "square tube", "sq tube", "square hollow section"}
_CORNERS = sorted({rule for kind in KINDS.values() for rule in kind.corners}, key=len, reverse=True)


@dataclass(frozen=True)
class Section:
    """The cross-section of a bar; `text` is as typed and is not compared.

    Sizes are in the kind's order, with the larger of the first two first where the kind says so. `corners` is
    the rule of its corner radii, "" for the kind's usual one. `toes_in`: bent with the toes of an angle, or
    the stem of a tee, inside; it is the same bar to buy.
    """

    kind: str
    sizes: tuple[Length, ...]
    text: str = field(default="", compare=False)
    corners: str = ""
    toes_in: bool = False

    @cached_property
    def form(self) -> SectionKind:
        """The entry of its kind.

        Raises:
            InputError: the kind is unknown, as in a database from a newer program.
        """
        if self.kind not in KINDS:
            raise InputError(f"{self.kind!r} is not a kind of bar; expected one of {', '.join(KINDS)}.")
        return KINDS[self.kind]

    @property
    def needs_width(self) -> bool:
        """Whether it is sheet or mesh without a width, which the part must give."""
        return len(self.sizes) < self.form.count

    @cached_property
    def key(self) -> str:
        """Exact name in millimetres, the same however the section was typed.

        >>> parse_section('flat 1/4 x 2 in', "mm").key
        'flat 50.8 x 6.35'
        """
        sizes = " x ".join(_plain_mm(size) for size in self.sizes)
        return f"{self.kind} {sizes} {self.corners}".rstrip()

    @property
    def words(self) -> str:
        """The text as typed; its exact name where it was not typed."""
        return self.text or self.key

    def name(self, unit: Unit) -> str:
        """The section's name with sizes in a unit.

        >>> parse_section("flat 50.8 x 6.35", "mm").name("in")
        'flat 2 x 1/4 in'
        """
        shown = [show_length(size, unit, exact=True) for size in self.sizes]
        if any(not text.endswith(unit) for text in shown):
            shown = [show_length(size, "mm", exact=True) for size in self.sizes]
        word = shown[0].rsplit(" ", 1)[1]
        sizes = " x ".join(text.rsplit(" ", 1)[0] for text in shown)
        return f"{self.kind} {sizes} {word} {self.corners}".rstrip()

    @cached_property
    def sizes_mm(self) -> tuple[float, ...]:
        """The sizes as float millimetres."""
        return tuple(size.mm_float for size in self.sizes)

    @cached_property
    def _outlines(self) -> dict[BendAxis, Outline]:
        usual = self.form.corners[0] if self.form.corners else ""
        easy = self.form.outline(self.sizes_mm, self.corners or usual)
        hard = easy.turned_over() if self.form.two_ways else easy
        if self.toes_in:
            return {"easy": easy.upside_down(), "hard": hard.upside_down()}
        return {"easy": easy, "hard": hard}

    @cached_property
    def _limits(self) -> dict[BendAxis, tuple[float, float, float, float]]:
        return {axis: outline.limits() for axis, outline in self._outlines.items()}

    @cached_property
    def _origins(self) -> dict[BendAxis, Point]:
        return {axis: self._origin(axis) for axis in self._outlines}

    def _origin(self, axis: BendAxis) -> Point:
        """Centroid of the outline; exactly in the middle of symmetric ones, without rounding errors."""
        outline, (left, right, low, high) = self._outlines[axis], self._limits[axis]
        outward = integrate(profile_of(outline, (0.0, 0.0)), lambda y: y) / outline.area
        across = integrate(profile_of(outline, (0.0, 0.0), -90.0), lambda y: -y) / outline.area
        return (
            _snapped(across, (left + right) / 2, right - left),
            _snapped(outward, (low + high) / 2, high - low),
        )

    def outline(self, axis: BendAxis = "easy") -> Outline:
        """Its outline as it lies in a bend, with the inner face at y = 0."""
        return self._outlines[axis]

    def origin(self, axis: BendAxis = "easy") -> Point:
        """Centroid in mm in the coordinates of `outline`."""
        return self._origins[axis]

    @cached_property
    def area_mm2(self) -> float:
        """Area of metal in mm2."""
        return self._outlines["easy"].area

    @cached_property
    def perimeter_mm(self) -> float:
        """Outside perimeter in mm, which is the painted surface per mm of bar."""
        return self.form.skin(self.sizes_mm) if self.form.skin else self._outlines["easy"].perimeter

    @property
    def is_hollow(self) -> bool:
        """Whether the section encloses a space: to be vented before heat or zinc."""
        return self.form.hollow

    @cached_property
    def has_axes(self) -> bool:
        """Whether bending the easy and the hard way differ."""
        if not self.form.two_ways:
            return False
        ways: tuple[BendAxis, BendAxis] = ("easy", "hard")
        easy, hard = ((self.depth_mm(way), round(self.centroid_mm(way), 9)) for way in ways)
        return easy != hard

    @cached_property
    def thickness_mm(self) -> float:
        """Thickness in mm that counts for welds and zinc: a wall, or the smaller size of a solid bar."""
        return self.form.thickness(self.sizes_mm)

    @property
    def height_mm(self) -> float:
        """The larger of its sizes in both planes of bending in mm, across which a mitre is sawn."""
        return max(self.depth_mm("easy"), self.depth_mm("hard"))

    def depth_mm(self, axis: BendAxis = "easy") -> float:
        """Size in mm in the plane of the bend, the T of bending formulas.

        Easy bends a flat across its thickness, a box or angle across its smaller side; hard the other way. A
        hex bends across its flats.
        """
        _, _, low, high = self._limits[axis]
        return high - low

    def width_mm(self, axis: BendAxis = "easy") -> float:
        """Size in mm across the plane of the bend."""
        left, right, _, _ = self._limits[axis]
        return right - left

    def centroid_mm(self, axis: BendAxis = "easy") -> float:
        """Distance in mm of the centroid from the inner face of a bend."""
        return self._origins[axis][1] - self._limits[axis][2]

    @cached_property
    def lopsided(self) -> bool:
        """Whether its centroid is not halfway, so that it bends differently with its other face inside."""
        return any(
            abs(2 * self.centroid_mm(axis) - self.depth_mm(axis)) > 1e-9 * self.depth_mm(axis)
            for axis in self._outlines
        )

    @cached_property
    def turned_over(self) -> "Section":
        """The same bar lying with its other face inside the bend."""
        return replace(self, toes_in=not self.toes_in)

    def rolled(self, turn: float) -> float:
        """How far a turn of the bending plane rolls the section against it: the other way round.

        An outline with its toes inside is the mirror of the usual one, and so is its way round; of bar whose
        faces are alike neither is told apart.
        """
        return -turn if self.lopsided and not self.toes_in else turn

    def half_turn(self, roll: float) -> float:
        """A roll in degrees without rounding noise, below 180, or below 360 where its faces differ."""
        whole = 360.0 if self.lopsided else 180.0
        return round(roll % whole, 9) % whole

    def cannot(self, work: Work) -> str:
        """Why some work cannot be done with the section; "" where it can."""
        return self.form.cannot.get(work, "")

    def mass_per_m(self, density_kg_m3: float) -> float:
        """Mass per metre in kg/m.

        >>> round(parse_section("round 12", "mm").mass_per_m(7850), 3)
        0.888
        """
        return self.area_mm2 * 1e-6 * density_kg_m3


def _snapped(value: float, middle: float, size: float) -> float:
    return middle if abs(value - middle) <= 1e-11 * size else value


# Many parts of a job are of few bars, and each bar works its outline out once.
@lru_cache(maxsize=256)
def parse_section(text: str, unit: Unit, width: Length | None = None) -> Section:
    """Read a section as typed; bare numbers are in `unit`. `width` is that of a piece of sheet or mesh.

    Pipe by its nominal size is read as a tube. Sheet or mesh without a width in text or argument has one size
    less; see `needs_width`.

    A unit behind the last size only is the unit of all sizes, as on drawings:
    "flat 50 x 6 mm". A rule of corner radii may follow: "box 60 x 40 x 4 EN 10210".

    Raises:
        InputError: an unknown word, a wrong count of sizes, or sizes that enclose no metal.

    >>> parse_section("SHS 40 x 3", "mm").key, parse_section("Rd12", "mm").key
    ('box 40 x 40 x 3', 'round 12')
    >>> parse_section("12 mm round", "mm").key, parse_section('2 x 1/4 in flat bar', "mm").key
    ('round 12', 'flat 50.8 x 6.35')
    """
    shown = text if len(text) <= LONGEST_SECTION_TEXT else text[:57] + "..."
    if match := re.match(r"\s*pipe\b(.*)", text, re.DOTALL | re.IGNORECASE):
        sizes_of_pipe = tuple(Length.from_mm(str(size)) for size in pipe_sizes(match[1]))
        return Section("tube", sizes_of_pipe, text.strip())
    name, rest = _split_name(text, shown)
    kind = KINDS[_NAMES[name]]
    rest, corners = _split_corners(rest, kind)
    words = _size_words(rest, name, kind, shown)
    most = WIDEST if kind.by_width else LARGEST_SIZE
    sizes = [_parse_size(word, unit, shown, most) for word in spread_unit(words)]
    if len(sizes) < kind.count:
        if width is None:
            return Section(kind.word, tuple(sizes), text.strip(), corners)
        if not 0 < width.nm <= WIDEST.nm:
            raise InputError(f"Bar {shown!r}: its width must be above 0 and at most {WIDEST.mm_float:g} mm.")
        sizes.insert(0, width)
    if kind.larger_first and sizes[0] < sizes[1]:
        sizes[0], sizes[1] = sizes[1], sizes[0]
    if fault := kind.fault(tuple(size.mm_float for size in sizes)):
        raise InputError(f"Bar {shown!r}: {fault}.")
    return Section(kind.word, tuple(sizes), text.strip(), corners)


def _size_words(rest: str, name: str, kind: SectionKind, shown: str) -> list[str]:
    """The texts of the sizes; one less than the kind has where the width may be given separately.

    Raises:
        InputError: another number of sizes.
    """
    if kind.word in ("round", "tube", "ribbed"):
        rest = _DIAMETER.sub("", rest)
    words = re.split(r"[x×]", rest, flags=re.IGNORECASE)
    if name in _BOTH_SIDES and len(words) == kind.count - 1:
        words = [words[0], *words]
    counts = (kind.count - 1, kind.count) if kind.by_width else (kind.count,)
    if len(words) not in counts or not all(word.strip() for word in words):
        meant = (
            f"; a rectangular tube is {KINDS['box'].typed!r}"
            if kind.word == "tube" and len(words) == 3
            else ""
        )
        raise InputError(f"Bar {shown!r} has {_count_of(words)}; expected {kind.typed!r}{meant}.")
    return words


def kind_meant(word: str) -> str | None:
    """The kind of bar whose name in another language a word begins with, or None.

    >>> kind_meant("Vierkantstahl"), kind_meant("Vierkantrohr"), kind_meant("Rundrohr"), kind_meant("bar")
    ('square', 'box', 'tube', None)
    """
    folded = word.casefold()
    said = {told.casefold(): kind.word for kind in KINDS.values() for told in kind.words.values()}
    said |= dict.fromkeys(("vierkantrohr", "quadratrohr", "rechteckrohr"), "box") | {"rundrohr": "tube"}
    return next((said[told] for told in sorted(said, key=len, reverse=True) if folded.startswith(told)), None)


def _split_name(text: str, shown: str) -> tuple[str, str]:
    if len(text) > LONGEST_SECTION_TEXT:
        raise InputError(f"Bar {shown!r} is longer than {LONGEST_SECTION_TEXT} characters.")
    match = _NAME_BEFORE.match(text)
    word = " ".join(match[1].lower().split()) if match else ""
    if word not in _NAMES:
        word = word.replace("-", " ")
    if match and word in _NAMES:
        return word, match[2]
    if found := _NAME_BEHIND.fullmatch(text):
        return " ".join(found[2].lower().split()), found[1]
    near = kind_meant(word) or (nearest_word(word, [*SECTION_KINDS, *_NAMES, "pipe"]) if word else None)
    meant = f" Did you mean {near!r}?" if near else ""
    raise InputError(f"Bar {shown!r} is not a section; expected {EXPECTED_SECTION}.{meant}")


def _split_corners(rest: str, kind: SectionKind) -> tuple[str, str]:
    """The text of the sizes, and the rule of corner radii behind them, "" for the usual one."""
    folded = rest.casefold().replace(" ", "")
    for rule in _CORNERS:
        ending = rule.casefold().replace(" ", "")
        if rule in kind.corners and folded.endswith(ending):
            head = re.sub(r"(?:astm)?\s*$", "", _without_end(rest, ending), flags=re.IGNORECASE)
            return head, "" if rule == kind.corners[0] else rule
    return rest, ""


def _without_end(text: str, ending: str) -> str:
    """A text without an ending, whose letters may be separated by spaces."""
    left = len(ending)
    while left:
        left -= text[-1] != " "
        text = text[:-1]
    return text


def _parse_size(word: str, unit: Unit, shown: str, most: Length) -> Length:
    try:
        size = parse_length(word, unit)
    except InputError as error:
        raise InputError(f"Bar {shown!r}: {error.message}") from None
    if not 0 < size.nm <= most.nm:
        limit = f"{most.mm_float:g} mm"
        raise InputError(f"Bar {shown!r}: size {word.strip()!r} must be above 0 and at most {limit}.")
    return size


def _count_of(words: Sequence[str]) -> str:
    return counted(sum(1 for word in words if word.strip()), "size")


def _plain_mm(length: Length) -> str:
    number = f"{length.mm:f}"
    return number.rstrip("0").rstrip(".") if "." in number else number
