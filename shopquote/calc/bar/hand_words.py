"""How what is bent without a bender is made, in the words of the floor. Begin at `told_by_hand`."""

from shopquote.calc.bar.answers import BendAnswer
from shopquote.calc.bar.by_hand import notch_of, notched_leg_mm
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import BendAxis


def told_by_hand(bend: BendAnswer, section: Section, axis: BendAxis, say: Say) -> str:
    """One bend that no bender makes; nothing for others."""
    inside = say(2 * bend.inside_radius.mm_float)
    if bend.by == "bender":
        return ""
    if bend.by == "fire":
        return "hot: upset it at the mark, bend it over the edge, square the corner"
    if bend.by == "wrap":
        return "hot: make a U of it over a block, close it round the bars while it is hot"
    if bend.by == "notch":
        notch = notch_of(bend.angle, notched_leg_mm(section, axis), section.thickness_mm)
        return (
            f"saw a V out of one leg, {say(notch.wide_mm)} wide at its toe, middle at the bend's centre; "
            f"fold it shut and weld the joint, {say(notch.weld_mm)}"
        )
    if bend.by == "mandrel":
        held = 2 * (bend.held_radius or bend.inside_radius).mm_float
        return f"wind it on a mandrel of {say(held)} (theory: springs to {inside}); wind a test coil first"
    hot = "hot, " if bend.hot else ""
    if bend.by == "blocks":
        return f"{hot}press it between joggle blocks of r {say(bend.inside_radius.mm_float)}"
    if abs(bend.angle) < 90:
        return f"{hot}set the neck of the eye over a pin of {inside}"
    return f"{hot}roll it on a pin of {inside}"
