"""A small shop in which everything has happened once, made once, in which the tests plant faults."""

import shutil
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

from shopquote.calc.bar.sections import parse_section
from shopquote.records.engine import copy_sqlite
from shopquote.services.buying.arrivals import Arrival, all_open
from shopquote.services.buying.orders import OrderWish, order_for_jobs
from shopquote.services.buying.receive import receive_order
from shopquote.services.floor.bar_log import log_bars
from shopquote.services.floor.bill_log import log_invoice, log_payment
from shopquote.services.floor.delivery_note import delivery_note, record_delivery
from shopquote.services.floor.time_log import log_minutes, start_timer
from shopquote.services.jobs.job_states import move_job
from shopquote.services.jobs.jobs import add_job, find_job
from shopquote.services.quotes.quotes_on_file import answer_quote, make_quote
from shopquote.services.rack.rack import add_pieces, promise_pieces, scrap_piece
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.review.close import close_job, reopen_job
from shopquote.services.shop.database import open_database
from shopquote.services.shop.database_places import certificate_folder
from tests.services.review_jobs import NOW, TODAY, hoops, mm, quoted_job

D = Decimal
WHEN = {"on": TODAY, "today": TODAY, "at": NOW}
LATER = TODAY + timedelta(days=3)


def make_busy_shop(shop_file: Path, folder: Path) -> Path:
    """J-0001 closed, opened and closed again; J-0002 in work; J-0003 quoted; orders, deliveries, the rack."""
    path = folder / "busy.db"
    shutil.copy(shop_file, path)
    certificate = folder / "mill.pdf"
    certificate.write_bytes(b"%PDF-1.4 heat 4711")
    with open_database(str(path)) as database:
        with database.session() as session:
            quoted_job(session)
            make_quote(session, "J-0001", TODAY + timedelta(days=1))
            answer_quote(session, "J-0001", "accepted", TODAY + timedelta(days=1))
            quoted_job(session, hoops(title="second hoops"))
            move_job(find_job(session, "J-0002"), "won", at=NOW)
            quoted_job(session, hoops(title="third hoops"))
        order_for_jobs(database, ["J-0001"], OrderWish(), on=TODAY)
        order_for_jobs(database, ["J-0002"], OrderWish(), on=TODAY)
        order_for_jobs(database, ["J-0003"], OrderWish(ask=True), on=TODAY)
        with database.session() as session:
            came = [
                Arrival(arrival.line, arrival.count, heat="4711", certificate=certificate)
                for arrival in all_open_of(session, "O-0001")
            ]
            received = receive_order(session, "O-0001", came, certificates=database.certificates, at=NOW)
            codes = [piece.code for piece in received.pieces]
            use_bar(session, codes[0], "J-0001", returned=[mm("1250")], used_on=TODAY)
            log_minutes(session, "J-0001", "bending", D(95), person="Wyn", **WHEN)
            log_minutes(session, "J-0001", "welding", D(40), **WHEN)
            log_bars(session, "J-0001", "flat 40 x 8", "S275", "6000", 1, cost=D("30.00"), **WHEN)
            close_job(session, "J-0001", on=TODAY, at=NOW)
            reopen_job(session, "J-0001", "late minutes", on=LATER, at=NOW + timedelta(days=3))
            log_minutes(session, "J-0001", "bending", D(5), on=LATER, today=LATER, at=NOW + timedelta(days=3))
            close_job(session, "J-0001", on=LATER, at=NOW + timedelta(days=3))
            loose = add_pieces(
                session, parse_section("round 12", "mm"), "round 12", "S275", mm("6000"), count=3,
                cost=D("6.13"), on=TODAY,
            )  # fmt: skip
            promise_pieces(session, [loose[0].code], "J-0002")
            scrap_piece(session, loose[1].code, "rust")
            log_minutes(session, "J-0002", "sawing", D(12), **WHEN)
            start_timer(session, "J-0002", "welding", person="Wyn", at=NOW, on=TODAY)
            add_job(session, hoops(title="fourth hoops"), at=NOW)
            for sets in (1, 2):
                record_delivery(session, delivery_note(session, "J-0002", TODAY, sets))
            log_invoice(session, "J-0002", "1001", D(200), due=LATER, **WHEN)
            log_payment(session, "J-0002", "1001", D(150), on=TODAY, today=TODAY)
            log_invoice(session, "J-0002", "C-1", D(20), credit=True, **WHEN)
    kept = folder / "planted.db"
    copy_sqlite(path, kept)
    shutil.copytree(certificate_folder_of(path), certificate_folder_of(kept))
    return kept


def all_open_of(session, number: str):
    from shopquote.services.buying.orders_on_file import find_order

    return all_open(find_order(session, number))


def certificate_folder_of(path: Path) -> Path:
    from sqlalchemy import URL

    return certificate_folder(URL.create("sqlite", database=str(path)))
