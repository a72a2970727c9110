"""What the rest of the program asks of a kind of bar, and what entries share. Begin at `SectionKind`."""

from collections.abc import Callable, Mapping
from operator import itemgetter
from typing import Literal

from shopquote.calc.bar.outline import Outline
from shopquote.calc.frozen import dataclass

Sizes = tuple[float, ...]
# "end": what is turned, filed or forged on an end.
Work = Literal["bend", "twist", "taper", "end"]
DrilledThrough = Literal["bar", "wall"]
# Width and depth as it lies, sizes, half depth of the elastic core; gives moment over flow stress, mm3.
ClosedMoment = Callable[[float, float, Sizes, float], float]


@dataclass(frozen=True, kw_only=True)
class SectionKind:
    """One kind of bar.

    word, names: how it is typed, and what else it is called; `typed` its sizes. two_ways: easy and hard
    differ. larger_first: of the first two sizes. step: degrees of roll after which it lies alike, 0 for
    any. corners: rules of corner radius, the usual one first. thickness: metal that a weld, zinc or a
    yield by thickness sees. drill_depth: metal of one hole; `drilled` says whether through the bar or one
    wall. fault: what is wrong with sizes, or nothing. lies: how it lies in a bend; `bent_warning` is the
    code and text of a problem that every bend of it has. sheet_like: bent the easy way its neutral axis
    moves in as that of sheet does. by_width: its first size may be left to the part's width. skin: surface
    of a millimetre of it where that is not its outline's. cannot: work, and why not. rectangular: its first
    and last size are width and thickness of a solid bar with square corners. folds: notched, folded and
    welded to a sharp corner. toes: may lie with its toes in. presses: an end is pressed flat, cold.
    ribs: a twist shows on it though it is round.
    standard, condition: of bar as usually bought. words: its name by language.
    """

    word: str
    typed: str
    names: tuple[str, ...]
    outline: Callable[[Sizes, str], Outline]
    thickness: Callable[[Sizes], float]
    drill_depth: Callable[[Sizes], float]
    drilled: DrilledThrough
    lies: str
    cannot: Mapping[Work, str]
    standard: str
    condition: str
    words: Mapping[str, str]
    two_ways: bool = False
    larger_first: bool = False
    hollow: bool = False
    step: float = 90.0
    fault: Callable[[Sizes], str] = lambda _: ""
    corners: tuple[str, ...] = ()
    bent_warning: tuple[str, str] | None = None
    moment: ClosedMoment | None = None
    sheet_like: bool = False
    by_width: bool = False
    rectangular: bool = False
    folds: bool = False
    toes: bool = False
    presses: bool = False
    ribs: bool = False
    skin: Callable[[Sizes], float] | None = None

    @property
    def count(self) -> int:
        """How many sizes it has."""
        return self.typed.count(" x ") + 1

    @property
    def is_round(self) -> bool:
        """Whether it is alike at any roll: a solid round, a tube."""
        return self.step == 0


first: Callable[[Sizes], float] = itemgetter(0)
second: Callable[[Sizes], float] = itemgetter(1)
third: Callable[[Sizes], float] = itemgetter(2)
last: Callable[[Sizes], float] = itemgetter(-1)


def not_solid(name: str) -> dict[Work, str]:
    """What is forged, filed or turned of a solid bar alone."""
    return {
        "taper": f"{name} cannot be forged to a taper; use a solid bar",
        "end": f"{name} has no solid end for that",
    }
