"""shopquote part: flat length, bend marks, over-bend, force and bender of each part."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, JsonOption, argument, flag, option, print_json


class MarksFrom(StrEnum):
    """Where bend marks are measured from."""

    START = "start"
    FINISH = "finish"
    MIDDLE = "middle"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("part")(part)


def part(
    file: Annotated[Path, argument("FILE", "A job file or job workbook.")],
    mark: Annotated[str | None, option("--mark", "MARK", "Only the part with this mark.")] = None,
    why: Annotated[bool, flag("--why", "Show the formula and the source of every figure.")] = False,
    benders: Annotated[bool, flag("--benders", "Show what each bender on file makes of them.")] = False,
    datum: Annotated[MarksFrom | None, flag("--datum", "Where bend marks are measured from.")] = None,
    as_json: JsonOption = False,
    db: DbOption = None,
) -> None:
    """Developed length, cut length, bend marks, over-bend, force and bender of each part."""
    from shopquote.outputs.tables.part_json import parts_json
    from shopquote.outputs.tables.part_tables import benders_json, print_benders, print_parts
    from shopquote.services.jobs.part import try_benders, work_out_file

    found = work_out_file(file, mark=mark, database=db, datum=datum.value if datum else None)
    tried = try_benders(found) if benders else None
    if as_json:
        more = {"benders_tried": benders_json(tried)} if tried else {}
        print_json(parts_json(found.parts, found.cautions, why=why) | more)
        return
    print_parts(found.parts, found.job.units, found.cautions, why=why, own_shop=found.own_shop)
    if tried:
        print_benders(tried)
