"""Orders in the terminal and as JSON."""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.buying.order_document import OrderDocument
from shopquote.calc.money import round_money
from shopquote.calc.units import Unit, show_bar, show_mass
from shopquote.errors import counted
from shopquote.outputs.looks import COUNT, MONEY, Setting
from shopquote.outputs.table import Column, Table, json_rows
from shopquote.outputs.tables.order_columns import (
    LINES_ON_FILE,
    ORDERS_ON_FILE,
    PICKS,
    PRICE_CHANGES,
    order_table,
)
from shopquote.outputs.tables.show import print_files, print_table

if TYPE_CHECKING:
    from shopquote.calc.buying.buying_plan import Extra
    from shopquote.records.orders import Order
    from shopquote.services.buying.orders import PlacedOrders
    from shopquote.services.buying.price_list import PriceChange, PriceList
    from shopquote.services.buying.purchase import PurchasePlan


def write_all(documents: Sequence[OrderDocument], folder: Path, *, letter: bool = False) -> tuple[Path, ...]:
    """Write the files of several orders, with a letter to each supplier if wanted; returns their paths."""
    from shopquote.outputs.books.order_book import write_order_files
    from shopquote.outputs.papers.order_paper import write_order_paper

    files: list[Path] = []
    for order in documents:
        files += [*write_order_files(order, folder), write_order_paper(order, folder)]
        if letter:
            from shopquote.outputs.papers.letter import write_order_letter

            files.append(write_order_letter(order, folder, files[-1]))
    return tuple(files)


# --- orders just placed ---------------------------------------------------------------------------


def orders_json(placed: "PlacedOrders", files: Sequence[Path]) -> dict[str, object]:
    """JSON of `order JOB...`."""
    plan = placed.plan
    return {
        "orders": [_document_json(order) for order in placed.documents],
        "from_rack": json_rows(PICKS, plan.picks),
        **purchase_json(plan),
        "seconds": round(plan.seconds, 3),
        "ways": dict(plan.ways),
        "apart": [{"jobs": jobs, "cost": _cents(plan, cost)} for jobs, cost in plan.apart.items()],
        "saving": _cents(plan, plan.saving),
        "shares": [{"job": job, "share": _cents(plan, share)} for job, share in sorted(plan.shares.items())],
        "warnings": _warnings(placed),
        "files": list(files),
    }


def _why_extra(extra: "Extra", unit: Unit = "mm") -> str:
    """Why bars beyond the need are bought; masses in lb if the unit is inches, else in kg."""
    one = extra.count == 1
    if extra.bundle:
        return f"sold in bundles of {extra.offer.bundle}"
    if extra.saves is None:
        return f"sold only from {show_mass(extra.offer.steps[0].from_g / 1000, unit, 'g')} on"
    brings = []
    if extra.price_step:
        brings.append("reaches the lower price" if one else "reach the lower price")
    if extra.free_delivery:
        brings.append("makes delivery free" if one else "make delivery free")
    return " and ".join(brings) or "may be left out"


# Bars beyond the need.
EXTRA_BARS: "tuple[Column[Extra], ...]" = (
    Column("Supplier", lambda extra: extra.offer.supplier),
    Column("Bar", lambda extra: extra.offer.kind.section),
    Column("Grade", lambda extra: extra.offer.kind.grade),
    Column("Length mm", lambda extra: extra.offer.kind.length),
    Column("Count", lambda extra: extra.count, COUNT),
    Column("Saves", lambda extra: extra.saves, MONEY),
    Column("Why", _why_extra),
)


def _extra_words(plan: "PurchasePlan", extra: "Extra", unit: Unit) -> str:
    """One bar more than needed makes delivery free and saves 11.70 (round 12 S275, 6000 mm, of Near)."""
    kind = extra.offer.kind
    count = "One bar" if extra.count == 1 else f"{extra.count} bars"
    length = show_bar(kind.length, unit)
    of = f"{kind.section} {kind.grade}, {length}, of {extra.offer.supplier}"
    if extra.saves is None:
        return f"{count} more than needed ({of}): {_why_extra(extra, unit)}."
    saves = "saves" if extra.count == 1 else "save"
    return (
        f"{count} more than needed {_why_extra(extra, unit)} and {saves} {_cents(plan, extra.saves)} ({of})."
    )


def _document_json(order: OrderDocument) -> dict[str, object]:
    table = order_table(order)
    return {
        "number": order.number,
        "revision": order.revision,
        "kind": order.kind,
        "supplier": order.supplier.name,
        "currency": order.currency,
        "lines": json_rows(table.columns, table.rows, table.setting),
        **_sums_json(order),
    }


def _sums_json(order: OrderDocument) -> dict[str, object]:
    """Goods, delivery, total and the jobs' shares; empty for a request for prices."""
    if order.is_ask:
        jobs = [{"job": share.job, "share": None} for share in order.jobs]
        return {"goods": None, "delivery": None, "total": None, "jobs": jobs}
    shares = [{"job": share.job, "share": share.share} for share in order.jobs]
    return {"goods": order.goods, "delivery": order.delivery, "total": order.total, "jobs": shares}


def print_placed(placed: "PlacedOrders", files: Sequence[Path]) -> None:
    """Print the orders, the pieces from the rack, the proof, and each job's share."""
    if not placed.documents:
        print("Nothing has to be bought for these jobs.")
    for order in placed.documents:
        _print_document(order)
    _print_picks(placed)
    _print_proof(placed)
    for warning in _warnings(placed):
        print(f"Note: {warning}")
    print_files(files)


def _warnings(placed: "PlacedOrders") -> list[str]:
    """What a person should know before bar is paid for, and what lies there for nothing."""
    told = [
        f"{piece} is promised to {job}, which does not need it; free it with: shopquote rack release {piece}"
        for piece, job in placed.idle
    ]
    told += placed.plan.tight
    if not placed.documents or placed.documents[0].is_ask:
        return told
    return told + [
        f"job {number} is only {state}; bar is bought that the customer has not accepted yet."
        for number, state in placed.not_won
    ]


def _print_document(order: OrderDocument) -> None:
    print_table(order_table(order))
    if not order.is_ask:
        print(_total_line(order.total, Decimal(order.delivery), order.currency))
    print()


def _total_line(total: object, delivery: Decimal, currency: str) -> str:
    told = f" (delivery {round_money(delivery, currency):f})" if delivery else ""
    return f"Total {total} {currency}{told}"


def _print_picks(placed: "PlacedOrders") -> None:
    for title, picks in (("From the rack", placed.from_rack), ("On order or cut already", placed.on_order)):
        if picks:
            print_table(Table(PICKS, picks, title, Setting(unit=placed.plan.unit)))
            print()


def _print_proof(placed: "PlacedOrders") -> None:
    plan = placed.plan
    if plan.cost:
        for line in purchase_lines(plan, placed.documents[0].units if placed.documents else plan.unit):
            print(line)
    if plan.saving:
        print(f"Ordering these jobs together saves {_cents(plan, plan.saving)} against one after another.")
    if len(plan.shares) > 1:
        bears = ", ".join(f"{job} {_cents(plan, share)}" for job, share in sorted(plan.shares.items()))
        print(f"Share of each job: {bears}.")


def purchase_lines(plan: "PurchasePlan", unit: Unit, currency: str = "") -> list[str]:
    """Lines for the cost with deliveries, its proof, and why bars beyond the need are bought.

    Lengths are in `unit`; masses in lb if that is inches, else in kg.
    """
    money = f" {currency}" if currency else ""
    proof = (
        "proven the cheapest of the ways compared"
        if plan.proven
        else f"cannot be under {_cents(plan, plan.bound)}"
    )
    cuts = "" if plan.cuts_proven else f"; better cut plans could save {_cents(plan, plan.cuts_gap)} at most"
    charged = [f"{_cents(plan, charge)} from {name}" for name, charge in plan.deliveries.items() if charge]
    delivery = f" with delivery ({', '.join(charged)})" if charged else ", delivered free"
    lines = [f"Bought for {_cents(plan, plan.cost)}{money}{delivery}: {proof}{cuts}."]
    if plan.cut_short:
        lines.append("The search was cut short by --seconds.")
    guessed = [f"Note: {words}" for words in (*plan.guesses, *plan.invented)]
    return lines + [_extra_words(plan, extra, unit) for extra in plan.extras] + guessed


def purchase_json(plan: "PurchasePlan | None") -> dict[str, object]:
    """JSON of a purchase: cost, suppliers, proof."""
    if plan is None:
        return {}
    return {
        "cost": _cents(plan, plan.cost),
        "bound": _cents(plan, plan.bound),
        "proven": plan.proven,
        "cuts_proven": plan.cuts_proven,
        "cuts_gap": _cents(plan, plan.cuts_gap),
        "cut_short": plan.cut_short,
        "deliveries": {name: _cents(plan, charge) for name, charge in plan.deliveries.items()},
        "extra_bars": json_rows(EXTRA_BARS, plan.extras, Setting(plan.currency)),
        "guessed": list(plan.guesses),
        "invented": list(plan.invented),
    }


def _cents(plan: "PurchasePlan", amount: Decimal) -> str:
    return f"{round_money(amount, plan.currency):f}"


# --- orders on file -------------------------------------------------------------------------------


def list_json(orders: Sequence["Order"]) -> dict[str, object]:
    """JSON of `order list`."""
    return {"orders": json_rows(ORDERS_ON_FILE, orders)}


def order_json(order: "Order", files: Sequence[Path]) -> dict[str, object]:
    """JSON of one order with its lines and what was received."""
    (head,) = json_rows(ORDERS_ON_FILE, [order])
    lines = json_rows(LINES_ON_FILE, order.lines, Setting(order.currency))
    return {**head, "lines": lines, "note": order.note, "reason": order.reason, "files": list(files)}


def print_list(orders: Sequence["Order"]) -> None:
    """Print orders as a table."""
    if not orders:
        print("No orders.")
    print_table(Table(ORDERS_ON_FILE, orders))


def print_order(order: "Order", unit: Unit, files: Sequence[Path]) -> None:
    """Print one order with what was received; masses in lb if the unit is inches, else in kg."""
    revision = f" revision {order.revision}" if order.revision > 1 else ""
    print(f"{order.number}{revision} to {order.supplier.name}: {order.state}")
    print_table(Table(LINES_ON_FILE, order.lines, setting=Setting(order.currency, unit)))
    if order.kind == "order":
        print(_total_line(f"{round_money(order.total, order.currency):f}", order.delivery, order.currency))
    if order.certificate_kind:
        print(f"Certificates asked for: EN 10204 {order.certificate_kind}")
    for told in filter(None, (order.note, order.reason)):
        print(told)
    print_files(files)


def print_lacking(lacking: Sequence[tuple[str, Sequence[str]]]) -> None:
    """Print which jobs now lack which bar, and how to order it."""
    for bar, jobs in lacking:
        lack = "lacks" if len(jobs) == 1 else "lack"
        print(f"Note: {', '.join(jobs)} now {lack} {bar}; buy it with: shopquote order {' '.join(jobs)}")


# --- price lists ----------------------------------------------------------------------------------


def price_list_json(read: "PriceList", *, stored: bool) -> dict[str, object]:
    """JSON of `order prices`."""
    return {
        "supplier": read.supplier,
        "stored": stored,
        "columns": dict(read.columns),
        "changes": json_rows(PRICE_CHANGES, read.changes),
        "not_on_the_list": list(read.missing),
        "rows_left_out": list(read.left_out),
        "rows_on_request": list(read.on_request),
    }


def price_list_table(read: "PriceList") -> Table["PriceChange"]:
    """The prices that a list changes; unchanged ones are left out."""
    return Table(PRICE_CHANGES, [change for change in read.changes if change.kind != "same"])


def price_list_lines(read: "PriceList") -> list[str]:
    """Lines about skipped rows of a price list, and how many bars changed in which way."""
    lines = []
    if read.left_out:
        rows = ", ".join(map(str, read.left_out))
        lines.append(f"Left out, because only the bar's column says something: row {rows}")
    if read.on_request:
        rows = ", ".join(map(str, read.on_request))
        lines.append(
            f"Without a price, to be asked for: row {rows}; these bars are not on file from this list."
        )
    counts = ", ".join(
        f"{read.count(kind)} {kind}" for kind in ("new", "dearer", "cheaper", "changed", "same")
    )
    left = counted(len(read.missing), "bar")
    return [*lines, f"{counts}; on file and not on this list, so left as they are: {left}."]


def print_price_list(read: "PriceList", *, stored: bool) -> None:
    """Print what a price list changes or, if not `stored`, would change."""
    columns = ", ".join(f"{word}: {place}" for word, place in read.columns.items())
    print(f"{read.supplier}: {counted(len(read.changes), 'bar')} read ({columns})")
    print_table(price_list_table(read))
    for line in price_list_lines(read):
        print(line)
    print("Stored." if stored else "Nothing was stored: leave out --preview to store it.")
