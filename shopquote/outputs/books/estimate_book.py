"""The shop's own estimate as a workbook with live formulas.

Change a rate, a standard, a quantity or a policy in a yellow cell and the price
follows. Every formula rounds where the program rounds, so that an untouched workbook
shows the stored figures to the cent. Begin at `write_estimate_book`.

Sheets: Price (what it comes to), Minutes (operation by operation), Costs (all else),
Standards (rates and times with their sources), Parts, Pictures. The columns and their
formulas are in `estimate_columns`; the Price sheet is `estimate_price`.
"""

from pathlib import Path

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.standards import Standard
from shopquote.outputs.books.book import Book, new_book, put_first, safe_file_name, set_page
from shopquote.outputs.books.charts import curve, hang, lying
from shopquote.outputs.books.estimate_columns import (
    BARS_USED,
    CATEGORY,
    CATEGORY_COST,
    COSTS,
    MINUTES,
    OPERATION_COST,
    OPERATION_MINUTES,
    OPERATION_NAME,
    OPERATIONS,
    PARTS,
    PLANNED,
    STANDARD_VALUE,
    STANDARDS,
    CostRow,
    MinutesRow,
    OperationRow,
)
from shopquote.outputs.books.estimate_price import PriceSheet
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.sheet_table import Drawn, draw
from shopquote.outputs.books.style import HEADING, LABEL
from shopquote.outputs.looks import Setting
from shopquote.outputs.table import Table

_OPERATIONS_ROW = 3
# Rows of the pictures' page between one chart and the next, and columns that a chart takes.
_CHART_ROWS, _CHART_COLUMNS = 17, 8


def write_estimate_book(document: QuoteDocument, folder: Path) -> Path:
    """Write the estimate of a document into a folder; returns the file.

    Raises:
        InputError: the folder cannot be written.
    """
    path = folder / safe_file_name(f"INTERNAL estimate {document.number} r{document.revision}")
    return save_book(estimate_book(document), path)


def estimate_book(document: QuoteDocument) -> Book:
    """The estimate workbook, in memory."""
    return _Estimate(document).book


class _Estimate:
    """Draws the sheets; later tables refer to the cells of earlier ones."""

    def __init__(self, document: QuoteDocument) -> None:
        self.document = document
        self.setting = Setting(document.priced.currency)
        self.book = new_book(f"Estimate {document.number}", document.shop.name)
        names = ("Price", "Minutes", "Costs", "Standards", "Parts", "Pictures")
        price, minutes, costs, standards, parts, pictures = map(self.book.add, names)
        self.standards = self._standards(standards)
        # Headings, rows and sum of the operations, then the lines that they add up.
        lines = self._minutes(minutes, _OPERATIONS_ROW + len(document.estimate.operations) + 3)
        self.operations = self._operations(minutes, _OPERATIONS_ROW, lines)
        labour = self.operations.total(OPERATION_COST, far=True)
        self.price = PriceSheet(price, document, self.setting, labour)
        self.price.draw_policy()
        self.costs = self._costs(costs, labour)
        self.price.draw(self.costs)
        self._parts(parts)
        self._pictures(pictures)
        heads = {
            "Minutes": lines.head, "Costs": self.costs.head, "Standards": self.standards.head,
        }  # fmt: skip
        self._pages(heads)

    def _pages(self, heads: dict[str, int]) -> None:
        document = self.document
        footer = f"{document.name} · {document.job} · for the shop only"
        paper = document.wording.paper
        *sheets, pictures = self.book.worksheets
        for sheet in sheets:
            head = heads.get(sheet.title)
            rows = None if head is None else f"{head}:{head}"
            set_page(sheet, paper=paper, landscape=head is not None, head_rows=rows, footer=footer)
        set_page(
            pictures, paper=paper, last_row=3 * _CHART_ROWS + 3, last_column=_CHART_COLUMNS, one_page=True,
            footer=footer,
        )  # fmt: skip

    def _standards(self, sheet: Worksheet) -> Drawn[Standard]:
        """Draw the rates and standards that this job uses, each once."""
        put_first(sheet, 1, "Standards and rates of the day", HEADING)
        put_first(sheet, 2, "Change a yellow figure: minutes and price follow.", LABEL)
        drawn = draw(sheet, Table(STANDARDS, self._used_standards()), 4, boxed=False)
        sheet.freeze_panes = f"A{drawn.first}"
        return drawn

    def _used_standards(self) -> list[Standard]:
        estimate = self.document.estimate
        wanted = [f"rate.{cost.operation}" for cost in estimate.operations]
        wanted += [line.standard for line in estimate.minutes]
        wanted += [line.standard for line in estimate.costs if line.category == "consumables"]
        held = {standard.name: standard for standard in self.document.standards}
        return [held[name] for name in dict.fromkeys(wanted) if name in held]

    def _standard(self, name: str) -> str | None:
        """The address of a standard's value, with its sheet; None if the job does not use it."""
        for index, standard in enumerate(self.standards.table.rows):
            if standard.name == name:
                return self.standards.cell(STANDARD_VALUE, index, far=True)
        return None

    def _minutes(self, sheet: Worksheet, row: int) -> Drawn[MinutesRow]:
        """Draw the lines of minutes below the operations; their headings are repeated on every page."""
        put_first(sheet, row, "Line by line", HEADING)
        rows = [MinutesRow(line, self._standard(line.standard)) for line in self.document.estimate.minutes]
        return draw(sheet, Table(MINUTES, rows), row + 1, boxed=False)

    def _operations(self, sheet: Worksheet, row: int, lines: Drawn[MinutesRow]) -> Drawn[OperationRow]:
        """Draw set-up, run, rate and cost of each operation."""
        sets = self.document.estimate.sets
        put_first(sheet, 1, f"Minutes for {sets} {'set' if sets == 1 else 'sets'}", HEADING)
        rows = [
            OperationRow(cost, self._standard(f"rate.{cost.operation}") or "0", lines)
            for cost in self.document.estimate.operations
        ]
        table = Table(OPERATIONS, rows, setting=self.setting, foot="total")
        return draw(sheet, table, row, boxed=False)

    def _costs(self, sheet: Worksheet, labour: str) -> Drawn[CostRow]:
        """Draw the costs that are not labour by the hour: quantity x unit cost, or a percentage of a sum."""
        put_first(sheet, 1, "Costs besides labour", HEADING)
        rows = [
            CostRow(
                line,
                self._standard(line.standard) if line.category == "consumables" else None,
                self.price.share_cell(line.base) if line.base else "",
                labour,
                self.setting,
            )
            for line in self.document.estimate.costs
        ]
        drawn = draw(sheet, Table(COSTS, rows, setting=self.setting, foot="total"), 3, boxed=False)
        sheet.freeze_panes = f"A{drawn.first}"
        return drawn

    def _parts(self, sheet: Worksheet) -> None:
        estimate = self.document.estimate
        put_first(sheet, 1, "Run minutes and direct cost of each part", HEADING)
        drawn = draw(sheet, Table(PARTS, estimate.parts, setting=self.setting), 3)
        put_first(sheet, drawn.below + 1, "Bars that are charged", HEADING)
        draw(sheet, Table(BARS_USED, estimate.materials, setting=self.setting), drawn.below + 2)

    def _pictures(self, sheet: Worksheet) -> None:
        """Draw the charts: cost build-up, minutes by operation, price by quantity."""
        put_first(sheet, 1, f"{self.document.number}: pictures of the estimate", HEADING)
        currency = self.setting.currency
        cost = f"What the cost is made of, {currency}"
        hang(sheet, lying(self.price.categories, CATEGORY, CATEGORY_COST, cost), 3)
        time = "Time by operation, minutes"
        hang(sheet, lying(self.operations, OPERATION_NAME, OPERATION_MINUTES, time), 3 + _CHART_ROWS)
        planned = self.price.planned
        if planned is not None:
            title = "Price of one set by quantity"
            prices = curve(planned, PLANNED[0], PLANNED[1], title, ("sets", currency))
            hang(sheet, prices, 3 + 2 * _CHART_ROWS)
