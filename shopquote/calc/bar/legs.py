"""Builds the runs of a shape word by word: straights, and bends that take their setbacks from them.

Float millimetres and degrees. `word_runs` adds every other word. Begin at `Legs`.
"""

from dataclasses import replace
from math import radians

from shopquote.calc.bar.by_hand import corner_stock_mm
from shopquote.calc.bar.develop import (
    UPSET_SHARE,
    Bending,
    BendingOf,
    Development,
    KOf,
    LegPlace,
    Run,
    RunKind,
    bend_allowance_mm,
)
from shopquote.calc.bar.neutral_axis import KAnswer, measured_beyond_mm, setback_mm
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import Bend, Corner, Fold
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.job import Dims
from shopquote.errors import CannotMakeError

_UPSET = "constant volume and a quarter of T upset: FAO AH635E"


class Legs:
    """The runs built so far, with the straight that is still open and the setbacks to be taken from it."""

    def __init__(
        self, section: Section, dims: Dims, bending_of: BendingOf, k_of: KOf, where: str, say: Say
    ) -> None:
        self.section, self.dims, self.where = section, dims, where
        self.bending_of, self.k_of, self.say = bending_of, k_of, say
        self.runs: list[Run] = []
        self.twist_share = self.forge_share = 1.0
        self.upset_share = UPSET_SHARE
        self.is_spring = False
        self.turn = 0.0
        self.roll = 0.0
        self.first_half: float | None = None
        self.leg_mm = 0.0
        self.leg_words: list[int] = []
        self.legs: list[LegPlace] = []
        self.leg_lengths: list[float] = []
        self.before = 0.0  # setback in mm that the previous bend takes from the open leg
        self.taken: list[tuple[float, float, float]] = []
        self.legs_seen = 0

    def finish(self) -> Development:
        """Close the last straight and give all runs."""
        self._close_leg(0)
        runs = tuple(self.runs)
        flat, true = sum(run.flat_mm for run in runs), sum(run.true_mm for run in runs)
        return Development(runs, flat, true, tuple(self.legs))

    def _lie(self, way: float = 1.0) -> Bending:
        """How the bar lies in a curve of sense `way`, 1 or -1: bent back, it has its other face inside."""
        roll = self.section.rolled(self.roll) + (180.0 if way < 0 else 0.0)
        if self.first_half is None:
            # The first curve says which face is which: a roll before it turns no bar over.
            self.first_half = 180.0 if roll % 360.0 >= 180.0 else 0.0
        return self.bending_of(roll - self.first_half)

    def _take_turn(self) -> float:
        turn, self.turn = self.turn, 0.0
        return turn

    def _bend(self, number: int, word: Bend) -> None:
        lie, radius = self._lie(word.angle), word.radius.length.mm_float
        with_setback = self._set_back(number, word.angle, radius, lie)
        self.runs.append(self._curve("bend", number, word.angle, radius, lie))
        self._begin_leg(with_setback)

    def _sharp(self, number: int, word: Corner | Fold) -> None:
        """A corner of inside radius 0: forged and filled hot, or notched, folded and welded."""
        if isinstance(word, Fold) != self.section.form.folds:
            kind, cure = ("fold", "corner") if isinstance(word, Fold) else ("corner", "fold")
            raise CannotMakeError(
                f"{self.where}: word {number}: bar {self.section.key} is not made to a {kind}.",
                hint=f"Write {cure} {word.angle:g}.",
            )
        if isinstance(word, Corner) and self.section.is_hollow:
            raise CannotMakeError(
                f"{self.where}: word {number}: a hollow bar is not made to a corner.",
                hint="Mitre and weld it.",
            )
        lie = self._lie(word.angle)
        with_setback = self._set_back(number, word.angle, 0.0, lie)
        turned = radians(abs(word.angle))
        if isinstance(word, Fold):
            # Thin metal folded sharp: K of bends below 2 T.
            k = KAnswer(0.33, "two-step K", "Kalpakjian and Schmid, SI 6th ed., ch. 16")
            run = replace(self._curve("fold", number, word.angle, 0.0, lie, k), by="notch")
        else:
            stock = corner_stock_mm(word.angle, lie.depth_mm, self.upset_share)
            k = KAnswer(stock / lie.depth_mm / turned, "fixed K", _UPSET)
            run = replace(self._curve("corner", number, word.angle, 0.0, lie, k), by="fire")
        self.runs.append(run)
        self._begin_leg(with_setback)

    def _set_back(self, number: int, angle: float, radius: float, lie: Bending) -> tuple[float, float, float]:
        """Close the leg before a bend; gives the setback, the part of it from the radius, and the rest."""
        beyond = measured_beyond_mm(self.dims, lie.depth_mm, lie.centroid_mm)
        setback = 0.0 if beyond is None else setback_mm(angle, radius, beyond)
        factor = 0.0 if beyond is None else setback_mm(angle, 1.0, 0.0)
        if self.leg_words:
            self.taken.append((setback, factor, beyond or 0.0))
        self._close_leg(number)
        return setback, factor, beyond or 0.0

    def _begin_leg(self, taken: tuple[float, float, float]) -> None:
        self.taken, self.before = [taken], taken[0]

    def _curve(
        self, kind: RunKind, number: int, angle: float, radius: float, lie: Bending, k: KAnswer | None = None
    ) -> Run:
        k = k or self.k_of(lie, radius)
        return Run(
            kind=kind,
            word=number,
            flat_mm=bend_allowance_mm(angle, radius, lie.depth_mm, k.k),
            true_mm=radians(abs(angle)) * (radius + lie.centroid_mm),
            turn=self._take_turn(),
            angle=angle,
            inside_mm=radius,
            centre_mm=radius + lie.centroid_mm,
            centre_end_mm=radius + lie.centroid_mm,
            bending=lie,
            k=k,
            leg=self.legs_seen,
        )

    def _close_leg(self, number: int) -> None:
        """Close the open straight; `number` is that of the word after it."""
        if self.leg_words:
            straight = self.leg_mm - sum(setback for setback, _, _ in self.taken)
            if straight < -SAME_MM:
                raise self._short_leg(straight)
            begins = sum(run.flat_mm for run in self.runs)
            self._place_legs(begins, begins + max(0.0, straight))
            self.runs.append(Run("straight", self.leg_words[0], max(0.0, straight), max(0.0, straight)))
        self.leg_mm, self.leg_words, self.taken = 0.0, [], []
        self.leg_lengths, self.before = [], 0.0

    def _place_legs(self, begins: float, ends: float) -> None:
        at = begins - self.before
        for length in self.leg_lengths:
            self.legs.append(LegPlace(at, begins, ends))
            at += length

    def _short_leg(self, straight: float) -> CannotMakeError:
        takes = " + ".join(self.say(setback) for setback, _, _ in self.taken)
        needed = sum(setback for setback, _, _ in self.taken)
        factors = sum(factor for _, factor, _ in self.taken)
        beyond = sum(factor * more for _, factor, more in self.taken)
        largest = (self.leg_mm - beyond) / factors if factors else 0.0
        smaller = f", an inside radius of at most {self.say.down(largest)}" if largest >= 0.1 else ""
        return CannotMakeError(
            f"{self.where}: leg {self.legs_seen} (word {self.leg_words[0]}) of {self.say(self.leg_mm)} is "
            f"{self.say(-straight)} too short: measured {self.dims}, its bends take {takes} of it.",
            hint=f"It needs a length of at least {self.say.up(needed)}{smaller}, or a thinner bar.",
        )
