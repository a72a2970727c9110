"""The customer's PDF: all that was promised, nothing of the shop's own."""

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from shopquote.outputs.books.quote_words import voice_of
from shopquote.outputs.papers.quote_paper import quote_data, write_quote_paper
from shopquote.outputs.papers.typeset import typeset

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
