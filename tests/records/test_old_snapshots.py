"""Orders and closings kept before the common form of snapshots print again to the cent, on both databases.

`kept/` holds what the last program with the older forms stored, and the files that it wrote of the order.
"""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import select
from typer.testing import CliRunner

from shopquote.calc.buying.order_document import order_document_from_text, order_document_text
from shopquote.cli.app import app
from shopquote.errors import InputError
from shopquote.records import schema
from shopquote.records.closings import Closing
from shopquote.records.jobs import Job
from shopquote.records.orders import Order
from shopquote.records.people import Supplier
from shopquote.services.review.job_review import read_snapshot, write_snapshot
from shopquote.services.shop.database import open_database
from tests.records.test_old_quotes import old_shop
from tests.services.quoted_shop import NUMBER, quoted_copy

D = Decimal
KEPT = Path(__file__).parent / "kept"
ORDER = (KEPT / "order_first_form.json").read_text()
CLOSING = (KEPT / "closing_first_form.json").read_text()


def printed(*words: object) -> dict:
    done = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.fixture(params=["sqlite", "postgresql"])
def shop_with_old_snapshots(request, _shop_file, tmp_path) -> str:
    """A shop whose order O-0001 and closing of J-0001 hold the older texts."""
    url = str(tmp_path / "old.db")
    if request.param == "postgresql":
        url = request.getfixturevalue("bare_postgres_url")
    old_shop(url, schema.newest_version(), quoted_copy(_shop_file, tmp_path), _shop_file.parent)
    with open_database(url) as database, database.session() as session:
        supplier = session.scalars(select(Supplier)).first()
        job = session.scalar(select(Job).where(Job.number == NUMBER))
        session.add(Order(
            number="O-0001", supplier_id=supplier.id, placed_on=date(2026, 11, 28), currency="EUR",
            total=D("201.72"), snapshot=ORDER,
        ))  # fmt: skip
        session.add(Closing(
            job_id=job.id, closed_on=date(2026, 11, 28), price=D("1"), cost_estimated=D(1), cost_actual=D(1),
            minutes_estimated=D(1), minutes_actual=D(1), snapshot=CLOSING,
        ))  # fmt: skip
    return url


def test_an_old_order_prints_again_as_it_was(shop_with_old_snapshots, tmp_path):
    files = printed("order", "show", "O-1", "--write", "--out", tmp_path, "--db", shop_with_old_snapshots)[
        "files"
    ]
    by_ending = {Path(path).suffix: Path(path) for path in files}
    for ending in (".csv", ".txt"):
        assert by_ending[ending].read_text() == (KEPT / f"order_first_form{ending}").read_text()


def test_an_old_closing_is_told_to_the_cent(shop_with_old_snapshots):
    review = printed("review", NUMBER, "--closing", 1, "--db", shop_with_old_snapshots)
    (job,) = review["jobs"]
    assert (job["cost_estimated"], job["cost_actual"]) == ("329.29", "399.31")


def test_what_is_kept_anew_has_the_common_form_and_says_the_same():
    order = order_document_from_text(ORDER)
    again = json.loads(order_document_text(order))
    assert set(again) == {"format", "order"} and again["format"] == 1
    assert order_document_from_text(json.dumps(again)) == order
    review = read_snapshot(CLOSING)
    again = json.loads(write_snapshot(review))
    assert set(again) == {"format", "closing"}
    assert read_snapshot(json.dumps(again)) == review


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", '{"format": 1}', '{"format": 9, "order": {}}', '{"lines": 3}']
)
def test_what_is_no_snapshot_is_refused_in_words(text):
    with pytest.raises(InputError, match=r"stored (order|OrderDocument) cannot be read"):
        order_document_from_text(text)
