"""What each of several jobs bears of bars bought together."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Share:
    """One job's stand-alone material cost, and its part of the joint cost."""

    owner: str
    alone: Decimal
    bears: Decimal

    @property
    def saving(self) -> Decimal:
        """What the job gains by being bought together."""
        return self.alone - self.bears


def share_cost(alone: Mapping[str, Decimal], together: Decimal, step: Decimal = CENT) -> tuple[Share, ...]:
    """Divide the joint cost in proportion to the stand-alone costs; the parts add up exactly.

    What is left over after rounding down goes, a step each, to the largest remainders.
    Where nothing costs anything alone, each job bears the same.

    >>> [str(share.bears) for share in share_cost({"J-1": Decimal(30), "J-2": Decimal(60)}, Decimal(80))]
    ['26.67', '53.33']
    """
    if not alone:
        return ()
    total = sum(alone.values(), start=Decimal(0))
    whole = together.quantize(step)
    parts = {
        owner: whole * (cost / total if total else Decimal(1) / len(alone)) for owner, cost in alone.items()
    }
    bears = {owner: part.quantize(step, ROUND_FLOOR) for owner, part in parts.items()}
    missing = int((whole - sum(bears.values(), start=Decimal(0))) / step)
    for owner in sorted(parts, key=lambda name: (bears[name] - parts[name], name))[:missing]:
        bears[owner] += step
    return tuple(Share(owner, cost, bears[owner]) for owner, cost in alone.items())
