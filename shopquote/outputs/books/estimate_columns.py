"""The columns of the estimate workbook with their live formulas.

Formulas name columns by these objects, so that a column can be inserted anywhere.
They round as the program does: minutes to 0.01, money to the currency's decimals.
"""

from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.money import currency_digits
from shopquote.calc.pricing.priced_quote import (
    BreakPrice,
    CostLine,
    MaterialCost,
    MinutesLine,
    OperationCost,
    PartMinutes,
)
from shopquote.calc.pricing.standards import Standard
from shopquote.outputs.books.sheet_table import At, Drawn
from shopquote.outputs.looks import COUNT, DAY, EXACT_MINUTES, MONEY, NUMBER, TEXT, Look, Setting
from shopquote.outputs.table import Column, Editable, Formula


def rounded(formula: str, setting: Setting) -> str:
    """A formula rounded half up to the currency's decimals."""
    return f"ROUND({formula},{currency_digits(setting.currency)})"


STANDARD_VALUE: Column[Standard] = Column("Value", lambda standard: Editable(standard.value), NUMBER)
STANDARDS: tuple[Column[Standard], ...] = (
    Column("Name", lambda standard: standard.name, width=32),
    STANDARD_VALUE,
    Column("Unit", lambda standard: standard.unit, width=18),
    Column("Spread %", lambda standard: standard.spread_pct, NUMBER, 9),
    Column("Since", lambda standard: standard.since, DAY, 13),
    Column("Source", lambda standard: standard.source, width=58),
)

# --- minutes --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MinutesRow:
    """A line of minutes, with the cell of its standard if it has one."""

    line: MinutesLine
    standard: str | None

    def value(self) -> object:
        """The standard's live value, or the line's own."""
        cell = self.standard
        return Editable(self.line.value) if cell is None else Formula(lambda at: cell)

    def minutes(self, at: At) -> str:
        """Quantity x value, or quantity / value, x learning."""
        sign = "*" if self.line.how == "times" else "/"
        return f"ROUND({at[QUANTITY]}{sign}{at[VALUE]}*{at[FACTOR]},2)"


OPERATION: Column[MinutesRow] = Column("Operation", lambda row: row.line.operation)
KIND: Column[MinutesRow] = Column("Kind", lambda row: row.line.kind, width=8)
QUANTITY: Column[MinutesRow] = Column("Quantity", lambda row: Editable(row.line.quantity), NUMBER, 14)
VALUE: Column[MinutesRow] = Column("Value", lambda row: row.value(), NUMBER)
FACTOR: Column[MinutesRow] = Column("Learning", lambda row: row.line.factor, NUMBER, 9)
LINE_MINUTES: Column[MinutesRow] = Column("Minutes", lambda row: Formula(row.minutes), EXACT_MINUTES)
MINUTES: tuple[Column[MinutesRow], ...] = (
    OPERATION,
    Column("What", lambda row: row.line.what, width=32),
    Column("Standard", lambda row: row.line.standard, width=28),
    KIND,
    QUANTITY,
    Column("", lambda row: "×" if row.line.how == "times" else "÷", width=6),
    VALUE,
    Column("Unit", lambda row: row.line.unit, width=16),
    FACTOR,
    LINE_MINUTES,
)


@dataclass(frozen=True, slots=True)
class OperationRow:
    """One operation, with the cell of its rate and the lines that it adds up."""

    cost: OperationCost
    rate: str
    lines: Drawn[MinutesRow]

    def minutes(self, at: At, kind: str) -> str:
        """The formula for the operation's minutes of one kind, set-up or run."""
        lines = self.lines
        operations, kinds = lines.range(OPERATION), lines.range(KIND)
        wanted = f'{operations},{at[OPERATION_NAME]},{kinds},"{kind}"'
        return f"ROUND(SUMIFS({lines.range(LINE_MINUTES)},{wanted}),2)"

    def amount(self, at: At) -> str:
        """The formula for minutes at the hourly rate."""
        setting = at.drawn.table.setting
        return rounded(f"{at[OPERATION_MINUTES]}*{at[RATE]}/60", setting)


# Above the lines of minutes, on the same grid of columns.
OPERATION_NAME: Column[OperationRow] = Column("Operation", lambda row: row.cost.operation, span=4)
SET_UP: Column[OperationRow] = Column(
    "Set-up minutes", lambda row: Formula(lambda at: row.minutes(at, "set-up")), EXACT_MINUTES, 14, sum=True
)
RUN: Column[OperationRow] = Column(
    "Run minutes", lambda row: Formula(lambda at: row.minutes(at, "run")), EXACT_MINUTES, sum=True, span=2
)
OPERATION_MINUTES: Column[OperationRow] = Column(
    "Minutes", lambda row: Formula(lambda at: f"ROUND({at[SET_UP]}+{at[RUN]},2)"), EXACT_MINUTES, 16, sum=True
)
RATE: Column[OperationRow] = Column("Rate", lambda row: Formula(lambda at: row.rate), MONEY, 9)
OPERATION_COST: Column[OperationRow] = Column("Cost", lambda row: Formula(row.amount), MONEY, sum=True)
OPERATIONS = (OPERATION_NAME, SET_UP, RUN, OPERATION_MINUTES, RATE, OPERATION_COST)

# --- other costs ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CostRow:
    """A cost. `standard` is the cell of its unit cost; `share`, of a percentage, the cell of its per cent."""

    line: CostLine
    standard: str | None
    share: str
    labour: str
    setting: Setting

    def quantity(self) -> object:
        """The quantity, or the sum that a percentage is taken of."""
        if not self.line.base:
            return Editable(self.line.quantity)
        return Formula(lambda at: rounded(self.base(at), self.setting))

    def base(self, at: At) -> str:
        """The sum that a percentage is taken of, as a formula over the rows above."""

        def total(before: int | None, *categories: str, base: str = "") -> str:
            return at.drawn.sum_where(
                AMOUNT, lambda row: row.line.base == base and row.line.category in categories, before
            )

        base = self.line.base
        if base == "material":
            return total(None, "material")
        if base == "labour":
            return self.labour
        if base == "labour and scrap":
            shares = at.drawn.sum_where(AMOUNT, lambda row: row.line.base == "labour")
            return f"{self.labour}+{shares}"
        return f"{self.labour}+{at.drawn.sum_where(AMOUNT, lambda row: True, at.index)}"

    def unit_cost(self) -> object:
        """The per cent, the standard's live value, or the line's own value."""
        cell = self.share or self.standard
        return Formula(lambda at: cell) if cell else Editable(self.line.unit_cost)

    def amount(self, at: At) -> str:
        """Quantity x unit cost, but at least the minimum charge."""
        product = f"{at[COST_QUANTITY]}*{at[UNIT_COST]}"
        amount = rounded(f"{product}/100" if self.line.base else product, self.setting)
        return f"MAX({at[AT_LEAST]},{amount})" if self.line.minimum and not self.line.base else amount

    def least(self) -> object:
        """The minimum charge."""
        return Editable(self.line.minimum) if self.line.minimum and not self.line.base else None


COST_CATEGORY: Column[CostRow] = Column("Category", lambda row: row.line.category, width=14)
COST_QUANTITY: Column[CostRow] = Column("Quantity", lambda row: row.quantity(), NUMBER, 14)
UNIT_COST: Column[CostRow] = Column("Unit cost", lambda row: row.unit_cost(), NUMBER, 14)
AT_LEAST: Column[CostRow] = Column("At least", lambda row: row.least(), MONEY)
AMOUNT: Column[CostRow] = Column("Amount", lambda row: Formula(row.amount), MONEY, 14, sum=True)
COSTS: tuple[Column[CostRow], ...] = (
    COST_CATEGORY,
    Column("What", lambda row: row.line.text, width=52),
    COST_QUANTITY,
    Column("Unit", lambda row: row.line.unit, width=8),
    UNIT_COST,
    AT_LEAST,
    AMOUNT,
)

# --- parts ----------------------------------------------------------------------------------------

PIECES: Column[PartMinutes] = Column("Pieces", lambda part: part.pieces, COUNT)
PART_MINUTES: Column[PartMinutes] = Column("Minutes", lambda part: part.minutes, EXACT_MINUTES, 16)
PART_COST: Column[PartMinutes] = Column("Direct cost", lambda part: part.cost, MONEY, 16)
PARTS: tuple[Column[PartMinutes], ...] = (
    Column("Mark", lambda part: part.mark, width=10),
    Column("Part", lambda part: part.name, width=34),
    PIECES,
    PART_MINUTES,
    Column(
        "Minutes per piece", lambda part: Formula(lambda at: f"{at[PART_MINUTES]}/{at[PIECES]}"),
        EXACT_MINUTES, 16,
    ),
    PART_COST,
    Column("Cost per piece", lambda part: Formula(lambda at: f"{at[PART_COST]}/{at[PIECES]}"), MONEY, 16),
)  # fmt: skip
BARS_USED: tuple[Column[MaterialCost], ...] = (
    Column("Grade", lambda material: material.grade, width=10),
    Column("Bar", lambda material: material.section, width=34),
    Column("Pieces", lambda material: material.pieces, COUNT),
    Column("Bars bought", lambda material: material.bars, COUNT, 16),
    Column("Net m", lambda material: material.net_m, NUMBER, 16),
    Column("Bought m", lambda material: material.bought_m, NUMBER, 16),
    Column("Amount", lambda material: material.amount, MONEY, 16),
)

# --- the price ------------------------------------------------------------------------------------

RATIO = Look(TEXT.text, TEXT.data, lambda value, setting: value, lambda setting: "0.0%")


@dataclass(frozen=True, slots=True)
class CategoryRow:
    """A category with its lines on the Costs sheet; labour also has its hours."""

    name: str
    costs: Drawn[CostRow]
    labour: str

    def cost(self, at: At) -> str:
        """The formula for the total of the category."""
        costs = self.costs
        wanted = f"{costs.range(COST_CATEGORY, far=True)},{at[CATEGORY]}"
        hours = f"+{self.labour}" if self.labour else ""
        return rounded(f"SUMIFS({costs.range(AMOUNT, far=True)},{wanted}){hours}", at.drawn.table.setting)

    def share(self, at: At) -> str:
        """The formula for its share of the total cost."""
        total = at.drawn.total(CATEGORY_COST)
        return f"IF({total}=0,0,{at[CATEGORY_COST]}/{total})"


CATEGORY: Column[CategoryRow] = Column("Category", lambda row: row.name, width=34)
CATEGORY_COST: Column[CategoryRow] = Column(
    "Cost {currency}", lambda row: Formula(row.cost), MONEY, 14, sum=True
)
CATEGORIES_OF_COST: tuple[Column[CategoryRow], ...] = (
    CATEGORY,
    CATEGORY_COST,
    Column("Share", lambda row: Formula(row.share), RATIO, 14),
)
# The fifth column of the Price sheet is empty; it separates the price from the policy beside it.
PLANNED: tuple[Column[BreakPrice], ...] = (
    Column("Sets", lambda step: step.sets, COUNT, 34),
    Column("Unit price", lambda step: step.unit_price, MONEY, 14),
    Column("Net total", lambda step: step.total, MONEY, 14),
    Column("Cost", lambda step: step.cost, MONEY, 14),
    Column("", lambda step: None, width=4),
    Column("Margin %", lambda step: step.margin_pct, NUMBER, 30),
    # The price before prices are put in order (the unit price never rises with the quantity).
    Column("Unit price on its own", lambda step: step.calculated, MONEY, 20),
)
Policy = tuple[str, str, Decimal]
POLICY_VALUE: Column[Policy] = Column(
    # Not editable: plan and minutes are for this number of sets, another number needs its own plan.
    "Value",
    lambda row: row[2] if row[0] == "sets" else Editable(row[2]),
    NUMBER,
    13,
)
POLICY: tuple[Column[Policy], ...] = (Column("Policy", lambda row: row[1], width=30), POLICY_VALUE)
