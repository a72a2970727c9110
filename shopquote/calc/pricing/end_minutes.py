"""Work on ends of pieces by lathe, die and file, in units of their size; forged ends count as heats."""

from collections import Counter
from collections.abc import Iterator
from math import ceil, pi

from shopquote.calc.bar.end_words import End, EndForm, EndWord
from shopquote.calc.bar.end_work import point_stock_mm, work_by_form
from shopquote.calc.bar.part import STOCK_SIZES_PER_HEAT
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.threads import find_thread
from shopquote.calc.job import EndWork, PartSpec
from shopquote.calc.pricing.priced_quote import How
from shopquote.calc.pricing.work_items import Pairs, WorkItem

# Ends that a job may give by number alone, with the word of the end's form, the stem of its standards.
_COUNTED: tuple[tuple[EndWork, EndWord], ...] = (("turned", "turn"), ("threaded", "thread"))
# Heats that one end takes; for a point they depend on the bar's size. Common practice, no source.
_HEATS = {"tenon": 1, "flatten": 1, "spread": 1, "head": 2, "fishtail": 2}
# Work that grows with the end's size, besides its handling: what is done, standard, how it is applied.
_METAL: dict[str, tuple[str, str, How]] = {
    "turn": ("turn metal off", "turn.metal", "over"),
    "thread": ("cut the thread", "thread.surface", "times"),
}
_BY_HAND = {"chamfer": "chamfer", "round": "round", "saddle": "saddle"}


def end_minutes(pairs: Pairs) -> Iterator[WorkItem]:
    """The work on the ends of all parts that is not forging."""
    yield from _turned_and_threaded(pairs)
    yield from _pressed_flat(pairs)
    for part, _ in pairs:
        words = Counter(form.word for end in part.ends for form in end.forms if form.word in _BY_HAND)
        for word, count in sorted(words.items()):
            done = _BY_HAND[word]
            yield WorkItem(
                "grinding", f"{done} an end", f"{done}.end", "run", part.per_set * count, mark=part.mark
            )


def _turned_and_threaded(pairs: Pairs) -> Iterator[WorkItem]:
    """Lathe and die: a set-up for each size in the job, handling per end, and cutting by size."""
    for work, stem in _COUNTED:
        sizes = {size for part, answer in pairs for size in _sizes(work, part, answer)}
        if sizes:
            what = f"set up to {stem} a bar size"
            yield WorkItem("turning", what, f"{stem}.set-up", "set-up", per_job=len(sizes))
        for part, answer in pairs:
            count = part.per_set * dict(part.worked_ends).get(work, 0)
            if count:
                yield WorkItem("turning", f"{stem} an end", f"{stem}.end", "run", count, mark=part.mark)
            more = part.per_set * sum(_by_size(stem, end, answer.section) for end in part.ends)
            if more:
                what, standard, how = _METAL[stem]
                yield WorkItem("turning", what, standard, "run", more, how=how, mark=part.mark)


def _pressed_flat(pairs: Pairs) -> Iterator[WorkItem]:
    """Tube ends pressed flat cold: a set-up for each tube in the job, then each end."""
    pressed = [(part, answer, count) for part, answer in pairs if (count := _pressed(part, answer.section))]
    if pressed:
        sizes = {answer.section.key for _, answer, _ in pressed}
        what = "set blocks to press tube ends flat"
        yield WorkItem("bending", what, "joggle.set-up", "set-up", per_job=len(sizes))
    for part, _, count in pressed:
        what = "press a tube's end flat"
        yield WorkItem("bending", what, "joggle.bend", "run", part.per_set * count, mark=part.mark)


def _pressed(part: PartSpec, section: Section) -> int:
    """How many ends of a part are pressed flat between blocks; 0 unless it is a tube."""
    if not section.form.presses:
        return 0
    return sum(form.word == "flatten" for end in part.ends for form in end.forms)


def shaped_by_hand(end: End) -> bool:
    """Whether the end is shaped by file or belt, so that it needs no dressing of the saw cut."""
    return any(form.word in _BY_HAND for form in end.forms)


def end_heats(part: PartSpec, answer: PartAnswer) -> int:
    """Number of heats that the ends of one piece take."""
    return sum(_heats_of(form, answer.section) for end in part.ends for form in end.forms)


def _heats_of(form: EndForm, section: Section) -> int:
    if form.word == "point":
        stock = point_stock_mm(section, form, "End", Say())
        return max(1, ceil(stock / (STOCK_SIZES_PER_HEAT * min(section.sizes_mm))))
    return 0 if section.form.presses else _HEATS.get(form.word, 0)


def _forms(stem: str, part: PartSpec) -> list[EndForm]:
    return [form for end in part.ends for form in end.forms if form.word == stem]


def _sizes(work: EndWork, part: PartSpec, answer: PartAnswer) -> set[str]:
    """Keys of the set-ups that a part needs: a thread, a diameter turned from one bar, or the bar alone."""
    # A lathe is set for a diameter of one bar, a die for a thread whatever the bar.
    said = {str(form).partition(" x ")[0] for form in _forms(dict(_COUNTED)[work], part)}
    if said:
        return {f"{answer.section.key} {size}" for size in said} if work == "turned" else said
    return {answer.section.key} if dict(part.worked_ends).get(work) else set()


def _by_size(stem: str, end: End, section: Section) -> float:
    """Size of an end: cm3 turned off, or cm2 of thread surface cut."""
    # An end that the job only counts has no size, and so its handling alone.
    if stem == "turn":
        done, _ = work_by_form(section, end, "End", Say())
        return sum(worked.removed_mm3 for form, worked in done if form.word == stem) / 1000
    threads = [form for form in end.forms if form.word == stem]
    return sum(pi * find_thread(form.thread).dia.mm_float * form.mm(0) / 100 for form in threads)
