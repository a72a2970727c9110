"""Postings for the bookkeeper in the terminal, as JSON, and as the CSV that README describes."""

from collections.abc import Sequence

from shopquote.outputs.looks import DAY, FIGURE, Setting
from shopquote.outputs.table import DATA, Column, Table, csv_of, json_rows
from shopquote.outputs.tables.show import print_table
from shopquote.services.review.bookkeeping import Posting

POSTINGS: tuple[Column[Posting], ...] = (
    Column("Day", lambda one: one.day, DAY),
    Column("Kind", lambda one: one.kind),
    Column("Number", lambda one: one.number),
    Column("Job", lambda one: one.job),
    Column("Partner", lambda one: one.partner),
    Column("Text", lambda one: one.text, on=DATA),
    Column("Net", lambda one: one.net, FIGURE),
    Column("Tax", lambda one: one.tax, FIGURE),
    Column("Total", lambda one: one.total, FIGURE),
    Column("Currency", lambda one: one.currency),
    Column("Due", lambda one: one.due, DAY, on=DATA),
)


def postings_csv(rows: Sequence[Posting]) -> str:
    """Postings as CSV: comma, CRLF, ISO days, decimal points; no text can become a formula."""
    return csv_of(Table(POSTINGS, rows))


def postings_json(rows: Sequence[Posting]) -> list[dict[str, object]]:
    """Postings for `--json`."""
    return json_rows(POSTINGS, rows, Setting())


def print_postings(rows: Sequence[Posting]) -> None:
    """The rows in the terminal."""
    print_table(Table(POSTINGS, rows, "For the book-keeper"))
