"""The shop itself: its details, pricing policy, taxes, saws and running numbers."""

from decimal import Decimal

from sqlalchemy import CheckConstraint, false
from sqlalchemy.orm import Mapped, mapped_column

from shopquote.calc.bar.benders import DATUMS, SHARINGS
from shopquote.calc.pricing.priced_quote import INWARDS_RULES, MATERIAL_BASES, RACK_BASES
from shopquote.calc.pricing.terms import PAPERS
from shopquote.calc.units import UNITS, Length
from shopquote.records.base import Base, Money, Number, at_least, one_of


class Shop(Base):
    """The shop's details and pricing policy; the table has one row.

    `services.shop.setup.starting_shop_row` gives the values of a new shop.
    """

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
        one_of("bend_datum", DATUMS),
        one_of("small_bends", SHARINGS),
        at_least("minimum_order", 0),
        at_least("rack_worth_pct", 0),
    )

    name: Mapped[str]
    address: Mapped[str]
    email: Mapped[str]
    phone: Mapped[str]
    tax_number: Mapped[str]
    currency: Mapped[str]
    units: Mapped[str]
    locale: Mapped[str]
    paper: Mapped[str]
    logo_path: Mapped[str]
    # Address of the page for printed QR codes; "": a printed code holds the bare code.
    page_address: Mapped[str] = mapped_column(server_default="")
    quote_valid_days: Mapped[int]
    lead_time: Mapped[str]
    terms: Mapped[str]
    # Days from an invoice to its due day; None: no due day is printed.
    payment_days: Mapped[int | None]
    deposit_pct: Mapped[Number]
    included: Mapped[str]
    excluded: Mapped[str]
    delivery_term: Mapped[str]
    invented: Mapped[bool]
    # Pricing policy. Exactly one of margin (on price) and markup (on cost) is set.
    margin_pct: Mapped[Number | None]
    markup_pct: Mapped[Number | None]
    overhead_pct: Mapped[Number]
    # Real overhead, compared with the overhead that jobs were charged; None: not given.
    overhead_per_month: Mapped[Money | None]
    contingency_pct: Mapped[Number]
    scrap_pct: Mapped[Number]
    minimum_order: Mapped[Money]
    material_basis: Mapped[str]
    net_share_pct: Mapped[Number]
    credit_offcuts: Mapped[bool]
    rack_charge_pct: Mapped[Number]
    rack_basis: Mapped[str] = mapped_column(server_default="today")
    # For choosing between rack bars: the value of one without a cost on file, in per cent of the price of new
    # bar of its length.
    rack_worth_pct: Mapped[Number] = mapped_column(server_default="100000000")
    # How a job is charged for delivery and the unused rest of bars; "usual": `usual_inwards` per job for
    # delivery.
    inwards: Mapped[str] = mapped_column(server_default="whole")
    usual_inwards: Mapped[Money] = mapped_column(server_default="0")
    # Markups of bought items and subcontract work; None: the margin or markup of the job.
    bought_markup_pct: Mapped[Number | None]
    outside_markup_pct: Mapped[Number | None]
    learning: Mapped[str]
    quote_lines: Mapped[str]
    # Settings for bending: datum of bend marks, force of one person in N, losses in twisting and forging.
    bend_datum: Mapped[str]
    hand_pull_n: Mapped[Number]
    twist_loss_pct: Mapped[Number]
    forge_loss_pct: Mapped[Number]
    arc_gap: Mapped[Length]
    small_bends: Mapped[str] = mapped_column(server_default=SHARINGS[0])
    formers_along: Mapped[bool] = mapped_column(server_default=false())
    planning_mm: Mapped[Length]
    planning_in: Mapped[Length]
    # Daily backups kept, besides the first of each month for a year; 0: none.
    backups_kept: Mapped[int] = mapped_column(server_default="14")


class TaxRow(Base):
    """A tax, `percent` of the rounded subtotal of a quote."""

    __tablename__ = "tax_rates"
    __table_args__ = (at_least("percent", 0),)

    name: Mapped[str] = mapped_column(unique=True)
    percent: Mapped[Number]
    is_default: Mapped[bool] = mapped_column(default=False)
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())


class Saw(Base):
    """A saw: what it takes from a bar, and from which length its offcuts are kept."""

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
    """The last document number issued under a letter, such as J for jobs."""

    __tablename__ = "counters"

    letter: Mapped[str] = mapped_column(unique=True)
    last: Mapped[int] = mapped_column(default=0)
