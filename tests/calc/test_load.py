"""Finite loading: published schedules, and what holds for any shop."""

import random
from datetime import date, timedelta
from decimal import Decimal

from shopquote.calc.load import DaysOff, OpenWork, Person, load_shop

MONDAY = date(2026, 11, 30)
DAILY = (Decimal(8 * 60),) * 7


def day(number: int) -> date:
    """The day with a number, counted from 1."""
    return MONDAY + timedelta(number - 1)


def job(name: str, came: int, due: date | None = None, ready: date | None = None, **hours: float) -> OpenWork:
    minutes = {name.replace("_", "-"): Decimal(str(60 * value)) for name, value in hours.items()}
    return OpenWork(name, minutes, due, came, ready)


# D. Sianita, University of Kentucky, course notes on scheduling (uky.edu/~dsianita/300/schedule.html): five
# jobs at one place, days of work and day due; flow times, their sums and the days late.
FIVE = {"A": (20, 30), "B": (30, 50), "C": (10, 25), "D": (16, 80), "E": (18, 60)}
BY_DUE_DAY = {"C": 10, "A": 30, "B": 60, "E": 78, "D": 94}
LATE_BY_DUE_DAY = {"C": 0, "A": 0, "B": 10, "E": 18, "D": 14}
AS_THEY_CAME = {"A": 20, "B": 50, "C": 60, "D": 76, "E": 94}


def five_jobs(*, with_due: bool) -> list[OpenWork]:
    return [
        job(name, came, day(due) if with_due else None, welding=8 * days)
        for came, (name, (days, due)) in enumerate(FIVE.items())
    ]


def test_jobs_by_their_due_day_end_as_published():
    found = load_shop([Person("Ebba", DAILY)], (), five_jobs(with_due=True), on=MONDAY).jobs
    assert {one.work.job: (one.done - MONDAY).days + 1 for one in found} == BY_DUE_DAY
    assert [one.work.job for one in found] == list(BY_DUE_DAY)
    assert {one.work.job: one.days_late for one in found} == LATE_BY_DUE_DAY


def test_jobs_without_a_due_day_end_first_come_first_served_as_published():
    found = load_shop([Person("Ebba", DAILY)], (), five_jobs(with_due=False), on=MONDAY).jobs
    assert {one.work.job: (one.done - MONDAY).days + 1 for one in found} == AS_THEY_CAME


# A. Feinberg, course MSCI 306M, "Examples of Johnson's Rule for Scheduling Jobs Through Two Work Centers"
# (studylib.net/doc/25193611), example 1: hours at the first and the second, in the order B E D A C; the hour
# at which each leaves the two. The last leaves after 28 hours.
TWO_CENTRES = {"B": (3, 5), "E": (8, 6), "D": (7, 3), "A": (4, 2), "C": (5, 1)}
LEAVES = {"B": (3, 8), "E": (11, 17), "D": (18, 21), "A": (22, 24), "C": (27, 28)}


def test_jobs_through_two_work_centres_leave_them_as_published():
    # Of a day of one hour, the day on which an operation ends is the hour at which it does.
    hourly = (Decimal(60),) * 7
    people = [Person("first", hourly, ("sawing",)), Person("second", hourly, ("bending",))]
    works = [
        job(name, came, sawing=first, bending=second)
        for came, (name, (first, second)) in enumerate(TWO_CENTRES.items())
    ]
    both = load_shop(people, (), works, on=MONDAY).jobs
    sawn = load_shop(people, (), [job(w.job, w.came, sawing=TWO_CENTRES[w.job][0]) for w in works], on=MONDAY)
    for early, late in zip(sawn.jobs, both, strict=True):
        ends = ((early.done - MONDAY).days + 1, (late.done - MONDAY).days + 1)
        assert ends == LEAVES[late.work.job], late.work.job


def test_no_hours_are_taken_twice_nor_on_a_day_off_and_all_work_is_placed():
    dice = random.Random(5)
    week = (*(Decimal(480),) * 4, Decimal(360), Decimal(0), Decimal(0))
    people = [
        Person("Ebba", week),
        Person("Wyn", week, ("welding", "fit-up")),
        Person("Ola", week, ("sawing",)),
    ]
    off = [DaysOff(day(26), day(33)), DaysOff(day(3), day(5), "Wyn")]
    works = [
        job(f"J{i}", i, day(dice.randint(1, 60)) if dice.random() < 0.7 else None,
            **{name: dice.randint(0, 20) for name in ("sawing", "bending", "fit_up", "welding")})
        for i in range(40)
    ]  # fmt: skip
    found = load_shop(people, off, works, on=day(2))
    for one in found.weeks:
        assert 0 <= one.booked <= one.minutes
    booked = sum(one.booked for one in found.weeks)
    assert booked == sum(sum(work.minutes.values()) for work in works)
    # Tuesday to Friday, three people, less Wyn's Wednesday to Friday; then the week of Christmas: four days.
    assert found.weeks[0].minutes == 3 * (3 * 480 + 360) - (2 * 480 + 360)
    assert {one.name: one.minutes for one in found.weeks}["2026-W52"] == 3 * 4 * 480
    assert {one.name: one.minutes for one in found.weeks}["2026-W53"] == 0


def test_work_waits_for_its_bars_and_others_go_before_it():
    people = [Person("Ebba", DAILY)]
    works = [job("late bars", 1, day(9), day(4), sawing=8), job("other", 2, sawing=12)]
    first, second = load_shop(people, (), works, on=MONDAY).jobs
    assert (first.begins, first.done) == (day(4), day(4))
    assert (second.begins, second.done) == (day(1), day(2))


def test_work_that_nobody_does_is_told_and_not_placed():
    people = [Person("Ebba", DAILY, ("sawing",))]
    (found,) = load_shop(people, (), [job("J1", 1, sawing=2, welding=3)], on=MONDAY).jobs
    assert (found.begins, found.done, found.left_over) == (MONDAY, None, {"welding": Decimal(180)})
    assert load_shop([], (), [job("J1", 1, sawing=2)], on=MONDAY, weeks=2).weeks[1].free == 0
