"""The document pack of a delivery: note, heats, the certificates of just the heats used, in one PDF."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DecodedStreamObject, NameObject
from sqlalchemy import select

from shopquote.errors import InputError
from shopquote.outputs.papers.delivery_paper import (
    delivery_data,
    delivery_text,
    lacking,
    pack_paper,
    trace_data,
)
from shopquote.outputs.papers.joined import as_pdf, joined, pages_in
from shopquote.outputs.papers.typeset import typeset
from shopquote.records.orders import ReceivedBar
from shopquote.records.rack import RackMove, RackPiece
from shopquote.records.shop import Shop
from shopquote.services.buying.arrivals import Arrival
from shopquote.services.floor.delivery_note import delivery_note
from shopquote.services.floor.document_pack import document_pack
from shopquote.services.jobs.jobs import find_job
from shopquote.services.rack.heats import CERTIFIED, certificates_of, certify_bars, mend_heats
from shopquote.services.rack.rack import add_pieces
from shopquote.services.rack.rack_uses import use_bar
from shopquote.services.rack.trace import trace_job, trace_piece
from shopquote.services.safe.checks.rack import deliveries_lie_on_the_rack, heats_run_along_cuts
from shopquote.services.shop import clock
from tests.services.buying.test_receive import ordered, receive  # noqa: F401
from tests.services.rack.test_rack import ROUND, mm

DAY = date(2026, 3, 2)


@pytest.fixture
def delivered(ordered, tmp_path):  # noqa: F811
    """Heats H1 (two pages of PDF) and H2 (a photograph) used for the job, H3 not."""
    mill, photo, other = (tmp_path / name for name in ("h1.pdf", "h2.jpg", "h3.pdf"))
    pages = PdfWriter()
    for _ in range(2):
        pages.add_blank_page(200, 300)
    pages.metadata = {"/Author": "a person at the mill"}
    pages.write(mill)
    pages.add_blank_page(100, 100)
    pages.write(other)
    Image.new("RGB", (400, 300), "grey").save(photo)
    receive(ordered, *(Arrival(1, 1, heat=heat, certificate=paper)
                       for heat, paper in (("H1", mill), ("H2", photo), ("H3", other))))  # fmt: skip
    with ordered.session() as session:
        find_job(session, "J-0001").state = "won"
        for code in ("R-0001", "R-0002"):
            use_bar(session, code, "J-0001", used_on=DAY)
    return ordered


def packed(shop) -> bytes:
    with shop.reading() as session:
        note = delivery_note(session, "J-0001", DAY)
        pack = document_pack(session, "J-0001", shop.certificates)
    return pack_paper(note, typeset("order", delivery_data(note)), pack)


def test_it_holds_the_certificates_of_just_the_heats_used(delivered):
    pdf = packed(delivered)
    read = PdfReader(BytesIO(pdf))
    sizes = [(round(float(page.mediabox.width)), round(float(page.mediabox.height))) for page in read.pages]
    assert sizes[:4] == [(595, 842), (595, 842), (200, 300), (200, 300)] and len(sizes) == 5
    # The photograph lies wide on its page, as large as A4 and Letter both allow.
    assert sizes[4][0] > sizes[4][1] and sizes[4][0] <= 792
    # Older readers of PDF see blanks between letters that are set apart.
    trace = "".join(read.pages[1].extract_text().split())
    assert "EN102043.1page3" in trace and "EN102043.1page5" in trace
    assert "H1" in trace and "H2" in trace and "H3" not in trace
    # Nothing of who made a file, and the same papers give the same bytes.
    assert set(read.metadata) <= {"/Title", "/Author"} and "mill" not in str(read.metadata)
    assert pdf == packed(delivered)


def test_it_says_what_it_has_no_paper_of(delivered):
    """Two bars of three are logged; then heats without a paper, or of nobody knows which parts."""
    with delivered.session() as session:
        note = delivery_note(session, "J-0001", DAY)
        pack = document_pack(session, "J-0001", delivered.certificates)
    assert lacking(note, pack) == ["A: of 9 pieces delivered the heat of 6 is logged."]
    nobody = replace(pack, heats=tuple(replace(heat, pieces={}) for heat in pack.heats))
    assert lacking(note, nobody) == ["Which parts were cut from a bar was not logged for all bars."]
    mark, count = note.lines[0].mark, note.lines[0].count
    first, second = pack.heats
    bare = replace(pack, heats=(replace(first, files=(), pieces={mark: count - 1}),))
    told = lacking(note, bare)
    assert told[0] == f"{first.bar} {first.grade}, heat {first.heat}: no certificate is on file."
    assert f"{mark}: of {count} pieces delivered the heat of {count - 1} is logged." in told
    # On the paper the row of a heat says that it has no certificate; the sentences are about pieces.
    paper = trace_data(note, bare, [])
    assert paper["closing"][: len(told) - 1] == told[1:]
    assert paper["lines"]["rows"][0][-1] == "none on file"
    whole = {line.mark: line.count for line in note.lines if line.mark}
    assert (
        lacking(note, replace(pack, heats=(replace(first, pieces=whole), replace(second, pieces=whole))))
        == []
    )


def test_it_speaks_the_language_of_the_shops_papers(delivered):
    with delivered.session() as session:
        session.get(Shop, 1).locale = "de_DE"
    with delivered.reading() as session:
        note = delivery_note(session, "J-0001", DAY)
    text, head = delivery_text(note), delivery_data(note)["lines"]["head"]
    assert text.startswith("Lieferschein J-0001") and "2. März 2026" in text and "Rund 12" in text.title()
    assert head[2:4] == ["Stab", "Anzahl"]


def test_a_certificate_that_cannot_be_joined_is_named_and_nothing_is_written(delivered):
    kept = sorted(delivered.certificates.glob("*.pdf"), key=lambda path: path.stat().st_size)[0]
    kept.write_bytes(b"%PDF-1.7 torn off")
    with pytest.raises(InputError, match=r"h1\.pdf is no PDF"):
        packed(delivered)


@pytest.mark.parametrize(
    "content", ["Prüfzeugnis 3.1\nheat H2\n", "Prüfzeugnis\r\n\tC 0.12\f"], ids=["plain", "tabs"]
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "cp1252"])
def test_a_certificate_of_plain_text_becomes_pages(content, encoding):
    pdf = as_pdf(content.encode(encoding), "heat.txt")
    (page,) = PdfReader(BytesIO(pdf)).pages
    assert "Prüfzeugnis" in "".join(page.extract_text().split())
    # It fits both A4 and Letter.
    assert page.mediabox.width <= 596 and page.mediabox.height <= 792.1


def test_what_holds_no_letters_is_no_certificate_to_read():
    with pytest.raises(InputError, match=r"cert\.docx is no PDF, picture or plain text"):
        as_pdf(b"PK\x03\x04\x00\x00 a word processor's file", "cert.docx")


def test_a_certificate_may_come_after_its_bars(delivered, tmp_path):
    """It holds for the bars of its heat in their delivery, used ones too, and for no other."""
    late = tmp_path / "late.pdf"
    late.write_bytes(b"%PDF-1.7 late")
    with delivered.session() as session:
        held = certify_bars(session, ["R-0001"], late, delivered.certificates, kind="3.2", at=clock.now())
        moves = session.scalars(select(RackMove.note).where(RackMove.kind == CERTIFIED)).all()
        assert [piece.code for piece in held] == ["R-0001"] and moves == ["h1.pdf to late.pdf"]
    with delivered.reading() as session:
        links = {link.code: link.origin for link in trace_job(session, "J-0001")}
    assert (links["R-0001"].certificate, links["R-0001"].certificate_kind) == ("late.pdf", "3.2")
    assert links["R-0002"].certificate == "h2.jpg"


def test_a_certificate_is_of_the_heat_as_it_is_known_now(ordered, tmp_path):  # noqa: F811
    """Of bars that came in one row, one was of another heat: each heat has its own, used or not."""
    early, late, again = (tmp_path / name for name in ("h1.pdf", "h2.pdf", "h2 again.pdf"))
    for number, file in enumerate((early, late)):
        file.write_bytes(b"%%PDF-1.7 %d" % number)
    again.write_bytes(late.read_bytes())
    receive(ordered, Arrival(1, 3, heat="H1", certificate=early))
    with ordered.session() as session:
        use_bar(session, "R-0002", "J-0001", used_on=DAY, returned=[mm("1000")])
        mend_heats(session, ["R-0002"], "H2", "misread")
        held = certify_bars(session, ["R-0002"], late, ordered.certificates, at=clock.now())
        assert [piece.code for piece in held] == ["R-0002", "R-0004"]
    with ordered.session() as session:
        kept = {one.code: certificates_of([one]) for one in session.scalars(select(RackPiece))}
        assert kept == {
            "R-0001": ["h1.pdf"],
            "R-0003": ["h1.pdf"],
            "R-0002": ["h2.pdf"],
            "R-0004": ["h2.pdf"],
        }
        # What was typed as the bars came stays, and every bar that came is one piece.
        rows = session.execute(select(ReceivedBar.count, ReceivedBar.heat, ReceivedBar.charged)).all()
        assert sorted(count for count, _, _ in rows) == [1, 2] and len({row[1:] for row in rows}) == 1
        assert not [*deliveries_lie_on_the_rack(session), *heats_run_along_cuts(session)]
        # Sent again under another name it is the same paper; its type, told only now, is its own.
        certify_bars(session, ["R-0004"], again, ordered.certificates, kind="3.1", at=clock.now())
        assert session.scalars(select(RackMove.note).where(RackMove.kind == CERTIFIED)).all() == [
            *["h1.pdf to h2.pdf"] * 2, *["h2.pdf to h2.pdf"] * 2,
        ]  # fmt: skip
        assert {link.origin.certificate_kind for link in trace_piece(session, "R-0004")} == {"3.1"}


@pytest.mark.parametrize(("kind", "told"), [("4", "expected one of 2.1, 2.2, 3.1, 3.2"), ("", "no file")])
def test_a_late_certificate_that_is_none_changes_nothing(delivered, tmp_path, kind, told):
    gone = tmp_path / "gone.pdf"
    with delivered.session() as session, pytest.raises(InputError, match=told):
        certify_bars(session, ["R-0001"], gone, delivered.certificates, kind=kind, at=clock.now())


def test_bars_that_no_delivery_brought_have_no_certificate(delivered, tmp_path):
    with delivered.session() as session:
        added = add_pieces(session, ROUND, "round 12", "S275", mm("2000"), on=DAY)
        with pytest.raises(InputError, match=f"{added[0].code} came with no delivery"):
            certify_bars(session, [added[0].code], tmp_path, delivered.certificates, at=clock.now())


def locked_with_aes() -> bytes:
    """A PDF that opens without a password and is encrypted all the same (ISO 32000-1 7.6: V 4, AESV2)."""
    pages = PdfWriter()
    drawn = DecodedStreamObject()
    drawn.set_data(b"0 0 m 10 10 l S")
    pages.add_blank_page(200, 300)[NameObject("/Contents")] = pages._add_object(drawn)
    pages.encrypt("", "owner", algorithm="RC4-128")
    written = BytesIO()
    pages.write(written)
    ciphers = b"/V 4 /CF << /StdCF << /CFM /AESV2 /Length 16 >> >> /StmF /StdCF /StrF /StdCF"
    return written.getvalue().replace(b"/V 2", ciphers).replace(b"/R 3", b"/R 4")


def test_an_encrypted_certificate_is_named_and_nothing_is_written():
    pdf = locked_with_aes()
    assert pages_in(pdf, "h1.pdf") == 1
    with pytest.raises(InputError, match=r"h1\.pdf is encrypted"):
        joined([("h1.pdf", pdf)], title="Delivery note", author="shop")


def test_without_a_logged_bar_no_heat_is_known(ordered):  # noqa: F811
    with ordered.reading() as session, pytest.raises(InputError, match="No bar is logged"):
        document_pack(session, "J-0001", ordered.certificates)
