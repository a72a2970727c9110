"""Jobs that the tests of log, close, review and floor sheets share."""

from datetime import UTC, date, datetime
from decimal import Decimal

from shopquote.calc.job import BoughtSpec, HoleSpec, JobSpec, OutsideSpec, PartSpec, WeldSpec
from shopquote.calc.units import Measure
from shopquote.services.jobs.jobs import add_job
from shopquote.services.quotes.quotes_on_file import make_quote

D = Decimal
TODAY = date(2026, 3, 9)
NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)


def mm(text):
    return Measure.parse(text, "mm")


def hoops(**changes):
    """Eight bent hoops and eight straight bars, welded, drilled, with bolts and galvanising."""
    content = dict(
        title="Garden hoops",
        customer="Tansy and Thorne",
        sets=4,
        units="mm",
        parts=(
            PartSpec(
                "A",
                "hoop",
                2,
                "round 12",
                "S275",
                shape="leg 300; bend 90 r 24; leg 600; bend 90 r 24; leg 300",
            ),
            PartSpec(
                "B", "rail", 2, "flat 40 x 8", "S275", length=mm("450"), holes=(HoleSpec(mm("6.5"), 2),)
            ),
        ),
        welds=(WeldSpec("fillet", mm("4"), mm("30"), 4, "MAG"),),
        bought=(BoughtSpec("M6 bolt", 4, D("0.25")),),
        outside=(OutsideSpec("hot-dip galvanising", "lot", D("80")),),
    )
    return JobSpec(**{**content, **changes})


def quoted_job(session, spec=None):
    """A job on file with a stored quote; its number."""
    number = add_job(session, spec or hoops(), at=NOW).number
    session.flush()
    make_quote(session, number, TODAY)
    return number
