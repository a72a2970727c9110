"""A quoted job of the invented shop, for the tests of its workbooks."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from shopquote.calc.bar.end_words import End
from shopquote.calc.job import (
    BoughtSpec,
    FinishSpec,
    HoleSpec,
    JobSpec,
    LabourSpec,
    OutsideSpec,
    PartSpec,
    WeldSpec,
)
from shopquote.calc.units import Measure


def mm(text):
    return Measure.parse(text, "mm")


JOB = JobSpec(
    title="=Bench & frame",
    customer="=Fellside Gardens",
    sets=4,
    units="mm",
    use="guarding",
    breaks=(1, 4, 12),
    parts=(
        PartSpec(
            "A", "+hoop", 2, "round 12", "S275",
            shape="leg 200; bend 90 r 30; leg 300; turn 90; bend 90 r 30; leg 200",
        ),
        PartSpec(
            "B", "rail", 2, "flat 40 x 6", "S275", length=mm("900"), ends=(End("mitre", Decimal(45)), End()),
            holes=(HoleSpec(mm("9"), 4), HoleSpec(mm("8"), 1, tapped=True)),
        ),
    ),
    welds=(WeldSpec("fillet", mm("5"), mm("40"), 8, "MAG"),),
    bought=(BoughtSpec("@M8 bolt", 6, Decimal("0.42")),),
    outside=(OutsideSpec("hot-dip galvanising", "kg", Decimal("1.90"), Decimal(60)),),
    labour=(LabourSpec("fit-up", Decimal(12), "set"), LabourSpec("delivery", Decimal(30), "job")),
    finish=FinishSpec("paint", 2),
)  # fmt: skip


@pytest.fixture
def quoted(shop):
    """A function: a quote of the job, with wishes, and the job or the shop changed before."""
    from shopquote.records.shop import Shop
    from shopquote.services.jobs.jobs import add_job
    from shopquote.services.quotes.draft import QuoteWishes
    from shopquote.services.quotes.quotes_on_file import make_quote

    def make(job=None, own_shop=None, **wishes):
        with shop.session() as session:
            for name, value in (own_shop or {}).items():
                setattr(session.get(Shop, 1), name, value)
            number = add_job(session, replace(JOB, **(job or {})), at=datetime(2026, 3, 3, tzinfo=UTC)).number
            return make_quote(session, number, date(2026, 3, 3), QuoteWishes(**wishes))

    return make
