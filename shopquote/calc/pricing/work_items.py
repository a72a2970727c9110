"""Work counted in units of a standard, and what is used up: what the counters of each room hand over."""

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import PartSpec
from shopquote.calc.pricing.priced_quote import How, MinutesKind

Pairs = list[tuple[PartSpec, PartAnswer]]


@dataclass(frozen=True, slots=True)
class WorkItem:
    """Units of one standard: so many in every set, so many once in the job.

    `standard` is empty for minutes given by hand; `mark` names the part that needs them.
    """

    operation: str
    what: str
    standard: str
    kind: MinutesKind
    per_set: float = 0.0
    per_job: float = 0.0
    how: How = "times"
    mark: str = ""


@dataclass(frozen=True, slots=True)
class UsedUp:
    """A consumable: so much in every set, at the price of a standard."""

    text: str
    standard: str
    unit: str
    per_set: float


@dataclass(frozen=True, slots=True)
class JobWork:
    """All work of one job, with what the estimate needs to know of a set."""

    items: tuple[WorkItem, ...]
    used_up: tuple[UsedUp, ...]
    mass_kg: float
    area_m2: float
    notes: tuple[str, ...] = ()
