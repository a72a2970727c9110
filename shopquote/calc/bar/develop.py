"""Developed length: a shape's words turned into straights and curves along the bar.

Inside, every part is in tangent form: straight lengths between tangent points and
curves with the length of their neutral axis, which holds at any angle. Float
millimetres and degrees. Begin at `develop`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import asin, asinh, ceil, cos, degrees, hypot, pi, radians, sqrt
from typing import ClassVar, Literal

from shopquote.calc.bar.by_hand import (
    MadeBy,
    corner_stock_mm,
    ellipse_length_mm,
    eye_beside,
    eye_centred,
    joggle_form,
)
from shopquote.calc.bar.neutral_axis import KAnswer, measured_beyond_mm, setback_mm
from shopquote.calc.bar.section_kinds import Work
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import (
    Arc,
    Bend,
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
    SizeOf,
    Taper,
    Turn,
    Twist,
    Word,
)
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import BendAxis, Dims
from shopquote.calc.units import Length
from shopquote.errors import CannotMakeError

RunKind = Literal[
    "straight", "bend", "arc", "ring", "helix", "scroll", "twist", "taper", "eye", "hook", "corner", "fold",
    "joggle", "ellipse",
]  # fmt: skip

# Curves that take a setback from the legs beside them.
SET_BACK: tuple[RunKind, ...] = ("bend", "corner", "fold")

# Lengths that differ by less than this are the same: a nanometre, lengths' own step.
SAME_MM = 1e-6

# A scroll is taken in so many parts where its neutral axis moves with the radius.
SCROLL_PARTS = 96

# A quarter of the thickness for each sharp corner: FAO AH635E, exercise on the upset square bend.
UPSET_SHARE = 0.25

_UPSET = "constant volume and a quarter of T upset: FAO AH635E"

SAY_MM = Say()


@dataclass(frozen=True, slots=True)
class Bending:
    """How the bar lies in a bend: depth T in the plane, width across, centroid from the inner face.

    `roll`: degrees the section is turned against the part's bend axis, 0 to below 180.
    """

    axis: BendAxis
    roll: float
    depth_mm: float
    width_mm: float
    centroid_mm: float


@dataclass(frozen=True, slots=True)
class Run:
    """One stretch of the bar in tangent form.

    flat_mm: length on the straight bar (neutral axis); true_mm: length along the
    centre line of the finished shape. turn: degrees the bending plane is turned before it.
    Curves: signed angle in degrees, inside radius and centre-line radius (at its start
    and end for a scroll), pitch for a helix. `flat_at`: pairs of (true_mm, flat_mm) along a curve whose
    neutral axis moves; empty where the two are in proportion. `leg`: number of the leg before a curve.
    `by`: what makes a curve; `axes_mm`: half diameters of an ellipse's inside.
    """

    kind: RunKind
    word: int
    flat_mm: float
    true_mm: float
    turn: float = 0.0
    angle: float = 0.0
    inside_mm: float = 0.0
    centre_mm: float = 0.0
    centre_end_mm: float = 0.0
    pitch_mm: float = 0.0
    size_mm: float = 0.0
    bending: Bending | None = None
    k: KAnswer | None = None
    flat_at: tuple[tuple[float, float], ...] = ()
    leg: int = 0
    by: MadeBy = "bender"
    axes_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def torsion(self) -> float:
        """Degrees that the bending plane turns along a coil: 360 sin(slope) a turn; 0 for other runs."""
        if self.kind != "helix":
            return 0.0
        return self.angle * self.pitch_mm / hypot(2 * pi * self.centre_mm, self.pitch_mm)

    @property
    def is_curve(self) -> bool:
        """Whether the bender makes it."""
        return self.bending is not None


@dataclass(frozen=True, slots=True)
class LegPlace:
    """One leg on the straight bar, mm from its start.

    measured_from_mm: where the leg begins by its own measure, which may lie in the bend before it;
    from_mm, to_mm: the straight that it lies in, between the bends.
    """

    measured_from_mm: float
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class Development:
    """A part in tangent form; `flat_mm` is its developed length before any allowance."""

    runs: tuple[Run, ...]
    flat_mm: float
    true_mm: float
    legs: tuple[LegPlace, ...] = ()


BendingOf = Callable[[float], Bending]
KOf = Callable[[Bending, float], KAnswer]


def bend_allowance_mm(angle: float, radius_mm: float, depth_mm: float, k: float) -> float:
    """Bar taken up by one bend along its neutral axis, mm: A (R + K T), A in radians.

    Source: Kalpakjian and Schmid, SI 6th ed., eq. 16.2.

    >>> round(bend_allowance_mm(90, 25, 12, 0.5), 3)
    48.695
    """
    return radians(abs(angle)) * (radius_mm + k * depth_mm)


def ring_length_mm(inside_mm: float, depth_mm: float, k: float) -> float:
    """Length of a closed ring, mm: pi (ID + 2 K T).

    >>> round(ring_length_mm(300, 12, 0.5), 2)
    980.18
    """
    return pi * (inside_mm + 2 * k * depth_mm)


def helix_length_mm(neutral_diameter_mm: float, pitch_mm: float, turns: float) -> float:
    """Length of a helix, mm: n sqrt((pi D)^2 + p^2).

    >>> round(helix_length_mm(100, 40, 5), 2)
    1583.48
    """
    return turns * hypot(pi * neutral_diameter_mm, pitch_mm)


def scroll_length_mm(start_mm: float, finish_mm: float, turns: float) -> float:
    """Arc length of an Archimedean spiral r = a + b t between two radii, mm.

    F(u) = (u sqrt(u^2 + b^2) + b^2 asinh(u / b)) / 2b, written so that it holds down to b = 0.

    >>> round(scroll_length_mm(15, 75, 2.5), 2)
    709.92
    """
    angle = 2 * pi * abs(turns)
    b = abs(finish_mm - start_mm) / angle
    low, high = sorted((start_mm, finish_mm))
    if b < 1e-6 * high:
        # Nearly a circle: the terms in b^2 are below 1e-12 of the length.
        return angle * (low + high) / 2
    return _spiral_to(high, b) - _spiral_to(low, b)


def _spiral_to(radius: float, b: float) -> float:
    return (radius * sqrt(radius * radius + b * b) + b * b * asinh(radius / b)) / (2 * b)


def taper_stock_mm(section: Section, length_mm: float, tip_mm: float) -> float:
    """Bar that forging draws out to a taper, by constant volume, mm.

    The end keeps the section's proportions: V = h/3 (A1 + A2 + sqrt(A1 A2)), A2 = A1 (tip/size)^2.
    `tip_mm` is measured like the section's smallest size (diameter, side, thickness).

    Raises:
        CannotMakeError: the section is hollow, or the tip is larger than the bar.
    """
    if reason := section.cannot("taper"):
        raise CannotMakeError(f"Bar {section.key}: {reason}.")
    size = section.thickness_mm
    if tip_mm > size + SAME_MM:
        raise CannotMakeError(f"A taper's tip cannot be larger than its bar, {size:g} mm.")
    scale = tip_mm / size
    return length_mm / 3 * (1 + scale * scale + scale)


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
    """Turn the words of a shape into tangent form.

    `bending_of` gives how the bar lies when its section is rolled by so many degrees
    against the bending plane; `k_of` the neutral axis of a bend with that lie and inside radius (mm).
    Legs next to each other, turns between them or not, are one straight. Only bends
    take a setback from a leg; every other curve is measured from its tangent point. The losses are
    the shop's allowances: bar that a twist shortens by, and that burns off a forged taper; `upset_share` is
    what is added for each sharp corner, over T.

    Raises:
        CannotMakeError: a leg is shorter than its setbacks, a ring is smaller than
            its bar, a coil has no room for its bar; names word, lack and cure.
    """
    runs = _Runs(section, dims, bending_of, k_of, where, say)
    runs.twist_share = 1 + twist_loss_pct / 100
    runs.forge_share = 1 + forge_loss_pct / 100
    runs.upset_share = upset_share
    for number, word in enumerate(words, start=1):
        if not isinstance(word, Leg | Turn) and (reason := section.cannot(_work_of(word))):
            raise CannotMakeError(f"{where}: word {number}: {reason}.")
        runs.add(number, word)
    return runs.finish()


def _work_of(word: Word) -> Work:
    """What is done to the bar by a word that is not straight."""
    return "twist" if isinstance(word, Twist) else "taper" if isinstance(word, Taper) else "bend"


class _Runs:
    """Builds runs word by word; holds the straight that is still growing."""

    def __init__(
        self, section: Section, dims: Dims, bending_of: BendingOf, k_of: KOf, where: str, say: Say
    ) -> None:
        self.section, self.dims, self.where = section, dims, where
        self.bending_of, self.k_of, self.say = bending_of, k_of, say
        self.runs: list[Run] = []
        self.twist_share = self.forge_share = 1.0
        self.upset_share = UPSET_SHARE
        self.turn = 0.0
        self.roll = 0.0
        self.leg_mm = 0.0
        self.leg_words: list[int] = []
        self.legs: list[LegPlace] = []
        self.leg_lengths: list[float] = []
        self.before = 0.0  # what the bend before takes of the leg that begins
        self.taken: list[tuple[float, float, float]] = []
        self.legs_seen = 0

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

    def finish(self) -> Development:
        self._close_leg(0)
        runs = tuple(self.runs)
        flat, true = sum(run.flat_mm for run in runs), sum(run.true_mm for run in runs)
        return Development(runs, flat, true, tuple(self.legs))

    def _lie(self) -> Bending:
        return self.bending_of(self.roll)

    def _take_turn(self) -> float:
        turn, self.turn = self.turn, 0.0
        return turn

    def _bend(self, number: int, word: Bend) -> None:
        lie, radius = self._lie(), word.radius.length.mm_float
        with_setback = self._set_back(number, word.angle, radius, lie)
        self.runs.append(self._curve("bend", number, word.angle, radius, lie))
        self._begin_leg(with_setback)

    def _sharp(self, number: int, word: Corner | Fold) -> None:
        """A corner of inside radius 0: forged and filled hot, or notched, folded and welded."""
        if isinstance(word, Fold) != (self.section.kind == "angle"):
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
        lie = self._lie()
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
        """End the leg before a bend; what a bend takes of a leg, that by radius, and what lies beyond."""
        beyond = measured_beyond_mm(self.dims, lie.depth_mm, lie.centroid_mm)
        setback = 0.0 if beyond is None else setback_mm(angle, radius, beyond)
        factor = 0.0 if beyond is None else setback_mm(angle, 1.0, 0.0)
        if self.leg_words:
            self.taken.append((setback, factor, beyond or 0.0))
        self._close_leg(number)
        return setback, factor, beyond or 0.0

    def _begin_leg(self, taken: tuple[float, float, float]) -> None:
        self.taken, self.before = [taken], taken[0]

    def _eye(self, number: int, word: Eye) -> None:
        lie, inside = self._lie(), word.diameter.length.mm_float
        form = (eye_centred if word.centred else eye_beside)(inside, lie.depth_mm)
        way = -1.0 if word.back else 1.0
        eye = replace(self._curve("eye", number, way * form.turned, inside / 2, lie), by="pin")
        if not form.neck:
            self.runs.append(eye)
            return
        neck = replace(self._curve("eye", number, -way * form.neck, form.neck_inside_mm, lie), by="pin")
        self._in_order(number, [neck, eye])

    def _hook(self, number: int, word: Hook) -> None:
        way = -180.0 if word.back else 180.0
        turned = self._curve("hook", number, way, word.diameter.length.mm_float / 2, self._lie())
        tip = word.tip.length.mm_float if word.tip is not None else 0.0
        tips = [Run("straight", number, tip, tip)] if tip else []
        self._in_order(number, [turned, *tips])

    def _in_order(self, number: int, runs: list[Run]) -> None:
        """Runs as they lie from the bar to its end: at the start of the bar they come the other way round."""
        if not self.runs and number == 1:
            runs.reverse()
        self.runs += runs

    def _joggle(self, number: int, word: Joggle) -> None:
        lie = self._lie()
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
        self.runs.append(replace(self._curve("joggle", number, -angle, radius, lie), by="blocks"))

    def _ellipse(self, number: int, word: Ellipse) -> None:
        lie = self._lie()
        a, b = (
            self._inside_of(size.length, word.of, lie, f"ellipse of {size.text}") / 2
            for size in (word.along, word.across)
        )
        tightest = min(a, b) ** 2 / max(a, b)
        k = self.k_of(lie, tightest)
        around = ellipse_length_mm(a, b)
        curve = self._curve("ellipse", number, 360.0, tightest, lie, k)
        # A curve beside a closed one, so far outside it, is longer by 2 pi times as far: Steiner.
        self.runs.append(
            replace(
                curve,
                flat_mm=around + 2 * pi * k.k * lie.depth_mm,
                true_mm=around + 2 * pi * lie.centroid_mm,
                axes_mm=(a, b),
            )
        )

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

    def _arc(self, number: int, word: Arc) -> None:
        lie = self._lie()
        self.runs.append(self._curve("arc", number, word.angle, word.radius.length.mm_float, lie))

    def _ring(self, number: int, word: Ring) -> None:
        lie = self._lie()
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

    def _inside_of(self, size: Length, of: SizeOf, lie: Bending, what: str) -> float:
        """Inside diameter, mm, of a coil whose diameter is measured `of` inside, centre or outside."""
        less = {"inside": 0.0, "centre": 2 * lie.centroid_mm, "outside": 2 * lie.depth_mm}[of]
        inside = size.mm_float - less
        if inside <= 0:
            raise CannotMakeError(
                f"{self.where}: a {what} measured {of} has no inside: its bar takes {self.say(less)}.",
                hint="Make it larger, use a thinner bar, or state the inside diameter.",
            )
        return inside

    def _helix(self, number: int, word: Helix) -> None:
        if not word.closed:
            self._coil(number, word, word.pitch.length.mm_float, word.turns)
            return
        if word.turns <= 2:
            raise CannotMakeError(
                f"{self.where}: word {number}: {word.turns:g} turns, both ends closed, leave no coil; more "
                "than 2 are needed."
            )
        closed = self._lie().width_mm
        for pitch, turns in (
            (closed, 1.0),
            (word.pitch.length.mm_float, word.turns - 2),
            (closed, 1.0),
        ):
            self._coil(number, word, pitch, turns)

    def _coil(self, number: int, word: Helix, pitch: float, turns: float) -> None:
        lie = self._lie()
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

    def _scroll(self, number: int, word: Scroll) -> None:
        lie = self._lie()
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
        """Centre-line and neutral-axis length from a scroll's start, part by part; K follows the radius."""
        ends = (self.k_of(lie, start - lie.centroid_mm), self.k_of(lie, finish - lie.centroid_mm))
        if all(abs(k.k * lie.depth_mm - lie.centroid_mm) < 1e-12 for k in ends):
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

    def _twist(self, number: int, word: Twist) -> None:
        length = word.length.length.mm_float
        # The twist carries the section round with it; the bending plane stays.
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

    def _close_leg(self, number: int) -> None:
        """End the straight that is growing; `number` is the word that follows it."""
        if self.leg_words:
            straight = self.leg_mm - sum(setback for setback, _, _ in self.taken)
            if straight < -SAME_MM:
                raise self._short_leg(straight)
            begins = sum(run.flat_mm for run in self.runs)
            self._place_legs(begins, begins + max(0.0, straight))
            self.runs.append(Run("straight", self.leg_words[0], max(0.0, straight), max(0.0, straight)))
        self.leg_mm, self.leg_words, self.taken = 0.0, [], []
        self.leg_lengths, self.before = [], 0.0

    _made: ClassVar[dict[type, Callable[..., None]]] = {
        Arc: _arc,
        Ring: _ring,
        Helix: _helix,
        Scroll: _scroll,
        Twist: _twist,
        Taper: _taper,
        Eye: _eye,
        Hook: _hook,
        Joggle: _joggle,
        Ellipse: _ellipse,
    }

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


def _longer(run: Run, more_mm: float) -> Run:
    """A ring with its ends lapped: the lap follows the ring's own curve."""
    share = more_mm / run.true_mm
    return replace(
        run,
        flat_mm=run.flat_mm + more_mm,
        true_mm=run.true_mm + more_mm,
        angle=run.angle * (1 + share),
    )


def hits_for_gap(angle: float, radius_mm: float, gap_mm: float) -> int:
    """Small bends that keep a curve within `gap_mm` of the one asked for.

    A facet of angle f stands R (1 - cos(f/2)) off the curve, so f = 2 acos(1 - gap/R), which
    is 4 asin(sqrt(gap / 2R)) and keeps its digits in that form.
    """
    if gap_mm >= radius_mm:
        return 1
    facet = degrees(4 * asin(sqrt(gap_mm / (2 * radius_mm))))
    return max(1, ceil(abs(angle) / facet - 1e-9))


def facet_gap_mm(angle: float, radius_mm: float, hits: int) -> float:
    """Gap between the curve and its facets, mm: R (1 - cos(f/2)), f = angle / hits.

    >>> round(facet_gap_mm(90, 1000, 18), 3)
    0.952
    """
    return radius_mm * (1 - cos(radians(abs(angle)) / hits / 2))
