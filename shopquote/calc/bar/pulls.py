"""The angle to pull to, with its range: strength varies, and the shop's own bend tests narrow the range.

Angles in degrees, radii and sizes in mm. A pull is the ratio of the angle pulled to to the angle left, so
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

# Greatest length, in depths of the bar, of straight bar on each side in which the bend's moment decreases
# linearly to 0; the least is 0, where the bar is clamped to the former. Common practice, no source.
MOST_BESIDE = 2.0
# Reading error at 90 degrees, from protractor and temperature, in degrees: common practice, no source.
READING_DEGREES = 0.25
# Weight, in test pieces, of the usual reading error against the spread that the tests show.
READING_WEIGHT = 4.0
# Half width of the range in standard deviations: 19 of 20 bends lie within it.
DEVIATIONS = 2.0
AT_DEGREES = 90.0


@dataclass(frozen=True, slots=True)
class Pull:
    """Ratio of the angle to pull to to the angle left: the usual one, and the least and greatest.

    `tests`: number of the shop's bend tests used, 0 for theory alone. most_over_usual: ratio of the moment at
    the grade's greatest strength to that at its usual one.
    """

    usual: float
    least: float
    most: float
    tests: int
    most_over_usual: float

    def between(self, angle: float, pulled_to: float) -> tuple[float, float]:
        """The range in degrees of a bend whose usual angle to pull to is `pulled_to`."""
        return pulled_to + angle * (self.least - self.usual), pulled_to + angle * (self.most - self.usual)


@lru_cache(maxsize=8192)
def theory(bar: BendSection, grade: Grade, left_mm: float) -> tuple[Pull, Spring]:
    """The pull by theory, and the springback at the usual strength, for a centre-line radius `left_mm`."""
    soft, usual, strong = (spring_of(bar, grade.at(one), left_mm) for one in ("least", "usual", "most"))
    most = 1 / strong.ratio + beside_degrees(bar, grade, strong.moment_nmm) / AT_DEGREES
    return (Pull(1 / usual.ratio, 1 / soft.ratio, most, 0, strong.moment_nmm / usual.moment_nmm), usual)


def beside_degrees(bar: BendSection, grade: Grade, moment_nmm: float) -> float:
    """Greatest springback in degrees of the straight bar beside a bend, the same for any angle of bend."""
    return degrees(moment_nmm * MOST_BESIDE * bar.depth_mm / (grade.e_mpa * bar.inertia_mm4))


def pull_of(bar: BendSection, grade: Grade, left_mm: float, measured: Sequence[float] = ()) -> Pull:
    """The pull by theory, combined with the shop's own tests, `measured` as ratios, where there are any."""
    pull, _ = theory(bar, grade, left_mm)
    if not measured:
        return pull
    prior = (pull.most - pull.least) / (2 * DEVIATIONS)
    mean, deviation = narrowed(pull.usual, prior, measured)
    wide = DEVIATIONS * deviation
    return Pull(mean, mean - wide, mean + wide, len(measured), pull.most_over_usual)


def narrowed(expected: float, deviation: float, measured: Sequence[float]) -> tuple[float, float]:
    """Mean and standard deviation (ratios) of the pull of the next bend, given measured ones.

    With the prior normal(m0, s0) and n measured values of mean x and error s: mean (m0/s0^2 + n x/s^2) /
    (1/s0^2 + n/s^2), its variance 1/(1/s0^2 + n/s^2), and that of the next bend s^2 more. s^2 is pooled from
    the usual reading error and the tests' own spread. Where the tests contradict the prior, s0 is widened to
    its maximum likelihood value (empirical Bayes), for then theory has missed something.
    """
    count = len(measured)
    mean = sum(measured) / count
    reading = (READING_DEGREES / AT_DEGREES) ** 2
    squares = sum((value - mean) ** 2 for value in measured)
    error = (READING_WEIGHT * reading + squares) / (READING_WEIGHT + count - 1)
    prior = max(deviation**2, (mean - expected) ** 2 - error / count)
    precision = 1 / prior + count / error
    return (expected / prior + count * mean / error) / precision, sqrt(1 / precision + error)
