"""The curves of one part with their mechanics: springback, over-bend, small bends.

Float mm, degrees, MPa. Begin at `curves_of`; `demand_of` states what a bender must do, for `fit`.
"""

from collections.abc import Sequence

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.develop import Development, Run
from shopquote.calc.bar.fit import Fit, as_length
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.limits import is_too_tight, limits_of
from shopquote.calc.bar.moment import BendSection, bend_section
from shopquote.calc.bar.neutral_axis import tests_for
from shopquote.calc.bar.pulls import Pull, pull_of, theory
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import Arc, Word
from shopquote.calc.bar.shortfalls import Demand, HowMade
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.small_bends import SmallBends, hits_within, small_bends
from shopquote.calc.bar.springback import Spring, outer_strain
from shopquote.calc.frozen import dataclass
from shopquote.errors import counted

# Length in mm of a wrench or fork used over a pin in the vise: common practice, no source.
WRENCH_MM = 1000.0
# Kinds of run that a bender makes in one pull on a former, never by small bends.
ONE_PULL = ("bend", "hook")


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve before a bender is chosen.

    at: its index among the runs; start_mm: where it begins on the straight bar. `measured`: the over-bend
    comes from `tests` of the shop's own bend tests rather than theory. `hot`: made at forging heat.
    """

    run: Run
    at: int
    bar: BendSection
    spring: Spring
    over_bend_to: float
    measured: bool
    tests: int
    start_mm: float
    small: SmallBends | None
    made_by: HowMade | None
    is_3d: bool
    pull: Pull
    hot: bool = False

    @property
    def over_bend_source(self) -> str:
        """Whether the over-bend comes from tests or theory, in words."""
        if not self.measured:
            return "theory: elastic-plastic springback at the usual strength"
        return f"measured on {counted(self.tests, 'test piece')} of the shop's own, weighed against theory"

    @property
    def outer_strain(self) -> float:
        """Strain of the outer fibre at the radius asked for, a ratio."""
        return outer_strain(self.run.inside_mm + self.bar.centroid_mm, self.bar.outer_mm)

    @property
    def held_mm(self) -> float:
        """Inside radius in mm while bent, from which springback leaves the one asked for."""
        return self.spring.held_mm - self.bar.centroid_mm

    def torsion_of(self, fit: Fit | None) -> float:
        """Angle in degrees by which the bar is turned in the bender while a coil is made."""
        if self.small is not None and self.hits_of(fit) > 1:
            return self.small.turn * len(self.small.angles)
        return self.run.torsion

    def hits_of(self, fit: Fit | None) -> int:
        """Number of hits by which a fit, or any bender, makes this curve; 1 in one pull or by rolls."""
        if self.small is None or (fit is not None and fit.how != "small bends"):
            return 1
        return len(self.small.angles)


def curves_of(
    development: Development,
    section: Section,
    grade: Grade,
    words: Sequence[Word],
    shop: BendingShop,
    where: str = "Part",
) -> list[Curve]:
    """Every curve of a part, in order along the bar.

    Raises:
        CannotMakeError: a curve takes too many small bends; names the word.
    """
    curves: list[Curve] = []
    position = 0.0
    turned = False
    for at, run in enumerate(development.runs):
        turned = turned or bool(run.turn % 180)
        if run.bending is not None:
            bar = bend_section(section, run.bending.axis, run.bending.roll)
            # Springback of a scroll is calculated at its tightest radius.
            _, spring = theory(bar, grade, run.inside_mm + bar.centroid_mm)
            pull = _pull(run, bar, grade, shop)
            over, tests = run.angle * pull.usual, pull.tests
            small, made_by = _small(run, words[run.word - 1], shop, where)
            is_3d = bool(curves) and (turned or run.kind == "helix")
            hot = _is_hot(run, bar, grade, spring.moment_nmm * pull.most_over_usual, shop)
            curves.append(
                Curve(
                    run, at, bar, spring, over, tests > 0, tests, position, small, made_by, is_3d, pull, hot
                )
            )
            turned = False
        position += run.flat_mm
    return curves


def _is_hot(run: Run, bar: BendSection, grade: Grade, moment_nmm: float, shop: BendingShop) -> bool:
    """Whether a bend made by hand is made hot: a sharp corner, or too tight or strong for a 1 m wrench."""
    if run.by not in ("pin", "blocks"):
        return run.by in ("fire", "wrap")
    # Joggle blocks are pressed together, so the wrench does not limit them.
    return is_too_tight(grade, bar, run.inside_mm) or (
        run.by == "pin" and moment_nmm > shop.hand_pull_n * WRENCH_MM
    )


def _pull(run: Run, bar: BendSection, grade: Grade, shop: BendingShop) -> Pull:
    """Over-bend by theory, corrected by the shop's own bend tests of this bar at this radius."""
    assert run.bending is not None
    shares = []
    if shop.bend_tests:
        tests = tests_for(shop.bend_tests, bar.section, grade, run.bending.axis, as_length(run.inside_mm))
        shares = [test.over_bend / test.angle for test in tests if test.over_bend is not None]
    return pull_of(bar, grade, run.inside_mm + bar.centroid_mm, shares)


def _small(run: Run, word: Word, shop: BendingShop, where: str) -> tuple[SmallBends | None, HowMade | None]:
    """The small bends of a curve, and the way of making it where the shape states one."""
    if run.kind in ONE_PULL or run.by != "bender":
        return None, None
    if isinstance(word, Arc) and word.hits is not None:
        return small_bends(run, word.hits, shop.small_bends), "small bends"
    own_gap = word.gap if isinstance(word, Arc) else None
    gap = (own_gap.length if own_gap is not None else shop.arc_gap).mm_float
    hits = hits_within(run, gap, shop.small_bends, where)
    rolled = isinstance(word, Arc) and word.rolled
    # A stated gap means small bends: rolls and formers leave none.
    made_by: HowMade | None = "rolls" if rolled else "small bends" if own_gap is not None else None
    return small_bends(run, hits, shop.small_bends), made_by


def demand_of(
    curve: Curve, development: Development, grade: Grade, say: Say, *, formers_along: bool = False
) -> Demand:
    """What a bender must do to make one curve."""
    before, first = _straight_beside(development.runs, curve.at, -1)
    after, last = _straight_beside(development.runs, curve.at, 1)
    return Demand(
        bar=curve.bar,
        grade=grade.at("usual"),
        inside_mm=curve.run.inside_mm,
        held_mm=curve.held_mm,
        angle=curve.run.angle,
        pull_to=curve.over_bend_to,
        measured=curve.measured,
        most_over_usual=curve.pull.most_over_usual,
        stress_mpa=curve.spring.stress_mpa,
        moment_nmm=curve.spring.moment_nmm,
        before_mm=before,
        after_mm=after,
        before_is_end=first,
        after_is_end=last,
        curve=curve.run.kind not in ONE_PULL,
        wraps=curve.run.kind not in ("scroll", "volute", "ellipse"),
        small=curve.small,
        formers_along=formers_along,
        made_by=curve.made_by,
        least_mm=limits_of(grade, curve.bar)[1],
        say=say,
    )


def _straight_beside(runs: Sequence[Run], at: int, step: int) -> tuple[float, bool]:
    """Length in mm of the straight next to a curve, and whether it reaches the end of the bar.

    `step` is 1 for the straight behind the curve, -1 for the one before it.
    """
    length = 0.0
    index = at + step
    while 0 <= index < len(runs) and not runs[index].is_curve:
        length += runs[index].flat_mm
        index += step
    return length, not 0 <= index < len(runs)
