"""Develops a shape: turns its words into runs of the bar in tangent form. Begin at `develop`.

Legs and bends are in `legs`, spirals in `spiral_runs`; here are the other curves.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import hypot, pi, sqrt
from typing import ClassVar

from shopquote.calc.bar.by_hand import COLLAR_MORE, ellipse_length_mm, eye_beside, eye_centred, joggle_form
from shopquote.calc.bar.develop import (
    SAY_MM,
    UPSET_SHARE,
    BendingOf,
    Development,
    KOf,
    Run,
    helix_length_mm,
    taper_stock_mm,
)
from shopquote.calc.bar.neutral_axis import KAnswer
from shopquote.calc.bar.section_kind import Work
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import (
    Arc,
    Bend,
    Collar,
    Corner,
    Ellipse,
    Eye,
    Fold,
    Helix,
    Hook,
    Joggle,
    Leg,
    Ring,
    Scroll,
    Taper,
    Turn,
    Twist,
    Volute,
    Word,
)
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.bar.spiral_runs import Spirals
from shopquote.calc.job import Dims
from shopquote.errors import CannotMakeError


def develop(
    words: Sequence[Word],
    section: Section,
    dims: Dims,
    bending_of: BendingOf,
    k_of: KOf,
    *,
    where: str = "Part",
    say: Say = SAY_MM,
    twist_loss_pct: float = 0.0,
    forge_loss_pct: float = 0.0,
    upset_share: float = UPSET_SHARE,
) -> Development:
    """Develop a shape.

    `bending_of` gives how the bar lies when its section is rolled by an angle in degrees against the bending
    plane; `k_of` the k-factor of a bend with that lie and an inside radius in mm. Adjacent legs, also with
    turns between them, are one straight. Only bends take a setback from a leg; other curves are measured from
    their tangent point. The losses are the shop's allowances in per cent: shortening of a twist, and scale of
    a forged taper; `upset_share` is the allowance for each sharp corner in thicknesses T.

    Raises:
        CannotMakeError: a leg is shorter than its setbacks, a ring is smaller than its bar, a coil has no
            room for its bar; names the word, what is lacking and the cure.
    """
    runs = _Runs(section, dims, bending_of, k_of, where, say)
    runs.twist_share = 1 + twist_loss_pct / 100
    runs.forge_share = 1 + forge_loss_pct / 100
    runs.upset_share = upset_share
    runs.is_spring = any(isinstance(word, Helix) and word.wound for word in words)
    for number, word in enumerate(words, start=1):
        if not isinstance(word, Leg | Turn) and (reason := section.cannot(_work_of(word))):
            raise CannotMakeError(f"{where}: word {number}: {reason}.")
        runs.add(number, word)
    return runs.finish()


def _work_of(word: Word) -> Work:
    """The kind of work that a word other than a leg is: bending, twisting or tapering."""
    return "twist" if isinstance(word, Twist) else "taper" if isinstance(word, Taper) else "bend"


class _Runs(Spirals):
    """Builds the runs of a shape word by word."""

    def add(self, number: int, word: Word) -> None:
        if isinstance(word, Leg):
            self.leg_mm += word.length.length.mm_float
            self.leg_words.append(number)
            self.leg_lengths.append(word.length.length.mm_float)
            self.legs_seen += 1
            return
        if isinstance(word, Turn):
            self.turn += word.angle
            self.roll += word.angle
            return
        if isinstance(word, Bend | Corner | Fold):
            self._sharp(number, word) if not isinstance(word, Bend) else self._bend(number, word)
            return
        self._close_leg(number)
        self._made[type(word)](self, number, word)

    def _eye(self, number: int, word: Eye) -> None:
        way = -1.0 if word.back else 1.0
        lie, inside = self._lie(way), word.diameter.length.mm_float
        form = (eye_centred if word.centred else eye_beside)(inside, lie.depth_mm)
        eye = replace(self._curve("eye", number, way * form.turned, inside / 2, lie), by="pin")
        if not form.neck:
            self.runs.append(eye)
            return
        neck = replace(
            self._curve("eye", number, -way * form.neck, form.neck_inside_mm, self._lie(-way)), by="pin"
        )
        self._in_order(number, [neck, eye])

    def _hook(self, number: int, word: Hook) -> None:
        way = -180.0 if word.back else 180.0
        turned = self._curve("hook", number, way, word.diameter.length.mm_float / 2, self._lie(way))
        tip = word.tip.length.mm_float if word.tip is not None else 0.0
        # A bender cannot hold a hook without a tip, nor reach the loop of a wound spring.
        turned = replace(turned, by="pin") if self.is_spring or not tip else turned
        tips = [Run("straight", number, tip, tip)] if tip else []
        self._in_order(number, [turned, *tips])

    def _in_order(self, number: int, runs: list[Run]) -> None:
        """Append runs given from the bar outward; at the start of the bar they are reversed."""
        if not self.runs and number == 1:
            runs.reverse()
        self.runs += runs

    def _joggle(self, number: int, word: Joggle) -> None:
        lie = self._lie(-1.0 if word.back else 1.0)
        radius = word.radius.length.mm_float if word.radius is not None else lie.depth_mm
        offset, length = word.offset.length.mm_float, word.length.length.mm_float
        form = joggle_form(offset, length, radius + lie.centroid_mm)
        if form is None:
            least = sqrt(max(0.0, 4 * (radius + lie.centroid_mm) * offset - offset * offset))
            raise CannotMakeError(
                f"{self.where}: word {number}: a joggle of {self.say(offset)} with inside radius "
                f"{self.say(radius)} does not fit in {self.say(length)}.",
                hint=f"Give it {self.say.up(least)}, or a smaller radius: joggle ... r R.",
            )
        angle = -form[0] if word.back else form[0]
        self.runs.append(replace(self._curve("joggle", number, angle, radius, lie), by="blocks"))
        if form[1] > SAME_MM:
            self.runs.append(Run("straight", number, form[1], form[1]))
        lie = self._lie(-angle)
        self.runs.append(replace(self._curve("joggle", number, -angle, radius, lie), by="blocks"))

    def _ellipse(self, number: int, word: Ellipse) -> None:
        lie = self._lie()
        a, b = (
            self._inside_of(size.length, word.of, lie, f"ellipse of {size.text}") / 2
            for size in (word.along, word.across)
        )
        # Radius of curvature at the ends of the longer axis: b2/a.
        tightest = min(a, b) ** 2 / max(a, b)
        k = self.k_of(lie, tightest)
        around = ellipse_length_mm(a, b)
        curve = self._curve("ellipse", number, 360.0, tightest, lie, k)
        # A parallel curve at a distance outside a closed convex one is longer by 2 pi times it: Steiner.
        self.runs.append(
            replace(
                curve,
                flat_mm=around + 2 * pi * k.k * lie.depth_mm,
                true_mm=around + 2 * pi * lie.centroid_mm,
                axes_mm=(a, b),
            )
        )

    def _arc(self, number: int, word: Arc) -> None:
        lie = self._lie(word.angle)
        self.runs.append(self._curve("arc", number, word.angle, word.radius.length.mm_float, lie))

    def _ring(self, number: int, word: Ring) -> None:
        lie = self._lie()
        # `of` says which diameter was typed: inside, outside or of the centre line.
        inside = self._inside_of(word.diameter.length, word.of, lie, f"ring of {word.diameter.text}")
        if inside < lie.depth_mm:
            raise CannotMakeError(
                f"{self.where}: word {number}: a ring of inside diameter {self.say(inside)} is smaller than "
                f"its bar, {self.say(lie.depth_mm)}.",
                hint=f"Make the inside diameter at least {self.say(lie.depth_mm)}, or use a thinner bar.",
            )
        self.runs.append(self._curve("ring", number, 360.0, inside / 2, lie))
        if word.lap is not None:
            lap = word.lap.length.mm_float
            self.runs[-1] = _longer(self.runs[-1], lap)

    def _helix(self, number: int, word: Helix) -> None:
        if not word.closed:
            self._coil(number, word, word.pitch.length.mm_float, word.turns)
            return
        if word.turns <= 2:
            raise CannotMakeError(
                f"{self.where}: word {number}: {word.turns:g} turns, both ends closed, leave no coil; more "
                "than 2 are needed."
            )
        # Closed ends are wound with the bar's width as pitch, turn against turn.
        closed = self._lie().width_mm
        for pitch, turns in ((closed, 1.0), (word.pitch.length.mm_float, word.turns - 2), (closed, 1.0)):
            self._coil(number, word, pitch, turns)

    def _coil(self, number: int, word: Helix, pitch: float, turns: float) -> None:
        lie = self._lie(turns)
        inside = self._inside_of(word.diameter.length, word.of, lie, f"helix of {word.diameter.text}")
        radius = inside / 2
        k = self.k_of(lie, radius)
        neutral, centre = radius + k.k * lie.depth_mm, radius + lie.centroid_mm
        slope = pitch / hypot(2 * pi * centre, pitch)
        least = lie.width_mm / sqrt(1 - slope * slope)
        if turns > 1 and pitch < lie.width_mm - SAME_MM:
            raise CannotMakeError(
                f"{self.where}: word {number}: a helix of pitch {self.say(pitch)} runs into itself; its bar "
                f"is {self.say(lie.width_mm)} wide.",
                hint=f"Make the pitch at least {self.say(least)}.",
            )
        self.runs.append(
            Run(
                kind="helix",
                word=number,
                flat_mm=helix_length_mm(2 * neutral, pitch, turns),
                true_mm=helix_length_mm(2 * centre, pitch, turns),
                turn=self._take_turn(),
                angle=360.0 * turns,
                inside_mm=radius,
                centre_mm=centre,
                centre_end_mm=centre,
                pitch_mm=pitch,
                bending=lie,
                k=k,
                leg=self.legs_seen,
                by="mandrel" if word.wound else "bender",
            )
        )

    def _collar(self, number: int, word: Collar) -> None:
        lie = self._lie()
        k = KAnswer(COLLAR_MORE / (2 * pi), "fixed K", "smiths' rule for collars, perimeter and 2 T")
        width, height = word.width.length.mm_float, word.height.length.mm_float
        # It begins and ends in the middle of a side, so that the joint is not on a corner.
        for side in (width / 2, height, width, height):
            self.runs.append(Run("straight", number, side, side))
            self.runs.append(replace(self._curve("collar", number, 90.0, 0.0, lie, k), by="wrap"))
        self.runs.append(Run("straight", number, width / 2, width / 2))

    def _twist(self, number: int, word: Twist) -> None:
        length = word.length.length.mm_float
        # A twist turns the section but not the bending plane.
        self.roll -= 360.0 * word.turns
        self.runs.append(
            Run(
                "twist",
                number,
                length * self.twist_share,
                length,
                turn=self._take_turn(),
                angle=360.0 * word.turns,
            )
        )

    def _taper(self, number: int, word: Taper) -> None:
        length, tip = word.length.length.mm_float, word.tip.length.mm_float
        try:
            flat = taper_stock_mm(self.section, length, tip) * self.forge_share
        except CannotMakeError as error:
            raise CannotMakeError(f"{self.where}: word {number}: {error.message}") from None
        self.runs.append(Run("taper", number, flat, length, turn=self._take_turn(), size_mm=tip))

    _made: ClassVar[dict[type, Callable[..., None]]] = {
        Arc: _arc,
        Ring: _ring,
        Helix: _helix,
        Scroll: Spirals._scroll,
        Volute: Spirals._volute,
        Collar: _collar,
        Twist: _twist,
        Taper: _taper,
        Eye: _eye,
        Hook: _hook,
        Joggle: _joggle,
        Ellipse: _ellipse,
    }


def _longer(run: Run, more_mm: float) -> Run:
    """A ring with lapped ends; the lap follows the ring's curve."""
    share = more_mm / run.true_mm
    return replace(
        run, flat_mm=run.flat_mm + more_mm, true_mm=run.true_mm + more_mm, angle=run.angle * (1 + share)
    )
