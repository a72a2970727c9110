"""What the kinds of bar are made of: their outlines, corner radii, faults of sizes and closed moments.

Float mm; outlines lie the easy way, inner face at y = 0. `section_kinds` puts them together.
"""

from math import atan2, floor, pi, sqrt

from shopquote.calc.bar.outline import Edge, Outline, circle, rectangle, rounded
from shopquote.calc.bar.plastic import rectangle_moment, round_moment

Sizes = tuple[float, ...]


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


def no_fault(_sizes: Sizes) -> str:
    """Any sizes will do."""
    return ""


def round_bar(sizes: Sizes, _corners: str) -> Outline:
    """A circle of the diameter."""
    return Outline(circle(sizes[0] / 2, (0.0, sizes[0] / 2)))


def tube(sizes: Sizes, _corners: str) -> Outline:
    """Outside diameter, wall."""
    middle = (0.0, sizes[0] / 2)
    return Outline(circle(sizes[0] / 2, middle), (circle(sizes[0] / 2 - sizes[1], middle),))


def square(sizes: Sizes, _corners: str) -> Outline:
    """One side."""
    return Outline(rectangle(sizes[0], sizes[0]))


def flat(sizes: Sizes, _corners: str) -> Outline:
    """Width, thickness."""
    return Outline(rectangle(sizes[0], sizes[1]))


def hexagon(sizes: Sizes, _corners: str) -> Outline:
    """Size across flats, which lie in the plane of the bend."""
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


def box(sizes: Sizes, corners: str) -> Outline:
    """Width, depth, wall; corners by their rule."""
    width, depth, wall = sizes
    outer, inner = corner_radii(corners, wall)
    bore = min(width, depth) - 2 * wall
    return Outline(
        rectangle(width, depth, min(outer, min(width, depth) / 2)),
        (rectangle(width, depth, min(inner, bore / 2), wall),),
    )


def angle(sizes: Sizes, corners: str) -> Outline:
    """Two legs and their thickness. Heel inside: one leg lies on the former, the other stands outward."""
    width, depth, wall = sizes
    root = 0.0 if corners == "sharp" else min(root_radius((width, depth)), depth - wall)
    toe = min(root / 2, wall)
    points = ((0.0, 0.0), (width, 0.0), (width, wall), (wall, wall), (wall, depth), (0.0, depth))
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, 0.0)))


# A rolled channel's root radius over its flange: common practice, no source; areas of EN 10365 channels
# from memory come out within 2 %.
_CHANNEL_ROOT = 1.2


def channel(sizes: Sizes, corners: str) -> Outline:
    """Height, width, web, flange; the web on the former."""
    height, width, web, flange = sizes
    root = 0.0 if corners == "sharp" else min(_CHANNEL_ROOT * flange, width - web, height / 2 - flange)
    side, inner = height / 2, height / 2 - flange
    points = ((-side, 0.0), (side, 0.0), (side, width), (inner, width), (inner, web), (-inner, web),
              (-inner, width), (-side, width))  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, 0.0, 0.0, root, root, 0.0, 0.0)))


def half_round(sizes: Sizes, _corners: str) -> Outline:
    """Width and rise, the flat face on the former."""
    width, rise = sizes
    radius = (width * width / 4 + rise * rise) / (2 * rise)
    centre, half = (0.0, rise - radius), width / 2
    first = atan2(radius - rise, half)
    arc = Edge((half, 0.0), (-half, 0.0), centre, radius, pi - 2 * first)
    return Outline((Edge((-half, 0.0), (half, 0.0)), arc))


def bore_fault(sizes: Sizes) -> str:
    """A hollow bar whose wall leaves no bore."""
    if 2 * sizes[-1] >= min(sizes[:-1]):
        return f"a wall of {sizes[-1]:g} mm leaves no bore; type a solid bar instead"
    return ""


def angle_fault(sizes: Sizes) -> str:
    """A leg no longer than it is thick."""
    return "" if sizes[2] < min(sizes[:2]) else f"thickness {sizes[2]:g} mm is not below the shorter leg"


def channel_fault(sizes: Sizes) -> str:
    """Flanges or a web that leave nothing of the other."""
    height, width, web, flange = sizes
    if web >= width:
        return f"a web of {web:g} mm is not below the width of the flanges, {width:g} mm"
    return "" if 2 * flange < height else f"two flanges of {flange:g} mm leave no web in {height:g} mm"


def half_round_fault(sizes: Sizes) -> str:
    """A rise above half the width."""
    if sizes[1] <= sizes[0] / 2 * (1 + 1e-9):
        return ""
    return f"it rises {sizes[1]:g} mm; a half round rises at most half its width, {sizes[0] / 2:g} mm"


def tee(sizes: Sizes, corners: str) -> Outline:
    """Width, height, thickness; the table on the former."""
    width, height, thick = sizes
    root = 0.0 if corners == "sharp" else thick
    side, stem, toe = width / 2, thick / 2, root / 4
    points = (
        (-side, 0.0), (side, 0.0), (side, thick), (stem, thick), (stem, height), (-stem, height),
        (-stem, thick), (-side, thick),
    )  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, toe, root, toe)))


def tee_fault(sizes: Sizes) -> str:
    """A tee that is nearly solid."""
    width, height, thick = sizes
    return "" if 3 * thick < min(width, height) else f"a tee is more than 3 x {thick:g} mm wide and high"


def mesh_wires(sizes: Sizes) -> float:
    """Metres of wire in a metre of mesh: those along it, and those across by their pitch."""
    width, along, across, _ = sizes
    return (floor(width / along + 1e-9) + 1) + width / across


def mesh(sizes: Sizes, _corners: str) -> Outline:
    """Width, two pitches, wire; as thick as all its metal rolled even."""
    # As thick as all its metal rolled even: area and mass are right, its depth is not a wire's.
    return Outline(rectangle(sizes[0], mesh_wires(sizes) * pi / 4 * sizes[3] ** 2 / sizes[0]))


def mesh_fault(sizes: Sizes) -> str:
    """Wires that leave no opening, or mesh of less than one pitch."""
    width, along, across, wire = sizes
    if wire >= min(along, across):
        return f"a wire of {wire:g} mm leaves no opening in a pitch of {min(along, across):g} mm"
    return "" if width >= along else f"a width of {width:g} mm is less than one pitch"


def moment_of_round(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    """Bending moment over flow stress of a solid round, mm3."""
    return round_moment(sizes[0] / 2, elastic)


def moment_of_tube(_width: float, _depth: float, sizes: Sizes, elastic: float) -> float:
    """The same of a tube."""
    return round_moment(sizes[0] / 2, elastic) - round_moment(sizes[0] / 2 - sizes[1], elastic)


def moment_of_rectangle(width: float, depth: float, _sizes: Sizes, elastic: float) -> float:
    """The same of a square or flat, as it lies."""
    return rectangle_moment(width, depth / 2, elastic)
