"""Sealed papers: quotes, orders and closings against the sealed text kept with each.

The hash of the text stands beside it, so that an altered text is noticed. A text that fits its hash is what
was sent; rows that differ from it are mended from it.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopquote.calc.buying.order_document import OrderedLine
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.calc.pricing.document import document_from_text
from shopquote.calc.snapshot import seal_of
from shopquote.errors import ShopquoteError
from shopquote.reading.kinds import grade_key
from shopquote.records.closings import Closing, ClosingLine
from shopquote.records.jobs import Job
from shopquote.records.orders import Order, OrderJob, OrderLine
from shopquote.records.quotes import Quote, QuoteBreak, QuoteCost, QuoteLineRow
from shopquote.services.buying.order_documents import stored_order
from shopquote.services.quotes.quotes_on_file import quote_row
from shopquote.services.review.close import closing_row
from shopquote.services.review.job_review import read_snapshot
from shopquote.services.safe.checks.found import Cure, Found, in_blocks, put

COPY = "look at it in a backup: shopquote db restore BACKUP --db other.db"


@dataclass(frozen=True)
class _SealedRows:
    """Rows that belong to a paper: their table, the column that refers to the paper, the columns compared."""

    table: Any
    owner: str
    values: tuple[str, ...]


# What is compared, and can be mended: the columns that the sealed text gives. States and answers change
# after the sealing.
_QUOTE = (
    "number",
    "revision",
    "issued_on",
    "valid_until",
    "currency",
    "net",
    "tax",
    "total",
    "cost",
    "deliveries",
    "margin_pct",
)
_QUOTE_ROWS = {
    "lines": _SealedRows(QuoteLineRow, "quote_id", ("position", "text", "quantity", "unit_price", "amount")),
    "breaks": _SealedRows(QuoteBreak, "quote_id", ("sets", "unit_price", "total")),
    "costs": _SealedRows(QuoteCost, "quote_id", ("category", "amount")),
}  # fmt: skip
_CLOSING = ("price", "cost_estimated", "cost_actual", "minutes_estimated", "minutes_actual")
_CLOSING_ROWS = {
    "lines": _SealedRows(
        ClosingLine, "closing_id",
        ("category", "operation", "estimated", "actual", "minutes_estimated", "minutes_actual"),
    ),
}  # fmt: skip


def quotes_are_as_sealed(session: Session) -> Iterator[Found]:
    """Every quote's sealed text fits its hash, can be read, and agrees with the stored rows."""
    for quote in in_blocks(session, Quote):
        name = f"quote {quote.number} revision {quote.revision}"
        document = None
        if (broken := _broken(name, quote)) is not None:
            yield broken
        elif quote.snapshot:
            try:
                document = _quote_row_again(quote)
            except ShopquoteError as error:
                yield Found(f"{name}: {error.message}", helps=COPY)
        if document is not None:
            yield from _differences(name, quote, document, _QUOTE, _QUOTE_ROWS)


def _quote_row_again(quote: Quote) -> Quote:
    """The quote and its rows made anew from the sealed text, by the function that stored them first."""
    document = document_from_text(quote.snapshot)
    return quote_row(document, quote.job_id, quote.job_revision_id, quote.issued_at, quote.snapshot)


def closings_are_as_sealed(session: Session) -> Iterator[Found]:
    """Every closing's sealed text fits its hash, can be read, and agrees with the stored rows."""
    for closing in in_blocks(session, Closing):
        name = f"closing {closing.id} of {closing.closed_on}"
        if (broken := _broken(name, closing)) is not None:
            yield broken
        elif closing.snapshot:
            try:
                right = closing_row(read_snapshot(closing.snapshot), closing.job_id, closing.snapshot)
            except ShopquoteError as error:
                yield Found(f"{name}: {error.message}", helps=COPY)
                continue
            yield from _differences(name, closing, right, _CLOSING, _CLOSING_ROWS)


def orders_are_as_sealed(session: Session) -> Iterator[Found]:
    """Every order's sealed text fits its hash, can be read, and agrees with the stored rows."""
    numbers = {row: number for row, number in session.execute(select(Job.id, Job.number))}
    for order in in_blocks(session, Order):
        name = f"order {order.number} revision {order.revision}"
        if (broken := _broken(name, order)) is not None:
            yield broken
        elif order.snapshot:
            try:
                yield from _order_differences(session, name, order, numbers)
            except ShopquoteError as error:
                yield Found(f"{name}: {error.message}", helps=COPY)


def _broken(name: str, paper: Any) -> Found | None:
    """The fault of a paper whose sealed text does not fit its hash; None if it does."""
    if seal_of(paper.snapshot) != paper.seal:
        return Found(f"{name}: its text was changed since it was sealed", helps=COPY)
    return None


def _differences(
    name: str, row: Any, right: Any, values: Sequence[str], below: dict[str, _SealedRows]
) -> Iterator[Found]:
    # All columns in one UPDATE: the table's constraints compare them with each other (net + tax = total).
    yield from _other_values(name, row, {value: getattr(right, value) for value in values})
    for what, rows in below.items():
        held = _compared_values(getattr(row, what), rows.values)
        wanted = _compared_values(getattr(right, what), rows.values)
        if held != wanted:
            yield Found(
                f"{name}: its {what} are not those of the sealed paper",
                _rows_again(rows, row.id, getattr(right, what)),
                "they are as on the paper",
            )


def _other_values(name: str, row: Any, right: dict[str, Any]) -> Iterator[Found]:
    other = {value: said for value, said in right.items() if getattr(row, value) != said}
    if other:
        stored = ", ".join(f"{value} {_shown(getattr(row, value))}" for value in other)
        yield Found(
            f"{name}: {stored} on file, {', '.join(map(_shown, other.values()))} on the sealed paper",
            put(type(row), row.id, **other),
            "it is as on the paper",
        )


def _compared_values(rows: Sequence[Any], values: Sequence[str]) -> list[tuple[Any, ...]]:
    # Sorted, because the order of rows in the database means nothing.
    return sorted(tuple(getattr(row, value) for value in values) for row in rows)


def _rows_again(rows: _SealedRows, owner: int, right: Sequence[Any]) -> Cure:
    names = [one.name for one in rows.table.__table__.c if one.name not in ("id", rows.owner)]
    # A column that the sealed text does not give is left out, so that it takes its default.
    wanted = [{name: value for name in names if (value := getattr(row, name)) is not None} for row in right]

    def cure(session: Session) -> None:
        # All rows anew: which stored row stands for which line of the paper is not known once they differ.
        session.execute(delete(rows.table).where(getattr(rows.table, rows.owner) == owner))
        session.add_all(rows.table(**{rows.owner: owner, **values}) for values in wanted)
        session.flush()

    return cure


def _order_differences(session: Session, name: str, order: Order, numbers: dict[int, str]) -> Iterator[Found]:
    document = stored_order(order)
    names = ("number", "revision", "placed_on", "due_on", "currency", "goods", "delivery", "total")
    yield from _other_values(name, order, {value: getattr(document, value) for value in names})
    lines = {line.position: line for line in order.lines}
    for said in document.lines:
        line = lines.pop(said.position, None)
        if line is None:
            yield Found(f"{name}: line {said.position} of the sealed paper is not on file", helps=COPY)
            continue
        yield from _line_differences(name, line, said)
    for position in lines:
        yield Found(f"{name}: line {position} is not on the sealed paper", helps=COPY)
    held_shares = {
        numbers.get(share.job_id, ""): (share, round_money(share.share, order.currency))
        for share in order.jobs
    }
    for share in document.jobs:
        found = held_shares.get(share.job)
        if found is None:
            yield Found(f"{name}: the share of job {share.job} is not on file", helps=COPY)
        elif found[1] != share.share:
            yield Found(
                f"{name}: the share of job {share.job} is {found[1]}, {share.share} on the sealed paper",
                put(OrderJob, found[0].id, share=share.share),
                "it is as on the paper",
            )


def _line_differences(name: str, line: OrderLine, said: OrderedLine) -> Iterator[Found]:
    names = ("count", "length", "unit_price", "amount")
    where = f"{name}, line {line.position}"
    yield from _other_values(where, line, {value: getattr(said, value) for value in names})
    if grade_key(line.grade) != grade_key(said.grade) or line.section_key != said.section_key:
        yield Found(
            f"{where}: {line.section_key} {line.grade} on file, "
            f"{said.section_key} {said.grade} on the sealed paper",
            put(OrderLine, line.id, section_key=said.section_key, grade=said.grade),
            "it is as on the paper",
        )


def _shown(value: Any) -> str:
    return f"{value.mm.normalize():f} mm" if hasattr(value, "mm") else str(value)
