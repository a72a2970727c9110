"""A cut plan for people and programs: bars drawn to scale in the terminal, and JSON."""

import sys
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money, round_money_down, round_money_up
from shopquote.calc.takeoff.bars import tight_words
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Material
from shopquote.calc.takeoff.takeoff import Share
from shopquote.calc.takeoff.whole_sheets import Band
from shopquote.calc.units import ZERO, Length, Unit
from shopquote.errors import counted
from shopquote.outputs.looks import BAR_LENGTH, COUNT, EXACT_LENGTH, MASS, MONEY, Setting, price_text
from shopquote.outputs.table import Column, Table, json_rows
from shopquote.outputs.tables.cut_picture import NARROWEST, PieceWords, bar_shower, pen_of, picture, shower
from shopquote.outputs.tables.order_tables import purchase_json, purchase_lines
from shopquote.outputs.tables.show import console, print_table

if TYPE_CHECKING:
    from shopquote.services.buying.proofs import Checked
    from shopquote.services.buying.takeoff import Besides, Takeoff

# Printed with a takeoff's proof: what it shows, and what it does not.
CUTS_ALONE = (
    "the cuts, each length at the lowest price that any supplier asks for one bar; deliveries, price steps "
    "and bundles of a purchase are not in it"
)


# ---- JSON ---------------------------------------------------------------------------------


def plan_json(plan: CutPlan, currency: str = "EUR") -> dict[str, object]:
    """A plan as plain values: money as text, lengths in mm as numbers."""
    bars: list[dict[str, object]] = []
    for bar in plan.bars:
        bars.append(
            {
                "stock_mm": bar.stock,
                "count": bar.count,
                "pieces": [
                    {"mark": mark, "length_mm": length, "count": count} | ({"owner": owner} if owner else {})
                    for mark, length, count, owner in bar.pieces
                ],
                "offcut_mm": bar.offcut,
                "kept": bar.kept,
                "kerf_mm": bar.kerf,
                "trim_mm": bar.trim,
                "overlap_mm": bar.overlap,
                "spare_mm": bar.spare,
                "tolerance_mm": bar.tolerance,
                "rack_piece": bar.rack_piece,
                "supplier": bar.supplier,
                "price": None if bar.price is None else bar.price,
            }
        )
    return {
        "bars": bars,
        "bars_used": plan.bars_used,
        "cost": _amount(plan.cost, plan.priced, currency),
        "bound": _bound(plan, currency),
        "gap": _gap(plan, currency),
        "proven": plan.proven,
        "cut_short": plan.cut_short,
        "seconds": round(plan.seconds, 3),
    }


def _amount(amount: Decimal, priced: bool, currency: str) -> object:
    """Money as text in the currency's digits, or millimetres as a number."""
    if not priced:
        return int(amount) if amount == amount.to_integral_value() else float(amount)
    return f"{round_money(amount, currency):f}"


def _bound(plan: CutPlan, currency: str) -> object:
    """The bound, rounded down if the plan is not proven, so that it remains a bound."""
    if plan.proven or not plan.priced:
        return _amount(plan.bound, plan.priced, currency)
    return f"{round_money_down(plan.bound, currency):f}"


def _gap(plan: CutPlan, currency: str) -> object:
    if not plan.priced:
        return _amount(plan.gap, False, currency)
    return f"{round_money(plan.cost, currency) - Decimal(str(_bound(plan, currency))):f}"


BESIDES: "tuple[Column[Besides], ...]" = (
    Column("Bar", lambda held: held.bar),
    Column("Grade", lambda held: held.grade),
    Column("Count", lambda held: held.count, COUNT),
    Column("Length", lambda held: held.length, BAR_LENGTH, key="length_mm"),
    Column("Where", lambda held: held.where),
)
BANDS: tuple[Column[Band], ...] = (
    Column("Job", lambda band: band.owner),
    Column("Mark", lambda band: band.mark),
    Column("Sheet", lambda band: band.sheet.key),
    Column("Bands", lambda band: band.bands, COUNT),
    Column("Of", lambda band: band.along, EXACT_LENGTH, key="along_mm"),
    Column("Each into", lambda band: band.each, COUNT, key="each"),
    Column("Across", lambda band: band.across, EXACT_LENGTH, key="across_mm"),
    Column("Pieces", lambda band: band.pieces, COUNT),
    Column("Beside", lambda band: band.beside, EXACT_LENGTH, key="beside_mm"),
    Column("Of the last", lambda band: band.rest, EXACT_LENGTH, key="rest_mm"),
)
SHARES: tuple[Column[Share], ...] = (
    Column("Job", lambda share: share.owner),
    Column("Alone", lambda share: share.alone, MONEY, sum=True),
    Column("Share", lambda share: share.bears, MONEY, key="bears", sum=True),
    Column("Saves", lambda share: share.saving, MONEY, key="saving", sum=True),
)


def takeoff_json(takeoff: "Takeoff") -> dict[str, object]:
    """JSON of a takeoff: materials with their plans, bars that the jobs have already, each job's share."""
    return {
        "materials": [
            _material_json(material, takeoff.unit, takeoff.currency) for material in takeoff.materials
        ],
        **purchase_json(takeoff.purchase),
        "besides": json_rows(BESIDES, takeoff.besides),
        "bands": json_rows(BANDS, takeoff.bands),
        "shares": json_rows(SHARES, takeoff.shares, Setting(takeoff.currency)),
    }


def _material_json(material: Material, unit: Unit, currency: str) -> dict[str, object]:
    return {
        "bar": material.section.name(unit),
        "grade": material.grade.name,
        "pieces": material.pieces,
        "net_mm": material.net,
        "bought_mm": material.bought,
        "rack_mm": material.rack,
        "kerf_mm": material.kerf,
        "trim_mm": material.trim,
        "kept_mm": material.kept,
        "scrap_mm": material.scrap,
        "mass_kg": round(material.mass_kg, 3),
        "from_rack": [
            {"piece": bar.rack_piece, "length_mm": bar.stock}
            for bar in material.plan.bars
            if bar.rack_piece is not None
        ],
        "plan": plan_json(material.plan, currency),
    }


# ---- terminal -----------------------------------------------------------------------------


def print_plan(
    plan: CutPlan,
    words: PieceWords,
    currency: str = "",
    title: str | None = None,
    *,
    of_purchase: bool = False,
) -> None:
    """Print every bar to scale, then what to buy, offcuts, scrap and cost."""
    screen, unit = console(), words.unit
    strokes, width = pen_of(screen)
    if title:
        screen.print(title, style="bold")
    longest = max((bar.stock.nm for bar in plan.bars), default=1)
    for bar in plan.bars:
        screen.print(_heading(bar, unit), soft_wrap=True)
        screen.print(picture(bar, max(NARROWEST // 2, width * bar.stock.nm // longest), strokes, words))
        screen.print(_words(bar, words), style="dim")
    for line in closing_lines(plan, unit, currency, of_purchase=of_purchase):
        screen.print(line)


def proof_json(checked: "Checked | None") -> dict[str, object] | None:
    """JSON of a checked proof; None if there is none."""
    if checked is None:
        return None
    return {
        "good": checked.good,
        "cost": _amount(checked.cost, checked.priced, "EUR"),
        "bound": _amount(checked.bound, checked.priced, "EUR"),
        "proven": checked.proven,
        "about": CUTS_ALONE if checked.of_takeoff else "the plan of the list",
        "list_sha256": checked.list_sha256,
        "faults": list(checked.faults),
    }


def print_proof(checked: "Checked | None") -> None:
    """Print the result of checking a proof."""
    if checked is None:
        console().print("No proof: the search ended before it had one. More --seconds may give it.")
        return
    for fault in checked.faults:
        console().print(f"The proof is refused: {fault}.", soft_wrap=True)
    cost, bound = (_cost(amount, checked.priced, "mm", "") for amount in (checked.cost, checked.bound))
    holds = f"The proof holds, checked without a solver: the plan costs {cost}"
    if checked.proven:
        console().print(f"{holds}, and none is cheaper.", soft_wrap=True)
    elif checked.good:
        console().print(f"{holds}, and none costs less than {bound}.", soft_wrap=True)
    if checked.good and checked.of_takeoff:
        console().print(f"It is about {CUTS_ALONE}.", soft_wrap=True)


def closing_lines(plan: CutPlan, unit: Unit, currency: str = "", *, of_purchase: bool = False) -> list[str]:
    """Lines below a plan: what to buy, what goes back on the rack, scrap, cost, how good the plan is.

    With `of_purchase` the bound is described as that of the cuts alone: a purchase may choose dearer bars to
    save a delivery.
    """
    show = shower(unit)
    lines = [f"Buy: {_bought(plan, bar_shower(unit)) or 'nothing'}"]
    rack = sum(bar.rack_piece is not None for bar in plan.bars)
    if rack:
        lines.append(f"From the rack: {counted(rack, 'bar')}")
    kept = [bar for bar in plan.bars if bar.kept]
    back = (
        f"{counted(sum(bar.count for bar in kept), 'piece')}, {show(_offcuts(kept))}" if kept else "nothing"
    )
    lines.append(f"Back on the rack: {back}")
    lines.append(f"Scrap: {show(_offcuts([bar for bar in plan.bars if not bar.kept]))}")
    verdict = _verdict_alone if of_purchase and plan.priced else _verdict
    lines.append(f"Cost: {_cost(plan.cost, plan.priced, unit, currency)}{verdict(plan, unit, currency)}")
    tight = tight_words(plan.bars, show)
    if tight:
        lines.append(f"{tight} (stock L:PRICE:LIMIT:TOLERANCE; the stock list's tolerance).")
    if plan.cut_short:
        lines.append("The clock ended the search: another run may find another plan.")
    return lines


def _bought(plan: CutPlan, show: Callable[[Length], str]) -> str:
    """The bars to buy, equal ones added up."""
    buy: dict[tuple[Length, str], int] = {}
    for bar in plan.bars:
        if bar.rack_piece is None:
            buy[bar.stock, bar.supplier] = buy.get((bar.stock, bar.supplier), 0) + bar.count
    return ", ".join(
        f"{count} x {show(length)}{f' from {supplier}' if supplier else ''}"
        for (length, supplier), count in buy.items()
    )


def _offcuts(bars: Sequence[BarCut]) -> Length:
    return Length(sum(bar.offcut.nm * bar.count for bar in bars))


def _verdict(plan: CutPlan, unit: Unit, currency: str) -> str:
    if plan.proven:
        return "; proven cheapest"
    gap = plan.gap
    if plan.priced:
        gap = round_money_up(gap, currency or "EUR")
    return f"; at most {_cost(gap, plan.priced, unit, currency)} from the cheapest possible"


def _verdict_alone(plan: CutPlan, unit: Unit, currency: str) -> str:
    if plan.proven or not plan.gap:
        return "; proven cheapest" if plan.proven else " without delivery"
    least = _cost(round_money_down(plan.bound, currency or "EUR"), plan.priced, unit, currency)
    return f" without delivery; at the lowest price that any supplier asks for each length, at least {least}"


def _cost(cost: Decimal, priced: bool, unit: Unit, currency: str) -> str:
    if not priced:
        return f"{shower(unit)(Length.from_mm(cost))} of bar"
    return f"{round_money(cost, currency or 'EUR'):f}{' ' + currency if currency else ''}"


def _heading(bar: BarCut, unit: Unit) -> str:
    show = bar_shower(unit)
    if bar.rack_piece is not None:
        return f"\n{bar.rack_piece}: {show(bar.stock)} from the rack"
    price = f" at {price_text(bar.price)}" if bar.price is not None else ""
    supplier = f" from {bar.supplier}" if bar.supplier else ""
    return f"\n{counted(bar.count, 'bar')} of {show(bar.stock)}{supplier}{price}"


def _words(bar: BarCut, words: PieceWords) -> str:
    show = shower(words.unit)
    if not bar.pieces:
        return "not cut: it goes on the rack whole"
    pieces = " + ".join(
        f"{count} x {words.name(mark, owner)} {words.length(length, owner)}"
        for mark, length, count, owner in bar.pieces
    )
    rest = "no offcut" if not bar.offcut else f"{'keep' if bar.kept else 'scrap'} {show(bar.offcut)}"
    trim = f", trim {show(bar.trim)}" if bar.trim else ""
    return f"{pieces}, kerf {show(bar.kerf)}{trim}, {rest}"


def print_takeoff(takeoff: "Takeoff") -> None:
    """Print each section and grade with its bars and total length."""
    screen, unit = console(), takeoff.unit
    show = shower(unit)
    for material in takeoff.materials:
        grade = material.grade.paper_of(material.section)
        title = f"{material.section.name(unit)}, {grade}: {counted(material.pieces, 'piece')}"
        words, bought = PieceWords(unit, takeoff.jobs), takeoff.purchase is not None
        print_plan(material.plan, words, takeoff.currency, title, of_purchase=bought)
        parts = {
            "Net": material.net, "kerf": material.kerf, "trim": material.trim, "kept": material.kept,
            "scrap": material.scrap,
        }  # fmt: skip
        left = " + ".join(f"{word} {show(length)}" for word, length in parts.items())
        whole = f"bought {show(material.bought)} + from the rack {show(material.rack)}"
        setting = Setting(unit=unit)
        mass = f"{MASS.text(material.mass_kg, setting)} {setting.words['mass']}"
        screen.print(f"{left} = {whole}; {mass}\n")


def print_purchase(takeoff: "Takeoff") -> None:
    """Print the total with deliveries, each supplier's order, and bars bought beyond the need."""
    plan = takeoff.purchase
    if plan is None or not plan.cost:
        return
    for line in purchase_lines(plan, takeoff.unit, takeoff.currency):
        console().print(line)


def print_besides(takeoff: "Takeoff") -> None:
    """Print what the jobs have already, which the plan therefore does not buy."""
    title = "There for these jobs already, and left out of the plan above"
    print_table(Table(BESIDES, takeoff.besides, title, Setting(unit=takeoff.unit)))


def print_bands(takeoff: "Takeoff") -> None:
    """Print how each band of a sheet is cut: to scale, in words, and what is left."""
    screen = console()
    strokes, width = pen_of(screen)
    for band in takeoff.bands:
        words = PieceWords(takeoff.jobs.get(band.owner, takeoff.unit))
        screen.print(f"Part {band.words(words.unit)}", soft_wrap=True)
        full = ((band.mark, band.across, band.each, ""),)
        across = BarCut(band.sheet.sizes[0], 1, full, ZERO, ZERO, band.beside, kept=False)
        screen.print(picture(across, width, strokes, words))


def print_shares(shares: Sequence[Share], currency: str) -> None:
    """Print each job's share of bars bought together."""
    print_table(Table(SHARES, shares, "Bought together", Setting(currency), foot="Total"))


class ProgressLine:
    """Shows plan, bound and gap on one line while the planner works; nothing if stderr is no terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._width = 0

    def __call__(self, cost: Decimal, bound: Decimal) -> None:
        """Show the newest figures."""
        if not self._shown:
            return
        gap = (cost - bound) / cost * 100 if cost else Decimal(0)
        line = f"plan {cost:.2f}  bound {bound:.2f}  gap {gap:.3f} %"
        print(f"\r{line:<{self._width}}", end="", file=sys.stderr, flush=True)
        self._width = len(line)

    def done(self) -> None:
        """Erase the line, so that the next output starts on it."""
        if self._shown and self._width:
            print(f"\r{'':<{self._width}}\r", end="", file=sys.stderr, flush=True)
