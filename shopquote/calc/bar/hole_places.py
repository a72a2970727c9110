"""Marks of holes on the straight bar before bending, and their least distance from a bend.

Float mm. A hole is given along the finished part from the start of a leg, by the part's `dims`; its mark on
the bar has the same distance from the leg's tangent points. Begin at `hole_marks`.
"""

from collections.abc import Sequence
from math import radians, tan

from shopquote.calc.bar.develop import Development, LegPlace, Run
from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.end_work import section_at
from shopquote.calc.bar.fit import as_length
from shopquote.calc.bar.holes import drill_mm, face_width_mm
from shopquote.calc.bar.part_answer import HoleMark, Problem
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import BendAxis, HoleSpec
from shopquote.errors import CannotMakeError

# Greatest thickness in mm for which the stamping guide's distances hold; thicker metal is treated as bar.
SHEET_MM = 6.0


@dataclass(frozen=True, slots=True)
class Near:
    """A bend next to a leg: where its near end lies on the straight bar, and its run."""

    at_mm: float
    run: Run


def least_distance_mm(run: Run, depth_mm: float, slot_mm: float = 0.0) -> float:
    """Least distance in mm from the edge of a hole to the beginning of a bend.

    Up to 6 mm thick: 1.5 T + R from the bend, of a slot 2 T + R up to 25 mm long, 2.5 T + R up to 50, 3 T + R
    above, R counted from the inside corner of up to 90 degrees. Source: a public metal stamping design guide.
    Thicker bar: one depth T, over which the strain of the bend dies away (Saint-Venant's principle; derived).

    >>> round(least_distance_mm(Run("bend", 1, 0, 0, angle=90, inside_mm=10), 4), 6)
    6.0
    """
    if depth_mm > SHEET_MM:
        return depth_mm
    share = 1.5
    if slot_mm:
        share = 2.0 if slot_mm <= 25.4 else 2.5 if slot_mm <= 50.8 else 3.0
    turned = min(90.0, abs(run.angle))
    # The guide measures from the corner of the inner faces, which lies R tan(A/2) from where the bend begins.
    return share * depth_mm + run.inside_mm * (1 - tan(radians(turned) / 2))


def hole_marks(
    holes: Sequence[HoleSpec],
    development: Development,
    section: Section,
    axis: BendAxis,
    where: str,
    say: Say,
    ends: tuple[End, End] = (End(), End()),
) -> tuple[tuple[HoleMark, ...], list[Problem]]:
    """Marks of all holes that have places, and their problems.

    `ends`: a hole in a flattened or spread end has that end's width of metal.

    Raises:
        CannotMakeError: a hole names a leg that the part does not have.
    """
    marks: list[HoleMark] = []
    problems: dict[str, Problem] = {}
    for kind, hole in enumerate(holes, start=1):
        if hole.along or not hole.at:
            continue
        if not 1 <= hole.leg <= len(development.legs):
            raise CannotMakeError(
                f"{where}: a hole is on leg {hole.leg}; expected a leg from 1 to {len(development.legs)}."
            )
        leg = development.legs[hole.leg - 1]
        for at, across in hole.places:
            aside = across.length.mm_float if across is not None else 0.0
            mark = _mark(kind, hole, leg, at.length.mm_float, aside, development, section, axis, where)
            marks.append(mark)
            metal = section_at(section, ends, mark.at.mm_float, development.flat_mm)
            for problem in _problems(mark, hole, leg, development, metal, axis, say):
                # Equal holes have equal problems, which are reported once.
                problems.setdefault(problem.message, problem)
    return tuple(marks), list(problems.values())


def _mark(
    kind: int,
    hole: HoleSpec,
    leg: LegPlace,
    at_mm: float,
    across_mm: float,
    development: Development,
    section: Section,
    axis: BendAxis,
    where: str,
) -> HoleMark:
    place = leg.measured_from_mm + at_mm
    half = max(drill_mm(hole, where), hole.slot.length.mm_float if hole.slot else 0.0) / 2
    needs, clear = 0.0, None
    for near in _beside(leg, development):
        slot = hole.slot.length.mm_float if hole.slot else 0.0
        depth = near.run.bending.depth_mm if near.run.bending else section.depth_mm(axis)
        gap = abs(place - near.at_mm) - half
        if not leg.from_mm <= place <= leg.to_mm:
            # A centre beyond the straight is in the bend, however far from the bend's beginning it is.
            gap = min(gap, -half)
        if clear is None or gap < clear:
            clear, needs = gap, least_distance_mm(near.run, depth, slot)
    return HoleMark(
        size=hole.size,
        dia_mm=drill_mm(hole, where),
        thread=hole.thread,
        at=as_length(place),
        across_mm=across_mm,
        leg=hole.leg,
        in_bend=clear is not None and clear < 0,
        clear_mm=clear,
        needs_mm=needs,
        kind=kind,
        face=hole.face,
        measured_from_mm=leg.measured_from_mm,
        begins_mm=leg.from_mm,
    )


def _beside(leg: LegPlace, development: Development) -> list[Near]:
    """The curves at both ends of a leg's straight."""
    found, at = [], 0.0
    for run in development.runs:
        if run.is_curve:
            for edge in (at, at + run.flat_mm):
                if abs(edge - leg.from_mm) < 1e-6 or abs(edge - leg.to_mm) < 1e-6:
                    found.append(Near(edge, run))
        at += run.flat_mm
    return found


def _problems(
    mark: HoleMark,
    hole: HoleSpec,
    leg: LegPlace,
    development: Development,
    section: Section,
    axis: BendAxis,
    say: Say,
) -> list[Problem]:
    name = (
        f"Hole {mark.size} on leg {mark.leg}, {say(mark.at.mm_float - leg.measured_from_mm)} from its start"
    )
    found = []
    half = max(mark.dia_mm, hole.slot.length.mm_float if hole.slot else 0.0) / 2
    if mark.at.mm_float - half < 0 or mark.at.mm_float + half > development.flat_mm:
        found.append(Problem("hole-off-bar", f"{name}: it runs off the end of the bar; move it inward."))
    side = face_width_mm(section, hole, axis) / 2 - abs(mark.across_mm) - mark.dia_mm / 2
    if side <= 0:
        found.append(
            Problem("hole-off-bar", f"{name}: it breaks out at the side of the bar; move it inward.")
        )
    if mark.after_bending and mark.clear_mm is not None:
        short = mark.needs_mm - mark.clear_mm
        lies = "it lies in a bend" if mark.in_bend else f"its edge is {say(mark.clear_mm)} from a bend"
        found.append(
            Problem(
                "hole-in-bend" if mark.in_bend else "hole-near-bend",
                f"{name}: {lies} and needs {say.up(mark.needs_mm)}, or it is drawn out of round; drill it "
                f"after bending, or move it {say.up(short)} further from the bend.",
            )
        )
    return found
