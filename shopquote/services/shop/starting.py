"""The shop to calculate with where no database is on file: the lists that setting up starts from.

Apart from `setup`, so that a command without a database loads no tables.
"""

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.starting_benders import STARTING_BENDERS
from shopquote.calc.bar.starting_grades import STARTING_GRADES


def starting_shop() -> BendingShop:
    """The invented benders and the usual grades, as a new shop has them."""
    return BendingShop(benders=STARTING_BENDERS, grades=STARTING_GRADES)
