"""How a job is charged for deliveries and for the unused rest of bars, by one of three house rules.

The three rules are common practice, no source. Begin at `inward_costs`.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from shopquote.calc.money import round_money, round_rate
from shopquote.calc.pricing.priced_quote import CostLine, InwardCharge, PricingPolicy
from shopquote.calc.takeoff.cut_plan import Material

# Shares are kept to the 6 decimals that are stored; rounded to whole per cent they would miss by cents.
SIXTH = Decimal("0.000001")

USUAL_CHARGE = "usual charge for deliveries"
TOGETHER = "bought together with other jobs"


def kept_value(material: Material) -> Decimal:
    """Cost of what is kept of the bars bought, whole bars included, in proportion to length."""
    bought = [bar for bar in material.plan.bars if bar.kept and not bar.rack_piece and bar.price is not None]
    return sum(
        (bar.count * (bar.price or Decimal(0)) * bar.offcut.mm / bar.stock.mm for bar in bought), Decimal(0)
    )


def inward_costs(
    materials: Sequence[Material], charges: Sequence[InwardCharge], policy: PricingPolicy
) -> tuple[list[CostLine], list[str]]:
    """Cost lines of deliveries by the house rule, and notes that name the rule and what it leaves out.

    Args:
        materials: as bought.
        charges: what suppliers charge besides the bars.
        policy: with the rule; see `PricingPolicy`.
    """
    paid = sum((charge.amount for charge in charges), Decimal(0))
    if policy.inwards == "usual":
        lines = [_inward(USUAL_CHARGE, Decimal(1), policy.usual_inwards, policy)]
        left = max(Decimal(0), paid - policy.usual_inwards)
        rule = "a usual charge for deliveries, bars charged to the job in full"
    elif policy.inwards == "share":
        bought = sum((_bought_value(material) for material in materials), Decimal(0))
        kept = sum((kept_value(material) for material in materials), Decimal(0))
        part = ((bought - kept) / bought).quantize(SIXTH, ROUND_HALF_UP) if bought else Decimal(1)
        lines = [_inward(charge.text, part, charge.amount, policy) for charge in charges]
        left = kept + paid - sum((line.amount for line in lines), Decimal(0))
        rule = "bars and deliveries by the share that is not kept for the rack"
    else:
        lines = [_inward(charge.text, Decimal(1), charge.amount, policy) for charge in charges]
        left, rule = Decimal(0), "bars and deliveries charged to the job in full"
    lines = [line for line in lines if line.amount]
    if not lines and not left:
        return lines, []
    out = f"{round_money(left, policy.currency)} is left out" if left else "nothing is left out"
    return lines, [f"House rule inwards: {rule}; {out}."]


def quoted_deliveries(costs: Sequence[CostLine], charges: Sequence[InwardCharge]) -> Decimal:
    """The amount that an estimate charges for deliveries."""
    texts = {USUAL_CHARGE, *(charge.text for charge in charges)}
    return sum(
        (line.amount for line in costs if line.category == "material" and line.text in texts), Decimal(0)
    )


def together_lines(saving: Decimal) -> list[CostLine]:
    """The cost line of what a job saves by buying together with other jobs; negative savings add cost."""
    return [CostLine("material", TOGETHER, Decimal(-1), "lot", saving, -saving)] if saving else []


def saved_together(costs: Sequence[CostLine]) -> Decimal:
    """The saving that an estimate has from buying together with other jobs."""
    return -sum((line.amount for line in costs if line.text == TOGETHER), Decimal(0))


def _inward(text: str, share: Decimal, amount: Decimal, policy: PricingPolicy) -> CostLine:
    charged = round_money(share * round_rate(amount), policy.currency)
    return CostLine("material", text, share, "lot", round_rate(amount), charged)


def _bought_value(material: Material) -> Decimal:
    return sum(
        (bar.count * (bar.price or Decimal(0)) for bar in material.plan.bars if not bar.rack_piece),
        Decimal(0),
    )
