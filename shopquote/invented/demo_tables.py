"""Writes the demo's workbooks below one folder, and prints a summary with where to look first."""

from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_money
from shopquote.outputs.looks import COUNT, MONEY, Setting
from shopquote.outputs.table import Column, Table
from shopquote.outputs.tables.show import console, print_table

if TYPE_CHECKING:
    from shopquote.invented.demo import Demo, DemoJob

# Folder below the demo's folder (and field of DemoFiles), and what is in it.
PLACES = (
    ("quotes", "quotes that a customer signs"),
    ("estimates", "the shop's own estimate of each: change a rate in it and the price follows"),
    ("orders", "what the supplier gets: workbook, plain text, CSV"),
    ("floor", "sheets that the floor works from, with tabs to fill in"),
    ("review", "what the finished job earned, quoted against real; and two invented years of jobs"),
)


@dataclass(frozen=True, slots=True)
class DemoFiles:
    """Paths of all workbooks and texts, by the folder that they are in."""

    quotes: tuple[Path, ...]
    estimates: tuple[Path, ...]
    orders: tuple[Path, ...]
    floor: tuple[Path, ...]
    review: tuple[Path, ...]

    @property
    def all(self) -> tuple[Path, ...]:
        """Every file, in the order in which a job makes them."""
        return self.quotes + self.estimates + self.orders + self.floor + self.review


def write_demo_files(demo: "Demo", folder: Path) -> DemoFiles:
    """Write every workbook of the demo below `folder`; files of an earlier demo are replaced."""
    from shopquote.outputs.books.estimate_book import write_estimate_book
    from shopquote.outputs.books.floor_book import write_floor_book
    from shopquote.outputs.books.quote_book import write_quote_book
    from shopquote.outputs.books.review_book import write_review_book
    from shopquote.outputs.tables.order_tables import write_all

    quotes = tuple(write_quote_book(document, folder / "quotes") for document in demo.quotes)
    estimates = tuple(write_estimate_book(document, folder / "estimates") for document in demo.quotes)
    orders = write_all(demo.placed.documents, folder / "orders")
    floor = tuple(write_floor_book(sheet, folder / "floor") for sheet in demo.floor)
    shop, paper = demo.quotes[0].shop.name, demo.quotes[0].wording.paper
    reviews = tuple(
        write_review_book(answer, folder / "review", shop=shop, paper=paper)
        for answer in (demo.answer, demo.earlier)
        if answer is not None
    )
    return DemoFiles(quotes, estimates, orders, floor, reviews)


def demo_json(demo: "Demo", database: Path, files: DemoFiles) -> dict[str, object]:
    """The JSON output of `shopquote demo`."""
    from shopquote.invented.demo import two_years

    return {
        "database": database,
        "two_years": two_years(database) if demo.earlier is not None else None,
        "jobs": [
            {
                "job": job.number,
                "file": f"{job.name}.toml",
                "title": job.title,
                "customer": job.customer,
                "sets": job.sets,
                "state": job.state,
                "price": job.price,
            }
            for job in demo.jobs
        ],
        "quotes": [document.name for document in demo.quotes],
        "orders": list(demo.placed.numbers),
        "received": [received.number for received in demo.received],
        "review": {
            "job": demo.review.job,
            "price": demo.review.price,
            "cost_estimated": demo.review.estimated.cost,
            "cost_actual": demo.review.actual.cost,
        },
        "files": list(files.all),
    }


JOBS: "tuple[Column[DemoJob], ...]" = (
    Column("Job", lambda job: job.number),
    Column("What", lambda job: job.title),
    Column("Sets", lambda job: job.sets, COUNT),
    Column("State", lambda job: job.state),
    Column("Price {currency}", lambda job: job.price, MONEY),
)
WRITTEN: tuple[Column[tuple[str, str]], ...] = (
    Column("Look here", lambda row: row[0]),
    Column("For", lambda row: row[1]),
)


def print_demo(demo: "Demo", database: Path, files: DemoFiles) -> None:
    """Print a table of the jobs, the result of the finished one, and where to look first."""
    title = "Six jobs of an invented shop; prices are invented too"
    print_table(Table(JOBS, demo.jobs, title, Setting(demo.currency)))
    screen = console()
    for line in _closing_lines(demo):
        screen.print(line)
    screen.print()
    _print_places(demo, files, database)


def _closing_lines(demo: "Demo") -> list[str]:
    review = demo.review
    quoted, real = (round_money(side.cost, demo.currency) for side in (review.estimated, review.actual))
    bars = sum(len(received.pieces) for received in demo.received)
    return [
        f"{review.job} is finished and closed: it was to cost {quoted} {demo.currency} and cost {real}.",
        f"Ordered together for {len(demo.floor)} jobs: {', '.join(demo.placed.numbers)}; "
        f"{bars} bars have come and lie on the rack.",
    ]


def _print_places(demo: "Demo", files: DemoFiles, database: Path) -> None:
    from shopquote.invented.demo import two_years

    rows = [(str(paths[0].parent), words) for place, words in PLACES if (paths := getattr(files, place))]
    rows.append((str(database), f"the database; try: shopquote --db {database} job list"))
    if demo.earlier is not None:
        years, count = two_years(database), len(demo.earlier.many.jobs)
        words = f"the same with {count} finished jobs; try: shopquote --db {years} review --by month"
        rows.append((str(years), words))
    print_table(Table(WRITTEN, rows, "Written"))
