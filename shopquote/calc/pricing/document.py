"""A quote as stored: a snapshot of all that is printed on it.

`QuoteDocument` has copies of the shop's and customer's details, the wording, prices, minutes, costs and
standards of the day. Nothing is calculated again when it is printed, so that later changes of rates, prices
or parts do not change it.
"""

from datetime import date
from decimal import Decimal

from shopquote.calc.address import Address
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import Use
from shopquote.calc.money import round_money
from shopquote.calc.pricing.priced_quote import Estimate, InwardCharge, PricedQuote, PricingPolicy
from shopquote.calc.pricing.standards import Standard
from shopquote.calc.snapshot import Snapshot
from shopquote.calc.takeoff.cut_plan import Material
from shopquote.calc.units import Unit


@dataclass(frozen=True, slots=True)
class Wording:
    """The shop's wording on quotes. `logo` is the picture file in base64."""

    lead_time: str = ""
    terms: str = ""
    deposit_pct: Decimal = Decimal(0)
    included: str = ""
    excluded: str = ""
    delivery_term: str = ""
    locale: str = "en_GB"
    paper: str = "A4"
    logo: str = ""
    invented: bool = False


@dataclass(frozen=True, slots=True)
class PartPicture:
    """One part as the customer sees it: what it is, and its centre line as points in mm.

    `twists` are as in `PartAnswer`. `spirals` has for each scroll its word, its radii, and what they are
    measured to.
    """

    mark: str
    name: str
    per_set: int
    bar: str
    grade: str
    size: str
    depth_mm: float
    line_mm: tuple[tuple[float, float, float], ...] = ()
    holes: str = ""
    turned: int = 0
    threaded: int = 0
    twists: tuple[tuple[int, float], ...] = ()
    spirals: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class SetContent:
    """What one set has besides its parts: welds, bought items with their count, subcontract work, finish."""

    welds: tuple[str, ...] = ()
    bought: tuple[tuple[str, int], ...] = ()
    outside: tuple[str, ...] = ()
    finish: str = ""
    coats: int = 0
    fitted: bool = False


@dataclass(frozen=True, slots=True)
class MetrePrice:
    """The lowest price per metre of one section and grade on the day, by which rack bars are valued."""

    section_key: str
    grade: str
    price: Decimal


@dataclass(frozen=True, slots=True)
class QuoteDocument:
    """One revision of a quote, for the customer's sheet and the owner's.

    `standards`, `materials`, `metre_prices` and `offcut_credit_pct` are those of the day, so that a later
    what-if uses the same figures. `content` is None in quotes of older programs. `description`, `drawing` and
    `enquiry` are the job's. Notes of the job, its parts and welds are for the shop alone and are not copied
    here. `guessed` names prices that are on no supplier's list, `invented` those that are made up.
    """

    job: str
    job_revision: int
    title: str
    number: str
    revision: int
    issued_on: date
    valid_until: date
    units: Unit
    use: Use
    shop: Address
    customer: Address
    wording: Wording
    policy: PricingPolicy
    priced: PricedQuote
    estimate: Estimate
    standards: tuple[Standard, ...]
    parts: tuple[PartPicture, ...]
    cautions: tuple[str, ...]
    materials: tuple[Material, ...] = ()
    due: date | None = None
    metre_prices: tuple[MetrePrice, ...] = ()
    offcut_credit_pct: Decimal | None = None
    content: SetContent | None = None
    description: str = ""
    drawing: str = ""
    enquiry: str = ""
    charges: tuple[InwardCharge, ...] = ()
    guessed: tuple[str, ...] = ()
    invented: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Number and revision for people, such as "Q-0001 revision 2"."""
        return f"{self.number} revision {self.revision}" if self.number else f"{self.job}, not quoted yet"

    @property
    def tax_exempt(self) -> bool:
        """Whether the customer pays no tax."""
        return self.policy.tax_exempt

    @property
    def deposit(self) -> Decimal | None:
        """The deposit as an amount of the total; None where none is asked for."""
        percent = self.wording.deposit_pct
        return round_money(self.priced.total * percent / 100, self.priced.currency) if percent else None


# The cut plan serves what-ifs only. If an old one cannot be read, the quote is printed without it.
_QUOTE = Snapshot("quote", QuoteDocument, asides={"materials": []})


def document_text(document: QuoteDocument) -> str:
    """The document as JSON text."""
    return _QUOTE.text(document)


def document_from_text(text: str) -> QuoteDocument:
    """The document back from its JSON text, to the cent.

    Raises:
        InputError: the text is not a quote of a format that is known.
    """
    return _QUOTE.read(text)
