"""Ways to give groups of pieces from one heat their heat: each is a problem of its own."""

from itertools import islice, product

from shopquote.calc.takeoff.cut_job import Job
from shopquote.calc.takeoff.sheet import Heats
from shopquote.errors import CannotMakeError

# More ways than this are not all tried; then there is no bound.
MOST_HEAT_CHOICES = 64


def heat_choices(job: Job) -> tuple[list[Heats], bool]:
    """Ways to give the one-heat groups their heats, and whether that is all the ways."""
    groups = sorted({size.group for size in job.order if size.group})
    sources = list(dict.fromkeys(bar.source for bar in job.bars))
    choices = (dict(zip(groups, choice, strict=True)) for choice in product(sources, repeat=len(groups)))
    holding = (heats for heats in choices if _heats_hold(job, heats))
    tried = list(islice(holding, MOST_HEAT_CHOICES))
    if not tried:
        raise CannotMakeError("No single heat on the rack or from one order line holds a one-heat group.")
    return tried, not groups or len(tried) < MOST_HEAT_CHOICES


def _heats_hold(job: Job, heats: Heats) -> bool:
    """Whether each group's longest piece and its total can lie in its heat's bars."""
    return all(_holds(job, group, source) for group, source in heats.items())


def _holds(job: Job, group: str, source: tuple[str, ...]) -> bool:
    mine = [bar for bar in job.bars if bar.source == source]
    wanted = [size for size in job.order if size.group == group]
    if max(size.alone for size in wanted) > max(bar.room(job.saw) for bar in mine):
        return False
    if any(bar.limit is None for bar in mine):
        return True
    widest = max(size.kerf for size in wanted)
    total = sum((bar.limit or 0) * (bar.room(job.saw) + widest) for bar in mine)
    return sum(size.room * job.demands[size] for size in wanted) <= total
