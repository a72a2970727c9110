"""shopquote cut: plan a plain cut list, with no database."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from shopquote.cli.options import JsonOption, ReplaceOption, SecondsOption, argument, flag, option, print_json


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("cut")(cut)


def cut(
    cut_list: Annotated[Path, argument("LIST", "A .csv or .xlsx file with columns mark, length, count.")],
    stock: Annotated[
        list[str] | None,
        option(
            "--stock",
            "L[:PRICE[:LIMIT[:TOLERANCE]]]",
            "A length that can be bought; TOLERANCE is how much shorter it may come; repeatable.",
        ),
    ] = None,
    rack: Annotated[
        list[str] | None,
        option(
            "--rack",
            "L[:COUNT[:VALUE]]",
            "Bars on the rack: they cost nothing, and the least valuable are used first; repeatable.",
        ),
    ] = None,
    kerf: Annotated[str, option("--kerf", "K", "Width of the saw cut.")] = "0",
    trim: Annotated[str, option("--trim", "T", "Length cut off every bar before use.")] = "0",
    grip: Annotated[str, option("--grip", "G", "Length at the end that the vise cannot hold.")] = "0",
    keep: Annotated[
        str | None,
        option(
            "--keep", "MIN[:PERCENT]", "Keep offcuts of at least MIN, credited with PERCENT of their price."
        ),
    ] = None,
    units: Annotated[Literal["mm", "in"], flag("--units", "Unit of bare numbers.")] = "mm",
    seconds: SecondsOption = None,
    proof: Annotated[
        Path | None, option("--proof", "FILE", "Write the proof to FILE, and check that file.")
    ] = None,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan the cheapest way to cut a list, with proof where the search finds one."""
    from shopquote.outputs.tables.cut_picture import PieceWords
    from shopquote.outputs.tables.cut_tables import (
        ProgressLine,
        plan_json,
        print_plan,
        print_proof,
        proof_json,
    )
    from shopquote.outputs.tables.show import print_files
    from shopquote.services.buying.cut_list import CutWords
    from shopquote.services.buying.cut_list import cut_list as plan_list
    from shopquote.services.buying.proofs import write_proof

    words = CutWords(stock or (), rack or (), kerf, trim, grip, keep, seconds)
    progress = ProgressLine()
    try:
        plan = plan_list(cut_list, words, units, progress, prove=proof is not None)
    finally:
        progress.done()
    checked = write_proof(plan, cut_list, proof) if proof else None
    files = [proof] if proof and checked else []
    if as_json:
        extra = {"files": files, "proof": proof_json(checked)} if proof else {}
        print_json(plan_json(plan) | extra)
        return
    print_plan(plan, PieceWords(units))
    if proof:
        print_proof(checked)
        print_files(files)
