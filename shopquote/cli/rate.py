"""`shopquote rates work-out`: what an hour must be charged at, with the working shown."""

from decimal import Decimal
from typing import Annotated

import typer

from shopquote.cli.options import JsonOption, typed_number


def work_out(
    wage: Annotated[
        Decimal, typer.Option(parser=typed_number, metavar="MONEY", help="Wage for one paid hour.")
    ],
    burden: Annotated[
        Decimal,
        typer.Option(parser=typed_number, metavar="PCT", help="Employer's taxes, insurance, holidays."),
    ] = Decimal(30),
    hours: Annotated[
        Decimal, typer.Option(parser=typed_number, metavar="H", help="Paid hours of one person in a year.")
    ] = Decimal(2080),
    productive: Annotated[
        Decimal, typer.Option(parser=typed_number, metavar="PCT", help="Share of them that goes into jobs.")
    ] = Decimal(75),
    overhead: Annotated[
        Decimal,
        typer.Option(parser=typed_number, metavar="MONEY", help="Rent, power, machines, office, a year."),
    ] = Decimal(0),
    people: Annotated[int, typer.Option(min=1, metavar="N", help="People who carry the overhead.")] = 1,
    as_json: JsonOption = False,
) -> None:
    """Work out a rate per hour from wage, burden, productive hours and overhead; store nothing."""
    from shopquote.calc.pricing.rates import burdened_rate
    from shopquote.outputs.tables.show import print_json

    found = burdened_rate(wage, burden, hours, productive, overhead_per_year=overhead, people=people)
    if as_json:
        parts = {"wage": found.wage_part, "overhead": found.overhead_part}
        print_json({"rate": found.rate, **parts, "steps": list(found.steps)})
        return
    for step in found.steps:
        print(step)
    print(f"Put it on file: shopquote rates set rate.welding {found.rate}")
    if overhead:
        print("It holds the overhead already: let the shop's overhead on labour be 0, or leave it out here.")
