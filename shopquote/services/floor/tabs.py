"""The tabs of a floor sheet that the shop fills in, described for both printing and reading."""

from shopquote.calc.frozen import dataclass
from shopquote.reading import kinds
from shopquote.reading.forms import Form, FormColumn
from shopquote.reading.kinds import Kind
from shopquote.services.floor.floor_sheet import FloorSheet
from shopquote.services.floor.time_log import OPERATION

USED = kinds.count(most=100_000)
# Words that the column Rework may hold besides yes and no.
_REWORK = {"rework": "yes", "work": "no"}
REWORK: Kind[bool] = Kind(
    "yes or nothing",
    lambda value, notation: kinds.YES_NO.read(_REWORK.get(str(value).strip().lower(), value), notation),
    kinds.YES_NO.show,
)


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab to fill in: its name, columns, shaded columns and number of empty rows.

    Columns that are not needed were added later: older printed sheets lack them and are still read. A row
    counts as filled in if one of the `telling` columns is; a lone reason counts, so that what is missing is
    reported.
    """

    name: str
    form: Form
    shaded: tuple[str, ...]
    telling: tuple[str, ...]
    spare: int

    @property
    def columns(self) -> tuple[str, ...]:
        """Headings of its columns."""
        return self.form.headings


_DAY = FormColumn("Day", kinds.DAY, needed=True)
_PERSON = FormColumn("Person", kinds.TEXT, needed=True)
_REWORKED = FormColumn("Rework", REWORK, needed=True)
_NOTE = FormColumn("Reason or note", kinds.TEXT, needed=True)

MINUTES_TAB = Tab(
    "Minutes",
    Form(
        (
            FormColumn("Operation", OPERATION, needed=True),
            FormColumn("Planned minutes", kinds.TEXT),
            _DAY,
            _PERSON,
            FormColumn("Minutes", kinds.MINUTES, needed=True),
            _REWORKED,
            _NOTE,
        )
    ),
    ("Day", "Person", "Minutes", "Rework", "Reason or note"),
    ("Minutes", "Reason or note"),
    12,
)
BARS_TAB = Tab(
    "Bars used",
    Form(
        (
            FormColumn("Bar", kinds.TEXT, needed=True),
            FormColumn("Section", kinds.SECTION, needed=True),
            FormColumn("Grade", kinds.GRADE, needed=True),
            FormColumn("Length", kinds.MEASURE, needed=True),
            FormColumn("Rack piece", kinds.CODE, needed=True),
            FormColumn("Heat", kinds.HEAT, needed=True),
            FormColumn("Planned", kinds.TEXT, needed=True),
            FormColumn("Used", USED, needed=True),
            FormColumn("Came back", kinds.TEXT, needed=True),
            FormColumn("Cost", kinds.money()),
            FormColumn("Delivery", kinds.money()),
            _DAY,
            _REWORKED,
            _NOTE,
        )
    ),
    ("Used", "Came back", "Cost", "Delivery", "Day", "Rework", "Reason or note"),
    ("Used", "Came back", "Reason or note"),
    6,
)
SCRAP_TAB = Tab(
    "Scrap",
    Form(
        (
            FormColumn("Mark", kinds.TEXT, needed=True),
            FormColumn("Pieces", USED, needed=True),
            _DAY,
            _PERSON,
            FormColumn("Reason", kinds.TEXT, needed=True),
        )
    ),
    ("Mark", "Pieces", "Day", "Person", "Reason"),
    ("Pieces", "Reason"),
    8,
)
TABS = (MINUTES_TAB, BARS_TAB, SCRAP_TAB)


def identity(sheet: FloorSheet) -> str:
    """The line that says which job and which printed sheet a tab belongs to.

    `sheet_rows` reads it back; the serial keeps rows of one sheet from being logged twice.
    """
    return f"Job {sheet.job}, revision {sheet.revision}, sheet {sheet.serial}"
