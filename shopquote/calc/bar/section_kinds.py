"""The kinds of bar: one entry each, with all that the rest of the program asks of a kind.

A kind says how it is typed, its outline, its wall, how deep a hole goes, how it lies in a bend, what
cannot be done with it, its words and its product standard. Area, perimeter, centroid, moments, reach and
hole volumes follow from the outline, so that a new kind is an entry here with, where its form is new, its
outline and what can be wrong with its sizes above it. Sizes are float mm; outlines lie the easy way, inner
face at y = 0. Begin at `KINDS`.
"""

from collections.abc import Callable, Mapping
from math import atan2, floor, pi, sqrt
from operator import itemgetter
from typing import Literal

from shopquote.calc.bar.outline import Edge, Outline, circle, corner_radii, rectangle, root_radius, rounded
from shopquote.calc.bar.plastic import rectangle_moment, round_moment
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


_first: Callable[[Sizes], float] = itemgetter(0)
_second: Callable[[Sizes], float] = itemgetter(1)
_third: Callable[[Sizes], float] = itemgetter(2)
_last: Callable[[Sizes], float] = itemgetter(-1)


def _walls(sizes: Sizes) -> float:
    return 2 * sizes[-1]


def _not_solid(name: str) -> dict[Work, str]:
    """What is forged, filed or turned of a solid bar alone."""
    return {
        "taper": f"{name} cannot be forged to a taper; use a solid bar",
        "end": f"{name} has no solid end for that",
    }


def _round_bar(sizes: Sizes, _corners: str) -> Outline:
    """A circle of the diameter."""
    return Outline(circle(sizes[0] / 2, (0.0, sizes[0] / 2)))


def _moment_of_round(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    """Bending moment over flow stress of a solid round, mm3."""
    return round_moment(sizes[0] / 2, elastic)


_ROUND = SectionKind(
    word="round", typed="round D", names=("rd", "rod", "ø", "⌀", "dia", "wire"), outline=_round_bar,
    thickness=_first, drill_depth=_first, drilled="bar", step=0.0,
    lies="alike whichever way it is turned", cannot={}, moment=_moment_of_round,
    standard="EN 10060", condition="hot rolled", words={"de": "rund", "fr": "rond", "es": "redondo"},
)  # fmt: skip


def _moment_of_rectangle(width: float, depth: float, _sizes: Sizes, elastic: float) -> float:
    """The same of a square or flat, as it lies."""
    return rectangle_moment(width, depth / 2, elastic)


_SQUARE = SectionKind(
    word="square", typed="square D", names=("sq",),
    outline=lambda sizes, _: Outline(rectangle(sizes[0], sizes[0])), thickness=_first, drill_depth=_first,
    drilled="bar", lies="a face on the former", cannot={}, rectangular=True,
    moment=_moment_of_rectangle, standard="EN 10059", condition="hot rolled",
    words={"de": "vierkant", "fr": "carré", "es": "cuadrado"},
)  # fmt: skip


def _hexagon(sizes: Sizes, _corners: str) -> Outline:
    """Size across flats, which lie in the plane of the bend."""
    side, flats = sizes[0] / sqrt(3), sizes[0]
    half = side / 2
    corners = ((-half, 0.0), (half, 0.0), (side, flats / 2), (half, flats), (-half, flats),
               (-side, flats / 2))  # fmt: skip
    return Outline(rounded(corners, (0.0,) * 6))


_HEX = SectionKind(
    word="hex", typed="hex D", names=("hexagon", "hx"), outline=_hexagon,
    thickness=_first, drill_depth=_first, drilled="bar", step=60.0, lies="a flat on the former", cannot={},
    standard="EN 10061", condition="hot rolled",
    words={"de": "sechskant", "fr": "hexagone", "es": "hexagonal"},
)  # fmt: skip


def _flat(sizes: Sizes, _corners: str) -> Outline:
    """Width, thickness."""
    return Outline(rectangle(sizes[0], sizes[1]))


_FLAT = SectionKind(
    word="flat", typed="flat W x T", names=("fl", "strip"), outline=_flat, two_ways=True,
    sheet_like=True, larger_first=True, rectangular=True, thickness=_second, drill_depth=_second,
    drilled="bar", lies="easy: its wide face on the former; hard: on edge", cannot={},
    moment=_moment_of_rectangle,
    standard="EN 10058", condition="hot rolled", words={"de": "flach", "fr": "plat", "es": "pletina"},
)  # fmt: skip


def _half_round(sizes: Sizes, _corners: str) -> Outline:
    """Width and rise, the flat face on the former."""
    width, rise = sizes
    radius = (width * width / 4 + rise * rise) / (2 * rise)
    centre, half = (0.0, rise - radius), width / 2
    first = atan2(radius - rise, half)
    arc = Edge((half, 0.0), (-half, 0.0), centre, radius, pi - 2 * first)
    return Outline((Edge((-half, 0.0), (half, 0.0)), arc))


def _half_round_fault(sizes: Sizes) -> str:
    """A rise above half the width."""
    if sizes[1] <= sizes[0] / 2 * (1 + 1e-9):
        return ""
    return f"it rises {sizes[1]:g} mm; a half round rises at most half its width, {sizes[0] / 2:g} mm"


_HALF_ROUND = SectionKind(
    word="half-round", typed="half-round W x T", names=("half round", "halfround", "hr"),
    outline=_half_round, two_ways=True, thickness=_second, drill_depth=_second, drilled="bar",
    fault=_half_round_fault, cannot={}, lies="easy: its flat face on the former; hard: on edge",
    bent_warning=(
        "half-round-lies-flat",
        "half round is taken with its flat face on the former; a bend the other way needs a grooved "
        "former and springs differently. Bend a test piece first.",
    ),
    standard="", condition="hot rolled", words={"de": "Halbrund", "fr": "demi-rond", "es": "media caña"},
)  # fmt: skip


def _tube(sizes: Sizes, _corners: str) -> Outline:
    """Outside diameter, wall."""
    middle = (0.0, sizes[0] / 2)
    return Outline(circle(sizes[0] / 2, middle), (circle(sizes[0] / 2 - sizes[1], middle),))


def _bore_fault(sizes: Sizes) -> str:
    """A hollow bar whose wall leaves no bore."""
    if 2 * sizes[-1] >= min(sizes[:-1]):
        return f"a wall of {sizes[-1]:g} mm leaves no bore; type a solid bar instead"
    return ""


_TUBE = SectionKind(
    word="tube", typed="tube D x wall", outline=_tube, hollow=True, step=0.0,
    names=("chs", "round tube", "circular hollow section"),
    thickness=_second, drill_depth=_walls, drilled="bar", fault=_bore_fault,
    lies="alike whichever way it is turned",
    moment=lambda _width, _depth, sizes, elastic: (
        round_moment(sizes[0] / 2, elastic) - round_moment(sizes[0] / 2 - sizes[1], elastic)
    ),
    cannot=_not_solid("a tube"),
    presses=True,
    standard="EN 10219-2", condition="cold formed", words={"de": "Rohr", "fr": "tube", "es": "tubo"},
)  # fmt: skip


def _box(sizes: Sizes, corners: str) -> Outline:
    """Width, depth, wall; corners by their rule."""
    width, depth, wall = sizes
    outer, inner = corner_radii(corners, wall)
    bore = min(width, depth) - 2 * wall
    return Outline(
        rectangle(width, depth, min(outer, min(width, depth) / 2)),
        (rectangle(width, depth, min(inner, bore / 2), wall),),
    )


_BOX = SectionKind(
    word="box", typed="box W x H x wall", outline=_box, hollow=True,
    names=(
        "shs", "rhs", "square tube", "sq tube", "rectangular tube", "rect tube", "square hollow section",
        "rectangular hollow section",
    ),
    two_ways=True, larger_first=True, thickness=_third, drill_depth=_walls, drilled="bar",
    fault=_bore_fault, corners=("EN 10219", "EN 10210", "A500", "sharp"),
    lies="easy: its wider side on the former",
    cannot=_not_solid("a box"),
    standard="EN 10219-2", condition="cold formed",
    words={"de": "Hohlprofil", "fr": "profil creux", "es": "perfil hueco"},
)  # fmt: skip


def _angle(sizes: Sizes, corners: str) -> Outline:
    """Two legs and their thickness. Heel inside: one leg lies on the former, the other stands outward."""
    width, depth, wall = sizes
    root = 0.0 if corners == "sharp" else min(root_radius((width, depth)), depth - wall)
    toe = min(root / 2, wall)
    points = ((0.0, 0.0), (width, 0.0), (width, wall), (wall, wall), (wall, depth), (0.0, depth))
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, 0.0)))


_ANGLE = SectionKind(
    word="angle", typed="angle A x B x t", names=("l", "ea", "ua"), outline=_angle, two_ways=True,
    larger_first=True, thickness=_third, drill_depth=_third, drilled="wall",
    fault=lambda sizes: (
        "" if sizes[2] < min(sizes[:2]) else f"thickness {sizes[2]:g} mm is not below the shorter leg"
    ),
    corners=("EN 10056-1", "sharp"), lies="heel inside: one leg on the former, the other standing outward",
    cannot=_not_solid("an angle"), folds=True, toes=True,
    bent_warning=(
        "angle-buckles",
        "bent angle is taken with its heel inside; its standing leg stretches or buckles. "
        "Bend a test piece first, or notch, bend and weld it.",
    ),
    standard="EN 10056-1", condition="hot rolled", words={"de": "Winkel", "fr": "cornière", "es": "ángulo"},
)  # fmt: skip

_RIBBED = SectionKind(
    word="ribbed", typed="ribbed D", names=("rebar",), outline=_round_bar, thickness=_first,
    drill_depth=_first, drilled="bar", step=0.0, ribs=True, moment=_moment_of_round, cannot={},
    lies="alike whichever way it is turned; its ribs are not counted",
    standard="EN 10080", condition="ribbed, hot rolled",
    words={"de": "Betonstahl", "fr": "barre nervurée", "es": "corrugado"},
)  # fmt: skip


def _tee(sizes: Sizes, corners: str) -> Outline:
    """Width, height, thickness; the table on the former."""
    width, height, thick = sizes
    root = 0.0 if corners == "sharp" else thick
    side, stem, toe = width / 2, thick / 2, root / 4
    points = ((-side, 0.0), (side, 0.0), (side, thick), (stem, thick), (stem, height), (-stem, height),
              (-stem, thick), (-side, thick))  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, toe, root, toe)))


def _tee_fault(sizes: Sizes) -> str:
    """A tee that is nearly solid."""
    width, height, thick = sizes
    return "" if 3 * thick < min(width, height) else f"a tee is more than 3 x {thick:g} mm wide and high"


_TEE = SectionKind(
    word="tee", typed="tee W x H x t", names=("t",), outline=_tee, two_ways=True,
    thickness=_third, drill_depth=_third, drilled="wall", fault=_tee_fault,
    corners=("EN 10055", "sharp"), lies="easy: its flange on the former, the stem outward",
    cannot=_not_solid("a tee"), toes=True,
    bent_warning=(
        "tee-buckles",
        "bent tee is taken with its flange inside; its stem stretches or buckles. Bend a test piece "
        "first, or have it rolled.",
    ),
    standard="EN 10055", condition="hot rolled",
    words={"de": "T-Profil", "fr": "profilé T", "es": "perfil T"},
)  # fmt: skip

_SHEET = SectionKind(
    word="sheet", typed="sheet W x T", names=("plate", "pl"), outline=_flat, two_ways=True,
    sheet_like=True, by_width=True, rectangular=True, thickness=_second, drill_depth=_second, drilled="bar",
    lies="easy: its face on the former; hard: on edge", moment=_moment_of_rectangle,
    cannot={"taper": "a piece of sheet is not forged to a taper; use a flat bar"},
    standard="EN 10051", condition="strip cut from a whole sheet",
    words={"de": "Blech", "fr": "tôle", "es": "chapa"},
)  # fmt: skip


def _mesh_wires(sizes: Sizes) -> float:
    """Metres of wire in a metre of mesh: those along it, and those across by their pitch."""
    width, along, across, _ = sizes
    return (floor(width / along + 1e-9) + 1) + width / across


def _mesh(sizes: Sizes, _corners: str) -> Outline:
    """Width, two pitches, wire."""
    # As thick as all its metal rolled even: area and mass are right, its depth is not a wire's.
    return Outline(rectangle(sizes[0], _mesh_wires(sizes) * pi / 4 * sizes[3] ** 2 / sizes[0]))


def _mesh_fault(sizes: Sizes) -> str:
    """Wires that leave no opening, or mesh of less than one pitch."""
    width, along, across, wire = sizes
    if wire >= min(along, across):
        return f"a wire of {wire:g} mm leaves no opening in a pitch of {min(along, across):g} mm"
    return "" if width >= along else f"a width of {width:g} mm is less than one pitch"


_MESH = SectionKind(
    word="mesh", typed="mesh W x A x B x D", names=(), outline=_mesh, two_ways=True, by_width=True,
    thickness=_last, drill_depth=_last, drilled="wall", fault=_mesh_fault,
    skin=lambda sizes: _mesh_wires(sizes) * pi * sizes[3], lies="flat; it is not bent",
    cannot=_not_solid("a mesh panel")
    | {
        "bend": "a mesh panel is for flat pieces only; bend its frame and weld the mesh in",
        "twist": "a mesh panel is for flat pieces only: it cannot be twisted",
    },
    standard="EN 10223-4", condition="welded mesh", words={"de": "Gitter", "fr": "treillis", "es": "malla"},
)  # fmt: skip


# A rolled channel's root radius over its flange: common practice, no source; areas of EN 10365 channels
# of public section libraries come out within 2 %.
_CHANNEL_ROOT = 1.2


def _channel(sizes: Sizes, corners: str) -> Outline:
    """Height, width, web, flange; the web on the former."""
    height, width, web, flange = sizes
    root = 0.0 if corners == "sharp" else min(_CHANNEL_ROOT * flange, width - web, height / 2 - flange)
    side, inner = height / 2, height / 2 - flange
    points = ((-side, 0.0), (side, 0.0), (side, width), (inner, width), (inner, web), (-inner, web),
              (-inner, width), (-side, width))  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, 0.0, 0.0, root, root, 0.0, 0.0)))


def _channel_fault(sizes: Sizes) -> str:
    """Flanges or a web that leave nothing of the other."""
    height, width, web, flange = sizes
    if web >= width:
        return f"a web of {web:g} mm is not below the width of the flanges, {width:g} mm"
    return "" if 2 * flange < height else f"two flanges of {flange:g} mm leave no web in {height:g} mm"


_CHANNEL = SectionKind(
    word="channel", typed="channel H x B x web x flange", names=("pfc", "upe"), outline=_channel,
    two_ways=True, thickness=lambda sizes: min(sizes[2:]), drill_depth=_third, drilled="wall",
    fault=_channel_fault, corners=("EN 10365", "sharp"), lies="its web on the former; it is not bent",
    cannot=_not_solid("a channel")
    | {
        "bend": "a channel is for straight pieces only: its flanges buckle or tear in a bend on a "
        "former; cut and weld it, or have it rolled outside",
        "twist": "a channel is for straight pieces only: twisted, its flanges buckle",
    },
    standard="EN 10365", condition="hot rolled",
    words={"de": "U-Profil", "fr": "profilé U", "es": "perfil U"},
)  # fmt: skip


KINDS: dict[str, SectionKind] = {
    kind.word: kind
    for kind in (
        _ROUND, _SQUARE, _HEX, _FLAT, _HALF_ROUND, _TUBE, _BOX, _ANGLE, _RIBBED,
        _TEE, _SHEET, _MESH, _CHANNEL,
    )
}  # fmt: skip
