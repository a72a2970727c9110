"""What is said below a cut plan."""

from decimal import Decimal

from shopquote.calc.takeoff.cut_plan import CutPlan
from shopquote.outputs.tables.cut_tables import closing_lines


def test_how_far_a_plan_may_be_from_the_cheapest_is_never_told_too_small():
    plan = CutPlan((), Decimal("10"), Decimal("8.766"), proven=False, seconds=0.0, priced=True)
    assert (
        closing_lines(plan, "mm", "EUR")[-1] == "Cost: 10.00 EUR; at most 1.24 EUR from the cheapest possible"
    )


def test_the_bound_of_a_purchase_s_material_is_told_as_that_of_its_cuts_alone():
    plan = CutPlan((), Decimal("10"), Decimal("8.766"), proven=False, seconds=0.0, priced=True)
    told = closing_lines(plan, "mm", "EUR", of_purchase=True)[-1]
    assert told.startswith("Cost: 10.00 EUR without delivery; ") and told.endswith("at least 8.76 EUR")
    assert "cheapest" not in told
