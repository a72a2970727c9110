"""Cautions that a quote prints where the work can hurt someone; no load rating is ever given."""

from collections.abc import Iterable

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import JobSpec, Use

BY_USE: dict[Use, tuple[str, ...]] = {
    "general": (),
    "guarding": (
        "Guards, railings and stairs follow local building codes. Heights, gaps, fixings and strength were "
        "not checked by this quote; have them checked by a licensed professional before anything is made.",
    ),
    "structural": (
        "Strength was not checked. This quote covers length, mass, work and price only; members, welds and "
        "fixings need the design of a licensed engineer and follow the local code.",
    ),
    "lifting": (
        "Strength was not checked and no load rating is given or implied. Do not lift with this item until a "
        "qualified engineer has designed, tested and marked it and local rules on lifting gear are met.",
    ),
}

HOLLOW = (
    "Sealed hollow sections can burst when heated, welded or galvanised: vent and drain holes are needed and "
    "their place has to be agreed."
)


def quote_cautions(job: JobSpec, parts: Iterable[PartAnswer]) -> tuple[str, ...]:
    """Cautions for the customer's paper: by the use of the work, and for hollow bars in it.

    Source: common practice; lifting gear after ASME B30.20 and OSHA 1926.251 (marking), venting after
    galvanisers' public guidance.
    """
    hot = bool(job.welds) or job.is_galvanised
    hollow = any(answer.section.is_hollow for answer in parts)
    return BY_USE[job.use] + ((HOLLOW,) if hot and hollow else ())
