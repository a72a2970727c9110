"""The kinds of bar: one entry each, with all that the rest of the program asks of a kind.

A kind says how it is typed, its outline, its wall, how deep a hole goes, how it lies in a bend, what
cannot be done with it, its words and its product standard. Area, perimeter, centroid, moments, reach and
hole volumes follow from the outline, so that a new kind is an entry here
and, where its form is new, an outline in `section_outlines`. Sizes are
float mm; outlines lie the easy way, inner face at y = 0. Begin at `KINDS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi
from typing import Literal

from shopquote.calc.bar import section_outlines as outlines
from shopquote.calc.bar.outline import Outline
from shopquote.calc.bar.section_outlines import Sizes

Work = Literal["bend", "twist", "taper"]
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
    of a millimetre of it where that is not its outline's. cannot: work, and why not.
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
    fault: Callable[[Sizes], str] = outlines.no_fault
    corners: tuple[str, ...] = ()
    bent_warning: tuple[str, str] | None = None
    moment: ClosedMoment | None = None
    sheet_like: bool = False
    by_width: bool = False
    skin: Callable[[Sizes], float] | None = None

    @property
    def count(self) -> int:
        """How many sizes it has."""
        return self.typed.count(" x ") + 1


def _first(sizes: Sizes) -> float:
    return sizes[0]


def _second(sizes: Sizes) -> float:
    return sizes[1]


def _third(sizes: Sizes) -> float:
    return sizes[2]


def _walls(sizes: Sizes) -> float:
    return 2 * sizes[-1]


def _last(sizes: Sizes) -> float:
    return sizes[-1]


KINDS: dict[str, SectionKind] = {
    kind.word: kind
    for kind in (
        SectionKind(
            word="round", typed="round D", names=("rd", "rod", "ø", "⌀", "dia", "wire"),
            outline=outlines.round_bar,
            thickness=_first, drill_depth=_first, drilled="bar", step=0.0,
            lies="alike whichever way it is turned", cannot={}, moment=outlines.moment_of_round,
            standard="EN 10060", condition="hot rolled",
            words={"de": "rund", "fr": "rond", "es": "redondo"},
        ),
        SectionKind(
            word="square", typed="square D", names=("sq",), outline=outlines.square,
            thickness=_first, drill_depth=_first, drilled="bar", lies="a face on the former", cannot={},
            moment=outlines.moment_of_rectangle,
            standard="EN 10059", condition="hot rolled",
            words={"de": "vierkant", "fr": "carré", "es": "cuadrado"},
        ),
        SectionKind(
            word="hex", typed="hex D", names=("hexagon", "hx"), outline=outlines.hexagon,
            thickness=_first, drill_depth=_first, drilled="bar", step=60.0,
            lies="a flat on the former", cannot={},
            standard="EN 10061", condition="hot rolled",
            words={"de": "sechskant", "fr": "hexagone", "es": "hexagonal"},
        ),
        SectionKind(
            word="flat", typed="flat W x T", names=("fl", "strip"), outline=outlines.flat, two_ways=True,
            sheet_like=True, larger_first=True, thickness=_second, drill_depth=_second, drilled="bar",
            lies="easy: its wide face on the former; hard: on edge", cannot={},
            moment=outlines.moment_of_rectangle,
            standard="EN 10058", condition="hot rolled",
            words={"de": "flach", "fr": "plat", "es": "pletina"},
        ),
        SectionKind(
            word="half-round", typed="half-round W x T", names=("half round", "halfround", "hr"),
            outline=outlines.half_round, two_ways=True, thickness=_second, drill_depth=_second, drilled="bar",
            fault=outlines.half_round_fault, cannot={},
            lies="easy: its flat face on the former; hard: on edge",
            bent_warning=(
                "half-round-lies-flat",
                "half round is taken with its flat face on the former; a bend the other way needs a grooved "
                "former and springs differently. Bend a test piece first.",
            ),
            standard="", condition="hot rolled",
            words={"de": "Halbrund", "fr": "demi-rond", "es": "media caña"},
        ),
        SectionKind(
            word="tube", typed="tube D x wall", names=("chs",), outline=outlines.tube, hollow=True, step=0.0,
            thickness=_second, drill_depth=_walls, drilled="bar", fault=outlines.bore_fault,
            lies="alike whichever way it is turned", moment=outlines.moment_of_tube,
            cannot={"taper": "a tube cannot be forged to a taper; use a solid bar"},
            standard="EN 10219-2", condition="cold formed",
            words={"de": "Rohr", "fr": "tube", "es": "tubo"},
        ),
        SectionKind(
            word="box", typed="box W x H x wall", names=("shs", "rhs"), outline=outlines.box, hollow=True,
            two_ways=True, larger_first=True, thickness=_third, drill_depth=_walls, drilled="bar",
            fault=outlines.bore_fault, corners=("EN 10219", "EN 10210", "A500", "sharp"),
            lies="easy: its wider side on the former",
            cannot={"taper": "a box cannot be forged to a taper; use a solid bar"},
            standard="EN 10219-2", condition="cold formed",
            words={"de": "Hohlprofil", "fr": "profil creux", "es": "perfil hueco"},
        ),
        SectionKind(
            word="angle", typed="angle A x B x t", names=("l", "ea", "ua"), outline=outlines.angle,
            two_ways=True,
            larger_first=True, thickness=_third, drill_depth=_third, drilled="wall",
            fault=outlines.angle_fault,
            corners=("EN 10056-1", "sharp"),
            lies="heel inside: one leg on the former, the other standing outward",
            cannot={"taper": "an angle cannot be forged to a taper; use a solid bar"},
            bent_warning=(
                "angle-buckles",
                "bent angle is taken with its heel inside; its standing leg stretches or buckles. "
                "Bend a test piece first, or notch, bend and weld it.",
            ),
            standard="EN 10056-1", condition="hot rolled",
            words={"de": "Winkel", "fr": "cornière", "es": "ángulo"},
        ),
        SectionKind(
            word="ribbed", typed="ribbed D", names=("rebar",), outline=outlines.round_bar,
            thickness=_first, drill_depth=_first, drilled="bar", step=0.0,
            lies="alike whichever way it is turned; its ribs are not counted",
            moment=outlines.moment_of_round,
            cannot={},
            standard="EN 10080", condition="ribbed, hot rolled",
            words={"de": "Betonstahl", "fr": "barre nervurée", "es": "corrugado"},
        ),
        SectionKind(
            word="tee", typed="tee W x H x t", names=("t",), outline=outlines.tee, two_ways=True,
            thickness=_third, drill_depth=_third, drilled="wall", fault=outlines.tee_fault,
            corners=("EN 10055", "sharp"), lies="easy: its flange on the former, the stem outward",
            cannot={"taper": "a tee cannot be forged to a taper; use a solid bar"},
            bent_warning=(
                "tee-buckles",
                "bent tee is taken with its flange inside; its stem stretches or buckles. Bend a test piece "
                "first, or have it rolled.",
            ),
            standard="EN 10055", condition="hot rolled",
            words={"de": "T-Profil", "fr": "profilé T", "es": "perfil T"},
        ),
        SectionKind(
            word="sheet", typed="sheet W x T", names=("plate", "pl"), outline=outlines.flat, two_ways=True,
            sheet_like=True, by_width=True, thickness=_second, drill_depth=_second, drilled="bar",
            lies="easy: its face on the former; hard: on edge", moment=outlines.moment_of_rectangle,
            cannot={"taper": "a piece of sheet is not forged to a taper; use a flat bar"},
            standard="EN 10051", condition="strip cut from a whole sheet",
            words={"de": "Blech", "fr": "tôle", "es": "chapa"},
        ),
        SectionKind(
            word="mesh", typed="mesh W x A x B x D", names=(), outline=outlines.mesh, two_ways=True,
            by_width=True,
            thickness=_last, drill_depth=_last, drilled="wall", fault=outlines.mesh_fault,
            skin=lambda sizes: outlines.mesh_wires(sizes) * pi * sizes[3],
            lies="flat; it is not bent",
            cannot={
                "bend": "a mesh panel is for flat pieces only; bend its frame and weld the mesh in",
                "twist": "a mesh panel is for flat pieces only: it cannot be twisted",
                "taper": "a mesh panel cannot be forged to a taper; use a solid bar",
            },
            standard="EN 10223-4", condition="welded mesh",
            words={"de": "Gitter", "fr": "treillis", "es": "malla"},
        ),
        SectionKind(
            word="channel", typed="channel H x B x web x flange", names=("pfc", "upe"),
            outline=outlines.channel,
            two_ways=True, thickness=lambda sizes: min(sizes[2:]), drill_depth=_third, drilled="wall",
            fault=outlines.channel_fault, corners=("EN 10365", "sharp"),
            lies="its web on the former; it is not bent",
            cannot={
                "bend": "a channel is for straight pieces only: its flanges buckle or tear in a bend on a "
                "former; cut and weld it, or have it rolled outside",
                "twist": "a channel is for straight pieces only: twisted, its flanges buckle",
                "taper": "a channel cannot be forged to a taper; use a solid bar",
            },
            standard="EN 10365", condition="hot rolled",
            words={"de": "U-Profil", "fr": "profilé U", "es": "perfil U"},
        ),
    )
}  # fmt: skip
