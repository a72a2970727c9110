"""Quotes in the terminal and as JSON: one quote, a list, a comparison, a price target."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money
from shopquote.calc.pricing.answers import BreakPrice
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.price import PriceTarget, asked_margin_pct
from shopquote.outputs.tables.show import Side, new_table, print_facts, print_files, print_table
from shopquote.services.quotes.quote import QuoteRow
from shopquote.services.quotes.quote_changes import Difference, WhatIf

if TYPE_CHECKING:
    from rich.table import Table


def quote_json(document: QuoteDocument, files: Sequence[Path] = ()) -> dict[str, object]:
    """A quote with its estimate; money has the currency's digits, minutes two decimals."""
    priced = document.priced
    return {
        "job": document.job,
        "number": document.number,
        "revision": document.revision,
        "title": document.title,
        "customer": document.customer.name,
        "currency": priced.currency,
        "sets": priced.sets,
        "issued_on": document.issued_on,
        "lines": [
            {
                "text": line.text,
                "quantity": line.quantity,
                "unit_price": _money(line.unit_price, document),
                "amount": _money(line.amount, document),
            }
            for line in priced.lines
        ],
        "net": _money(priced.net, document),
        "taxes": [
            {"name": tax.name, "percent": tax.percent, "amount": _money(tax.amount, document)}
            for tax in priced.taxes
        ],
        "tax": _money(priced.tax, document),
        "total": _money(priced.total, document),
        "valid_until": document.valid_until,
        "breaks": [_break_json(step, document) for step in priced.breaks],
        "estimate": _estimate_json(document),
        "notes": [*priced.notes, *document.estimate.notes],
        "files": list(files),
        "cautions": list(document.cautions),
    }


def _break_json(step: BreakPrice, document: QuoteDocument) -> dict[str, object]:
    better = None
    if step.better is not None:
        better = {"sets": step.better[0], "more": _money(step.better[1], document)}
    return {
        "sets": step.sets,
        "unit_price": _money(step.unit_price, document),
        "total": _money(step.total, document),
        "cost": _money(step.cost, document),
        "margin_pct": step.margin_pct,
        "better": better,
    }


def _estimate_json(document: QuoteDocument) -> dict[str, object]:
    estimate, priced = document.estimate, document.priced
    categories = {name: _money(amount, document) for name, amount in estimate.by_category.items()}
    sure = estimate.confidence
    return {
        **categories,
        "cost": _money(estimate.cost, document),
        "margin_pct": priced.margin_pct,
        "target_margin_pct": round(asked_margin_pct(estimate, document.policy), 2),
        "minutes": {name: _minutes(minutes) for name, minutes in estimate.by_operation.items()},
        "set_up_minutes": {cost.operation: _minutes(cost.set_up) for cost in estimate.operations},
        "deviation": _money(sure.deviation, document),
        "low": _money(sure.low, document),
        "high": _money(sure.high, document),
        "chance_below_target_pct": priced.chance_below_target_pct,
        "chance_of_loss_pct": priced.chance_of_loss_pct,
    }


def _money(amount: Decimal, document: QuoteDocument) -> Decimal:
    return round_money(amount, document.priced.currency)


def _minutes(minutes: Decimal) -> float:
    return float(minutes)


def print_quote(document: QuoteDocument, files: Sequence[Path] = ()) -> None:
    """A quote as the owner sees it: price, quantities, cost, minutes, what to look at."""
    priced, estimate = document.priced, document.estimate
    title = f"{document.name}: {document.job} {document.title}, {priced.currency}"
    table = new_table(
        "What", ("Quantity", "right"), ("Unit price", "right"), ("Amount", "right"), title=title
    )
    for line in priced.lines:
        table.add_row(line.text, str(line.quantity), str(line.unit_price), str(line.amount))
    table.add_row("Net, before tax", "", "", str(priced.net))
    for tax in priced.taxes:
        table.add_row(f"{tax.name} {tax.percent:f} %", "", "", str(tax.amount))
    table.add_row("Total", "", "", str(priced.total), style="bold")
    print_table(table)
    if priced.breaks:
        print()
        print_table(_breaks_table(document))
    print()
    print_table(_cost_table(document))
    print()
    sure = estimate.confidence
    print_facts(
        [
            ("Valid until", document.valid_until.isoformat()),
            ("Margin", f"{priced.margin_pct} % of the net price"),
            ("Cost in 8 jobs of 10", f"{sure.low} to {sure.high}"),
            ("Chance of less than the target margin", f"{priced.chance_below_target_pct} %"),
            ("Chance of a loss", f"{priced.chance_of_loss_pct} %"),
        ],
        title="How sure this is",
    )
    print()
    for note in (*priced.notes, *estimate.notes, *document.cautions):
        print(f"! {note}")
    print_files(files)


def _breaks_table(document: QuoteDocument) -> "Table":
    figures: list[tuple[str, Side]] = [
        (word, "right") for word in ("Sets", "Unit price", "Net total", "Margin %")
    ]
    table = new_table(*figures, "Note", title="Other quantities, before tax")
    for step in document.priced.breaks:
        note = ""
        if step.better is not None:
            note = f"{step.better[0]} sets cost {step.better[1] or 'no'} more in all"
        row = (str(step.sets), str(step.unit_price), str(step.total), str(step.margin_pct), note)
        table.add_row(*row)
    return table


def _cost_table(document: QuoteDocument) -> "Table":
    figures: list[tuple[str, Side]] = [(heading, "right") for heading in ("Set-up min", "Run min", "Labour")]
    table = new_table("Cost", ("Amount", "right"), "", "Operation", *figures, title="What it costs the shop")
    costs = [(name, str(_money(amount, document))) for name, amount in document.estimate.by_category.items()]
    costs.append(("together", str(document.estimate.cost)))
    works = [
        (cost.operation, str(cost.set_up), str(cost.run), str(cost.amount))
        for cost in document.estimate.operations
    ]
    for row in range(max(len(costs), len(works))):
        cost = costs[row] if row < len(costs) else ("", "")
        work = works[row] if row < len(works) else ("", "", "", "")
        table.add_row(*cost, "", *work)
    return table


def quotes_json(rows: Iterable[QuoteRow]) -> dict[str, object]:
    """Stored quotes."""
    return {
        "quotes": [
            {
                "quote": row.number,
                "revision": row.revision,
                "job": row.job,
                "customer": row.customer,
                "state": row.state,
                "issued_on": row.issued_on,
                "valid_until": row.valid_until,
                "currency": row.currency,
                "net": round_money(row.net, row.currency),
                "total": round_money(row.total, row.currency),
                "margin_pct": round(row.margin_pct, 2),
                "reason": row.reason,
            }
            for row in rows
        ]
    }


def print_quotes(rows: Iterable[QuoteRow]) -> None:
    """Stored quotes, a line each; the net with its currency."""
    fixed: list[tuple[str, Side]] = [(word, "right") for word in ("Valid until", "Net", "Margin %")]
    table = new_table(("Quote", "right"), ("Job", "right"), "Customer", ("State", "right"), *fixed)
    for row in rows:
        net = f"{round_money(row.net, row.currency)} {row.currency}"
        table.add_row(
            f"{row.number} r{row.revision}", row.job, row.customer, row.state, row.valid_until.isoformat(),
            net, str(round(row.margin_pct, 2)),
        )  # fmt: skip
    print_table(table)


def differences_json(differences: Iterable[Difference]) -> list[dict[str, object]]:
    """What differs, before and after as text."""
    return [
        {"what": one.what, "before": one.before, "after": one.after, "change": one.change}
        for one in differences
    ]


def print_differences(title: str, differences: Sequence[Difference]) -> None:
    """What differs, a line each."""
    if not differences:
        print(f"{title}: no difference.")
        return
    table = new_table("What", ("Before", "right"), ("After", "right"), ("Change", "right"), title=title)
    for one in differences:
        table.add_row(one.what, one.before, one.after, one.change)
    print_table(table)


def what_if_json(answer: WhatIf) -> dict[str, object]:
    """The stored quote beside the asked one."""
    return {
        "job": answer.before.job,
        "revision": answer.before.revision,
        "changes": list(answer.changes),
        "before": {"net": answer.before.priced.net, "total": answer.before.priced.total,
                   "cost": answer.before.priced.cost, "margin_pct": answer.before.priced.margin_pct},
        "after": {"net": answer.after.priced.net, "total": answer.after.priced.total,
                  "cost": answer.after.priced.cost, "margin_pct": answer.after.priced.margin_pct},
        "differences": differences_json(answer.differences),
    }  # fmt: skip


def target_json(job: str, target: PriceTarget) -> dict[str, object]:
    """What a wished price leaves and which minutes would have to go."""
    return {
        "job": job,
        "net": target.net,
        "margin_pct": target.margin_pct,
        "target_margin_pct": target.target_pct,
        "cost_allowed": target.cost_allowed,
        "cost_too_high_by": target.too_dear_by,
        "chance_of_loss_pct": target.chance_of_loss_pct,
        "minutes_to_save": [
            {"operation": operation, "save": save, "of": now} for operation, save, now in target.savings
        ],
        "or_share_of_all_minutes_pct": target.share_of_all_pct,
    }


def print_target(job: str, target: PriceTarget) -> None:
    """The same in words."""
    print_facts(
        [
            ("Net price", str(target.net)),
            ("Margin that it leaves", f"{target.margin_pct} % (target {target.target_pct} %)"),
            ("Cost that the target allows", str(target.cost_allowed)),
            ("Cost is too high by", str(target.too_dear_by)),
            ("Chance of a loss", f"{target.chance_of_loss_pct} %"),
        ],
        title=f"{job} at another price",
    )
    for operation, save, now in target.savings:
        print(f"  or save {save} of {now} minutes of {operation}")
    if target.share_of_all_pct is not None:
        print(f"  or save {target.share_of_all_pct} % of the minutes of every operation")
    elif target.too_dear_by:
        print("  Even without any minutes the cost would be too high.")
