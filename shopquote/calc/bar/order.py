"""A bending order in which the bar never hits former, bench or itself.

At each bend one side of the bar is held and the other swings. Legs already bent must stay clear of former and
bench, and the swinging side clear of the held one; `swing` checks one bend. Begin at `bend_order`.
"""

from collections.abc import Sequence
from dataclasses import field

from shopquote.calc.bar.centreline import trace_partly
from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.part_answer import OrderStep
from shopquote.calc.bar.swing import End, Step, sides_of, what_is_hit
from shopquote.calc.frozen import dataclass

# Bends checked in a search: the number of orders grows with the factorial of the bends.
MOST_TRIES = 150
# Greatest number of bends ordered: time grows with its square, since each pull is checked against all bent
# legs.
MOST_ORDERED = 60
MOST_SEARCHED = 12  # bends; parts with more are tried in the usual orders only


@dataclass(frozen=True, slots=True)
class BendOrder:
    """The steps in order; or none, and what the bar would hit, or in `note` why none was sought."""

    steps: tuple[OrderStep, ...]
    trapped_by: str = ""
    note: str = ""


@dataclass
class _OrderSearch:
    runs: Sequence[Run]
    steps: Sequence[Step]
    laps: bool
    known: dict[tuple[int, int, End], str] = field(default_factory=dict)
    tries: int = 0

    def trap(self, made: int, step: int, end: End) -> str:
        """What a bend would hit if the bends in the bit set `made` are there already; "" when clear."""
        key = (made, step, end)
        if key not in self.known:
            self.tries += 1
            self.known[key] = self._trap(made, step, end)
        return self.known[key]

    def _trap(self, made: int, step: int, end: End) -> str:
        if not made or self.steps[step].how == "by hand":
            return ""
        done = {self.steps[other].run for other in range(len(self.steps)) if made >> other & 1}
        frames, points = trace_partly(self.runs, done)
        this = self.steps[step]
        held, swung = sides_of(self.runs, this, frames, points, end)
        ways = (1.0, -1.0) if this.bender.both_ways else (1.0,)
        reasons = [what_is_hit(this, self.runs[this.run], held, swung, up, self.laps) for up in ways]
        return min(reasons, key=len)


def bend_order(runs: Sequence[Run], steps: Sequence[Step], *, laps: bool = False) -> BendOrder:
    """An order that keeps the bar clear: among the usual ones, else by a search.

    `laps`: the finished bar lies along itself, so it is sprung aside anyway and its own legs are not checked
    against each other. Of the usual orders that are clear, the one with the least handling is taken.
    """
    if not steps:
        return BendOrder(())
    if len(steps) > MOST_ORDERED:
        return BendOrder((), note=f"more than {MOST_ORDERED} bends: no order is worked out")
    search = _OrderSearch(runs, steps, laps)
    usual = _usual_orders(len(steps))
    if all(step.works_by == "wipe" for step in steps):
        # The clamped end does not swing: with the start clamped each mark lies where its bend starts.
        usual[:2] = usual[1::-1]
    for order in sorted(usual, key=lambda order: _effort(runs, steps, order)):
        if _is_clear(search, order):
            return BendOrder(_told(order, runs, steps))
    if len(steps) <= MOST_SEARCHED:
        found = _searched(search, 0, set())
        if found is not None:
            return BendOrder(_told(found, runs, steps))
    return BendOrder((), _first_trap(search, _usual_orders(len(steps))[0]))


Sequenced = list[tuple[int, End]]


def _usual_orders(count: int) -> list[Sequenced]:
    forward, backward = list(range(count)), list(range(count - 1, -1, -1))
    half = count // 2
    orders: list[Sequenced] = [
        [(step, "finish") for step in forward],
        [(step, "start") for step in backward],
        [(step, "start") for step in forward],
        [(step, "finish") for step in backward],
    ]
    if count > 2:
        # From both ends inward, turned end for end once; and from the middle outward.
        ends_in: Sequenced = [(step, "finish") for step in forward[:half]]
        ends_in += [(step, "start") for step in backward[: count - half]]
        middle_out: Sequenced = [(step, "start") for step in forward[half:]]
        middle_out += [(step, "finish") for step in backward[count - half :]]
        orders += [ends_in, middle_out]
    return orders


def _is_clear(search: _OrderSearch, order: Sequenced) -> bool:
    made = 0
    for step, end in order:
        if search.trap(made, step, end):
            return False
        made |= 1 << step
    return True


def _first_trap(search: _OrderSearch, order: Sequenced) -> str:
    made = 0
    for step, end in order:
        reason = search.trap(made, step, end)
        if reason:
            return f"bend {step + 1} {reason}"
        made |= 1 << step
    return ""


def _searched(search: _OrderSearch, made: int, failed: set[int]) -> Sequenced | None:
    count = len(search.steps)
    if made == (1 << count) - 1:
        return []
    if made in failed or search.tries > MOST_TRIES:
        return None
    for step in range(count):
        if made >> step & 1:
            continue
        for end in ("finish", "start"):
            side: End = "finish" if end == "finish" else "start"
            if search.trap(made, step, side):
                continue
            rest = _searched(search, made | 1 << step, failed)
            if rest is not None:
                return [(step, side), *rest]
            break  # whichever end is held, the same bends are then made, so the rest fails too
    failed.add(made)
    return None


def _effort(runs: Sequence[Run], steps: Sequence[Step], order: Sequenced) -> float:
    told = _told(order, runs, steps)
    return sum(2.0 * step.swap + (1.0 if step.roll else 0.0) for step in told)


def _told(order: Sequenced, runs: Sequence[Run], steps: Sequence[Step]) -> tuple[OrderStep, ...]:
    """The steps with how the bar is turned before each."""
    turned = _turned_to(runs, steps)
    told: list[OrderStep] = []
    before: tuple[End, float] | None = None
    for step, end in order:
        run = runs[steps[step].run]
        up = turned[steps[step].run]
        if not steps[step].bender.both_ways:
            up += 180.0 * (run.angle < 0) + 180.0 * (end == "finish")
        swap = before is not None and before[0] != end
        roll = 0.0 if before is None else _half_turns(up - before[1])
        way = ""
        if steps[step].bender.both_ways:
            way = "left" if (run.angle > 0) == (end == "start") else "right"
        told.append(OrderStep(step + 1, end, swap, roll, steps[step].works_by, way))
        # A coil leaves the bar turned by as much as its own plane turned along it.
        before = (end, up + steps[step].torsion)
    return tuple(told)


def _half_turns(angle: float) -> float:
    """An angle in degrees reduced to above -180 and up to 180."""
    left = round(angle % 360.0, 6)
    return left - 360.0 if left > 180.0 else left


def _turned_to(runs: Sequence[Run], steps: Sequence[Step]) -> list[float]:
    """Angle in degrees of each run's bending plane about the straight bar."""
    along = {step.run: step.torsion for step in steps}
    total, turned = 0.0, []
    for at, run in enumerate(runs):
        total += run.turn
        turned.append(total)
        total += along.get(at, 0.0)
    return turned


def told_in_words(order: BendOrder) -> str:
    """The order in words for the floor, on one line.

    >>> told_in_words(BendOrder((OrderStep(1, "finish", False, 0.0), OrderStep(2, "finish", False, 180.0))))
    'clamp the start end, the finish end is drawn in: bend 1, turn over, bend 2'
    """
    words: list[str] = [order.note] if order.note else []
    before: OrderStep | None = None
    for step in order.steps:
        if step.swap:
            words.append("turn end for end")
        if step.roll_words:
            words.append(step.roll_words)
        lead = ""
        if before is None or (before.end, before.works_by) != (step.end, step.works_by):
            lead = f"{_LEADS[step.works_by].format(grip=step.grip, end=step.end, other=_OTHER[step.end])}: "
        words.append(f"{lead}bend {step.bend}{f' to the {step.way}' if step.way else ''}")
        before = step
    return ", ".join(words)


_OTHER = {"start": "finish", "finish": "start"}
_LEADS = {
    "draw": "clamp the {grip} end, the {end} end is drawn in",
    "wipe": "clamp the {grip} end, the {other} end swings",
    "ram": "{other} end first under the ram, no end clamped",
    "rolls": "{other} end first through the rolls",
    "hand": "by hand",
}
