"""All kinds of bar by their word.

An entry (`section_kind`) gives syntax, outline, wall, depth of holes, how it lies in a bend, what cannot be
done with it, words and product standard. Area, perimeter, centroid, moments and hole volumes follow from the
outline. So a new kind is one entry in `solid_kinds` or `profile_kinds`, with a function for its outline, and
one for faults of its sizes, where these are new.
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
