"""What a job's material would cost for any quantity, bought as `order` buys it. Begin at `Planner`."""

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
    """Materials of one quantity, what suppliers charge besides, words for guessed prices and tight bars."""

    materials: tuple[Material, ...]
    charges: tuple[InwardCharge, ...]
    guessed: tuple[str, ...] = ()
    suppliers: "tuple[Supplier, ...]" = ()
    tight: tuple[str, ...] = ()


class Planner:
    """Plans the buying and cutting for any quantity; looks each section up once."""

    def __init__(
        self, books: Books, loaded: "LoadedJob", answers: Mapping[str, PartAnswer], today: date
    ) -> None:
        self._books, self._loaded, self._answers, self._today = books, loaded, answers, today
        self.number, self.unit = loaded.job.number, loaded.spec.units
        self.markets: dict[str, SectionMarket] = {}
        self.racks: dict[tuple[str, str], Sequence[RackBar]] = {}
        # A job that is only being typed has no number yet, and no bars.
        held = books.bars_of(loaded.job.number)
        self.promised = [bar for bar in held if bar.state == ON_THE_RACK]
        self.saw = books.saw

    def plan(self, sets: int, work: int) -> PlannedMaterial:
        """Materials of so many sets, with so much work (see `Work`) spent on all cut plans.

        Raises:
            CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
        """
        return plan_together(self._books, {self: sets}, self._today, work)

    def items(self, sets: int) -> list[Item]:
        """What so many sets take, as the takeoff takes it."""
        spec, number = self._loaded.spec, self._loaded.job.number
        return [(self._answers[part.mark], part, part.per_set * sets, number) for part in spec.parts]

    @property
    def prices_per_metre(self) -> PricesPerMetre:
        """The lowest price of a metre of each section and grade that was asked for."""
        lowest: dict[tuple[str, str], Decimal] = {}
        for market in self.markets.values():
            for offer, _ in market.offers.values():
                key = (offer.kind.section, offer.kind.grade)
                price = round_rate(offer.steps[0].price / offer.kind.length.mm * 1000)
                lowest[key] = min(price, lowest.get(key, price))
        return lowest


def plan_together(books: Books, sets: Mapping[Planner, int], today: date, work: int) -> PlannedMaterial:
    """Materials of so many sets of each planner's job, bought as one purchase.

    Raises:
        CannotMakeError: nobody sells what is needed, or a piece is longer than any bar.
    """
    # Only here, for they bring the solver: a what-if and a quote printed again plan nothing.
    from shopquote.services.buying.bought import charges_of, materials_of
    from shopquote.services.buying.purchase import plan_purchase
    from shopquote.services.buying.purchase_ways import Units
    from shopquote.services.buying.wanted import wanted_of

    planners = list(sets)
    first = planners[0]
    items = [item for planner, count in sets.items() for item in planner.items(count)]
    promised = [bar for planner in planners for bar in planner.promised]
    alone = len(planners) == 1
    numbers = [planner.number for planner in planners]
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
