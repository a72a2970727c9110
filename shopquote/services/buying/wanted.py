"""Pieces needed of each material, with the bars that they may be cut from. Loads no table."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from shopquote.calc.bar.grades import Grade
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.takeoff.cut_plan import Piece, RackBar, SawSettings
from shopquote.calc.takeoff.takeoff import Item, group_pieces
from shopquote.calc.takeoff.whole_sheets import Sold, sheets_for, stem_of
from shopquote.calc.units import Length, Unit
from shopquote.services.shop.books import Books
from shopquote.services.shop.values import section_of

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


@dataclass(frozen=True, slots=True)
class Wanted:
    """Pieces of one section and grade, and the bars that the shop has for them.

    `own` are bars that the jobs have (promised, on order, cut); `free` are rack bars promised to nobody.
    """

    section: Section
    grade: Grade
    pieces: tuple[Piece, ...]
    own: tuple[RackBar, ...] = ()
    free: tuple[RackBar, ...] = ()

    @property
    def name(self) -> str:
        """Name of the material in the purchase problem: section key and grade."""
        return f"{self.section.key} {self.grade.name}"

    def name_in(self, unit: Unit) -> str:
        """Name of the material for people, with its sizes in a unit."""
        return f"{self.section.name(unit)} {self.grade.name}"

    def of(self, owners: Iterable[str]) -> "Wanted":
        """The same material with the pieces of these jobs only."""
        names = set(owners)
        return replace(self, pieces=tuple(piece for piece in self.pieces if piece.owner in names))


def wanted_of(
    books: Books,
    items: Sequence[Item],
    held: Sequence["JobBar"],
    jobs: Sequence[str],
    saw: SawSettings,
    racks: dict[tuple[str, str], Sequence[RackBar]] | None = None,
) -> tuple[Wanted, ...]:
    """Pieces of the items by material, each with the rack bars that they may be cut from.

    `racks`: rack bars by (section key, grade) that were read before; those read now are added.
    """
    wanted, racks = [], {} if racks is None else racks
    for section, grade, pieces in group_pieces(items, books.sheets(items, held)):
        key = (section.key, grade.name)
        if key not in racks:
            racks[key] = books.rack(section, grade, held, jobs, saw)
        own, free = (tuple(bar for bar in racks[key] if bar.own is mine) for mine in (True, False))
        wanted.append(Wanted(section, grade, pieces, own, free))
    return tuple(wanted)


def wider_sheets(
    items: Sequence[Item], listed: Iterable[tuple[str, str, Length]], held: Sequence["JobBar"]
) -> dict[tuple[str, str], Sold]:
    """The wider sheet that strips of a (section key, grade) are cut from.

    `listed` are (section key, grade, length) of sheets on sale; sheets that the jobs hold count too.
    """
    owned = [(bar.section_key, bar.grade, bar.length) for bar in held if not bar.cut]
    sold: dict[tuple[str, str], list[Sold]] = {}
    for key, grade, length in sorted({*listed, *owned}):
        section = section_of(key)
        if section.form.by_width:
            sold.setdefault((stem_of(section), grade), []).append((section, length))
    return sheets_for(items, sold, frozenset((key, grade) for key, grade, _ in owned))
