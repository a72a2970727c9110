"""The card of a small part on a traveller: its drawings and its estimated height, so that pages are filled.

The template decides the layout. The height is estimated here from the same texts and pictures, rather a
little too large than too small, because measuring every card in the template took longer than setting it.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.drawing.model import Drawing
from shopquote.calc.drawing.outline import is_flat
from shopquote.calc.drawing.part import PartDrawings, Room, draw_part
from shopquote.calc.drawing.widths import text_width
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Unit

# Outline and straight bar side by side, up to so many bends; of a column's width, so that no type is shrunk.
ROOMS = tuple(
    Room(flat=flat, space=(0.0, 0.0), bar=80.0) for flat in ((52.0, 25.0), (44.0, 21.0), (34.0, 16.0))
)
WIDEST_MM = 85.0
MOST_BENDS = 4
# Room for the picture of a pull by their number: one has its words beside it, two stand side by side, more
# have a row over both columns.
PULL_MM = {1: (30.0, 16.0), 2: (42.0, 16.0), 3: (27.0, 16.0)}
TWIN_MM = 14.0  # a line for a part that is made alike

# As the template has it, mm: a column, the head with its air, air between blocks, a line of 12 pt and what
# the last lacks, air round a drawing.
COLUMN, HEAD, AIR, LINE, BELOW, MARGIN = 87.0, 13.0, 2.0, 5.1, 2.0, 2.0
# Of the head: the width between mark and code, how much larger the name is, the air below it.
MARK_LETTERS = 3  # a longer mark is set smaller, in a wider box
SLACK = 1.8  # allowance for the sum of small roundings
HEAD_WIDE, NAME_LARGER, BETWEEN = 144.0, 16 / 12, 2.4
TYPE_MM = 12 * 25.4 / 72
NARROWER = 0.97  # bold words are wider than the plain widths used here
TICKED = 1.08  # boxes to tick extend below their line
BOTH = 178.0  # both columns and the gap between
MOST_ACROSS = 3  # pulls in a row over both columns
BETWEEN_PULLS, BESIDE_PULL = 3.0, 3.0  # gap between them, and between a picture and its words


def card_drawings(part: PartSpec, answer: PartAnswer, unit: Unit, **how: Any) -> PartDrawings | None:
    """The drawings of a part that is simple enough for a card: flat, of few bends, none in small ones."""
    simple = len(answer.bends) <= MOST_BENDS and all(bend.hits == 1 for bend in answer.bends)
    if not (simple and is_flat(answer.runs)):
        return None
    drawings = (draw_part(part, answer, unit, room=room, **how) for room in ROOMS)
    return next((d for d in drawings if max(d.finished.width, d.straight.width) <= WIDEST_MM), None)


def pull_room(bends: int) -> tuple[float, float]:
    """Room for each picture of a card's pulls, mm."""
    return PULL_MM[min(max(bends, 1), max(PULL_MM))]


def card_layout(
    data: dict[str, Any], drawn: PartDrawings, pulls: Sequence[Drawing], twins: int
) -> dict[str, Any]:
    """Height of a part's card in mm and its layout, chosen for the least height.

    Its notes stand in the left or the right column or below both; or all but its drawings and lists has rows
    over both columns, `across` pulls side by side. `twins`: how many parts that are made alike share it.
    """
    checked, notes = _checked(data["checks"]), data["notes"]
    left = [_tall(drawn.finished)]
    right = [_tall(drawn.straight)] if data["steps"] else []
    listed = list(_listed(data))
    columns = (
        [*left, _lines([checked], COLUMN * NARROWER) * TICKED],
        [*right, *_pulls(data["pulls"], pulls), *listed],
    )
    told = _lines(notes)
    sides = {
        "right": max(_stacked(columns[0]), _stacked([*columns[1], told])),
        "left": max(_stacked([*columns[0], told]), _stacked(columns[1])),
        "below": max(map(_stacked, columns)) + AIR + _lines(notes, BOTH),
    }
    across = min(MOST_ACROSS, len(pulls))
    if pulls:
        head = _lines([_one_former(data["pulls"])])
        rows = [
            *_rows(data["pulls"], pulls, across),
            _lines([checked], BOTH * NARROWER) * TICKED,
            _lines(notes, BOTH),
        ]
        sides["across"] = _stacked([max(_stacked(left), _stacked([*right, head, *listed])), *rows])
    side = min(sides, key=lambda name: sides[name])
    tall = _head(data) + AIR + SLACK + sides[side] + _lines(data["cautions"], BOTH) + twins * TWIN_MM
    return {"tall": tall, "notes_at": side, "across": across}


def _listed(data: dict[str, Any]) -> Iterator[float]:
    """Heights of a card's lists in mm: bends without pictures, holes, welds."""
    if data["steps"] and len(data["pulls"]) != len(data["steps"]):
        yield _lines([data["order"], *(", ".join(step) for step in data["steps"])]) + AIR
    for letter, size, count, place in data["holes"]:
        yield _lines([f"{letter} {size}, {count} a piece: {place}"])
    if data["welds"]:
        beside = (18.0 if weld["symbol"] else _lines([weld["words"]]) + AIR + BELOW for weld in data["welds"])
        yield LINE + BELOW + sum(beside)


def _stacked(blocks: Sequence[float]) -> float:
    return max(0.0, sum(block + AIR for block in blocks if block) - AIR)


def _head(data: dict[str, Any]) -> float:
    """The head: the name beside scale and number, the facts below, each on as many lines as it needs."""
    # A long mark takes a wider box, which leaves less room beside it.
    marked = max(0.0, text_width(data["mark"], TYPE_MM * 13 / 12) / NARROWER**2 + 2.4 - HEAD)
    marked = marked if len(data["mark"]) > MARK_LETTERS else 0.0
    beside = text_width(data["told"], TYPE_MM) + text_width(data["count"], TYPE_MM * 1.5) + 8.0 + marked
    # The name is set larger, so its room is scaled as if it had the plain size.
    names = _lines([data["name"]], max(COLUMN / 4, HEAD_WIDE - beside) / NAME_LARGER * NARROWER) * NAME_LARGER
    facts = " ".join(
        [data["bar"], *("--" + f"{name} {value}".replace(" ", "-") for name, value in data["facts"] if value)]
    )
    return max(HEAD, names + BETWEEN + _lines([facts], HEAD_WIDE - marked))


def _tall(drawing: Drawing) -> float:
    shrunk = min(1.0, COLUMN / (drawing.width + MARGIN))
    return (drawing.height + MARGIN) * shrunk


def _checked(checks: Sequence[Sequence[str]]) -> str:
    """The line of checks if there are several; a box to tick counts as three characters."""
    if len(checks) < 2:
        return ""
    return "Check the first piece: " + " ".join(
        f"[x]-{name}-{value}".replace(" ", "-") for name, value in checks
    )


def _one_former(told: Sequence[dict[str, str]]) -> str:
    """Bender and former if all pulls share them, to be said once above the pictures."""
    formers = [pull["former"] for pull in told if pull["former"]]
    return formers[0] if len(formers) == 1 else ""


def _rows(told: Sequence[dict[str, str]], pictures: Sequence[Drawing], across: int) -> Iterator[float]:
    """Heights of rows over both columns, the words of each pull beside its picture."""
    wide = (BOTH - BETWEEN_PULLS * (across - 1)) / across
    alike = _one_former(told)
    for at in range(0, len(told), across):
        beside = (
            max(
                _tall(drawn),
                sum(
                    _lines([line], (wide - drawn.width - MARGIN - BESIDE_PULL) * NARROWER)
                    for line in (pull["head"], pull["before"], pull["pull"], "" if alike else pull["former"])
                    if line
                )
                + 1.4 * 2,
            )
            for pull, drawn in zip(told[at : at + across], pictures[at : at + across], strict=True)
        )
        yield max(beside)


def _pulls(told: Sequence[dict[str, str]], pictures: Sequence[Drawing]) -> Iterable[float]:
    alike = bool(_one_former(told)) and len(told) > 1
    for at in range(0, len(told), 2):
        row, drawn = told[at : at + 2], pictures[at : at + 2]
        high = max(map(_tall, drawn))
        beside = len(row) == 1
        wide = COLUMN - drawn[0].width - MARGIN - 3 if beside else (COLUMN - 1) / 2
        words = max(
            sum(
                _lines([line], wide * (NARROWER if line == pull["head"] else 1.0))
                for line in (pull["head"], pull["before"], pull["pull"], "" if alike else pull["former"])
            )
            for pull in row
        )
        yield (LINE if alike and not at else 0) + (max(high, words) if beside else high + words + AIR)


def _lines(texts: Iterable[str], wide: float = COLUMN) -> float:
    """Height in mm of texts, each on a new line, broken between words."""
    lines = sum(_broken(text, wide) for text in texts if text)
    return lines * LINE - BELOW if lines else 0.0


def _broken(text: str, wide: float) -> int:
    lines, at, blank = 1, 0.0, text_width(" ", TYPE_MM)
    for word in text.split():
        long = text_width(word, TYPE_MM)
        if at and at + long > wide:
            lines, at = lines + 1, 0.0
        at += long + blank
    return lines
