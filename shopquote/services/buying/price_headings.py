"""Find which column of a supplier's price list holds what, and translate the supplier's own words.

Columns are named by a person, or recognised by headings common in the trade, in the languages that quotes are
written in. A supplier's words for shapes and grades ("RND" for round, "43A" for S275) are taught once and
stored with the supplier. Begin at `find_columns`.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from shopquote.calc.units import Unit
from shopquote.errors import Fault, InputError, Misread, TwoReadings, nearest_word
from shopquote.reading import kinds
from shopquote.reading.table_files import FileTable
from shopquote.services.buying.price_rows import MEANS, PRICE_FORM, STEP, ListReading, headed_unit, many_of

# Key under which the supplier's column map stores the number of the heading row.
HEADING_ROW = "heading row"
# Columns never guessed by heading: "tolerance" often heads texts such as "-0/+50", where plans need a length.
_ONLY_SAID = ("tolerance", "unit")
# A heading that states the basis of its prices: "Price per tonne", "EUR/kg", "Preis je 100 kg".
_PRICE_BY = re.compile(
    r"(.*?)(?:\b(?:per|je|pro|par|por)\b|/|\()\s*(?:per|je|pro|par|por)?\s*([\w ]+?)\.?\s*\)?\s*",
    re.IGNORECASE,
)
# "Price each": for one bar, without any word such as per.
_PRICE_EACH = re.compile(r"(.*?)\b(each|ea)\.?", re.IGNORECASE)
_A_PRICE = re.compile(
    r"price|preis|prix|precio|rate|cost|[€£$]|\b(?:eur|gbp|usd|chf|cad|aud)\b", re.IGNORECASE
)
# Headings of a column of sizes, which names a bar only together with a column of shapes.
_OF_SIZE = ("size", "sizes", "dimension", "dimensions", "size mm", "abmessung", "maße", "dimensión", "medida")
# Rows in which columns are tried for bars; enough to tell, and quick on lists of thousands.
_ROWS_TRIED = 200
# A price list names at least bar, length and price: lines of a letterhead fill fewer cells.
_FEWEST_HEADINGS = 3
HEADINGS_HINT = (
    "Where the headings stand in another row or sheet, below a letterhead or a cover, say which: "
    "--heading-row ROW, --sheet TITLE"
)


def name_prices(cells: Sequence[str]) -> bool:
    """Whether a row has headings of a price and at least two other columns of a price list."""
    found = PRICE_FORM.match(cells)
    priced = "price" in found or any(_price_by(cell) for cell in cells)
    return priced and len({*found, "price"}) > 2


def may_be_headings(cells: Sequence[str]) -> bool:
    """Whether a row fills at least as many cells as a price list has columns; a letterhead's lines do not."""
    return sum(bool(cell.strip()) for cell in cells) >= _FEWEST_HEADINGS


def taught_words(columns: Mapping[str, str]) -> dict[str, str]:
    """The supplier's words and ours, from the entries "means ..." of its column map.

    >>> taught_words({"bar": "Item", "means rnd": "round"})
    {'rnd': 'round'}
    """
    return {word[len(MEANS) :]: ours for word, ours in columns.items() if word.startswith(MEANS)}


def taught(words: Iterable[str]) -> dict[str, str]:
    """Entries for the column map from pairs such as `RND=round`; `RND=` removes the word.

    A word to be ignored, such as "bright drawn", is taught as `bright drawn=-`.

    Raises:
        InputError: not such a pair.
    """
    pairs = {}
    for word in words:
        theirs, equals, ours = word.rpartition("=")
        if not equals or not theirs.strip():
            raise InputError(
                f"Word {word!r}: expected the supplier's word and ours, such as RND=round or 43A=S275."
            )
        pairs[MEANS + " ".join(theirs.casefold().split())] = " ".join(ours.split())
    return pairs


def find_columns(table: FileTable, given: Mapping[str, str]) -> dict[str, str]:
    """The column map of a list: columns as given, else by usual headings; taught words are included.

    Raises:
        InputError: a column that is not in the file, an unknown word, or no column for a needed one.
    """
    mapping, faults = _given_columns(table, given)
    guessed = _guessed(table.headings)
    mapping = {word: heading for word, heading in guessed.items() if word not in _ONLY_SAID} | mapping
    mapping = _priced_by(table.headings, mapping, guessed.get("unit")) | mapping
    by_name = {heading.strip().lower(): heading for heading in table.headings}
    steps = {name: heading for name, heading in by_name.items() if STEP.fullmatch(name)}
    mapping = steps | mapping
    if "bar" not in given:
        mapping |= _of_bars(table, mapping)
    has_steps = any(STEP.fullmatch(name) for name in mapping)
    for column in PRICE_FORM.columns:
        word = column.name
        if column.needed and word not in mapping and not (word == "price" and has_steps):
            expected = f"a column for {word}; say which: --column {word}=HEADING or --column {word}==TEXT"
            faults.append(_heading_fault(table, word, expected, None))
    if faults:
        fault = InputError.from_faults(faults)
        fault.hint = f"Row {table.heading_row} was read as the headings. {HEADINGS_HINT}"
        raise fault
    return mapping


def _guessed(headings: Sequence[str]) -> dict[str, str]:
    """Columns recognised by their headings; that of lengths may state its unit, as "Length m"."""
    guessed = PRICE_FORM.match(headings)
    for heading in headings:
        if "length" in PRICE_FORM.match([headed_unit(heading)[0]]):
            guessed.setdefault("length", heading)
    return guessed


def _price_by(heading: str) -> str:
    """The basis that a heading states for its prices; empty if it heads no price or states no basis.

    >>> [_price_by(text) for text in ("Price per tonne", "EUR/kg", "Preis je 100 kg", "price each", "kg/m")]
    ['tonne', 'kg', '100 kg', 'each', '']
    """
    match = _PRICE_BY.fullmatch(heading.strip()) or _PRICE_EACH.fullmatch(heading.strip())
    if match is None or not _A_PRICE.search(heading) or many_of(match[2]) is None:
        return ""
    return match[2]


def _priced_by(headings: Sequence[str], mapping: Mapping[str, str], unit: str | None) -> dict[str, str]:
    """Column of the price and its basis, if one heading states both; else the basis from a column "unit"."""
    priced = next((heading for heading in headings if _price_by(heading)), "")
    price = mapping.get("price", priced)
    if by := _price_by(price):
        return {"price": price, "basis": f"={by}"}
    return {} if unit is None else {"basis": unit}


def _of_bars(table: FileTable, mapping: Mapping[str, str]) -> dict[str, str]:
    """The column, or columns of shape and sizes joined, in which most rows name a bar."""
    named = [heading for heading in table.headings if _means_bar(heading)]
    sizes = [heading for heading in table.headings if heading.strip().casefold() in _OF_SIZE]
    joined = [f"{shape} + {size}" for shape in named for size in sizes if shape != size]
    places = dict.fromkeys([*([mapping["bar"]] if "bar" in mapping else []), *named, *joined])
    return _most_bars(table, mapping, places) if places else _unnamed_bars(table, mapping)


def _most_bars(table: FileTable, mapping: Mapping[str, str], places: Iterable[str]) -> dict[str, str]:
    counts = {place: _bars_read(table, {**mapping, "bar": place}) for place in places}
    return {"bar": max(counts, key=lambda place: counts[place])} if counts else {}


def _unnamed_bars(table: FileTable, mapping: Mapping[str, str]) -> dict[str, str]:
    """A column under an unknown heading, such as "Material", if more than half of its rows name a bar."""
    free = [heading for heading in table.headings if heading and heading not in mapping.values()]
    found = _most_bars(table, mapping, free)
    tried = len(table.rows[:_ROWS_TRIED])
    return found if found and 2 * _bars_read(table, {**mapping, **found}) > tried else {}


def _means_bar(heading: str) -> bool:
    column = PRICE_FORM.named(heading)
    return column is not None and column.name == "bar"


def _bars_read(table: FileTable, mapping: Mapping[str, str]) -> int:
    """Number of rows, of the first `_ROWS_TRIED`, that name a bar in these columns."""
    some = replace(table, rows=table.rows[:_ROWS_TRIED])
    reading = ListReading(some, mapping, kinds.Notation(), taught=taught_words(mapping))
    return sum(_is_bar(reading.text(row, "bar")) for row in some.rows)


def _is_bar(text: str) -> bool:
    try:
        kinds.SECTION.read(text, kinds.Notation())
    except TwoReadings:
        return True  # a bar, but mm or inches is decided only when the list's unit is known
    except Misread:
        return False
    return True


def kept_columns(table: FileTable, kept: Mapping[str, str]) -> dict[str, str]:
    """The column map stored with a supplier, as far as it applies to this file.

    A file with other headings is another list: its columns are found afresh, or a price per bar might be read
    as one per kilogram. Taught words apply to any list.
    """
    columns = {word: place for word, place in kept.items() if word != HEADING_ROW}
    means = {word: ours for word, ours in columns.items() if word.startswith(MEANS)}
    return columns if are_of_list(table, columns) else means


def are_of_list(table: FileTable, columns: Mapping[str, str]) -> bool:
    """Whether a list has all the columns of a map; without any it may be any list's."""
    places = {word: at for word, at in columns.items() if word != HEADING_ROW and not word.startswith(MEANS)}
    return not any(_lacking(table, word, at) for word, at in places.items())


def usable_columns(table: FileTable, given: Mapping[str, str]) -> dict[str, str]:
    """Of the columns that a person named those that the list has."""
    usable: dict[str, str] = {}
    for word, place in given.items():
        mapping, faults = _given_columns(table, {word: place})
        usable |= {} if faults else mapping
    return usable


def _given_columns(table: FileTable, given: Mapping[str, str]) -> tuple[dict[str, str], list[Fault]]:
    """The columns that a person named, and faults of those that cannot be used."""
    mapping: dict[str, str] = {}
    faults: list[Fault] = []
    for word, place in given.items():
        name = " ".join(word.lower().replace("_", " ").split())
        if name.startswith(MEANS):
            if place:
                mapping[name] = place
        elif name not in PRICE_FORM.headings and not STEP.fullmatch(name):
            known = (*PRICE_FORM.headings, "price from 500")
            faults.append(
                _heading_fault(table, name, f"one of {', '.join(known)}", nearest_word(name, known))
            )
        elif place:
            mapping[name] = place
            faults += _lacking(table, name, place)
    return mapping, faults


def _lacking(table: FileTable, name: str, place: str) -> list[Fault]:
    if place.startswith("=") or place in table.headings:
        return []
    parts = [part.strip() for part in place.split(" + ")]
    return [
        _heading_fault(table, name, f"a column {part!r}", nearest_word(part, table.headings))
        for part in parts
        if part not in table.headings
    ]


def _heading_fault(table: FileTable, key: str, expected: str, near: str | None) -> Fault:
    found = ", ".join(table.headings)
    shown = found if len(found) <= 120 else found[:117] + "..."
    return Fault(table.path.name, "headings", "", key, shown, expected, near)


def unit_of_list(mapping: Mapping[str, str], shop: Unit) -> Unit:
    """Unit of the list's bare lengths: the one given with =mm or =in, else the shop's.

    Raises:
        InputError: neither mm nor in.
    """
    word = mapping.get("unit", "").lstrip("=").strip()
    if word in ("mm", "in"):
        return word  # type: ignore[return-value]
    if word:
        raise InputError(f"Unit of the list is {word[:20]!r}; expected =mm or =in.")
    return shop
