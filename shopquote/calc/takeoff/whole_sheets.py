"""Pieces of sheet or mesh cut from a wider sheet by straight cuts from edge to edge: begin at `sheets_for`.

Bands are sheared across the whole sheet first, then each band into pieces side by side; no free nesting.
To the planner a band is a piece of the wide sheet's own bar, so bands of all parts share sheets as any
pieces do.
"""

from collections.abc import Mapping, Sequence
from math import ceil

from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.sections import Section
from shopquote.calc.frozen import dataclass
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Length, Unit, show_length
from shopquote.errors import counted

# A sheet that is sold: its section with the whole width, and a length that it comes in.
Sold = tuple[Section, Length]


@dataclass(frozen=True, slots=True)
class Band:
    """Pieces of one part that lie side by side across a sheet.

    `along`: length of sheet that a band takes; `across`: of one piece over the sheet; `beside`: what is
    left at the end of a full band; `rest`: left of the last band, where it is not full.
    """

    mark: str
    owner: str
    sheet: Section
    pieces: int
    each: int
    along: Length
    across: Length
    beside: Length
    rest: Length

    @property
    def bands(self) -> int:
        """Bands sheared off the sheet."""
        return ceil(self.pieces / self.each)

    def words(self, unit: Unit) -> str:
        """The cuts, in the order in which they are made, and what is left."""

        def show(length: Length) -> str:
            return show_length(length, unit, exact=True)

        count = f"{counted(self.bands, 'band')} of {show(self.along)}"
        left = f"{show(self.beside)} left beside" if self.beside.nm else "nothing left beside"
        if self.rest != self.beside:
            left += f", {show(self.rest)} of the last"
        off = f"{self.mark}: shear {count} off {self.sheet.name(unit)}"
        return f"{off}, {self.after(unit)}, {self.pieces} in all; {left}."

    def after(self, unit: Unit) -> str:
        """What is done to a band once it is off the sheet."""
        return f"then each into {self.each} of {show_length(self.across, unit, exact=True)}"


def band_of(answer: PartAnswer, part: PartSpec | None, count: int, owner: str, sold: Sold) -> Band | None:
    """How the pieces of a part lie on a sheet, the way that takes less of it; None where none goes on.

    None too where its ends are mitred. A bent piece keeps its length along the rolling unless the job says
    that it was rolled `across`; mesh of two pitches keeps each of them the way that it was asked for.
    """
    if _mitred(answer):
        return None
    sheet, long = sold
    # A spliced piece lies on the sheet as what it is welded from, each as the longest of them.
    pieces = answer.sawn_as
    count *= len(pieces)
    width, length, whole = answer.section.sizes[0], max(pieces), sheet.sizes[0]
    ways = [(length, width), (width, length)]
    if part is not None and answer.bends:
        ways = ways[1:] if part.rolled == "across" else ways[:1]
    if len(set(sheet.sizes[1:-1])) > 1:
        ways = ways[:1]
    fitting = [way for way in ways if way[1] <= whole and way[0] <= long]
    found = [_band(answer.mark, owner, sheet, count, *way) for way in fitting]
    return min(found, key=lambda band: (sheets_full([band], long), band.bands * band.along.nm), default=None)


def _band(mark: str, owner: str, sheet: Section, count: int, along: Length, across: Length) -> Band:
    whole = sheet.sizes[0].nm
    each = min(whole // across.nm, max(count, 1))
    last = count % each or each
    beside, rest = (Length(whole - n * across.nm) for n in (each, last))
    return Band(mark, owner, sheet, count, each, along, across, beside, rest)


def sheets_full(bands: Sequence[Band], long: Length) -> int:
    """Whole sheets of one length that bands fill: the longest first, each into the first that has room.

    A band lies in one sheet, so that three of 900 mm take two sheets of 2 m and not 1.35.
    """
    alike: list[tuple[int, int]] = []  # what is left of a sheet, nm, and how many sheets have so much left
    for band in sorted(bands, key=lambda band: -band.along.nm):
        wanted, along, after = band.bands, band.along.nm, []
        for room, sheets in (*alike, (long.nm, wanted)):
            each = room // along
            full, rest = divmod(min(wanted, each * sheets), each) if each else (0, 0)
            wanted -= full * each + rest
            filled = [(room - each * along, full), (room - rest * along, int(rest > 0))]
            whole = sheets - full - filled[1][1]
            after += [*filled, (room, 0 if room == long.nm else whole)]
        alike = [(room, sheets) for room, sheets in after if sheets]
    return sum(sheets for _, sheets in alike)


def sheets_for(
    items: Sequence[tuple[PartAnswer, PartSpec | None, int, str]],
    sold: Mapping[tuple[str, str], Sequence[Sold]],
    held: frozenset[tuple[str, str]] = frozenset(),
) -> dict[tuple[str, str], Sold]:
    """The sheet that pieces of a (section key, grade) are cut from; none where just their width is sold.

    Args:
        items: parts as `group_pieces` takes them.
        sold: sheets on suppliers' lists, by (stem of the section, grade); see `stem_of`.
        held: (section key, grade) of the bars that the jobs have already: these go on being used.

    All widths of one thickness and grade come from one sheet: that of which they take the least area, in
    whole sheets.
    """
    wanted: dict[tuple[str, str], list[tuple[PartAnswer, PartSpec | None, int, str]]] = {}
    for item in items:
        answer = item[0]
        if not answer.section.form.by_width or not item[2] or _mitred(answer):
            continue
        stem = (stem_of(answer.section), answer.grade.name)
        own = {sheet.key for sheet, _ in sold.get(stem, ())} | {
            key for key, grade in held if grade == stem[1]
        }
        if answer.section.key not in own:
            wanted.setdefault(stem, []).append(item)
    found: dict[tuple[str, str], Sold] = {}
    for stem, parts in wanted.items():
        areas = [
            ((sheet.key, stem[1]) not in held, area, sheet.sizes[0].nm, -length.nm, (sheet, length))
            for sheet, length in sold.get(stem, ())
            if (area := _area(parts, sheet, length)) is not None
        ]
        if areas:
            best = min(areas, key=lambda one: one[:4])[4]
            found.update({(item[0].section.key, stem[1]): best for item in parts})
    return found


def stem_of(section: Section) -> str:
    """What a sheet shares with every other of its thickness or mesh, whatever their widths.

    >>> from shopquote.calc.bar.sections import parse_section
    >>> stem_of(parse_section("sheet 120 x 3", "mm"))
    'sheet 3'
    """
    return f"{section.kind} {section.key.split(' x ', 1)[1]}"


def is_of_stem(key: str, stem: str) -> bool:
    """Whether a section's key is that of a sheet of this stem."""
    kind, _, sizes = stem.partition(" ")
    return key.startswith(f"{kind} ") and key.endswith(f" x {sizes}")


def _mitred(answer: PartAnswer) -> bool:
    return any(end.mitre for end in answer.ends)


def _area(
    parts: Sequence[tuple[PartAnswer, PartSpec | None, int, str]], sheet: Section, length: Length
) -> int | None:
    """Whole sheets that the bands fill, times the area of one, mm2; None where a piece does not go on it."""
    found = [band_of(answer, part, count, owner, (sheet, length)) for answer, part, count, owner in parts]
    bands = [band for band in found if band is not None]
    if len(bands) < len(found):
        return None
    return int(sheets_full(bands, length) * length.mm * sheet.sizes[0].mm)
