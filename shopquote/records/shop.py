"""The shop itself: its details, pricing policy, taxes, saws and running numbers."""

from decimal import Decimal

from sqlalchemy import CheckConstraint, false
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.calc.bar.benders import PLANNING_IN, PLANNING_MM, SHARINGS, USUAL_ARC_GAP
from shopquote.calc.pricing.priced_quote import INWARDS_RULES, RACK_BASES
from shopquote.calc.units import Length
from shopquote.records.base import Base, Money, Number, at_least, one_of

MATERIAL_BASES = ("bought", "net")
PAPERS = ("A4", "Letter")
UNITS = ("mm", "in")
BEND_DATUMS = ("start", "finish", "middle")


class Shop(Base):
    """The one row that says who quotes, in which money and by which policy."""

    __tablename__ = "shop"
    __table_args__ = (
        CheckConstraint("id = 1", name="one_row"),
        CheckConstraint("margin_pct IS NULL OR markup_pct IS NULL", name="margin_or_markup"),
        one_of("units", UNITS),
        one_of("paper", PAPERS),
        one_of("material_basis", MATERIAL_BASES),
        one_of("rack_basis", RACK_BASES),
        one_of("inwards", INWARDS_RULES),
        at_least("quote_valid_days", 1),
        one_of("bend_datum", BEND_DATUMS),
        one_of("small_bends", SHARINGS),
        at_least("minimum_order", 0),
        at_least("rack_worth_pct", 0),
    )

    name: Mapped[str]
    address: Mapped[str] = mapped_column(default="")
    email: Mapped[str] = mapped_column(default="")
    phone: Mapped[str] = mapped_column(default="")
    tax_number: Mapped[str] = mapped_column(default="")
    currency: Mapped[str] = mapped_column(default="EUR")
    units: Mapped[str] = mapped_column(default="mm")
    locale: Mapped[str] = mapped_column(default="en_GB")
    paper: Mapped[str] = mapped_column(default="A4")
    logo_path: Mapped[str] = mapped_column(default="")
    # Where phones find the page, to be put into printed codes; empty: the code alone.
    page_address: Mapped[str] = mapped_column(default="", server_default="")
    quote_valid_days: Mapped[int] = mapped_column(default=21)
    lead_time: Mapped[str] = mapped_column(default="")
    terms: Mapped[str] = mapped_column(default="")
    # Days from an invoice to its due day; None: the shop does not say.
    payment_days: Mapped[int | None]
    deposit_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    included: Mapped[str] = mapped_column(default="")
    excluded: Mapped[str] = mapped_column(default="")
    delivery_term: Mapped[str] = mapped_column(default="")
    invented: Mapped[bool] = mapped_column(default=False)
    # Pricing policy. Of margin (on price) and markup (on cost) exactly one counts.
    margin_pct: Mapped[Number | None]
    markup_pct: Mapped[Number | None]
    overhead_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    # What is spent, to compare with what jobs carry; None: the shop does not say.
    overhead_per_month: Mapped[Money | None]
    contingency_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    scrap_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    minimum_order: Mapped[Money] = mapped_column(default=Decimal(0))
    material_basis: Mapped[str] = mapped_column(default="bought")
    net_share_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    credit_offcuts: Mapped[bool] = mapped_column(default=False)
    rack_charge_pct: Mapped[Number] = mapped_column(default=Decimal(100))
    rack_basis: Mapped[str] = mapped_column(default="today", server_default="today")
    # Of the price of that much new bar, for choosing between rack bars whose cost is not on file.
    rack_worth_pct: Mapped[Number] = mapped_column(default=Decimal(100), server_default="100000000")
    # Who bears deliveries and the rest of a bar; "usual": `usual_inwards` a job instead of the deliveries.
    inwards: Mapped[str] = mapped_column(default="whole", server_default="whole")
    usual_inwards: Mapped[Money] = mapped_column(default=Decimal(0), server_default="0")
    # None: the job's own margin or markup.
    bought_markup_pct: Mapped[Number | None]
    outside_markup_pct: Mapped[Number | None]
    learning: Mapped[str] = mapped_column(default="none")
    quote_lines: Mapped[str] = mapped_column(default="set")
    # What the bar room asks of the shop: where bends are measured from, the pull of an arm, losses.
    bend_datum: Mapped[str] = mapped_column(default="start")
    hand_pull_n: Mapped[Number] = mapped_column(default=Decimal(250))
    twist_loss_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    forge_loss_pct: Mapped[Number] = mapped_column(default=Decimal(0))
    arc_gap: Mapped[Length] = mapped_column(default=USUAL_ARC_GAP)
    small_bends: Mapped[str] = mapped_column(default=SHARINGS[0], server_default=SHARINGS[0])
    formers_along: Mapped[bool] = mapped_column(default=False, server_default=false())
    planning_mm: Mapped[Length] = mapped_column(default=PLANNING_MM)
    planning_in: Mapped[Length] = mapped_column(default=PLANNING_IN)
    # Of so many days of use a copy is kept, besides the first of each month for a year; 0: of none.
    backups_kept: Mapped[int] = mapped_column(default=14, server_default="14")


class TaxRow(Base):
    """A tax as the shop states it; `percent` of the rounded subtotal."""

    __tablename__ = "tax_rates"
    __table_args__ = (at_least("percent", 0),)

    name: Mapped[str] = mapped_column(unique=True)
    percent: Mapped[Number]
    is_default: Mapped[bool] = mapped_column(default=False)
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())


class Saw(Base):
    """A saw and what becomes of its leftovers."""

    __tablename__ = "saws"
    __table_args__ = (
        at_least("kerf", 0),
        at_least("trim", 0),
        at_least("grip", 0),
        at_least("keep_percent", 0),
    )

    name: Mapped[str] = mapped_column(unique=True)
    kerf: Mapped[Length]
    trim: Mapped[Length]
    grip: Mapped[Length]
    keep_min: Mapped[Length | None]
    keep_percent: Mapped[Number] = mapped_column(default=Decimal(0))
    nest_mitres: Mapped[bool] = mapped_column(default=False, server_default=false())
    is_default: Mapped[bool] = mapped_column(default=False)
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())


class Counter(Base):
    """The last running number given out under a letter, such as J for jobs."""

    __tablename__ = "counters"

    letter: Mapped[str] = mapped_column(unique=True)
    last: Mapped[int] = mapped_column(default=0)
