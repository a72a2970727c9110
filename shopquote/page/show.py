"""Values and tables as HTML, by the same columns and looks as everywhere else."""

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from flask import g, has_request_context
from markupsafe import Markup, escape

from shopquote.calc.money import round_money
from shopquote.calc.units import N_M_PER_LB_FT, Unit
from shopquote.outputs.table import Column, Table
from shopquote.page.desk import desk
from shopquote.reading.kinds.days import day_begins_with
from shopquote.reading.kinds.lengths import bar_as_typed
from shopquote.services.shop.shop_on_file import is_set_up, the_shop


def cells_of(table: Table[Any]) -> tuple[list[Column[Any]], list[list[str]], list[str] | None]:
    """The visible columns, the texts of the rows, and those of the footer row if there is one."""
    # The same columns as on the terminal; those for programs only are left out.
    columns = table.on("terminal")
    rows = [[_cell(table, column, row) for column in columns] for row in table.rows]
    last = None
    if table.last is not None:
        last = [_cell(table, column, table.last) for column in columns]
    elif table.foot:
        last = [
            _grouped(column.look.shown(table.total(column), table.setting)) if column.sum else ""
            for column in columns
        ]
        last[0] = table.foot
    return columns, rows, last


# The texts come as for the terminal; the page also groups thousands.
_AMOUNT = re.compile(r"-?\d{4,}\.\d{2,3}(?: [A-Z]{3})?")


def _cell(table: Table[Any], column: Column[Any], row: Any) -> str:
    # Texts such as a customer's number 2026.015 are not figures.
    text = table.text(column, row)
    return _grouped(text) if column.look.figure else text


def _grouped(text: str) -> str:
    if not _AMOUNT.fullmatch(text):
        return text
    amount, blank, currency = text.partition(" ")
    return f"{Decimal(amount):,f}{blank}{currency}"


def table_html(
    table: Table[Any],
    link: Callable[[Any], str | None] | None = None,
    name: str = "",
    most: int = 0,
    picture: tuple[str, Callable[[Any], Markup]] | None = None,
) -> Markup:
    """A table as HTML.

    `link` gives the address to which a row's first cell links; `picture` is the heading of an extra last
    column and the function that draws a row's picture for it.
    """
    columns, rows, last = cells_of(table)
    heads = [
        Markup('<th scope="col"{}>{}</th>').format(_right(column), column.title(table.setting))
        for column in columns
    ]
    if picture is not None:
        heads.append(Markup('<th scope="col">{}</th>').format(picture[0]))
    body = []
    for row, texts in zip(table.rows, rows[: most or None], strict=False):
        to = link(row) if link else None
        first = (
            Markup('<a href="{}">{}</a>').format(to, unbroken(texts[0] or "open")) if to else codes(texts[0])
        )
        rest = _cells(columns[1:], texts[1:])
        if picture is not None:
            rest += Markup('<td class="drawn">{}</td>').format(picture[1](row))
        body.append(Markup("<tr><td{}>{}</td>{}</tr>").format(_right(columns[0]), first, rest))
    foot = Markup("")
    if last is not None:
        foot = Markup('<tfoot><tr class="chosen">{}</tr></tfoot>').format(_cells(columns, last))
    caption = Markup('<caption class="hide">{}</caption>').format(name or table.title or "Table")
    return Markup(
        '<div class="scroll" tabindex="0" role="region" aria-label="{}"><table>{}<thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody>{}</table></div>"
    ).format(name or table.title or "Table", caption, Markup("").join(heads), Markup("").join(body), foot)


def _cells(columns: Sequence[Column[Any]], texts: Sequence[str]) -> Markup:
    held = zip(columns, texts, strict=True)
    return Markup("").join(
        Markup("<td{}>{}</td>").format(_right(column) or _unbroken(text), codes(text))
        for column, text in held
    )


# A browser would break a line within a measure: "6-" at the end of one, "3/4 in" below it.
_MEASURE = re.compile(r"\d+ ft \d[\d/-]* in\b|\d+-\d+/\d+(?: in\b)?")


def unbroken(text: object) -> Markup:
    """A text as HTML whose measures stay on one line.

    >>> unbroken("mark 6-3/4 in <b>")
    Markup('mark <span class="one">6-3/4 in</span> &lt;b&gt;')
    """
    return Markup(_MEASURE.sub(r'<span class="one">\g<0></span>', str(escape(text))))


_CODE = re.compile(r"\b([JOR])-\d{4,}\b")
_ROOM_OF = {"J": "/quote/", "O": "/order/", "R": "/rack/"}


def codes(text: str) -> Markup:
    """A text as HTML with each number of a job, order or rack piece as a link to its page.

    >>> codes("R-0001 for <J-0002>")
    Markup('<a href="/rack/R-0001">R-0001</a> for &lt;<a href="/quote/J-0002">J-0002</a>&gt;')
    """
    said, at = Markup(""), 0
    for found in _CODE.finditer(text):
        link = Markup('<a href="{}{}">{}</a>').format(_ROOM_OF[found[1]], found[0], found[0])
        said, at = said + unbroken(text[at : found.start()]) + link, found.end()
    return said + unbroken(text[at:])


def _unbroken(text: str) -> Markup:
    # Non-breaking hyphens: a browser would break a date or a number at its hyphens.
    return Markup(' class="whole"') if "-" in text and len(text) <= 12 and " " not in text else Markup("")


def _right(column: Column[Any]) -> Markup:
    return Markup(' class="fig"') if column.look.figure else Markup("")


def money(amount: Decimal | None, currency: str) -> str:
    """An amount with the currency's number of decimals."""
    return "" if amount is None else f"{round_money(amount, currency):,f}"


def day(value: date | None) -> str:
    """A day in words, in the order of the shop's locale.

    >>> day(date(2027, 3, 1))
    '1 March 2027'
    """
    if value is None:
        return ""
    first, second = (f"{value:%B}", f"{value.day},") if _month_first() else (value.day, f"{value:%B}")
    return f"{first} {second} {value.year}"


def _month_first() -> bool:
    """Whether the shop writes the month before the day; asked once for each page."""
    if not has_request_context():
        return False
    if "month_first" not in g:
        with desk().database.reading() as session:
            g.month_first = is_set_up(session) and day_begins_with(the_shop(session).locale) == "month"
    return bool(g.month_first)


def lb_ft(moment_nm: float) -> int:
    """A moment in N m as pound-feet.

    >>> lb_ft(260)
    192
    """
    return round(moment_nm / float(N_M_PER_LB_FT))


def clock(value: datetime) -> str:
    """A time of day in the shop's time zone."""
    return f"{value.astimezone():%H:%M}"


def hours(minutes: Decimal | float) -> str:
    """Minutes as hours and minutes.

    >>> hours(Decimal("417.6")), hours(5)
    ('6 h 58 min', '5 min')
    """
    whole = int(Decimal(str(minutes)).quantize(Decimal(1)))
    return f"{whole // 60} h {whole % 60} min" if whole >= 60 else f"{whole} min"


def length(thing: Any, unit: Unit) -> str:
    """A bar's length as it was typed with its unit, else in `unit`."""
    return bar_as_typed(thing.length_text, thing.length, unit)


FILTERS: Mapping[str, Callable[..., Any]] = {
    "money": money, "day": day, "clock": clock, "hours": hours, "length_in": length, "table": table_html,
    "codes": codes, "lb_ft": lb_ft, "unbroken": unbroken,
}  # fmt: skip
