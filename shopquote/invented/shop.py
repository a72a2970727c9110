"""The shop that a new database starts with: its name, suppliers and price list, all invented.

Set-up stores it, marked as invented wherever it is shown. `price_list` is the entry point.
"""

from collections.abc import Iterator
from decimal import Decimal

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section, parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.buying.prices import Basis, price_for_basis
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.calc.units import Measure, Unit
from shopquote.invented.stocked_sections import stocked_sections

NAME = "Alder Lane Metalwork"
ADDRESS = "4 Alder Lane\nNether Tarn"
EMAIL = "office@alderlane.example"
NOTE = "invented: put your own suppliers and prices on file"


@dataclass(frozen=True)
class InventedSupplier:
    """A supplier; amounts are in the shop's currency, and `cut_charge` is None if it does not saw."""

    name: str
    address: str
    delivery_charge: Decimal
    free_from: Decimal
    lead_days: int
    cut_charge: Decimal | None
    certificate_kind: str


SUPPLIERS = (
    InventedSupplier(
        "Quillmoor Bar Yard (invented)", "Wharf Road\nQuillmoor", Decimal(35), Decimal(500), 3,
        Decimal("1.80"), "3.1",
    ),
    InventedSupplier(
        "Tarnside Section Supply (invented)", "Mill Bank\nNether Tarn", Decimal(18), Decimal(250), 2,
        None, "2.2",
    ),
    InventedSupplier(
        "Pottle Creek Bar Stock (invented)", "12 Depot Street\nPottle Creek", Decimal(45), Decimal(600), 4,
        Decimal("2.50"), "3.1",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class InventedBar:
    """A bar that an invented supplier sells; `breaks` are (from kg, factor on the price)."""

    supplier: str
    section: Section
    grade: Grade
    length: Measure
    unit: Unit
    basis: Basis
    breaks: tuple[tuple[Decimal, Decimal], ...]
    per_kg: Decimal
    bundle: int | None
    standard: str
    condition: str

    @property
    def prices(self) -> Iterator[tuple[Decimal, Decimal]]:
        """Each price step as (from kg, price on `basis`), rising in mass.

        Calculated when read: a caller that skips a bar pays nothing for its prices.
        """
        mass_kg = self.section.mass_per_m(self.grade.density_kg_m3) * self.length.length.mm_float / 1000
        mass = round(Decimal(repr(mass_kg)), 6)  # as stored, or price and stored mass would not agree
        for from_kg, cheaper in self.breaks:
            each = round_rate(self.per_kg * mass * cheaper)
            yield from_kg, round(price_for_basis(each, self.basis, self.length.length, mass), 2)


def price_list() -> Iterator[InventedBar]:
    """Every bar of every invented supplier, with its price."""
    for offer, section, grade in _offers():
        unit: Unit = "in" if "ft" in offer.length else "mm"
        measure = Measure.parse(offer.length, unit)
        per_kg = _PER_KG[grade.family] * _KIND_FACTOR[section.kind] * offer.factor
        yield InventedBar(
            supplier=offer.supplier,
            section=section,
            grade=grade,
            length=measure,
            unit=unit,
            basis=offer.basis,
            breaks=offer.breaks,
            per_kg=per_kg,
            bundle=offer.bundle,
            standard=section.form.standard if unit == "mm" and grade.family in _STEELS else "",
            condition=section.form.condition,
        )


# Price of a kilogram in 6 m bars by family of grades, in the shop's currency: invented.
_PER_KG = {
    "mild": Decimal("1.15"),
    "high-strength": Decimal("1.28"),
    "stainless": Decimal("4.60"),
    "aluminium": Decimal("5.40"),
    "alloy": Decimal("2.60"),
    "tool": Decimal("6.20"),
    "brass": Decimal("8.40"),
    "copper": Decimal("11.50"),
}
# Factor on the price for shapes dearer to roll or draw than round bar: invented.
_KIND_FACTOR = {
    "round": Decimal("1.00"),
    "square": Decimal("1.04"),
    "hex": Decimal("1.35"),
    "flat": Decimal("0.98"),
    "tube": Decimal("1.55"),
    "box": Decimal("1.45"),
    "angle": Decimal("1.02"),
    "half-round": Decimal("1.20"),
    "tee": Decimal("1.15"),
    "channel": Decimal("1.10"),
    "ribbed": Decimal("0.86"),
    "sheet": Decimal("1.05"),
    "mesh": Decimal("1.40"),
}
_SHORT_BAR_FACTOR = Decimal("1.12")
_BREAKS = ((Decimal(0), Decimal(1)), (Decimal(250), Decimal("0.95")), (Decimal(1000), Decimal("0.90")))


@dataclass(frozen=True)
class _Offer:
    """Bars of one length that an invented supplier sells, and the basis on which it states their price."""

    supplier: str
    length: str
    basis: Basis
    factor: Decimal
    breaks: tuple[tuple[Decimal, Decimal], ...] = ((Decimal(0), Decimal(1)),)
    bundle: int | None = None


_METRIC_OFFERS = (
    _Offer("Quillmoor Bar Yard (invented)", "6 m", "kg", Decimal(1), _BREAKS),
    _Offer("Quillmoor Bar Yard (invented)", "3 m", "kg", _SHORT_BAR_FACTOR),
    _Offer("Tarnside Section Supply (invented)", "6 m", "m", Decimal("1.03")),
)
_INCH_OFFERS = (
    _Offer("Pottle Creek Bar Stock (invented)", "20 ft", "cwt", Decimal(1), _BREAKS),
    _Offer("Pottle Creek Bar Stock (invented)", "10 ft", "bar", _SHORT_BAR_FACTOR),
    _Offer("Tarnside Section Supply (invented)", "20 ft", "ft", Decimal("1.04")),
)
# Strips guillotined from sheets 2.5 m long, whole sheets, and mesh.
_STRIP_OFFERS = (
    _Offer("Quillmoor Bar Yard (invented)", "2.5 m", "kg", Decimal("1.10"), _BREAKS),
    _Offer("Tarnside Section Supply (invented)", "2 m", "kg", Decimal("1.18")),
)
_STRIPS = (
    *(
        f"sheet {size}"
        for size in ("100 x 1.5", "100 x 2", "100 x 3", "200 x 3", "150 x 5", "150 x 6", "200 x 8")
    ),
    # Whole sheets, for widths that nobody sells as strip.
    *(f"sheet 1000 x {thickness}" for thickness in ("1.5", "2", "3", "5", "6", "8", "10")),
    *("sheet 200 x 10", "mesh 1000 x 25 x 25 x 3", "mesh 1000 x 50 x 50 x 4"),
)
# Sections of the grades that are stocked in few sizes.
_STAINLESS = ("round 8", "round 10", "round 12", "flat 25 x 5", "flat 40 x 5")
_HIGH_STRENGTH = ("round 12", "round 16", "round 20", "round 25", "flat 50 x 8", "flat 60 x 10")
_RIBBED = tuple(f"ribbed {size}" for size in (6, 8, 10, 12, 16, 20, 25))
_S235 = tuple(
    f"tube {size}"
    for size in (
        "21.3 x 2.6",
        "26.9 x 2.6",
        "33.7 x 2.6",
        "33.7 x 3.2",
        "42.4 x 2.6",
        "48.3 x 3.2",
        "60.3 x 3.2",
    )
)
_MACHINE = ("round 12", "round 16", "round 20", "round 30", "hex 17", "hex 19", "flat 30 x 20")
_OTHERS = (
    ("round 12", "O1 annealed"), ("round 20", "C360"), ("hex 19", "C360"), ("round 6", "C110 annealed"),
    ("round 10", "C110 annealed"),
)  # fmt: skip
_SPRING_WIRE = tuple(f"round {size}" for size in (2, 3, 4, 5, 6, 8))
_ALUMINIUM = ("round 10", "round 12", "round 16", "flat 40 x 6")


_STEELS = ("mild", "high-strength")


def _offers() -> Iterator[tuple[_Offer, Section, Grade]]:
    metric = [(section, "S275") for section in stocked_sections("mm")]
    metric += [(parse_section(text, "mm"), "S355") for text in _HIGH_STRENGTH]
    metric += [(parse_section(text, "mm"), "304") for text in _STAINLESS]
    metric += [(parse_section(text, "mm"), "6082-T6") for text in _ALUMINIUM]
    metric += [(parse_section(text, "mm"), "B500B") for text in _RIBBED]
    metric += [(parse_section(text, "mm"), "spring wire") for text in _SPRING_WIRE]
    metric += [(parse_section(text, "mm"), "S235") for text in _S235]
    metric += [(parse_section(text, "mm"), "C45") for text in _MACHINE]
    metric += [(parse_section(text, "mm"), grade) for text, grade in _OTHERS]
    strips = [(parse_section(text, "mm"), "S275") for text in _STRIPS]
    inch = [(section, "A36") for section in stocked_sections("in")]
    for offers, bars in ((_METRIC_OFFERS, metric), (_STRIP_OFFERS, strips), (_INCH_OFFERS, inch)):
        for section, grade in bars:
            for offer in offers:
                yield offer, section, STARTING_GRADES[grade]
