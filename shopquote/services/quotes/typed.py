"""Price a job while it is being typed on the page; nothing is stored.

The price is the one that `quote` would give for the same sets, because it is the same draft. Parts that did
not change since the last call are not worked out again. Begin at `price_typed`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from threading import Lock

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.pricing.document import QuoteDocument
from shopquote.calc.pricing.weld_checks import refuse_welds
from shopquote.calc.units import Unit
from shopquote.errors import CannotMakeError, Fault, InputError, ShopquoteError
from shopquote.reading.job_reader import FORMAT, read_job_tables
from shopquote.reading.kinds import Notation
from shopquote.records.jobs import Job, JobRevision
from shopquote.records.people import Customer
from shopquote.services.jobs.jobs import LoadedJob, find_job
from shopquote.services.quotes.draft import QuoteWishes
from shopquote.services.quotes.quote import draft_of
from shopquote.services.shop.customers_alike import like_customers
from shopquote.services.shop.shop_on_file import bending_shop, name_on_file, shop_notation

# Answers kept in memory: one for each state of a part at a pause of typing, most never asked for again.
MOST_KEPT = 4_000


@dataclass
class MadeBefore:
    """Cache of parts' answers, valid for one state of the shop's benders, grades and tests; thread-safe."""

    shop: BendingShop | None = None
    _kept: dict[tuple[PartSpec, Unit, bool], PartAnswer | ShopquoteError] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def answer(
        self, part: PartSpec, unit: Unit, shop: BendingShop, galvanised: bool
    ) -> PartAnswer | ShopquoteError:
        """The answer of a part, or the error why it cannot be made."""
        key = (part, unit, galvanised)
        with self._lock:
            # A changed bender or grade may change any answer; finding out which costs more than redoing all.
            if shop != self.shop or len(self._kept) > MOST_KEPT:
                self.shop = shop
                self._kept.clear()
            if key in self._kept:
                return self._kept[key]
        found: PartAnswer | ShopquoteError
        try:
            found = analyse_part(part, unit, shop, galvanised=galvanised)
        except (InputError, CannotMakeError) as error:
            found = error
        # Outside the lock, because it takes long: another thread may have put another shop in place
        # meanwhile.
        with self._lock:
            if shop == self.shop:
                self._kept[key] = found
        return found


@dataclass(frozen=True)
class TypedPart:
    """One row of parts: its spec if it can be read, and its answer or why it cannot be made."""

    place: int
    part: PartSpec | None
    answer: PartAnswer | None = None
    why_not: str = ""


@dataclass(frozen=True)
class TypedPrice:
    """What is typed, worked out as far as possible.

    `why_not` says why there is no price besides faults; `like` that the new customer may be one on file.
    """

    units: Unit
    parts: tuple[TypedPart, ...]
    faults: tuple[Fault, ...] = ()
    spec: JobSpec | None = None
    document: QuoteDocument | None = None
    why_not: str = ""
    like: tuple[str, ...] = ()


def price_typed(
    session: Session,
    tables: Mapping[str, object],
    made: MadeBefore,
    *,
    today: date,
    others: bool = True,
    revises: str = "",
) -> TypedPrice:
    """Work out the tables of a job, as the page or a file gives them.

    Args:
        session: reading is enough.
        tables: by the keys of a job file.
        made: cache of answers, kept from call to call.
        today: day of the prices.
        others: price the other quantities too; the quoted one is the same either way.
        revises: number of the job that this will revise: its bars are used, and its parts spliced by them.

    Raises:
        NotFoundError: no such job.
    """
    before = find_job(session, revises) if revises else None
    shop = bending_shop(session, before.number if before else None)
    notation = shop_notation(session)
    faults: tuple[Fault, ...] = ()
    spec = None
    try:
        spec = read_job_tables(tables, "", grades=shop.grades, notation=notation)
    except InputError as error:
        faults = error.faults or (Fault("", "", "", "", "", "", message=error.message),)
    units: Unit = spec.units if spec is not None else _units(tables)
    galvanised = spec.is_galvanised if spec is not None else False
    specs = list(spec.parts) if spec is not None else _each_alone(tables, shop, notation.within(units))
    parts = tuple(_worked(place, part, units, shop, galvanised, made) for place, part in enumerate(specs))
    if spec is None:
        return TypedPrice(units, parts, faults)
    answers = {part.answer.mark: part.answer for part in parts if part.answer is not None}
    # A part that cannot be made rules a price out; the other parts are still drawn.
    if len(answers) < len(parts):
        return TypedPrice(units, parts, faults, spec)
    loaded = _as_on_file(session, spec, before)
    like = like_customers(session, loaded.job.customer, "")
    try:
        refuse_welds(spec, answers)
        wishes = QuoteWishes() if others else QuoteWishes(breaks=())
        draft = draft_of(session, loaded, answers, today, wishes)
    except ShopquoteError as error:
        return TypedPrice(units, parts, faults, spec, why_not=error.message, like=like)
    return TypedPrice(units, parts, faults, spec, draft.document, like=like)


def _units(tables: Mapping[str, object]) -> Unit:
    job = tables.get("job")
    return "in" if isinstance(job, Mapping) and job.get("units") == "in" else "mm"


def _each_alone(tables: Mapping[str, object], shop: BendingShop, notation: Notation) -> list[PartSpec | None]:
    """Each row of parts read by itself, so that one row's mistake does not hide the other parts' drawings."""
    rows = tables.get("part")
    found: list[PartSpec | None] = []
    for row in rows if isinstance(rows, Sequence) else ():
        # The least that the reader asks of a job, so that only faults of the part can arise.
        job = {"title": "-", "customer": "-", "sets": 1, "units": notation.unit}
        try:
            one = {"format": FORMAT, "job": job, "part": [row]}
            alone = read_job_tables(one, "", grades=shop.grades, notation=notation)
            found.append(alone.parts[0])
        except InputError:
            found.append(None)  # reported with the faults of the whole job
    return found


def _worked(
    place: int, part: PartSpec | None, units: Unit, shop: BendingShop, galvanised: bool, made: MadeBefore
) -> TypedPart:
    if part is None:
        return TypedPart(place, None)
    found = made.answer(part, units, shop, galvanised)
    if isinstance(found, ShopquoteError):
        return TypedPart(place, part, why_not=found.message.removeprefix(f"Part {part.mark}: "))
    return TypedPart(place, part, found)


def _as_on_file(session: Session, spec: JobSpec, before: Job | None) -> LoadedJob:
    """The job as it would be on file, in no session; its customer is the one on file with this name, or a new
    one.

    `before`: the job that this would be a revision of.
    """
    known = name_on_file(session, Customer.name, spec.customer)
    customer = Customer(name=spec.customer, address="", email="", phone="", tax_exempt=False)
    if known is not None:
        customer = session.scalars(select(Customer).where(Customer.name == known)).one()
    number, state, revision = (before.number, before.state, before.revision) if before else ("", "asked", 1)
    job = Job(number=number, state=state, revision=revision)
    job.customer = customer
    return LoadedJob(job, JobRevision(revision=revision), replace(spec))
