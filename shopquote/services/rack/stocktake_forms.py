"""Columns of rack lists and count sheets, both written and read back."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopquote.calc.units import Measure
from shopquote.reading import kinds
from shopquote.reading.cells import Cell
from shopquote.reading.forms import Form, FormColumn
from shopquote.reading.kinds import Typed
from shopquote.records.rack import RackPiece
from shopquote.services.rack.rack_on_file import list_pieces, walk_key
from shopquote.services.shop.shop_on_file import shop_notation

_CODE = FormColumn("code", kinds.CODE, "")
_BAR = FormColumn("bar", kinds.BAR, blank_is_above=True)
_GRADE = FormColumn("grade", kinds.GRADE, "", blank_is_above=True)
_LENGTH = FormColumn("length", kinds.MEASURE)
# The most that `add_pieces` adds at a time.
_COUNT = FormColumn("count", kinds.count(least=1, most=10_000), 1)
_HEAT = FormColumn("heat", kinds.HEAT, "", aliases=("heat number",))
_PLACE = FormColumn("place", kinds.TEXT, "")
_COST = FormColumn("cost", kinds.money(), Decimal(0))
_NOTE = FormColumn("note", kinds.TEXT, "")
RACK_FORM = Form(
    (
        _CODE, replace(_BAR, needed=True), replace(_GRADE, needed=True), replace(_LENGTH, needed=True),
        _COUNT, _HEAT, _PLACE, _COST, FormColumn("state", kinds.TEXT, ""), FormColumn("job", kinds.TEXT, ""),
        _NOTE,
    )
)  # fmt: skip
COUNT_FORM = Form(
    (
        replace(_CODE, needed=True), _BAR, _GRADE, _LENGTH, _HEAT, _PLACE,
        FormColumn("found", kinds.MEASURE, needed=True), _COUNT, _COST, _NOTE,
    )
)  # fmt: skip
RACK_COLUMNS = RACK_FORM.headings
COUNT_COLUMNS = COUNT_FORM.headings
# What a count sheet's `found` may say of a piece that is not there, in any case of letters.
NOT_THERE = ("0", "no", "none", "missing", "gone", "-")


def rack_rows(session: Session) -> list[list[Cell]]:
    """Cells of `RACK_FORM`, one row for each piece on the rack."""
    notation = shop_notation(session)
    return [
        RACK_FORM.cells(
            _bar_cells(piece)
            | {
                "count": 1, "cost": piece.cost, "state": piece.state, "note": piece.note,
                "job": "" if piece.promised_job is None else piece.promised_job.number,
            },
            notation,
        )
        for piece in list_pieces(session)
    ]  # fmt: skip


def count_rows(session: Session, place: str | None = None) -> list[list[Cell]]:
    """Cells of `COUNT_FORM` to count with, one row for each piece, in walking order; `place` limits it to
    one.
    """
    notation = shop_notation(session)
    pieces = sorted(
        list_pieces(session), key=lambda piece: (walk_key(piece.place), piece.section_key, piece.code)
    )
    return [
        COUNT_FORM.cells(_bar_cells(piece), notation)
        for piece in pieces
        if place is None or kinds.name_key(piece.place) == kinds.name_key(place)
    ]


def _bar_cells(piece: RackPiece) -> dict[str, Any]:
    return {
        "code": piece.code, "bar": Typed(piece.section_key, piece.section_text), "grade": piece.grade,
        "length": Measure("", piece.length), "heat": piece.heat, "place": piece.place,
    }  # fmt: skip
