"""The rack, deliveries, counts and traces in the terminal and as JSON."""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money
from shopquote.calc.units import Length, Unit, show_bar, show_length
from shopquote.errors import counted
from shopquote.outputs.books.label_book import Label
from shopquote.outputs.looks import BAR_LENGTH, CHANGE, COUNT, DAY, DIFFERENCE, MONEY, RUN, setting_of
from shopquote.outputs.table import JSON, SEEN, Column, Table, json_rows
from shopquote.outputs.tables.show import print_files, print_table
from shopquote.reading.kinds.kind import Notation

if TYPE_CHECKING:
    from shopquote.records.rack import RackPiece
    from shopquote.services.buying.receive import LineOutcome, ReceivedOrder
    from shopquote.services.floor.scans import Sawn
    from shopquote.services.jobs.promises import Released
    from shopquote.services.rack.rack_on_file import RackValue
    from shopquote.services.rack.rack_uses import UsedBar
    from shopquote.services.rack.stocktake import CountResult, Mismatch
    from shopquote.services.rack.trace import TraceLink


# --- pieces ---------------------------------------------------------------------------------------


def _promised(piece: "RackPiece") -> str | None:
    return None if piece.promised_job is None else piece.promised_job.number


# The cost of a piece has more digits than an amount; JSON gets all of them.
PIECES: "tuple[Column[RackPiece], ...]" = (
    Column("Piece", lambda piece: piece.code),
    Column("Bar", lambda piece: piece.section_text),
    Column("Section", lambda piece: piece.section_key, on=JSON),
    Column("Grade", lambda piece: piece.grade),
    Column("Length", lambda piece: piece.length, BAR_LENGTH, key="length_mm"),
    Column("Heat", lambda piece: piece.heat),
    Column("Place", lambda piece: piece.place),
    Column("State", lambda piece: f"for {job}" if (job := _promised(piece)) else piece.state, on=SEEN),
    Column("State", lambda piece: piece.state, on=JSON),
    Column("Job", _promised, on=JSON),
    Column("Cost", lambda piece: piece.cost, MONEY, on=SEEN, sum=True),
    Column("Cost", lambda piece: f"{piece.cost:f}", on=JSON),
    Column("Made on", lambda piece: piece.made_on, DAY, on=JSON),
    Column("Note", lambda piece: piece.note, on=JSON),
)


def pieces_json(pieces: Sequence["RackPiece"], files: Sequence[Path] = ()) -> dict[str, object]:
    """JSON of the commands that answer with rack pieces."""
    return {"pieces": json_rows(PIECES, pieces), "files": list(files)}


def print_pieces(pieces: Sequence["RackPiece"], notation: Notation, title: str = "") -> None:
    """Print pieces as a table, with their total length below."""
    if not pieces:
        print("No pieces.")
        return
    table = Table(PIECES, pieces, title, setting_of(notation))
    print_table(table)
    cost = sum((table.total(column) for column in table.on("terminal") if column.sum), Decimal(0))
    length = Length(sum(piece.length.nm for piece in pieces))
    run = f"{RUN.text(length, table.setting)} {table.setting.words['run']}"
    print(f"{counted(len(pieces), 'piece')}, {run}, cost {cost:f}")


def print_codes(codes: Sequence[str], what: str) -> None:
    """Print codes and what happened to them, on one line."""
    print(f"{what}: {', '.join(codes)}" if codes else f"{what}: nothing")


def released_json(released: "Released") -> dict[str, object]:
    """JSON of `rack release`."""
    return {
        "released": list(released.free), "goes_on": dict(released.goes_on),
        "struck_out": list(released.struck_out),
    }  # fmt: skip


def print_released(released: "Released") -> None:
    """Print the codes that are free, and what became of bars in which another job has cuts."""
    if released.free or not (released.goes_on or released.struck_out):
        print_codes(released.free, "Released")
    for code, job in released.goes_on:
        print(f"Goes on to {job}, which has cuts in it: {code}")
    if released.struck_out:
        print_codes(released.struck_out, "Its cuts are struck out of bars of other jobs")


def labels_of(pieces: Sequence["RackPiece"], unit: Unit, page: str = "") -> list[Label]:
    """The labels of pieces; `page` is the address under which their codes open the page, empty for none."""
    return [
        Label(
            piece.code, f"{piece.section_text} {piece.grade}", show_bar(piece.length, unit),
            piece.heat, piece.place, "" if piece.promised_job is None else piece.promised_job.number, page,
        )
        for piece in pieces
    ]  # fmt: skip


# --- use and value --------------------------------------------------------------------------------


def used_json(used: "UsedBar") -> dict[str, object]:
    """JSON of `rack use`."""
    return {
        "piece": used.code,
        "cost": f"{used.cost:f}",
        "credit": f"{used.credit:f}",
        "returned": list(used.returned),
        "borne": {job: f"{cost:f}" for job, cost in used.borne.items()},
    }


def print_used(used: "UsedBar", notation: Notation) -> None:
    """Print what `rack use` did."""
    net = {job: round_money(cost, notation.currency) for job, cost in used.borne.items()}
    print(f"{used.code} used; cost to {', '.join(f'{job} {cost:f}' for job, cost in net.items())}")
    if used.returned:
        print_codes(used.returned, "Back on the rack")


def scanned_json(sawn: Sequence["Sawn"]) -> dict[str, object]:
    """JSON of `rack scan`."""
    return {"pieces": [{"job": piece.job, **used_json(piece.used)} for piece in sawn]}


def print_scanned(sawn: Sequence["Sawn"]) -> None:
    """Print what was entered, and which offcuts need labels."""
    if not sawn:
        print("Nothing was scanned.")
    for piece in sawn:
        back = f"; back on the rack: {', '.join(piece.used.returned)}" if piece.used.returned else ""
        print(f"{piece.used.code} sawn for {piece.job}{back}", flush=True)
        if piece.note:
            print(piece.note)
    codes = [code for piece in sawn for code in piece.used.returned]
    if codes:
        print(f"Label what came back: shopquote rack labels {' '.join(codes)}", flush=True)


VALUES: "tuple[Column[RackValue], ...]" = (
    Column("Bar", lambda value: value.section),
    Column("Grade", lambda value: value.grade),
    Column("State", lambda value: value.state),
    Column("Pieces", lambda value: value.pieces, COUNT, sum=True),
    Column("{run}", lambda value: value.length, RUN, on=SEEN),
    Column("Length mm", lambda value: value.length, on=JSON),
    Column("Cost", lambda value: value.cost, MONEY, sum=True),
)


def _value(values: Sequence["RackValue"], notation: Notation) -> Decimal:
    """The sum of the printed costs."""
    return sum((round_money(value.cost, notation.currency) for value in values), Decimal(0))


def value_json(values: Sequence["RackValue"], notation: Notation) -> dict[str, object]:
    """JSON of `rack value`."""
    return {"rack": json_rows(VALUES, values, setting_of(notation)), "total": f"{_value(values, notation):f}"}


def print_value(values: Sequence["RackValue"], notation: Notation) -> None:
    """Print the value of the rack."""
    print_table(Table(VALUES, values, setting=setting_of(notation)))
    print(f"Value of the rack at cost: {_value(values, notation):f}")


# --- deliveries -----------------------------------------------------------------------------------


RECEIVED: "tuple[Column[LineOutcome], ...]" = (
    Column("Line", lambda line: line.line),
    Column("Ordered", lambda line: line.ordered),
    Column("Received", lambda line: line.received),
    Column("Short", lambda line: line.short),
    Column("Over", lambda line: line.over),
    Column("Other length", lambda line: line.other_length),
    Column("Price difference", lambda line: line.price_difference),
)


def received_json(received: "ReceivedOrder", files: Sequence[Path] = ()) -> dict[str, object]:
    """JSON of `receive`."""
    return {
        "order": received.number,
        "state": received.state,
        "pieces": json_rows(PIECES, received.pieces),
        "lines": json_rows(RECEIVED, received.lines),
        "price_difference": f"{received.price_difference:f}",
        "delivery": f"{received.delivery.charged:f}",
        "delivery_borne": f"{received.delivery.borne:f}",
        "new_prices": list(received.new_prices),
        "too_short": [
            {
                "line": bar.line,
                "piece": bar.code,
                "length_mm": bar.length,
                "needed_mm": bar.needed,
                "for": [
                    {"job": job, "mark": mark, "length_mm": length, "count": count}
                    for job, mark, length, count in bar.load
                ],
            }
            for bar in received.too_short
        ],
        "mixed_heats": [{"line": line, "heats": heats} for line, heats in received.mixed_heats],
        "lacking": [{"bar": bar, "jobs": jobs} for bar, jobs in received.lacking],
        "files": list(files),
    }


def print_received(received: "ReceivedOrder", notation: Notation, files: Sequence[Path] = ()) -> None:
    """Print what was received, and how it differs from the order."""
    print(f"{received.number}: {received.state}")
    print_pieces(received.pieces, notation)
    still_open = received.state != "received"
    for line in received.lines:
        for text in _line_words(line.short, still_open, line.over, line.other_length, line.price_difference):
            print(f"Line {line.line}: {text}")
    _print_lack(received, notation.unit)
    for position, heats in received.mixed_heats:
        print(f"Note: line {position} was ordered from one heat and received from {', '.join(heats)}.")
    for heat, bars in _heats_of_several(received.pieces):
        print(
            f"Note: heat {heat} was entered for {', '.join(bars)}; usually each size has a heat of its own."
        )
    if received.price_difference:
        print(f"Charged beyond the order: {received.price_difference:f}")
    if received.delivery.charged != received.delivery.borne:
        charged, borne = (
            round_money(amount, notation.currency)
            for amount in (received.delivery.charged, received.delivery.borne)
        )
        print(
            f"Delivery: {charged:f} charged; in the cost of these bars: "
            f"{borne:f} of the order's deliveries, by value."
        )
    if received.new_prices:
        print("New prices on the supplier's list: line " + ", ".join(map(str, received.new_prices)))
    print_files(files)


def _heats_of_several(pieces: Sequence["RackPiece"]) -> list[tuple[str, list[str]]]:
    """Heats that one delivery has in several sections or grades, which is most likely a slip."""
    bars: dict[str, dict[tuple[str, str], str]] = {}
    for piece in pieces:
        if piece.heat:
            bars.setdefault(piece.heat, {})[piece.section_key, piece.grade] = (
                f"{piece.section_text} {piece.grade}"
            )
    return [(heat, list(names.values())) for heat, names in bars.items() if len(names) > 1]


def _print_lack(received: "ReceivedOrder", unit: Unit) -> None:
    """Print which bars are too short for their pieces, which jobs lack bar, and what to do."""
    for bar in received.too_short:
        cuts = ", ".join(
            f"{count} x {mark} {show_length(length, unit)} for {job}" for job, mark, length, count in bar.load
        )
        print(
            f"Too short: {bar.code} of line {bar.line} is {show_bar(bar.length, unit)} long; "
            f"{cuts} needs {show_length(bar.needed, unit, exact=False)}."
        )
    jobs = sorted({job for bar in received.too_short for job, _, _, _ in bar.load})
    short = {job for _, numbers in received.lacking for job in numbers}
    for bar_name, numbers in received.lacking:
        print(
            f"{bar_name} no longer suffices for {', '.join(numbers)}: claim it from the supplier, or buy "
            f"what is lacking with: shopquote order {' '.join(numbers)}"
        )
    for job in jobs:
        if job not in short:
            print(
                f"The bars of {job} are still enough for its pieces, cut another way: write its floor sheets "
                f"again with: shopquote floor {job}"
            )


def _line_words(
    short: int, still_open: bool, over: int, other_length: bool, difference: Decimal | None
) -> list[str]:
    words = []
    if short:
        words.append(
            f"{short} still open" if still_open else f"{short} too few, and no more will be received"
        )
    if over:
        words.append(f"{over} more than ordered")
    if other_length:
        words.append("other lengths than ordered")
    if difference:
        words.append(f"{'dearer' if difference > 0 else 'cheaper'} by {abs(difference):f} per bar")
    return words


# --- counts ---------------------------------------------------------------------------------------


DIFFERENCES: "tuple[Column[Mismatch], ...]" = (
    Column("Kind", lambda one: one.kind, on=JSON),
    Column("Piece", lambda one: one.code),
    Column("Bar", lambda one: one.bar),
    Column("Grade", lambda one: one.grade),
    Column("What", lambda one: f"{one.kind}: {one.explained}", on=SEEN),
    Column("{unit}", lambda one: one.length, DIFFERENCE, on=SEEN),
    Column("Length mm", lambda one: one.length, on=JSON),
    Column("Value", lambda one: one.value, CHANGE),
    Column("Explained", lambda one: one.explained, on=JSON),
)


def count_json(result: "CountResult") -> dict[str, object]:
    """JSON of `rack count FILE`."""
    return {
        "agreed": result.agreed,
        "not_counted": result.not_counted,
        "differences": json_rows(DIFFERENCES, result.differences),
        "value": f"{result.value:f}",
    }


def print_count(result: "CountResult", notation: Notation) -> None:
    """Print what a stocktake found."""
    print(f"{result.agreed} pieces agree, {result.not_counted} were not counted.")
    print_table(Table(DIFFERENCES, result.differences, "Differences", setting_of(notation)))
    if result.value:
        print(f"Value of the rack at cost: {round_money(result.value, notation.currency):+f}")


# --- traces ---------------------------------------------------------------------------------------


def _parts(link: "TraceLink") -> list[dict[str, object]]:
    return [{"job": job, "mark": mark, "count": count} for job, mark, count in link.parts]


def _heat(link: "TraceLink") -> str:
    entered = link.origin.heat_entered
    return f"{link.origin.heat or '-'} (entered as {entered})" if entered else link.origin.heat


def _certificate(link: "TraceLink") -> str:
    origin = link.origin
    return " ".join(text for text in (origin.certificate_kind, origin.certificate) if text)


def _from(link: "TraceLink") -> str:
    origin = link.origin
    bought = " ".join(text for text in (origin.order, origin.supplier) if text) or "in the shop before"
    return f"cut from {link.cut_from[0]}, {bought}" if link.cut_from else bought


TRACE: "tuple[Column[TraceLink], ...]" = (
    Column("Piece", lambda link: link.code),
    Column("Bar", lambda link: f"{link.section} {link.grade}", on=SEEN),
    Column("Bar", lambda link: link.section, on=JSON),
    Column("Grade", lambda link: link.grade, on=JSON),
    Column("Length", lambda link: link.length, BAR_LENGTH, key="length_mm"),
    Column("State", lambda link: link.state, on=JSON),
    Column("Place", lambda link: link.place, on=JSON),
    Column("Cut from", lambda link: list(link.cut_from), on=JSON),
    Column("Jobs", lambda link: list(link.jobs), on=JSON),
    Column("Parts", _parts, on=JSON),
    Column("Heat", _heat, on=SEEN),
    Column("Heat", lambda link: link.origin.heat, on=JSON),
    Column("Heat entered", lambda link: link.origin.heat_entered, on=JSON),
    Column("Certificate", _certificate, on=SEEN),
    Column("From", _from, on=SEEN),
    Column("To", lambda link: ", ".join(link.jobs) or link.state, on=SEEN),
    Column("Certificate", lambda link: link.origin.certificate, on=JSON),
    Column("Certificate kind", lambda link: link.origin.certificate_kind, on=JSON),
    Column("Certificate sha256", lambda link: link.origin.certificate_sha256, on=JSON),
    Column("Order", lambda link: link.origin.order, on=JSON),
    Column("Supplier", lambda link: link.origin.supplier, on=JSON),
    Column("Received on", lambda link: link.origin.received_on, DAY, on=JSON),
    Column("Delivery note", lambda link: link.origin.delivery_note, on=JSON),
)


def trace_json(links: Sequence["TraceLink"]) -> dict[str, object]:
    """JSON of `rack trace`."""
    return {"pieces": json_rows(TRACE, links), "jobs": sorted({job for link in links for job in link.jobs})}


def print_trace(links: Sequence["TraceLink"], notation: Notation) -> None:
    """Print pieces with where they came from and where they went."""
    if not links:
        print("No pieces.")
        return
    print_table(Table(TRACE, links, setting=setting_of(notation)))
    jobs = sorted({job for link in links for job in link.jobs})
    print(counted(len(links), "piece") + (f", jobs {', '.join(jobs)}" if jobs else ""))
