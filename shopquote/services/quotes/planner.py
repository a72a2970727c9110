"""Bars that a job's quote buys, for any quantity, bought as `order` buys them. Begin at `Planner`."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, cast

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.frozen import dataclass
from shopquote.calc.money import round_rate
from shopquote.calc.pricing.material_costs import PricesPerMetre
from shopquote.calc.pricing.priced_quote import InwardCharge
from shopquote.calc.takeoff.cut_plan import Material, RackBar
from shopquote.calc.takeoff.takeoff import Item
from shopquote.calc.units import Unit
from shopquote.services.shop.books import Books

if TYPE_CHECKING:
    from shopquote.records.people import Supplier
    from shopquote.services.buying.purchase_ways import SectionMarket
    from shopquote.services.jobs.jobs import LoadedJob

ON_THE_RACK = "on the rack"


@dataclass(frozen=True, slots=True)
class PlannedMaterial:
    """Materials of one quantity, the suppliers' other charges, and notes on guessed prices and tight bars."""

    materials: tuple[Material, ...]
    charges: tuple[InwardCharge, ...]
    guessed: tuple[str, ...] = ()
    suppliers: "tuple[Supplier, ...]" = ()
    tight: tuple[str, ...] = ()


class Planner:
    """Plans buying and cutting of one job for any quantity; reads market and rack of each material once."""

    def __init__(
        self, books: Books, loaded: "LoadedJob", answers: Mapping[str, PartAnswer], today: date
    ) -> None:
        self._books, self._loaded, self._answers, self._today = books, loaded, answers, today
        self.number, self.unit = loaded.job.number, loaded.spec.units
        self.markets: dict[str, SectionMarket] = {}
        self.racks: dict[tuple[str, str], Sequence[RackBar]] = {}
        # A job that is still being typed has no number, and so no bars.
        held = books.bars_of(loaded.job.number)
        self.promised = [bar for bar in held if bar.state == ON_THE_RACK]
        self.saw = books.saw

    def plan(self, sets: int, work: int) -> PlannedMaterial:
        """Materials of so many sets; `work` limits all their cut plans together, see `Work`.

        Raises:
            CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
        """
        return plan_together(self._books, {self: sets}, self._today, work)

    def items(self, sets: int) -> list[Item]:
        """The parts of so many sets as the takeoff takes them."""
        spec, number = self._loaded.spec, self._loaded.job.number
        return [(self._answers[part.mark], part, part.per_set * sets, number) for part in spec.parts]

    @property
    def prices_per_metre(self) -> PricesPerMetre:
        """Lowest listed price per metre by (section key, grade), of the materials planned so far."""
        lowest: dict[tuple[str, str], Decimal] = {}
        for market in self.markets.values():
            for offer, _ in market.offers.values():
                key = (offer.kind.section, offer.kind.grade)
                # The first price step: the one of the smallest mass, at which one more metre would be bought.
                price = round_rate(offer.steps[0].price / offer.kind.length.mm * 1000)
                lowest[key] = min(price, lowest.get(key, price))
        return lowest


def plan_together(books: Books, sets: Mapping[Planner, int], today: date, work: int) -> PlannedMaterial:
    """Materials of so many sets of each planner's job, bought as one purchase.

    A single planner reuses the markets and racks that it read before.

    Raises:
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    # Imported here because they load the solver: a what-if or a reprinted quote plans nothing.
    from shopquote.services.buying.purchase import plan_purchase
    from shopquote.services.buying.purchase_materials import charges_of, materials_of
    from shopquote.services.buying.purchase_ways import Units
    from shopquote.services.buying.wanted import wanted_of

    planners = list(sets)
    first = planners[0]
    items = [item for planner, count in sets.items() for item in planner.items(count)]
    promised = [bar for planner in planners for bar in planner.promised]
    alone = len(planners) == 1
    numbers = [planner.number for planner in planners]
    # One job plans several quantities over the same racks and markets, which are read once and kept; for jobs
    # planned together they would not be the same.
    wanted = wanted_of(books, items, promised, numbers, first.saw, first.racks if alone else None)
    units = [planner.unit for planner in planners]
    purchase = plan_purchase(
        books, wanted, first.saw, on=today, units=Units.of(units, cast(Unit, books.shop.units)),
        markets=first.markets if alone else None, guess=True, work=work,
    )  # fmt: skip
    costs = books.rack_costs([pick.name for pick in purchase.picks])
    return PlannedMaterial(
        materials_of(purchase, wanted, first.saw, costs),
        charges_of(purchase),
        purchase.guesses,
        tuple(line.listed.supplier for line in purchase.lines),
        purchase.tight,
    )
