"""The list of jobs in the terminal and as JSON."""

from collections.abc import Iterable, Sequence

from shopquote.outputs.looks import COUNT, DAY, FIGURE, MONEY, Setting
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_table
from shopquote.services.jobs.job_list import JobLine

JOBS: tuple[Column[JobLine], ...] = (
    Column("Job", lambda line: line.job),
    Column("Title", lambda line: line.title),
    Column("Customer", lambda line: line.customer),
    Column("Sets", lambda line: line.sets, COUNT),
    Column("State", lambda line: line.state),
    Column("Due", lambda line: line.due, DAY),
    Column("Price", lambda line: None if line.price is None else f"{line.price:f}", FIGURE, on=SEEN),
    Column("Price", lambda line: line.price, on=JSON),
    Column("Currency", lambda line: line.currency, on=JSON),
    Column("Invoiced", lambda line: line.invoiced, MONEY, on=JSON),
    Column("Paid", lambda line: line.paid, MONEY, on=JSON),
    Column("Overdue", lambda line: line.overdue, MONEY, on=JSON),
    Column("Revision", lambda line: line.revision, on=JSON),
)

MOST_OVERDUE = 10  # jobs named below a list


def list_json(lines: Iterable[JobLine], currency: str) -> dict[str, object]:
    """JSON of `job list`; price is null for a job that was not quoted."""
    return {"jobs": json_rows(JOBS, lines, Setting(currency))}


def print_list(lines: Sequence[JobLine], currency: str, older: int = 0, *, chosen: bool = False) -> None:
    """Print jobs as a table 80 columns wide, with the number of `older` ones left out.

    `chosen`: a filter was given, so that an empty table does not mean that there are no jobs.
    """
    if not lines:
        print("No jobs like that." if chosen else "No jobs yet. Add one: shopquote job add FILE")
        return
    print_table(Table(JOBS, lines))
    currencies = sorted({line.currency for line in lines if line.currency})
    if currencies:
        print(f"Price: newest quote without tax, {', '.join(currencies)}")
    late = [f"{line.job} {MONEY.text(line.overdue, Setting(currency))}" for line in lines if line.overdue]
    if late:
        more = f" and {len(late) - MOST_OVERDUE} more" if len(late) > MOST_OVERDUE else ""
        print(f"Invoices overdue, {currency}: {', '.join(late[:MOST_OVERDUE])}{more}")
    if older:
        print(f"{older:,} older jobs besides: --all shows them; --find, --state and --late choose.")
