"""A part worked out in one line, for the tests of the bar room."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from shopquote.calc.bar.benders import BendingShop
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Measure, Unit
from shopquote.services.shop.starting import starting_shop

WorkOut = Callable[..., PartAnswer]


@pytest.fixture(scope="session")
def bending_shop() -> BendingShop:
    """The starting shop before it had rolls and pins: curves are made by small bends."""
    shop = starting_shop()
    kept = [bender for bender in shop.benders if bender.rolls_to is None and "pins" not in bender.name]
    return replace(shop, benders=tuple(kept))


@pytest.fixture(scope="session")
def work_out(bending_shop: BendingShop) -> WorkOut:
    """work_out(bar, shape, unit="mm", grade="S275", shop=..., galvanised=..., **fields of PartSpec)."""

    def made(
        bar: str,
        shape: str | None = None,
        unit: Unit = "mm",
        grade: str = "S275",
        shop: BendingShop | None = None,
        length: str | None = None,
        galvanised: bool = False,
        **fields: Any,
    ) -> PartAnswer:
        measured = None if length is None else Measure.parse(length, unit)
        part = PartSpec("A", "part", 1, bar, grade, shape=shape, length=measured)
        return analyse_part(replace(part, **fields), unit, shop or bending_shop, galvanised=galvanised)

    return made
