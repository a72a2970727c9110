"""`shopquote rates work-out`: what an hour must be charged at, with the working shown."""

from typing import Annotated, Any

from shopquote.cli.options import JsonOption, option, print_json


def work_out(
    wage: Annotated[str, option("--wage", "MONEY", "Wage for one paid hour.")],
    burden: Annotated[str, option("--burden", "PCT", "Employer's taxes, insurance, holidays.")] = "30",
    hours: Annotated[str, option("--hours", "H", "Paid hours of one person in a year.")] = "2080",
    productive: Annotated[
        str, option("--productive", "PCT", "Share of these hours that goes into jobs.")
    ] = "75",
    overhead: Annotated[str, option("--overhead", "MONEY", "Rent, power, machines, office, a year.")] = "0",
    people: Annotated[str, option("--people", "N", "People who carry the overhead.")] = "1",
    as_json: JsonOption = False,
) -> None:
    """Work out a rate per hour from wage, burden, productive hours and overhead; store nothing."""
    from shopquote.calc.pricing.rates import burdened_rate
    from shopquote.reading import kinds

    # No shop is asked, so an ambiguous comma is refused with both readings.
    notation = kinds.Notation(currency=kinds.one_currency([wage, overhead]))

    def typed(option: str, kind: kinds.Kind[Any], text: str) -> Any:
        return kinds.read_typed(option, kind, text, notation)

    yearly = typed("--overhead", kinds.money(), overhead)
    found = burdened_rate(
        typed("--wage", kinds.money(), wage),
        typed("--burden", kinds.percent(), burden),
        typed("--hours", kinds.number(), hours),
        typed("--productive", kinds.percent(), productive),
        overhead_per_year=yearly,
        people=typed("--people", kinds.count(least=1), people),
    )
    if as_json:
        parts = {"wage": found.wage_part, "overhead": found.overhead_part}
        print_json({"rate": found.rate, **parts, "steps": list(found.steps)})
        return
    for step in found.steps:
        print(step)
    print(f"Put it on file: shopquote rates set rate.welding {found.rate}")
    if yearly:
        print("It includes the overhead: set the shop's overhead on labour to 0, or leave it out here.")
