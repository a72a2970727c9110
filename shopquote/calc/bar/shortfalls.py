"""What a bend asks of a bender, and what a bender lacks for it: a reason, its cure, how far off.

Float mm, N mm, degrees. `fit` tries benders and formers by these.
"""

from typing import Literal

from shopquote.calc.bar.benders import Bender, Former
from shopquote.calc.bar.grades import Grade, heat_note
from shopquote.calc.bar.moment import BendSection, bend_section
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.bar.small_bends import SmallBends
from shopquote.calc.frozen import dataclass

SAY_MM = Say()

HowMade = Literal["former", "rolls", "small bends"]


@dataclass(frozen=True, slots=True)
class Demand:
    """One bend as a bender sees it.

    held_mm: inside radius to hold under load so that the one asked for is left;
    pull_to: angle to pull to, degrees; before, after: straight bar on both sides, mm, and whether
    that side is an end of the bar. `curve`: made by rolls or small bends where no former serves;
    `wraps`: of one radius, so that a former could make it;
    `small`: the small bends that would make it, `formers_along` whether they may change the former;
    `made_by` where the person said so.
    least_mm: least inside radius of the grade. `measured`: pull_to is the shop's own measure and holds on
    whatever former. Shape follows from the grade's usual strength; most_over_usual brings a moment
    to its most, which a bender must stand. `say` words the messages in the job's unit.
    """

    bar: BendSection
    grade: Grade
    inside_mm: float
    held_mm: float
    angle: float
    pull_to: float
    stress_mpa: float
    moment_nmm: float
    before_mm: float
    after_mm: float
    before_is_end: bool
    after_is_end: bool
    curve: bool = False
    wraps: bool = True
    small: SmallBends | None = None
    formers_along: bool = False
    made_by: HowMade | None = None
    least_mm: float = 0.0
    measured: bool = False
    most_over_usual: float = 1.0
    say: Say = SAY_MM


@dataclass(frozen=True, slots=True)
class Shortfall:
    """One reason why a bender does not make a bend, what it lacks, and what would cure it.

    `share`: how far off it is, as a share of what the bender has; orders the nearest.
    """

    code: str
    message: str
    cure: str
    share: float


def with_friction(moment_nmm: float, bender: Bender) -> float:
    """What a bender must bring up for a moment in the bar, N mm: its friction allowance added."""
    return moment_nmm * (1 + bender.friction_pct / 100)


def size_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """The bar is too thick or too wide for the bender."""
    found = []
    bar = demand.bar
    for what, has, needs in (
        ("opening", bender.opening.mm_float, bar.depth_mm),
        ("width", bender.width.mm_float, bar.width_mm),
    ):
        if needs > has + 1e-9:
            found.append(
                Shortfall(
                    "bar-too-large",
                    f"the bar is {demand.say(needs)} and its {what} {demand.say(has)}",
                    "use a smaller bar or a larger bender",
                    needs / has - 1 if has else 9.0,
                )
            )
    return found


def moment_shortfalls(demand: Demand, moment_nmm: float, bender: Bender) -> list[Shortfall]:
    """The bend takes more than the bender is for, friction counted."""
    moment, has = with_friction(moment_nmm, bender) / 1000, bender.largest_moment_nm
    if moment <= has:
        return []
    takes, is_for = demand.say.moments(moment, has)
    message = f"the bend takes up to {takes}, friction counted, and the bender is for {is_for}"
    return [Shortfall("moment", message, _moment_cure(demand, bender), moment / has - 1)]


def roll_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """It has no rolls, or they do not go down to the radius."""
    if bender.rolls_to is None:
        return [
            Shortfall("no-rolls", "it has no rolls", "make it by small bends, or get it rolled outside", 1.0)
        ]
    has = bender.rolls_to.mm_float
    if has <= demand.held_mm + 1e-9:
        return []
    message = f"it rolls down to r {demand.say(has)} and this asks for r {demand.say(demand.held_mm)}"
    return [Shortfall("rolls-too-large", message, "make it by small bends", has / demand.held_mm - 1)]


def step_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """The small bends lie nearer together than it can advance."""
    steps, least = demand.small.steps_mm if demand.small else (), bender.arc_step.mm_float
    if len(steps) < 2 or min(steps) >= least - 1e-9:
        return []
    step = min(steps)
    return [
        Shortfall(
            "arc-step",
            f"its {len(steps)} small bends are {demand.say(step)} apart and its smallest advance is "
            f"{demand.say(least)}",
            "allow a larger gap from the curve",
            least / step - 1,
        )
    ]


def _moment_cure(demand: Demand, bender: Bender) -> str:
    bar = demand.bar
    heated = heat_note(demand.grade, bar.section)
    if bar.section.has_axes and bar.axis == "hard":
        plastic = bend_section(bar.section, "easy").plastic_mm3
        easy = with_friction(plastic * demand.stress_mpa * demand.most_over_usual, bender) / 1000
        if easy <= bender.largest_moment_nm:
            return f"turn the bar (the easy way takes {demand.say.moment(easy)}) or bend it hot{heated}"
    return f"bend it hot{heated}, or use a larger bender"


def leg_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """Too little straight bar to hold, at an end or between bends."""
    found: list[Shortfall] = []
    if demand.curve:
        return found
    sides = ((demand.before_mm, demand.before_is_end), (demand.after_mm, demand.after_is_end))
    for straight, is_end in sides:
        least = (bender.smallest_leg if is_end else bender.smallest_between).mm_float
        if straight < least - 1e-9:
            what = "leg" if is_end else "distance between bends"
            cure = (
                f"leave {demand.say.up(least - straight)} more to hold and saw it off"
                if is_end
                else f"leave {demand.say.up(least - straight)} more between the bends"
            )
            found.append(
                Shortfall(
                    "short-leg" if is_end else "bends-too-near",
                    f"{demand.say(straight)} straight and its smallest {what} is {demand.say(least)}",
                    cure,
                    1 - straight / least,
                )
            )
    return found


def former_shortfall(demand: Demand, former: Former, left: float, wider: float | None) -> Shortfall:
    """Its nearest former leaves another radius; `wider`: the next that a former of it leaves and the grade
    takes, mm."""
    get = f"get a former of r {demand.say(demand.held_mm)}"
    if left >= demand.least_mm - SAME_MM:
        cure = f"draw the radius as {demand.say(left)}, which the grade takes, or {get}"
    elif demand.inside_mm < demand.least_mm - SAME_MM:
        heated = heat_note(demand.grade, demand.bar.section)
        cure = (
            f"draw the radius as {demand.say.up(demand.least_mm)} or more, or {get} and bend it hot{heated}"
        )
    else:
        # The radius drawn is right: only the tool is not there.
        cure = get if wider is None else f"{get}, or draw the radius as {demand.say(wider)}"
    return Shortfall(
        "no-former",
        f"its nearest former, r {demand.say(former.radius.mm_float)}, leaves r {demand.say(left)}",
        cure,
        abs(left - demand.inside_mm) / demand.inside_mm,
    )


def no_former(demand: Demand) -> Shortfall:
    """It has no former that the bend could be made on."""
    say, least = demand.say, demand.least_mm
    if demand.curve and least <= demand.held_mm:
        reason = (
            f"it has no former from r {say.up(least)}, the least of the grade, to r {say(demand.held_mm)}"
        )
    else:
        reason = "it has no former that takes this bar"
    return Shortfall("no-former", reason, f"get a former of r {say(demand.held_mm)}", 1.0)


def angle_shortfall(pull_to: float, bender: Bender) -> Shortfall:
    """The bend is pulled further than the bender goes."""
    return Shortfall(
        "angle",
        f"it must be pulled to {abs(pull_to):.1f} degrees and the bender goes to {bender.largest_angle:g}",
        "make it as two bends, or use a bender that goes further",
        abs(pull_to) / bender.largest_angle - 1,
    )
