"""How far past the angle to pull, and between what: strength has a range, and the shop's own tests narrow it.

Angles in degrees, radii and sizes in mm. Pulls are told as shares, angle pulled to over angle left, so
that a test at one angle serves all. Begin at `pull_of`.

Sources: elastic-plastic springback (see `springback`) at the least, usual and most strength of the grade;
the straight bar beside a bend springs too, elastic beam theory; the narrowing is the normal mean with a
normal prior, Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.5 (a public library's page on it).
"""

from collections.abc import Sequence
from functools import lru_cache
from math import degrees, sqrt

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.moment import BendSection
from shopquote.calc.bar.springback import Spring, spring_of
from shopquote.calc.frozen import dataclass

# Straight bar on each side that carries the bend's moment, falling evenly to nothing at the roller, over
# the bar's depth: 0 where it is clamped to the former, this much at most. Common practice, no source.
MOST_BESIDE = 2.0
# A bevel protractor and the temperature of the day, degrees at 90: common practice, no source.
READING_DEGREES = 0.25
# How many test pieces the usual reading error counts as, against the spread that the tests show.
READING_WEIGHT = 4.0
# The range holds all but one bend in twenty: two standard deviations to either side.
DEVIATIONS = 2.0
AT_DEGREES = 90.0


@dataclass(frozen=True, slots=True)
class Pull:
    """Angle to pull to over angle left: what to pull, and the least and most that may be needed.

    `tests`: the shop's own pieces that it rests on, 0 for theory alone; most_over_usual: the moment at the
    grade's most strength over that at its usual.
    """

    usual: float
    least: float
    most: float
    tests: int
    most_over_usual: float

    def between(self, angle: float, pulled_to: float) -> tuple[float, float]:
        """The range of a bend that is pulled to `pulled_to`, on whatever former, degrees."""
        return pulled_to + angle * (self.least - self.usual), pulled_to + angle * (self.most - self.usual)


@lru_cache(maxsize=8192)
def theory(bar: BendSection, grade: Grade, left_mm: float) -> tuple[Pull, Spring]:
    """Pull by theory and the spring at the usual strength; left_mm is the centre-line radius asked for."""
    soft, usual, strong = (spring_of(bar, grade.at(one), left_mm) for one in ("least", "usual", "most"))
    most = 1 / strong.ratio + beside_degrees(bar, grade, strong.moment_nmm) / AT_DEGREES
    return (Pull(1 / usual.ratio, 1 / soft.ratio, most, 0, strong.moment_nmm / usual.moment_nmm), usual)


def beside_degrees(bar: BendSection, grade: Grade, moment_nmm: float) -> float:
    """How far the straight bar beside a bend springs at most, degrees, whatever the bend's angle."""
    return degrees(moment_nmm * MOST_BESIDE * bar.depth_mm / (grade.e_mpa * bar.inertia_mm4))


def pull_of(bar: BendSection, grade: Grade, left_mm: float, measured: Sequence[float] = ()) -> Pull:
    """Pull by theory, narrowed by the shop's own tests (shares) where there are any."""
    pull, _ = theory(bar, grade, left_mm)
    if not measured:
        return pull
    prior = (pull.most - pull.least) / (2 * DEVIATIONS)
    mean, deviation = narrowed(pull.usual, prior, measured)
    wide = DEVIATIONS * deviation
    return Pull(mean, mean - wide, mean + wide, len(measured), pull.most_over_usual)


def narrowed(expected: float, deviation: float, measured: Sequence[float]) -> tuple[float, float]:
    """Mean and standard deviation of the next bend, after so many measured ones.

    Prior normal(m0, s0), measured x with n values and a reading error s: mean (m0/s0^2 + n x/s^2) / (1/s0^2 +
    n/s^2), its variance 1/(1/s0^2 + n/s^2), and that of the next bend s^2 more. s^2 is pooled from the usual
    reading error and the tests' own spread. Where the tests lie outside what theory expects, s0 is
    widened to what makes them likeliest (empirical Bayes), for then theory has missed something.
    """
    count = len(measured)
    mean = sum(measured) / count
    reading = (READING_DEGREES / AT_DEGREES) ** 2
    squares = sum((value - mean) ** 2 for value in measured)
    error = (READING_WEIGHT * reading + squares) / (READING_WEIGHT + count - 1)
    prior = max(deviation**2, (mean - expected) ** 2 - error / count)
    precision = 1 / prior + count / error
    return (expected / prior + count * mean / error) / precision, sqrt(1 / precision + error)
