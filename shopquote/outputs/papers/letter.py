"""A letter that is ready to be sent: a draft for any mail program, with its paper attached (RFC 5322).

The program sends nothing itself. Begin at `write_quote_letter`.
"""

from datetime import UTC, datetime, time
from email.errors import MessageError
from email.headerregistry import Address as MailAddress
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from hashlib import sha256
from pathlib import Path

from shopquote.calc.address import Address, is_mail_address
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.files import put_file
from shopquote.outputs.books.book import safe_file_name
from shopquote.outputs.books.quote_words import voice_of
from shopquote.outputs.papers.quote_paper import write_quote_paper

NOON = time(12, tzinfo=UTC)  # a quote has a day and no hour; the mail program writes its own on sending


def write_quote_letter(document: QuoteDocument, folder: Path, paper: Path | None = None) -> Path:
    """Write a draft to the customer with the quote as PDF; returns the file.

    Args:
        document: the stored quote.
        folder: for the letter, and for the PDF where there is none yet.
        paper: the PDF that was written of it.
    """
    paper = paper or write_quote_paper(document, folder)
    voice = voice_of(document.wording.locale, document.priced.currency)
    subject = f"{voice['quote']} {document.number}: {document.title}"
    said = voice["letter_words"].format(
        number=document.number, title=document.title, total=voice.money(document.priced.total),
        day=voice.day(document.valid_until),
    )  # fmt: skip
    sender = document.shop
    closing = [voice["letter_close"], sender.name, *filter(None, (sender.phone, sender.email))]
    text = f"{voice['letter_begin'].format(name=document.customer.name)}\n\n{said}\n\n" + "\n".join(closing)
    made = EmailMessage(policy=SMTP)
    made["Subject"] = subject
    made["Date"] = format_datetime(datetime.combine(document.issued_on, NOON))
    # Mail programs open a message with this line as a draft of one's own.
    made["X-Unsent"] = "1"
    for header, who in (("From", sender), ("To", document.customer)):
        if address := _mail_address(who):
            made[header] = address
    made.set_content(text + "\n")
    content = paper.read_bytes()
    made.add_attachment(content, maintype="application", subtype="pdf", filename=paper.name)
    # The usual boundary is drawn by lot; the same quote shall give the same letter.
    made.set_boundary(f"=={sha256(content).hexdigest()[:32]}")
    name = safe_file_name(f"Letter {document.number} r{document.revision} {document.title[:40]}", ".eml")
    return put_file(folder / name, made.as_bytes())


def _mail_address(who: Address) -> MailAddress | None:
    """The address for a header; None for nobody's, or one that people must type by hand."""
    typed = who.email.strip()
    if not is_mail_address(typed) or not typed.isascii():
        return None
    try:
        return MailAddress(" ".join(who.name.split()), addr_spec=typed)
    except (ValueError, IndexError, MessageError):
        return None  # brackets, commas: the library knows what a header can bear
