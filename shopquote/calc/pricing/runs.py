"""Work that repeats: the jig or stop that a run gets, and the count from which it pays.

What is laid out, measured or fitted up piece by piece in a one-off falls to handling in a run: an aid is
made once, then each piece is laid in it. Begin at `with_aids`; an aid that the job names counts alike.
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
    """Something made once for a run. Names of standards: minutes to make it, more for each unit that it holds
    in a piece, and the handling that is left of `replaces`; an empty one is nothing.
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
    """The handling that is left of an item when an aid is there; None where nothing is left of it."""
    aid = AIDS.get(item.standard)
    return replace(item, standard=aid.handling, what=aid.handled) if aid else None


def with_aids(
    items: Iterable[WorkItem], job: JobSpec, book: StandardsBook, sets: int
) -> tuple[list[WorkItem], list[str]]:
    """The items with each aid that pays at so many sets, and a sentence for each that is assumed.

    Args:
        items: the work of the job, in sets.
        job: tells how often a part and an assembly repeat in a set.
        book: the shop's standards.
        sets: complete sets made.
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
    """Pieces from which an aid is made: it saves more minutes than it takes, and pieces are a run at all.

    None where it saves nothing.
    """
    saved = units * float(book.value(aid.replaces) - book.value(aid.handling))
    if saved <= 0:
        return None
    making = float(book.value(aid.making)) if aid.making else 0.0
    making += units * float(book.value(aid.making_each)) if aid.making_each else 0.0
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
