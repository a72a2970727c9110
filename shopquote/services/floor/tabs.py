"""The tabs of a floor sheet that the shop fills in, for who prints them and who reads them back."""

from dataclasses import dataclass

from shopquote.services.floor.floor_sheet import (
    FloorSheet,
)


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab that the shop fills in: its name, columns and how many empty rows it has.

    Sheets printed before a column was thought of lack those named in `newer`; they are still read.
    """

    name: str
    columns: tuple[str, ...]
    shaded: tuple[str, ...]
    spare: int
    newer: tuple[str, ...] = ()


MINUTES_TAB = Tab(
    "Minutes",
    ("Operation", "Planned minutes", "Day", "Person", "Minutes", "Rework", "Reason or note"),
    ("Day", "Person", "Minutes", "Rework", "Reason or note"),
    12,
    newer=("Planned minutes",),
)
BARS_TAB = Tab(
    "Bars used",
    (
        "Bar",
        "Section",
        "Grade",
        "Length",
        "Rack piece",
        "Heat",
        "Planned",
        "Used",
        "Came back",
        "Cost",
        "Day",
        "Rework",
        "Reason or note",
    ),
    ("Used", "Came back", "Cost", "Day", "Rework", "Reason or note"),
    6,
    newer=("Cost",),
)
SCRAP_TAB = Tab(
    "Scrap", ("Mark", "Pieces", "Day", "Person", "Reason"), ("Mark", "Pieces", "Day", "Person", "Reason"), 8
)
TABS = (MINUTES_TAB, BARS_TAB, SCRAP_TAB)


def identity(sheet: FloorSheet) -> str:
    """The line that tells which job and which printed sheet a filled-in tab belongs to.

    `sheet_rows` reads it back; the serial keeps one sheet's rows from counting twice.
    """
    return f"Job {sheet.job}, revision {sheet.revision}, sheet {sheet.serial}"
