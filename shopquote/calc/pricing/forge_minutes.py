"""The work in the fire: heats of every part and joint, the wait for them, several pieces in the fire at once.

A heat is minutes at the anvil (`forge.heat`) and in the fire (`forge.soak`, by thickness). While one piece
is worked the others get hot, so that each waits its share of the fire alone; the first of a part wait out
the rest. Begin at `forge_minutes`.
"""

from collections.abc import Iterator, Sequence

from shopquote.calc.bar.part_answer import BendAnswer, PartAnswer
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.pricing.end_minutes import end_heats
from shopquote.calc.pricing.hand_minutes import CORNER_HEATS, in_bender
from shopquote.calc.pricing.joint_minutes import joint_heats
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import Pairs, WorkItem

# Bar that one heat makes hot, and bends that are made before it is cold: common practice, no source.
HEAT_MM = 120.0
# Bar that `forge.heat` is told for.
USUAL_MM = 16.0
BENDS_A_HEAT = 2


def forge_minutes(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    """The fire is lit once; then part by part and joint by joint, heat by heat."""
    forged = [(part, answer, heats) for part, answer in pairs if (heats := part_heats(part, answer))]
    in_joints = joint_heats(job)
    if forged or in_joints:
        yield WorkItem("forging", "light and set up the forge", "forge.set-up", "set-up", per_job=1)
    alone = 1 / max(1.0, float(book.value("forge.irons")))
    for part, answer, heats in forged:
        soak = heats * answer.section.thickness_mm / 10
        worked = part.per_set * heats * hot_for(answer.section.thickness_mm)
        yield WorkItem("forging", "work a heat", "forge.heat", "run", worked, mark=part.mark)
        yield WorkItem(
            "forging", "get it hot", "forge.soak", "run", part.per_set * soak * alone, mark=part.mark
        )
        yield WorkItem(
            "forging", "wait for the first pieces", "forge.soak", "set-up", per_job=soak * (1 - alone),
            mark=part.mark,
        )  # fmt: skip
    if in_joints:
        soak = in_joints * _joined_cm(job, pairs)
        worked = in_joints * hot_for(10 * _joined_cm(job, pairs))
        yield WorkItem("forging", "work a heat", "forge.heat", "run", worked)
        yield WorkItem("forging", "get it hot", "forge.soak", "run", soak * alone)


def hot_for(thickness_mm: float) -> float:
    """How long a heat is worked beside that of bar 16 mm thick.

    A quarter is out of the fire and back; the rest goes as the thickness, as the heat that a bar holds for
    each square millimetre that loses it. Thicker bar is put back when the arm tires, not when it is cold.
    Both shares and the limit: common practice, no source.

    >>> hot_for(16), hot_for(8), hot_for(40)
    (1.0, 0.625, 1.5)
    """
    return 0.25 + 0.75 * min(thickness_mm / USUAL_MM, 5 / 3)


def part_heats(part: PartSpec, answer: PartAnswer) -> float:
    """Heats of one piece: as the job says, else its tapers, ends, hot bends and drifted holes."""
    if part.heats is not None:
        return part.heats
    drifted = sum(hole.count for hole in part.holes if hole.drifted)
    return answer.forge_heats + bend_heats(answer) + end_heats(part, answer) + drifted


def hot_bends(answer: PartAnswer) -> int:
    """Bends that are taken hot: too strong for every bender on file, or too tight for the cold metal."""
    return sum(bend.hot for bend in in_bender(answer))


def bend_heats(answer: PartAnswer) -> int:
    """Heats of the bends of one piece: two for each corner, one for neighbours that are hot together."""
    corners = sum(CORNER_HEATS for bend in answer.bends if bend.by == "fire")
    # A collar's U is made in one heat; closing it is the joint's.
    collars = any(bend.by == "wrap" for bend in answer.bends)
    return corners + collars + _shared([b for b in answer.bends if b.hot and b.by not in ("fire", "wrap")])


def _shared(bends: Sequence[BendAnswer]) -> int:
    """Heats that hot bends take along the bar: as many as lie within one, up to two, share it."""
    heats, begun, made = 0, 0.0, BENDS_A_HEAT
    for bend in sorted(bends, key=lambda one: one.mark.start.nm):
        start, end = bend.mark.start.mm_float, bend.mark.end.mm_float
        if made == BENDS_A_HEAT or end - begun > HEAT_MM:
            heats, begun, made = heats + 1, start, 0
        made += 1
    return heats


def _joined_cm(job: JobSpec, pairs: Pairs) -> float:
    """Thickness of the thickest part that a joint in the fire joins, cm; of all parts where none is named."""
    marks = {mark for joint in job.joints for mark in joint.joins}
    found = [answer.section.thickness_mm for part, answer in pairs if not marks or part.mark in marks]
    return max(found, default=10.0) / 10
