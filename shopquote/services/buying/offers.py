"""Suppliers' lists on a day, as offers that the supplier choice can weigh.

A supplier's prices are in its own currency; for weighing they are turned into
the shop's by the rate on file. Begin at `listed`. What is on file is read by
`offers_on_file`; this loads no table.
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
from shopquote.services.shop.values import section_of

if TYPE_CHECKING:
    from shopquote.records.materials import StockItem, StockPrice
    from shopquote.records.people import Supplier

# Kilograms: price steps are compared in whole grams, where no rounding decides on which side a mass lies.
GRAMS = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class ListedBar:
    """A bar on a supplier's list on a day. `prices` are (from kg, price, basis), rising; none: ask.

    `guessed_for`: the section of a size on nobody's list, for which this bar of another size stands;
    `guessed_grade`: the grade that it stands for, where that is another.
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
        """What its offer is called; without spaces."""
        guessed = "~".join(filter(None, (self.guessed_for, self.guessed_grade))).replace(" ", "_")
        return f"{self.item.id}{'~' + guessed if guessed else ''}"

    @property
    def length(self) -> Length:
        """Length of the bar."""
        return self.item.length

    def price_at(self, mass_kg: Decimal) -> tuple[Decimal, Basis] | None:
        """Price and basis that hold for this much of the item, in the supplier's currency."""
        found = None
        for from_kg, price, basis in self.prices:
            if mass_kg >= from_kg:
                found = (price, basis)
        return found

    def unit_price(self, mass_kg: Decimal) -> Decimal | None:
        """Price of one bar when this much is bought, in the supplier's currency, 4 decimals."""
        at = self.price_at(mass_kg)
        return None if at is None else bar_price(at[0], at[1], self.length, self.mass_kg)

    def offer(self) -> Offer | None:
        """As an offer in the shop's currency; None without a price."""
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
        # Nobody sells it so: a bundle or limit of the bar that it is like says nothing of it.
        if self.guessed_for:
            return Offer(self.code, self.supplier.name, kind, grams, steps)
        return Offer(
            self.code, self.supplier.name, kind, grams, steps,
            bundle=self.item.bundle or 1, limit=self.item.limit,
        )  # fmt: skip


def listed(items: "Iterable[StockItem]", section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """What suppliers list of a section and grade, as bars on a day."""
    return tuple(
        ListedBar(item, item.supplier, mass_of_bar(section, grade, item.length), *prices_on(item.prices, on))
        for item in items
    )


def guessed(items: "Iterable[StockItem]", section: Section, grade: Grade, on: date) -> tuple[ListedBar, ...]:
    """Bars that are on nobody's list: as the nearest bar is sold, priced by mass.

    Nearest: of the same shape, for a sheet costs another price than a tube; then of the same grade before
    another of its family; then by mass of a metre, of sheet by thickness. Empty where nobody names a price
    in the family. Common practice, no source.

    Args:
        items: all that suppliers sell in the family of the grade.
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
        # Of sheet it is the thickness that is priced: any width comes off a wider one.
        wide = section.form.by_width
        sizes = [one.thickness_mm if wide else one.area_mm2 for one in (other, section)]
        return other.kind != section.kind, key[1] != grade.name, abs(log(sizes[0] / sizes[1])), key

    # With the key at the end, so that two as near always give the same.
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
    # Only a grade that differs is part of the guess, and of the offer's name.
    other = "" if item.grade == grade.name else grade.name
    return ListedBar(
        item, item.supplier, mass_of_bar(section, grade, item.length), by_mass, valid_from, section.key, other
    )


def prices_on(
    prices: "Iterable[StockPrice]", on: date
) -> tuple[tuple[tuple[Decimal, Decimal, Basis], ...], date | None]:
    """The newest price list's steps that hold on a day; older lists are history."""
    held = [price for price in prices if price.valid_from <= on]
    if not held:
        return (), None
    newest = max(price.valid_from for price in held)
    steps = sorted(
        (price.break_kg, price.price, read_basis(price.basis)) for price in held if price.valid_from == newest
    )
    return tuple(steps), newest


def supplier_terms(
    suppliers: "Iterable[Supplier]", certificate: str | None = None
) -> tuple[SupplierTerms, ...]:
    """What suppliers charge besides the goods, in the shop's currency.

    `certificate`: the kind asked for in place of each one's own.
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
    """The kind that an order asks for: as said, else the supplier's own."""
    return supplier.certificate_kind if kind is None else kind


def certificate_charge(supplier: "Supplier", kind: str) -> Decimal:
    """What an order pays for a certificate of this kind, in the supplier's currency; nothing without one."""
    return supplier.certificate_charge if kind else Decimal(0)


def stale_price_notes(
    materials: Iterable[Material],
    listed: Mapping[str, Sequence[ListedBar]],
    on: date,
    *,
    old_after: Decimal,
    policy: PricingPolicy,
) -> tuple[str, ...]:
    """A line for each price that plans are charged at and that is old on a day; for the shop's own eyes.

    The price of the supplier and length that a plan buys is judged, not what others list.
    What is charged by the metre, net lengths and rack pieces, is so at the lowest price of a metre.

    Args:
        materials: the plans.
        listed: what suppliers list of each section and grade; a guessed price is never old.
        on: the day.
        old_after: days after which a price is old.
        policy: what is charged by the metre.
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
    """By section and grade: a plan, suppliers and lengths bought, whether the metre is charged."""
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
    """Price of a metre in the shop's currency at the smallest quantity."""
    _, price, basis = bar.prices[0]
    return bar_price(price, basis, bar.length, bar.mass_kg) * bar.supplier.exchange_rate / bar.length.mm


def _age(bar: ListedBar, on: date) -> int:
    """Days since the list that holds."""
    return 0 if bar.valid_from is None else (on - bar.valid_from).days


def _stale_words(material: Material, bar: ListedBar, on: date) -> str:
    name = f"{material.section.words} {material.grade.name}"
    length = bar.item.length_text or f"{bar.length.mm.normalize():f} mm"
    day = "" if bar.valid_from is None else f" ({bar.valid_from.isoformat()})"
    return (
        f"The price of {name}, bars of {length} from {bar.supplier.name}, is {_age(bar, on)} days old{day}: "
        "ask the supplier before the quote goes out."
    )
