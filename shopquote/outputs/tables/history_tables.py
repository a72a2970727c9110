"""The history in the terminal and as JSON."""

from collections.abc import Sequence

from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_json, print_table
from shopquote.records.history import HistoryEntry

JOB: Column[HistoryEntry] = Column("Job", lambda entry: entry.job, on=SEEN)
HISTORY: tuple[Column[HistoryEntry], ...] = (
    Column("When", lambda entry: f"{entry.at.astimezone():%Y-%m-%d %H:%M}", on=SEEN),
    Column("at", lambda entry: entry.at, on=JSON),
    Column("Who", lambda entry: entry.who),
    Column("Via", lambda entry: entry.door, key="door"),
    Column("job", lambda entry: entry.job, on=JSON),
    JOB,
    Column("What", lambda entry: entry.what),
    Column("words", lambda entry: entry.words, on=JSON),
)
OF_ONE_JOB = tuple(column for column in HISTORY if column is not JOB)


def show_history(entries: Sequence[HistoryEntry], of: str, *, as_json: bool) -> None:
    """Entries, oldest first; the words of the command stand above the changes that it made."""
    if as_json:
        print_json({"of": of, "entries": json_rows(HISTORY, entries)})
        return
    of_one = len({entry.job for entry in entries}) <= 1
    print_table(Table(OF_ONE_JOB if of_one else HISTORY, entries, f"History of {of}"))
    if not entries:
        print(f"Nothing was done to {of} since entries are kept.")
