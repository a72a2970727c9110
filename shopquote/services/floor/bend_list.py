"""The bend sheet's rows: where each part is marked, on which bender it is bent and how far it is pulled."""

from collections.abc import Mapping

from shopquote.calc.bar.bend_answers import on_piece
from shopquote.calc.bar.forging import forging_words
from shopquote.calc.bar.part_answer import BendAnswer, OrderStep, PartAnswer, rolled_words, setting_words
from shopquote.calc.bar.shapes import told_in_full
from shopquote.calc.bar.sizes import Say
from shopquote.calc.job import JobSpec
from shopquote.calc.units import Unit
from shopquote.services.floor.floor_sheet import BendPart, FloorBend


def bend_list(spec: JobSpec, answers: Mapping[str, PartAnswer]) -> tuple[BendPart, ...]:
    """Parts that are bent, twisted or forged, each with its bends in the order of bending."""
    rows = []
    for part in spec.parts:
        answer = answers[part.mark]
        if not (answer.bends or answer.twists or answer.forge_heats):
            continue
        problems = tuple(filter(None, [part.hold_words, *(found.message for found in answer.problems)]))
        rows.append(
            BendPart(
                part.mark, part.name, spec.quantity(part), part.bar, answer.grade_in_full, answer.cut,
                told_in_full(part.shape or ""), answer.centreline_mm, _in_order(answer, spec.units),
                answer.order_note, problems, forging_words(answer.runs, Say(spec.units)),
            )
        )  # fmt: skip
    return tuple(rows)


def _in_order(answer: PartAnswer, unit: Unit) -> tuple[FloorBend, ...]:
    """The bends in the order of bending, if one was found, else along the bar."""
    if not answer.bend_order:
        turned = ["turn the bar to the new plane" if bend.is_3d else "" for bend in answer.bends]
        return tuple(
            _bend(number, bend, before, unit, answer)
            for number, (bend, before) in enumerate(zip(answer.bends, turned, strict=True), 1)
        )
    return tuple(
        _bend(step.bend, answer.bends[step.bend - 1], _before(step), unit, answer)
        for step in answer.bend_order
    )


def _before(step: OrderStep) -> str:
    words = ["turn end for end"] if step.swap else []
    if step.roll_words:
        words.append(step.roll_words)
    if step.way:
        words.append(f"to the {step.way}")
    return ", ".join(words)


def _bend(number: int, bend: BendAnswer, before: str, unit: Unit, answer: PartAnswer) -> FloorBend:
    mark = bend.bender_mark if bend.bender_mark is not None else bend.mark.start
    small = bend.hits > 1
    marks = [on_piece(place, answer.datum, answer.cut, unit) for place in (mark, *bend.hit_bender_marks)]
    return FloorBend(
        number,
        before,
        marks[0],
        bend.bender_mark_at,
        bend.angle,
        bend.hit_over_bend if small else bend.over_bend_to,
        bend.inside_radius,
        bend.former_radius,
        bend.bender or "",
        bend.hits,
        tuple(marks[1:]),
        bend.over_bend_source,
        bend.pull_range,
        bend.hit_over_bends,
        bend.hit_formers,
        bend.hit_turn,
        "" if bend.bender is None else setting_words(bend, unit),
        bend.stop,
        bend.stop_end,
        bend.told,
        bend.hot,
        bend.unmade,
        rolled_words(bend, unit),
    )
