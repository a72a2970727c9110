"""Every paper read back from its PDF: no word on another, none over the edge, none smaller than promised.

Boxes of words are poppler's; of Fira Sans a box is 1.2 times as high as the type.
"""

import re
import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from html import unescape
from itertools import combinations

import pytest

from shopquote.outputs.papers.order_paper import order_data
from shopquote.outputs.papers.quote_paper import quote_data
from shopquote.outputs.papers.traveller import typeset_traveller
from shopquote.outputs.papers.typeset import typeset
from shopquote.services.floor.floor import floor_sheet
from tests.outputs.books.test_order_book import ORDER

pytestmark = pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not here")

BOX = re.compile(r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)<')
PAGE = re.compile(r'width="([\d.]+)" height="([\d.]+)"')


@dataclass(frozen=True)
class Word:
    """A word and its box, points from the upper left corner."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    @property
    def size(self) -> float:
        """At least the size of its type; turned words are measured across."""
        return max(self.bottom - self.top, self.right - self.left) / 1.2


def pages_of(pdf: bytes) -> list[tuple[float, float, list[Word]]]:
    """Width, height and words of each page."""
    done = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True)
    read = []
    for page in done.stdout.decode().split("<page ")[1:]:
        wide, tall = map(float, PAGE.search(page).groups())
        words = [Word(unescape(text), *map(float, box)) for *box, text in BOX.findall(page)]
        read.append((wide, tall, words))
    return read


def troubles(pdf: bytes, least: float) -> list[str]:
    """What is wrong with a paper, in words."""
    found = []
    for number, (wide, tall, words) in enumerate(pages_of(pdf), start=1):
        found += [
            f"{number}: {word.text} is off the page"
            for word in words
            if word.left < 0 or word.top < 0 or word.right > wide or word.bottom > tall
        ]
        found += [f"{number}: {w.text} is {w.size:.1f} pt" for w in words if w.size < least - 0.05]
        found += [f"{number}: {a} lies on {b}" for a, b in on_another(words)]
    return found


def on_another(words: Sequence[Word]) -> list[tuple[str, str]]:
    """Words whose boxes share more than the air above and below their type."""
    return [
        (one.text, other.text)
        for one, other in combinations(words, 2)
        if min(one.right, other.right) - max(one.left, other.left) > 1
        and min(one.bottom, other.bottom) - max(one.top, other.top) > 4
    ]


@pytest.fixture
def papers(shop, quoted) -> dict[str, Callable[[], tuple[bytes, float]]]:
    """Each template with how it is set and the smallest type that it promises."""
    document = quoted()

    def traveller() -> bytes:
        with shop.reading() as session:
            return typeset_traveller(floor_sheet(session, document.job, at=datetime(2026, 3, 3, tzinfo=UTC)))

    return {
        "quote": lambda: (typeset("quote", quote_data(document)), 9.0),
        "order": lambda: (typeset("order", order_data(replace(ORDER, certificate="3.1"))), 9.0),
        "traveller": lambda: (traveller(), 8.0),
    }


@pytest.mark.parametrize("name", ["quote", "order", "traveller"])
def test_a_paper_has_nothing_over_another_off_the_page_or_too_small(papers, name: str) -> None:
    pdf, least = papers[name]()
    assert sum(len(words) for _, _, words in pages_of(pdf)) > 40
    assert troubles(pdf, least) == []


def test_the_check_finds_what_is_wrong() -> None:
    words = [Word("a", 10, 10, 40, 24), Word("b", 35, 12, 60, 26), Word("c", 10, 40, 20, 54)]
    assert on_another(words) == [("a", "b")]
    assert round(words[2].size, 2) == round(14 / 1.2, 2)
