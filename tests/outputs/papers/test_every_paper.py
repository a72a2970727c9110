"""Every paper read back from its PDF: no word on another, none over the edge, none smaller than promised.

Boxes of words are poppler's; of Fira Sans a box is 1.2 times as high as the type.
"""

import re
import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from html import unescape
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from shopquote.outputs.books.label_book import Label
from shopquote.outputs.papers.count_paper import write_count_paper
from shopquote.outputs.papers.delivery_paper import delivery_data
from shopquote.outputs.papers.label_paper import SHEETS, label_data, piece_label_data
from shopquote.outputs.papers.order_paper import order_data
from shopquote.outputs.papers.quote_paper import quote_data
from shopquote.outputs.papers.traveller import traveller_data, typeset_traveller
from shopquote.outputs.papers.typeset import typeset
from shopquote.services.floor.delivery_note import delivery_note
from shopquote.services.floor.floor import floor_sheet
from shopquote.services.jobs.jobs import add_jobs, load_job
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.quotes_on_file import make_quote
from shopquote.services.rack.stocktake_forms import COUNT_COLUMNS
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
def papers(shop, quoted, tmp_path: Path) -> dict[str, Callable[[], tuple[bytes, float]]]:
    """Each template with how it is set and the smallest type that it promises."""
    document = quoted()

    def traveller() -> bytes:
        with shop.reading() as session:
            return typeset_traveller(floor_sheet(session, document.job, at=datetime(2026, 3, 3, tzinfo=UTC)))

    def delivery() -> bytes:
        with shop.session() as session:
            load_job(session, document.job).job.state = "won"
            note = delivery_note(session, document.job, date(2026, 3, 3))
        return typeset("order", delivery_data(note))

    return {
        "quote": lambda: (typeset("quote", quote_data(document)), 9.0),
        "order": lambda: (typeset("order", order_data(replace(ORDER, certificate="3.1"))), 9.0),
        "traveller": lambda: (traveller(), 12.0),
        "delivery": lambda: (delivery(), 9.0),
        "labels A4": lambda: (typeset("labels", label_data(LABELS, "A4", "Shop")), 12.0),
        "labels Letter": lambda: (typeset("labels", label_data(LABELS, "Letter", "Shop")), 12.0),
        "count": lambda: (counted(tmp_path), 12.0),
    }


LABELS = [
    Label(f"R-{n:04d}", "flat 100 x 12 S355J2", "5999.5 mm", f"INV-70{n}", "bay 3, upper row", "J-0007")
    for n in range(1, 36)
]


def counted(folder: Path) -> bytes:
    """A stocktake's sheet of sixty bars."""
    rows = [
        [f"R-{n:04d}", "flat 40 x 6 mm", "S275", "6000 mm", f"7041{n}", "bay 1", None, None, None, None]
        for n in range(60)
    ]
    path = write_count_paper(COUNT_COLUMNS, rows, folder / "count.pdf", day=date(2026, 3, 3), shop="Shop")
    return path.read_bytes()


@pytest.mark.parametrize(
    "name", ["quote", "order", "traveller", "delivery", "labels A4", "labels Letter", "count"]
)
def test_a_paper_has_nothing_over_another_off_the_page_or_too_small(papers, name: str) -> None:
    pdf, least = papers[name]()
    assert sum(len(words) for _, _, words in pages_of(pdf)) > 40
    assert troubles(pdf, least) == []


def test_the_check_finds_what_is_wrong() -> None:
    words = [Word("a", 10, 10, 40, 24), Word("b", 35, 12, 60, 26), Word("c", 10, 40, 20, 54)]
    assert on_another(words) == [("a", "b")]
    assert round(words[2].size, 2) == round(14 / 1.2, 2)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_label_keeps_clear_of_its_borders(paper: str) -> None:
    """2 mm from where the sheet is cut: printers shift a page by as much."""
    across, down, left, top, wide, tall, step_x, step_y = SHEETS[paper]
    pages = pages_of(typeset("labels", label_data(LABELS, paper, "Shop")))
    assert len(pages) == -(-len(LABELS) // (across * down))
    for word in (word for _, _, words in pages for word in words):
        x, y = word.left / 72 * 25.4 - left, word.top / 72 * 25.4 - top
        at_x, at_y = x - x // step_x * step_x, y - y // step_y * step_y
        assert at_x >= 2 and at_x + (word.right - word.left) / 72 * 25.4 <= wide - 2
        assert at_y >= 1.5 and at_y + (word.bottom - word.top) / 72 * 25.4 <= tall - 1.5


def test_a_piece_label_names_job_mark_count_and_opens_it(shop, quoted) -> None:
    with shop.reading() as session:
        sheet = floor_sheet(session, quoted().job, at=datetime(2026, 3, 3, tzinfo=UTC))
    labels = piece_label_data(sheet)["labels"]
    assert [label["lines"][:2] for label in labels] == [
        [f"{sheet.job} {part.mark}", f"{part.count} off"] for part in sheet.parts
    ]
    assert all(label["code"].startswith("<svg") for label in labels)


def crowded(held: Any, name: str, expected: set[str]) -> Any:
    """A paper's data with each of its lists so long that it fills pages; `expected`: what must be printed."""
    if isinstance(held, dict):
        return {key: crowded(value, key, expected) for key, value in held.items()}
    if not isinstance(held, list) or not held or name in FIXED_LISTS:
        return held
    last = held[-1]
    if isinstance(last, str):
        more = [f"{name}{n}" for n in range(MANY_ROWS)]
        expected.update(more)
        return held + more
    if isinstance(last, (list, tuple)) and last and all(isinstance(cell, str) for cell in last):
        expected.update(f"{name}{n}" for n in range(MANY_ROWS))
        return held + [[f"{name}{n}", *last[1:]] for n in range(MANY_ROWS)]
    return held


# What names columns or sides, in the number that its table has.
FIXED_LISTS = {"head", "align", "wide", "line_head", "break_head", "facts", "letterhead", "address"}
MANY_ROWS = 90


@pytest.mark.parametrize("name", ["quote", "order", "traveller"])
def test_no_list_of_a_paper_runs_off_its_pages(shop, quoted, name: str) -> None:
    """Each list of its data ninety rows longer, and every one of them is printed."""
    document = quoted()
    with shop.reading() as session:
        sheet = floor_sheet(session, document.job, at=datetime(2026, 3, 3, tzinfo=UTC))
    data = {
        "quote": lambda: quote_data(document),
        "order": lambda: order_data(replace(ORDER, certificate="3.1")),
        "traveller": lambda: traveller_data(sheet),
    }[name]()
    expected: set[str] = set()
    pdf = typeset(name, crowded(data, name, expected))
    assert len(expected) > MANY_ROWS
    printed = {word.text for _, _, words in pages_of(pdf) for word in words}
    assert expected <= printed


MARKS = ("A", "UPRIGHT-LEFT-01", "ÄÖÜ-ß", "Ω17", "Ж-9", "ÞÆØ Å2", "žluťoučký")


def test_long_and_foreign_names_notes_and_great_numbers_stay_in_their_places(shop, tmp_path: Path) -> None:
    """Marks of other letters, names and notes of several lines, 62,500 pieces: floor sheet, labels, quote."""
    name = "left upright of the outer stair with a very long name"
    rows = [
        f'[[part]]\nmark = "{mark}"\nname = "{name}"\nper_set = {250 if n == 2 else 1}\n'
        f'bar = "{("round 12", "flat 40 x 6")[n % 2]}"\ngrade = "S275"\nnote = "one\\ntwo: Ø, žluť, Ω, Ж"\n'
        f'shape = "leg {120 + n}; bend 90 r 36; leg 150; bend {-60 if n % 2 else 60} r 36; leg 140"\n'
        for n, mark in enumerate(MARKS)
    ]
    head = f'format = 1\n[job]\ntitle = "Сталь – {name * 2}"\ncustomer = "Žďár {name}"\n'
    head += 'sets = 250\nunits = "mm"\n'
    (tmp_path / "job.toml").write_text(head + "".join(rows), "utf-8")
    with shop.session() as session:
        job = add_jobs(session, [tmp_path / "job.toml"], at=datetime(2026, 3, 2, tzinfo=UTC))[0].number
    with shop.reading() as session:
        sheet = floor_sheet(session, job, at=datetime(2026, 3, 3, tzinfo=UTC))
    with shop.session() as session:
        document = make_quote(session, job, date(2026, 3, 3), QuoteWishes(lines="part"))
    traveller = typeset_traveller(sheet)
    # Upright boxes about slanted sizes share air: the drawings' own tests look at what lies on what there.
    sizes = re.compile(r": [A-D=\d.]+ lies on [A-D=\d.]+$")
    assert [told for told in troubles(traveller, 12.0) if not sizes.search(told)] == []
    words = {word.text for _, _, page in pages_of(traveller) for word in page}
    assert {"UPRIGHT-LEFT-01", "žluťoučký", "Ω17", "Ж-9"} <= words
    assert troubles(typeset("labels", piece_label_data(sheet)), 12.0) == []
    assert troubles(typeset("quote", quote_data(document)), 9.0) == []
