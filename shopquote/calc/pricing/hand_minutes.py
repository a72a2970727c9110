"""Work on bends made without a bender: eyes, joggles, folds and coils; hot ones are counted in heats."""

from collections.abc import Iterator, Sequence

from shopquote.calc.bar.by_hand import MadeBy, notch_of, notched_leg_mm
from shopquote.calc.bar.part_answer import BendAnswer, PartAnswer
from shopquote.calc.pricing.work_items import Pairs, WorkItem

# By way of making: the set-up for each bar size and radius with its standard, the work with its standard.
_WAYS: dict[MadeBy, tuple[str, str, str, str]] = {
    "pin": ("set a pin", "eye.set-up", "roll on a pin", "eye.bend"),
    "blocks": ("set joggle blocks", "joggle.set-up", "press a joggle", "joggle.bend"),
    "notch": ("set up to notch", "fold.set-up", "notch and fold", "fold.bend"),
    "mandrel": ("turn a mandrel, wind a test coil", "coil.set-up", "start and end a coil", "coil.piece"),
}
# A sharp corner takes one heat to upset and one to bend and square it, as FAO AH635E describes it.
CORNER_HEATS = 2


def in_bender(answer: PartAnswer) -> Sequence[BendAnswer]:
    """The bends of a part that are made on a bender."""
    return [bend for bend in answer.bends if bend.by == "bender"]


def hand_minutes(pairs: Pairs) -> Iterator[WorkItem]:
    """Set-ups for each bar size and radius in the job, then the bends; a joggle's two bends are one press."""
    for by, (set_up, set_standard, what, standard) in _WAYS.items():
        made = [(part, answer, _made(answer, by)) for part, answer in pairs]
        sizes = {(answer.section.key, bend.inside_radius.nm) for _, answer, bends in made for bend in bends}
        if sizes:
            yield WorkItem("bending", set_up, set_standard, "set-up", per_job=len(sizes))
        for part, answer, bends in made:
            count = len(bends) / 2 if by == "blocks" else len(bends)
            if not count:
                continue
            if by == "mandrel":
                turns = sum(abs(bend.angle) for bend in bends) / 360
                yield WorkItem(
                    "bending", "wind a turn", "coil.turn", "run", part.per_set * turns, mark=part.mark
                )
                count = 1
            yield WorkItem("bending", what, standard, "run", part.per_set * count, mark=part.mark)
            if by == "notch":
                leg = notched_leg_mm(answer.section, part.bend_axis)
                weld = sum(notch_of(bend.angle, leg, answer.section.thickness_mm).weld_mm for bend in bends)
                yield WorkItem(
                    "welding", "close folds", "fold.weld", "run", part.per_set * weld / 10, mark=part.mark
                )


def _made(answer: PartAnswer, by: MadeBy) -> list[BendAnswer]:
    return [bend for bend in answer.bends if bend.by == by]
