"""The words of a part's shape, a dataclass for each. Begin at `Word`; `shapes` reads them.

Lengths keep their typed text (`Measure`); angles are signed degrees.
"""

from typing import Literal, get_args

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure

SizeOf = Literal["inside", "centre", "outside"]

SIZES_OF: tuple[SizeOf, ...] = get_args(SizeOf)


@dataclass(frozen=True, slots=True)
class Leg:
    """A straight, measured by the part's `dims` to the bends at its ends."""

    length: Measure


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend: signed angle of bend in degrees, inside radius."""

    angle: float
    radius: Measure


@dataclass(frozen=True, slots=True)
class Arc:
    """A curve of large inside radius made by `hits` small bends, or rolled.

    Without `hits` the number follows from `gap`, the greatest deviation from the true curve, which is the
    shop's usual one where not given.
    """

    angle: float
    radius: Measure
    hits: int | None = None
    gap: Measure | None = None
    rolled: bool = False


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn of the bending plane about the bar, in degrees, for shapes in space."""

    angle: float


@dataclass(frozen=True, slots=True)
class Ring:
    """A closed ring; `of` says to what the diameter is measured. `lap`: overlap of the ends."""

    diameter: Measure
    of: SizeOf = "inside"
    lap: Measure | None = None


@dataclass(frozen=True, slots=True)
class Helix:
    """A coil in space: diameter, advance of one turn, turns.

    `wound`: on a mandrel rather than a bender; `closed`: its first and last turn lie against the next.
    """

    diameter: Measure
    pitch: Measure
    turns: float
    of: SizeOf = "inside"
    wound: bool = False
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Scroll:
    """An Archimedean spiral between two radii; negative turns curl in the opposite sense."""

    start: Measure
    finish: Measure
    turns: float
    of: SizeOf = "centre"


@dataclass(frozen=True, slots=True)
class Volute:
    """A logarithmic spiral, as smiths make; negative turns curl in the opposite sense.

    The radii are from its centre to the bar at both ends.
    """

    start: Measure
    finish: Measure
    turns: float
    of: SizeOf = "centre"


@dataclass(frozen=True, slots=True)
class Twist:
    """A straight twisted about its own axis; turns may be negative (left hand)."""

    turns: float
    length: Measure


@dataclass(frozen=True, slots=True)
class Taper:
    """A forged point at an end: length of the taper and size of its tip (0 is a point)."""

    length: Measure
    tip: Measure


@dataclass(frozen=True, slots=True)
class Eye:
    """An eye rolled on a pin of this diameter at an end; `centred` on the bar's axis, else beside it.

    `back` rolls it to the other side, as a negative angle does.
    """

    diameter: Measure
    centred: bool = False
    back: bool = False


@dataclass(frozen=True, slots=True)
class Hook:
    """A half turn at an end about this inside diameter, and a straight tip beyond it."""

    diameter: Measure
    tip: Measure | None = None
    back: bool = False


@dataclass(frozen=True, slots=True)
class Corner:
    """A sharp corner, forged hot and filled by upsetting: signed angle of bend, degrees."""

    angle: float


@dataclass(frozen=True, slots=True)
class Fold:
    """An angle notched out of one leg, folded by this angle and closed by a weld."""

    angle: float


@dataclass(frozen=True, slots=True)
class Joggle:
    """An offset sideways within `length` along the bar; `radius` is inside, None: the bar's thickness."""

    offset: Measure
    length: Measure
    radius: Measure | None = None
    back: bool = False


@dataclass(frozen=True, slots=True)
class Collar:
    """A collar closed hot round bars of together `width` by `height`; its ends meet on one width."""

    width: Measure
    height: Measure


@dataclass(frozen=True, slots=True)
class Ellipse:
    """A closed ellipse with two diameters, of which `along` is in the direction of the bar at its start."""

    along: Measure
    across: Measure
    of: SizeOf = "inside"


# fmt: off
Word = (
    Leg
    | Bend
    | Arc
    | Turn
    | Ring
    | Helix
    | Scroll
    | Volute
    | Collar
    | Twist
    | Taper
    | Eye
    | Hook
    | Corner
    | Fold
    | Joggle
    | Ellipse
)
# fmt: on
# Words allowed only at an end of the bar or alone, with the message for one between others.
AT_ENDS: tuple[tuple[type, str, str], ...] = (
    (Taper, "taper", "a taper as the first or the last word"),
    (Ring, "ring", "a ring alone or as the first or the last word; a loop on the way is a helix"),
    (Ellipse, "ellipse", "an ellipse alone or as the first or the last word"),
    (Collar, "collar", "a collar alone; it closes on itself"),
    (Eye, "eye", "an eye as the first or the last word; a loop on the way is a helix"),
    (Hook, "hook", "a hook as the first or the last word; on the way write bend 180"),
)
