"""`db check` finds planted damage and mends what has one right answer; what cannot be found is named."""

import shutil
import sqlite3
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import URL, select, text
from sqlalchemy.orm import Session

from shopquote.errors import DatabaseError
from shopquote.records.copies import CopyDiffersError
from shopquote.records.engine import make_engine
from shopquote.records.rack import RackPiece
from shopquote.records.tables import metadata
from shopquote.services.rack.rack_uses import return_offcut
from shopquote.services.safe.checks import CHECKS, Check, cure, faults_of, run_checks
from shopquote.services.safe.checks.file import schema_is_known
from shopquote.services.safe.checks.jobs import TYPED_LENGTHS
from shopquote.services.safe.checks.orders import certificate_files_are_whole
from shopquote.services.safe.cures import cure_database
from shopquote.services.shop.database import open_database
from tests.services.safe.planted_shop import TODAY, certificate_folder_of, make_busy_shop, mm

CURED = True
TOLD = False


class Fault:
    """What plants a fault, whether a cure leaves nothing behind, and the checks that find it."""

    def __init__(self, statements: str, cured: bool, *found_by: str) -> None:
        self.statements, self.cured, self.found_by = statements, cured, found_by


# All that a revision has besides, so that a new column is in it too.
_REST_OF_REVISION = ", ".join(
    column.name
    for column in metadata.tables["job_revisions"].columns
    if column.name not in ("id", "revision")
)
FAULTS: dict[str, Fault] = {
    # --- the file
    "a row whose parent is gone": Fault(
        "DELETE FROM job_revisions WHERE id = 3",
        TOLD, "references are whole", "jobs have their newest revision",
    ),
    "a child of no row": Fault(
        "UPDATE parts SET job_revision_id = 99 WHERE id = 1",
        TOLD, "references are whole",
    ),
    "a word for an amount": Fault(
        "UPDATE quotes SET net = 'much' WHERE id = 3",
        TOLD, "the file is sound", "values are of their column's kind", "quotes are as they were sealed",
    ),
    "a list that cannot be read": Fault(
        "UPDATE order_lines SET loads = '[[' WHERE id = 3",
        TOLD, "values are of their column's kind", "orders are as they were sealed", "orders add up",
    ),
    "a yes that is none": Fault(
        "UPDATE order_lines SET cut = 7 WHERE id = 3",
        TOLD, "values are of their column's kind",
    ),
    "a number for a text": Fault(
        "UPDATE jobs SET number = x'00ff' WHERE id = 4",
        TOLD, "values are of their column's kind",
    ),
    "a state that is no word": Fault(
        "UPDATE jobs SET state = 'lots' WHERE id = 4",
        CURED, "the file is sound", "states are as their events left them",
    ),
    "a count below one": Fault(
        "UPDATE job_revisions SET sets = 0 WHERE id = 4",
        TOLD, "the file is sound",
    ),
    "a joint quote of no job": Fault(
        "INSERT INTO joint_quotes (id, number, revision, issued_on) VALUES (1, 'Q-0001', 1, '2026-03-09')",
        TOLD, "joint quotes are whole",
    ),
    # --- days
    "a quote of the year 226": Fault(
        "UPDATE quotes SET issued_on = '0226-03-09' WHERE id = 3",
        CURED, "days make sense", "quotes are as they were sealed",
    ),
    "a day of three digits": Fault(
        "UPDATE receipts SET received_on = '226-03-09'",
        CURED, "days make sense",
    ),
    "minutes of the year 3026": Fault(
        "UPDATE time_entries SET worked_on = '3026-03-09' WHERE id = 5",
        CURED, "days make sense",
    ),
    "an order of the year 26": Fault(
        "UPDATE orders SET placed_on = '0026-03-09' WHERE id = 2",
        CURED, "days make sense", "orders are as they were sealed",
    ),
    "a job due in the year 226": Fault(
        "UPDATE job_revisions SET due = '0226-03-09' WHERE id = 2",
        TOLD, "days make sense",
    ),
    "a moment that cannot be read": Fault(
        "UPDATE state_changes SET at = 'noon' WHERE id = 3",
        TOLD, "moments make sense", "states are as their events left them",
    ),
    # --- jobs
    "a counter that went back": Fault(
        "UPDATE counters SET last = 2 WHERE letter = 'J'",
        CURED, "running numbers are not behind",
    ),
    "a counter that is gone": Fault(
        "DELETE FROM counters WHERE letter = 'R'",
        CURED, "running numbers are not behind",
    ),
    "a job that names an old revision": Fault(
        f"INSERT INTO job_revisions (id, revision, {_REST_OF_REVISION}) SELECT 90, 2, {_REST_OF_REVISION}"
        " FROM job_revisions WHERE id = 2",
        CURED, "jobs have their newest revision",
    ),
    "a revision that is lost": Fault(
        "UPDATE jobs SET revision = 2 WHERE id = 2",
        TOLD, "jobs have their newest revision",
    ),
    "a job without a revision": Fault(
        "PRAGMA foreign_keys = ON;"
        " DELETE FROM parts WHERE job_revision_id = 4;"
        "DELETE FROM job_revisions WHERE id = 4",
        TOLD, "references are whole", "jobs have their newest revision",
    ),
    "a state that no event made": Fault(
        "UPDATE jobs SET state = 'won' WHERE id = 3",
        CURED, "states are as their events left them",
    ),
    # It keeps its bars until it is closed; one that is dropped keeps none.
    "a finished job that was open": Fault(
        "UPDATE jobs SET state = 'finished' WHERE id = 2", CURED, "states are as their events left them"
    ),
    "a dropped job that was open": Fault(
        "UPDATE jobs SET state = 'dropped' WHERE id = 2",
        CURED, "states are as their events left them", "no piece is promised twice",
    ),
    "a job without events": Fault(
        "DELETE FROM state_changes WHERE job_id = 3",
        TOLD, "states are as their events left them",
    ),
    "an event that is gone": Fault(
        "DELETE FROM state_changes WHERE id = 6",
        TOLD, "states are as their events left them",
    ),
    "an event that no job can make": Fault(
        "UPDATE state_changes SET to_state = 'lost' WHERE id = 3;"
        "UPDATE state_changes SET from_state = 'lost' WHERE id = 9",
        TOLD, "states are as their events left them",
    ),
    "a length that is not what was typed": Fault(
        "UPDATE parts SET length = length + 1 WHERE length IS NOT NULL AND id < 3",
        TOLD, "typed texts give their values",
    ),
    "a hole that is not what was typed": Fault(
        "UPDATE part_holes SET dia = 9000000 WHERE id = 1",
        TOLD, "typed texts give their values",
    ),
    "a countersink that is not what was typed": Fault(
        "UPDATE part_holes SET countersink = 13000000, countersink_text = '14' WHERE id = 1",
        TOLD, "typed texts give their values",
    ),
    "a counterbore that is not what was typed": Fault(
        "UPDATE part_holes SET counterbore = 13000000, counterbore_text = '14' WHERE id = 1",
        TOLD, "typed texts give their values",
    ),
    "a weld that is not what was typed": Fault(
        "UPDATE welds SET length_text = '31' WHERE id = 1",
        TOLD, "typed texts give their values",
    ),
    "a bar that is not what was typed": Fault(
        "UPDATE parts SET section_key = 'round 14' WHERE id = 1",
        TOLD, "typed texts give their values",
    ),
    # --- quotes
    "a sealed quote that was altered": Fault(
        "UPDATE quotes SET snapshot = replace(snapshot, 'third hoops', 'other hoops') WHERE id ="
        " 4",
        TOLD, "quotes are as they were sealed",
    ),
    "a sealed quote that is gone": Fault(
        "UPDATE quotes SET snapshot = '' WHERE id = 4",
        TOLD, "quotes are as they were sealed",
    ),
    "a quote's net and total": Fault(
        "UPDATE quotes SET net = net + 10000, total = total + 10000 WHERE id = 3",
        CURED, "quotes are as they were sealed", "printed quotes add up",
    ),
    "a quote's cost": Fault(
        "UPDATE quotes SET cost = cost - 1 WHERE id = 3",
        CURED, "quotes are as they were sealed", "costs add up",
    ),
    "a quote's margin": Fault(
        "UPDATE quotes SET margin_pct = margin_pct + 1 WHERE id = 3",
        CURED, "quotes are as they were sealed",
    ),
    "what a quote charges for deliveries": Fault(
        "UPDATE quotes SET deliveries = deliveries + 1 WHERE id = 3",
        CURED, "quotes are as they were sealed",
    ),
    "a quote's currency": Fault(
        "UPDATE quotes SET currency = 'USD' WHERE id = 3",
        CURED, "quotes are as they were sealed",
    ),
    "a printed line": Fault(
        "UPDATE quote_lines SET amount = amount + 1 WHERE quote_id = 3 AND position = 1",
        CURED, "quotes are as they were sealed", "printed quotes add up",
    ),
    "a printed line's words": Fault(
        "UPDATE quote_lines SET text = 'more' WHERE quote_id = 3",
        CURED, "quotes are as they were sealed",
    ),
    "a printed line that is gone": Fault(
        "DELETE FROM quote_lines WHERE quote_id = 3",
        CURED, "quotes are as they were sealed",
    ),
    "a category of cost": Fault(
        "UPDATE quote_costs SET amount = 5 WHERE quote_id = 3 AND category = 'labour'",
        CURED, "quotes are as they were sealed", "costs add up",
    ),
    "a sum of a quote's minutes": Fault(
        "UPDATE quote_operations SET minutes = 1 WHERE quote_id = 3",
        CURED, "minutes add up",
    ),
    "a quote's minutes that are gone": Fault(
        "DELETE FROM quote_operations WHERE quote_id = 3",
        CURED, "minutes add up",
    ),
    "two open quotes": Fault(
        "UPDATE quotes SET state = 'sent' WHERE id = 1",
        CURED, "quotes fit their jobs",
    ),
    "a quote of another number": Fault(
        "UPDATE quotes SET number = 'Q-0002', revision = 7 WHERE id = 1",
        CURED, "quotes are as they were sealed", "quotes fit their jobs",
    ),
    "a quote of another job's parts": Fault(
        "UPDATE quotes SET job_revision_id = 1 WHERE id = 3",
        TOLD, "quotes fit their jobs",
    ),
    "an answer of a job that is asked": Fault(
        "UPDATE quotes SET state = 'accepted', decided_on = '2026-03-10' WHERE id = 4",
        TOLD, "quotes fit their jobs",
    ),
    "a quote that ends before it begins": Fault(
        "UPDATE quotes SET valid_until = '2026-03-01' WHERE id = 3",
        CURED, "quotes are as they were sealed", "quotes fit their jobs",
    ),
    # --- orders
    "a sealed order that was altered": Fault(
        "UPDATE orders SET snapshot = replace(snapshot, 'S275', 'S355') WHERE id = 2",
        TOLD, "orders are as they were sealed",
    ),
    "an order's total": Fault(
        "UPDATE orders SET total = total + 1 WHERE id = 2",
        CURED, "orders are as they were sealed", "orders add up",
    ),
    "an order's goods": Fault(
        "UPDATE orders SET goods = goods + 1, total = total + 1 WHERE id = 2",
        CURED, "orders are as they were sealed", "orders add up",
    ),
    "an ordered line's amount": Fault(
        "UPDATE order_lines SET amount = amount + 100 WHERE id = 3",
        CURED, "orders are as they were sealed", "orders add up",
    ),
    "an ordered line's count": Fault(
        "UPDATE order_lines SET count = 9 WHERE id = 3",
        CURED, "orders are as they were sealed", "orders add up",
    ),
    "an ordered line's length": Fault(
        "UPDATE order_lines SET length = 7000000000 WHERE id = 3",
        CURED, "orders are as they were sealed",
    ),
    "an ordered line's grade": Fault(
        "UPDATE order_lines SET grade = 'S355' WHERE id = 3",
        CURED, "orders are as they were sealed",
    ),
    "a job's share of an order": Fault(
        "UPDATE order_jobs SET share = 1 WHERE id = 2",
        CURED, "orders are as they were sealed", "orders add up",
    ),
    "what a line is cut for": Fault(
        "UPDATE order_line_jobs SET length = length + 1 WHERE id = 3",
        TOLD, "orders add up",
    ),
    "a line's received bars": Fault(
        "UPDATE order_lines SET received = 1 WHERE id = 2",
        CURED, "deliveries agree with orders",
    ),
    "a placed order of which bars came": Fault(
        "UPDATE orders SET state = 'placed' WHERE id = 1",
        CURED, "orders stand as their deliveries left them",
    ),
    "a received order of which none came": Fault(
        "UPDATE orders SET state = 'received' WHERE id = 2",
        CURED, "orders stand as their deliveries left them",
    ),
    "a request that is placed": Fault(
        "UPDATE orders SET state = 'placed' WHERE id = 3",
        CURED, "orders stand as their deliveries left them",
    ),
    "a delivery on another order": Fault(
        "UPDATE receipts SET order_id = 2",
        TOLD, "deliveries are of what was ordered",
    ),
    "a delivery of another grade": Fault(
        "UPDATE received_bars SET grade = 'S355' WHERE id = 2",
        TOLD, "deliveries are of what was ordered", "heats run along cuts",
    ),
    "a delivery that cost less than its bars": Fault(
        "UPDATE receipts SET charged_total = 1",
        TOLD, "deliveries are of what was ordered",
    ),
    "a certificate that is no more": Fault(
        "UPDATE certificates SET sha256 = 'ab'",
        TOLD, "certificate files are whole",
    ),
    # --- closings and the log
    "a sealed closing that was altered": Fault(
        "UPDATE closings SET snapshot = snapshot || ' ' WHERE id = 1",
        TOLD, "closings are as they were sealed",
    ),
    "a closing's price": Fault(
        "UPDATE closings SET price = price + 1 WHERE id = 2",
        CURED, "closings are as they were sealed",
    ),
    "a closing's cost": Fault(
        "UPDATE closings SET cost_actual = cost_actual + 1 WHERE id = 1",
        CURED, "closings are as they were sealed", "costs add up",
    ),
    "a line of a closing": Fault(
        "UPDATE closing_lines SET actual = actual + 1 WHERE closing_id = 2",
        CURED, "closings are as they were sealed", "costs add up",
    ),
    "a part of a variance": Fault(
        "UPDATE closing_lines SET part_time = part_time + 1 WHERE id = 1",
        TOLD, "costs add up",
    ),
    "what logged minutes cost, with its sum": Fault(
        "UPDATE time_entries SET cost = cost + 100 WHERE id = 2;"
        "UPDATE minute_sums SET cost = cost + 100 WHERE id = 2",
        TOLD, "closings fit their jobs",
    ),
    "a bill that came after the closing": Fault(
        "INSERT INTO outside_bills (job_id, billed_on, name, supplier, amount, note)"
        " VALUES (1, '2026-03-12', 'zinc', '', 7, '')",
        TOLD, "closings fit their jobs",
    ),
    "a logged bar's cost after the closing": Fault(
        "UPDATE bar_uses SET cost = cost + 50000 WHERE job_id = 1 AND rack_piece_id IS NULL",
        TOLD, "closings fit their jobs",
    ),
    "a logged bar that is gone": Fault(
        "DELETE FROM bar_uses WHERE job_id = 1 AND rack_piece_id IS NULL",
        TOLD, "closings fit their jobs",
    ),
    "a bought item that came after the closing": Fault(
        "INSERT INTO bought_uses (job_id, name, count, cost, used_on)"
        " VALUES (1, 'caster', 1000000, 9000000, '2026-03-12')",
        TOLD, "closings fit their jobs",
    ),
    "a closing that does not stand": Fault(
        "UPDATE closings SET reopened_on = '2026-03-13' WHERE id = 2",
        TOLD, "closings fit their jobs",
    ),
    "a sum of minutes": Fault(
        "UPDATE minute_sums SET minutes = minutes + 1 WHERE id = 3",
        CURED, "minutes add up",
    ),
    "a sum of minutes that is gone": Fault(
        "DELETE FROM minute_sums WHERE id = 3",
        CURED, "minutes add up",
    ),
    "an entry's minutes": Fault(
        "UPDATE time_entries SET minutes = 60000000 WHERE id = 4",
        TOLD, "minutes add up", "entries add up",
    ),
    "an entry's cost, with its sum": Fault(
        "UPDATE time_entries SET cost = 1 WHERE id = 4;"
        " UPDATE minute_sums SET cost = 1 WHERE id = 3",
        TOLD, "entries add up",
    ),
    "an entry that is gone from a closed job": Fault(
        "DELETE FROM time_entries WHERE id = 3",
        TOLD, "minutes add up",
    ),
    "an entry of a job that was not begun": Fault(
        "UPDATE time_entries SET job_id = 4 WHERE id = 5",
        TOLD, "entries fit their jobs",
    ),
    "a timer that ended before it began": Fault(
        "UPDATE time_entries SET ended_at = '2026-03-01T12:00:00.000000Z' WHERE id = 5",
        TOLD, "entries add up",
    ),
    "more back of a bar than it was": Fault(
        "UPDATE bar_uses SET returned = 7000000000 WHERE id = 2",
        TOLD, "entries fit their jobs",
    ),
    # --- the rack
    "a heat that an offcut lost": Fault(
        "UPDATE rack_pieces SET heat = '' WHERE id = 4",
        CURED, "heats run along cuts",
    ),
    "a heat of another delivery": Fault(
        "UPDATE rack_pieces SET heat = '9999' WHERE id = 3",
        CURED, "heats run along cuts",
    ),
    "a grade of another delivery": Fault(
        "UPDATE rack_pieces SET grade = 'S355' WHERE id = 2",
        CURED, "heats run along cuts",
    ),
    "an offcut of another delivery": Fault(
        "UPDATE rack_pieces SET received_bar_id = 2 WHERE id = 4",
        CURED, "heats run along cuts",
    ),
    "a piece that grew": Fault(
        "UPDATE rack_pieces SET length = length + 1 WHERE id = 7",
        TOLD, "all bar is accounted for",
    ),
    "a piece that was used and is free": Fault(
        "UPDATE rack_pieces SET state = 'free' WHERE id = 3",
        TOLD, "no piece is promised twice", "all bar is accounted for",
    ),
    "a piece that is used by nobody": Fault(
        "UPDATE rack_pieces SET used_job_id = NULL WHERE id = 2",
        TOLD, "no piece is promised twice",
    ),
    "a promise of a free piece": Fault(
        "UPDATE rack_pieces SET state = 'free' WHERE id = 5",
        CURED, "the file is sound", "no piece is promised twice",
    ),
    "a promise to a closed job": Fault(
        "UPDATE rack_pieces SET state = 'promised', promised_job_id = 1 WHERE id = 7",
        CURED, "no piece is promised twice",
    ),
    "a share of a piece": Fault(
        "UPDATE rack_piece_jobs SET length = 1 WHERE id = 2",
        CURED, "no piece is promised twice",
    ),
    "a move that is gone": Fault(
        "DELETE FROM rack_moves WHERE piece_id = 7",
        TOLD, "all bar is accounted for",
    ),
    "a bar that arrived and is nowhere": Fault(
        "DELETE FROM rack_moves WHERE piece_id = 3;"
        " DELETE FROM bar_uses WHERE rack_piece_id = 3;"
        "DELETE FROM rack_piece_jobs WHERE rack_piece_id = 3;"
        " DELETE FROM rack_pieces WHERE id = 3",
        TOLD, "deliveries lie on the rack",
    ),
    "a use that is gone": Fault(
        "DELETE FROM bar_uses WHERE id = 1",
        TOLD, "all bar is accounted for",
    ),
    # --- to the customer
    "more was delivered than was ordered": Fault(
        "UPDATE job_delivery_lines SET count = count + 9 WHERE id = 1",
        TOLD, "no more went out than was ordered",
    ),
    "a mark was delivered that no job has": Fault(
        "UPDATE job_delivery_lines SET mark = 'Z' WHERE id = 1",
        TOLD, "no more went out than was ordered",
    ),
    "a delivery that lost its lines": Fault(
        "DELETE FROM job_delivery_lines WHERE delivery_id = 2",
        TOLD, "no more went out than was ordered",
    ),
    "a delivery that is gone": Fault(
        "DELETE FROM job_delivery_lines WHERE delivery_id = 1; DELETE FROM job_deliveries WHERE id = 1",
        TOLD, "no more went out than was ordered",
    ),
    "an invoice that is due before it was written": Fault(
        "UPDATE invoices SET due_on = '2026-03-01' WHERE id = 1",
        TOLD, "invoices and payments fit",
    ),
    "a credit of another job's invoice": Fault(
        "UPDATE invoices SET job_id = 1 WHERE id = 2",
        TOLD, "invoices and payments fit",
    ),
    "an invoice number in two spellings": Fault(
        "UPDATE invoices SET number = 'c-2', kind = 'credit' WHERE id = 1;"
        "UPDATE invoices SET number = 'C-2', lowers_id = NULL WHERE id = 2",
        TOLD, "invoices and payments fit",
    ),
    "a payment of more than was asked": Fault(
        "UPDATE payments SET amount = 2000100",
        TOLD, "invoices and payments fit",
    ),
    "a payment before its invoice": Fault(
        "UPDATE payments SET paid_on = '2026-03-02'",
        TOLD, "invoices and payments fit",
    ),
    "a payment of a credit": Fault(
        "UPDATE payments SET invoice_id = 2",
        TOLD, "invoices and payments fit",
    ),
    "an escape in an address": Fault(
        "UPDATE customers SET address = 'Lane 1' || char(13) || char(10) || char(27) || '[2J'",
        CURED, "texts hold no control characters",
    ),
    "text from the right": Fault(
        "UPDATE rack_pieces SET place = 'bay ' || char(8238) || '2' WHERE id = 1",
        CURED, "texts hold no control characters",
    ),
    "a name in two spellings": Fault(
        "INSERT INTO customers (id, name, address, email, phone, tax_exempt, note)"
        " SELECT 90, upper(name), '', '', '', 0, '' FROM customers",
        TOLD, "nothing stands twice in two spellings",
    ),
}  # fmt: skip

# Nothing else on file says these; a backup, or the history of who did what, is where they show.
CANNOT_BE_FOUND: dict[str, str] = {
    "a customer's address": "UPDATE customers SET address = 'elsewhere'",
    "a supplier's price": "UPDATE stock_prices SET price = price + 1 WHERE id = 1",
    "a standard": "UPDATE standards SET value = value + 1 WHERE name = 'rate.welding'",
    "a piece's place": "UPDATE rack_pieces SET place = 'nowhere' WHERE id = 7",
    "a free piece's cost": "UPDATE rack_pieces SET cost = cost + 1 WHERE id = 7",
    "who worked": "UPDATE time_entries SET person = 'Nobody' WHERE id = 1",
    "a moment that a clock set back may have told": (
        "UPDATE rack_moves SET at = '2026-03-02T08:00:00.000000Z' WHERE kind = 'used'"
    ),
    "an invoice's amount": "UPDATE invoices SET amount = amount + 1 WHERE id = 1",
    "the newest delivery, taken out with its lines": (
        "DELETE FROM job_delivery_lines WHERE delivery_id = 2; DELETE FROM job_deliveries WHERE id = 2"
    ),
    "a note": "UPDATE orders SET note = 'other' WHERE id = 1",
    "the last entry of an open job, taken out with its sum": (
        "DELETE FROM time_entries WHERE id = 4; DELETE FROM minute_sums WHERE id = 3"
    ),
    "a sealed text altered together with its seal and rows": (
        "UPDATE closings SET snapshot = '', seal = "
        "'e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855' WHERE id = 1"
    ),
    "the newest job, taken out with all that is its own and its number": (
        "DELETE FROM bought_items WHERE job_revision_id = 4;"
        "DELETE FROM outside_works WHERE job_revision_id = 4;"
        "DELETE FROM welds WHERE job_revision_id = 4; DELETE FROM part_bends WHERE part_id IN (7, 8);"
        "DELETE FROM part_holes WHERE part_id IN (7, 8); DELETE FROM parts WHERE job_revision_id = 4;"
        "DELETE FROM job_revisions WHERE id = 4; DELETE FROM state_changes WHERE job_id = 4;"
        "DELETE FROM jobs WHERE id = 4; UPDATE counters SET last = 3 WHERE letter = 'J'"
    ),
}


@pytest.fixture(scope="module")
def made(_shop_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_busy_shop(_shop_file, tmp_path_factory.mktemp("planted"))


@pytest.fixture(scope="module")
def bare(made: Path):
    """A connection on which nothing holds a planter back; what a test does on it is rolled back."""
    engine = make_engine(URL.create("sqlite", database=str(made)))
    with engine.connect() as connection:
        connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")
        yield connection
    engine.dispose()


@pytest.fixture
def damaged(bare, made: Path):
    """A session in which a test plants; the certificates are those of the shop."""
    begun = bare.begin()
    with Session(bare, join_transaction_mode="create_savepoint") as session:
        session.info["certificates"] = certificate_folder_of(made)
        yield session
    begun.rollback()


def plant(session: Session, statements: str) -> None:
    session.execute(text("PRAGMA ignore_check_constraints = ON"))
    for statement in statements.split(";"):
        session.execute(text(statement))
    session.execute(text("PRAGMA ignore_check_constraints = OFF"))


def finding(session: Session) -> Iterator[Check]:
    """The checks that find something, but for that of the schema, which nothing here alters."""
    return (
        check for check in CHECKS if check.find_faults is not schema_is_known and faults_of(session, check)
    )


def test_what_was_done_properly_is_sound(made):
    with open_database(str(made)) as database, database.reading() as session:
        results = run_checks(session, database.certificates)
    assert [result for result in results if result.found] == []


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_found_and_what_has_one_right_answer_is_mended(damaged, made, name):
    fault = FAULTS[name]
    plant(damaged, fault.statements)
    checks = [check for check in CHECKS if check.name in fault.found_by]
    assert len(checks) == len(fault.found_by) > 0
    assert all(faults_of(damaged, check) for check in checks)
    results = cure(damaged, certificate_folder_of(made), checks)
    left = [found for result in results for found in result.found]
    assert (not left) is fault.cured, left
    assert not fault.cured or any(result.mended for result in results)


@pytest.mark.parametrize("name", CANNOT_BE_FOUND)
def test_what_nothing_else_says_cannot_be_found(damaged, name):
    """If a check learns to find one of these, it moves to `FAULTS`."""
    plant(damaged, CANNOT_BE_FOUND[name])
    assert not list(finding(damaged))


def test_an_offcut_that_came_back_for_an_earlier_day_is_no_fault(damaged):
    (check,) = (check for check in CHECKS if check.name == "closings fit their jobs")
    piece = damaged.scalar(select(RackPiece.code).where(RackPiece.state == "used").limit(1))
    return_offcut(damaged, piece, mm("2000"), on=TODAY - timedelta(days=9))
    damaged.flush()
    assert not faults_of(damaged, check)
    # What came back explains its own cost, and no more.
    plant(damaged, "UPDATE bar_uses SET credit = credit + 50000 WHERE rack_piece_id IS NOT NULL")
    assert faults_of(damaged, check)


def test_every_length_that_a_job_keeps_as_typed_is_looked_at():
    kept = {
        (table.name, column.name)
        for table in metadata.tables.values()
        if "job_revision_id" in table.c or "part_id" in table.c
        for column in table.c
        if f"{column.name}_text" in table.c
    }
    assert {(owner.__tablename__, name) for _, owner, name in TYPED_LENGTHS} == kept


def test_sixty_kinds_are_planted():
    assert len(FAULTS) >= 60


def test_a_certificate_file_that_is_gone_or_altered_is_told(made, tmp_path):
    folder = tmp_path / "certificates"
    shutil.copytree(certificate_folder_of(made), folder)
    (file,) = folder.iterdir()
    file.write_bytes(file.read_bytes() + b" ")
    with open_database(str(made)) as database, database.reading() as session:
        assert "it was changed since" in told(session, folder)
        file.unlink()
        assert "cannot be read" in told(session, folder)


def told(session: Session, certificates: Path) -> str:
    checks = [check for check in CHECKS if check.find_faults is certificate_files_are_whole]
    return run_checks(session, certificates, checks)[0].found[0].line


def test_a_cure_keeps_the_database_as_it_was_and_puts_the_day_that_is_given(made, tmp_path):
    path = tmp_path / "shop.db"
    shutil.copy(made, path)
    shutil.copytree(certificate_folder_of(made), certificate_folder_of(path))
    with open_database(str(path)) as database:
        results, kept = cure_database(database)
        assert kept is None and not any(result.found for result in results)
        with database.session() as session:
            plant(session, "UPDATE bar_uses SET used_on = '0226-03-09' WHERE id = 2")
            plant(session, "UPDATE counters SET last = 1 WHERE letter = 'Q'")
        results, kept = cure_database(database)
        left = [found.line for result in results for found in result.found]
        assert [line.split(":")[0] for line in left] == ["bar_uses row 2, used_on"]
        assert "--day YYYY-MM-DD" in left[0]
        results, again = cure_database(database, date(2026, 3, 9))
        assert not any(result.found for result in results)
        assert (kept.name, again.name) == ("shop.before-cure-1.db", "shop.before-cure-2.db")
    with open_database(str(kept)) as database, database.reading() as session:
        assert session.scalar(text("SELECT last FROM counters WHERE letter = 'Q'")) == 1


@pytest.mark.parametrize(
    "error", [CopyDiffersError("a row is missing"), sqlite3.DatabaseError("a torn page")]
)
def test_nothing_is_cured_where_no_copy_can_be_kept(made, tmp_path, monkeypatch, error):
    def fails(*_given):
        raise error

    monkeypatch.setattr("shopquote.services.safe.backup.copy_file", fails)
    shutil.copy(made, tmp_path / "shop.db")
    with open_database(str(tmp_path / "shop.db")) as database:
        with database.session() as session:
            plant(session, "UPDATE counters SET last = 1 WHERE letter = 'Q'")
        with pytest.raises(DatabaseError, match=f"cannot be copied: {error}"):
            cure_database(database)
        with database.reading() as session:
            assert session.scalar(text("SELECT last FROM counters WHERE letter = 'Q'")) == 1
