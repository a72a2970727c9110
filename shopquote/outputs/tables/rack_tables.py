"""The rack, deliveries, counts and traces in the terminal and as JSON."""

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from shopquote.calc.money import round_money
from shopquote.calc.units import Unit, show_length
from shopquote.outputs.books.label_book import Label
from shopquote.outputs.tables.show import new_table, print_files, print_table

if TYPE_CHECKING:
    from shopquote.records.rack import RackPiece
    from shopquote.services.buying.receive import ReceivedOrder
    from shopquote.services.rack.rack import RackValue, UsedBar
    from shopquote.services.rack.scans import Sawn
    from shopquote.services.rack.stocktake import CountResult
    from shopquote.services.rack.trace import TraceLink


# --- pieces ---------------------------------------------------------------------------------------


def pieces_json(pieces: Sequence["RackPiece"], files: Sequence[Path] = ()) -> dict[str, object]:
    """What the rack commands print with --json."""
    return {"pieces": [piece_json(piece) for piece in pieces], "files": list(files)}


def piece_json(piece: "RackPiece") -> dict[str, object]:
    """One piece."""
    return {
        "piece": piece.code,
        "bar": piece.section_text,
        "section": piece.section_key,
        "grade": piece.grade,
        "length_mm": piece.length,
        "heat": piece.heat,
        "place": piece.place,
        "cost": f"{piece.cost:f}",
        "state": piece.state,
        "job": None if piece.promised_job is None else piece.promised_job.number,
        "made_on": piece.made_on,
        "note": piece.note,
    }


def print_pieces(pieces: Sequence["RackPiece"], unit: Unit, title: str | None = None) -> None:
    """Pieces as a table; what they hold together below."""
    if not pieces:
        print("No pieces.")
        return
    table = new_table(
        "piece", "bar", "grade", ("length", "right"), "heat", "place", "state", ("cost", "right"), title=title
    )
    for piece in pieces:
        state = piece.state if piece.promised_job is None else f"for {piece.promised_job.number}"
        table.add_row(
            piece.code, piece.section_text, piece.grade, show_length(piece.length, unit, exact=True),
            piece.heat, piece.place, state, f"{round_money(piece.cost):f}",
        )  # fmt: skip
    print_table(table)
    cost = sum((piece.cost for piece in pieces), Decimal(0))
    metres = sum(piece.length.nm for piece in pieces) / 1e9
    count = "1 piece" if len(pieces) == 1 else f"{len(pieces)} pieces"
    print(f"{count}, {metres:.2f} m, cost {round_money(cost):f}")


def print_codes(codes: Sequence[str], what: str) -> None:
    """Codes and what happened to them, on one line."""
    print(f"{what}: {', '.join(codes)}" if codes else f"{what}: nothing")


def labels_of(pieces: Sequence["RackPiece"], unit: Unit) -> list[Label]:
    """The labels of pieces."""
    return [
        Label(
            piece.code, f"{piece.section_text} {piece.grade}", show_length(piece.length, unit, exact=True),
            piece.heat, piece.place, "" if piece.promised_job is None else piece.promised_job.number,
        )
        for piece in pieces
    ]  # fmt: skip


# --- use and value --------------------------------------------------------------------------------


def used_json(used: "UsedBar") -> dict[str, object]:
    """What `rack use` prints with --json."""
    return {
        "piece": used.code,
        "cost": f"{used.cost:f}",
        "credit": f"{used.credit:f}",
        "returned": list(used.returned),
    }


def print_used(used: "UsedBar") -> None:
    """What `rack use` prints."""
    net = round_money(used.cost - used.credit)
    print(f"{used.code} used; cost to the job {net:f}")
    if used.returned:
        print_codes(used.returned, "Back on the rack")


def scanned_json(sawn: Sequence["Sawn"]) -> dict[str, object]:
    """What `rack scan` prints with --json."""
    return {"pieces": [{"job": piece.job, **used_json(piece.used)} for piece in sawn]}


def print_scanned(sawn: Sequence["Sawn"]) -> None:
    """What was entered, and which labels what came back needs."""
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


def value_json(values: Sequence["RackValue"]) -> dict[str, object]:
    """What `rack value` prints with --json."""
    return {
        "rack": [
            {
                "bar": value.section,
                "grade": value.grade,
                "state": value.state,
                "pieces": value.pieces,
                "length_mm": value.length,
                "cost": f"{round_money(value.cost):f}",
            }
            for value in values
        ],
        "total": f"{round_money(sum((value.cost for value in values), Decimal(0))):f}",
    }


def print_value(values: Sequence["RackValue"]) -> None:
    """The value of the rack."""
    table = new_table("bar", "grade", "state", ("pieces", "right"), ("m", "right"), ("cost", "right"))
    for value in values:
        metres = f"{value.length.nm / 1e9:.2f}"
        cost = f"{round_money(value.cost):f}"
        table.add_row(value.section, value.grade, value.state, str(value.pieces), metres, cost)
    print_table(table)
    print(f"Value of the rack at cost: {round_money(sum((v.cost for v in values), Decimal(0))):f}")


# --- deliveries -----------------------------------------------------------------------------------


def received_json(received: "ReceivedOrder", files: Sequence[Path] = ()) -> dict[str, object]:
    """What `receive` prints with --json."""
    return {
        "order": received.number,
        "state": received.state,
        "pieces": [piece_json(piece) for piece in received.pieces],
        "lines": [
            {
                "line": line.line,
                "ordered": line.ordered,
                "received": line.received,
                "short": line.short,
                "over": line.over,
                "other_length": line.other_length,
                "price_difference": None if line.price_difference is None else f"{line.price_difference:f}",
            }
            for line in received.lines
        ],
        "price_difference": f"{received.price_difference:f}",
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


def print_received(received: "ReceivedOrder", unit: Unit, files: Sequence[Path] = ()) -> None:
    """What came, and what differs from the order."""
    print(f"{received.number}: {received.state}")
    print_pieces(received.pieces, unit)
    to_come = received.state != "received"
    for line in received.lines:
        for text in _line_words(line.short, to_come, line.over, line.other_length, line.price_difference):
            print(f"Line {line.line}: {text}")
    _print_lack(received, unit)
    for position, heats in received.mixed_heats:
        print(f"Mind: line {position} was ordered all of one heat and came of {', '.join(heats)}.")
    for heat, bars in _heats_of_several(received.pieces):
        print(
            f"Mind: heat {heat} was entered for {', '.join(bars)}; as a rule each size has a heat of its own."
        )
    if received.price_difference:
        print(f"Charged beyond the order: {received.price_difference:f}")
    if received.new_prices:
        print("New prices on the supplier's list: line " + ", ".join(map(str, received.new_prices)))
    print_files(files)


def _heats_of_several(pieces: Sequence["RackPiece"]) -> list[tuple[str, list[str]]]:
    """Heats that one delivery brings in several sections or grades; most likely entered for too many."""
    bars: dict[str, dict[tuple[str, str], str]] = {}
    for piece in pieces:
        if piece.heat:
            bars.setdefault(piece.heat, {})[piece.section_key, piece.grade] = (
                f"{piece.section_text} {piece.grade}"
            )
    return [(heat, list(names.values())) for heat, names in bars.items() if len(names) > 1]


def _print_lack(received: "ReceivedOrder", unit: Unit) -> None:
    """Which bars do not hold what they were ordered for, what that breaks and what to do."""
    for bar in received.too_short:
        cuts = ", ".join(
            f"{count} x {mark} {show_length(length, unit)} for {job}" for job, mark, length, count in bar.load
        )
        print(
            f"Too short: {bar.code} of line {bar.line} is {show_length(bar.length, unit)} long; "
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
                f"The bars of {job} still hold its pieces, cut another way: write its floor sheets again "
                f"with: shopquote floor {job}"
            )


def _line_words(
    short: int, to_come: bool, over: int, other_length: bool, difference: Decimal | None
) -> list[str]:
    words = []
    if short:
        words.append(f"{short} still to come" if to_come else f"{short} too few, and nothing more comes")
    if over:
        words.append(f"{over} more than ordered")
    if other_length:
        words.append("other lengths than ordered")
    if difference:
        words.append(f"{'dearer' if difference > 0 else 'cheaper'} by {abs(difference):f} a bar")
    return words


# --- counts ---------------------------------------------------------------------------------------


def count_json(result: "CountResult") -> dict[str, object]:
    """What `rack count FILE` prints with --json."""
    return {
        "agreed": result.agreed,
        "not_counted": result.not_counted,
        "differences": [
            {
                "kind": difference.kind,
                "piece": difference.code,
                "bar": difference.bar,
                "grade": difference.grade,
                "length_mm": difference.length,
                "value": f"{difference.value:f}",
                "explained": difference.explained,
            }
            for difference in result.differences
        ],
        "value": f"{result.value:f}",
    }


def print_count(result: "CountResult") -> None:
    """What a count found."""
    print(f"{result.agreed} pieces agree, {result.not_counted} were not counted.")
    if not result.differences:
        return
    table = new_table(
        "piece", "bar", "grade", "what", ("mm", "right"), ("value", "right"), title="Differences"
    )
    for difference in result.differences:
        mm = f"{difference.length.mm.normalize():+f}"
        value = f"{round_money(difference.value):+f}"
        words = f"{difference.kind}: {difference.explained}"
        table.add_row(difference.code, difference.bar, difference.grade, words, mm, value)
    print_table(table)
    if result.value:
        print(f"Value of the rack at cost: {round_money(result.value):+f}")


# --- traces ---------------------------------------------------------------------------------------


def trace_json(links: Sequence["TraceLink"]) -> dict[str, object]:
    """What `rack trace` prints with --json."""
    return {
        "pieces": [
            {
                "piece": link.code,
                "bar": link.section,
                "grade": link.grade,
                "length_mm": link.length,
                "state": link.state,
                "place": link.place,
                "cut_from": list(link.cut_from),
                "jobs": list(link.jobs),
                "parts": [{"job": job, "mark": mark, "count": count} for job, mark, count in link.parts],
                "heat": link.origin.heat,
                "certificate": link.origin.certificate,
                "certificate_kind": link.origin.certificate_kind,
                "certificate_sha256": link.origin.certificate_sha256,
                "order": link.origin.order,
                "supplier": link.origin.supplier,
                "received_on": link.origin.received_on,
                "delivery_note": link.origin.delivery_note,
            }
            for link in links
        ],
        "jobs": sorted({job for link in links for job in link.jobs}),
    }


def print_trace(links: Sequence["TraceLink"], unit: Unit) -> None:
    """Pieces with where they came from and where they went."""
    if not links:
        print("No pieces.")
        return
    table = new_table("piece", "bar", ("length", "right"), "heat", "certificate", "from", "to")
    for link in links:
        origin = link.origin
        bought = " ".join(text for text in (origin.order, origin.supplier) if text) or "in the shop before"
        cut = f"cut from {link.cut_from[0]}, " if link.cut_from else ""
        certificate = " ".join(text for text in (origin.certificate_kind, origin.certificate) if text)
        to = ", ".join(link.jobs) or link.state
        table.add_row(
            link.code, f"{link.section} {link.grade}", show_length(link.length, unit, exact=True),
            origin.heat, certificate, f"{cut}{bought}", to,
        )  # fmt: skip
    print_table(table)
    jobs = sorted({job for link in links for job in link.jobs})
    print(f"{len(links)} pieces" + (f", jobs {', '.join(jobs)}" if jobs else ""))
