"""shopquote demo: the whole chain on the sample jobs, in a database of its own."""

from pathlib import Path
from typing import Annotated

import typer

from shopquote.cli.options import JsonOption, ReplaceOption, option, print_json
from shopquote.services.shop.clock import now

OutOption = Annotated[
    Path,
    option("--out", "DIR", "Folder for the demo's database and files; an earlier demo there is replaced."),
]


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("demo")(demo)


def demo(
    out: OutOption = Path("demo_out"), replace: ReplaceOption = False, as_json: JsonOption = False
) -> None:
    """Run six sample jobs from quote to review: quotes, an order, floor sheets, a finished job."""
    from shopquote.invented.demo import make_demo
    from shopquote.invented.demo_tables import demo_json, print_demo, write_demo_files

    made, database = make_demo(out, at=now())
    files = write_demo_files(made, out)
    print_json(demo_json(made, database, files)) if as_json else print_demo(made, database, files)
