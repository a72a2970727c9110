"""The Price sheet of the estimate workbook: live formulas from the cost to what the customer sees."""

from collections.abc import Sequence
from decimal import Decimal

from openpyxl.worksheet.worksheet import Worksheet

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.price import DISCOUNT_LINE, MINIMUM_LINE, RUSH_LINE, asked_margin_pct
from shopquote.calc.pricing.priced_quote import CATEGORIES, CHANCE_NOT_KNOWN, BreakPrice, QuoteLine
from shopquote.outputs.books.book import Bands, put, put_first, put_formula, put_line
from shopquote.outputs.books.estimate_columns import (
    CATEGORIES_OF_COST,
    CATEGORY_COST,
    PLANNED,
    POLICY,
    POLICY_VALUE,
    CategoryRow,
    CostRow,
    Policy,
    rounded,
)
from shopquote.outputs.books.sheet_table import Drawn, draw, fact, put_facts, widen
from shopquote.outputs.books.style import EDITABLE, HEADING, LABEL, NOTE, PLAIN, TITLE, Style
from shopquote.outputs.looks import COUNT, EXACT_MINUTES, MONEY, NUMBER, TEXT, Setting
from shopquote.outputs.table import Column, Editable, Formula, Table

_CHARGES = (RUSH_LINE, DISCOUNT_LINE, MINIMUM_LINE)
# The policy that gives the per cent of each percentage cost.
_SHARES = {"material": "scrap", "labour": "scrap", "labour and scrap": "overhead"}


@dataclass(frozen=True, slots=True)
class LineToPrice:
    """A line that the customer sees, with its charges even where they are zero."""

    text: str
    quantity: object
    unit: object
    setting: Setting


LINE_QUANTITY: Column[LineToPrice] = Column("Quantity", lambda line: line.quantity, COUNT, 14)
UNIT_PRICE: Column[LineToPrice] = Column("Unit price", lambda line: line.unit, MONEY, 14)
LINE_AMOUNT: Column[LineToPrice] = Column(
    "Amount",
    lambda line: Formula(lambda at: rounded(f"{at[LINE_QUANTITY]}*{at[UNIT_PRICE]}", line.setting)),
    MONEY,
    14,
)
LINES: tuple[Column[LineToPrice], ...] = (
    Column("Line", lambda line: line.text, width=34),
    LINE_QUANTITY,
    UNIT_PRICE,
    LINE_AMOUNT,
)
# The policy is to the right of the price, with a column between.
_SIDES = Bands(price=len(LINES), gap=1, policy=len(POLICY))


class PriceSheet:
    """Draws the sheet from the top down, the policy first, because other sheets refer to it."""

    categories: Drawn[CategoryRow]
    policy: Drawn[Policy]
    lines: Drawn[LineToPrice]
    planned: Drawn[BreakPrice] | None = None

    def __init__(self, sheet: Worksheet, document: QuoteDocument, setting: Setting, labour: str) -> None:
        self.sheet, self.document, self.setting, self.labour = sheet, document, setting, labour
        self.asked = ""

    # --- policy ----------------------------------------------------------------------------

    def draw_policy(self) -> None:
        """Draw the shop's policy in cells that may be changed."""
        policy = self.document.policy
        rows: list[tuple[str, str, Decimal | None]] = [
            ("sets", "Sets", Decimal(self.document.estimate.sets)),
            ("margin", "Margin, % of the price", policy.margin_pct),
            ("markup", "Markup, % of the cost", policy.markup_pct),
            ("overhead", "Overhead, % of labour", policy.overhead_pct),
            ("contingency", "Contingency, % of all cost", policy.contingency_pct),
            ("scrap", "Spoiled pieces, %", policy.scrap_pct),
            ("bought", "Markup on bought items, %", policy.bought_markup_pct),
            ("outside", "Markup on subcontract work, %", policy.outside_markup_pct),
            ("rush", "Rush work, %", policy.rush_pct),
            ("discount", "Discount, %", policy.discount_pct),
            ("minimum", "Minimum order", policy.minimum_order),
        ]
        held = [(name, text, value) for name, text, value in rows if value is not None]
        put(self.sheet, 4, _SIDES.first("policy"), "How this shop prices", HEADING)
        self.policy = draw(self.sheet, Table(POLICY, held), 5, start=_SIDES.first("policy"), boxed=False)
        _SIDES.put(self.sheet, self.policy.below, "policy", "Empty lines of the policy are left out.", NOTE)

    def has(self, name: str) -> bool:
        """Whether the shop has a policy of this name."""
        return any(row[0] == name for row in self.policy.table.rows)

    def policy_cell(self, name: str, *, far: bool = False) -> str:
        """The address of a policy's cell; `far` includes its sheet."""
        names = [row[0] for row in self.policy.table.rows]
        return self.policy.cell(POLICY_VALUE, names.index(name), far=far)

    def share_cell(self, base: str) -> str:
        """The cell with the per cent that is taken of `base`, as addressed from the Costs sheet."""
        return self.policy_cell(_SHARES.get(base, "contingency"), far=True)

    # --- the sheet -------------------------------------------------------------------------

    def draw(self, costs: Drawn[CostRow]) -> None:
        """Draw everything but the policy."""
        sheet, document = self.sheet, self.document
        widen(sheet, PLANNED)
        put_first(sheet, 1, f"Estimate {document.number}", TITLE)
        sheet.row_dimensions[1].height = 26
        words = (document.job, document.title, document.customer.name, document.issued_on.isoformat())
        put_first(sheet, 2, " · ".join((*words, f"revision {document.revision}", "for the shop only")), LABEL)
        row = self._categories(4, costs)
        row = self._lines(row + 1)
        row = self._taxes(row)
        row = self._chances(row + 1)
        row = self._quantities(row + 1)
        self._notes(row + 1)

    def _categories(self, row: int, costs: Drawn[CostRow]) -> int:
        """Draw cost by category, the total cost, and the price that follows from it."""
        put_first(self.sheet, row, "What it costs", HEADING)
        rows = [CategoryRow(name, costs, self.labour if name == "labour" else "") for name in CATEGORIES]
        table = Table(CATEGORIES_OF_COST, rows, setting=self.setting, foot="Cost")
        self.categories = draw(self.sheet, table, row + 1)
        row, place = self.categories.below, self.categories.place(CATEGORY_COST)
        put_first(self.sheet, row, "Price that this asks for, not rounded")
        exact = PLAIN.but(number="#,##0.0000", across="right")
        put_formula(self.sheet, row, place, f"={self._asked()}", exact)
        self.asked = f"${self.categories.letter(CATEGORY_COST)}${row}"
        return row + 1

    @property
    def cost(self) -> str:
        """The address of the total cost."""
        return self.categories.total(CATEGORY_COST)

    def _asked(self) -> str:
        """The formula for the price of all sets: categories with their own markup, then all others."""
        rest, terms = self.cost, []
        for category in ("bought", "outside"):
            if self.has(category):
                cell = self.categories.cell(CATEGORY_COST, CATEGORIES.index(category))
                rest += f"-{cell}"
                terms.append(f"{cell}*(1+{self.policy_cell(category)}/100)")
        if self.has("markup"):
            terms.append(f"({rest})*(1+{self.policy_cell('markup')}/100)")
        else:
            terms.append(f"({rest})/(1-{self.policy_cell('margin')}/100)")
        return "+".join(terms)

    # --- what the customer sees ------------------------------------------------------------

    def _lines(self, row: int) -> int:
        """Draw the printed lines, then the charges on them."""
        put_first(self.sheet, row, "What the customer sees", HEADING)
        own = [line for line in self.document.priced.lines if line.key not in _CHARGES]
        rows = [
            LineToPrice(_line_words(line), line.quantity, self._unit_price(line, own), self.setting)
            for line in own
        ]
        self.lines = draw(self.sheet, Table(LINES, [*rows, *self._charges()], setting=self.setting), row + 1)
        return self.lines.below

    def _charges(self) -> list[LineToPrice]:
        sets, setting = self.policy_cell("sets"), self.setting
        rush, discount, minimum = map(self.policy_cell, ("rush", "discount", "minimum"))

        def of_all_above(sign: str, percent: str) -> Formula:
            return Formula(
                lambda at: rounded(f"{sign}SUM({at.above(LINE_AMOUNT)})*{percent}/100/{sets}", setting)
            )

        def up_to_minimum(missing: str) -> str:
            up = rounded(missing, setting).replace("ROUND(", "ROUNDUP(", 1)
            return f"IF({missing}>0,{up},0)"

        least = Formula(lambda at: up_to_minimum(f"ROUND(({minimum}-SUM({at.above(LINE_AMOUNT)}))/{sets},8)"))
        charges = (
            ("Rush work", of_all_above("", rush)), ("Discount", of_all_above("-", discount)),
            ("Minimum order charge", least),
        )  # fmt: skip
        return [LineToPrice(text, Formula(lambda at: sets), unit, setting) for text, unit in charges]

    def _unit_price(self, line: QuoteLine, own: Sequence[QuoteLine]) -> object:
        """The formula for a unit price: for the set, for a part, or for what the parts leave to the set."""
        estimate = self.document.estimate
        if line.override_reason:
            return Editable(line.unit_price)
        sets, asked = self.policy_cell("sets"), self.asked
        marks = {f"part {part.mark}": part for part in estimate.parts}
        if line.key in marks:
            part = marks[line.key]
            direct = sum((each.cost for each in estimate.parts), Decimal(0))
            carried = self.cost if len(own) == len(marks) else f"{direct}"
            each = f"{part.cost}*({asked}*{carried}/{self.cost}/{direct})"
            return Formula(lambda at: rounded(f"{each}/{at[LINE_QUANTITY]}", self.setting))
        if marks and self.document.policy.lines == "part":
            return Formula(
                lambda at: rounded(f"({asked}-({_parts(at.drawn, line, own)}))/{sets}", self.setting)
            )
        return Formula(lambda at: rounded(f"{asked}/{sets}", self.setting))

    def _taxes(self, row: int) -> int:
        """Draw net, taxes, total and margin below the amounts."""
        priced, first = self.document.priced, row
        self._sum(row, "Net, before tax", f"SUM({self.lines.range(LINE_AMOUNT)})", bold=True)
        net = f"${self.lines.letter(LINE_AMOUNT)}${row}"
        percent = self.lines.place(UNIT_PRICE)
        for tax in priced.taxes:
            row += 1
            cell = put(self.sheet, row, percent, tax.percent, self._style(NUMBER.number(self.setting), True))
            self._sum(row, tax.name, f"{net}*{cell.coordinate}/100")
        row += 1
        letter = self.lines.letter(LINE_AMOUNT)
        self._sum(row, "Total", f"SUM({letter}{first}:{letter}{row - 1})", bold=True)
        margin = f"=IF({net}=0,0,ROUND(({net}-{self.cost})/{net}*100,2))"
        put_first(self.sheet, row + 1, "Margin, % of the net price", PLAIN.but(bold=True))
        style = self._style(EXACT_MINUTES.number(self.setting))
        put_formula(self.sheet, row + 1, self.lines.place(LINE_AMOUNT), margin, style)
        return row + 2

    def _sum(self, row: int, name: str, formula: str, *, bold: bool = False) -> None:
        put_first(self.sheet, row, name, PLAIN.but(bold=bold))
        style = self._style(MONEY.number(self.setting)).but(bold=bold, rule="t" if bold else "")
        put_formula(
            self.sheet, row, self.lines.place(LINE_AMOUNT), f"={rounded(formula, self.setting)}", style
        )

    def _style(self, number: str, editable: bool = False) -> Style:
        return PLAIN.but(number=number, across="right", fill=EDITABLE if editable else None)

    # --- how sure, other quantities, notes -------------------------------------------------

    def _chances(self, row: int) -> int:
        """Draw how certain the estimate is, as values: the program computes it, not formulas."""
        sure, priced = self.document.estimate.confidence, self.document.priced
        put_first(self.sheet, row, "How sure this is", HEADING)
        target = asked_margin_pct(self.document.estimate, self.document.policy)
        chances = [
            fact(f"Chance of less than {target:.2f} % margin, %", NUMBER, priced.chance_below_target_pct),
            fact("Chance of a loss, %", NUMBER, priced.chance_of_loss_pct),
        ]
        facts = [
            fact("Usual deviation of the cost", MONEY, sure.deviation),
            fact("In 8 jobs of 10 the cost is at least", MONEY, sure.low),
            fact("and at most", MONEY, sure.high),
            *(chances if sure.known else [fact("Chance of a loss", TEXT, CHANCE_NOT_KNOWN)]),
            *(fact(f"   of the spread, {name}, %", NUMBER, share) for name, share in sure.drivers),
        ]
        return put_facts(self.sheet, row + 1, facts, self.setting)

    def _quantities(self, row: int) -> int:
        """Draw the other quantities as values: each has a cut plan of its own."""
        breaks = self.document.priced.breaks
        if not breaks:
            return row
        put_first(self.sheet, row, "Other quantities, each planned on its own", HEADING)
        self.planned = draw(self.sheet, Table(PLANNED, breaks, setting=self.setting), row + 1)
        return self.planned.below

    def _notes(self, row: int) -> None:
        document = self.document
        notes = [*document.priced.notes, *document.estimate.notes, *document.cautions]
        if notes:
            put_first(self.sheet, row, "To look at", HEADING)
        for note in notes:
            row += 1
            put_line(self.sheet, row, _SIDES.last, note, NOTE)


def _line_words(line: QuoteLine) -> str:
    if line.override_reason:
        return f"{line.text} (set by hand instead of {line.calculated}: {line.override_reason})"
    return line.text


def _parts(drawn: Drawn[LineToPrice], line: QuoteLine, own: Sequence[QuoteLine]) -> str:
    """The amount that the parts' lines carry; the set's line carries the rest.

    A price set by hand does not change it: the calculated price counts.
    """
    return "+".join(
        f"{drawn.cell(LINE_QUANTITY, index)}*"
        f"{drawn.cell(UNIT_PRICE, index) if other.calculated is None else other.calculated}"
        for index, other in enumerate(own)
        if other is not line
    )
