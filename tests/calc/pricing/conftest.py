"""Small jobs built by hand for the pricing tests: no bar room, no planner."""

from decimal import Decimal

import pytest

from shopquote.calc.bar.end_words import End
from shopquote.calc.bar.part_answer import BendAnswer, BendMark, PartAnswer
from shopquote.calc.bar.sections import parse_section
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.job import BoughtSpec, FinishSpec, HoleSpec, JobSpec, OutsideSpec, PartSpec, WeldSpec
from shopquote.calc.takeoff.cut_plan import BarCut, CutPlan, Material
from shopquote.calc.units import Length, Measure


def mm(value: float | str) -> Measure:
    return Measure(str(value), Length.from_mm(value))


def answer_of(
    part: PartSpec, length_mm: float, bends: tuple[tuple[float, float, bool], ...] = ()
) -> PartAnswer:
    """A part of a given length; `bends` are (angle, inside radius, turned before)."""
    section = parse_section(part.bar, "mm")
    grade = STARTING_GRADES[part.grade]
    length = Length.from_mm(length_mm)
    mark = BendMark(Length(0), Length(0), Length(0))
    return PartAnswer(
        mark=part.mark,
        section=section,
        grade=grade,
        developed=length,
        cut=length,
        ends=part.ends,
        bends=tuple(
            BendAnswer(
                angle, Length.from_mm(radius), mark, angle, "test", 10.0, 0.2, is_3d=turned, bender="bench"
            )
            for angle, radius, turned in bends
        ),
        mass_kg=length_mm / 1000 * section.mass_per_m(grade.density_kg_m3),
        area_m2=length_mm / 1000 * section.perimeter_mm / 1000,
        envelope_mm=(length_mm, 0.0, 0.0),
        end_cut_area_mm2=(section.area_mm2, section.area_mm2),
    )


def material_of(answer: PartAnswer, pieces: int, price: str = "7.50", stock_mm: int = 6000) -> Material:
    """All pieces of one part on as many equal bars as it takes."""
    per_bar = max(1, stock_mm // int(answer.cut.mm_float + 2))
    bars = -(-pieces // per_bar)
    stock = Length.from_mm(stock_mm)
    net = answer.cut * pieces
    pieces_in_bar = ((answer.mark, answer.cut, per_bar, ""),)
    cut = BarCut(stock, bars, pieces_in_bar, Length(0), Length(0), Length(0), False, price=Decimal(price))
    plan = CutPlan((cut,), Decimal(price) * bars, Decimal(price) * bars, True, 0.0, True)
    mass = bars * stock_mm / 1000 * answer.section.mass_per_m(answer.grade.density_kg_m3)
    zero = Length(0)
    return Material(
        answer.section, answer.grade, pieces, net, stock * bars, zero, zero, zero, zero, zero, mass, plan
    )


@pytest.fixture
def answered():
    """A function: the answer of a part of a given length, mm, and bends."""
    return answer_of


@pytest.fixture
def hook():
    """A bent hook of round 12: part, answer."""
    part = PartSpec("A", "hook", 2, "round 12", "S275", shape="leg 100; bend 90 r 24; leg 100")
    return part, answer_of(part, 210, ((90, 24, False),))


@pytest.fixture
def frame():
    """A welded frame of four marks' worth of work: job and answers."""
    rail = PartSpec("R", "rail", 2, "flat 40 x 6", "S275", length=mm(900), holes=(HoleSpec(mm(9), 3),))
    hoop = PartSpec(
        "H", "hoop", 4, "round 12", "S275", shape="leg 300; bend 90 r 24; leg 400; bend 90 r 24; leg 300",
        ends=(End("mitre", Decimal(45)), End()),
    )  # fmt: skip
    job = JobSpec(
        title="Frame", customer="Invented & Sons", sets=4, units="mm", parts=(rail, hoop),
        welds=(WeldSpec("fillet", mm(5), mm(40), 8, "MAG"), WeldSpec("tack", mm(3), mm(6), 4, "MAG")),
        bought=(BoughtSpec("M8 bolt", 6, Decimal("0.42")),),
        outside=(OutsideSpec("hot-dip galvanising", "kg", Decimal("1.90"), Decimal(60)),),
        finish=FinishSpec("paint", 2),
    )  # fmt: skip
    return job, {"R": answer_of(rail, 900), "H": answer_of(hoop, 950, ((90, 24, False), (90, 24, True)))}


@pytest.fixture
def plan():
    """A function: materials of a job's parts for so many sets, every bar at 7.50."""

    def planned(job: JobSpec, parts: dict[str, PartAnswer], sets: int) -> tuple[Material, ...]:
        return tuple(material_of(parts[part.mark], part.per_set * sets) for part in job.parts)

    return planned
