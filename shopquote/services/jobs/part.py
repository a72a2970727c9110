"""Parts of a job file, worked out with the shop's own benders and grades, or with the starting ones.

Begin at `work_out_file`. Reads the file and, where there is a database, the shop's lists; stores nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from shopquote.calc.bar.benders import BendingShop, Datum
from shopquote.calc.bar.part import analyse_part
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.shapes import parse_shape
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.money import USUAL_CURRENCY
from shopquote.calc.pricing.cautions import quote_cautions
from shopquote.calc.pricing.weld_checks import refuse_welds
from shopquote.errors import CannotMakeError, InputError, NotFoundError, nearest_word
from shopquote.reading.kinds import Notation
from shopquote.records.places import database_on_file


@dataclass(frozen=True, slots=True)
class PartsOfJob:
    """A job's parts with their answers; `own_shop` is false if there was no database to take benders from."""

    job: JobSpec
    parts: tuple[tuple[PartSpec, PartAnswer], ...]
    shop: BendingShop
    own_shop: bool

    @property
    def cautions(self) -> tuple[str, ...]:
        """Cautions for the use of the work, then for making its parts, each once."""
        making = (caution for _, answer in self.parts for caution in answer.cautions)
        return tuple(
            dict.fromkeys((*quote_cautions(self.job, [answer for _, answer in self.parts]), *making))
        )


@dataclass(frozen=True, slots=True)
class BenderTrial:
    """What one bender can make: how many bends and whole parts, and how many bends fail for which lack."""

    bender: str
    bends: int
    parts: int
    lacks: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class BendersTried:
    """All benders on file tried on the same parts; `left_out` are marks whose shapes have other curves than
    bends.
    """

    bends: int
    parts: int
    left_out: tuple[str, ...]
    trials: tuple[BenderTrial, ...]


def try_benders(found: PartsOfJob) -> BendersTried:
    """Try every bender on file on the parts, to choose one, or to see what a new one would add."""
    from shopquote.calc.bar.survey import PlainPart, survey, takes

    plain, left_out = [], []
    for part, answer in found.parts:
        words = parse_shape(part.shape, found.job.units) if part.shape is not None else ()
        if takes(words):
            plain.append(PlainPart(answer.section, answer.grade, words, part.dims, part.bend_axis))
        elif words:
            left_out.append(part.mark)
    if not plain:
        return BendersTried(0, 0, tuple(left_out), ())
    seen = survey(plain, found.shop)
    trials = []
    for place, bender in enumerate(found.shop.benders):
        bends, whole = seen.made_by(place)
        trials.append(BenderTrial(bender.name, bends, whole, seen.lacking(place)))
    return BendersTried(len(seen.angle), len(plain), tuple(left_out), tuple(trials))


def work_out_file(
    path: Path, *, mark: str | None = None, database: str | None = None, datum: Datum | None = None
) -> PartsOfJob:
    """Read a job file or workbook and work its parts out.

    Args:
        path: the file.
        mark: work out this part alone.
        database: as typed for --db; None: that of SHOPQUOTE_DB or the default one. If there is none, the
            benders and grades that every shop starts with are used.
        datum: end that bend marks are measured from; None: the shop's own.

    Raises:
        InputError: the file has mistakes. NotFoundError: no part has this mark.
        CannotMakeError: lists every part that cannot be made. DatabaseError: it cannot be used.
    """
    from shopquote.reading.job_book import read_job

    shop, notation, own = shop_to_bend_with(database)
    if datum is not None:
        shop = replace(shop, datum=datum)
    job = read_job(path, grades=shop.grades, notation=notation)
    return PartsOfJob(job, work_out(job, shop, mark=mark), shop, own)


def work_out(
    job: JobSpec, shop: BendingShop, *, mark: str | None = None
) -> tuple[tuple[PartSpec, PartAnswer], ...]:
    """The parts of a job, or the one with a mark, each with its answer.

    Raises:
        NotFoundError: no part has this mark.
        CannotMakeError: lists every part that cannot be made.
        InputError: lists them too, where at least one of them cannot be read.
    """
    done: list[tuple[PartSpec, PartAnswer]] = []
    refused: list[CannotMakeError | InputError] = []
    for part in _wanted(job.parts, mark):
        try:
            done.append((part, analyse_part(part, job.units, shop, galvanised=job.is_galvanised)))
        except (CannotMakeError, InputError) as error:
            refused.append(error)
    if len(refused) == 1:
        raise refused[0]
    if refused:
        lines = "\n".join(f"  {str(error).replace(chr(10), ' ')}" for error in refused)
        unread = any(isinstance(error, InputError) for error in refused)
        told = InputError if unread else CannotMakeError
        raise told(f"{len(refused)} parts cannot be made.\n{lines}")
    # Welds refer to several parts, so they are checked only when all parts were worked out.
    if mark is None:
        refuse_welds(job, {part.mark: answer for part, answer in done})
    return tuple(done)


def work_out_parts(spec: JobSpec, shop: BendingShop) -> dict[str, PartAnswer]:
    """Each part's answer, by mark.

    Raises:
        CannotMakeError: lists every part that cannot be made.
        InputError: lists them too, where at least one of them cannot be read.
    """
    return {part.mark: answer for part, answer in work_out(spec, shop)}


def shop_to_bend_with(database: str | None) -> tuple[BendingShop, Notation, bool]:
    """What job files are checked by: the bending shop, its notation, and whether a shop is on file.

    Without a shop on file: the starting benders and grades, and the usual currency.

    Raises:
        DatabaseError: the database cannot be used, or a database named in `database` has no shop.
    """
    from shopquote.services.shop.starting import starting_shop  # a shop on file needs none of its lists

    if not database_on_file(database):
        return starting_shop(), Notation(currency=USUAL_CURRENCY), False
    from shopquote.services.shop.database import open_database
    from shopquote.services.shop.shop_on_file import bending_shop, is_set_up, shop_notation

    with open_database(database) as opened, opened.reading() as session:
        # The default database may exist without a shop, as after an upgrade; of one that was named, a missing
        # shop is an error.
        if database is not None or is_set_up(session):
            return bending_shop(session), shop_notation(session), True
    return starting_shop(), Notation(currency=USUAL_CURRENCY), False


def _wanted(parts: Sequence[PartSpec], mark: str | None) -> Sequence[PartSpec]:
    if mark is None:
        return parts
    found = [part for part in parts if part.mark == mark]
    if not found:
        marks = [part.mark for part in parts]
        near = nearest_word(mark, marks)
        meant = f" Did you mean {near!r}?" if near else ""
        raise NotFoundError(
            f"No part has the mark {mark[:40]!r}.{meant}", hint="Marks: " + ", ".join(marks[:40]) + "."
        )
    return found
