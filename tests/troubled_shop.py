"""A shop whose true minutes are known and whose log is kept as people keep logs.

Drawn without a database: tables to learn from and quotes not yet made, judged on
what they truly cost. The troubles are those of small shops (common practice, no
source): operations that nobody logged, entries left out, minutes rounded to the
quarter of an hour, work logged under another operation of the job, two jobs set up
together, a slow and a fast person, timers that ran on, and a jig that halves
fit-up from the middle of the history on. Everything is repeatable by its seed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from shopquote.calc.pricing.standards import starting_book
from shopquote.calc.review.fit import WorkTable
from shopquote.calc.review.learning import learn
from shopquote.invented.history_truth import BY_HAND, DRIVERS

PEOPLE = ((0.85, 0.5), (1.20, 0.5))  # time that each takes over the truth, share of the work
SHOP, OPERATION, STANDARD = 0.20, 0.20, 0.25  # spreads of the truth about the standards, on a log scale
JOB, WORK, HOUR = 0.08, 0.12, 0.15  # spreads of one job, of one operation of it, of an hour of it
UNLOGGED, LEFT_OUT, WRONG, TOGETHER, RAN_ON = 0.10, 0.06, 0.05, 0.10, 0.015
ROUNDED = (0.0, 5.0, 15.0)
ON_LABOUR = 1.12  # overhead and what is spoilt
OPERATIONS = tuple(dict.fromkeys(operation for operation, *_ in DRIVERS))


def mean_of_ratios(table: WorkTable) -> npt.NDArray[np.float64]:
    """The short cut that learning replaces: every standard times the mean of logged over estimated."""
    estimated = table.counts @ table.now
    known = estimated > 0
    return np.asarray(table.now * float(np.mean(table.minutes[known] / estimated[known])))


@dataclass(frozen=True, slots=True)
class Quotes:
    """Quotes not yet made: counts and true minutes by operation, other costs, rate a minute."""

    counts: Mapping[str, np.ndarray]
    minutes: Mapping[str, np.ndarray]
    others: np.ndarray
    rates: Mapping[str, float]

    def true_costs(self) -> np.ndarray:
        """What each job costs on average, shape (jobs,)."""
        return self.others + self._labour(self.minutes)

    def costs(self, values: Mapping[str, np.ndarray]) -> np.ndarray:
        """What each would be quoted to cost with these minutes of the standards."""
        return self.others + self._labour({name: self.counts[name] @ values[name] for name in self.counts})

    def _labour(self, minutes: Mapping[str, np.ndarray]) -> np.ndarray:
        return sum(minutes[name] * self.rates[name] * ON_LABOUR for name in self.counts)  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Shop:
    """What was logged, by operation, and the quotes to come."""

    tables: tuple[WorkTable, ...]
    next: Quotes
    standards: Mapping[str, tuple[str, ...]]
    now: Mapping[str, np.ndarray]
    set_up: Mapping[str, float] = field(default_factory=dict)  # true minutes of each operation's set-up


def troubled_shop(
    jobs: int, seed: int, *, troubled: bool = True, change: bool = False, ahead: int = 150
) -> Shop:
    """A history of so many jobs and `ahead` quotes to come.

    Args:
        jobs: finished jobs.
        seed: of everything drawn.
        troubled: with the troubles; else a clean log.
        change: fit-up takes half the time from the middle of the history on.
        ahead: quotes to judge by.
    """
    random = np.random.default_rng(seed)
    book = starting_book()
    standards = {
        name: tuple(standard for operation, standard, *_ in DRIVERS if operation == name)
        for name in OPERATIONS
    }
    now = {
        name: np.array([float(book[word].value) if word != BY_HAND else 1.0 for word in words])
        for name, words in standards.items()
    }
    shop = random.normal(0.10, SHOP)
    truth = {}
    for name in OPERATIONS:
        operation = random.normal(0, OPERATION)
        truth[name] = now[name] * np.exp(shop + operation + random.normal(0, STANDARD, len(now[name])))
    past = [_counts(random) for _ in range(jobs)]
    later = [_counts(random) for _ in range(ahead)]
    counts = {name: _matrix(past, name) for name in OPERATIONS}
    halves = np.where(np.arange(jobs) >= jobs // 2, 0.5, 1.0) if change else np.ones(jobs)
    mean = sum(pace * share for pace, share in PEOPLE) if troubled else 1.0
    true = {name: counts[name] @ truth[name] for name in OPERATIONS}
    true["fit-up"] = true["fit-up"] * halves
    logged = _logged(random, true, counts, truth, troubled)
    names = [f"J-{place:04}" for place in range(jobs)]
    tables = tuple(
        WorkTable(
            name, standards[name], now[name], counts[name][rows], logged[name][rows],
            tuple(names[row] for row in rows),
        )
        for name in OPERATIONS
        if len(rows := np.flatnonzero((true[name] > 0) & (logged[name] > 0)))
    )  # fmt: skip
    ahead_counts = {name: _matrix(later, name) for name in OPERATIONS}
    ahead_minutes = {name: ahead_counts[name] @ truth[name] * mean for name in OPERATIONS}
    if change:
        ahead_minutes["fit-up"] = ahead_minutes["fit-up"] * 0.5
    others = np.array([counts["_others"] for counts in later])
    rates = {name: float(book.value(f"rate.{name}")) / 60 for name in OPERATIONS}
    return Shop(
        tables,
        Quotes(ahead_counts, ahead_minutes, others, rates),
        standards,
        now,
        {name: float(truth[name][0]) for name in OPERATIONS},
    )


def learned_values(shop: Shop) -> dict[str, np.ndarray]:
    """Minutes of all standards after taking what is worth taking."""
    values = {name: old.copy() for name, old in shop.now.items()}
    for item in learn(shop.tables).learned:
        if item.worth_it:
            values[item.operation][shop.standards[item.operation].index(item.standard)] = item.suggest
    return values


def told_over_true(shop: Shop, operation: str) -> float:
    """Minutes of one operation in the jobs to come by what was learned, over those that it truly takes."""
    told = np.sum(shop.next.counts[operation] @ learned_values(shop)[operation])
    return float(told / np.sum(shop.next.minutes[operation]))


def real_costs(shop: Shop, seed: int, *, troubled: bool = True) -> np.ndarray:
    """What each job to come really takes: with what a job, an operation, its hours and people lie off.

    Of the troubles those of the work, set-ups together and two paces, not those of the log.
    """
    random = np.random.default_rng([seed, 77])
    jobs = len(shop.next.others)
    common = random.lognormal(-(JOB**2) / 2, JOB, jobs)
    together = random.random(jobs) < (TOGETHER if troubled else 0)
    paces, shares = np.array(PEOPLE).T
    costs = shop.next.others.copy()
    for name, minutes in shop.next.minutes.items():
        spread = np.hypot(WORK, HOUR * np.sqrt(60 / np.maximum(minutes, 1e-9)))
        worked = minutes * common * random.lognormal(-(spread**2) / 2, spread)
        if troubled:
            set_up = shop.next.counts[name][:, 0] * shop.set_up[name]
            worked = np.where(together, np.maximum(worked - set_up, 0.1 * worked), worked)
            worked = worked * random.choice(paces, jobs, p=shares) / float(paces @ shares)
        costs = costs + np.where(minutes > 0, worked, 0.0) * shop.next.rates[name] * ON_LABOUR
    return costs


def told_costs(shop: Shop) -> tuple[np.ndarray, np.ndarray]:
    """Cost of each job to come and its standard deviation, as a quote tells them with what was learned."""
    book, lesson = starting_book(), learn(shop.tables)
    values = {name: old.copy() for name, old in shop.now.items()}
    spreads = {
        name: np.array([float(book[word].spread_pct) if word in book else 30.0 for word in words])
        for name, words in shop.standards.items()
    }
    for item in lesson.learned:
        if item.worth_it:
            place = shop.standards[item.operation].index(item.standard)
            values[item.operation][place] = item.suggest
            spreads[item.operation][place] = item.spread_pct
    variance, labour = np.zeros(len(shop.next.others)), np.zeros(len(shop.next.others))
    for name, own in spreads.items():
        driven = shop.next.counts[name] * values[name] * shop.next.rates[name] * ON_LABOUR
        variance += np.sum((driven * own / 100) ** 2, axis=1)
        labour += np.sum(driven, axis=1)
    return shop.next.costs(values), np.sqrt(variance + (labour * lesson.common) ** 2)


def ratio_values(shop: Shop) -> dict[str, np.ndarray]:
    """What a pencil does: every standard of an operation times all minutes logged over all expected."""
    values = dict(shop.now)
    for table in shop.tables:
        values[table.operation] = table.now * (np.sum(table.minutes) / np.sum(table.counts @ table.now))
    return values


def mean_error_pct(shop: Shop, values: Mapping[str, np.ndarray]) -> float:
    """Mean absolute error of the cost of the quotes to come, in per cent of the true one."""
    true = shop.next.true_costs()
    return float(100 * np.mean(np.abs(shop.next.costs(values) / true - 1)))


def _counts(random: np.random.Generator) -> dict[str, float]:
    """How much of everything is in one job, most of them small."""
    sets = int(random.choice([1, 1, 1, 2, 3, 4, 6, 10, 12, 25, 50]))
    parts = int(random.integers(1, 5))
    pieces = sets * int(random.integers(1, 5)) * parts
    bent = int(random.integers(0, parts + 1))
    bent_pieces = pieces * bent // parts
    bends = bent_pieces * int(random.integers(1, 5))
    joints = sets * int(random.integers(1, 9)) if random.random() < 0.6 else 0
    drilled = pieces if random.random() < 0.5 else 0
    metres = pieces * float(random.uniform(0.15, 1.2))
    painted = random.random() < 0.4
    weld = joints * float(random.uniform(0.03, 0.15))
    some = bool(bends)
    return {
        "one": 1, "sets": sets, "pieces": pieces, "lengths": parts, "bars": max(1, round(metres / 5.5)),
        "bent_parts": bent * some, "formers": min(bent, int(random.integers(1, 3))) * some,
        "bent_pieces": bent_pieces * some, "bends": bends,
        "right_angles": bends * float(random.choice([0.5, 1.0, 1.0, 1.5])), "welds": 1 if joints else 0,
        "joints": joints, "tacks": joints * 2, "weld_metres": weld, "dressed_metres": weld / 2,
        "jig_minutes": int(random.choice([5, 10, 10, 15, 20])) if joints else 0,
        "grinder_minutes": int(random.choice([3, 4, 5, 6])), "edges": pieces * 0.12,
        "drills": 1 if drilled else 0, "hole_sizes": int(random.integers(1, 3)) if drilled else 0,
        "drilled_pieces": drilled, "holes": drilled * int(random.integers(1, 4)),
        "painted": int(painted), "area": metres * 0.06 if painted else 0,
        "_others": 12 + metres * float(random.uniform(1.2, 4.0)),
    }  # fmt: skip


def _matrix(jobs: Sequence[Mapping[str, float]], operation: str) -> np.ndarray:
    drivers = [driver for name, _, _, driver in DRIVERS if name == operation]
    counts = np.array([[float(job[driver]) for driver in drivers] for job in jobs])
    if operation == "bending":
        counts[counts[:, drivers.index("bends")] == 0] = 0.0
    return counts


def _logged(
    random: np.random.Generator, true: Mapping[str, np.ndarray], counts: Mapping[str, np.ndarray],
    truth: Mapping[str, np.ndarray], troubled: bool,
) -> dict[str, np.ndarray]:  # fmt: skip
    """Minutes on the log, zero where nobody logged any."""
    jobs = len(next(iter(true.values())))
    common = random.lognormal(-(JOB**2) / 2, JOB, jobs)
    logged = {}
    paces, shares = np.array(PEOPLE).T
    together = random.random(jobs) < TOGETHER
    for name, minutes in true.items():
        spread = np.hypot(WORK, HOUR * np.sqrt(60 / np.maximum(minutes, 1e-9)))
        worked = minutes * common * random.lognormal(-(spread**2) / 2, spread)
        if troubled:
            set_up = counts[name][:, 0] * truth[name][0]
            worked = np.where(together, np.maximum(worked - set_up, 0.1 * worked), worked)
            worked = worked * random.choice(paces, jobs, p=shares)
            worked = np.where(random.random(jobs) < RAN_ON, worked + random.uniform(20, 240, jobs), worked)
            worked = np.where(random.random(jobs) < LEFT_OUT, worked * random.uniform(0.4, 0.9, jobs), worked)
        logged[name] = np.where(minutes > 0, worked, 0.0)
    return _written_down(random, logged, true) if troubled else logged


def _written_down(
    random: np.random.Generator, logged: dict[str, np.ndarray], true: Mapping[str, np.ndarray]
) -> dict[str, np.ndarray]:
    jobs = len(next(iter(logged.values())))
    names = list(logged)
    step = random.choice(ROUNDED, jobs)
    for name in names:
        held = logged[name]
        rounded = np.where(step > 0, np.maximum(np.round(held / np.maximum(step, 1)), 1) * step, held)
        logged[name] = np.where(held > 0, rounded, 0.0)
    for row in range(jobs):
        there = [name for name in names if true[name][row] > 0]
        for name in there:
            draw = random.random()
            if draw < UNLOGGED:
                logged[name][row] = 0.0
            elif draw < UNLOGGED + WRONG and len(there) > 1:
                other = there[int(random.integers(len(there)))]
                if other != name:
                    logged[other][row] += logged[name][row]
                    logged[name][row] = 0.0
    return logged
