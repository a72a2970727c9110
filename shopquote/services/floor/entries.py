"""Entries that devices on the floor send: start, stop, sawn, photo; each counts once, by its key.

A device may send an entry late, or twice if the answer was lost: the key tells. Begin at `enter`.
"""

import io
from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session, defer

from shopquote.calc.frozen import dataclass
from shopquote.calc.units import Measure
from shopquote.errors import InputError, NotFoundError
from shopquote.reading.files import PHOTOGRAPHS, picture_of
from shopquote.reading.kinds import MEASURE, count, read_typed
from shopquote.records.jobs import Job
from shopquote.records.logs import TimeEntry
from shopquote.records.page import ENTRY_KINDS, FloorEntry
from shopquote.services.floor.log import MOST_COUNT, check_pieces, log_scrap, person_on_file
from shopquote.services.floor.scans import Scan, enter_scans
from shopquote.services.floor.time_log import start_timer, stop_timer
from shopquote.services.jobs.jobs import find_job
from shopquote.services.shop.shop_on_file import shop_notation

# Characters: the key is a UUID or the like; the others fit what a person types on a phone.
LONGEST_KEY, LONGEST_PERSON, LONGEST_TEXT = 64, 60, 500
# An entry older than this did not wait in the device: its clock is wrong.
OLDEST = timedelta(days=7)
# Pixels, of ten million that a phone takes: a label can still be read.
LARGEST_PHOTO_SIDE = 1600
# Offered to tap, since typing with gloves is slow; any other words may be typed.
SPOILT_REASONS = ("bent the wrong way", "wrong mark", "cracked", "wrong length")


@dataclass(frozen=True)
class Sent:
    """One entry as a device sends it; `at` is the moment by the device's clock."""

    key: str
    kind: str
    person: str
    job: str
    mark: str = ""
    at: datetime | None = None
    fields: Mapping[str, str] = field(default_factory=dict)
    photo: bytes | None = None


def enter(session: Session, sent: Sent, *, at: datetime) -> FloorEntry:
    """Enter what a device sent; if its key is known, only return the entry on file.

    Raises:
        NotFoundError: no such job, piece or running timer.
        InputError: no key or person, an unknown kind, or a value that cannot be used.
    """
    known = session.scalar(select(FloorEntry).where(FloorEntry.key == sent.key))
    # Sent again because the answer was lost on the way: same answer, nothing entered twice.
    if known is not None:
        return known
    _check(sent)
    job = find_job(session, sent.job)
    moment = _moment(sent.at, at)
    answer = _DO[sent.kind](session, sent, job, moment, at)
    entry = FloorEntry(
        key=sent.key, kind=sent.kind, person=person_on_file(session, sent.person), job_id=job.id,
        mark=sent.mark.strip(), entered_at=moment, content=dict(sent.fields), answer=answer,
        photo=None if sent.photo is None else as_picture(sent.photo),
    )  # fmt: skip
    session.add(entry)
    session.flush()
    return entry


def entries_of(session: Session, person: str, *, since: datetime) -> Sequence[FloorEntry]:
    """What a person entered since a moment, newest first; photos are not loaded."""
    query = (
        select(FloorEntry).options(defer(FloorEntry.photo))
        .where(FloorEntry.person == person_on_file(session, person), FloorEntry.entered_at >= since)
        .order_by(FloorEntry.entered_at.desc(), FloorEntry.id.desc())
    )  # fmt: skip
    return session.scalars(query).all()


def good_pieces(session: Session, job: Job) -> list[tuple[str, str, int]]:
    """Good pieces counted when operations were stopped, added up as (mark, operation, count)."""
    query = select(FloorEntry.mark, FloorEntry.content, FloorEntry.answer).where(
        FloorEntry.job_id == job.id, FloorEntry.kind == "stop", FloorEntry.mark != ""
    )
    sums: dict[tuple[str, str], int] = {}
    for mark, content, answer in session.execute(query.order_by(FloorEntry.id)):
        good = str(content.get("good", "")).strip()
        # Checked when it was entered and when it was mended; empty in an entry that was taken back.
        if good.isdecimal() and int(good):
            key = (mark, answer.partition(",")[0])
            sums[key] = sums.get(key, 0) + int(good)
    return [(*key, count) for key, count in sums.items()]


def people(session: Session, most: int = 12) -> Sequence[str]:
    """Names in the time log, those who logged last first, at most `most`."""
    query = (
        select(TimeEntry.person).where(TimeEntry.person != "").group_by(TimeEntry.person)
        .order_by(func.max(TimeEntry.id).desc()).limit(most)
    )  # fmt: skip
    return session.scalars(query).all()


def started_mark(session: Session, timer: TimeEntry) -> str:
    """The part on which a running timer was started; empty if on none."""
    query = select(FloorEntry.mark).where(
        FloorEntry.kind == "start", FloorEntry.person == timer.person, FloorEntry.job_id == timer.job_id
    )
    return session.scalar(query.order_by(FloorEntry.id.desc()).limit(1)) or ""


def photo_of(session: Session, key: str) -> bytes:
    """The photo of the entry with this key, as JPEG.

    Raises:
        NotFoundError: there is none.
    """
    found = session.scalar(select(FloorEntry.photo).where(FloorEntry.key == key))
    if found is None:
        raise NotFoundError("There is no such photo.")
    return found


def _check(sent: Sent) -> None:
    # Shorter keys could collide by chance: the second entry would be taken for the first and be lost.
    if not 8 <= len(sent.key) <= LONGEST_KEY or not sent.key.isascii():
        raise InputError("An entry needs a key of its own.")
    if sent.kind not in ENTRY_KINDS:
        raise InputError(f"{sent.kind[:40]!r} is no kind of entry; expected {', '.join(ENTRY_KINDS)}.")
    if not sent.person.strip() or len(sent.person) > LONGEST_PERSON:
        raise InputError("Say who is working first.")
    if any(len(text) > LONGEST_TEXT for text in sent.fields.values()):
        raise InputError(f"A text of an entry has more than {LONGEST_TEXT} characters.")


def _moment(said: datetime | None, at: datetime) -> datetime:
    """The device's time of an entry, if plausible, else the present."""
    # The device's time is better than the present one, as entries wait in it while it has no network.
    if said is None or said.tzinfo is None or said > at or at - said > OLDEST:
        return at
    return said


def source_of(key: str) -> str:
    """The `source` of records that the entry with this key made."""
    return f"floor {key}"


def _start(session: Session, sent: Sent, job: Job, moment: datetime, at: datetime) -> str:
    operation = sent.fields.get("operation", "")
    return start_timer(
        session, job, operation, person=sent.person, at=moment, on=moment.astimezone().date()
    ).what


def _stop(session: Session, sent: Sent, job: Job, moment: datetime, at: datetime) -> str:
    # With the entry's source, so that `mend` finds these minutes.
    done = stop_timer(session, job, person=sent.person, at=moment, source=source_of(sent.key))
    spoilt = pieces_among(session, sent.fields, "spoilt")
    said = [done.what]
    # Without a mark a count cannot be kept for any part; the minutes are logged all the same.
    if (good := pieces_among(session, sent.fields, "good")) and sent.mark:
        said.append(check_pieces(session, job, sent.mark, good, "good"))
    if spoilt:
        day = moment.astimezone().date()
        said.append(
            log_scrap(
                session, sent.job, sent.mark, spoilt, on=day, today=at.astimezone().date(), at=at,
                reason=sent.fields.get("reason", ""), person=sent.person, source=source_of(sent.key),
            ).what
        )  # fmt: skip
    return "; ".join(said)


def _sawn(session: Session, sent: Sent, job: Job, moment: datetime, at: datetime) -> str:
    back = sent.fields.get("back", "").strip()
    lengths: tuple[Measure, ...] = ()
    if back and back != "0":
        lengths = (read_typed("What came back", MEASURE, back, shop_notation(session)),)
    place = sent.fields.get("place", "").strip() or None
    pieces = pieces_among(session, sent.fields, "pieces")
    # With the entry's source, so that `mend` finds this use of the bar.
    scan = Scan(1, sent.fields.get("piece", ""), sent.job, lengths, pieces, source_of(sent.key))
    (sawn,) = enter_scans(session, [scan], on=moment.astimezone().date(), at=at, place=place, name="Sawn")
    returned = f", back as {', '.join(sawn.used.returned)}" if sawn.used.returned else ""
    return f"{sawn.used.code} sawn{returned}"


def _photo(session: Session, sent: Sent, job: Job, moment: datetime, at: datetime) -> str:
    if sent.photo is None:
        raise InputError("No photo came with it.")
    return "photo kept"


def pieces_among(session: Session, fields: Mapping[str, str], name: str) -> int:
    """The count of pieces in field `name`; 0 if it is empty.

    Raises:
        InputError: not a count.
    """
    typed = fields.get(name, "").strip()
    return (
        read_typed(name.capitalize(), count(most=MOST_COUNT), typed, shop_notation(session)) if typed else 0
    )


def as_picture(content: bytes) -> bytes:
    """A photo redrawn as a JPEG of limited size, without the place and camera that its file may hold.

    Raises:
        InputError: not a picture.
    """
    try:
        photo = picture_of(content, LARGEST_PHOTO_SIDE, PHOTOGRAPHS)
    except InputError as error:
        raise InputError(
            f"This is no photo that can be read; a JPEG, PNG or WebP picture is. {error.message}"
        ) from error
    held = io.BytesIO()
    # Redrawn, the file holds no metadata (place, camera); at 80 a label can still be read.
    photo.save(held, "JPEG", quality=80)
    return held.getvalue()


_DO = {"start": _start, "stop": _stop, "sawn": _sawn, "photo": _photo}
