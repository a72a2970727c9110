"""What setting up stored and removed, in words or JSON."""

from collections.abc import Sequence

from shopquote.calc.pricing.standards import Standard
from shopquote.errors import counted
from shopquote.outputs.tables.show import print_facts, print_json
from shopquote.services.shop.invented_entries import Dropped
from shopquote.services.shop.new_shop import SetUp

# New rates named in one line; more are counted.
MOST_NAMED = 12


def show_set_up(database: str, result: SetUp, joined: Sequence[str] = (), *, as_json: bool) -> None:
    """Print what setting up stored."""
    shop = result.shop
    if as_json:
        print_json(
            {
                "database": database,
                "shop": shop.name,
                "new": not result.was_there,
                "invented": shop.invented,
                "currency": shop.currency,
                "units": shop.units,
                "stock_items": result.stock_items,
                "standards": result.standards,
                "grades": result.grades,
                "benders": result.benders,
                "joined": list(joined),
                "new_standards": [standard.name for standard in result.new_standards],
            }
        )
        return
    facts = [
        ("database", database),
        ("shop", f"{shop.name}{' (invented)' if shop.invented else ''}"),
        ("money, lengths, paper", f"{shop.currency}, {shop.units}, {shop.paper}"),
        ("on file", f"{result.grades} grades, {result.benders} benders, {result.standards} standards"),
        ("stock", f"{result.stock_items} bars"),
    ]
    print_facts(facts, "Shop details kept" if result.was_there else "Shop set up")
    for line in new_standard_lines(result.new_standards):
        print(line)
    if not result.was_there and result.stock_items:
        print(
            "\nThe price list, its suppliers and the rates are invented: put your own on file with\n"
            "shopquote stock import, shopquote suppliers import and shopquote rates set."
        )


def new_standard_lines(standards: Sequence[Standard]) -> list[str]:
    """A line naming standards that are new in this program and count at starting values; [] for none."""
    if not standards:
        return []
    told = [f"{one.name} {one.value.normalize():f} {one.unit}" for one in standards[:MOST_NAMED]]
    more = len(standards) - len(told)
    others = f" and {more} more" if more > 0 else ""
    return [
        f"New rates and times, counted at starting figures from now on, so that new quotes change: "
        f"{', '.join(told)}{others}; see: shopquote rates list, and put your own on file: shopquote rates set"
    ]


def print_joined(joined: Sequence[str]) -> None:
    """Print which double entries were joined, a line each."""
    for line in joined:
        print(f"  {line}")


def dropped_lines(dropped: Dropped) -> list[str]:
    """Lines about which invented entries were removed, and which stay."""
    counts = ((dropped.suppliers, "supplier"), (dropped.bars, "bar"), (dropped.benders, "bender"))
    supplier, bar, bender = (counted(*count) for count in counts)
    said = [f"Removed: {supplier}, {bar} and {bender}."]
    if dropped.kept:
        one = len(dropped.kept) == 1
        said.append(
            f"Orders name {', '.join(dropped.kept)}; {'it stays' if one else 'they stay'} on file, and "
            "nothing is ordered there."
        )
    return said


def show_dropped(dropped: Dropped, *, as_json: bool) -> None:
    """Print which invented entries were removed, and which suppliers stay because orders name them."""
    if as_json:
        print_json(
            {
                "suppliers": dropped.suppliers,
                "bars": dropped.bars,
                "benders": dropped.benders,
                "kept": list(dropped.kept),
            }
        )
        return
    for line in dropped_lines(dropped):
        print(line)
