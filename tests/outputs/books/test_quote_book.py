"""The customer's workbook: complete, to the cent, on one page, and silent about the shop's own figures."""

import base64
import re
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
from openpyxl import load_workbook

from shopquote.calc.job import BoughtSpec, PartSpec
from shopquote.calc.pricing import terms
from shopquote.calc.pricing.cautions import BY_USE
from shopquote.calc.units import Measure
from shopquote.outputs.books.quote_book import write_quote_book
from shopquote.outputs.drawings.part_pictures import part_picture
from shopquote.outputs.papers.quote_paper import write_quote_paper
from shopquote.outputs.quote_words import CAUTIONS, LANGUAGES, TERMS, voice_of
from tests.office import OFFICE, pdf_of
from tests.outputs.conftest import JOB
from tests.sheets import rows_under

D = Decimal


def cells(path):
    return [
        cell
        for sheet in load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]


def texts(path):
    return "\n".join(str(cell.value) for cell in cells(path))


def test_everything_a_customer_needs_is_there(quoted, tmp_path):
    document = quoted()
    shown = texts(write_quote_book(document, tmp_path))
    words = document.wording
    for needed in (
        document.shop.name, document.customer.name, document.number, document.job, document.title,
        "3 March 2026", "24 March 2026", words.lead_time, words.terms, words.included, words.excluded,
        words.delivery_term, "40 % of the total", "Guards, railings and stairs", "Signature", "VAT 20 %",
        f"{document.priced.net.normalize():f}", f"{document.priced.total.normalize():f}", "Other quantities",
    ):  # fmt: skip
        assert needed in shown, needed


def test_printed_lines_add_up_to_the_printed_total(quoted, tmp_path):
    document = quoted(rush_pct=D(10), discount_pct=D(3), lines="part")
    sheet = load_workbook(write_quote_book(document, tmp_path)).worksheets[0]
    rows = rows_under(sheet, "No.", "Quantity", "Unit price, EUR", "Amount, EUR")
    lines = [row for row in rows if isinstance(row["No."], int)]
    money = [[D(str(row[head])) for head in ("Quantity", "Unit price, EUR", "Amount, EUR")] for row in lines]
    assert all(round(quantity * unit, 2) == amount for quantity, unit, amount in money)
    assert [row["No."] for row in lines] == [1, 2, 3, 4, 5]
    assert sum(amount for _, _, amount in money) == document.priced.net
    # The net stands right below the lines, under their amounts.
    assert rows[len(lines)]["Amount, EUR"] == float(document.priced.net)


def test_nothing_of_the_shops_own_goes_out(quoted, tmp_path):
    # Figures that occur nowhere else: a search through the raw parts of the file must not find them.
    document = quoted(margin_pct=D("37.31"))
    path = write_quote_book(document, tmp_path)
    with ZipFile(path) as parts:
        raw = "\n".join(
            parts.read(name).decode("utf-8", "replace")
            for name in parts.namelist()
            if name.endswith(("xml", "rels"))
        )
        assert not any("comment" in name or "vba" in name or "customXml" in name for name in parts.namelist())
    for word in (
        "margin",
        "markup",
        "overhead",
        "contingency",
        "set-up",
        "rate.",
        "deviation",
        "minutes",
        "labour",
    ):
        assert not re.search(rf">[^<]*\b{re.escape(word)}[^<]*<", raw, re.IGNORECASE), word
    estimate = document.estimate
    secret = [
        document.priced.cost,
        *(o.amount for o in estimate.operations),
        *(line.amount for line in estimate.costs),
    ]
    numbers = {D(number) for number in re.findall(r"<v>([0-9.]+)</v>", raw)}
    assert document.priced.net in numbers
    assert not {value for value in secret if value > 20} & numbers
    book = load_workbook(path)
    assert all(sheet.sheet_state == "visible" for sheet in book)
    assert not list(book.defined_names)
    assert not any(cell.data_type == "f" for cell in cells(path))
    assert all(
        not d.hidden
        for sheet in book
        for d in [*sheet.row_dimensions.values(), *sheet.column_dimensions.values()]
    )


def test_a_later_revision_says_which_it_replaces(quoted, tmp_path):
    document = quoted()
    assert "Replaces" not in texts(write_quote_book(document, tmp_path))
    assert "Replaces\nRevision 1" in texts(write_quote_book(replace(document, revision=2), tmp_path))


def test_a_customers_text_leads_to_no_other_folder(quoted, tmp_path):
    path = write_quote_book(quoted(job={"title": "../../etc/: Rails\n& posts"}), tmp_path)
    assert path.parent == tmp_path
    assert path.name == "Quote Q-0001 r1 .. .. etc Rails posts.xlsx"


def test_a_customers_text_stays_text(quoted, tmp_path):
    path = write_quote_book(quoted(), tmp_path)
    titles = [cell for cell in cells(path) if str(cell.value).startswith(("=", "+", "@"))]
    assert titles and all(cell.data_type == "s" for cell in titles)


def test_a_small_job_is_one_sheet_on_one_page_with_pictures(quoted, tmp_path):
    for paper, code in (("A4", 9), ("Letter", 1)):
        path = write_quote_book(quoted(own_shop={"paper": paper}), tmp_path)
        book = load_workbook(path)
        assert len(book.worksheets) == 1
        setup = book.worksheets[0].page_setup
        assert (setup.paperSize, setup.fitToWidth, setup.fitToHeight) == (code, 1, 1)
        assert len(book.worksheets[0]._images) == 2
        assert book.worksheets[0].print_area


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice (soffice) is not installed: nothing was printed")
def test_a_small_job_prints_on_one_page(quoted, tmp_path):
    for paper in ("A4", "Letter"):
        pdf = pdf_of(write_quote_book(quoted(own_shop={"paper": paper}), tmp_path), tmp_path / paper)
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes())) == 1


@pytest.mark.skipif(
    not (shutil.which("soffice") and shutil.which("pdftotext")), reason="LibreOffice or pdftotext is missing"
)
def test_the_pdf_has_the_separators_of_the_shops_locale(quoted, tmp_path):
    book = write_quote_book(quoted(own_shop={"locale": "de_DE"}), tmp_path)
    shown = subprocess.run(
        ["pdftotext", pdf_of(book, tmp_path, "de_DE"), "-"], capture_output=True, text=True, check=True
    )
    assert re.search(r"\d,\d\d\s", shown.stdout) and not re.search(r"\d\.\d\d\s", shown.stdout)


def test_many_parts_get_a_sheet_of_their_own(quoted, tmp_path):
    parts = tuple(
        PartSpec(f"P{n}", "bar", 1, "round 12", "S275", length=Measure.parse(300 + n, "mm")) for n in range(9)
    )
    book = load_workbook(write_quote_book(quoted(job={"parts": parts, "welds": ()}), tmp_path))
    assert len(book.worksheets) == 2
    assert len(book.worksheets[1]._images) == 9


@pytest.mark.parametrize("locale, word, day, total", [
    ("de_DE", "Angebot", "3. März 2026", "€"),
    ("fr-FR", "Devis", "3 mars 2026", "€"),
    ("es_ES", "Presupuesto", "3 de marzo de 2026", "€"),
    ("en_US", "Quote", "March 3, 2026", "€"),
    ("zz_ZZ", "Quote", "3 March 2026", "€"),
])  # fmt: skip
def test_the_paper_speaks_the_shops_locale(quoted, tmp_path, locale, word, day, total):
    shown = texts(write_quote_book(quoted(own_shop={"locale": locale}), tmp_path))
    assert word in shown and day in shown and total in shown
    assert (BY_USE["guarding"][0] in shown) == (word == "Quote")


@pytest.mark.parametrize("locale", ["de_DE", "fr_FR", "es_ES"])
def test_terms_of_a_new_shop_follow_the_language_and_the_owners_own_stay_as_typed(quoted, tmp_path, locale):
    own = {"locale": locale, "lead_time": "Nach den Ferien", "terms": terms.USUAL_TERMS + " Cash."}
    shown = texts(write_quote_book(quoted(own_shop=own), tmp_path))
    assert own["lead_time"] in shown and own["terms"] in shown
    for usual in (terms.USUAL_DELIVERY, terms.USUALLY_INCLUDED, terms.USUALLY_EXCLUDED):
        assert usual not in shown
        assert TERMS[locale[:2]][usual] in shown


def test_holes_are_told_in_the_language_of_the_paper(quoted, tmp_path):
    shown = texts(write_quote_book(quoted(own_shop={"locale": "de_DE"}), tmp_path))
    assert "4 x Ø 9, 1 x Ø 8 mit Gewinde" in shown


@pytest.mark.parametrize("locale, turned, threaded", [
    ("en_GB", "Ends turned: 1", "Ends threaded: 2"),
    ("de_DE", "Enden gedreht: 1", "Enden mit Außengewinde: 2"),
])  # fmt: skip
def test_worked_ends_are_told_beside_the_part(quoted, tmp_path, locale, turned, threaded):
    hoop, rail = JOB.parts
    parts = (replace(hoop, turned=1, threaded=2), rail)
    shown = texts(write_quote_book(quoted(job={"parts": parts}, own_shop={"locale": locale}), tmp_path))
    assert shown.count(turned) == shown.count(threaded) == 1


@pytest.mark.parametrize("locale, said", [
    ("en_GB", "welded; painted (2 coats); hot-dip galvanising; 6 x @M8 bolt"),
    ("de_DE", "geschweißt; lackiert (2 Anstriche); hot-dip galvanising; 6 x @M8 bolt"),
])  # fmt: skip
def test_what_comes_with_a_set_is_told_without_its_cost(quoted, tmp_path, locale, said):
    shown = texts(write_quote_book(quoted(own_shop={"locale": locale}), tmp_path))
    assert said in shown.splitlines()


def test_a_long_list_of_bought_items_is_cut_short(quoted, tmp_path):
    bought = tuple(BoughtSpec(f"item {number}", 1, D("0.10")) for number in range(100))
    shown = texts(write_quote_book(quoted(job={"bought": bought, "welds": (), "finish": None}), tmp_path))
    assert "1 x item 28; … (+71)" in shown


def test_bars_are_named_in_the_language_of_the_paper(quoted, tmp_path):
    shown = texts(write_quote_book(quoted(own_shop={"locale": "de_DE"}), tmp_path))
    assert "flach 40 x 6 EN 10025-2 S275JR" in shown and "rund 12 EN 10025-2 S275JR" in shown
    assert voice_of("es_ES", "EUR").bar("box 40 x 20 x 2 mm") == "perfil hueco 40 x 20 x 2 mm"
    assert voice_of("en_US", "USD").bar("flat 2 x 1/4 in") == "flat 2 x 1/4 in"


def test_every_language_has_every_word():
    english = LANGUAGES["en"]
    assert all(
        set(cautions) == {"guarding", "structural", "lifting", "hollow"} for cautions in CAUTIONS.values()
    )
    usual = {name for name, words in vars(terms).items() if name.isupper() and isinstance(words, str)}
    assert all(set(own) == {getattr(terms, name) for name in usual} for own in TERMS.values())
    assert TERMS.keys() == CAUTIONS.keys() == LANGUAGES.keys() - {"en"}
    for language, words in LANGUAGES.items():
        assert words.keys() == english.keys(), language
        for name, text in words.items():
            assert sorted(re.findall(r"\{\w+\}", text)) == sorted(re.findall(r"\{\w+\}", english[name])), name


@pytest.mark.parametrize("locale, currency, shown", [
    ("en_GB", "EUR", "€1,234.50"),
    ("de_DE", "EUR", "1.234,50\xa0€"),
    ("en_US", "USD", "$1,234.50"),
    ("en_GB", "JPY", "JP¥1,234"),
])  # fmt: skip
def test_amounts_in_a_sentence(locale, currency, shown):
    amount = D("1234") if currency == "JPY" else D("1234.50")
    assert voice_of(locale, currency).money(amount) == shown


def test_an_exempt_customer_is_told_so(quoted, tmp_path, shop):
    from sqlalchemy import select

    from shopquote.records.people import Customer
    from shopquote.services.quotes.quotes_on_file import make_quote

    document = quoted()
    with shop.session() as session:
        session.scalars(select(Customer)).one().tax_exempt = True
    with shop.session() as session:
        document = make_quote(session, document.job, document.issued_on)
    assert "exempt from tax" in texts(write_quote_book(document, tmp_path))


def test_a_logo_is_printed(quoted, tmp_path):
    from PIL import Image

    Image.new("RGB", (400, 100), (122, 59, 18)).save(tmp_path / "logo.png")
    document = quoted(own_shop={"logo_path": str(tmp_path / "logo.png")})
    assert base64.b64decode(document.wording.logo).startswith(b"\x89PNG")
    sheet = load_workbook(write_quote_book(document, tmp_path)).worksheets[0]
    assert len(sheet._images) == 3


@pytest.mark.parametrize("line", [
    ((0, 0, 0), (500, 0, 0)),
    ((0, 0, 0), (0, 500, 0), (40, 540, 0)),
    ((0, 0, 0), (100, 0, 0), (100, 80, 0), (100, 80, 90)),
    ((0, 0, 0), (0, 0, 0)),
])  # fmt: skip
def test_a_picture_shows_dark_metal_on_white_and_nothing_at_the_edge(line):
    from PIL import Image

    picture = Image.open(BytesIO(part_picture(line, 12.0))).convert("L")
    width, height = picture.size
    edge = [picture.getpixel((x, y)) for x in range(width) for y in (0, height - 1)]
    assert min(edge) > 240
    assert sum(1 for value in picture.tobytes() if value < 160) > 15


def test_a_twist_is_drawn_as_strokes_that_slant_by_its_hand():
    from PIL import Image

    line = ((0.0, 0.0, 0.0), (150.0, 0.0, 0.0), (450.0, 0.0, 0.0), (600.0, 0.0, 0.0))

    def dark(degrees, columns):
        twists = ((1, degrees),) if degrees else ()
        picture = Image.open(BytesIO(part_picture(line, 12.0, twists=twists))).convert("L")
        places = ((x, y) for x in columns for y in range(picture.height))
        return {place for place in places if picture.getpixel(place) < 90}

    twisted, plain = range(70, 140), range(20, 50)
    assert dark(0, twisted) < dark(720, twisted)
    assert dark(720, twisted) != dark(-720, twisted)
    assert dark(720, plain) == dark(0, plain)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_customers_files_are_named_in_the_customers_language(quoted, tmp_path, language):
    document = quoted()
    spoken = replace(document, wording=replace(document.wording, locale=language))
    names = [write(spoken, tmp_path).name for write in (write_quote_book, write_quote_paper)]
    assert all(name.startswith(f"{LANGUAGES[language]['quote']} {document.number} r1 ") for name in names)
