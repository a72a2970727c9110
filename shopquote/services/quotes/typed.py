"""A job that is being typed: each part worked out, the whole priced, every mistake told; nothing is stored.

The price is the one that `quote` would give for the same sets, for it is the same draft. Parts that were
worked out before are not worked out again. Begin at `price_typed`.
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
from shopquote.services.quotes.quote import QuoteWishes, draft_of
from shopquote.services.shop.customers_alike import like_customers
from shopquote.services.shop.shop_on_file import bending_shop, name_on_file, shop_notation

# Parts as they stood at each pause of typing: some are never asked for again.
MOST_KEPT = 4_000


@dataclass
class MadeBefore:
    """Parts as they were worked out with one state of the shop's benders, grades and tests."""

    shop: BendingShop | None = None
    _kept: dict[tuple[PartSpec, Unit, bool], PartAnswer | ShopquoteError] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def answer(
        self, part: PartSpec, unit: Unit, shop: BendingShop, galvanised: bool
    ) -> PartAnswer | ShopquoteError:
        """What comes of a part: its answer, or why it cannot be made."""
        key = (part, unit, galvanised)
        with self._lock:
            # Another bender or grade changes every answer; telling which would cost more than working them
            # out.
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
        # Another thread may have begun with another shop meanwhile: its memory is not for this answer.
        with self._lock:
            if shop == self.shop:
                self._kept[key] = found
        return found


@dataclass(frozen=True)
class TypedPart:
    """One row of parts: as asked for where it can be read, and what came of it."""

    place: int
    part: PartSpec | None
    answer: PartAnswer | None = None
    why_not: str = ""


@dataclass(frozen=True)
class TypedPrice:
    """What is typed, worked out as far as it goes. `why_not` says why there is no price, faults aside,
    `like` that its new customer may be one on file."""

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
    """Work out the tables of a job as the page or a file gives them.

    Args:
        session: reading is enough.
        tables: by the keys of a job file.
        made: parts worked out before, kept from call to call.
        today: the day whose prices count.
        others: price the other quantities side by side too; the asked one is the same either way.
        revises: the job that it will be a revision of: the bars that it has are its own, and part its parts.

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
    # One part that cannot be made leaves no price; the others are drawn all the same.
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
    """Each row of parts read by itself, so that the mistake of one does not hide the others' drawings."""
    rows = tables.get("part")
    found: list[PartSpec | None] = []
    for row in rows if isinstance(rows, Sequence) else ():
        job = {"title": "-", "customer": "-", "sets": 1, "units": notation.unit}
        try:
            one = {"format": FORMAT, "job": job, "part": [row]}
            alone = read_job_tables(one, "", grades=shop.grades, notation=notation)
            found.append(alone.parts[0])
        except InputError:
            found.append(None)  # told with the mistakes of the whole
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
    """A job as it would be on file, with its customer where that one is; added to no session.

    `before`: the job that it would be a revision of.
    """
    known = name_on_file(session, Customer.name, spec.customer)
    customer = Customer(name=spec.customer, address="", email="", phone="", tax_exempt=False)
    if known is not None:
        customer = session.scalars(select(Customer).where(Customer.name == known)).one()
    number, state, revision = (before.number, before.state, before.revision) if before else ("", "asked", 1)
    job = Job(number=number, state=state, revision=revision)
    job.customer = customer
    return LoadedJob(job, JobRevision(revision=revision), replace(spec))
