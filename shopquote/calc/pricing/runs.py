"""Jigs and stops for repeated work, and the number of pieces from which each pays.

Laying out, measuring and fitting up are done piece by piece in a one-off. For a run an aid is made once, and
each piece is only laid into it. Begin at `with_aids`; an aid that the job itself names works the same way.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from math import floor

from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec
from shopquote.calc.pricing.standards import StandardsBook
from shopquote.calc.pricing.work_items import WorkItem

LEAST_RUN = "run.least"


@dataclass(frozen=True, slots=True)
class Aid:
    """A jig or stop made once for a run.

    `replaces`, `making`, `making_each` and `handling` are names of standards: the work it replaces, the
    minutes to make it, further minutes for each unit that it holds in a piece, and the handling that is left;
    "" for none.
    """

    replaces: str
    name: str
    making: str
    making_each: str
    handling: str
    handled: str


AIDS = {
    aid.replaces: aid
    for aid in (
        Aid("drill.layout", "drill jig", "drill.jig", "drill.jig-hole", "drill.in-jig", "lay into the jig"),
        Aid("bend.mark", "bending stops", "", "bend.stop", "bend.at-stop", "push against a stop"),
        Aid("scroll.hit", "scroll former", "scroll.former", "", "scroll.wound", "wind on the scroll former"),
        Aid("coil.hit", "mandrel", "coil.set-up", "", "coil.wound", "wind on the mandrel"),
        Aid("weld.fit-up", "welding jig", "weld.jig", "weld.jig-joint", "weld.in-jig", "lay into the jig"),
    )
}  # fmt: skip


def handled(item: WorkItem) -> WorkItem | None:
    """What is left of an item's work where an aid replaces it: handling, or None for nothing."""
    aid = AIDS.get(item.standard)
    return replace(item, standard=aid.handling, what=aid.handled) if aid else None


def with_aids(
    items: Iterable[WorkItem], job: JobSpec, book: StandardsBook, sets: int
) -> tuple[list[WorkItem], list[str]]:
    """Replace work by aids where they pay at this quantity.

    Args:
        items: the work of the job.
        job: gives how often a part and an assembly repeat in a set.
        book: the shop's standards.
        sets: complete sets made.

    Returns:
        The items with aids, and a sentence for each aid that was assumed.
    """
    held = list(items)
    per_set = {part.mark: part.per_set for part in job.parts}
    units: dict[tuple[str, str], float] = defaultdict(float)
    for item in held:
        if item.standard in AIDS:
            units[item.standard, item.mark] += item.per_set
    made: list[WorkItem] = []
    notes: list[str] = []
    used: set[tuple[str, str]] = set()
    for (standard, mark), in_set in units.items():
        aid = AIDS[standard]
        # Work without a part's mark, such as fitting up, is done once for each assembly.
        repeats = per_set.get(mark, job.assemblies)
        pays = _pays_from(aid, in_set / repeats, book)
        if pays is None or repeats * sets < pays:
            continue
        used.add((standard, mark))
        like = next(item for item in held if item.standard == standard)
        making = _making(aid, mark, in_set / repeats, like)
        made += making
        minutes = sum(item.per_job * float(book.value(item.standard)) for item in making)
        notes.append(_note(aid, mark, minutes, pays))
    kept = [_in_aid(item, used) for item in held]
    return [*kept, *made], notes


def _in_aid(item: WorkItem, used: set[tuple[str, str]]) -> WorkItem:
    left = handled(item) if (item.standard, item.mark) in used else None
    return left or item


def _pays_from(aid: Aid, units: float, book: StandardsBook) -> int | None:
    """Number of pieces from which an aid saves more minutes than it takes, at least the least run.

    None where it never does.
    """
    saved = units * float(book.value(aid.replaces) - book.value(aid.handling))
    if saved <= 0:
        return None
    making = float(book.value(aid.making)) if aid.making else 0.0
    making += units * float(book.value(aid.making_each)) if aid.making_each else 0.0
    # One piece more than breaks even; below the least run pieces are marked one by one.
    return max(floor(making / saved) + 1, int(book.value(LEAST_RUN)))


def _making(aid: Aid, mark: str, units: float, like: WorkItem) -> list[WorkItem]:
    what = f"make {aid.name}"
    counts = {aid.making: 1.0, aid.making_each: units}
    return [
        WorkItem(like.operation, what, standard, "set-up", per_job=count, mark=mark)
        for standard, count in counts.items()
        if standard
    ]


def _note(aid: Aid, mark: str, minutes: float, pays: int) -> str:
    whose = f" for part {mark}" if mark else ""
    return f"Assumed: {aid.name}{whose} ({minutes:.0f} min to make, pays from {pays} pieces)."
