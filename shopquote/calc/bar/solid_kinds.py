"""The kinds of solid bar, sheet and mesh: for each its outline, then its entry.

Sizes are float mm; outlines lie the easy way, with the inner face at y = 0.
"""

from math import atan2, floor, pi, sqrt

from shopquote.calc.bar.outline import Edge, Outline, circle, rectangle, rounded
from shopquote.calc.bar.plastic import rectangle_moment, round_moment
from shopquote.calc.bar.section_kind import SectionKind, Sizes, first, last, not_solid, second


def _round_bar(sizes: Sizes, _corners: str) -> Outline:
    """A circle of the diameter."""
    return Outline(circle(sizes[0] / 2, (0.0, sizes[0] / 2)))


def _moment_of_round(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    """Bending moment over flow stress in mm3 of a solid round."""
    return round_moment(sizes[0] / 2, elastic)


ROUND = SectionKind(
    word="round", typed="round D", names=("rd", "rod", "ø", "⌀", "dia", "wire"), outline=_round_bar,
    thickness=first, drill_depth=first, drilled="bar", step=0.0,
    lies="alike whichever way it is turned", cannot={}, moment=_moment_of_round,
    standard="EN 10060", condition="hot rolled", words={"de": "rund", "fr": "rond", "es": "redondo"},
)  # fmt: skip


def _moment_of_rectangle(width: float, depth: float, _sizes: Sizes, elastic: float) -> float:
    """Bending moment over flow stress in mm3 of a square or flat as it lies."""
    return rectangle_moment(width, depth / 2, elastic)


SQUARE = SectionKind(
    word="square", typed="square D", names=("sq",),
    outline=lambda sizes, _: Outline(rectangle(sizes[0], sizes[0])), thickness=first, drill_depth=first,
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


HEX = SectionKind(
    word="hex", typed="hex D", names=("hexagon", "hx"), outline=_hexagon,
    thickness=first, drill_depth=first, drilled="bar", step=60.0, lies="a flat on the former", cannot={},
    standard="EN 10061", condition="hot rolled",
    words={"de": "sechskant", "fr": "hexagone", "es": "hexagonal"},
)  # fmt: skip


def _flat(sizes: Sizes, _corners: str) -> Outline:
    """Width, thickness."""
    return Outline(rectangle(sizes[0], sizes[1]))


FLAT = SectionKind(
    word="flat", typed="flat W x T", names=("fl", "strip"), outline=_flat, two_ways=True,
    sheet_like=True, larger_first=True, rectangular=True, thickness=second, drill_depth=second,
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
    """The fault of a rise above half the width; "" for none."""
    if sizes[1] <= sizes[0] / 2 * (1 + 1e-9):
        return ""
    return f"it rises {sizes[1]:g} mm; a half round rises at most half its width, {sizes[0] / 2:g} mm"


HALF_ROUND = SectionKind(
    word="half-round", typed="half-round W x T", names=("half round", "halfround", "hr"),
    outline=_half_round, two_ways=True, thickness=second, drill_depth=second, drilled="bar",
    fault=_half_round_fault, cannot={}, lies="easy: its flat face on the former; hard: on edge",
    bent_warning=(
        "half-round-lies-flat",
        "half round is taken with its flat face on the former; a bend the other way needs a grooved "
        "former and springs differently. Bend a test piece first.",
    ),
    standard="", condition="hot rolled", words={"de": "Halbrund", "fr": "demi-rond", "es": "media caña"},
)  # fmt: skip


RIBBED = SectionKind(
    word="ribbed", typed="ribbed D", names=("rebar",), outline=_round_bar, thickness=first,
    drill_depth=first, drilled="bar", step=0.0, ribs=True, moment=_moment_of_round, cannot={},
    lies="alike whichever way it is turned; its ribs are not counted",
    standard="EN 10080", condition="ribbed, hot rolled",
    words={"de": "Betonstahl", "fr": "barre nervurée", "es": "corrugado"},
)  # fmt: skip


SHEET = SectionKind(
    word="sheet", typed="sheet W x T", names=("plate", "pl"), outline=_flat, two_ways=True,
    sheet_like=True, by_width=True, rectangular=True, thickness=second, drill_depth=second, drilled="bar",
    lies="easy: its face on the former; hard: on edge", moment=_moment_of_rectangle,
    cannot={"taper": "a piece of sheet is not forged to a taper; use a flat bar"},
    standard="EN 10051", condition="strip cut from a whole sheet",
    words={"de": "Blech", "fr": "tôle", "es": "chapa"},
)  # fmt: skip


def _mesh_wires(sizes: Sizes) -> float:
    """Metres of wire per metre of mesh: those along it, and those across by their pitch."""
    width, along, across, _ = sizes
    return (floor(width / along + 1e-9) + 1) + width / across


def _mesh(sizes: Sizes, _corners: str) -> Outline:
    """Width, two pitches, wire."""
    # A sheet of the same metal: area and mass are right, but its depth is not that of a wire.
    return Outline(rectangle(sizes[0], _mesh_wires(sizes) * pi / 4 * sizes[3] ** 2 / sizes[0]))


def _mesh_fault(sizes: Sizes) -> str:
    """The fault of wires that leave no opening, or of mesh narrower than one pitch; "" for none."""
    width, along, across, wire = sizes
    if wire >= min(along, across):
        return f"a wire of {wire:g} mm leaves no opening in a pitch of {min(along, across):g} mm"
    return "" if width >= along else f"a width of {width:g} mm is less than one pitch"


MESH = SectionKind(
    word="mesh", typed="mesh W x A x B x D", names=(), outline=_mesh, two_ways=True, by_width=True,
    thickness=last, drill_depth=last, drilled="wall", fault=_mesh_fault,
    skin=lambda sizes: _mesh_wires(sizes) * pi * sizes[3], lies="flat; it is not bent",
    cannot=not_solid("a mesh panel")
    | {
        "bend": "a mesh panel is for flat pieces only; bend its frame and weld the mesh in",
        "twist": "a mesh panel is for flat pieces only: it cannot be twisted",
    },
    standard="EN 10223-4", condition="welded mesh", words={"de": "Gitter", "fr": "treillis", "es": "malla"},
)  # fmt: skip
