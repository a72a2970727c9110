"""Runs of scrolls and volutes: spirals whose neutral axis moves with their radius. Begin at `Spirals`."""

from dataclasses import replace
from math import expm1, hypot, log, pi, radians, sqrt

from shopquote.calc.bar.develop import SCROLL_PARTS, Bending, Run, scroll_length_mm, volute_length_mm
from shopquote.calc.bar.legs import Legs
from shopquote.calc.bar.shape_words import Scroll, SizeOf, Volute
from shopquote.calc.bar.sizes import SAME_MM
from shopquote.calc.units import Length, Measure
from shopquote.errors import CannotMakeError


class Spirals(Legs):
    """Legs, bends and spirals; `word_runs` adds the other curves."""

    def _inside_of(self, size: Length, of: SizeOf, lie: Bending, what: str) -> float:
        """Inside diameter in mm of a coil whose diameter is given `of` inside, centre or outside."""
        less = {"inside": 0.0, "centre": 2 * lie.centroid_mm, "outside": 2 * lie.depth_mm}[of]
        inside = size.mm_float - less
        if inside <= 0:
            raise CannotMakeError(
                f"{self.where}: a {what} measured {of} has no inside: its bar takes {self.say(less)}.",
                hint="Make it larger, use a thinner bar, or state the inside diameter.",
            )
        return inside

    def _scroll(self, number: int, word: Scroll) -> None:
        lie = self._lie(word.turns)
        to_centre = {"inside": lie.centroid_mm, "centre": 0.0, "outside": lie.centroid_mm - lie.depth_mm}[
            word.of
        ]
        start = word.start.length.mm_float + to_centre
        finish = word.finish.length.mm_float + to_centre
        tightest = min(start, finish) - lie.centroid_mm
        if tightest <= 0:
            raise CannotMakeError(
                f"{self.where}: word {number}: the scroll's smallest radius leaves no room for its bar: "
                f"{self.say(min(start, finish))} to the bar's centre, and half the bar is "
                f"{self.say(lie.centroid_mm)}.",
                hint=f"Make it more than {self.say(lie.centroid_mm - to_centre)}, or use a thinner bar.",
            )
        apart = abs(finish - start) / abs(word.turns)
        if abs(word.turns) > 1 and apart < lie.depth_mm - SAME_MM:
            most = max(1.0, abs(finish - start) / lie.depth_mm)
            raise CannotMakeError(
                f"{self.where}: word {number}: the scroll runs into itself: its coils are {self.say(apart)} "
                f"apart and the bar is {self.say(lie.depth_mm)}.",
                hint=f"Use at most {most:.2f} turns, or radii further apart.",
            )
        k = self.k_of(lie, tightest)
        flat_at = self._scroll_flat_at(start, finish, word.turns, lie)
        self.runs.append(
            Run(
                kind="scroll",
                word=number,
                flat_mm=flat_at[-1][1],
                true_mm=scroll_length_mm(start, finish, word.turns),
                turn=self._take_turn(),
                angle=360.0 * word.turns,
                inside_mm=tightest,
                centre_mm=start,
                centre_end_mm=finish,
                bending=lie,
                k=k,
                leg=self.legs_seen,
                flat_at=flat_at,
            )
        )

    def _scroll_flat_at(
        self, start: float, finish: float, turns: float, lie: Bending
    ) -> tuple[tuple[float, float], ...]:
        """Pairs of centre-line and neutral-axis length from a scroll's start; K changes with the radius."""
        ends = (self.k_of(lie, start - lie.centroid_mm), self.k_of(lie, finish - lie.centroid_mm))
        if all(abs(k.k * lie.depth_mm - lie.centroid_mm) < 1e-12 for k in ends):
            # The neutral axis is the centre line, whose closed form is exact.
            whole = scroll_length_mm(start, finish, turns)
            return (0.0, 0.0), (whole, whole)
        step = (finish - start) / SCROLL_PARTS
        true = flat = 0.0
        found = [(0.0, 0.0)]
        for part in range(SCROLL_PARTS):
            near, far = start + step * part, start + step * (part + 1)
            k = self.k_of(lie, (near + far) / 2 - lie.centroid_mm)
            shift = k.k * lie.depth_mm - lie.centroid_mm
            true += scroll_length_mm(near, far, turns / SCROLL_PARTS)
            flat += scroll_length_mm(near + shift, far + shift, turns / SCROLL_PARTS)
            found.append((true, flat))
        return tuple(found)

    def _volute(self, number: int, word: Volute) -> None:
        lie = self._lie(word.turns)
        start, finish = (
            self._inside_of(_twice(size), word.of, lie, f"volute of {size.text}") / 2 + lie.centroid_mm
            for size in (word.start, word.finish)
        )
        if abs(finish - start) < SAME_MM:
            raise CannotMakeError(
                f"{self.where}: word {number}: a volute opens; its radii are alike.", hint="See: ring, helix."
            )
        b = log(finish / start) / radians(360 * abs(word.turns))
        tightest = min(start, finish) * hypot(1, b) - lie.centroid_mm
        # Windings are closest at the centre: one turn increases the radius by r (e^(2 pi b) - 1).
        apart = min(start, finish) * expm1(2 * pi * abs(b))
        if abs(word.turns) > 1 and apart < lie.depth_mm - SAME_MM:
            raise CannotMakeError(
                f"{self.where}: word {number}: the volute runs into itself at its eye: its windings are "
                f"{self.say(apart)} apart and the bar is {self.say(lie.depth_mm)}.",
                hint="Use fewer turns, a larger eye, or a larger last radius.",
            )
        curve = replace(
            self._curve("volute", number, 360.0 * word.turns, tightest, lie),
            centre_mm=start,
            centre_end_mm=finish,
        )
        flat_at = self._volute_flat_at(start, finish, word.turns, lie)
        self.runs.append(
            replace(
                curve,
                flat_mm=flat_at[-1][1],
                true_mm=volute_length_mm(start, finish, word.turns),
                flat_at=flat_at,
            )
        )

    def _volute_flat_at(
        self, start: float, finish: float, turns: float, lie: Bending
    ) -> tuple[tuple[float, float], ...]:
        """Pairs of centre-line and neutral-axis length, as for a scroll; of a parallel curve, by Steiner."""
        # Parts of equal angle, over each of which the radius grows by the same ratio.
        grows, angle = (finish / start) ** (1 / SCROLL_PARTS), radians(360 * abs(turns)) / SCROLL_PARTS
        b = log(grows) / angle
        true = flat = 0.0
        found = [(0.0, 0.0)]
        for part in range(SCROLL_PARTS):
            near = start * grows**part
            step = volute_length_mm(near, near * grows, abs(turns) / SCROLL_PARTS)
            k = self.k_of(lie, near * sqrt(grows) * hypot(1, b) - lie.centroid_mm)
            true, flat = true + step, flat + step + (k.k * lie.depth_mm - lie.centroid_mm) * angle
            found.append((true, flat))
        return tuple(found)


def _twice(size: Measure) -> Length:
    """Twice a radius, as the diameter that `_inside_of` takes."""
    return Length(2 * size.length.nm)
