"""`shopquote serve`: the page, for the office on this machine and the floor's phones and tablets."""

import gc
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, flag, option

# New objects between two searches for reference cycles: often enough for a process that lives long, and
# each short enough for the user who waits for a page meanwhile.
CYCLES_SOUGHT_EVERY = 100_000


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("serve")(serve)


def serve(
    port: Annotated[
        int, typer.Option(min=0, max=65535, metavar="P", help="Port; 0 takes a free one.")
    ] = 8765,
    lan: Annotated[
        bool, flag("--lan", "Let phones and tablets of the shop's own network in too, by a code.")
    ] = False,
    name: Annotated[
        str | None,
        option(
            "--name",
            "HOST",
            "Host name under which a proxy on this machine serves the page over HTTPS, such as shop.example.",
        ),
    ] = None,
    new: Annotated[
        bool, flag("--new", "Start a new shop if there is none; the page asks for its details.")
    ] = False,
    no_browser: Annotated[bool, flag("--no-browser", "Do not open a browser; print the address.")] = False,
    try_only: Annotated[bool, flag("--try", "Test: start, ask for the first page, and end.")] = False,
    db: DbOption = None,
) -> None:
    """Serve the page on this machine until Ctrl-C stops it."""
    from shopquote.page.server import run

    gc.set_threshold(CYCLES_SOUGHT_EVERY)
    run(
        db, port=port, lan=lan, proxy_name=name, browser=not (no_browser or try_only), try_only=try_only,
        new=new,
    )  # fmt: skip
