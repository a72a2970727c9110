"""What goes to the customer with the goods: marks, counts and masses, and no prices."""

from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from shopquote.calc.address import Address
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Unit
from shopquote.errors import InputError
from shopquote.services.jobs.jobs import load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.shop.on_file import address_of, bending_shop, shop_address, shop_unit, the_shop

HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class DeliveredLine:
    """Pieces of one mark, or a bought item, which has no mark and no known mass. Masses in kg."""

    mark: str
    what: str
    bar: str
    count: int
    each_kg: Decimal | None
    total_kg: Decimal | None


@dataclass(frozen=True, slots=True)
class DeliveryNote:
    """One delivery of a job: `sets` of its `ordered` sets."""

    job: str
    title: str
    day: date
    sets: int
    ordered: int
    shop: Address
    customer: Address
    enquiry: str
    finish: str
    units: Unit
    paper: str
    locale: str
    lines: tuple[DeliveredLine, ...]

    @property
    def mass_kg(self) -> Decimal:
        """Mass of all bars delivered; what was bought in is not weighed."""
        return sum((line.total_kg or Decimal(0) for line in self.lines), Decimal(0))


def delivery_note(session: Session, job_number: str, on: date, sets: int | None = None) -> DeliveryNote:
    """The note of a delivery of so many sets, else of all.

    Raises:
        NotFoundError: no such job.
        InputError: the job was not won, or has fewer sets.
    """
    loaded = load_job(session, job_number)
    spec, job, shop = loaded.spec, loaded.job, the_shop(session)
    if job.state in ("asked", "quoted", "lost", "dropped"):
        raise InputError(
            f"Job {job.number} is {job.state}: nothing is delivered.",
            hint=f"When the customer has ordered: shopquote quotes accepted {job.number}",
        )
    delivered = spec.sets if sets is None else sets
    if not 1 <= delivered <= spec.sets:
        raise InputError(f"{delivered} sets of {job.number} to deliver; expected 1 to {spec.sets}.")
    answers = work_out_parts(spec, bending_shop(session))
    lines = []
    for part in spec.parts:
        count = part.per_set * delivered
        each = Decimal(repr(answers[part.mark].mass_kg))
        total = (each * count).quantize(HUNDREDTH)
        bar = f"{part.bar} {part.grade}"
        lines.append(DeliveredLine(part.mark, part.name, bar, count, each.quantize(HUNDREDTH), total))
    lines += [DeliveredLine("", item.name, "", item.per_set * delivered, None, None) for item in spec.bought]
    return DeliveryNote(
        job.number, spec.title, on, delivered, spec.sets, shop_address(shop), address_of(job.customer),
        spec.enquiry, spec.finish.kind if spec.finish else "", shop_unit(session), shop.paper, shop.locale,
        tuple(lines),
    )  # fmt: skip
