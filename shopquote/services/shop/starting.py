"""The shop that parts are worked out with where no database exists: the starting lists.

A module of its own, so that a command without a database loads no tables.
"""

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.bar.starting_grades import STARTING_GRADES


def starting_shop() -> BendingShop:
    """A shop with the usual benders and grades that a new shop starts with."""
    return BendingShop(benders=STARTING_BENDERS, grades=STARTING_GRADES)
