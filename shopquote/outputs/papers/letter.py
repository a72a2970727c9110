"""Draft e-mails for any mail program (RFC 5322), with a paper attached.

The program itself sends nothing. Begin at `write_quote_letter` and `write_order_letter`.
"""

from datetime import UTC, date, datetime, time
from email.errors import MessageError
from email.headerregistry import Address as MailAddress
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from hashlib import sha256
from pathlib import Path

from shopquote.calc.address import Address, is_mail_address
from shopquote.calc.buying.order_document import OrderDocument
from shopquote.calc.frozen import dataclass
from shopquote.calc.numbers import shown
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.order_book import closing_words, order_day
from shopquote.outputs.papers.quote_paper import write_quote_paper
from shopquote.outputs.quote_words import voice_of
from shopquote.outputs.tables.order_columns import order_heading, order_voice

NOON = time(12, tzinfo=UTC)  # a quote has a day but no time; the mail program sets its own on sending


def write_quote_letter(document: QuoteDocument, folder: Path, paper: Path | None = None) -> Path:
    """Write a draft to the customer with the quote as PDF; returns the file.

    Args:
        document: the stored quote.
        folder: where the letter goes, and the PDF if there is none yet.
        paper: the PDF that was already written of it.
    """
    voice = voice_of(document.wording.locale, document.priced.currency)
    said = voice["letter_words"].format(
        number=document.number, title=document.title, total=voice.money(document.priced.total),
        day=voice.day(document.valid_until),
    )  # fmt: skip
    begin = voice["letter_begin"].format(name=document.customer.name)
    made = _Letter(
        f"{voice['quote']} {document.number}: {document.title}",
        "\n\n".join([begin, said, _closed(voice["letter_close"], document.shop)]),
        document.shop, document.customer, document.issued_on,
    )  # fmt: skip
    name = f"Letter {document.number} r{document.revision} {document.title[:40]}"
    return _write(made, paper or write_quote_paper(document, folder), folder, name)


def write_order_letter(order: OrderDocument, folder: Path, paper: Path) -> Path:
    """Write a draft to the supplier with the PDF of an order or request, in the language of that paper."""
    heading, voice = order_heading(order), order_voice(order)
    about = voice["order_letter"].format(paper=heading, day=order_day(order, order.placed_on))
    if order.due_on:
        about += " " + voice["order_letter_due"].format(day=order_day(order, order.due_on))
    begin, end = voice["letter_begin"].format(name=order.supplier.name), voice["letter_close"]
    text = [begin, about, *closing_words(order), _closed(end, order.shop)]
    made = _Letter(heading, "\n\n".join(text), order.shop, order.supplier, order.placed_on)
    return _write(made, paper, folder, f"Letter {heading} {order.supplier.name}")


@dataclass(frozen=True, slots=True)
class _Letter:
    """Text, sender, recipient, and the day of the attached paper."""

    subject: str
    text: str
    sender: Address
    to: Address
    day: date


def _closed(words: str, sender: Address) -> str:
    return "\n".join([words, sender.name, *filter(None, (sender.phone, sender.email))])


def _write(letter: _Letter, paper: Path, folder: Path, name: str) -> Path:
    made = EmailMessage(policy=SMTP)
    made["Subject"] = _on_one_line(letter.subject)
    made["Date"] = format_datetime(datetime.combine(letter.day, NOON))
    # With this header mail programs open the file as a draft to edit and send.
    made["X-Unsent"] = "1"
    for header, who in (("From", letter.sender), ("To", letter.to)):
        if address := _mail_address(who):
            made[header] = address
    made.set_content(shown(letter.text) + "\n")
    content = paper.read_bytes()
    made.add_attachment(content, maintype="application", subtype="pdf", filename=paper.name)
    # The default boundary is random; the same paper must give the same bytes.
    made.set_boundary(f"=={sha256(content).hexdigest()[:32]}")
    return put_file(folder / safe_file_name(name, ".eml"), made.as_bytes())


def _on_one_line(text: str) -> str:
    """Text for a header on one line: a line break in older records would start another header."""
    return shown(" ".join(text.split()))


def _mail_address(who: Address) -> MailAddress | None:
    """The address for a header; None if there is none, or if it is not a valid address."""
    typed = who.email.strip()
    if not is_mail_address(typed) or not typed.isascii():
        return None
    try:
        return MailAddress(_on_one_line(who.name), addr_spec=typed)
    except (ValueError, IndexError, MessageError):
        return None  # brackets, commas: let the email library decide what a header may hold
