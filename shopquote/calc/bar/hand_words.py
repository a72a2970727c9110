"""Instructions for bends made without a bender, in words for the floor. Begin at `told_by_hand`."""

from math import cos, floor, radians

from shopquote.calc.bar.by_hand import notch_of, notched_leg_mm
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.part_answer import BendAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.springback import left_radius_mm, spring_of
from shopquote.calc.job import BendAxis

# Steps in mm of mandrel diameters: half a millimetre, a thirty-second of an inch.
_MANDRELS = {"mm": 0.5, "in": 25.4 / 32}
# Above this angle in degrees the point of a sharp corner is longer than twice the bar's thickness.
POINTED = 120.0


def told_by_hand(bend: BendAnswer, section: Section, axis: BendAxis, grade: Grade, say: Say) -> str:
    """The instruction for one bend made without a bender; "" for others."""
    inside = say(2 * bend.inside_radius.mm_float)
    if bend.by == "bender":
        return _at_the_anvil(bend, section, say) if bend.hot and bend.bender is None else ""
    if bend.by == "fire":
        return _corner(bend, say)
    if bend.by == "wrap":
        return "hot: make a U of it over a block, close it round the bars while it is hot"
    if bend.by == "notch":
        notch = notch_of(bend.angle, notched_leg_mm(section, axis), section.thickness_mm)
        return (
            f"saw a V out of one leg, {say(notch.wide_mm)} wide at its toe, middle at the bend's centre; "
            f"fold it shut and weld the joint, {say(notch.weld_mm)}"
        )
    if bend.by == "mandrel":
        return _mandrel(bend, grade, say)
    hot = "hot, " if bend.hot else ""
    if bend.by == "blocks":
        return f"{hot}press it between joggle blocks of r {say(bend.inside_radius.mm_float)}"
    if abs(bend.angle) < 90:
        return f"{hot}set the neck of the eye over a pin of {inside}"
    return f"{hot}roll it on a pin of {inside}"


def _corner(bend: BendAnswer, say: Say) -> str:
    """A sharp corner, with the length T / cos(A / 2) of its point where that is long."""
    told = "hot: upset it at the mark, bend it over the edge, square the corner"
    if abs(bend.angle) <= POINTED or bend.bar is None:
        return told
    point = bend.bar.depth_mm / cos(radians(bend.angle) / 2)
    return f"{told}; its point stands {say(point)} over the inner corner: several heats, or weld it full"


def _at_the_anvil(bend: BendAnswer, section: Section, say: Say) -> str:
    """A bend too tight or too strong for the benders: what it is bent round hot."""
    sand = "filled with sand, " if section.is_hollow else ""
    if bend.hits > 1:
        return f"hot, {sand}over the horn or a scroll former, to a drawing at full size"
    return f"hot, {sand}over the horn, a pin or a former of r {say(bend.inside_radius.mm_float)}"


def _mandrel(bend: BendAnswer, grade: Grade, say: Say) -> str:
    """The mandrel for the usual springback, what the next sizes leave, and those for soft and hard wire."""
    wanted, held = (
        2 * size.mm_float for size in (bend.inside_radius, bend.held_radius or bend.inside_radius)
    )
    told = f"wind it on a mandrel of {say(held)} (theory: springs to {say(wanted)}"
    if bend.bar is None or held >= wanted:
        return f"{told}); wind a test coil first"
    bar, middle = bend.bar, bend.bar.centroid_mm
    step = _MANDRELS[say.unit]
    sizes = [size for size in (floor(held / step) * step, (floor(held / step) + 1) * step) if size > 0]
    usual = grade.at("usual")
    left = [2 * (left_radius_mm(bar, usual, size / 2 + middle) - middle) for size in sizes]
    beside = ", ".join(f"{say(size)} leaves {say(inside)}" for size, inside in zip(sizes, left, strict=True))
    soft, hard = (
        2 * (spring_of(bar, grade.at(one), wanted / 2 + middle).held_mm - middle) for one in ("least", "most")
    )
    return f"{told}; {beside}; soft wire asks for {say(soft)}, hard for {say(hard)}); wind a test coil first"
