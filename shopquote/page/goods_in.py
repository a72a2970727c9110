"""Goods in: bars of an order are received on its page, and a delivery entered by mistake is taken back."""

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from flask import Blueprint, flash, redirect, request, url_for
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response

from shopquote.calc.units import Measure
from shopquote.errors import InputError
from shopquote.page.desk import desk
from shopquote.page.papers import ending_of, given_file
from shopquote.reading.kinds import Notation, count, money, read_typed
from shopquote.services.buying.arrivals import Arrival, read_lengths
from shopquote.services.buying.orders_on_file import find_order, order_notation
from shopquote.services.buying.receipt_strike import deliveries, strike_receipt
from shopquote.services.buying.receive import receive_order
from shopquote.services.buying.shelving import Delivery

rooms = Blueprint("goods_in", __name__)
CERTIFICATE_ENDINGS = (".pdf", ".jpg", ".jpeg", ".png", ".txt")


@rooms.post("/order/<number>/receive")
def receive(number: str) -> Response:
    """Receive bars line by line: count, lengths, heat, certificate, charge."""
    held = desk()
    form = request.form
    # Certificates are saved in a temporary folder; the service copies those of a delivery that is stored.
    with tempfile.TemporaryDirectory() as folder, held.writing() as session:
        lines = [
            int(name.removeprefix("count-"))
            for name in form
            if name.startswith("count-") and name[6:].isdecimal()
        ]
        notation = order_notation(session, number)
        came = [arrival for line in lines for arrival in _arrivals(notation, line, Path(folder))]
        if not came:
            raise InputError("Nothing was received: every count is 0.")
        typed = form.get("delivery", "").strip()
        delivery = Delivery(
            form.get("reference", ""),
            form.get("place", ""),
            read_typed("Charged for the delivery", money(), typed, notation) if typed else None,
            update_prices=form.get("new-prices") == "yes",
            last=form.get("last") == "yes",
        )
        received = receive_order(
            session,
            number,
            came,
            delivery,
            certificates=held.database.certificates,
            at=held.now(),
            sure=form.get("sure") == "yes",
        )
        codes = ", ".join(piece.code for piece in received.pieces)
    flash(f"On the rack: {codes}.")
    return redirect(url_for("bars.order", number=number), 303)


@rooms.post("/order/<number>/back")
def take_back(number: str) -> Response:
    """Take back a delivery entered by mistake: its bars leave the rack and are open again."""
    held = desk()
    with held.writing() as session:
        found = find_order(session, number)
        # Identified by its row, because numbers shift when another delivery is taken back meanwhile.
        seen = request.form.get("delivery", "")
        which = next((one.which for one in deliveries(session, found) if str(one.receipt.id) == seen), None)
        if which is None:
            raise InputError(f"This delivery of {found.number} is not on file any more.")
        struck = strike_receipt(session, number, which, request.form.get("reason", ""), at=held.now())
    flash(f"Taken back: {struck.what}; off the rack: {', '.join(struck.codes)}.")
    return redirect(url_for("bars.order", number=number), 303)


def _arrivals(notation: Notation, line: int, folder: Path) -> Iterator[Arrival]:
    """One line of the goods-in form, an arrival for each length; nothing if its count is 0."""
    form = request.form
    came = read_typed(f"Line {line}: count", count(), form.get(f"count-{line}", "0").strip() or "0", notation)
    # With a count of 0 the rest of the line is ignored, as on the goods-in sheet.
    if not came:
        return
    lengths, charged = form.get(f"length-{line}", "").strip(), form.get(f"charged-{line}", "").strip()
    each = read_typed(f"Line {line}: charged each", money(), charged, notation) if charged else None
    heat = form.get(f"heat-{line}", "").strip()
    certificate = given_certificate(f"certificate-{line}", f"Line {line}: ", folder)
    try:
        measured: Sequence[tuple[Measure | None, int]] = read_lengths(lengths, notation) if lengths else ()
    except InputError as error:
        raise InputError(f"Line {line}: {error.message}", hint=error.hint) from error
    if not measured or (len(measured) == 1 and measured[0][1] == 1):
        # One length alone is that of every bar.
        measured = ((measured[0][0] if measured else None, came),)
    if sum(bars for _, bars in measured) != came:
        raise InputError(
            f"Line {line}: {came} received, but {sum(bars for _, bars in measured)} lengths are named."
        )
    for length, bars in measured:
        yield Arrival(line, bars, length, heat, certificate, charged=each)


def given_certificate(field: str, where: str, folder: Path) -> Path | None:
    """Save the certificate of a form under its own name, in a subfolder of its own; None if there is none."""
    given = given_file(field)
    if given is None:
        return None
    ending = ending_of(given)
    if ending not in CERTIFICATE_ENDINGS:
        raise InputError(
            f"{where}a certificate is a PDF, a photo or plain text ({', '.join(CERTIFICATE_ENDINGS)})."
        )
    # The file name comes from the browser: only its safe characters reach the disk.
    stem = secure_filename(Path(given.filename or "").stem)[:60] or "certificate"
    path = folder / field / f"{stem}{ending}"
    path.parent.mkdir()
    given.save(path)
    return path
