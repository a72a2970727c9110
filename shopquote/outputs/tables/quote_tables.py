"""Quotes in the terminal and as JSON: one quote, a list, a comparison, a price target."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.inwards import saved_together
from shopquote.calc.pricing.price import PriceTarget, asked_margin_pct
from shopquote.calc.pricing.priced_quote import (
    CHANCE_NOT_KNOWN,
    BreakPrice,
    Confidence,
    OperationCost,
    QuoteLine,
    TaxLine,
)
from shopquote.outputs.looks import COUNT, DAY, EXACT_MINUTES, FIGURE, MONEY, PERCENT, Look, Setting
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_facts, print_files, print_table

if TYPE_CHECKING:
    from shopquote.services.jobs.job_changes import Difference
    from shopquote.services.quotes.joint import Joint  # shown only in a quote of several jobs
    from shopquote.services.quotes.price_files import PricedFile  # a quote needs no starting lists
    from shopquote.services.quotes.quote_changes import WhatIf
    from shopquote.services.quotes.quotes_on_file import QuoteRow

# A larger quantity that costs hardly more: its number of sets, and the extra price.
BETTER = Look(
    lambda value, setting: f"{value[0]} sets",
    lambda value, setting: {"sets": value[0], "more": MONEY.data(value[1], setting)},
)


def _line_words(line: QuoteLine) -> str:
    return line.text if line.of in ("", line.text) else f"{line.of}: {line.text}"


LINES: tuple[Column[QuoteLine], ...] = (
    Column("What", _line_words, key="text"),
    Column("Quantity", lambda line: line.quantity, COUNT),
    Column("Unit price", lambda line: line.unit_price, MONEY),
    Column("Amount", lambda line: line.amount, MONEY, sum=True),
)
TAXES: tuple[Column[TaxLine], ...] = (
    Column("name", lambda tax: tax.name),
    Column("percent", lambda tax: tax.percent),
    Column("amount", lambda tax: tax.amount, MONEY),
)


def _better_words(step: BreakPrice) -> str:
    words = "" if step.better is None else f"{step.better[0]} sets cost {step.better[1] or 'no'} more in all"
    return ": ".join(filter(None, (step.of, words)))


BREAKS: tuple[Column[BreakPrice], ...] = (
    Column("Sets", lambda step: step.sets, COUNT),
    Column("Unit price", lambda step: step.unit_price, MONEY),
    Column("Net total", lambda step: step.total, MONEY, key="total"),
    Column("Cost", lambda step: step.cost, MONEY, on=JSON),
    Column("Margin", lambda step: step.margin_pct, PERCENT, key="margin_pct"),
    Column("Note", _better_words, on=SEEN),
    Column("Better", lambda step: step.better, BETTER, on=JSON),
)


def quote_json(document: QuoteDocument, files: Sequence[Path] = ()) -> dict[str, object]:
    """JSON of a quote with its estimate; money with the currency's decimals, minutes with two."""
    priced, setting = document.priced, Setting(document.priced.currency)
    return {
        "job": document.job,
        "number": document.number,
        "revision": document.revision,
        "title": document.title,
        "customer": document.customer.name,
        "currency": priced.currency,
        "sets": priced.sets,
        "issued_on": document.issued_on,
        "lines": json_rows(LINES, priced.lines, setting),
        "net": _money(priced.net, document),
        "taxes": json_rows(TAXES, priced.taxes, setting),
        "tax": _money(priced.tax, document),
        "total": _money(priced.total, document),
        "valid_until": document.valid_until,
        "breaks": [
            {**row, "of": step.of} if step.of else row
            for row, step in zip(json_rows(BREAKS, priced.breaks, setting), priced.breaks, strict=True)
        ],
        "estimate": _estimate_json(document),
        "notes": [*priced.notes, *document.estimate.notes],
        "guessed": list(document.guessed),
        "invented": list(document.invented),
        "files": list(files),
        "cautions": list(document.cautions),
    }


def _estimate_json(document: QuoteDocument) -> dict[str, object]:
    estimate, priced, setting = document.estimate, document.priced, Setting(document.priced.currency)
    categories = {name: _money(amount, document) for name, amount in estimate.by_category.items()}
    sure = estimate.confidence
    return {
        **categories,
        "cost": _money(estimate.cost, document),
        "margin_pct": priced.margin_pct,
        "target_margin_pct": round(asked_margin_pct(estimate, document.policy), 2),
        "minutes": {name: _minutes(minutes) for name, minutes in estimate.by_operation.items()},
        "labour_by_operation": json_rows(OPERATION_MONEY, estimate.operations, setting),
        "set_up_minutes": {cost.operation: _minutes(cost.set_up) for cost in estimate.operations},
        "deviation": _money(sure.deviation, document),
        "low": _money(sure.low, document),
        "high": _money(sure.high, document),
        "chance_below_target_pct": priced.chance_below_target_pct if sure.known else None,
        "chance_of_loss_pct": priced.chance_of_loss_pct if sure.known else None,
        "spread_known": sure.known,
    }


def _money(amount: Decimal, document: QuoteDocument) -> Decimal:
    return round_money(amount, document.priced.currency)


def _minutes(minutes: Decimal) -> float:
    return float(minutes)


def prices_json(priced: Sequence["PricedFile"]) -> dict[str, object]:
    """JSON of `price`: an object for one file, a list for several."""
    found = [_price_json(one) for one in priced]
    return found[0] if len(found) == 1 else {"prices": found}


def _price_json(priced: "PricedFile") -> dict[str, object]:
    stored = ("job", "number", "revision", "files")
    answer = {key: value for key, value in quote_json(priced.document).items() if key not in stored}
    asked = {} if priced.asked is None else {"what_if": _what_if_figures(priced.asked)}
    return {"file": priced.path, **answer, **asked, "own_shop": priced.own_shop}


def print_prices(priced: Sequence["PricedFile"]) -> None:
    """Print the prices of job files one after the other, each with its what-if."""
    for one in priced:
        print_quote(one.document, title=f"{one.path}: {one.document.title} (nothing is stored)")
        if one.asked is not None:
            print()
            print_differences(f"What if {', '.join(one.asked.changes)}", one.asked.differences)
    if priced and not priced[0].own_shop:
        print("Priced by the lists that every shop starts from; prices and suppliers in them are invented.")


def print_quote(document: QuoteDocument, files: Sequence[Path] = (), *, title: str = "") -> None:
    """Print a quote for the owner: price, quantities, cost, minutes, warnings."""
    priced, estimate = document.priced, document.estimate
    title = f"{title or f'{document.name}: {document.job} {document.title}'}, {priced.currency}"
    setting = Setting(priced.currency)
    sums = [
        ("Net, before tax", priced.net),
        *((f"{tax.name} {tax.percent:f} %", tax.amount) for tax in priced.taxes),
    ]
    print_table(Table(PRINTED_LINES, [*priced.lines, *sums], title, setting, last=("Total", priced.total)))
    if priced.breaks:
        print()
        print_table(Table(BREAKS, priced.breaks, "Other quantities, before tax", setting))
    print()
    costs = list(estimate.by_category.items())
    print_table(Table(COSTS, costs, "What it costs the shop", setting, last=("total", estimate.cost)))
    print()
    # The cost above includes the hours for spoilt pieces, which belong to no operation.
    worked = sum((cost.amount for cost in estimate.operations), Decimal(0))
    spoilt = estimate.by_category["labour"] - worked
    more = f"; {spoilt} for spoilt pieces come on top" if spoilt else ""
    print_table(Table(OPERATIONS, estimate.operations, f"Labour by operation{more}", setting, foot="total"))
    print()
    sure = estimate.confidence
    print_facts(
        [
            ("Valid until", document.valid_until.isoformat()),
            ("Margin", f"{priced.margin_pct} % of the net price"),
            ("Cost in 8 jobs of 10", f"{sure.low} to {sure.high}" + ("" if sure.known else ", a guess")),
            ("Chance of less than the target margin", chance_words(priced.chance_below_target_pct, sure)),
            ("Chance of a loss", chance_words(priced.chance_of_loss_pct, sure)),
        ],
        title="How sure this is",
    )
    print()
    for note in (*priced.notes, *estimate.notes, *document.cautions):
        print(f"! {note}")
    print_files(files)


def chance_words(chance_pct: Decimal, sure: Confidence) -> str:
    """A chance as text: in words while too little is known, and never as 0 or 100 %."""
    if not sure.known:
        return CHANCE_NOT_KNOWN
    if chance_pct < 1:
        return "less than 1 %"
    return f"{chance_pct} %" if chance_pct <= 99 else "more than 99 %"


Sum = tuple[str, Decimal]
# The quote's lines with their amounts, for the owner.
PRINTED_LINES: tuple[Column[QuoteLine | Sum], ...] = (
    Column("What", lambda line: line[0] if isinstance(line, tuple) else _line_words(line)),
    Column("Quantity", lambda line: None if isinstance(line, tuple) else line.quantity, COUNT),
    Column("Unit price", lambda line: None if isinstance(line, tuple) else line.unit_price, MONEY),
    Column("Amount", lambda line: line[1] if isinstance(line, tuple) else line.amount, MONEY),
)
COSTS: tuple[Column[Sum], ...] = (
    Column("Cost", lambda cost: cost[0]),
    Column("Amount", lambda cost: cost[1], MONEY),
)
OPERATIONS: tuple[Column[OperationCost], ...] = (
    Column("Operation", lambda cost: cost.operation),
    Column("Set-up minutes", lambda cost: cost.set_up, EXACT_MINUTES, sum=True),
    Column("Run minutes", lambda cost: cost.run, EXACT_MINUTES, sum=True),
    Column("Labour", lambda cost: cost.amount, MONEY, sum=True),
)

# Money by operation, with the hourly rate that was used.
OPERATION_MONEY: tuple[Column[OperationCost], ...] = (
    Column("operation", lambda cost: cost.operation),
    Column("minutes", lambda cost: _minutes(cost.set_up + cost.run)),
    Column("rate", lambda cost: cost.rate),
    Column("amount", lambda cost: cost.amount, MONEY),
)

# Each quote has a currency of its own.
QUOTES: "tuple[Column[QuoteRow], ...]" = (
    Column("Quote", lambda row: f"{row.number} r{row.revision}{row.joint and f' in {row.joint}'}", on=SEEN),
    Column("Quote", lambda row: row.number, on=JSON),
    Column("Revision", lambda row: row.revision, on=JSON),
    Column("Job", lambda row: row.job),
    Column("Joint", lambda row: row.joint, on=JSON),
    Column("Customer", lambda row: row.customer),
    Column("State", lambda row: row.state),
    Column("Issued on", lambda row: row.issued_on, DAY, on=JSON),
    Column("Valid until", lambda row: row.valid_until, DAY),
    Column("Currency", lambda row: row.currency, on=JSON),
    Column("Net", lambda row: f"{round_money(row.net, row.currency)} {row.currency}", FIGURE, on=SEEN),
    Column("Net", lambda row: round_money(row.net, row.currency), on=JSON),
    Column("Total", lambda row: round_money(row.total, row.currency), on=JSON),
    Column("Margin", lambda row: round(row.margin_pct, 2), PERCENT, key="margin_pct"),
    Column("Reason", lambda row: row.reason, on=JSON),
)


def quotes_json(rows: "Iterable[QuoteRow]") -> dict[str, object]:
    """JSON of stored quotes."""
    return {"quotes": json_rows(QUOTES, rows)}


def joint_json(joint: "Joint", files: Sequence[Path] = ()) -> dict[str, object]:
    """JSON of a joint quote: `quote_json` of the whole, with each job's own quote besides."""
    whole = quote_json(joint.document, files)
    members = []
    for quote in joint.quotes:
        saved = _money(saved_together(quote.estimate.costs), quote)
        members.append({**quote_json(quote), "saved_together": saved})
    return {**whole, "deposit": joint.document.deposit, "jobs": members}


def print_quotes(rows: "Iterable[QuoteRow]") -> None:
    """Print stored quotes, a line each, net amounts with their currency."""
    listed = list(rows)
    if not listed:
        print("No quotes.")
    print_table(Table(QUOTES, listed))


DIFFERENCES: "tuple[Column[Difference], ...]" = (
    Column("What", lambda one: one.what),
    Column("Before", lambda one: one.before, FIGURE),
    Column("After", lambda one: one.after, FIGURE),
    Column("Change", lambda one: one.change, FIGURE),
)


def differences_json(differences: "Iterable[Difference]") -> list[dict[str, object]]:
    """JSON of differences: each value before and after, as text."""
    return json_rows(DIFFERENCES, differences)


def print_differences(title: str, differences: "Sequence[Difference]") -> None:
    """Print differences, a line each."""
    if not differences:
        print(f"{title}: no difference.")
        return
    print_table(Table(DIFFERENCES, differences, title))


def what_if_json(answer: "WhatIf") -> dict[str, object]:
    """JSON of a what-if: the stored quote beside the changed one."""
    return {"job": answer.before.job, "revision": answer.before.revision, **_what_if_figures(answer)}


def _what_if_figures(answer: "WhatIf") -> dict[str, object]:
    return {
        "changes": list(answer.changes),
        "before": {"net": answer.before.priced.net, "total": answer.before.priced.total,
                   "cost": answer.before.priced.cost, "margin_pct": answer.before.priced.margin_pct},
        "after": {"net": answer.after.priced.net, "total": answer.after.priced.total,
                  "cost": answer.after.priced.cost, "margin_pct": answer.after.priced.margin_pct},
        "differences": differences_json(answer.differences),
    }  # fmt: skip


SAVINGS: tuple[Column[tuple[str, Decimal, Decimal]], ...] = (
    Column("operation", lambda saving: saving[0]),
    Column("save", lambda saving: saving[1]),
    Column("of", lambda saving: saving[2]),
)


def target_json(job: str, target: PriceTarget) -> dict[str, object]:
    """JSON of a target price: the margin it leaves, and the minutes to save."""
    return {
        "job": job,
        "net": target.net,
        "margin_pct": target.margin_pct,
        "target_margin_pct": target.target_pct,
        "cost_allowed": target.cost_allowed,
        "cost_too_high_by": target.too_dear_by,
        "chance_of_loss_pct": target.chance_of_loss_pct if target.confidence.known else None,
        "minutes_to_save": json_rows(SAVINGS, target.savings),
        "or_share_of_all_minutes_pct": target.share_of_all_pct,
    }


def print_target(job: str, target: PriceTarget) -> None:
    """Print a target price: what the cost may be, and what must be saved."""
    print_facts(
        [
            ("Net price", str(target.net)),
            ("Margin that it leaves", f"{target.margin_pct} % (target {target.target_pct} %)"),
            ("Cost that the target allows", str(target.cost_allowed)),
            ("Cost is too high by", str(target.too_dear_by)),
            ("Chance of a loss", chance_words(target.chance_of_loss_pct, target.confidence)),
        ],
        title=f"{job} at another price",
    )
    for operation, save, now in target.savings:
        print(f"  or save {save} of {now} minutes of {operation}")
    if target.share_of_all_pct is not None:
        print(f"  or save {target.share_of_all_pct} % of the minutes of every operation")
    elif target.too_dear_by:
        print("  Even without any minutes the cost would be too high.")
