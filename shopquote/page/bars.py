"""Bars: what jobs still need and from whom, orders, receiving, the rack."""

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from shopquote.calc.takeoff.cut_plan import BarCut
from shopquote.calc.units import Unit, show_bar, show_length
from shopquote.errors import InputError
from shopquote.outputs.looks import Setting, setting_of
from shopquote.outputs.table import Table
from shopquote.outputs.tables.order_columns import LINES_ON_FILE, ORDERS_ON_FILE, PICKS, TO_BUY
from shopquote.outputs.tables.order_tables import purchase_lines
from shopquote.outputs.tables.rack_tables import PIECES, TRACE, labels_of
from shopquote.page.choices import of_a_bar
from shopquote.page.desk import desk
from shopquote.page.goods_in import given_certificate
from shopquote.page.papers import download
from shopquote.page.pictures import sawn_bar
from shopquote.reading.kinds import MEASURE, SECTION, count, money, read_typed
from shopquote.records.rack import RackPiece
from shopquote.services.buying.needs import without_bars
from shopquote.services.buying.order_documents import stored_order
from shopquote.services.buying.order_needs import plan_for_jobs
from shopquote.services.buying.orders import OrderWish, order_for_jobs, place_request
from shopquote.services.buying.orders_on_file import (
    NamedPrice,
    cancel_order,
    change_order,
    find_order,
    lines_to_come,
    list_orders,
    order_notation,
)
from shopquote.services.buying.purchase import PurchasePlan
from shopquote.services.buying.receipt_strike import deliveries, struck_receipts
from shopquote.services.buying.takeoff import units_of_jobs
from shopquote.services.jobs.job_list import newest_jobs
from shopquote.services.jobs.job_states import STATES_TO_MAKE
from shopquote.services.rack.heats import certify_bars, mend_heats
from shopquote.services.rack.rack import add_pieces, move_piece, release_promises, scrap_piece
from shopquote.services.rack.rack_on_file import find_piece, list_pieces
from shopquote.services.rack.trace import trace_piece
from shopquote.services.shop.shop_on_file import grade_on_file, shop_notation, shop_unit, the_shop

rooms = Blueprint("bars", __name__)
# Only the newest are listed; any other is found by its code.
MOST_SHOWN = 300


@rooms.get("/bars")
def needs() -> str:
    """Show won and started jobs, what the chosen ones still need if bought together, and open orders."""
    held = desk()
    # The choice is part of the address, so that it survives a reload and can be sent to somebody.
    chosen = request.args.getlist("job")[:60]
    with held.database.reading() as session:
        jobs, _ = newest_jobs(session, MOST_SHOWN, states=STATES_TO_MAKE)
        bare = without_bars(session, {job.job for job in jobs})
        setting = _setting(session)
        plan = plan_for_jobs(session, chosen, on=held.now().date()) if chosen else None
        return render_template(
            "bars/needs.html", jobs=sorted(jobs[::-1], key=lambda job: job.job not in bare), bare=bare,
            chosen=chosen, plan=plan,
            to_buy=plan and Table(TO_BUY, plan.lines, setting=setting),
            picks=plan and Table(PICKS, plan.picks, setting=setting),
            told=plan and purchase_lines(plan, setting.unit, setting.currency),
            sawing=plan and _sawing(plan, setting.unit, units_of_jobs(session, chosen)),
            orders=Table(ORDERS_ON_FILE, list_orders(session)[:MOST_SHOWN], setting=setting),
            order_address=order_address,
        )  # fmt: skip


def _sawing(
    plan: PurchasePlan, unit: Unit, jobs: Mapping[str, Unit]
) -> list[tuple[str, list[dict[str, Any]]]]:
    """For each material, how its bars would be sawn, longest first: as pictures and in words.

    Bars are shown in `unit`, the pieces of each job in its own.
    """
    sawing = []
    for name, way in plan.taken.items():
        alike: dict[tuple[object, ...], list[BarCut]] = {}
        for bar in sorted(way.bars, key=lambda bar: -bar.stock.nm):
            alike.setdefault((bar.stock, bar.pieces, bar.kept), []).append(bar)
        if alike:
            sawing.append((plan.names[name], [_sawn(bars, unit, jobs) for bars in alike.values()]))
    return sawing


def _sawn(bars: Sequence[BarCut], unit: Unit, jobs: Mapping[str, Unit]) -> dict[str, Any]:
    """Bars that are sawn alike: their codes or count, the pieces from each, a picture."""
    bar = bars[0]
    parts = [(mark, length.mm_float, "") for mark, length, count, _ in bar.pieces for _ in range(count)]
    # Kerfs and trim are too thin to draw one by one.
    parts.append(("", (bar.kerf + bar.trim).mm_float, "none"))
    left = ""
    if bar.offcut.nm > 0:
        parts.append(("left", bar.offcut.mm_float, "back" if bar.kept else "waste"))
        left = f"left {show_length(bar.offcut, unit)}: {'keep' if bar.kept else 'scrap'}"
    pieces = [
        f"{count} x {mark} of {owner} at {show_length(length, jobs.get(owner, unit))}"
        for mark, length, count, owner in bar.pieces
    ]
    new = sum(bar.count for bar in bars if bar.rack_piece is None)
    bought = f"{new} x {show_bar(bar.stock, unit)}" if new else ""
    source = ", ".join(filter(None, [bought, *(bar.rack_piece for bar in bars if bar.rack_piece)]))
    told = "; ".join(filter(None, [*pieces, left])) or "stays whole"
    return {"source": source, "told": told, "picture": sawn_bar(parts, f"{source}: {told}")}


def _setting(session: Any) -> Setting:
    return setting_of(shop_notation(session))


def order_address(order: Any) -> str:
    """The page of an order."""
    return url_for("bars.order", number=order.number)


def piece_address(piece: Any) -> str:
    """The page of a piece on the rack."""
    return url_for("bars.piece", code=piece.code)


@rooms.post("/bars/order")
def order_now() -> Response:
    """Order what the chosen jobs still need, or ask for prices: one order for each supplier."""
    held = desk()
    wish = OrderWish(ask=request.form.get("ask") == "yes", note=request.form.get("note", ""))
    placed = order_for_jobs(held.database, request.form.getlist("job"), wish, on=held.now().date())
    flash(f"On file: {', '.join(placed.numbers)}." if placed.numbers else "Everything comes from the rack.")
    if len(placed.numbers) == 1:
        return redirect(url_for("bars.order", number=placed.numbers[0]), 303)
    return redirect(url_for("bars.needs"), 303)


@rooms.get("/order/<number>")
def order(number: str) -> str:
    """Show an order with what was received, and a form to receive the rest."""
    with desk().database.reading() as session:
        found = find_order(session, number)
        setting = Setting(found.currency, shop_unit(session))
        return render_template(
            "bars/order.html",
            order=found,
            changeable=found.state in ("placed", "asked"),
            unit=setting.unit,
            open=lines_to_come(found),
            lines=Table(LINES_ON_FILE, found.lines, setting=setting),
            came=deliveries(session, found),
            struck=struck_receipts(session, found),
        )


@rooms.get("/order/<number>/paper")
def order_paper(number: str) -> Response:
    """Download the order as the supplier gets it; with `as=letter`, a draft e-mail that has it attached."""
    from shopquote.outputs.papers.letter import write_order_letter
    from shopquote.outputs.papers.order_paper import write_order_paper

    with desk().database.reading() as session, tempfile.TemporaryDirectory() as folder:
        document = stored_order(find_order(session, number))
        paper = write_order_paper(document, Path(folder))
        if request.args.get("as") == "letter":
            paper = write_order_letter(document, Path(folder), paper)
        return download(paper)


@rooms.post("/order/<number>")
def change(number: str) -> Response:
    """Change counts or prices before anything is received, place a request for prices, or cancel the rest."""
    held, form = desk(), request.form
    on, reason = held.now().date(), form.get("reason", "").strip()
    with held.writing() as session:
        seen = find_order(session, number)
        if form.get("seen") != str(seen.revision):
            raise InputError(f"{seen.number} was changed meanwhile; load its page again and look.")
        if form.get("do") == "cancel":
            typed, notation = form.get("delivery", "").strip(), order_notation(session, number)
            charged = read_typed("Charged for its deliveries", money(), typed, notation) if typed else None
            done = cancel_order(session, number, reason, delivery=charged)
        else:
            counts, prices = _typed_of_lines(session, seen)
            if form.get("do") == "place":
                done = place_request(session, number, prices, on=on)
            elif counts or prices:
                done = change_order(session, number, counts=counts, prices=prices, on=on, reason=reason)
            else:
                raise InputError("Nothing is changed: every count is as it was, and no price was typed.")
    flash(f"{done.number} revision {done.revision} is {done.state}.")
    return redirect(url_for("bars.order", number=done.number), 303)


def _typed_of_lines(session: Any, order: Any) -> tuple[dict[int, int], dict[int, NamedPrice]]:
    """By line: the counts that differ from the order's, and the prices of one bar that were typed."""
    notation = order_notation(session, order.number)
    counts, prices = {}, {}
    for line in order.lines:
        where, at = f"Line {line.position}", line.position
        typed, price = (request.form.get(f"{name}-{at}", "").strip() for name in ("count", "price"))
        if typed and typed != str(line.count):
            counts[at] = read_typed(f"{where}: count", count(), typed, notation)
        if price:
            prices[at] = NamedPrice(read_typed(f"{where}: price", money(), price, notation))
    return counts, prices


@rooms.get("/rack")
def rack() -> str:
    """List the pieces on the rack."""
    with desk().database.reading() as session:
        pieces = list_pieces(session, limit=MOST_SHOWN)
        table = Table(PIECES, pieces, setting=_setting(session))
        longest = max((piece.length.mm_float for piece in pieces), default=0.0)
        return render_template(
            "bars/rack.html", pieces=table, piece_address=piece_address,
            drawn=("To scale", lambda piece: _drawn_piece(piece, longest)),
            **of_a_bar(session, desk().now().date()),
        )  # fmt: skip


def _drawn_piece(piece: Any, longest: float) -> Markup:
    """Draw a piece to the scale of the longest on the rack; blue if it is promised to a job."""
    size = piece.length.mm_float
    parts = [("", size, "us" if piece.state == "promised" else "")]
    if longest > size:
        parts.append(("", longest - size, "none"))
    return sawn_bar(parts, f"{size / longest:.0%} of the longest piece", high=18)


@rooms.post("/rack")
def add() -> Response:
    """Add bars that were already in the shop."""
    held = desk()
    form = request.form
    with held.writing() as session:
        notation = shop_notation(session)
        section = read_typed("Bar", SECTION, form.get("bar", ""), notation)
        pieces = add_pieces(
            session, section, section.text, grade_on_file(session, form.get("grade", "")).name,
            read_typed("Length", MEASURE, form.get("length", ""), notation),
            count=read_typed("Count", count(least=1, most=500), form.get("count", "1"), notation),
            heat=form.get("heat", "").strip(), place=form.get("place", "").strip(), on=held.now().date(),
        )  # fmt: skip
    flash(f"On the rack: {', '.join(piece.code for piece in pieces)}.")
    return redirect(url_for("bars.rack"), 303)


@rooms.route("/rack/<code>", methods=["GET", "POST"])
def piece(code: str) -> str | Response:
    """Show where a piece came from; move, release or scrap it, correct its heat, add a certificate."""
    held = desk()
    if request.method == "POST":
        with held.writing() as session:
            if request.form.get("do") == "scrap":
                scrap_piece(session, code, request.form.get("reason", ""))
            elif request.form.get("do") == "release":
                release_promises(session, codes=[code])
            elif request.form.get("do") == "heat":
                mended = mend_heats(
                    session, [code], request.form.get("heat", ""), request.form.get("reason", "")
                )
                flash(f"Heat {mended[0].heat} now: {', '.join(one.code for one in mended)}.")
            elif request.form.get("do") == "certificate":
                certified = _take_certificate(session, code)
                flash(f"Certificate kept for {', '.join(one.code for one in certified)}.")
            else:
                move_piece(session, code, request.form.get("place", ""))
        return redirect(url_for("bars.piece", code=code), 303)
    with held.database.reading() as session:
        trace = Table(TRACE, trace_piece(session, code), setting=_setting(session))
        return render_template(
            "bars/piece.html", piece=find_piece(session, code), trace=trace, unit=shop_unit(session)
        )


def _take_certificate(session: Any, code: str) -> Sequence[RackPiece]:
    held = desk()
    with tempfile.TemporaryDirectory() as folder:
        file = given_certificate("certificate", "", Path(folder))
        if file is None:
            raise InputError("Choose the certificate: a PDF, a photo or plain text.")
        return certify_bars(session, [code], file, held.database.certificates, at=held.now())


@rooms.post("/rack/labels")
def labels() -> Response:
    """Download a sheet of labels for pieces on the rack."""
    from shopquote.outputs.books.label_book import write_labels

    with desk().database.reading() as session, tempfile.TemporaryDirectory() as folder:
        shop = the_shop(session)
        found = labels_of(list_pieces(session, limit=MOST_SHOWN), shop_unit(session), shop.page_address)
        return download(write_labels(found, Path(folder, "labels.xlsx"), paper=shop.paper, author=shop.name))
