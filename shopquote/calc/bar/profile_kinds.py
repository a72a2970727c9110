"""The kinds of hollow bar and of rolled profiles: for each its outline, then its entry.

Sizes are float mm; outlines lie the easy way, with the inner face at y = 0.
"""

from shopquote.calc.bar.outline import Outline, circle, corner_radii, rectangle, root_radius, rounded
from shopquote.calc.bar.plastic import round_moment
from shopquote.calc.bar.section_kind import SectionKind, Sizes, not_solid, second, third


def _walls(sizes: Sizes) -> float:
    return 2 * sizes[-1]


def _tube(sizes: Sizes, _corners: str) -> Outline:
    """Outside diameter, wall."""
    middle = (0.0, sizes[0] / 2)
    return Outline(circle(sizes[0] / 2, middle), (circle(sizes[0] / 2 - sizes[1], middle),))


def _bore_fault(sizes: Sizes) -> str:
    """The fault of a hollow bar whose wall leaves no bore; "" for none."""
    if 2 * sizes[-1] >= min(sizes[:-1]):
        return f"a wall of {sizes[-1]:g} mm leaves no bore; type a solid bar instead"
    return ""


TUBE = SectionKind(
    word="tube", typed="tube D x wall", outline=_tube, hollow=True, step=0.0,
    names=("chs", "round tube", "circular hollow section"),
    thickness=second, drill_depth=_walls, drilled="bar", fault=_bore_fault,
    lies="alike whichever way it is turned",
    moment=lambda _width, _depth, sizes, elastic: (
        round_moment(sizes[0] / 2, elastic) - round_moment(sizes[0] / 2 - sizes[1], elastic)
    ),
    cannot=not_solid("a tube"),
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


BOX = SectionKind(
    word="box", typed="box W x H x wall", outline=_box, hollow=True,
    names=(
        "shs", "rhs", "square tube", "sq tube", "rectangular tube", "rect tube", "square hollow section",
        "rectangular hollow section",
    ),
    two_ways=True, larger_first=True, thickness=third, drill_depth=_walls, drilled="bar",
    fault=_bore_fault, corners=("EN 10219", "EN 10210", "A500", "sharp"),
    lies="easy: its wider side on the former",
    cannot=not_solid("a box"),
    standard="EN 10219-2", condition="cold formed",
    words={"de": "Hohlprofil", "fr": "profil creux", "es": "perfil hueco"},
)  # fmt: skip


def _angle(sizes: Sizes, corners: str) -> Outline:
    """Two legs and their thickness, heel inside: one leg lies on the former, the other points outward."""
    width, depth, wall = sizes
    root = 0.0 if corners == "sharp" else min(root_radius((width, depth)), depth - wall)
    toe = min(root / 2, wall)
    points = ((0.0, 0.0), (width, 0.0), (width, wall), (wall, wall), (wall, depth), (0.0, depth))
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, 0.0)))


ANGLE = SectionKind(
    word="angle", typed="angle A x B x t", names=("l", "ea", "ua"), outline=_angle, two_ways=True,
    larger_first=True, thickness=third, drill_depth=third, drilled="wall",
    fault=lambda sizes: (
        "" if sizes[2] < min(sizes[:2]) else f"thickness {sizes[2]:g} mm is not below the shorter leg"
    ),
    corners=("EN 10056-1", "sharp"), lies="heel inside: one leg on the former, the other standing outward",
    cannot=not_solid("an angle"), folds=True, toes=True,
    bent_warning=(
        "angle-buckles",
        "bent angle is taken with its heel inside; its standing leg stretches or buckles. "
        "Bend a test piece first, or notch, bend and weld it.",
    ),
    standard="EN 10056-1", condition="hot rolled", words={"de": "Winkel", "fr": "cornière", "es": "ángulo"},
)  # fmt: skip


def _tee(sizes: Sizes, corners: str) -> Outline:
    """Width, height, thickness; the flange on the former."""
    width, height, thick = sizes
    root = 0.0 if corners == "sharp" else thick
    side, stem, toe = width / 2, thick / 2, root / 4
    points = ((-side, 0.0), (side, 0.0), (side, thick), (stem, thick), (stem, height), (-stem, height),
              (-stem, thick), (-side, thick))  # fmt: skip
    return Outline(rounded(points, (0.0, 0.0, toe, root, toe, toe, root, toe)))


def _tee_fault(sizes: Sizes) -> str:
    """The fault of a tee whose thickness leaves no stem or flange; "" for none."""
    width, height, thick = sizes
    return "" if 3 * thick < min(width, height) else f"a tee is more than 3 x {thick:g} mm wide and high"


TEE = SectionKind(
    word="tee", typed="tee W x H x t", names=("t",), outline=_tee, two_ways=True,
    thickness=third, drill_depth=third, drilled="wall", fault=_tee_fault,
    corners=("EN 10055", "sharp"), lies="easy: its flange on the former, the stem outward",
    cannot=not_solid("a tee"), toes=True,
    bent_warning=(
        "tee-buckles",
        "bent tee is taken with its flange inside; its stem stretches or buckles. Bend a test piece "
        "first, or have it rolled.",
    ),
    standard="EN 10055", condition="hot rolled",
    words={"de": "T-Profil", "fr": "profilé T", "es": "perfil T"},
)  # fmt: skip


# Ratio of a rolled channel's root radius to its flange thickness: common practice, no source; areas of EN
# 10365 channels of public section libraries agree within 2 %.
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
    """The fault of a channel whose flanges or web leave no room for each other; "" for none."""
    height, width, web, flange = sizes
    if web >= width:
        return f"a web of {web:g} mm is not below the width of the flanges, {width:g} mm"
    return "" if 2 * flange < height else f"two flanges of {flange:g} mm leave no web in {height:g} mm"


CHANNEL = SectionKind(
    word="channel", typed="channel H x B x web x flange", names=("pfc", "upe"), outline=_channel,
    two_ways=True, thickness=lambda sizes: min(sizes[2:]), drill_depth=third, drilled="wall",
    fault=_channel_fault, corners=("EN 10365", "sharp"), lies="its web on the former; it is not bent",
    cannot=not_solid("a channel")
    | {
        "bend": "a channel is for straight pieces only: its flanges buckle or tear in a bend on a "
        "former; cut and weld it, or have it rolled outside",
        "twist": "a channel is for straight pieces only: twisted, its flanges buckle",
    },
    standard="EN 10365", condition="hot rolled",
    words={"de": "U-Profil", "fr": "profilé U", "es": "perfil U"},
)  # fmt: skip
