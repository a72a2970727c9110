"""shopquote takeoff: materials and cut plan of one job or of several bought together."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import (
    DbOption,
    JsonOption,
    ReplaceOption,
    SecondsOption,
    argument,
    option,
    print_json,
    reading,
)
from shopquote.services.shop.clock import now


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("takeoff")(takeoff)


def takeoff(
    jobs: Annotated[list[str], argument("JOB...", "Numbers of jobs, such as J-0001.")],
    seconds: SecondsOption = None,
    proof: Annotated[
        Path | None, option("--proof", "FILE", "Write the proofs to FILE, and check that file.")
    ] = None,
    replace: ReplaceOption = False,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Show materials and cut plan of one job, or of several bought together."""
    from shopquote.outputs.tables.cut_tables import (
        ProgressLine,
        print_bands,
        print_besides,
        print_proof,
        print_purchase,
        print_shares,
        print_takeoff,
        proof_json,
        takeoff_json,
    )
    from shopquote.reading.kinds import SECONDS
    from shopquote.services.buying.proofs import write_takeoff_proof
    from shopquote.services.buying.takeoff import take_off_job
    from shopquote.services.shop.shop_on_file import value_typed

    progress = ProgressLine()
    try:
        with reading(db) as session:
            limit = value_typed(session, "--seconds", SECONDS, seconds)
            found = take_off_job(
                session, jobs, on=now().date(), seconds=limit, progress=progress, prove=proof is not None
            )
    finally:
        progress.done()
    checked = write_takeoff_proof(found.materials, found.unit, proof) if proof else None
    if as_json:
        print_json(takeoff_json(found) | ({"proof": proof_json(checked)} if proof else {}))
    else:
        print_takeoff(found)
        print_purchase(found)
        print_bands(found)
        print_besides(found)
        print_shares(found.shares, found.currency)
        if proof:
            print_proof(checked)
