"""What a bend demands of a bender, and the bender's shortfalls, each with a cure and its extent.

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
    """What one bend demands of a bender.

    held_mm: inside radius under load that leaves the one asked for; pull_to: angle to pull to in degrees;
    before, after: straight bar on both sides in mm, and whether that side is an end of the bar. `curve`: made
    by rolls or small bends where no former serves; `wraps`: of constant radius, so that a former could make
    it. `small`: the small bends that would make it; `formers_along`: these may change the former; `made_by`:
    the way stated in the shape. least_mm: least inside radius of the grade. `measured`: pull_to comes from
    bend tests and holds on any former. The shape follows from the grade's usual strength; the ratio
    most_over_usual gives the moment at the greatest strength, which the bender must bear. `say` formats
    messages in the job's unit.
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
    """One reason why a bender cannot make a bend, with its cure.

    `share`: by how much it falls short, as a ratio of what the bender has; benders are sorted by it.
    """

    code: str
    message: str
    cure: str
    share: float


def with_friction(moment_nmm: float, bender: Bender) -> float:
    """The moment in N mm that a bender must exert for a moment in the bar, with its friction allowance."""
    return moment_nmm * (1 + bender.friction_pct / 100)


def size_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """Shortfalls of size: the bar is too thick or too wide for the bender."""
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
                    # Without an opening there is no ratio; a large one sorts the bender last.
                    needs / has - 1 if has else 9.0,
                )
            )
    return found


def moment_shortfalls(demand: Demand, moment_nmm: float, bender: Bender) -> list[Shortfall]:
    """The shortfall of a moment above the bender's largest, friction included."""
    moment, has = with_friction(moment_nmm, bender) / 1000, bender.largest_moment_nm
    if moment <= has:
        return []
    takes, is_for = demand.say.moments(moment, has)
    message = f"the bend takes up to {takes}, friction counted, and the bender is for {is_for}"
    return [Shortfall("moment", message, _moment_cure(demand, bender), moment / has - 1)]


def roll_shortfalls(demand: Demand, bender: Bender) -> list[Shortfall]:
    """The shortfall of a bender without rolls, or whose rolls do not reach the radius."""
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
    """The shortfall of small bends closer together than the bender can advance the bar."""
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
    """Shortfalls of straight bar to hold, at an end or between bends."""
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
    """The shortfall of a nearest former that leaves another radius.

    `wider`: the next larger radius in mm that some former leaves and the grade allows.
    """
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
    """The shortfall of a bender without any suitable former."""
    say, least = demand.say, demand.least_mm
    if demand.curve and least <= demand.held_mm:
        reason = (
            f"it has no former from r {say.up(least)}, the least of the grade, to r {say(demand.held_mm)}"
        )
    else:
        reason = "it has no former that takes this bar"
    return Shortfall("no-former", reason, f"get a former of r {say(demand.held_mm)}", 1.0)


def angle_shortfall(pull_to: float, bender: Bender) -> Shortfall:
    """The shortfall of an angle to pull to beyond the bender's largest."""
    return Shortfall(
        "angle",
        f"it must be pulled to {abs(pull_to):.1f} degrees and the bender goes to {bender.largest_angle:g}",
        "make it as two bends, or use a bender that goes further",
        abs(pull_to) / bender.largest_angle - 1,
    )
