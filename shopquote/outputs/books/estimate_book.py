"""The shop's own estimate as a workbook with live formulas.

Change a rate, a standard, a quantity or a policy in a yellow cell and the price
follows. Every formula rounds where the program rounds, so that an untouched workbook
shows the stored figures to the cent. Begin at `write_estimate_book`.

Sheets: Price (what it comes to), Minutes (operation by operation), Costs (all else),
Standards (rates and times with their sources), Parts, Pictures.
"""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from openpyxl.chart import BarChart, Reference, ScatterChart, Series
from openpyxl.chart.label import DataLabelList
from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.answers import CATEGORIES, CostLine, MinutesLine, QuoteLine
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.price import DISCOUNT_LINE, MINIMUM_LINE, RUSH_LINE, asked_margin_pct
from shopquote.calc.pricing.standards import Standard
from shopquote.outputs.books.book import (
    Book,
    Value,
    new_book,
    put,
    put_across,
    put_formula,
    put_row,
    safe_file_name,
    set_page,
    set_widths,
)
from shopquote.outputs.books.files import save_book
from shopquote.outputs.books.style import (
    ACCENT,
    EDITABLE,
    HEAD,
    HEAD_RIGHT,
    HEADING,
    LABEL,
    MINUTES,
    NOTE,
    NUMBER,
    PLAIN,
    TITLE,
    WHOLE,
    WRAPPED,
    Style,
    money_style,
)

_CHARGES = (RUSH_LINE, DISCOUNT_LINE, MINIMUM_LINE)
_FREE = NUMBER.but(fill=EDITABLE)
_UNIT = PLAIN.but(across="left", indent=1)
_UNIT_HEAD = HEAD.but(across="left", indent=1)
_HEADS = {"Minutes": "3:3", "Costs": "3:3", "Standards": "4:4", "Parts": "3:3"}
# Rows and columns of the pictures' page: three charts below each other.
_PICTURE_ROWS, _PICTURE_COLUMNS = 54, 8


def write_estimate_book(document: QuoteDocument, folder: Path) -> Path:
    """Write the estimate of a document into a folder; returns the file.

    Raises:
        InputError: the folder cannot be written.
    """
    path = folder / safe_file_name(f"INTERNAL estimate {document.number} r{document.revision}")
    return save_book(estimate_book(document), path)


def estimate_book(document: QuoteDocument) -> Book:
    """The shop's workbook, not yet written."""
    return _Estimate(document).book


class _Estimate:
    """Lays the sheets out; later ones refer to the cells that earlier ones remember."""

    def __init__(self, document: QuoteDocument) -> None:
        self.document = document
        self.digits = currency_digits(document.priced.currency)
        self.money = money_style(document.priced.currency)
        self.book = new_book(f"Estimate {document.number}", document.shop.name)
        self.price = self.book.add("Price")
        self.minutes = self.book.add("Minutes")
        self.costs = self.book.add("Costs")
        self.standards = self.book.add("Standards")
        self.parts = self.book.add("Parts")
        self.pictures = self.book.add("Pictures")
        self.standard_cells: dict[str, str] = {}
        self.operation_cells: dict[str, str] = {}
        self.category_cells: dict[str, str] = {}
        self.policy_cells: dict[str, str] = {}
        self._fill_standards()
        self._fill_minutes()
        self._fill_policy()
        self._fill_costs()
        self._fill_price()
        self._fill_parts()
        self._fill_pictures()
        paper = document.wording.paper
        footer = f"{document.name} · {document.job} · for the shop only"
        wide = (self.minutes, self.costs, self.standards)
        for sheet in self.book.worksheets[:-1]:
            set_page(
                sheet, paper=paper, landscape=sheet in wide, head_rows=_HEADS.get(sheet.title), footer=footer
            )
        set_page(
            self.pictures, paper=paper, last_row=_PICTURE_ROWS, last_column=_PICTURE_COLUMNS, one_page=True,
            footer=footer,
        )  # fmt: skip

    # --- standards -------------------------------------------------------------------------

    def _fill_standards(self) -> None:
        """Rates and standards that this job uses, each once."""
        sheet = self.standards
        set_widths(sheet, [32, 12, 18, 9, 13, 58])
        put(sheet, 1, 1, "Standards and rates of the day", HEADING)
        put(sheet, 2, 1, "Change a yellow figure: minutes and price follow.", LABEL)
        put_row(sheet, 4, ("Name", "Value", "Unit", "Spread %", "Since", "Source"),
                (HEAD, HEAD_RIGHT, _UNIT_HEAD, HEAD_RIGHT, HEAD, HEAD))  # fmt: skip
        for row, standard in enumerate(self._used_standards(), start=5):
            put(sheet, row, 1, standard.name)
            put(sheet, row, 2, standard.value, _FREE)
            put(sheet, row, 3, standard.unit, _UNIT)
            put(sheet, row, 4, standard.spread_pct, NUMBER)
            put(sheet, row, 5, "" if standard.since is None else standard.since.isoformat())
            put_across(sheet, row, 6, 6, standard.source, WRAPPED)
            self.standard_cells[standard.name] = f"Standards!$B${row}"
        sheet.freeze_panes = "A5"

    def _used_standards(self) -> list[Standard]:
        estimate = self.document.estimate
        wanted = [f"rate.{cost.operation}" for cost in estimate.operations]
        wanted += [line.standard for line in estimate.minutes]
        wanted += [line.standard for line in estimate.costs if line.category == "consumables"]
        held = {standard.name: standard for standard in self.document.standards}
        return [held[name] for name in dict.fromkeys(wanted) if name in held]

    # --- minutes ---------------------------------------------------------------------------

    def _fill_minutes(self) -> None:
        """Each line of minutes, then set-up, run, rate and cost of each operation."""
        sheet, lines = self.minutes, self.document.estimate.minutes
        set_widths(sheet, [12, 32, 28, 8, 14, 6, 12, 16, 9, 12])
        put(sheet, 1, 1, f"Minutes for {self.document.estimate.sets} sets", HEADING)
        heads = (
            "Operation",
            "What",
            "Standard",
            "Kind",
            "Quantity",
            "",
            "Value",
            "Unit",
            "Learning",
            "Minutes",
        )
        right = HEAD_RIGHT
        looks = (HEAD, HEAD, HEAD, HEAD, right, HEAD, right, _UNIT_HEAD, right, right)
        put_row(sheet, 3, heads, looks)
        for row, line in enumerate(lines, start=4):
            self._minutes_line(row, line)
        last = 3 + len(lines)
        top = last + 3
        put(sheet, top - 1, 1, "By operation", HEADING)
        heads = ("Operation", "", "", "", "Set-up min", "", "Run min", "Minutes", "Rate", "Cost")
        put_row(sheet, top, heads, HEAD_RIGHT)
        put(sheet, top, 1, heads[0], HEAD)
        for row, cost in enumerate(self.document.estimate.operations, start=top + 1):
            put(sheet, row, 1, cost.operation)
            for column, kind in ((5, "set-up"), (7, "run")):
                total = f'SUMIFS($J$4:$J${last},$A$4:$A${last},$A{row},$D$4:$D${last},"{kind}")'
                put_formula(sheet, row, column, f"=ROUND({total},2)", MINUTES)
            put_formula(sheet, row, 8, f"=ROUND(E{row}+G{row},2)", MINUTES)
            put_formula(sheet, row, 9, f"={self.standard_cells[f'rate.{cost.operation}']}", self.money)
            put_formula(sheet, row, 10, self._rounded(f"H{row}*I{row}/60"), self.money)
            self.operation_cells[cost.operation] = f"Minutes!$J${row}"
        end = top + len(self.document.estimate.operations)
        put(sheet, end + 1, 1, "Together", PLAIN.but(bold=True))
        for column in (5, 7, 8, 10):
            letter = "ABCDEFGHIJ"[column - 1]
            digits, look = (self.digits, self.money) if column == 10 else (2, MINUTES)
            formula = f"=ROUND(SUM({letter}{top + 1}:{letter}{end}),{digits})"
            put_formula(sheet, end + 1, column, formula, look.but(bold=True, rule="t"))
        self.labour_cell = f"Minutes!$J${end + 1}"
        sheet.freeze_panes = "A4"

    def _minutes_line(self, row: int, line: MinutesLine) -> None:
        sheet = self.minutes
        put_row(sheet, row, (line.operation, line.what, line.standard, line.kind))
        put(sheet, row, 5, line.quantity, _FREE)
        put(sheet, row, 6, "×" if line.how == "times" else "÷", PLAIN.but(across="center"))
        if line.standard:
            put_formula(sheet, row, 7, f"={self.standard_cells[line.standard]}", NUMBER)
        else:
            put(sheet, row, 7, line.value, _FREE)
        put(sheet, row, 8, line.unit, _UNIT)
        put(sheet, row, 9, line.factor, NUMBER)
        sign = "*" if line.how == "times" else "/"
        put_formula(sheet, row, 10, f"=ROUND(E{row}{sign}G{row}*I{row},2)", MINUTES)

    # --- policy ----------------------------------------------------------------------------

    def _fill_policy(self) -> None:
        """The shop's policy on the Price sheet, as cells that may be changed."""
        sheet, policy = self.price, self.document.policy
        set_widths(sheet, [34, 14, 14, 14, 4, 30, 13])
        put(sheet, 4, 6, "How this shop prices", HEADING)
        rows: list[tuple[str, str, Decimal | None]] = [
            ("sets", "Sets", Decimal(self.document.estimate.sets)),
            ("margin", "Margin, % of the price", policy.margin_pct),
            ("markup", "Markup, % of the cost", policy.markup_pct),
            ("overhead", "Overhead, % of labour", policy.overhead_pct),
            ("contingency", "Contingency, % of all cost", policy.contingency_pct),
            ("scrap", "Spoiled pieces, %", policy.scrap_pct),
            ("bought", "Markup on bought items, %", policy.bought_markup_pct),
            ("outside", "Markup on outside work, %", policy.outside_markup_pct),
            ("rush", "Rush work, %", policy.rush_pct),
            ("discount", "Discount, %", policy.discount_pct),
            ("minimum", "Minimum order", policy.minimum_order),
        ]
        row = 5
        for name, text, value in rows:
            if value is None:
                continue
            put(sheet, row, 6, text)
            # The plan and the minutes are of this many sets; another number needs a plan of its own.
            look = WHOLE if name == "sets" else _FREE
            put(sheet, row, 7, value, look)
            self.policy_cells[name] = f"Price!$G${row}"
            row += 1
        put_across(sheet, row, 6, 7, "Empty lines of the policy are left out.", NOTE)

    # --- costs -----------------------------------------------------------------------------

    def _fill_costs(self) -> None:
        """Every cost that is not labour by the hour: quantity x unit cost, or a share of a sum."""
        sheet, lines = self.costs, self.document.estimate.costs
        set_widths(sheet, [14, 52, 14, 8, 14, 12, 14])
        put(sheet, 1, 1, "Costs besides labour", HEADING)
        heads = ("Category", "What", "Quantity", "Unit", "Unit cost", "At least", "Amount")
        put_row(sheet, 3, heads, (HEAD, HEAD, HEAD_RIGHT, _UNIT_HEAD, *[HEAD_RIGHT] * 3))
        self.cost_rows: dict[int, CostLine] = {}
        last = 3 + len(lines)
        for row, line in enumerate(lines, start=4):
            self.cost_rows[row] = line
            put(sheet, row, 1, line.category)
            put(sheet, row, 2, line.text, WRAPPED)
            put(sheet, row, 4, line.unit, _UNIT)
            if line.base:
                self._share_line(row, line)
            else:
                self._cost_line(row, line)
        put(sheet, last + 1, 2, "Together", PLAIN.but(bold=True))
        put_formula(sheet, last + 1, 7, f"=ROUND(SUM(G4:G{max(4, last)}),{self.digits})",
                    self.money.but(bold=True, rule="t"))  # fmt: skip
        sheet.freeze_panes = "A4"

    def _cost_line(self, row: int, line: CostLine) -> None:
        sheet = self.costs
        put(sheet, row, 3, line.quantity, _FREE)
        if line.category == "consumables" and line.standard in self.standard_cells:
            put_formula(sheet, row, 5, f"={self.standard_cells[line.standard]}", NUMBER)
        else:
            put(sheet, row, 5, line.unit_cost, _FREE)
        if line.minimum:
            put(sheet, row, 6, line.minimum, self.money.but(fill=EDITABLE))
        amount = self._rounded(f"C{row}*E{row}")
        put_formula(sheet, row, 7, f"=MAX(F{row},{amount[1:]})" if line.minimum else amount, self.money)

    def _share_line(self, row: int, line: CostLine) -> None:
        """A percentage of material, labour or everything before it."""
        sheet = self.costs
        name = (
            "scrap"
            if line.base in ("material", "labour")
            else {"labour and scrap": "overhead"}.get(line.base, "contingency")
        )
        put_formula(sheet, row, 3, f"=ROUND({self._base(line.base, row)},{self.digits})", self.money)
        put_formula(sheet, row, 5, f"={self.policy_cells[name]}", NUMBER)
        put_formula(sheet, row, 7, self._rounded(f"C{row}*E{row}/100"), self.money)

    def _base(self, base: str, row: int) -> str:
        """What a percentage is taken of, as a formula."""
        held = self.cost_rows.items()
        if base == "material":
            rows = [r for r, line in held if line.category == "material" and not line.base]
            return _sum(rows)
        if base == "labour":
            return self.labour_cell
        if base == "labour and scrap":
            return f"{self.labour_cell}+{_sum([r for r, line in held if line.base == 'labour'])}"
        return f"{self.labour_cell}+{_sum([r for r in self.cost_rows if r < row])}"

    # --- price -----------------------------------------------------------------------------

    def _fill_price(self) -> None:
        sheet, document = self.price, self.document
        put(sheet, 1, 1, f"Estimate {document.number}", TITLE)
        sheet.row_dimensions[1].height = 26
        words = (document.job, document.title, document.customer.name, document.issued_on.isoformat())
        put(sheet, 2, 1, " · ".join((*words, f"revision {document.revision}", "for the shop only")), LABEL)
        row = self._fill_categories(4)
        row = self._fill_lines(row + 1)
        row = self._fill_taxes(row)
        row = self._fill_chances(row + 1)
        row = self._fill_quantities(row + 1)
        self._fill_notes(row + 1)

    def _fill_categories(self, row: int) -> int:
        """Cost by category, the whole cost, and the price that it asks for."""
        sheet, currency = self.price, self.document.priced.currency
        put(sheet, row, 1, "What it costs", HEADING)
        put_row(sheet, row + 1, ("Category", f"Cost, {currency}", "Share"), (HEAD, HEAD_RIGHT, HEAD_RIGHT))
        first = row + 2
        cost_row = first + len(CATEGORIES)
        for at, category in enumerate(CATEGORIES, start=first):
            put(sheet, at, 1, category)
            total = f"SUMIFS(Costs!$G$4:$G$5000,Costs!$A$4:$A$5000,A{at})"
            labour = f"+{self.labour_cell}" if category == "labour" else ""
            put_formula(sheet, at, 2, f"=ROUND({total}{labour},{self.digits})", self.money)
            put_formula(
                sheet, at, 3, f"=IF($B${cost_row}=0,0,B{at}/$B${cost_row})", NUMBER.but(number="0.0%")
            )
            self.category_cells[category] = f"$B${at}"
        bold = self.money.but(bold=True, rule="t")
        put(sheet, cost_row, 1, "Cost", PLAIN.but(bold=True, rule="t"))
        put_formula(sheet, cost_row, 2, f"=ROUND(SUM(B{first}:B{cost_row - 1}),{self.digits})", bold)
        self.cost_cell = f"$B${cost_row}"
        put(sheet, cost_row + 1, 1, "Price that this asks for, not rounded")
        put_formula(sheet, cost_row + 1, 2, f"={self._asked()}", NUMBER.but(number="#,##0.0000"))
        self.asked_cell = f"$B${cost_row + 1}"
        return cost_row + 2

    def _asked(self) -> str:
        """The price of all sets as a formula: own markups apart, the rest at the margin or markup."""
        rest, terms = self.cost_cell, []
        for category in ("bought", "outside"):
            if category in self.policy_cells:
                cell = self.category_cells[category]
                rest += f"-{cell}"
                terms.append(f"{cell}*(1+{self.policy_cells[category]}/100)")
        if "markup" in self.policy_cells:
            terms.append(f"({rest})*(1+{self.policy_cells['markup']}/100)")
        else:
            terms.append(f"({rest})/(1-{self.policy_cells['margin']}/100)")
        return "+".join(terms)

    def _fill_lines(self, row: int) -> int:
        """The printed lines; the charges stand here also where they are zero."""
        sheet, document = self.price, self.document
        put(sheet, row, 1, "What the customer sees", HEADING)
        put_row(sheet, row + 1, ("Line", "Quantity", "Unit price", "Amount"), (HEAD, *[HEAD_RIGHT] * 3))
        first = row + 2
        own = [line for line in document.priced.lines if line.key not in _CHARGES]
        sets = self.policy_cells["sets"]
        at = first
        for line in own:
            put_across(sheet, at, 1, 1, self._line_words(line), WRAPPED)
            put(sheet, at, 2, line.quantity, WHOLE)
            self._unit_price(at, line, first, own)
            put_formula(sheet, at, 4, self._rounded(f"B{at}*C{at}"), self.money)
            at += 1
        for text, unit in (
            ("Rush work", f"{{before}}*{self.policy_cells['rush']}/100/{sets}"),
            ("Discount", f"-{{before}}*{self.policy_cells['discount']}/100/{sets}"),
        ):
            put(sheet, at, 1, text)
            put_formula(sheet, at, 2, f"={sets}", WHOLE)
            put_formula(
                sheet, at, 3, self._rounded(unit.format(before=f"SUM(D{first}:D{at - 1})")), self.money
            )
            put_formula(sheet, at, 4, self._rounded(f"B{at}*C{at}"), self.money)
            at += 1
        missing = f"ROUND(({self.policy_cells['minimum']}-SUM(D{first}:D{at - 1}))/{sets},8)"
        put(sheet, at, 1, "Up to the minimum order")
        put_formula(sheet, at, 2, f"={sets}", WHOLE)
        put_formula(sheet, at, 3, f"=IF({missing}>0,ROUNDUP({missing},{self.digits}),0)", self.money)
        put_formula(sheet, at, 4, self._rounded(f"B{at}*C{at}"), self.money)
        self.first_line, self.last_line = first, at
        return at + 1

    def _line_words(self, line: QuoteLine) -> str:
        if line.override_reason:
            return f"{line.text} (set by hand instead of {line.calculated}: {line.override_reason})"
        return line.text

    def _unit_price(self, at: int, line: QuoteLine, first: int, own: Sequence[QuoteLine]) -> None:
        """Unit price as the program works it out: by the set, by the part, or what the parts leave."""
        sheet, document = self.price, self.document
        if line.override_reason:
            put(sheet, at, 3, line.unit_price, self.money.but(fill=EDITABLE))
            return
        sets = self.policy_cells["sets"]
        marks = {f"part {part.mark}": part for part in document.estimate.parts}
        if line.key in marks:
            part = marks[line.key]
            direct = sum((each.cost for each in document.estimate.parts), Decimal(0))
            whole = len(own) == len(marks)
            carried = self.cost_cell if whole else f"{direct}"
            formula = f"{part.cost}*({self.asked_cell}*{carried}/{self.cost_cell}/{direct})/B{at}"
        elif marks and document.policy.lines == "part":
            # A price set by hand does not move what the set carries: its own calculated one counts.
            calculated = "+".join(
                f"B{place}*{f'C{place}' if other.calculated is None else other.calculated}"
                for place, other in enumerate(own, start=first)
                if other is not line
            )
            formula = f"({self.asked_cell}-({calculated}))/{sets}"
        else:
            formula = f"{self.asked_cell}/{sets}"
        put_formula(sheet, at, 3, self._rounded(formula), self.money)

    def _fill_taxes(self, row: int) -> int:
        sheet, priced = self.price, self.document.priced
        bold = PLAIN.but(bold=True)
        put(sheet, row, 1, "Net, before tax", bold)
        put_formula(sheet, row, 4, f"=ROUND(SUM(D{self.first_line}:D{self.last_line}),{self.digits})",
                    self.money.but(bold=True, rule="t"))  # fmt: skip
        net = f"$D${row}"
        self.net_cell = net
        at = row + 1
        for tax in priced.taxes:
            put(sheet, at, 1, tax.name)
            put(sheet, at, 3, tax.percent, _FREE)
            put_formula(sheet, at, 4, self._rounded(f"{net}*C{at}/100"), self.money)
            at += 1
        put(sheet, at, 1, "Total", bold)
        put_formula(
            sheet, at, 4, f"=ROUND(SUM(D{row}:D{at - 1}),{self.digits})", self.money.but(bold=True, rule="t")
        )
        put(sheet, at + 1, 1, "Margin, % of the net price", bold)
        put_formula(sheet, at + 1, 4, f"=IF({net}=0,0,ROUND(({net}-{self.cost_cell})/{net}*100,2))", MINUTES)
        return at + 2

    def _fill_chances(self, row: int) -> int:
        """How sure the estimate is; worked out by the program, not by formulas."""
        sheet, document = self.price, self.document
        sure, priced = document.estimate.confidence, document.priced
        put(sheet, row, 1, "How sure this is", HEADING)
        target = asked_margin_pct(document.estimate, document.policy)
        facts: list[tuple[str, Value, Style]] = [
            ("Usual deviation of the cost", sure.deviation, self.money),
            ("In 8 jobs of 10 the cost is at least", sure.low, self.money),
            ("and at most", sure.high, self.money),
            (f"Chance of less than {target:.2f} % margin, %", priced.chance_below_target_pct, NUMBER),
            ("Chance of a loss, %", priced.chance_of_loss_pct, NUMBER),
        ]
        for at, (text, value, look) in enumerate(facts, start=row + 1):
            put(sheet, at, 1, text)
            put(sheet, at, 4, value, look)
        row += 1 + len(facts)
        for name, share in sure.drivers:
            put(sheet, row, 1, f"   of the spread, {name}, %", LABEL)
            put(sheet, row, 4, share, NUMBER)
            row += 1
        return row

    def _fill_quantities(self, row: int) -> int:
        """Other quantities as they were planned; each has a cut plan of its own."""
        sheet, breaks = self.price, self.document.priced.breaks
        self.break_rows = (0, 0)
        if not breaks:
            return row
        put(sheet, row, 1, "Other quantities, each planned on its own", HEADING)
        put_row(sheet, row + 1, ("Sets", "Unit price", "Net total", "Cost"), (HEAD, *[HEAD_RIGHT] * 3))
        put(sheet, row + 1, 6, "Margin, %", HEAD_RIGHT)
        put(sheet, row + 1, 7, "Unplanned", HEAD_RIGHT)
        for at, step in enumerate(breaks, start=row + 2):
            put(sheet, at, 1, step.sets, WHOLE.but(across="left"))
            for column, value in (
                (2, step.unit_price),
                (3, step.total),
                (4, step.cost),
                (7, step.calculated),
            ):
                put(sheet, at, column, value, self.money)
            put(sheet, at, 6, step.margin_pct, MINUTES)
        self.break_rows = (row + 2, row + 1 + len(breaks))
        return row + 2 + len(breaks)

    def _fill_notes(self, row: int) -> None:
        sheet = self.price
        notes = [*self.document.priced.notes, *self.document.estimate.notes, *self.document.cautions]
        if notes:
            put(sheet, row, 1, "To look at", HEADING)
        for at, note in enumerate(notes, start=row + 1):
            put_across(sheet, at, 1, 7, note, NOTE)

    def _rounded(self, formula: str) -> str:
        """A formula that rounds half up to the currency's digits."""
        return f"=ROUND({formula},{self.digits})"

    # --- parts and pictures ----------------------------------------------------------------

    def _fill_parts(self) -> None:
        sheet, estimate = self.parts, self.document.estimate
        set_widths(sheet, [10, 34, 12, 16, 16, 16, 16])
        put(sheet, 1, 1, "Run minutes and direct cost of each part", HEADING)
        heads = ("Mark", "Part", "Pieces", "Minutes", "Minutes a piece", "Direct cost", "Cost a piece")
        put_row(sheet, 3, heads, (HEAD, HEAD, *[HEAD_RIGHT] * 5))
        for row, part in enumerate(estimate.parts, start=4):
            looks = (PLAIN, WRAPPED, WHOLE, MINUTES, MINUTES, self.money, self.money)
            put_row(sheet, row, (part.mark, part.name, part.pieces, part.minutes), looks)
            put_formula(sheet, row, 5, f"=D{row}/C{row}", MINUTES)
            put(sheet, row, 6, part.cost, self.money)
            put_formula(sheet, row, 7, f"=F{row}/C{row}", self.money)
        row = 6 + len(estimate.parts)
        put(sheet, row - 1, 1, "Bars that are charged", HEADING)
        heads = ("Grade", "Bar", "Pieces", "Bars bought", "Net m", "Bought m", "Amount")
        put_row(sheet, row, heads, (HEAD, HEAD, *[HEAD_RIGHT] * 5))
        for at, material in enumerate(estimate.materials, start=row + 1):
            values = (material.grade, material.section, material.pieces, material.bars, material.net_m,
                      material.bought_m, material.amount)  # fmt: skip
            put_row(sheet, at, values, (PLAIN, WRAPPED, WHOLE, WHOLE, NUMBER, NUMBER, self.money))

    def _fill_pictures(self) -> None:
        """Cost build-up, minutes by operation, price by quantity."""
        sheet = self.pictures
        set_widths(sheet, [12] * 10)
        put(sheet, 1, 1, f"{self.document.number}: pictures of the estimate", HEADING)
        currency = self.document.priced.currency
        first = int(self.category_cells["material"].rsplit("$", 1)[1])
        build = _bars("What the cost is made of", currency)
        build.add_data(
            Reference(self.price, min_col=2, min_row=first, max_row=first + 5), titles_from_data=False
        )
        build.set_categories(Reference(self.price, min_col=1, min_row=first, max_row=first + 5))
        sheet.add_chart(_painted(build), "A3")
        operations = self.document.estimate.operations
        if operations:
            top = int(self.operation_cells[operations[0].operation].rsplit("$", 1)[1])
            end = top + len(operations) - 1
            by_operation = _bars("Time by operation", "minutes")
            by_operation.add_data(
                Reference(self.minutes, min_col=8, min_row=top, max_row=end), titles_from_data=False
            )
            by_operation.set_categories(Reference(self.minutes, min_col=1, min_row=top, max_row=end))
            sheet.add_chart(_painted(by_operation), "A20")
        top, end = self.break_rows
        if end > top:
            sheet.add_chart(_curve(self.price, top, end, currency), "A37")


def _bars(title: str, unit: str) -> BarChart:
    chart = BarChart()
    chart.type = "bar"
    chart.style = 10
    chart.title = f"{title}, {unit}"
    chart.legend = None
    chart.gapWidth = 40
    chart.width, chart.height = 18, 8
    chart.x_axis.delete = False
    chart.x_axis.scaling.orientation = "maxMin"
    labels = DataLabelList()
    labels.showVal = True
    labels.showSerName = labels.showCatName = labels.showLegendKey = labels.showPercent = False
    chart.dataLabels = labels
    chart.y_axis.majorGridlines = None
    chart.y_axis.delete = True  # every bar carries its figure
    return chart


def _painted(chart: BarChart) -> BarChart:
    """All bars in the colour of our sheets."""
    for series in chart.series:
        series.graphicalProperties.solidFill = ACCENT
    return chart


def _curve(sheet: Worksheet, top: int, end: int, currency: str) -> ScatterChart:
    chart = ScatterChart()
    chart.title = "Price of one set by quantity"
    chart.style = 10
    chart.x_axis.title, chart.y_axis.title = "sets", currency
    chart.legend = None
    chart.width, chart.height = 18, 8
    chart.x_axis.delete = chart.y_axis.delete = False
    sets = Reference(sheet, min_col=1, min_row=top, max_row=end)
    prices = Reference(sheet, min_col=2, min_row=top, max_row=end)
    line = Series(prices, sets)
    line.marker.symbol = "circle"
    line.smooth = False
    line.graphicalProperties.line.solidFill = ACCENT
    chart.series.append(line)
    return chart


def _sum(rows: Sequence[int]) -> str:
    """A sum over rows of the cost amounts that follow on each other; 0 for none."""
    return f"SUM(G{min(rows)}:G{max(rows)})" if rows else "0"
