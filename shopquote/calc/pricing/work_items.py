"""Values of the work content: work in units of a standard, and consumables."""

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import PartSpec
from shopquote.calc.pricing.priced_quote import How, MinutesKind

Pairs = list[tuple[PartSpec, PartAnswer]]


@dataclass(frozen=True, slots=True)
class WorkItem:
    """Units of one standard: `per_set` in every set, and `per_job` once in the job.

    `standard` is "" for minutes given by hand. `mark` names the part that they are for, "" for none.
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
    """A consumable: `per_set` units in every set, each at the price of `standard`."""

    text: str
    standard: str
    unit: str
    per_set: float


@dataclass(frozen=True, slots=True)
class JobWork:
    """All work of one job, with mass (kg) and surface (m2) of one set."""

    items: tuple[WorkItem, ...]
    used_up: tuple[UsedUp, ...]
    mass_kg: float
    area_m2: float
    notes: tuple[str, ...] = ()
