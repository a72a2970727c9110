"""Forging work: the heats of every part and joint, and the time until they are hot.

A heat is minutes at the anvil (`forge.heat`) and in the fire (`forge.soak`, by thickness). Several pieces are
in the fire at once and get hot while another is worked, so each heat bears only a share of the soaking time;
the rest is waited for once, with a part's first pieces. Begin at `forge_minutes`.
"""

from collections.abc import Iterator, Sequence

from shopquote.calc.bar.part_answer import BendAnswer, PartAnswer
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.pricing.end_minutes import end_heats
from shopquote.calc.pricing.hand_minutes import CORNER_HEATS, in_bender
from shopquote.calc.pricing.joint_minutes import joint_heats
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import Pairs, WorkItem

# Length of bar heated at once, and bends made in one heat: common practice, no source.
HEAT_MM = 120.0
# Thickness for which the standard `forge.heat` is given.
USUAL_MM = 16.0
BENDS_A_HEAT = 2


def forge_minutes(job: JobSpec, pairs: Pairs, book: StandardsBook) -> Iterator[WorkItem]:
    """The forging work of a job: lighting the fire once, then the heats of parts and joints."""
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
    """Ratio of a heat's working time to that of bar 16 mm thick.

    A quarter is handling. The rest is in proportion to thickness, which is the ratio of the heat stored to
    the surface that loses it. Above a limit the smith tires before the bar is cold. The shares and the limit
    are common practice, no source.

    >>> hot_for(16), hot_for(8), hot_for(40)
    (1.0, 0.625, 1.5)
    """
    return 0.25 + 0.75 * min(thickness_mm / USUAL_MM, 5 / 3)


def part_heats(part: PartSpec, answer: PartAnswer) -> float:
    """Heats of one piece: as the job says, else for its tapers, ends, hot bends and drifted holes."""
    if part.heats is not None:
        return part.heats
    drifted = sum(hole.count for hole in part.holes if hole.drifted)
    return answer.forge_heats + bend_heats(answer) + end_heats(part, answer) + drifted


def hot_bends(answer: PartAnswer) -> int:
    """Number of bends made hot: too strong for every bender on file, or too tight for cold metal."""
    return sum(bend.hot for bend in in_bender(answer))


def bend_heats(answer: PartAnswer) -> int:
    """Heats of the bends of one piece: two for each sharp corner, one for bends close enough to share it."""
    corners = sum(CORNER_HEATS for bend in answer.bends if bend.by == "fire")
    # A collar's U is made in one heat; closing it is counted with the joint.
    collars = any(bend.by == "wrap" for bend in answer.bends)
    return corners + collars + _shared([b for b in answer.bends if b.hot and b.by not in ("fire", "wrap")])


def _shared(bends: Sequence[BendAnswer]) -> int:
    """Heats of hot bends along the bar: up to `BENDS_A_HEAT` bends within `HEAT_MM` share one."""
    heats, begun, made = 0, 0.0, BENDS_A_HEAT
    for bend in sorted(bends, key=lambda one: one.mark.start.nm):
        start, end = bend.mark.start.mm_float, bend.mark.end.mm_float
        if made == BENDS_A_HEAT or end - begun > HEAT_MM:
            heats, begun, made = heats + 1, start, 0
        made += 1
    return heats


def _joined_cm(job: JobSpec, pairs: Pairs) -> float:
    """Thickness in cm of the thickest part that a forged joint joins; of all parts where none is named."""
    marks = {mark for joint in job.joints for mark in joint.joins}
    found = [answer.section.thickness_mm for part, answer in pairs if not marks or part.mark in marks]
    return max(found, default=10.0) / 10
