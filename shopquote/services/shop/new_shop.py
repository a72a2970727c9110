"""What a shop says of itself, and how a new one begins: policy and saws. Loads no table."""

from collections.abc import Mapping
from decimal import Decimal

from shopquote.calc.frozen import dataclass
from shopquote.calc.pricing import terms as usual
from shopquote.calc.units import Length, Unit, parse_length
from shopquote.invented import shop as invented

# Figures of a new shop's policy that are not those of an empty column: common practice, no source.
STARTING_POLICY: Mapping[str, Decimal] = {
    "overhead_pct": Decimal(10),
    "contingency_pct": Decimal(2),
    "scrap_pct": Decimal(1),
    "minimum_order": Decimal(60),
    "bought_markup_pct": Decimal(25),
    "outside_markup_pct": Decimal(15),
}


@dataclass(frozen=True)
class ShopDetails:
    """What a shop says of itself; the defaults are an invented shop's.

    `tax_percent` is the shop's own to state: rates change and differ by place.
    """

    name: str = invented.NAME
    address: str = invented.ADDRESS
    email: str = invented.EMAIL
    phone: str = ""
    tax_number: str = ""
    currency: str = "EUR"
    units: Unit = "mm"
    locale: str = "en_GB"
    paper: str = "A4"
    logo_path: str = ""
    tax_name: str = "VAT"
    tax_percent: Decimal = Decimal(20)
    margin_pct: Decimal = Decimal(30)
    deposit_pct: Decimal = Decimal(40)
    quote_valid_days: int = 21
    lead_time: str = usual.USUAL_LEAD_TIME
    terms: str = usual.USUAL_TERMS
    delivery_term: str = usual.USUAL_DELIVERY
    included: str = usual.USUALLY_INCLUDED
    excluded: str = usual.USUALLY_EXCLUDED

    @property
    def is_invented(self) -> bool:
        """Whether nobody has put a name of their own."""
        return self.name == ShopDetails.name


def starting_saws(unit: Unit) -> dict[str, dict[str, Length]]:
    """Kerf, trim, grip and least length kept of a new shop's saws, by name; the first is the usual one."""
    # Kerf, squaring cut and vise grip of small saws: common practice, no source.
    if unit == "in":
        bandsaw = ("1/16", "3/8", "2", "12")
        cold_saw = ("3/32", "3/8", "3", "12")
    else:
        bandsaw = ("1.6", "10", "50", "300")
        cold_saw = ("2.5", "10", "80", "300")
    names = ("kerf", "trim", "grip", "keep_min")
    return {
        name: {what: parse_length(text, unit) for what, text in zip(names, texts, strict=True)}
        for name, texts in (("band saw", bandsaw), ("cold saw", cold_saw))
    }
