"""Whole jobs whose time somebody outside has printed, beside what we say of them.

`tests/calc/pricing/test_published_times.py` holds our shares of their times, `tests/bench/bench_outside.py`
prints them. All sources were read as public texts:

- by the tonne: a list of production rates ("framing and cladding"), small brackets of flat or angle 200 to
  250 h a tonne.
- by the piece: workshop fabrication production rates, whole of job: a cleat of flat cut and punched 3 to
  6 min, marked and tacked 5.5 to 7.5, beyond 400 mm 8 to 15, an extra mitre 6; Page, Estimator's Piping
  Man-Hour Manual: a hole to 3/4 in 0.20 h, fillet 0.04 h an inch. Work of heavy shops.
- a welder's diary ("The gate project - assembly line"): aluminium garden gates of 30 x 32 in, pieces bought
  cut to length; 3.5 h the first, 2.5 h the second, 4 h the last two, a slow worker by his own word: 600 min
  for 72 joints, 8.3 each.
- a workshop forum: a bench of 44 x 24 x 35 in, from the heap to the last weld in about 4 h, one of a kind,
  stock sought and measured up meanwhile: 240 min for 16 joints, 15 each.
- a railing maker's page: 400 ft of railing of flat bar with curves, four panels of 9 ft a week by one man:
  10 h a panel in a week of 40 h, which the page does not state.
- a former smith's post: fourteen dozen small hooks a day, singly, drilled and deburred: 2.9 min each in 8 h,
  not stated either.

`weld.long-piece` is a ratio of the rates by the piece; `weld.square` was set with gates, bench and railings
in sight, so these three prove no more than that one figure meets all of them. The gates' joints and the
uprights are ours by the size told.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shopquote.calc.bar.part import analyse_part
from shopquote.calc.job import OPERATIONS, HoleSpec, JobSpec, PartSpec, WeldSpec
from shopquote.calc.pricing.estimate import estimate_job
from shopquote.calc.pricing.priced_quote import PricingPolicy
from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.units import Length, Measure
from shopquote.reading.kinds import Notation
from shopquote.records.places import sample_jobs_folder
from shopquote.services.jobs.check import check_jobs
from shopquote.services.shop.starting import starting_shop
from tests.calc.pricing.conftest import material_of

IN_THE_SHOP = ("sawing", "bending", "drilling", "fit-up", "welding", "grinding")
JOINED = ("fit-up", "welding", "grinding")
UNJOINED = ("sawing", "bending", "drilling", "grinding")
UNBENT = ("sawing", "drilling", "fit-up", "welding", "grinding")


@dataclass(frozen=True)
class OutsideTime:
    """One job with a time from outside: its `minutes`, our `share` of them and `why` the two differ."""

    what: str
    job: Callable[[], JobSpec]
    counted: Sequence[str]
    minutes: Callable[[JobSpec], float]
    share: float
    why: str


def sample(name: str) -> Callable[[], JobSpec]:
    """A sample job of the project."""

    def read() -> JobSpec:
        (checked,) = check_jobs([sample_jobs_folder() / f"{name}.toml"], starting_shop(), Notation())
        return checked.spec

    return read


def mm(value: float) -> Measure:
    return Measure(str(value), Length.from_mm(value))


def inches(text: str) -> Measure:
    return Measure.parse(text, "in")


def gates() -> JobSpec:
    """A welder's gates: a frame of four and seven uprights of 20 mm aluminium box, eighteen joints."""
    upright = PartSpec("A", "upright", 9, "box 20 x 20 x 2", "6060-T66", length=mm(760))
    beads = (WeldSpec("fillet", mm(2), mm(20), 36, "TIG", joins=("A",), joints=18),)
    return JobSpec("Gates", "Somebody", 4, "mm", parts=(upright,), welds=beads)


def cleats() -> JobSpec:
    cleat = PartSpec("A", "cleat", 1, "flat 60 x 8", "S275", length=mm(100), holes=(HoleSpec(mm(14), 2),))
    return JobSpec("Cleats", "Somebody", 20, "mm", parts=(cleat,))


def bench() -> JobSpec:
    """A work bench of 44 x 24 x 35 in: legs of 1 in tube, rails of angle 2 x 2 x 1/8."""
    parts = (
        PartSpec("L", "leg", 4, "box 1 x 1 x 1/8", "A36", length=inches("35")),
        PartSpec("W", "long rail", 4, "angle 2 x 2 x 1/8", "A36", length=inches("44")),
        PartSpec("D", "short rail", 4, "angle 2 x 2 x 1/8", "A36", length=inches("24")),
    )
    beads = WeldSpec("fillet", inches("1/8"), inches("2"), 32, "MIG", joins=("L", "W"), joints=16)
    return JobSpec("Bench", "Somebody", 1, "in", parts=parts, welds=(beads,))


def mass_kg(job: JobSpec) -> float:
    return sum(part.per_set * analyse_part(part, job.units, starting_shop()).mass_kg for part in job.parts)


def by_the_tonne(job: JobSpec) -> float:
    """Minutes of brackets of small flat or angle, in the middle of 200 to 250 h a tonne."""
    return job.sets * mass_kg(job) / 1000 * 225 * 60


def by_the_piece(job: JobSpec) -> float:
    """Minutes of all pieces cut, holed, marked, tacked and welded by the rates for each; no bends."""
    each = 0.0
    for part in job.parts:
        long = analyse_part(part, job.units, starting_shop()).cut.mm_float > 400
        mitres = sum(1 for end in part.ends if end.mitre)
        holes = sum(hole.count for hole in part.holes)
        each += part.per_set * (4.5 + (12 if long else 6.5) + 6 * mitres + 0.20 * 60 * holes)
    each += sum(weld.count * weld.length.length.mm_float for weld in job.welds) / 25.4 * 0.04 * 60
    return job.sets * each


def by_the_joint(job: JobSpec) -> float:
    """Minutes in the middle of what the gates and the bench took for a welded joint, everything in."""
    joints = sum(weld.joints or weld.count for weld in job.welds if weld.kind != "tack")
    return job.sets * joints * (8.3 + 15) / 2


def hooks_on_plates(job: JobSpec) -> float:
    """Minutes of a plate with two holes by the piece and of a hook by the smith's day, for each set."""
    return job.sets * (4.5 + 480 / 168)


def printed(minutes: float) -> Callable[[JobSpec], float]:
    return lambda job: minutes


def our_minutes(row: OutsideTime) -> float:
    """What the starting standards say of the operations that the source counts."""
    job = row.job()
    parts = {part.mark: analyse_part(part, job.units, starting_shop()) for part in job.parts}
    plan = tuple(material_of(parts[part.mark], part.per_set * job.sets) for part in job.parts)
    estimate = estimate_job(job, parts, plan, starting_book(), PricingPolicy(), job.sets)
    return sum(float(line.minutes) for line in estimate.minutes if line.operation in row.counted)


def share_of(row: OutsideTime) -> float:
    return our_minutes(row) / row.minutes(row.job())


OUTSIDE_TIMES: tuple[OutsideTime, ...] = (
    OutsideTime(
        "a dozen shelf brackets, by the tonne", sample("shelf_brackets"), IN_THE_SHOP, by_the_tonne, 1.18,
        "a bracket of 1.3 kg is a small one and has five holes",
    ),
    OutsideTime(
        "two pairs of lifting hooks, by the tonne",
        sample("gate_lifting_hooks"), IN_THE_SHOP, by_the_tonne, 1.18,
        "set-ups of two bends each; ground by hand for 24 min, which the job says",
    ),
    OutsideTime(
        "two fire grates, by the tonne", sample("fire_grate"), IN_THE_SHOP, by_the_tonne, 1.16,
        "eighteen joints in 11 kg",
    ),
    OutsideTime(
        "a plant stand, by the joint", sample("plant_stand"), IN_THE_SHOP, by_the_joint, 0.97,
        "the middle of the 8.3 to 15 min of gates and bench; its slats are tacked on besides",
    ),
    OutsideTime(
        "200 coat hooks, before they are joined", sample("coat_hooks"), UNJOINED, hooks_on_plates, 0.82,
        "a plate by the piece and a hook by the smith's day; ours are bent cold at a stop, drilled in a jig",
    ),
    OutsideTime(
        "a pair of hand rails, by the panel", sample("stair_hand_rail"), OPERATIONS, printed(2 * 600), 0.82,
        "his week has drawing, buying and curves heated in it, ours a scroll and twisted bars",
    ),
    OutsideTime(
        "four garden gates, the first with them", gates, JOINED, printed(600), 1.09,
        "the sizes of his bars and the joints are guessed; end caps are not in ours",
    ),
    OutsideTime(
        "twenty cleats with two holes", cleats, OPERATIONS, printed(20 * 4.5), 1.12, "drilled, not punched",
    ),
    OutsideTime(
        "a work bench made once", bench, OPERATIONS, printed(240), 0.83,
        "seeking the stock and measuring up are in his time and count nothing in ours until the shop says",
    ),
    # What other printed figures say of the same jobs: they were made for other work and disagree.
    OutsideTime(
        "a plant stand, by the tonne", sample("plant_stand"), IN_THE_SHOP, by_the_tonne, 2.60,
        "29 pieces of 0.36 kg: light bar costs its joints, not its mass",
    ),
    OutsideTime(
        "a plant stand, by the piece", sample("plant_stand"), UNBENT, by_the_piece, 0.62,
        "heavy work: a sawn piece 4.5 min, a mitre 6, an inch of fillet 2.4 whatever its leg",
    ),
    OutsideTime(
        "a pair of hand rails, by the tonne", sample("stair_hand_rail"), IN_THE_SHOP, by_the_tonne, 0.64,
        "posts and rails of solid 25 mm bar are mass without joints",
    ),
    OutsideTime(
        "two fire grates, by the piece", sample("fire_grate"), UNBENT, by_the_piece, 0.63,
        "heavy work, as the stand",
    ),
)  # fmt: skip
