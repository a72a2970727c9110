"""Delivery notes: what goes to the customer, with marks, counts and masses and without prices.

Notes are stored, so that the next one knows what is left. `delivery_note` plans a delivery, `record_delivery`
stores it, `note_again` shows a stored one.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopquote.calc.address import Address
from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Unit
from shopquote.errors import InputError, NotFoundError, nearest_word
from shopquote.reading.kinds.words import name_key
from shopquote.records.jobs import Job
from shopquote.records.logs import JobDelivery, JobDeliveryLine, StruckEntry
from shopquote.services.jobs.job_states import WON_STATES, move_job, way_to_won
from shopquote.services.jobs.jobs import LoadedJob, find_job, load_job
from shopquote.services.jobs.part import work_out_parts
from shopquote.services.shop import clock
from shopquote.services.shop.shop_on_file import bending_shop, count_typed, shop_unit, the_shop
from shopquote.services.shop.values import address_of, shop_address


@dataclass(frozen=True, slots=True)
class DeliveredLine:
    """Pieces of one mark, or a bought item, which has no mark and no known mass; masses in kg.

    `left` pieces are on no note yet after this delivery; `gone` pieces of a part are on this note or an
    earlier one.
    """

    mark: str
    what: str
    bar: str
    count: int
    each_kg: Decimal | None
    left: int = 0
    gone: int = 0


@dataclass(frozen=True, slots=True)
class DeliveryNote:
    """One delivery of a job: `sets` of the `ordered` sets, None if it is not a whole number of sets."""

    job: str
    number: int
    title: str
    day: date
    sets: int | None
    ordered: int
    shop: Address
    customer: Address
    enquiry: str
    finish: str
    units: Unit
    paper: str
    locale: str
    lines: tuple[DeliveredLine, ...]

    @property
    def name(self) -> str:
        """Number of the note: the job's and the delivery's."""
        return f"{self.job}-{self.number}"

    @property
    def is_part(self) -> bool:
        """Whether something is left to deliver."""
        return any(line.left for line in self.lines)


# What a line counts: (mark, "") of a part, or ("", name) of a bought item.
Key = tuple[str, str]
DELIVERY = "delivery"


def delivery_note(
    session: Session,
    job_number: str,
    on: date,
    sets: int | None = None,
    pieces: Sequence[tuple[str, int]] = (),
) -> DeliveryNote:
    """Plan a delivery of so many sets, or of pieces by mark or bought item; without both, of all that is
    left.

    Raises:
        NotFoundError: no such job, mark or item.
        InputError: the job was not won, or less is left.
    """
    loaded = load_job(session, job_number)
    spec, job = loaded.spec, loaded.job
    if job.state not in WON_STATES:
        raise InputError(
            f"Job {job.number} is {job.state}: nothing is delivered.",
            hint=way_to_won(job),
        )
    # Checked before what is left: more sets than the job has is a typing error, whatever was delivered.
    if sets is not None and not 1 <= sets <= spec.sets:
        raise InputError(f"{sets} sets of {job.number} to deliver; expected 1 to {spec.sets}.")
    left = _left(loaded, _delivered(session, job))
    if not any(left.values()):
        raise InputError(
            f"All of {job.number} is on delivery notes already.",
            hint=f"The last one again: shopquote deliver {job.number} --note {_last(session, job)}; "
            f"taken back: shopquote log {job.number} --strike N --reason TEXT",
        )
    if pieces:
        now = _pieces(job, left, pieces)
    elif sets is None:
        now = left
    else:
        now = {key: each * sets for key, each in _per_set(loaded).items()}
        short = {key: left[key] for key, count in now.items() if count > left[key]}
        if short:
            raise InputError(f"{sets} sets of {job.number} to deliver; left are {_said(short)}.")
    # Not stored yet: the files of the note are written first, then `record_delivery`.
    number = 1 + _notes_so_far(session, job)
    return _note(session, loaded, number, on, now, {key: left[key] - now.get(key, 0) for key in left})


def pieces_typed(session: Session, words: Sequence[str]) -> list[tuple[str, int]]:
    """Counts by mark from words `MARK=N` of the option --pieces; a bought item's name may contain an equals
    sign.

    Raises:
        InputError: a word is not of this form.
    """
    typed = []
    for word in words:
        mark, sign, number = word.rpartition("=")
        count = count_typed(session, "--pieces", number) if sign else None
        if count is None:
            raise InputError(f"--pieces {word[:60]!r}: expected MARK=N, such as A=20.")
        typed.append((mark.strip(), count))
    return typed


def record_delivery(session: Session, note: DeliveryNote) -> None:
    """Store a delivery; the caller writes the note's files aside and commits. A won job becomes started."""
    job = find_job(session, note.job)
    if job.state == "won":
        move_job(job, "started", at=clock.now(), reason=f"delivery note {note.name}")
    lines = [
        JobDeliveryLine(mark=line.mark, what=line.what, count=line.count) for line in note.lines if line.count
    ]
    session.add(JobDelivery(job_id=job.id, number=note.number, delivered_on=note.day, lines=lines))
    session.flush()


def note_again(session: Session, job_number: str, which: int) -> DeliveryNote:
    """The note of a stored delivery, with what was left after it.

    Raises:
        NotFoundError: no such job or note.
    """
    loaded = load_job(session, job_number)
    stored = deliveries_of(session, loaded.job)
    found = next((one for one in stored if one.number == which), None)
    if found is None:
        there = ", ".join(str(one.number) for one in stored) or "none"
        raise NotFoundError(f"{loaded.job.number} has no delivery note {which}; there are: {there}.")
    now = {_key(line.mark, line.what): line.count for line in found.lines}
    left = _left(loaded, _delivered(session, loaded.job, until=which))
    return _note(session, loaded, which, found.delivered_on, now, left)


def deliveries_of(session: Session, job: Job) -> Sequence[JobDelivery]:
    """A job's deliveries in order of their numbers."""
    return session.scalars(
        select(JobDelivery).where(JobDelivery.job_id == job.id).order_by(JobDelivery.number)
    ).all()


def left_to_deliver(session: Session, job: Job) -> dict[Key, int]:
    """Counts still to be delivered, by mark or bought item; empty if all is."""
    left = _left(load_job(session, job.number), _delivered(session, job))
    return {key: count for key, count in left.items() if count}


def delivered_words(session: Session, job: Job) -> str:
    """What is left to deliver of a job, in a sentence; empty if no delivery was ever stored."""
    stored = deliveries_of(session, job)
    if not stored:
        return ""
    left = left_to_deliver(session, job)
    last = max(one.delivered_on for one in stored)
    return f"Not delivered yet: {_said(left)}." if left else f"All is delivered, the last on {last}."


def what_went(delivery: JobDelivery) -> str:
    """A delivery in words, for the log."""
    return f"note {delivery.number}: " + _said(
        {_key(one.mark, one.what): one.count for one in delivery.lines}
    )


def _key(mark: str, what: str) -> Key:
    # By mark alone: a part may be renamed between two deliveries.
    return (mark, "") if mark else ("", what)


def _per_set(loaded: LoadedJob) -> dict[Key, int]:
    """Pieces per set by mark or bought item, in the order of the job."""
    counts: dict[Key, int] = {}
    lines = [(_key(part.mark, ""), part.per_set) for part in loaded.spec.parts]
    lines += [(_key("", item.name), item.per_set) for item in loaded.spec.bought]
    for key, count in lines:
        counts[key] = counts.get(key, 0) + count
    return counts


def _left(loaded: LoadedJob, gone: Mapping[Key, int]) -> dict[Key, int]:
    """What is left of a job after `gone` was delivered; 0 where a revision asks for fewer than that."""
    sets = loaded.spec.sets
    return {key: max(0, each * sets - gone.get(key, 0)) for key, each in _per_set(loaded).items()}


def _delivered(session: Session, job: Job, until: int | None = None) -> dict[Key, int]:
    """What was delivered by all notes, or up to note `until`."""
    gone: dict[Key, int] = {}
    for one in deliveries_of(session, job):
        for line in one.lines if until is None or one.number <= until else ():
            key = _key(line.mark, line.what)
            gone[key] = gone.get(key, 0) + line.count
    return gone


def _notes_so_far(session: Session, job: Job) -> int:
    """Number of notes ever written, those taken back included: their numbers are not given again."""
    struck = select(func.count(StruckEntry.id)).where(
        StruckEntry.job_id == job.id, StruckEntry.kind == DELIVERY
    )
    return len(deliveries_of(session, job)) + (session.scalar(struck) or 0)


def _last(session: Session, job: Job) -> int:
    return max((one.number for one in deliveries_of(session, job)), default=1)


def _pieces(job: Job, left: Mapping[Key, int], pieces: Sequence[tuple[str, int]]) -> dict[Key, int]:
    """Typed counts by mark or bought item.

    Raises:
        NotFoundError: no such part or item.
        InputError: less is left.
    """
    # Reversed, so that of a mark and a bought item of one name the mark, which comes first, wins.
    known = {name_key(mark or what): (mark, what) for mark, what in reversed(list(left))}
    now: dict[Key, int] = {}
    for name, count in pieces:
        key = known.get(name_key(name))
        if key is None:
            near = nearest_word(name, [mark or what for mark, what in left])
            raise NotFoundError(
                f"{job.number} has no part or bought item {name!r}.",
                hint=f"Did you mean {near!r}?" if near else None,
            )
        now[key] = now.get(key, 0) + count
        if now[key] > left[key]:
            raise InputError(f"{now[key]} of {name} of {job.number} to deliver; left are {left[key]}.")
    return now


def _said(counts: Mapping[Key, int]) -> str:
    return ", ".join(f"{count} x {mark or what}" for (mark, what), count in counts.items())


def _note(
    session: Session,
    loaded: LoadedJob,
    number: int,
    on: date,
    now: Mapping[Key, int],
    left: Mapping[Key, int],
) -> DeliveryNote:
    spec, job, shop = loaded.spec, loaded.job, the_shop(session)
    answers = work_out_parts(spec, bending_shop(session, job.number))
    lines, marks = [], {_key(part.mark, "") for part in spec.parts}
    for part in spec.parts:
        key = _key(part.mark, "")
        # A part that a later revision added shows too, with nothing delivered and all of it left.
        count, rest = now.get(key, 0), left.get(key, 0)
        each = Decimal(repr(answers[part.mark].mass_kg))
        bar = f"{part.bar} {part.grade}"
        lines.append(
            DeliveredLine(
                part.mark, part.name, bar, count, each, rest, max(count, spec.quantity(part) - rest)
            )
        )
    # Bought items of the job, then what was delivered but a revision took out of the job.
    for mark, what in dict.fromkeys((*_per_set(loaded), *now)):
        if (mark, what) not in marks:
            count, rest = now.get((mark, what), 0), left.get((mark, what), 0)
            lines.append(DeliveredLine(mark, what, "", count, None, rest))
    return DeliveryNote(
        job.number, number, spec.title, on, _whole_sets(loaded, now), spec.sets, shop_address(shop),
        address_of(job.customer), spec.enquiry, spec.finish.kind if spec.finish else "", shop_unit(session),
        shop.paper, job.customer.locale or shop.locale,
        tuple(line for line in lines if line.count or line.left),
    )  # fmt: skip


def _whole_sets(loaded: LoadedJob, now: Mapping[Key, int]) -> int | None:
    """The number of sets that these counts make; None if it is not whole."""
    per_set = _per_set(loaded)
    # Whole sets only if every part and item gives one quotient and no remainder.
    shares = {divmod(now.get(key, 0), each) for key, each in per_set.items()}
    if len(shares) != 1 or not now.keys() <= per_set.keys():
        return None
    sets, rest = shares.pop()
    return None if rest else sets
