"""Every door that a typed value comes in by reads it alike: three shops, all encodings and separators.

What a comma means, the shop's locale says (marks of CLDR, which Babel carries). Job files and cut lists go
from shop to shop and mean the same everywhere: there what may mean two is refused, and of the shop only the
currency counts, whose sign an amount may bear.
"""

import csv
import io
import tomllib
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from unittest.mock import patch

import pytest
from openpyxl import Workbook, load_workbook

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.units import Length
from shopquote.errors import InputError
from shopquote.reading.job_book import read_job_book
from shopquote.reading.job_book_sheets import write_blank_job_book
from shopquote.reading.job_file import read_job_text
from shopquote.reading.kinds import MEASURE, money
from shopquote.reading.table_files import read_table
from shopquote.records.benders import KRuleRow
from shopquote.records.jobs import Job
from shopquote.records.materials import StockItem
from shopquote.records.people import Supplier
from shopquote.records.shop import Saw
from shopquote.services.buying import price_rows
from shopquote.services.buying.books_on_file import BooksOnFile
from shopquote.services.buying.cut_list import read_cut_list
from shopquote.services.buying.goods_in import read_goods_sheet
from shopquote.services.buying.orders_on_file import list_orders
from shopquote.services.buying.price_list import read_price_list
from shopquote.services.jobs.check import check_jobs
from shopquote.services.jobs.job_list import list_jobs
from shopquote.services.jobs.jobs import add_jobs, load_job, revise_job
from shopquote.services.quotes.draft import taxes_named
from shopquote.services.quotes.quote_changes import word_asked
from shopquote.services.quotes.quotes_on_file import list_quotes
from shopquote.services.quotes.typed import MadeBefore, price_typed
from shopquote.services.rack.rack_on_file import list_pieces, read_state
from shopquote.services.rack.stocktake import enter_count, import_rack
from shopquote.services.review.missing import Missing
from shopquote.services.review.review import checked_filters
from shopquote.services.review.selection import Filters
from shopquote.services.shop.lists import import_list, set_entry
from shopquote.services.shop.shop_on_file import grade_on_file, shop_notation, the_shop, value_typed

ON = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SUPPLIER = "Quillmoor Bar Yard (invented)"
SHOPS = {"en_GB": "GBP", "de_DE": "EUR", "fr_FR": "EUR"}
CURRENCIES = SHOPS | {"en_US": "USD"}


class Door:
    """One shop's doors: each takes a typed text to the value that it becomes."""

    def __init__(self, session, folder, encoding: str = "utf-8", separator: str = ",") -> None:
        self.session, self.folder, self.encoding, self.separator = session, folder, encoding, separator

    def table(self, **cells: str):
        """A CSV file of one row, as a spreadsheet saves it; a workbook where a number format is given."""
        if "0" in self.separator:
            book = Workbook()
            book.active.append(list(cells))
            for column, value in enumerate(cells.values(), 1):
                cell = book.active.cell(2, column, float(value) if "." in value else value)
                cell.number_format = self.separator if "." in value else "@"
            book.save(self.folder / "table.xlsx")
            return self.folder / "table.xlsx"
        text = io.StringIO()
        csv.writer(text, delimiter=self.separator).writerows([list(cells), list(cells.values())])
        path = self.folder / "table.csv"
        path.write_bytes(text.getvalue().encode(self.encoding))
        return path

    def read(self, **cells: str):
        return read_table(self.table(**cells))

    # -- lengths, in mm

    def length_of_an_option(self, text: str) -> Decimal:
        return value_typed(self.session, "--length", MEASURE, text).length.mm

    def length_of_a_list(self, text: str) -> Decimal:
        import_list(self.session, "saws", self.read(name="new", kerf=text), on=ON)
        return self.session.query(Saw).filter_by(name="new").one().kerf.mm

    def length_of_an_entry(self, text: str) -> Decimal:
        set_entry(self.session, "saws", ["other", f"kerf={text}"], on=ON)
        return self.session.query(Saw).filter_by(name="other").one().kerf.mm

    def length_of_a_price_list(self, text: str) -> Decimal:
        table = self.read(bar="round 12", grade="S275", length=text, price="5", basis="bar")
        # A bar of 1.25 mm is read before it is refused; here the reading counts.
        with patch.object(price_rows, "SHORTEST_BAR", Length(0)):
            return read_price_list(self.session, SUPPLIER, table, on=ON).changes[0].line.length.length.mm

    def length_of_a_rack_list(self, text: str) -> Decimal:
        return import_rack(self.session, self.read(bar="round 12", grade="S275", length=text), on=ON)[
            0
        ].length.mm

    def length_of_a_count(self, text: str) -> Decimal:
        table = self.read(code="", bar="round 12", grade="S275", found=text)
        return enter_count(self.session, table, on=ON).differences[0].length.mm

    def length_of_a_delivery(self, text: str) -> Decimal:
        table = self.read(line="1", count="1", length=text)
        return read_goods_sheet(table, shop_notation(self.session))[0].length.length.mm

    # -- amounts

    def amount_of_an_option(self, text: str) -> Decimal:
        return value_typed(self.session, "--cost", money(), text)

    def amount_of_a_list(self, text: str) -> Decimal:
        import_list(self.session, "suppliers", self.read(name="new", delivery_charge=text), on=ON)
        return self.session.query(Supplier).filter_by(name="new").one().delivery_charge

    def amount_of_an_entry(self, text: str) -> Decimal:
        set_entry(self.session, "suppliers", ["other", f"delivery_charge={text}"], on=ON)
        return self.session.query(Supplier).filter_by(name="other").one().delivery_charge

    def amount_of_a_price_list(self, text: str) -> Decimal:
        table = self.read(bar="round 12", grade="S275", length="6 m", price=text, basis="bar")
        return read_price_list(self.session, SUPPLIER, table, on=ON).changes[0].line.steps[0][1]

    def amount_of_a_rack_list(self, text: str) -> Decimal:
        table = self.read(bar="round 12", grade="S275", length="1 m", cost=text)
        return import_rack(self.session, table, on=ON)[0].cost

    def amount_of_a_count(self, text: str) -> Decimal:
        table = self.read(code="", bar="round 12", grade="S275", found="1 m", cost=text)
        return enter_count(self.session, table, on=ON).differences[0].value

    def amount_of_a_delivery(self, text: str) -> Decimal:
        table = self.read(**{"line": "1", "count": "1", "charged each": text})
        return read_goods_sheet(table, shop_notation(self.session))[0].charged

    # -- grades, as they stand on file

    def grade_of_an_option(self, text: str) -> str:
        return grade_on_file(self.session, text).name

    def grade_of_a_list(self, text: str) -> str:
        table = self.read(supplier=SUPPLIER.upper(), bar="round 47", grade=text, length="6 m")
        import_list(self.session, "stock", table, on=ON)
        return self.session.query(StockItem).filter_by(section_key="round 47").one().grade

    def grade_of_an_entry(self, text: str) -> str:
        set_entry(self.session, "k-rules", ["fixed K", "k=0.42", f"grade={text}"], on=ON)
        return self.session.query(KRuleRow).one().grade

    def grade_of_a_price_list(self, text: str) -> str:
        table = self.read(bar="round 12", grade=text, length="6 m", price="5", basis="bar")
        return read_price_list(self.session, SUPPLIER, table, on=ON).changes[0].line.grade

    def grade_of_a_rack_list(self, text: str) -> str:
        return import_rack(self.session, self.read(bar="round 12", grade=text, length="1 m"), on=ON)[0].grade

    def grade_of_a_count(self, text: str) -> str:
        table = self.read(code="", bar="round 12", grade=text, found="1 m")
        return enter_count(self.session, table, on=ON).differences[0].grade

    def grade_of_a_job_file(self, text: str) -> str:
        return read_job_text(job_text("100", text), "job.toml").parts[0].grade

    # -- amounts of jobs: the shop's currency counts, its locale does not

    def portable_amount_of_a_job_file(self, text: str) -> Decimal:
        return self.cost_of(add_jobs(self.session, [self.job_file(text)], at=AT)[0])

    def portable_amount_of_a_job_workbook(self, text: str) -> Decimal:
        return self.cost_of(
            add_jobs(self.session, [self.workbook(**{"Bought items": BOUGHT | {"Cost each": text}})], at=AT)[
                0
            ]
        )

    def portable_amount_of_a_revision(self, text: str) -> Decimal:
        job = add_jobs(self.session, [self.job_file("7")], at=AT)[0]
        return self.cost_of(revise_job(self.session, job.number, self.job_file(text), at=AT).job)

    def portable_amount_of_a_form(self, text: str) -> Decimal:
        tables = tomllib.loads(bought_text(text))
        typed = price_typed(self.session, tables, MadeBefore(), today=ON)
        if typed.faults:
            raise InputError.from_faults(typed.faults)
        return typed.spec.bought[0].unit_cost

    def portable_amount_of_a_trial_price(self, text: str) -> Decimal:
        (checked,) = check_jobs([self.job_file(text)], BendingShop(), shop_notation(self.session))
        return checked.spec.bought[0].unit_cost

    def day_of_a_job_file(self, text: str) -> date:
        path = self.folder / "due.toml"
        path.write_text(bought_text("1").replace("sets = 1", f'sets = 1\ndue = "{text}"'), encoding="utf-8")
        return load_job(self.session, add_jobs(self.session, [path], at=AT)[0].number).spec.due

    def cost_of(self, job: Job) -> Decimal:
        return load_job(self.session, job.number).spec.bought[0].unit_cost

    def job_file(self, amount: str):
        path = self.folder / "bought.toml"
        path.write_text(bought_text(amount), encoding="utf-8")
        return path

    # -- lengths of what is read with no shop

    def shopless_length_of_a_job_file(self, text: str) -> Decimal:
        return read_job_text(job_text(f'"{text}"'), "job.toml").parts[0].length.length.mm

    def shopless_length_of_a_job_workbook(self, text: str) -> Decimal:
        part = {"Mark": "A", "Per set": 1, "Bar": "round 12", "Grade": "S275", "Straight length": text}
        return read_job_book(self.workbook(Parts=part)).parts[0].length.length.mm

    def workbook(self, **tabs: dict[str, object]):
        """A job workbook with one row in each of these tabs, its cells by heading."""
        path = self.folder / "job.xlsx"
        path.unlink(missing_ok=True)
        write_blank_job_book(path)
        book = load_workbook(path)
        for row in book["Job"].iter_rows(max_col=2):
            if row[0].value in ("Title", "Customer", "Sets", "Units"):
                row[1].value = {"Title": "a", "Customer": "b", "Sets": 1, "Units": "mm"}[row[0].value]
        for tab, values in tabs.items():
            headings = {cell.value: cell.column for cell in book[tab][1]}
            for heading, value in values.items():
                cell = book[tab].cell(2, headings[heading])
                cell.value = value
                if "0" in self.separator and isinstance(value, str) and "." in value:
                    cell.value, cell.number_format = float(value), self.separator
        book.save(path)
        return path

    def shopless_length_of_a_cut_list(self, text: str) -> Decimal:
        return read_cut_list(self.table(mark="A", length=text, count="2"), "mm")[0].length.mm


def job_text(length: str, grade: str = "S275") -> str:
    return (
        'format = 1\n[job]\ntitle = "a"\ncustomer = "b"\nsets = 1\nunits = "mm"\n[[part]]\nmark = "A"\n'
        f'per_set = 1\nbar = "round 12"\ngrade = "{grade}"\nlength = {length}\n'
    )


BOUGHT = {"Name": "hinge", "Per set": 1}


def bought_text(amount: str) -> str:
    return (
        'format = 1\n[job]\ntitle = "a"\ncustomer = "b"\nsets = 1\nunits = "mm"\n'
        f'[[bought]]\nname = "hinge"\nper_set = 1\nunit_cost = "{amount}"\n'
    )


def doors(of: str) -> list[str]:
    return [name for name in vars(Door) if name.startswith(of)]


LENGTHS = {
    "1,250": {"en_GB": "1250", "de_DE": "1.25", "fr_FR": "1.25"},
    "1 250": dict.fromkeys(SHOPS, "1250"),
    "1320,5": dict.fromkeys(SHOPS, "1320.5"),
    "1.250": {"en_GB": "1.25", "de_DE": None, "fr_FR": "1.25"},
    "1.250,5": dict.fromkeys(SHOPS, "1250.5"),
    "1,250.5": dict.fromkeys(SHOPS, "1250.5"),
    "125 cm": dict.fromkeys(SHOPS, "1250"),
    "wide": dict.fromkeys(SHOPS),
}
AMOUNTS = {text: LENGTHS[text] for text in LENGTHS if text != "125 cm"} | {
    "£48": {"en_GB": "48", "de_DE": None, "fr_FR": None},
    "48 €": {"en_GB": None, "de_DE": "48", "fr_FR": "48"},
    "EUR 1 250,50": {"en_GB": None, "de_DE": "1250.50", "fr_FR": "1250.50"},
}
PORTABLE_AMOUNTS = {text: AMOUNTS[text] for text in AMOUNTS if text.startswith(("£", "EUR", "48"))} | {
    "-£48": dict.fromkeys(SHOPS),
    "0.42": dict.fromkeys(SHOPS, "0.42"),
    "£0.42": {"en_GB": "0.42", "de_DE": None, "fr_FR": None},
    "GBP 1,250": dict.fromkeys(SHOPS),
    "US$1.20": dict.fromkeys(SHOPS),
}
GRADES = {text: dict.fromkeys(SHOPS, "S275") for text in ("S275", "s275", "S 275", "s-275")}
SHOPLESS = {
    "1,250": None, "1.250": "1.25", "1 250": "1250", "1320,5": "1320.5", "1.250,5": "1250.5",
    "125 cm": "1250",
}  # fmt: skip


@pytest.fixture
def door_of(shop, tmp_path):
    """A function that reads a text by a door of a shop of a locale; what it stored is taken back."""

    def read(name: str, locale: str, text: str, *how: str):
        with shop.trial() as session:
            row = the_shop(session)
            row.locale, row.currency = locale, CURRENCIES[locale]
            supplier = session.query(Supplier).filter_by(name=SUPPLIER).one()
            supplier.currency = CURRENCIES[locale]
            session.flush()
            return getattr(Door(session, tmp_path, *how), name)(text)

    return read


def wrong(read: Callable[[], object], expected: str | None) -> object:
    """What a door gives other than expected; None where it does as expected."""
    try:
        found = read()
    except InputError as error:
        return None if expected is None else error.message
    right = found == (expected if isinstance(found, str) else Decimal(expected or "NaN"))
    return None if right else f"read as {found}"


@pytest.mark.parametrize("locale", SHOPS)
@pytest.mark.parametrize(("of", "texts"), [("length", LENGTHS), ("amount", AMOUNTS), ("grade", GRADES)])
def test_every_door_reads_a_text_alike(door_of, locale, of, texts):
    names = doors(of)
    assert len(names) >= 7
    found = {
        (name, text): answer
        for name in names
        for text, meant in texts.items()
        if (answer := wrong(lambda: door_of(name, locale, text), meant[locale])) is not None  # noqa: B023
    }
    assert not found


def test_every_door_knows_a_word_in_any_case(shop):
    with shop.trial() as session:
        assert checked_filters(session, Filters(states=("CLOSED", " won"))).states == ("closed", "won")
        taxes = BooksOnFile(session).taxes()
        assert [tax.name for tax in taxes_named(taxes, [" vat"])] == ["VAT"]
        with pytest.raises(InputError, match="named twice"):
            taxes_named(taxes, ["VAT", "vat"])
        assert list_jobs(session, states=["ASKED"]) == [] == list_quotes(session, ON, states=["Sent"])
        assert list_orders(session, states=["Part  Received"]) == ()
        assert list_pieces(session, states=[read_state("FREE")]) == ()
    typed = ("Margin", "STOCK-price", "Rate.Welding", "weld.filler-price.mig")
    meant = ("margin", "price.material", "rate.welding", "weld.filler-price.MIG")
    assert tuple(word_asked(word, starting_book()) for word in typed) == meant
    assert Missing(labour=("fit-up",)).without(["FIT-UP "]) == Missing()


def test_what_is_read_with_no_shop_is_read_alike_and_refused_where_unsure(door_of):
    found = {
        (name, text): answer
        for name in doors("shopless")
        for text, meant in SHOPLESS.items()
        if (answer := wrong(lambda: door_of(name, "de_DE", text), meant)) is not None  # noqa: B023
    }
    assert not found
    with pytest.raises(InputError, match=r"1250 or 1\.25"):
        door_of("shopless_length_of_a_job_file", "de_DE", "1,250")


def test_a_day_of_a_job_is_no_other_day_in_another_shop(door_of):
    for locale in (*SHOPS, "en_US"):
        with pytest.raises(InputError, match="2027-04-03 or 2027-03-04"):
            door_of("day_of_a_job_file", locale, "04/03/2027")
        assert door_of("day_of_a_job_file", locale, "31/03/2027") == date(2027, 3, 31)


@pytest.mark.parametrize("locale", SHOPS)
def test_an_amount_of_a_job_may_bear_the_sign_of_the_shops_currency_alone(door_of, locale):
    names = doors("portable_amount")
    assert len(names) == 5
    found = {
        (name, text): answer
        for name in names
        for text, meant in PORTABLE_AMOUNTS.items()
        if (answer := wrong(lambda: door_of(name, locale, text), meant[locale])) is not None  # noqa: B023
    }
    assert not found


@pytest.mark.parametrize("name", [*doors("amount"), *doors("portable_amount")])
def test_the_sign_of_another_currency_is_refused_and_both_are_named(door_of, name):
    with pytest.raises(InputError, match=r"an amount in GBP, not in US\$"):
        door_of(name, "en_GB", "US$1.20")
    with pytest.raises(InputError, match="an amount in EUR, not in SEK"):
        door_of(name, "de_DE", "1,20 SEK")


def test_without_a_shop_the_usual_currency_counts_in_a_job_file():
    assert read_job_text(bought_text("€1.20"), "job.toml").bought[0].unit_cost == Decimal("1.20")
    with pytest.raises(InputError, match=r"an amount in EUR, not in \$"):
        read_job_text(bought_text("$1.20"), "job.toml")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_every_table_is_read_in_every_encoding_and_with_every_separator(door_of, encoding, separator):
    tables = [
        name for name in (*doors("length"), *doors("amount")) if "option" not in name and "entry" not in name
    ]
    texts = {"length": ("1320,5", "1320.5"), "amount": ("1\u00a0250,50 €", "1250.50")}
    found = {
        name: answer
        for name in [*tables, "shopless_length_of_a_cut_list"]
        for text, meant in [texts["amount" if name.startswith("amount") else "length"]]
        if (answer := wrong(lambda: door_of(name, "de_DE", text, encoding, separator), meant))  # noqa: B023
    }
    assert not found


IN_EUROS = (
    "#,##0.00 [$€-407]",
    '_-* #,##0.00\\ "€"_-;-* #,##0.00\\ "€"_-',
    "[$EUR] #,##0.00;[Red]-[$EUR] #,##0.00",
)


@pytest.mark.parametrize("shows", IN_EUROS)
def test_a_number_cell_of_a_workbook_is_read_as_what_its_format_shows(door_of, shows):
    """The bare number was taken in the shop's own currency and unit, whatever stood beside it."""
    assert door_of("amount_of_a_list", "de_DE", "1.40", "xlsx", shows) == Decimal("1.40")
    tables = [name for name in doors("amount") if "option" not in name and "entry" not in name]
    for name in [*tables, "portable_amount_of_a_job_workbook"]:
        with pytest.raises(InputError, match=r"an amount in GBP, not in (€|EUR)"):
            door_of(name, "en_GB", "1.40", "xlsx", shows)
        assert door_of(name, "de_DE", "1.40", "xlsx", shows) == Decimal("1.40")
        # An unnamed currency is the shop's; the last format shows that of the computer.
        for own in ("0.00", "#,##0.00", '_("$"* #,##0.00_);_("$"* \\(#,##0.00\\);_("$"* "-"??_);_(@_)'):
            assert door_of(name, "en_GB", "1.40", "xlsx", own) == Decimal("1.40")


def test_a_length_of_a_workbook_is_in_the_unit_that_its_cell_shows(door_of):
    tables = [name for name in doors("length") if "option" not in name and "entry" not in name]
    for name in [*tables, "shopless_length_of_a_cut_list", "shopless_length_of_a_job_workbook"]:
        for locale in SHOPS:
            assert door_of(name, locale, "1.125", "xlsx", '0.000" m"') == 1125
            assert door_of(name, locale, "1.125", "xlsx", "0.000") == Decimal("1.125")
