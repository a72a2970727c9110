"""`shopquote serve`: the page, for the office on this machine and the floor's phones and tablets."""

import gc
from typing import Annotated

import typer

from shopquote.cli.options import DbOption, flag, option

# New objects: a server lives long, and who waits for a page would wait for a longer search too.
CYCLES_SOUGHT_EVERY = 100_000


def register(app: typer.Typer) -> None:
    """Add the command to the root."""
    app.command("serve")(serve)


def serve(
    port: Annotated[
        int, typer.Option(min=0, max=65535, metavar="P", help="Port; 0 takes a free one.")
    ] = 8765,
    lan: Annotated[
        bool, flag("--lan", "Phones and tablets of the shop's own network too, let in by a code.")
    ] = False,
    name: Annotated[
        str | None,
        option(
            "--name",
            "HOST",
            "The name that a proxy on this machine serves it by over HTTPS, as shop.example.",
        ),
    ] = None,
    new: Annotated[
        bool, flag("--new", "Make a new shop where there is none; the page asks for its details.")
    ] = False,
    no_browser: Annotated[bool, flag("--no-browser", "Open no browser; print the address.")] = False,
    try_only: Annotated[
        bool, flag("--try", "Start, ask for the first page, and end: to see that it works.")
    ] = False,
    db: DbOption = None,
) -> None:
    """Serve the page on this machine until it is stopped with Ctrl and C."""
    from shopquote.page.server import run

    gc.set_threshold(CYCLES_SOUGHT_EVERY)
    run(
        db, port=port, lan=lan, proxy_name=name, browser=not (no_browser or try_only), try_only=try_only,
        new=new,
    )  # fmt: skip
