"""What parts need of each material, with the bars that they may be cut from; loads no table."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from shopquote.calc.takeoff.cut_plan import SawSettings
from shopquote.calc.takeoff.takeoff import Item, group_pieces
from shopquote.calc.takeoff.whole_sheets import Sold, sheets_for, stem_of
from shopquote.calc.units import Length
from shopquote.services.buying.purchase_ways import Wanted
from shopquote.services.shop.books import Books
from shopquote.services.shop.values import section_of

if TYPE_CHECKING:
    from shopquote.services.buying.needs import JobBar


def wanted_of(
    books: Books, items: Sequence[Item], held: Sequence["JobBar"], jobs: Sequence[str], saw: SawSettings
) -> tuple[Wanted, ...]:
    """What the items need, with the rack bars that they may be cut from."""
    wanted = []
    for section, grade, pieces in group_pieces(items, books.sheets(items, held)):
        rack = books.rack(section, grade, held, jobs, saw)
        own, free = (tuple(bar for bar in rack if bar.own is mine) for mine in (True, False))
        wanted.append(Wanted(section, grade, pieces, own, free))
    return tuple(wanted)


def wider_sheets(
    items: Sequence[Item], listed: Iterable[tuple[str, str, Length]], held: Sequence["JobBar"]
) -> dict[tuple[str, str], Sold]:
    """The wider sheet that pieces of a (section key, grade) come off; `listed` are sheets on sale."""
    owned = [(bar.section_key, bar.grade, bar.length) for bar in held if not bar.cut]
    sold: dict[tuple[str, str], list[Sold]] = {}
    for key, grade, length in sorted({*listed, *owned}):
        section = section_of(key)
        if section.form.by_width:
            sold.setdefault((stem_of(section), grade), []).append((section, length))
    return sheets_for(items, sold, frozenset((key, grade) for key, grade, _ in owned))
