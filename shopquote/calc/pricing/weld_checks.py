"""Checks whether a weld can be made: its size against the metal, its length against the parts that it joins.

`weld_problems` gives what a person must decide about, `refuse_welds` refuses what cannot be welded. Strength
is not checked: the design remains the designer's responsibility.
"""

from collections.abc import Iterator, Mapping

from shopquote.calc.bar.part_answer import PartAnswer, Problem
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.welding import MINIMUM_FILLET_SOURCE, minimum_fillet_mm
from shopquote.calc.units import Length, show_length
from shopquote.errors import CannotMakeError

# Tolerance for inch sizes: 3/16 in (4.76 mm) counts as the 5 mm of the metric column, 5/16 in (7.94 mm) as 8
# mm.
SIZE_SLACK_MM = 0.25
# Greatest leg over thickness of metal; a larger fillet burns through. Common practice, no source.
MOST_LEG_PER_METAL = 3.0


@dataclass(frozen=True, slots=True)
class _Joined:
    """The parts on which a weld may lie, with their thinnest and thickest metal in mm."""

    parts: tuple[tuple[PartSpec, PartAnswer], ...]

    @property
    def thinnest(self) -> float:
        return min(answer.section.thickness_mm for _, answer in self.parts)

    @property
    def thickest(self) -> float:
        return max(answer.section.thickness_mm for _, answer in self.parts)


def _joined(job: JobSpec, answers: Mapping[str, PartAnswer], weld: WeldSpec) -> _Joined:
    marks = weld.joins or tuple(part.mark for part in job.parts)
    return _Joined(tuple((part, answers[part.mark]) for part in job.parts if part.mark in marks))


def weld_problems(job: JobSpec, answers: Mapping[str, PartAnswer]) -> Iterator[tuple[str, Problem]]:
    """Problems of welds that need a decision, each with the weld's name: leg too small or large, no parts."""
    for number, weld in enumerate(job.welds, start=1):
        for problem in _problems(job, _joined(job, answers, weld), weld):
            yield f"Weld {number}", problem


def _problems(job: JobSpec, joined: _Joined, weld: WeldSpec) -> Iterator[Problem]:
    if not joined.parts:
        return
    if weld.kind == "fillet":
        thin, leg = joined.thinnest, weld.leg.length.mm_float
        smallest = minimum_fillet_mm(thin)
        metal = show_length(Length.from_mm(thin), job.units, exact=True)
        if leg < smallest - SIZE_SLACK_MM:
            least = show_length(Length.from_mm(smallest), job.units)
            yield Problem(
                "weld-small",
                f"a fillet of {weld.size_words} is below {least}, the least usual for metal "
                f"{metal} thick ({MINIMUM_FILLET_SOURCE}); ask whoever answers for the design.",
            )
        elif leg > thin + SIZE_SLACK_MM:
            yield Problem(
                "weld-large",
                f"a fillet of {weld.size_words} is more than the thinner metal, {metal}, which it needs "
                f"not exceed ({MINIMUM_FILLET_SOURCE}); it costs heat and twists the work.",
            )
    pieces = sum(part.per_set for part, _ in joined.parts)
    bent = any(part.shape is not None for part, _ in joined.parts)
    if pieces == 1 and not bent and not job.bought:
        yield Problem("weld-joint", "the set has one straight piece there: nothing that it could join.")


def refuse_welds(job: JobSpec, answers: Mapping[str, PartAnswer]) -> None:
    """Refuse welds that cannot be made on these parts.

    Raises:
        CannotMakeError: names every such weld with its size and the limit.
    """
    told = [
        f"Weld {number}: {reason}"
        for number, weld in enumerate(job.welds, start=1)
        for reason in _impossible(job, _joined(job, answers, weld), weld)
    ]
    if told:
        raise CannotMakeError("\n".join(told), hint="Check leg, length and joins.")


def _impossible(job: JobSpec, joined: _Joined, weld: WeldSpec) -> Iterator[str]:
    if not joined.parts:
        return
    # A weld without `joins` may lie on the thickest parts of the job.
    metal = joined.thinnest if weld.joins else joined.thickest
    leg, length = weld.leg.length.mm_float, weld.length.length.mm_float
    if weld.kind in ("fillet", "tack") and leg > MOST_LEG_PER_METAL * metal + SIZE_SLACK_MM:
        shown = show_length(Length.from_mm(metal), job.units, exact=True)
        yield f"a {weld.kind} of {weld.size_words} cannot be laid on metal {shown} thick."
    # A groove is cut into one of the parts that it joins, so it is at most as deep as the thickest.
    if weld.kind == "groove" and leg > joined.thickest + SIZE_SLACK_MM:
        shown = show_length(Length.from_mm(joined.thickest), job.units, exact=True)
        yield f"a groove {weld.leg.text} deep cannot be cut in metal {shown} thick."
    sides = [max(answer.cut.mm_float, answer.section.perimeter_mm) for _, answer in joined.parts]
    room = min(sides) if weld.joins else max(sides)
    if weld.kind != "plug" and length > room + SIZE_SLACK_MM:
        shown = show_length(Length.from_mm(room), job.units)
        yield f"a bead of {weld.length.text} is longer than the part that it is on, {shown}."
