"""Suppliers' lists on a day, as offers to choose from. Loads no table; `offers_on_file` reads them.

A supplier's prices are in its own currency; to compare offers they are converted by the exchange rate on
file. Begin at `listed`.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from math import log
from typing import TYPE_CHECKING

from shopquote.calc.bar.grades import Grade, mass_of_bar
from shopquote.calc.bar.sections import Section
from shopquote.calc.buying.buying_plan import BarKind, Offer, PriceStep, SupplierTerms
from shopquote.calc.buying.prices import Basis, bar_price, price_for_basis, read_basis
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.calc.pricing.priced_quote import PricingPolicy
from shopquote.calc.takeoff.cut_plan import Material
from shopquote.calc.units import Length
from shopquote.services.shop.values import prices_in_force, section_of

if TYPE_CHECKING:
    from shopquote.records.materials import StockItem, StockPrice
    from shopquote.records.people import Supplier

# Kilograms in a gram. Price steps are compared in whole grams: decimals could round to the wrong side of a
# step.
GRAMS = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class ListedBar:
    """A bar on a supplier's list on a day; `prices` are (from kg, price, basis) rising, empty for "ask".

    `guessed_for` is set if no supplier lists the size wanted and this nearest bar stands for it: that size's
    section key. `guessed_grade` is the grade wanted where it differs too.
    """

    item: "StockItem"
    supplier: "Supplier"
    mass_kg: Decimal
    prices: tuple[tuple[Decimal, Decimal, Basis], ...]
    valid_from: date | None
    guessed_for: str = ""
    guessed_grade: str = ""

    @property
    def code(self) -> str:
        """Name of its offer in the purchase problem, without spaces."""
        guessed = "~".join(filter(None, (self.guessed_for, self.guessed_grade))).replace(" ", "_")
        return f"{self.item.id}{'~' + guessed if guessed else ''}"

    @property
    def length(self) -> Length:
        """Length of the bar."""
        return self.item.length

    def price_at(self, mass_kg: Decimal) -> tuple[Decimal, Basis] | None:
        """Price and basis for this mass of the item, in the supplier's currency; None below all steps."""
        found = None
        for from_kg, price, basis in self.prices:
            if mass_kg >= from_kg:
                found = (price, basis)
        return found

    def unit_price(self, mass_kg: Decimal) -> Decimal | None:
        """Price of one bar at this mass bought, in the supplier's currency, 4 decimals; else None."""
        at = self.price_at(mass_kg)
        return None if at is None else bar_price(at[0], at[1], self.length, self.mass_kg)

    def offer(self) -> Offer | None:
        """The offer in the shop's currency; None without a price."""
        if not self.prices:
            return None
        rate = self.supplier.exchange_rate
        steps = tuple(
            PriceStep(
                int(from_kg / GRAMS), round_rate(bar_price(price, basis, self.length, self.mass_kg) * rate)
            )
            for from_kg, price, basis in self.prices
        )
        kind = BarKind(
            self.guessed_for or self.item.section_key, self.guessed_grade or self.item.grade, self.length
        )
        grams = max(1, round(self.mass_kg / GRAMS))
        # Bundle and limit belong to the bar that was listed, not to the size that it stands for.
        if self.guessed_for:
            return Offer(self.code, self.supplier.name, kind, grams, steps)
        return Offer(
            self.code, self.supplier.name, kind, grams, steps,
            bundle=self.item.bundle or 1, limit=self.item.limit,
        )  # fmt: skip


def listed(items: "Iterable[StockItem]", section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """Stock items of a section and grade as listed bars on a day."""
    return tuple(
        ListedBar(item, item.supplier, mass_of_bar(section, grade, item.length), *prices_on(item.prices, on))
        for item in items
    )


def guessed(items: "Iterable[StockItem]", section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """For a size that no supplier lists: bars of the nearest size listed, priced by mass.

    Nearest means of the same shape first (a sheet's price says little of a tube's), then of the same grade
    before others of its family, then by mass per metre (sheet: by thickness). Empty if no supplier has a
    price in the family. Common practice, no source.

    Args:
        items: all stock items in the family of the grade.
        section: the size that nobody lists.
        grade: its grade.
        on: the day.
    """
    by_key: dict[tuple[str, str], list[StockItem]] = {}
    for item in items:
        if prices_on(item.prices, on)[0]:
            by_key.setdefault((item.section_key, item.grade), []).append(item)
    if not by_key:
        return ()

    def distance(key: tuple[str, str]) -> tuple[bool, bool, float, tuple[str, str]]:
        other = section_of(key[0])
        # Strips of any width are cut from a wider sheet, so only the thickness decides its price.
        wide = section.form.by_width
        sizes = [one.thickness_mm if wide else one.area_mm2 for one in (other, section)]
        return other.kind != section.kind, key[1] != grade.name, abs(log(sizes[0] / sizes[1])), key

    # `distance` ends with the key: of equally near sizes always the same one is taken.
    nearest = min(by_key, key=distance)
    return tuple(_as_guessed(item, section, grade, on) for item in by_key[nearest])


def _as_guessed(item: "StockItem", section: Section, grade: Grade, on: date) -> ListedBar:
    prices, valid_from = prices_on(item.prices, on)
    mass = mass_of_bar(section_of(item.section_key), grade, item.length)
    kg: Basis = "kg"
    by_mass = tuple(
        (from_kg, price_for_basis(bar_price(price, basis, item.length, mass), "kg", item.length, mass), kg)
        for from_kg, price, basis in prices
    )
    # Empty where the grade is the one wanted: it then stays out of the offer's code.
    other = "" if item.grade == grade.name else grade.name
    return ListedBar(
        item, item.supplier, mass_of_bar(section, grade, item.length), by_mass, valid_from, section.key, other
    )


def prices_on(
    prices: "Iterable[StockPrice]", on: date
) -> tuple[tuple[tuple[Decimal, Decimal, Basis], ...], date | None]:
    """Steps of the newest price list not after `on`, as (from kg, price, basis), and its date."""
    held = prices_in_force(prices, on)
    steps = tuple((price.break_kg, price.price, read_basis(price.basis)) for price in held)
    return steps, held[0].valid_from if held else None


def supplier_terms(
    suppliers: "Iterable[Supplier]", certificate: str | None = None
) -> tuple[SupplierTerms, ...]:
    """Delivery and certificate charges of suppliers, in the shop's currency.

    `certificate`: kind asked for in place of each supplier's usual one.
    """
    return tuple(_terms(supplier, asked_certificate(supplier, certificate)) for supplier in suppliers)


def _terms(supplier: "Supplier", certificate: str) -> SupplierTerms:
    rate = supplier.exchange_rate
    return SupplierTerms(
        supplier.name,
        round_rate(supplier.delivery_charge * rate),
        None if supplier.free_from is None else round_rate(supplier.free_from * rate),
        round_rate(certificate_charge(supplier, certificate) * rate),
    )


def asked_certificate(supplier: "Supplier", kind: str | None) -> str:
    """The kind of certificate that an order asks for: `kind`, or the supplier's usual one if None."""
    return supplier.certificate_kind if kind is None else kind


def certificate_charge(supplier: "Supplier", kind: str) -> Decimal:
    """Charge for a certificate of this kind, in the supplier's currency; 0 where none is asked for."""
    return supplier.certificate_charge if kind else Decimal(0)


def stale_price_notes(
    materials: Iterable[Material],
    listed: Mapping[str, Sequence[ListedBar]],
    on: date,
    *,
    old_after: Decimal,
    policy: PricingPolicy,
) -> tuple[str, ...]:
    """A note for the shop on each old price that plans are charged at.

    For bars bought, the price of that supplier and length is judged. Net lengths and rack pieces are charged
    per metre at the lowest listed price, which is then judged.

    Args:
        materials: the plans.
        listed: listed bars by "section grade"; guessed ones are skipped.
        on: the day.
        old_after: age in days above which a price is old.
        policy: says what is charged per metre.
    """
    notes = []
    for (section, grade), (material, bought, by_metre) in _charged(materials, policy).items():
        priced = [bar for bar in listed[f"{section} {grade}"] if bar.prices and not bar.guessed_for]
        if by_metre and priced:
            lowest = min(priced, key=_metre_price)
            bought.add((lowest.supplier.name, lowest.length))
        notes += [
            _stale_words(material, bar, on)
            for bar in priced
            if (bar.supplier.name, bar.length) in bought and _age(bar, on) > old_after
        ]
    return tuple(notes)


_Charged = dict[tuple[str, str], tuple[Material, set[tuple[str, Length]], bool]]


def _charged(materials: Iterable[Material], policy: PricingPolicy) -> _Charged:
    """By (section key, grade): a material, the (supplier, length) pairs bought, and whether metres are
    charged.
    """
    charged: _Charged = {}
    for material in materials:
        key = (material.section.key, material.grade.name)
        first, bought, by_metre = charged.get(key, (material, set(), policy.material_basis == "net"))
        if policy.material_basis == "bought":
            bought.update((bar.supplier, bar.stock) for bar in material.plan.bars if bar.rack_piece is None)
            by_metre = by_metre or bool(material.rack and policy.rack_charge_pct)
        charged[key] = (first, bought, by_metre)
    return charged


def _metre_price(bar: ListedBar) -> Decimal:
    """Price per millimetre in the shop's currency at the smallest quantity, to compare listed bars."""
    _, price, basis = bar.prices[0]
    return bar_price(price, basis, bar.length, bar.mass_kg) * bar.supplier.exchange_rate / bar.length.mm


def _age(bar: ListedBar, on: date) -> int:
    """Days since the listed price became valid."""
    return 0 if bar.valid_from is None else (on - bar.valid_from).days


def _stale_words(material: Material, bar: ListedBar, on: date) -> str:
    name = f"{material.section.words} {material.grade.name}"
    length = bar.item.length_text or f"{bar.length.mm.normalize():f} mm"
    day = "" if bar.valid_from is None else f" ({bar.valid_from.isoformat()})"
    return (
        f"The price of {name}, bars of {length} from {bar.supplier.name}, is {_age(bar, on)} days old{day}: "
        "ask the supplier before the quote goes out."
    )
