"""Parts to draw, worked out with the usual benders."""

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Measure, Unit
from shopquote.services.shop.starting import starting_shop


def part(
    shape: str | None, bar: str = "round 12", unit: Unit = "mm", **more: object
) -> tuple[PartSpec, PartAnswer]:
    """A part of this shape (or straight, `length` given) and its answer."""
    length = more.pop("length", None)
    measure = Measure.parse(str(length), unit) if length else None
    spec = PartSpec("A", "piece", 1, bar, "S275", shape=shape, length=measure, **more)  # type: ignore[arg-type]
    return spec, analyse_part(spec, unit, starting_shop())
