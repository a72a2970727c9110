"""`SectionKind`: all that the program needs to know of a kind of bar."""

from collections.abc import Callable, Mapping
from operator import itemgetter
from typing import Literal

from shopquote.calc.bar.outline import Outline
from shopquote.calc.frozen import dataclass

Sizes = tuple[float, ...]
# Work that a kind may exclude; "end" is turning, filing and forging of ends.
Work = Literal["bend", "twist", "taper", "end"]
DrilledThrough = Literal["bar", "wall"]
# Arguments: width and depth as it lies, sizes, half depth of the elastic core, all in mm; gives the moment
# over flow stress in mm3.
ClosedMoment = Callable[[float, float, Sizes, float], float]


@dataclass(frozen=True, kw_only=True)
class SectionKind:
    """One kind of bar. Functions take its sizes in mm, in the order typed.

    Attributes:
        word, names: the word by which it is typed, and other names for it.
        typed: syntax of its sizes.
        outline: its outline, given sizes and corner rule.
        thickness: thickness in mm that counts for welds, zinc and yield by thickness.
        drill_depth: metal in mm of one hole; `drilled` says whether it goes through the bar or one wall.
        lies: how it lies in a bend, in words.
        cannot: work that is impossible, with the reason.
        standard, condition: of bar as usually bought.
        words: its name by language.
        two_ways: bending the easy and the hard way differ.
        larger_first: the larger of its first two sizes comes first.
        step: degrees of roll after which it lies the same; 0 for any angle.
        fault: what is wrong with given sizes, "" for nothing.
        corners: rules of its corner radii, the usual one first.
        bent_warning: code and text of a problem that every bend of it has.
        moment: closed form of its elastic-plastic moment, if there is one.
        sheet_like: bent the easy way, its neutral axis moves inwards as that of sheet does.
        by_width: its first size may be given by the part's width.
        rectangular: its first and last sizes are width and thickness of a solid bar with square corners.
        folds: it can be notched, folded and welded to a sharp corner.
        toes: it may lie with its toes inside.
        presses: an end can be pressed flat cold.
        ribs: a twist shows on it although it is round.
        skin: surface in mm2 per mm of bar, where that is not its outline's perimeter.
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
        """Number of its sizes."""
        return self.typed.count(" x ") + 1

    @property
    def is_round(self) -> bool:
        """Whether it is the same at any roll, as a solid round or a tube."""
        return self.step == 0


first: Callable[[Sizes], float] = itemgetter(0)
second: Callable[[Sizes], float] = itemgetter(1)
third: Callable[[Sizes], float] = itemgetter(2)
last: Callable[[Sizes], float] = itemgetter(-1)


def not_solid(name: str) -> dict[Work, str]:
    """Entries of `cannot` for work that only solid bar allows: forging, filing, turning."""
    return {
        "taper": f"{name} cannot be forged to a taper; use a solid bar",
        "end": f"{name} has no solid end for that",
    }
