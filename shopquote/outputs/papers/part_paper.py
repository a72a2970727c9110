"""The sheet of one part: its drawing, the straight bar, the bends in order, what to check.

Nothing is computed here: results are put into words and passed to the template "parts".
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from shopquote.calc.bar.bend_answers import on_piece
from shopquote.calc.bar.ends import mitre_words
from shopquote.calc.bar.forging import forging_words
from shopquote.calc.bar.hole_words import told_holes
from shopquote.calc.bar.holes import drill_mm, drilled
from shopquote.calc.bar.part_answer import (
    BendAnswer,
    OrderStep,
    PartAnswer,
    rolled_words,
    setting_words,
    shown_pulls,
)
from shopquote.calc.bar.sizes import Say
from shopquote.calc.drawing.before import ROOM_MM, PullPicture, draw_pulls
from shopquote.calc.drawing.model import Projection
from shopquote.calc.drawing.part import PartDrawings, Room, convention, draw_part
from shopquote.calc.drawing.space import draw_symbol
from shopquote.calc.drawing.straight import MOST_LABELS
from shopquote.calc.drawing.weld_places import PlacedWeld, placed_welds
from shopquote.calc.drawing.weld_symbol import draw_weld_symbol
from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.units import Length, Unit, show_angle, show_length, show_mark, show_mass
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.papers.part_card import card_drawings, card_layout, pull_room
from shopquote.outputs.papers.typeset import PngOrPdf, typeset_pages

TYPE_MM = 4.25  # type on a sheet for the floor, a little over 12 pt to be read at arm's length
# Smaller, for a sheet that would be a little longer than a page (templates/part.typ).
SMALLER = Room(flat=(110.0, 48.0), space=(130.0, 80.0))
# A range of degrees as written below a picture.
_IN_SHORT = re.compile(r", between (\S+) and (\S+)")
SQUARE_ENDS = "square / square"
NOTHING_SAID: Mapping[str, str] = MappingProxyType({})
# Where all were tried in vain, and where the shop has none.
NO_BENDER = "no bender on file for it"


def typeset_parts(
    job: JobSpec,
    parts: Sequence[tuple[PartSpec, PartAnswer]],
    *,
    number: str = "",
    shop: str = "",
    paper: str = "A4",
    projection: Projection = "first angle",
    kind: PngOrPdf = "pdf",
) -> list[bytes]:
    """One sheet for each part: as PDF one file with all of them, as PNG one picture for each page."""
    data = {
        "title": f"{number} {job.title}".strip(),
        "job": f"{number} {job.title}".strip(),
        "shop": shop,
        "paper": paper,
        "language": "en",
        "footer": f"{number} {job.title} – straight sizes from the datum end, before bending".strip(),
        "parts": [part_data(job, part, answer, projection) for part, answer in parts],
    }
    return typeset_pages("parts", data, kind)


def part_data(
    job: JobSpec, part: PartSpec, answer: PartAnswer, projection: Projection, *, as_card: bool = False,
    twins: int = 0, said: Mapping[str, str] = NOTHING_SAID,
) -> dict[str, Any]:  # fmt: skip
    """What the template asks of one part; `as_card` a small one takes a part of a page.

    `twins`: how many parts that are made alike share its sheet; `said`: what the paper says once of how bends
    are set on each bender (`settings_said`), which a card leaves out.
    """
    placed = placed_welds(job, part)
    how: dict[str, Any] = {"projection": projection, "size": TYPE_MM, "welds": placed}
    card = card_drawings(part, answer, job.units, **how) if as_card else None
    drawn = card or draw_part(part, answer, job.units, **how)
    smaller = card or draw_part(part, answer, job.units, room=SMALLER, **how)
    # Without a known order it is unknown which end is held, so the bends are only listed.
    pulls = draw_pulls(
        answer, answer.bend_order, size=TYPE_MM, room=pull_room(len(answer.bends)) if card else ROOM_MM
    )
    data = {
        "card": card is not None,
        "mark": part.mark,
        "name": part.name,
        "count": f"{job.quantity(part)} off",
        "bar": f"{part.bar}, {answer.grade_in_full}",
        "facts": _facts(job.units, part, answer, brief=card is not None),
        "finished": svg(drawn.finished, title=f"Part {part.mark}, {part.name}"),
        "smaller": svg(smaller.finished, title=f"Part {part.mark}, {part.name}"),
        "symbol": "" if drawn.flat else svg(draw_symbol(projection)),
        "told": convention(part, drawn),
        "straight_title": f"Straight bar, marks from the {_datum(answer)}",
        "straight": svg(drawn.straight, title=f"Part {part.mark}, straight bar"),
        "notes": _notes(part, answer, job.units, said if card else None),
        "order": answer.order_note or _trapped(answer),
        "step_head": ["Bend", "Mark", "Before it", "Pull to", "Former"],
        "steps": _steps(answer, job.units),
        "pull_title": "Bend by bend, as the bar lies before the pull",
        "pulls": _pulls(answer, job.units, pulls, brief=card is not None),
        "small_title": f"Small bends, marks in {job.units}",
        "small_head": ["No.", "Mark", "Pull to"],
        "small_bends": _small_bends(answer, job.units),
        "hole_title": "Holes, marked on the straight bar",
        "hole_head": ["", "Hole", "A piece", "Where"],
        "holes": _holes(part, answer, job.units, brief=card is not None),
        "weld_title": "Welds that join it, in a set",
        "welds": list(_welds(job, part, placed, drawn.welds_left, projection)),
        "check_title": "Check the first piece",
        "checks": _checks(drawn, brief=card is not None),
        "cautions": list(answer.cautions),
    }
    # A traveller has the cautions of the whole job on its first page.
    told = data | {"cautions": []} if as_card else data
    return told | card_layout(told, card, [pull.drawing for pull in pulls], twins) if card else told


def _notes(part: PartSpec, answer: PartAnswer, unit: Unit, said: Mapping[str, str] | None) -> list[str]:
    """Notes for the whole part: drawing and note, mitres, settings of benders, forging."""
    return [
        *filter(None, [part.drawing and f"drawing {part.drawing}", part.note]),
        *filter(None, [part.hold_words, "all pieces of one heat" if part.one_heat else ""]),
        *([mitre_words(answer.mitres, Say(unit))] if answer.mitres else []),
        *_settings(answer, unit, said),
        *forging_words(answer.runs, Say(unit)),
        *answer.floor_notes,
        *answer.bench_notes,
    ]


def _small_bends(answer: PartAnswer, unit: Unit) -> list[list[str]]:
    """Rows for the small bends of all curves whose pulls or marks are not in the list of bends."""
    return [
        row
        for number, bend in enumerate(answer.bends, start=1)
        if bend.hits > 1 and not bend.unmade and (bend.hits > MOST_LABELS or not _alike(bend))
        for row in _small(number, bend, answer, unit)
    ]


def _checks(drawn: PartDrawings, *, brief: bool) -> list[list[str]]:
    """Checks of the first piece; in brief, overall sizes on one line and equal bends once."""
    checks = [[name, value] for name, value in (drawn.checks if drawn.flat else drawn.schedule)]
    if not brief:
        return checks
    if [name for name, _ in checks[-2:]] == ["overall length", "overall height"]:
        (_, long), (_, high) = checks[-2:]
        checks[-2:] = [["overall", f"{long} x {high}"]]
    short: list[list[str]] = []
    for name, value in checks:
        if short and name.startswith("bend ") and short[-1][0].startswith("bend") and short[-1][1] == value:
            short[-1][0] = f"{short[-1][0]}, {name.removeprefix('bend ')}"
        else:
            short.append([name, value])
    return short


def _facts(unit: Unit, part: PartSpec, answer: PartAnswer, *, brief: bool) -> list[list[str]]:
    """Facts in the head of a sheet; in brief without usual ones and those that a list below has."""
    ends = "; ".join([" / ".join(str(end) for end in part.ends), *_counted_ends(part)])
    holes = ", ".join(drilled(part.holes))
    facts = [
        ["saw length", saw_length(answer.cut, unit)],
        ["ends", ends],
        ["mass each", show_mass(answer.mass_kg, unit, ".3g")],
    ]
    if brief:
        return [[name, value] for name, value in facts if value != SQUARE_ENDS]
    return [*facts, ["holes", holes]]


def _counted_ends(part: PartSpec) -> list[str]:
    """Turned and threaded ends whose number the job gives, but not at which end."""
    said = {
        "turned": sum(end.has("turn") for end in part.ends),
        "threaded": sum(end.has("thread") for end in part.ends),
    }
    told = zip(part.worked_ends, part.worked_words, strict=True)
    return [words for (work, count), words in told if count > said[work]]


def _datum(answer: PartAnswer) -> str:
    return "middle of the bar" if answer.datum == "middle" else f"{answer.datum} end (0)"


def _order_of(answer: PartAnswer) -> Sequence[OrderStep]:
    return answer.bend_order or [
        OrderStep(number, "finish", False, 0.0) for number in range(1, len(answer.bends) + 1)
    ]


def _trapped(answer: PartAnswer) -> str:
    """Why no order of bends was found: the bar runs into itself or its bender."""
    return "; ".join(problem.message for problem in answer.problems if problem.code == "traps-the-bar")


def _steps(answer: PartAnswer, unit: Unit) -> list[list[str]]:
    """A row for each bend in the order of making; equal hand work in a row is described once."""
    rows: list[list[str]] = []
    before = ""
    for step in _order_of(answer):
        row, told = _step(step, answer, unit), answer.bends[step.bend - 1].told
        if told and row[-1] == before:
            row[-1] = "as above"
        else:
            before = row[-1]
        rows.append(row)
    return rows


def _step(step: OrderStep, answer: PartAnswer, unit: Unit) -> list[str]:
    bend = answer.bends[step.bend - 1]
    before = _before(step)
    return [
        str(step.bend),
        _mark(bend, answer, unit),
        ", ".join(before),
        _pull(bend, unit),
        _made_on(bend, unit),
    ]


def _made_on(bend: BendAnswer, unit: Unit) -> str:
    """The bender and the former."""
    former = f"R {show_length(bend.former_radius, unit, exact=True)}" if bend.former_radius else ""
    # "Hot" is said with the pull, in the next column.
    told = bend.told.removeprefix("hot, ").removeprefix("hot: ")
    return ", ".join(filter(None, [told or bend.bender or NO_BENDER, former]))


def _pulls(
    answer: PartAnswer, unit: Unit, pictures: Sequence[PullPicture], *, brief: bool
) -> list[dict[str, str]]:
    """A picture for each bend, with the handling before it and the pull below it."""
    rows, former = [], ""
    for number, picture in enumerate(pictures, start=1):
        bend = answer.bends[picture.bend - 1]
        made_on = _made_on(bend, unit)
        held = picture.step.held_words if number == 1 and not brief else ""
        rows.append(
            {
                "picture": svg(picture.drawing, title=f"Bend {picture.bend} before the pull"),
                "head": f"{number}. bend {picture.bend}: {_mark(bend, answer, unit)}".removesuffix(": "),
                "before": ", ".join(_before(picture.step)) or held,
                "pull": _IN_SHORT.sub(r" (\1 to \2)", _pull(bend, unit)),
                "former": made_on if made_on != former else "",
            }
        )
        former = made_on
    return rows


def _before(step: OrderStep) -> list[str]:
    """How the bar is moved or turned before a bend."""
    before = ["turn end for end"] if step.swap else []
    return before + [words for words in (step.roll_words, step.way and f"to the {step.way}") if words]


def _mark(bend: BendAnswer, answer: PartAnswer, unit: Unit) -> str:
    marks = bend.hit_bender_marks
    if bend.hits > 1 and marks:
        return f"{bend.hits} from {_shown(marks[0], answer, unit)} to {_shown(marks[-1], answer, unit)}"
    return _shown(bend.bender_mark, answer, unit) if bend.bender_mark is not None else ""


def _shown(mark: Length, answer: PartAnswer, unit: Unit) -> str:
    return show_mark(on_piece(mark, answer.datum, answer.cut, unit), unit)


def _alike(bend: BendAnswer) -> bool:
    """Whether all small bends have the same shown pull and the same former."""
    return len(set(shown_pulls(bend.hit_over_bends))) < 2 and len(set(bend.hit_formers)) < 2


def _pull(bend: BendAnswer, unit: Unit) -> str:
    if bend.hot:
        return f"hot, to {show_angle(abs(bend.angle))}"
    if bend.by == "mandrel":
        turns = f"{abs(bend.angle) / 360:.4g}"
        return f"{turns} turn{'' if turns == '1' else 's'}"
    if bend.unmade:
        return f"no bender makes the {show_angle(abs(bend.angle))}"
    if bend.hits > 1:
        each = f"{shown_pulls(bend.hit_over_bends)[0]}° each" if _alike(bend) else "each its own, below"
        return f"{each}; {bend.pull_range}" if bend.pull_range else each
    if rolled := rolled_words(bend, unit):
        return rolled
    between = f", {bend.pull_range}" if bend.pull_range else ""
    return f"{show_angle(abs(bend.over_bend_to))} for {show_angle(abs(bend.angle))}{between}"


def _small(number: int, bend: BendAnswer, answer: PartAnswer, unit: Unit) -> list[list[str]]:
    """A row for each small bend: numbers, mark, pull, and the former where it changes."""
    changes, pulls = len(set(bend.hit_formers)) > 1, shown_pulls(bend.hit_over_bends)
    formers = [f" on R {show_length(former, unit, exact=True)}" for former in bend.hit_formers]
    return [
        [
            f"{number}.{own}",
            _shown(mark, answer, unit).removesuffix(f" {unit}"),
            f"{pull}°{formers[own - 1] if changes else ''}",
        ]
        for own, (mark, pull) in enumerate(zip(bend.hit_bender_marks, pulls, strict=True), start=1)
    ]


def settings_said(answers: Iterable[PartAnswer], unit: Unit) -> dict[str, str]:
    """Settings of each bender on which all bends of these parts are set alike, except for stops."""
    ways: dict[str, set[str]] = {}
    for bend in (bend for answer in answers for bend in answer.bends):
        if bend.bender is not None:
            ways.setdefault(bend.bender, set()).add(setting_words(replace(bend, stop=None), unit, brief=True))
    return {bender: next(iter(words)) for bender, words in ways.items() if len(words) == 1}


def _settings(answer: PartAnswer, unit: Unit, said: Mapping[str, str] | None) -> list[str]:
    """How each bend is set on its bender; `said` are settings printed elsewhere, left out here."""
    by_way: dict[tuple[str, str], list[tuple[str, str]]] = {}
    brief = said is not None
    for number, bend in enumerate(answer.bends, start=1):
        if bend.bender is None:
            continue
        stop = show_mark(bend.stop, unit).removesuffix(f" {unit}") if bend.stop is not None else ""
        words = setting_words(replace(bend, stop=None), unit, brief=brief)
        if said is not None:
            words = "" if said.get(bend.bender) == words else words
            at_mark = bend.stop_end == answer.datum and stop and _mark(bend, answer, unit) == f"{stop} {unit}"
            stop = "" if at_mark else stop
        by_way.setdefault((words, bend.stop_end if stop else ""), []).append((str(number), stop))
    lines = []
    for (words, end), bends in by_way.items():
        stops = f"stop: mark to {end} end {', '.join(stop for _, stop in bends)} {unit}" if end else ""
        told = "; ".join(filter(None, (words, stops)))
        lines += [f"bend {', '.join(number for number, _ in bends)}: {told}"] if told else []
    return lines


def _holes(part: PartSpec, answer: PartAnswer, unit: Unit, *, brief: bool) -> list[list[str]]:
    """Every kind of hole with a place or a note; in brief all, because the head does not name them.

    Sorted by drill size, so that each drill is put in once.
    """
    rows = []
    for told in sorted(told_holes(part, answer, unit), key=lambda told: drill_mm(told.hole)):
        mates = f"pattern {told.hole.pattern}" if told.hole.pattern else ""
        where = "; ".join(filter(None, [told.words, mates, told.hole.note]))
        if where or brief:
            size = " ".join([told.hole.size, *told.hole.sized_works])
            rows.append([told.letter, size, str(told.hole.count), where or "place not given"])
    return rows


def _welds(
    job: JobSpec, part: PartSpec, placed: Sequence[PlacedWeld], left: int, projection: Projection
) -> Iterator[dict[str, str]]:
    """Every weld that joins a part: symbols of welds without a place, notes that no symbol can give."""
    drawn = [one.weld for one in placed] if not left else []
    for weld in job.welds:
        if part.mark in weld.joins or weld in drawn:
            yield {
                "symbol": "" if weld in drawn else _symbol(weld, projection, job.units),
                "words": _weld_words(weld, counted=weld in drawn),
            }


def _symbol(weld: WeldSpec, projection: Projection, unit: Unit) -> str:
    return svg(draw_weld_symbol(weld, projection, size=TYPE_MM, unit=unit), title=f"{weld.kind} weld")


def _weld_words(weld: WeldSpec, *, counted: bool) -> str:
    words = [f"{weld.count} x {weld.kind} {weld.leg.text} x {weld.length.text}" if counted else weld.kind]
    words += [f"joins {' and '.join(weld.joins)}"] if weld.joins else []
    words += [f"at {', '.join(weld.at)}"] if counted else []
    words += [f"{weld.passes} passes"] if weld.passes > 1 else []
    return "; ".join([", ".join(words), *filter(None, [weld.note])])


def saw_length(length: Length, unit: Unit) -> str:
    """A saw length: to a tenth of a millimetre, or to 1/16 in."""
    if unit == "in":
        return show_length(length, unit)
    return f"{length.mm_float:.1f}".removesuffix(".0") + " mm"
