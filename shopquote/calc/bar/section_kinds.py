"""The kinds of bar: one entry each, with all that the rest of the program asks of a kind.

A kind says how it is typed, its outline, its wall, how deep a hole goes, how it lies in a bend, what
cannot be done with it, its words and its product standard (`section_kind`). Area, perimeter, centroid,
moments, reach and hole volumes follow from the outline, so that a new kind is an entry in `solid_kinds` or
`profile_kinds` with, where its form is new, its outline and what can be wrong with its sizes above it.
"""

from shopquote.calc.bar.profile_kinds import ANGLE, BOX, CHANNEL, TEE, TUBE
from shopquote.calc.bar.section_kind import SectionKind
from shopquote.calc.bar.solid_kinds import FLAT, HALF_ROUND, HEX, MESH, RIBBED, ROUND, SHEET, SQUARE

KINDS: dict[str, SectionKind] = {
    kind.word: kind
    for kind in (
        ROUND, SQUARE, HEX, FLAT, HALF_ROUND, TUBE, BOX, ANGLE, RIBBED, TEE, SHEET, MESH, CHANNEL,
    )
}  # fmt: skip
