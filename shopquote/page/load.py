"""The weeks ahead: hours that open jobs need against people's hours, and the day that can be promised."""

from flask import Blueprint, render_template, request, url_for
from markupsafe import Markup

from shopquote.calc.load import Week
from shopquote.outputs.table import Table
from shopquote.outputs.tables.load_tables import AHEAD, WEEKS
from shopquote.page.desk import desk
from shopquote.page.pictures import sawn_bar
from shopquote.services.quotes.load import HOURS_OF_WORK, USUAL_HOURS, USUAL_WEEKS, look_ahead
from shopquote.services.shop.shop_on_file import value_typed

rooms = Blueprint("load", __name__)
MOST_JOBS = 100


@rooms.get("/load")
def show() -> str:
    """Show the weeks, the jobs in the order they are done, and the first free day for the job asked about."""
    held = desk()
    job, hours = (request.args.get(name, "").strip() for name in ("job", "hours"))
    quoted = request.args.get("quoted") == "yes"
    with held.database.reading() as session:
        found = look_ahead(
            session,
            on=held.now().date(),
            job_number=job or None,
            hours=value_typed(session, "Hours", HOURS_OF_WORK, hours or None) or USUAL_HOURS,
            with_quoted=quoted,
        )
    longest = max((week.minutes for week in found.load.weeks), default=0)
    return render_template(
        "load.html", found=found, job=job, hours=hours, quoted=quoted,
        weeks=Table(WEEKS, found.load.weeks[:USUAL_WEEKS]), jobs=Table(AHEAD, found.jobs[:MOST_JOBS]),
        more=len(found.jobs[MOST_JOBS:]), picture=lambda week: week_picture(week, float(longest)),
        job_address=lambda one: url_for("quote.show", job=one.placed.work.job),
    )  # fmt: skip


def week_picture(week: Week, longest: float) -> Markup:
    """The hours of a week as a bar: what is booked, operation by operation, and what is free.

    The bar of the `longest` week fills the width.
    """
    # No labels in the picture: the column beside it names the operations.
    parts = [("", float(minutes), "") for minutes in week.by_operation.values()]
    free = max(float(week.free), 0.0)
    parts += [("", free, "back"), ("", max(longest - float(week.booked) - free, 0.0), "none")]
    told = f"{week.name}: {float(week.booked) / 60:.1f} h booked, {free / 60:.1f} h free"
    return sawn_bar([part for part in parts if part[1] > 0], told)
