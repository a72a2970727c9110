"""The kinds of bar: one entry each, with all that the rest of the program asks of a kind.

A kind says how it is typed, its outline, its wall, how deep a hole goes, how it lies in a bend, what
cannot be done with it, its words and its product standard. Area, perimeter, centroid, moments, reach and
hole volumes follow from the outline, so that a new kind is an entry here and nothing else. Sizes are
float mm; outlines lie the easy way, inner face at y = 0. Begin at `KINDS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import atan2, floor, pi, sqrt
from typing import Literal

from shopquote.calc.bar.outline import Edge, Outline, circle, rectangle, rounded
from shopquote.calc.bar.plastic import rectangle_moment, round_moment

Sizes = tuple[float, ...]
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
    fault: Callable[[Sizes], str]
    lies: str
    cannot: Mapping[Work, str]
    standard: str
    condition: str
    words: Mapping[str, str]
    two_ways: bool = False
    larger_first: bool = False
    hollow: bool = False
    step: float = 90.0
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


def corner_radii(rule: str, wall: float) -> tuple[float, float]:
    """Outer and inner corner radius of a hollow section, mm, by its product standard.

    Sources: EN 10219-2 (outer 2T to 6 mm, 2.5T to 10, 3T above; inner the outer less T) by a mill's
    table; EN 10210-2 (1.5T, 1T) from memory; A500 (2T, T), the Canadian institute of steel construction's
    handbook as told on its page on corner radii.
    """
    if rule == "sharp":
        return 0.0, 0.0
    if rule == "EN 10210":
        return 1.5 * wall, wall
    if rule == "A500":
        return 2 * wall, wall
    outer = (2.0 if wall <= 6 else 2.5 if wall <= 10 else 3.0) * wall
    return outer, outer - wall


# Root radius of equal and unequal angles by the mean leg, mm: EN 10056-1, from memory; masses agree.
_ROOTS = (
    (20, 3.5), (25, 3.5), (30, 5), (35, 5), (40, 6), (45, 7), (50, 7), (60, 8), (65, 9), (70, 9), (75, 9),
    (80, 10), (90, 11), (100, 12), (120, 13), (130, 14), (150, 16), (180, 18), (200, 18),
)  # fmt: skip
# A smaller angle keeps the proportion of the smallest in the standard.
_ROOT_SHARE = _ROOTS[0][1] / _ROOTS[0][0]


def root_radius(legs: tuple[float, float]) -> float:
    """Root radius of a hot-rolled angle, mm; unequal ones by the mean leg. The toes have half of it.

    >>> root_radius((50, 50)), root_radius((60, 40))
    (7, 7)
    """
    mean = sum(legs) / 2
    if mean < _ROOTS[0][0]:
        return _ROOT_SHARE * mean
    return min(_ROOTS, key=lambda row: (abs(row[0] - mean), row[0]))[1]


def _no_fault(_sizes: Sizes) -> str:
    return ""


def _round(sizes: Sizes, _corners: str) -> Outline:
    return Outline(circle(sizes[0] / 2, (0.0, sizes[0] / 2)))


def _tube(sizes: Sizes, _corners: str) -> Outline:
    middle = (0.0, sizes[0] / 2)
    return Outline(circle(sizes[0] / 2, middle), (circle(sizes[0] / 2 - sizes[1], middle),))


def _square(sizes: Sizes, _corners: str) -> Outline:
    return Outline(rectangle(sizes[0], sizes[0]))


def _flat(sizes: Sizes, _corners: str) -> Outline:
    return Outline(rectangle(sizes[0], sizes[1]))


def _hex(sizes: Sizes, _corners: str) -> Outline:
    # Across flats in the plane of the bend.
    side, flats = sizes[0] / sqrt(3), sizes[0]
    half = side / 2
    corners = (
        (-half, 0.0),
        (half, 0.0),
        (side, flats / 2),
        (half, flats),
        (-half, flats),
        (-side, flats / 2),
    )
    return Outline(rounded(corners, (0.0,) * 6))


def _box(sizes: Sizes, corners: str) -> Outline:
    width, depth, wall = sizes
    outer, inner = corner_radii(corners, wall)
    bore = min(width, depth) - 2 * wall
    return Outline(
        rectangle(width, depth, min(outer, min(width, depth) / 2)),
        (rectangle(width, depth, min(inner, bore / 2), wall),),
    )


def _angle(sizes: Sizes, corners: str) -> Outline:
    # Heel inside: one leg lies on the former, the other stands outward.
    width, depth, wall = sizes
    root = 0.0 if corners == "sharp" else min(root_radius((width, depth)), depth - wall)
    toe = min(root / 2, wall)
    points = ((0.0, 0.0), (width, 0.0), (width, wall), (wall, wall), (wall, depth), (0.0, depth))
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, 0.0)))


# A rolled channel's root radius over its flange: common practice, no source; areas of EN 10365 channels
# from memory come out within 2 %.
_CHANNEL_ROOT = 1.2


def _channel(sizes: Sizes, corners: str) -> Outline:
    height, width, web, flange = sizes
    root = 0.0 if corners == "sharp" else min(_CHANNEL_ROOT * flange, width - web, height / 2 - flange)
    side, inner = height / 2, height / 2 - flange
    points = ((-side, 0.0), (side, 0.0), (side, width), (inner, width), (inner, web), (-inner, web),
              (-inner, width), (-side, width))  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, 0.0, 0.0, root, root, 0.0, 0.0)))


def _half_round(sizes: Sizes, _corners: str) -> Outline:
    width, rise = sizes
    radius = (width * width / 4 + rise * rise) / (2 * rise)
    centre, half = (0.0, rise - radius), width / 2
    first = atan2(radius - rise, half)
    arc = Edge((half, 0.0), (-half, 0.0), centre, radius, pi - 2 * first)
    return Outline((Edge((-half, 0.0), (half, 0.0)), arc))


def _bore_fault(sizes: Sizes) -> str:
    if 2 * sizes[-1] >= min(sizes[:-1]):
        return f"a wall of {sizes[-1]:g} mm leaves no bore; type a solid bar instead"
    return ""


def _angle_fault(sizes: Sizes) -> str:
    return "" if sizes[2] < min(sizes[:2]) else f"thickness {sizes[2]:g} mm is not below the shorter leg"


def _channel_fault(sizes: Sizes) -> str:
    height, width, web, flange = sizes
    if web >= width:
        return f"a web of {web:g} mm is not below the width of the flanges, {width:g} mm"
    return "" if 2 * flange < height else f"two flanges of {flange:g} mm leave no web in {height:g} mm"


def _half_round_fault(sizes: Sizes) -> str:
    if sizes[1] <= sizes[0] / 2 * (1 + 1e-9):
        return ""
    return f"it rises {sizes[1]:g} mm; a half round rises at most half its width, {sizes[0] / 2:g} mm"


def _tee(sizes: Sizes, corners: str) -> Outline:
    width, height, thick = sizes
    root = 0.0 if corners == "sharp" else thick
    side, stem, toe = width / 2, thick / 2, root / 4
    points = (
        (-side, 0.0), (side, 0.0), (side, thick), (stem, thick), (stem, height), (-stem, height),
        (-stem, thick), (-side, thick),
    )  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, toe, root, toe)))


def _tee_fault(sizes: Sizes) -> str:
    width, height, thick = sizes
    return "" if 3 * thick < min(width, height) else f"a tee is more than 3 x {thick:g} mm wide and high"


def _mesh_wires(sizes: Sizes) -> float:
    """Metres of wire in a metre of mesh: those along it, and those across by their pitch."""
    width, along, across, _ = sizes
    return (floor(width / along + 1e-9) + 1) + width / across


def _mesh(sizes: Sizes, _corners: str) -> Outline:
    # As thick as all its metal rolled even: area and mass are right, its depth is not a wire's.
    return Outline(rectangle(sizes[0], _mesh_wires(sizes) * pi / 4 * sizes[3] ** 2 / sizes[0]))


def _mesh_fault(sizes: Sizes) -> str:
    width, along, across, wire = sizes
    if wire >= min(along, across):
        return f"a wire of {wire:g} mm leaves no opening in a pitch of {min(along, across):g} mm"
    return "" if width >= along else f"a width of {width:g} mm is less than one pitch"


def _of_round(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    return round_moment(sizes[0] / 2, elastic)


def _of_tube(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    return round_moment(sizes[0] / 2, elastic) - round_moment(sizes[0] / 2 - sizes[1], elastic)


def _of_rectangle(width: float, depth: float, _sizes: Sizes, elastic: float) -> float:
    return rectangle_moment(width, depth / 2, elastic)


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
            word="round", typed="round D", names=("rd", "rod", "ø", "⌀", "dia", "wire"), outline=_round,
            thickness=_first, drill_depth=_first, drilled="bar", fault=_no_fault, step=0.0,
            lies="alike whichever way it is turned", cannot={}, moment=_of_round,
            standard="EN 10060", condition="hot rolled",
            words={"de": "rund", "fr": "rond", "es": "redondo"},
        ),
        SectionKind(
            word="square", typed="square D", names=("sq",), outline=_square,
            thickness=_first, drill_depth=_first, drilled="bar", fault=_no_fault,
            lies="a face on the former", cannot={}, moment=_of_rectangle,
            standard="EN 10059", condition="hot rolled",
            words={"de": "vierkant", "fr": "carré", "es": "cuadrado"},
        ),
        SectionKind(
            word="hex", typed="hex D", names=("hexagon", "hx"), outline=_hex,
            thickness=_first, drill_depth=_first, drilled="bar", fault=_no_fault, step=60.0,
            lies="a flat on the former", cannot={},
            standard="EN 10061", condition="hot rolled",
            words={"de": "sechskant", "fr": "hexagone", "es": "hexagonal"},
        ),
        SectionKind(
            word="flat", typed="flat W x T", names=("fl", "strip"), outline=_flat, two_ways=True,
            sheet_like=True, larger_first=True, thickness=_second, drill_depth=_second, drilled="bar",
            fault=_no_fault,
            lies="easy: its wide face on the former; hard: on edge", cannot={}, moment=_of_rectangle,
            standard="EN 10058", condition="hot rolled",
            words={"de": "flach", "fr": "plat", "es": "pletina"},
        ),
        SectionKind(
            word="half-round", typed="half-round W x T", names=("half round", "halfround", "hr"),
            outline=_half_round, two_ways=True, thickness=_second, drill_depth=_second, drilled="bar",
            fault=_half_round_fault, cannot={},
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
            word="tube", typed="tube D x wall", names=("chs",), outline=_tube, hollow=True, step=0.0,
            thickness=_second, drill_depth=_walls, drilled="bar", fault=_bore_fault,
            lies="alike whichever way it is turned", moment=_of_tube,
            cannot={"taper": "a tube cannot be forged to a taper; use a solid bar"},
            standard="EN 10219-2", condition="cold formed",
            words={"de": "Rohr", "fr": "tube", "es": "tubo"},
        ),
        SectionKind(
            word="box", typed="box W x H x wall", names=("shs", "rhs"), outline=_box, hollow=True,
            two_ways=True, larger_first=True, thickness=_third, drill_depth=_walls, drilled="bar",
            fault=_bore_fault, corners=("EN 10219", "EN 10210", "A500", "sharp"),
            lies="easy: its wider side on the former",
            cannot={"taper": "a box cannot be forged to a taper; use a solid bar"},
            standard="EN 10219-2", condition="cold formed",
            words={"de": "Hohlprofil", "fr": "profil creux", "es": "perfil hueco"},
        ),
        SectionKind(
            word="angle", typed="angle A x B x t", names=("l", "ea", "ua"), outline=_angle, two_ways=True,
            larger_first=True, thickness=_third, drill_depth=_third, drilled="wall", fault=_angle_fault,
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
            word="ribbed", typed="ribbed D", names=("rebar",), outline=_round,
            thickness=_first, drill_depth=_first, drilled="bar", fault=_no_fault, step=0.0,
            lies="alike whichever way it is turned; its ribs are not counted", moment=_of_round,
            cannot={},
            standard="EN 10080", condition="ribbed, hot rolled",
            words={"de": "Betonstahl", "fr": "barre nervurée", "es": "corrugado"},
        ),
        SectionKind(
            word="tee", typed="tee W x H x t", names=("t",), outline=_tee, two_ways=True,
            thickness=_third, drill_depth=_third, drilled="wall", fault=_tee_fault,
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
            word="sheet", typed="sheet W x T", names=("plate", "pl"), outline=_flat, two_ways=True,
            sheet_like=True, by_width=True, thickness=_second, drill_depth=_second, drilled="bar",
            fault=_no_fault, lies="easy: its face on the former; hard: on edge", moment=_of_rectangle,
            cannot={"taper": "a piece of sheet is not forged to a taper; use a flat bar"},
            standard="EN 10051", condition="strip cut from a whole sheet",
            words={"de": "Blech", "fr": "tôle", "es": "chapa"},
        ),
        SectionKind(
            word="mesh", typed="mesh W x A x B x D", names=(), outline=_mesh, two_ways=True, by_width=True,
            thickness=_last, drill_depth=_last, drilled="wall", fault=_mesh_fault,
            skin=lambda sizes: _mesh_wires(sizes) * pi * sizes[3],
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
            word="channel", typed="channel H x B x web x flange", names=("pfc", "upe"), outline=_channel,
            two_ways=True, thickness=lambda sizes: min(sizes[2:]), drill_depth=_third, drilled="wall",
            fault=_channel_fault, corners=("EN 10365", "sharp"),
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
