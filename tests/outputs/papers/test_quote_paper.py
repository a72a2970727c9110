"""The customer's PDF: all that was promised, nothing of the shop's own."""

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zipfile import ZipFile

import pytest

from shopquote.calc.job import PartSpec, StepSpec
from shopquote.outputs.books.quote_book import write_quote_book
from shopquote.outputs.papers.quote_paper import quote_data, write_quote_paper
from shopquote.outputs.papers.traveller import typeset_traveller
from shopquote.outputs.papers.typeset import typeset
from shopquote.outputs.quote_words import voice_of
from shopquote.services.floor.floor import floor_sheet
from tests.outputs.conftest import JOB

needs_poppler = pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not here")


def words_of(path: Path) -> str:
    done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True)
    return " ".join(done.stdout.split())


@needs_poppler
def test_the_paper_says_lines_total_terms_and_whom_it_is_for(quoted, tmp_path: Path) -> None:
    document = quoted()
    words = words_of(write_quote_paper(document, tmp_path))
    voice = voice_of(document.wording.locale, document.priced.currency)
    for line in document.priced.lines:
        assert voice.money(line.amount) in words
    for told in (voice.money(document.priced.total), document.number, document.customer.name, document.title):
        assert told in words
    assert all(" ".join(voice.caution(caution).split()) in words for caution in document.cautions)


@needs_poppler
def test_nothing_of_the_shops_own_reaches_the_customer(quoted, tmp_path: Path) -> None:
    document = quoted()
    path = write_quote_paper(document, tmp_path)
    words = words_of(path)
    assert not re.search(r"margin|overhead|minutes|markup|cost", words, re.IGNORECASE)
    about = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    assert document.number in about and "/" not in about.split("Title:")[1].splitlines()[0]
    assert "CreationDate" not in about


@needs_poppler
def test_notes_steps_and_part_drawings_stay_in_the_shop(shop, quoted, tmp_path: Path) -> None:
    """Every file that a customer gets, its metadata too: none tells what was noted for the floor."""
    hoop, rail = JOB.parts
    document = quoted(
        {
            "description": "A frame for a bench", "note": "SECRET pays late", "enquiry": "E-77",
            "drawing": "GA-12", "parts": (replace(hoop, note="SECRET scale", drawing="SECRET-1"), rail),
            "welds": (replace(JOB.welds[0], note="SECRET inside"),),
            "steps": (StepSpec("SECRET tack first", "welding", ("A",)),),
        }
    )  # fmt: skip
    paper, book = write_quote_paper(document, tmp_path), write_quote_book(document, tmp_path)
    about = subprocess.run(["pdfinfo", paper], capture_output=True, text=True, check=True).stdout
    told = [words_of(paper), about, *_inside(book), paper.name, book.name]
    assert not any("SECRET" in text for text in told)
    for word in ("A frame for a bench", "E-77", "GA-12"):
        assert word in told[0]
    with shop.reading() as session:
        sheet = floor_sheet(session, document.job, at=datetime(2026, 3, 3, tzinfo=UTC))
    (tmp_path / "traveller.pdf").write_bytes(typeset_traveller(sheet))
    floor = words_of(tmp_path / "traveller.pdf")
    for word in (
        "SECRET pays late",
        "SECRET scale",
        "SECRET-1",
        "SECRET inside",
        "1. welding: SECRET tack first",
    ):
        assert word in floor


def _inside(book: Path) -> list[str]:
    """Every stream of a workbook, its properties among them."""
    with ZipFile(book) as archive:
        return [archive.read(name).decode("utf-8", "replace") for name in archive.namelist()]


def test_only_named_fields_are_handed_to_the_template(quoted) -> None:
    """A new field of the document does not reach the paper by itself."""
    document = quoted()
    told = str(quote_data(replace(document, materials=())))
    assert told == str(quote_data(document))
    assert "rate." not in told and "standards" not in told


@pytest.mark.parametrize("locale", ["de_DE", "fr_FR", "es_ES", "en_US"])
def test_every_language_is_set_without_a_missing_letter(quoted, locale: str) -> None:
    document = quoted()
    spoken = replace(document, wording=replace(document.wording, locale=locale))
    assert typeset("quote", quote_data(spoken)).startswith(b"%PDF")


def test_the_same_quote_gives_the_same_bytes(quoted) -> None:
    document = quoted()
    assert typeset("quote", quote_data(document)) == typeset("quote", quote_data(document))


@needs_poppler
@pytest.mark.parametrize("count", [1, *range(30, 62)])
def test_what_is_signed_never_stands_alone_on_a_page(quoted, count: int) -> None:
    """However many lines push it down: terms stand beside the signature, headings on every page."""
    data = quote_data(quoted())
    data |= {"lines": [[str(n), "bracket", "1", "2.00", "2.00"] for n in range(count)], "parts": []}
    done = subprocess.run(
        ["pdftotext", "-", "-"], input=typeset("quote", data), capture_output=True, check=True
    )
    *before, last = done.stdout.decode().split("\f")[:-1]
    signed = next(page for page in (last, *before) if "Signature" in page)
    assert data["terms"][-1][1].split(".")[0] in " ".join(signed.split())
    assert all("Amount" in page for page in before if page.count("bracket") > 1)


def test_a_twist_is_drawn_and_a_straight_piece_has_a_length_alone(quoted) -> None:
    """Its bar says the rest: 860 x 12 x 12 mm of a square 12 bar were three sizes for one."""
    twisted = PartSpec("T", "baluster", 1, "square 12", "S275", shape="leg 280; twist 2 over 300; leg 280")
    hoop, _ = JOB.parts
    document = quoted({"parts": (hoop, twisted)})
    curved, straight = document.parts
    assert straight.size == "860 mm" and " x " in curved.size
    assert straight.twists
    drawn, plain = (
        quote_data(replace(document, parts=(part,)))["parts"][0]
        for part in (straight, replace(straight, twists=()))
    )
    strokes = re.compile("<(?:path|line|polyline|polygon)")
    assert len(strokes.findall(drawn["svg"])) >= 4 + len(strokes.findall(plain["svg"]))
    assert drawn["words"].splitlines()[2] == "860 mm"
