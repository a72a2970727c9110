"""Evaluates the formulas of a workbook, so that each is stored with its result.

Programs that do not calculate (previews, phones, data readers) show the result stored beside a formula.
Only what our own formulas use is evaluated: numbers, texts, cells, ranges, + - * /, comparisons, and the
functions of `_FUNCTIONS`. Begin at `figures_of`.
"""

import re
from collections.abc import Callable, Sequence
from decimal import ROUND_HALF_UP, ROUND_UP, Context, Decimal, localcontext
from functools import lru_cache

from openpyxl.utils import coordinate_to_tuple

from shopquote.calc.frozen import dataclass
from shopquote.outputs.books.book import Book

Figure = Decimal | str | None
Place = tuple[str, int, int]  # sheet, row, column

_TOKEN = re.compile(
    r"""\s*(?:(?P<number>\d+(?:\.\d+)?)|"(?P<text>(?:[^"]|"")*)"
    |(?P<cell>(?:'(?P<sheet>[^']+)'!)?\$?[A-Z]{1,3}\$?\d+(?![\w(]))
    |(?P<name>[A-Z]+)\(|(?P<sign><=|>=|<>|[-+*/(),:<>=]))""",
    re.VERBOSE,
)
_COMPARED: dict[str, Callable[[Decimal, Decimal], bool]] = {
    "=": Decimal.__eq__, "<>": Decimal.__ne__, "<": Decimal.__lt__,
    ">": Decimal.__gt__, "<=": Decimal.__le__, ">=": Decimal.__ge__,
}  # fmt: skip


def figures_of(book: Book) -> dict[Place, Decimal | None]:
    """The result of each formula by sheet, row and column; None for a division by zero.

    Raises:
        ValueError: a formula uses anything else, refers to itself, or gives a text.
    """
    sheets = {sheet.title: sheet for sheet in book.worksheets}
    held: dict[Place, Figure] = {}
    under_way: set[Place] = set()

    def figure(place: Place) -> Figure:
        if place in held:
            return held[place]
        title, row, column = place
        cell = sheets[title]._cells.get((row, column))
        if cell is None or cell.value is None:
            return None
        if cell.data_type != "f":
            return Decimal(str(cell.value)) if cell.data_type == "n" else str(cell.value)
        if place in under_way:
            raise ValueError(f"{title} row {row} column {column} refers to itself")
        under_way.add(place)
        held[place] = worked = _Reader(str(cell.value), title, figure).whole()
        return worked

    found: dict[Place, Decimal | None] = {}
    # IF evaluates both branches, so a division by zero must not raise: that branch may not be taken.
    with localcontext(Context(traps=[])):
        for title, sheet in sheets.items():
            for (row, column), cell in sheet._cells.items():
                if cell.data_type == "f":
                    worked = figure((title, row, column))
                    if not isinstance(worked, Decimal):
                        raise ValueError(f"{title} row {row} column {column} comes to no figure")
                    found[title, row, column] = worked if worked.is_finite() else None
    return found


@dataclass(frozen=True, slots=True)
class _Range:
    """A rectangle of cells on a sheet."""

    places: Sequence[Place]


_Value = Decimal | str | bool | None | _Range


@lru_cache(maxsize=4096)
def _at(cell: str) -> tuple[str, int, int]:
    sheet, _, address = cell.rpartition("!")
    return (sheet.strip("'"), *coordinate_to_tuple(address.replace("$", "")))


class _Reader:
    """Recursive descent evaluator of one formula."""

    def __init__(self, formula: str, sheet: str, figure: Callable[[Place], Figure]) -> None:
        self.formula, self.sheet, self.figure = formula, sheet, figure
        self.tokens = list(_tokens(formula))
        self.next = 0

    def whole(self) -> Figure:
        """The result of the whole formula."""
        value = self._one(self._compared())
        if self.next < len(self.tokens):
            raise ValueError(f"{self.formula!r} is no formula of ours at {self.tokens[self.next]}")
        return Decimal(value) if isinstance(value, bool) else value

    def _take(self, *signs: str) -> str:
        """Consume the next token if it is one of these and return it; else return nothing."""
        if self.next < len(self.tokens) and self.tokens[self.next] in [("sign", sign) for sign in signs]:
            self.next += 1
            return self.tokens[self.next - 1][1]
        return ""

    def _compared(self) -> _Value:
        value = self._sum()
        if sign := self._take(*_COMPARED):
            return _COMPARED[sign](self._number(value), self._number(self._sum()))
        return value

    def _sum(self) -> _Value:
        value = self._product()
        while sign := self._take("+", "-"):
            other = self._number(self._product())
            value = self._number(value) + other if sign == "+" else self._number(value) - other
        return value

    def _product(self) -> _Value:
        value = self._signed()
        while sign := self._take("*", "/"):
            other = self._number(self._signed())
            value = self._number(value) * other if sign == "*" else self._number(value) / other
        return value

    def _signed(self) -> _Value:
        return -self._number(self._signed()) if self._take("-") else self._single()

    def _single(self) -> _Value:
        kind, text = self.tokens[self.next] if self.next < len(self.tokens) else ("end", "")
        self.next += 1
        if kind == "number":
            return Decimal(text)
        if kind == "text":
            return text
        if kind == "cell":
            return self._cells(text)
        if kind == "name" and text in _FUNCTIONS:
            return _FUNCTIONS[text](self, self._arguments())
        if text == "(":
            value = self._compared()
            self._end()
            return value
        raise ValueError(f"{self.formula!r} is no formula of ours at {text!r}")

    def _cells(self, text: str) -> _Range:
        sheet, row, column = _at(text)
        sheet = sheet or self.sheet
        if not self._take(":"):
            return _Range([(sheet, row, column)])
        _, last_row, last_column = _at(self.tokens[self.next][1])
        self.next += 1
        rows, columns = sorted((row, last_row)), sorted((column, last_column))
        return _Range(
            [(sheet, r, c) for r in range(rows[0], rows[1] + 1) for c in range(columns[0], columns[1] + 1)]
        )

    def _arguments(self) -> list[_Value]:
        values = [self._compared()]
        while self._take(","):
            values.append(self._compared())
        self._end()
        return values

    def _end(self) -> None:
        if not self._take(")"):
            raise ValueError(f"{self.formula!r} lacks a closing bracket")

    def _one(self, value: _Value) -> Decimal | str | bool | None:
        if isinstance(value, _Range):
            (place,) = value.places
            return self.figure(place)
        return value

    def _number(self, value: _Value) -> Decimal:
        """A value as a number; an empty cell counts as zero."""
        one = self._one(value)
        if isinstance(one, str):
            raise ValueError(f"{self.formula!r} reckons with the text {one!r}")
        return Decimal(one or 0)

    # --- functions -------------------------------------------------------------------------

    def _round(self, values: Sequence[_Value], way: str) -> Decimal:
        number, digits = map(self._number, values)
        return number.quantize(Decimal(1).scaleb(-int(digits)), way)

    def _numbers(self, values: Sequence[_Value]) -> list[Decimal]:
        """All numbers in ranges and values; texts in a range are ignored."""
        found: list[Decimal] = []
        for value in values:
            if isinstance(value, _Range):
                found += [one for one in map(self.figure, value.places) if isinstance(one, Decimal)]
            else:
                found.append(self._number(value))
        return found

    def _sum_where(self, values: Sequence[_Value]) -> Decimal:
        summed, *tests = values
        if not isinstance(summed, _Range):
            raise ValueError(f"{self.formula!r} adds up no range")
        met = [True] * len(summed.places)
        for cells, wanted in zip(tests[::2], tests[1::2], strict=True):
            if not isinstance(cells, _Range):
                raise ValueError(f"{self.formula!r} tests no range")
            text = str(self._one(wanted)).casefold()
            met = [
                held and str(self.figure(place)).casefold() == text
                for held, place in zip(met, cells.places, strict=True)
            ]
        held_ones = [place for place, held in zip(summed.places, met, strict=True) if held]
        return sum(self._numbers([_Range(held_ones)]), Decimal(0))

    def _if(self, values: Sequence[_Value]) -> _Value:
        asked, then, otherwise = values
        return then if self._one(asked) else otherwise


def _tokens(formula: str) -> list[tuple[str, str]]:
    found, place = [], 1
    while place < len(formula):
        token = _TOKEN.match(formula, place)
        if token is None or token.lastgroup is None:
            raise ValueError(f"{formula!r} is no formula of ours at {formula[place:]!r}")
        kind = "cell" if token["cell"] else token.lastgroup
        found.append((kind, token[kind]))
        place = token.end()
    return found


_FUNCTIONS: dict[str, Callable[[_Reader, Sequence[_Value]], _Value]] = {
    "ROUND": lambda reader, values: reader._round(values, ROUND_HALF_UP),
    "ROUNDUP": lambda reader, values: reader._round(values, ROUND_UP),
    "SUM": lambda reader, values: sum(reader._numbers(values), Decimal(0)),
    "MAX": lambda reader, values: max(reader._numbers(values), default=Decimal(0)),
    "SUMIFS": lambda reader, values: reader._sum_where(values),
    "IF": lambda reader, values: reader._if(values),
}
