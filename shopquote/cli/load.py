"""shopquote load: hours of open jobs week by week against people's hours, and the day to promise."""

from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, flag, option, print_json, reading
from shopquote.services.shop.clock import now

# Four years; nobody promises a day beyond.
MOST_WEEKS = 208


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("load")(load)


def load(
    weeks: Annotated[str | None, option("--weeks", "N", "Weeks to show; default 8.")] = None,
    job: Annotated[
        str | None, option("--for", "JOB", "The day that can be promised for a job on file.")
    ] = None,
    hours: Annotated[
        str | None, option("--hours", "H", "The same for a new job of H hours; default 8.")
    ] = None,
    quoted: Annotated[bool, flag("--quoted", "Count sent quotes as if all were won.")] = False,
    on: Annotated[str | None, option("--on", "DATE", "Count from this day instead of today.")] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Hours that open jobs need, week by week, against the hours of the people on file.

    Jobs are done by due day, then those without one, the lower number first. One person works at one
    operation of a job at a time, in the order of making, once bars on order have arrived.
    """
    from shopquote.errors import InputError
    from shopquote.outputs.tables.load_tables import load_json, print_load
    from shopquote.reading.kinds import count
    from shopquote.services.quotes.load import HOURS_OF_WORK, USUAL_HOURS, USUAL_WEEKS, look_ahead
    from shopquote.services.shop.shop_on_file import day_typed, value_typed

    if job is not None and hours is not None:
        raise InputError("--for asks about a job on file, --hours about a new one: give one of them.")
    with reading(db) as session:
        shown = value_typed(session, "--weeks", count(least=1, most=MOST_WEEKS), weeks) or USUAL_WEEKS
        found = look_ahead(
            session,
            on=day_typed(session, "--on", on, now().date(), ahead=True),
            weeks=shown,
            job_number=job,
            hours=value_typed(session, "--hours", HOURS_OF_WORK, hours) or USUAL_HOURS,
            with_quoted=quoted,
        )
    if as_json:
        print_json(load_json(found, shown))
    else:
        print_load(found, shown)
