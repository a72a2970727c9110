"""The books of a shop without a database: what setting up would put on file, and no table loaded.

Begin at `StartingBooks`. A test holds every value to what `set_up` leaves on file.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import field, fields, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING, Any, cast

from shopquote.calc.bar.benders import PLANNING_IN, PLANNING_MM, SHARINGS, USUAL_ARC_GAP, LongestBar
from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.splice import longest_bars
from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing.priced_quote import MinutesLine
from shopquote.calc.pricing.standards import STARTING_STANDARDS, StandardsBook, standards_on
from shopquote.calc.takeoff.cut_plan import RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.takeoff.whole_sheets import Sold
from shopquote.calc.units import ZERO, Length
from shopquote.invented.shop import NOTE, SUPPLIERS, price_list
from shopquote.services.buying.offers import ListedBar, guessed, listed
from shopquote.services.buying.wanted import wider_sheets
from shopquote.services.shop.invented_words import INVENTED_WORD
from shopquote.services.shop.new_shop import STARTING_POLICY, ShopDetails, starting_saws
from shopquote.services.shop.values import without_idle_zeros

if TYPE_CHECKING:
    from shopquote.records.people import Customer, Supplier
    from shopquote.records.shop import Shop, TaxRow
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class _Tax:
    """As `records.shop.TaxRow`."""

    name: str
    percent: Decimal
    is_default: bool = True
    retired: bool = False


@dataclass(frozen=True, slots=True)
class _Supplier:
    """As `records.people.Supplier`."""

    name: str
    address: str
    currency: str
    delivery_charge: Decimal
    free_from: Decimal | None
    lead_days: int
    cut_charge: Decimal | None
    certificate_kind: str
    email: str = ""
    phone: str = ""
    locale: str = ""
    exchange_rate: Decimal = Decimal(1)
    certificate_charge: Decimal = Decimal(0)
    column_map: Mapping[str, Any] = field(default_factory=dict, compare=False)
    invented: bool = True
    note: str = NOTE
    retired: bool = False


@dataclass(frozen=True, slots=True)
class _Price:
    """As `records.materials.StockPrice`."""

    price: Decimal
    basis: str
    break_kg: Decimal
    valid_from: date
    invented: bool = True


@dataclass(frozen=True, slots=True)
class _Bar:
    """As `records.materials.StockItem`."""

    id: int
    supplier: _Supplier
    section_key: str
    section_text: str
    grade: str
    length: Length
    length_text: str
    bundle: int | None
    standard: str
    condition: str
    prices: tuple[_Price, ...]
    limit: int | None = None
    tolerance: Length = ZERO
    note: str = NOTE
    retired: bool = False


# As an empty column of `records.shop.Shop` is filled.
_EMPTY_COLUMNS: Mapping[str, Any] = {
    "page_address": "",
    "payment_days": None,
    "markup_pct": None,
    "overhead_per_month": None,
    "material_basis": "bought",
    "net_share_pct": Decimal(0),
    "credit_offcuts": False,
    "rack_charge_pct": Decimal(100),
    "rack_basis": "today",
    "rack_worth_pct": Decimal(100),
    "inwards": "whole",
    "usual_inwards": Decimal(0),
    "learning": "none",
    "quote_lines": "set",
    "bend_datum": "start",
    "hand_pull_n": Decimal(250),
    "twist_loss_pct": Decimal(0),
    "forge_loss_pct": Decimal(0),
    "arc_gap": USUAL_ARC_GAP,
    "small_bends": SHARINGS[0],
    "formers_along": False,
    "planning_mm": PLANNING_MM,
    "planning_in": PLANNING_IN,
    "backups_kept": 14,
}


class _Shop:
    """As the row of `records.shop.Shop` that `set_up` makes of an invented shop's details."""

    def __init__(self, details: ShopDetails) -> None:
        of_tax = ("tax_name", "tax_percent")
        told = {
            name: getattr(details, name) for one in fields(ShopDetails) if (name := one.name) not in of_tax
        }
        vars(self).update(_EMPTY_COLUMNS, **STARTING_POLICY, **told, id=1, invented=details.is_invented)


@dataclass(frozen=True)
class StartingBooks:
    """`QuoteBooks` of a shop that begins on a day, with the lists that every shop starts from."""

    on: date

    @cached_property
    def shop(self) -> "Shop":
        """What stands in place of the shop's own row."""
        return cast("Shop", _Shop(ShopDetails()))

    @cached_property
    def saw(self) -> SawSettings:
        """The saw that is used unless another is named."""
        usual: dict[str, Any] = next(iter(starting_saws(cast(Any, self.shop.units)).values()))
        return SawSettings(**usual, rack_worth_percent=self.shop.rack_worth_pct)

    @cached_property
    def longest(self) -> dict[tuple[str, str], LongestBar]:
        """As `on_file.longest_on_sale` has it."""
        lost = Length(self.saw.trim.nm + self.saw.grip.nm)
        return longest_bars(((bar.section_key, bar.grade, bar.length, ZERO) for bar in self._bars), lost)

    def standards(self, on: date) -> StandardsBook:
        """The standards that count on a day."""
        short = (
            replace(
                one,
                value=without_idle_zeros(one.value),
                spread_pct=without_idle_zeros(one.spread_pct),
            )
            for one in STARTING_STANDARDS
        )
        return standards_on(short, on)

    def taxes(self) -> "Sequence[TaxRow]":
        """All taxes."""
        details = ShopDetails()
        return [cast("TaxRow", _Tax(details.tax_name, details.tax_percent))]

    def listed(
        self, section: Section, grade: Grade, on: date, supplier: str | None = None
    ) -> tuple[ListedBar, ...]:
        """What suppliers list of a section and grade on a day, the longest bars first."""
        bars = (bar for bar in self._bars if (bar.section_key, bar.grade) == (section.key, grade.name))
        return listed(
            cast(Any, [bar for bar in bars if supplier in (None, bar.supplier.name)]), section, grade, on
        )

    def guessed(self, section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
        """The nearest bar that is listed, for a size that nobody lists; see `offers.guessed`."""
        family = {name for name, other in STARTING_GRADES.items() if other.family == grade.family}
        bars = [bar for bar in self._bars if bar.grade in {*family, grade.name}]
        return guessed(cast(Any, bars), section, grade, on)

    def sheets(self, items: Sequence[Item], held: "Sequence[JobBar]") -> dict[tuple[str, str], Sold]:
        """The wider sheet that pieces come off, by section key and grade."""
        grades = {answer.grade.name for answer, *_ in items if answer.section.form.by_width}
        if not grades:
            return {}
        rows = [
            (bar.section_key, bar.grade, bar.length)
            for bar in self._bars
            if bar.grade in grades and bar.section_key.startswith(("sheet ", "mesh "))
        ]
        return wider_sheets(items, rows, held)

    def bars_of(self, job: str) -> "Sequence[JobBar]":
        """None: no job is on file."""
        return ()

    def rack(
        self,
        section: Section,
        grade: Grade,
        held: "Sequence[JobBar]",
        jobs: Collection[str],
        saw: SawSettings,
    ) -> Sequence[RackBar]:
        """None: the rack is empty."""
        return ()

    def rack_costs(self, codes: Sequence[str]) -> Mapping[str, Decimal]:
        """None: the rack is empty."""
        return {}

    def invented_benders(self, names: Iterable[str | None]) -> tuple[str, ...]:
        """Of these benders those that the shop starts with."""
        wanted = set(names)
        return tuple(
            one.name for one in STARTING_BENDERS if one.name in wanted and one.note.startswith(INVENTED_WORD)
        )

    def like_customers(self, customer: "Customer", job: str) -> tuple[str, ...]:
        """None: no customer is on file."""
        return ()

    def lead_time(
        self,
        minutes: Iterable[MinutesLine],
        suppliers: "Iterable[Supplier]",
        locale: str,
        on: date,
        ahead: Sequence[Iterable[MinutesLine]],
    ) -> tuple[str, tuple[str, ...]]:
        """The shop's usual words: no open job says otherwise."""
        return ShopDetails().lead_time, ()

    @cached_property
    def _bars(self) -> tuple[_Bar, ...]:
        """Every bar on sale, the longest first, numbered as they would be put on file."""
        currency = self.shop.currency
        suppliers = {
            one.name: _Supplier(
                one.name, one.address, currency, one.delivery_charge, one.free_from, one.lead_days,
                one.cut_charge, one.certificate_kind,
            )
            for one in SUPPLIERS
        }  # fmt: skip
        bars = [
            _Bar(
                number, suppliers[bar.supplier], bar.section.key, bar.section.name(bar.unit), bar.grade.name,
                bar.length.length, bar.length.text, bar.bundle, bar.standard, bar.condition,
                tuple(_Price(price, bar.basis, from_kg, self.on) for from_kg, price in bar.prices),
            )
            for number, bar in enumerate(price_list(), 1)
        ]  # fmt: skip
        return tuple(sorted(bars, key=lambda bar: (-bar.length.nm, bar.supplier.name)))
