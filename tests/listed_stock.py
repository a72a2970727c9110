"""What suppliers list of a section and grade on a day, as bars that the cut planner may buy."""

from shopquote.calc.takeoff.cut_plan import StockBar
from shopquote.services.buying.offers_on_file import listed_bars


def stock_bars(session, section, grade, on):
    """The lengths on file, each at its price in the shop's currency at the smallest quantity."""
    return [
        StockBar(
            bar.length, offer.steps[0].price if (offer := bar.offer()) else None,
            bar.item.limit, bar.supplier.name, bar.item.tolerance,
        )
        for bar in listed_bars(session, section, grade, on)
    ]  # fmt: skip
