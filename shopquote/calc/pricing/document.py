"""A quote as it is kept: all that printing it needs, once and for ever.

`QuoteDocument` holds copies of the shop's and customer's details, the words, prices,
minutes, costs and standards of the day. Nothing in it is worked out again when it is
printed, so that later changes of rates, prices or parts cannot reach it.
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
    """Words of the shop's on every quote. `logo` is the picture file, base64."""

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
    """One part as the customer sees it: what it is and its centreline, mm, with its twists (`PartAnswer`).

    `spirals`: each scroll's word, its radii, and what they are measured to.
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
    """What is done to and comes with one set beside its parts; bought items by count."""

    welds: tuple[str, ...] = ()
    bought: tuple[tuple[str, int], ...] = ()
    outside: tuple[str, ...] = ()
    finish: str = ""
    coats: int = 0
    fitted: bool = False


@dataclass(frozen=True, slots=True)
class MetrePrice:
    """The lowest price of a metre of one section and grade on the day: what bar from the rack is worth."""

    section_key: str
    grade: str
    price: Decimal


@dataclass(frozen=True, slots=True)
class QuoteDocument:
    """One revision of a quote, for the customer's sheet and the owner's.

    `standards`, `materials`, `metre_prices` and `offcut_credit_pct` are those of the day, so that a
    question such as "at another margin?" can be answered later from the same figures. `content` is None
    in quotes of an older program. `description`, `drawing` and `enquiry` are the job's; its notes, and
    those of parts and welds, are for the shop alone and never come here.
    `guessed` says which prices are on nobody's list, `invented` which are made up.
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
        """What people call it, such as "Q-0001 revision 2"."""
        return f"{self.number} revision {self.revision}" if self.number else f"{self.job}, not quoted yet"

    @property
    def tax_exempt(self) -> bool:
        """Whether the customer pays no tax."""
        return self.policy.tax_exempt

    @property
    def deposit(self) -> Decimal | None:
        """What is paid with the order, of the total; None where none is asked for."""
        percent = self.wording.deposit_pct
        return round_money(self.priced.total * percent / 100, self.priced.currency) if percent else None


# The cut plan is kept for questions, not for printing: an old one must not stand in the way of a quote.
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
