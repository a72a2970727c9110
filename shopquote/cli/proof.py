"""shopquote proof: check a proof of a cut plan, without a solver or a database."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from shopquote.cli.options import JsonOption, argument, flag, option, print_json


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("proof")(proof)


def proof(
    file: Annotated[Path, argument("FILE", "Written by cut or takeoff with --proof.")],
    cut_list: Annotated[Path | None, option("--list", "LIST", "The cut list that it must be about.")] = None,
    units: Annotated[Literal["mm", "in"], flag("--units", "Unit of bare numbers in the list.")] = "mm",
    as_json: JsonOption = False,
) -> None:
    """Check the proof of a cut plan: it is of that list, can be sawn, and no plan is cheaper."""
    from shopquote.outputs.tables.cut_tables import print_proof, proof_json
    from shopquote.services.buying.proofs import check_proof

    checked = check_proof(file, cut_list, units)
    if as_json:
        print_json(proof_json(checked))
    else:
        print_proof(checked)
    if not checked.good:
        raise typer.Exit(3)
