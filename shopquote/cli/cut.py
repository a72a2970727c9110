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
            "A length that can be bought, and how much shorter it may come; repeatable.",
        ),
    ] = None,
    rack: Annotated[
        list[str] | None,
        option(
            "--rack",
            "L[:COUNT[:VALUE]]",
            "Bars on the rack: cost nothing, least value used first; repeatable.",
        ),
    ] = None,
    kerf: Annotated[str, option("--kerf", "K", "Width that the saw takes.")] = "0",
    trim: Annotated[str, option("--trim", "T", "Cut off every bar before use.")] = "0",
    grip: Annotated[str, option("--grip", "G", "End that the vise cannot hold for sawing.")] = "0",
    keep: Annotated[
        str | None,
        option("--keep", "MIN[:PERCENT]", "Keep offcuts from MIN on, credited PERCENT of their price."),
    ] = None,
    units: Annotated[Literal["mm", "in"], flag("--units", "Unit of bare numbers.")] = "mm",
    seconds: SecondsOption = None,
    proof: Annotated[
        Path | None, option("--proof", "FILE", "Write the proof here, and check that file.")
    ] = None,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Plan the cheapest cutting of a list, with proof where there is one."""
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
