"""A quote's letter, read again by the standard library's parser of messages (RFC 5322)."""

from dataclasses import replace
from email import message_from_bytes
from email.policy import default
from pathlib import Path

import pytest

from shopquote.outputs.papers.letter import write_order_letter, write_quote_letter
from shopquote.outputs.papers.order_paper import write_order_paper
from tests.outputs.books.test_order_book import ORDER


def read(path: Path):
    return message_from_bytes(path.read_bytes(), policy=default)


def test_a_letter_bears_the_quote_to_the_customer(quoted, tmp_path: Path) -> None:
    document = quoted()
    customer = replace(document.customer, email="office@orla.example")
    path = write_quote_letter(replace(document, customer=customer), tmp_path)
    made = read(path)
    assert path.suffix == ".eml" and not made.defects
    assert made["To"].addresses[0].addr_spec == "office@orla.example" and made["X-Unsent"] == "1"
    assert made["Subject"] == f"Quote {document.number}: {document.title}"
    assert made["Date"].datetime.date() == document.issued_on
    text = made.get_body().get_content()
    assert f"Dear {customer.name}," in text and document.shop.name in text
    assert f"{document.priced.total:,.2f}" in text
    (paper,) = made.iter_attachments()
    assert paper.get_content_type() == "application/pdf" and paper.get_content().startswith(b"%PDF")
    assert paper.get_filename().endswith(".pdf")


@pytest.mark.parametrize(
    "address",
    [
        "",
        "no address",
        "a b@c.example",
        "<a@b.example>",
        "a,b@c.example",
        "ü@c.example",
        "x@y.example\r\nBcc: z@z.example",
    ],
)
def test_what_is_no_address_is_left_out(quoted, tmp_path: Path, address: str) -> None:
    document = quoted()
    made = read(
        write_quote_letter(replace(document, customer=replace(document.customer, email=address)), tmp_path)
    )
    assert made["To"] is None and made["Bcc"] is None


def test_what_an_older_program_stored_makes_no_header_of_its_own(quoted, tmp_path: Path) -> None:
    """No door lets breaks and escapes in today; stored ones stopped the letter, or stood in its header."""
    document = quoted()
    customer = replace(document.customer, name="Orla\x1b[31m\r\nBcc: z@z.example", email="o@orla.example")
    held = replace(document, title="hooks\x1b]0;x\x07\nBcc: z@z.example", customer=customer)
    path = write_quote_letter(held, tmp_path)
    made = read(path)
    assert made["Bcc"] is None and made["Subject"].endswith("Bcc: z@z.example")
    assert b"\x1b" not in path.read_bytes().split(b"\r\n\r\n")[0]


@pytest.mark.parametrize(
    ("locale", "word"), [("de_DE", "anbei"), ("fr_FR", "ci-joint"), ("es_ES", "adjuntamos")]
)
def test_it_speaks_the_language_of_the_quote(quoted, tmp_path: Path, locale: str, word: str) -> None:
    document = quoted()
    spoken = replace(document, wording=replace(document.wording, locale=locale))
    assert word in read(write_quote_letter(spoken, tmp_path)).get_body().get_content()


@pytest.mark.parametrize("kind", ["order", "ask"])
def test_a_letter_bears_an_order_or_a_request_to_its_supplier(tmp_path: Path, kind: str) -> None:
    supplier = replace(ORDER.supplier, email="sales@bars.example")
    order = replace(ORDER, kind=kind, supplier=supplier)
    paper = write_order_paper(order, tmp_path)
    path = write_order_letter(order, tmp_path, paper)
    made = read(path)
    assert not made.defects and made["To"].addresses[0].addr_spec == "sales@bars.example"
    assert order.number in made["Subject"] and made["Date"].datetime.date() == order.placed_on
    text = " ".join(made.get_body().get_content().split())
    assert ("This is not an order." in text) == (kind == "ask") and order.shop.name in text
    (attached,) = made.iter_attachments()
    assert attached.get_filename() == paper.name and attached.get_content() == paper.read_bytes()
    assert path.read_bytes() == write_order_letter(order, tmp_path / "again", paper).read_bytes()


def test_the_same_quote_gives_the_same_letter(quoted, tmp_path: Path) -> None:
    document = quoted()
    first, second = (write_quote_letter(document, tmp_path / name) for name in ("one", "two"))
    assert first.read_bytes() == second.read_bytes()
