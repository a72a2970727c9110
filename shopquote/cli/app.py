"""The `shopquote` command: its groups, its errors and its exit codes.

Each module of `shopquote.cli` adds its own commands through `register(app)` and
imports services and outputs only inside a command's body, so that the help is quick.
"""

import importlib
import os
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from shopquote import __version__
from shopquote.errors import ShopquoteError

MODULES = (
    "check", "part", "cut", "job", "takeoff", "quote", "order", "rack", "floor", "log", "review",
    "setup", "lists", "db", "demo",
)  # fmt: skip

# The commands as the help lists them, in the order of the work.
SECTIONS = {
    "To begin": ("demo", "setup"),
    "Without a database": ("check", "part", "cut"),
    "Jobs and quotes": ("job", "takeoff", "quote", "quotes"),
    "Buying": ("order", "receive", "rack"),
    "Floor and review": ("floor", "log", "close", "review"),
    "The shop's own lists": (
        "stock", "suppliers", "customers", "rates", "benders", "bend-tests", "grades", "saws", "taxes",
    ),
    "Database": ("db",),
}  # fmt: skip

# As a shell reports a program that was ended by the signal: 128 + SIGINT, 128 + SIGPIPE.
STOPPED_BY_PERSON = 130
READER_WENT_AWAY = 141


class ShopGroup(TyperGroup):
    """The root group: lists the commands by the work they do, and turns our errors into exit codes."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The help's list of commands, in sections; a command in none comes under Others."""
        listed = {name for names in SECTIONS.values() for name in names}
        others = tuple(name for name in self.list_commands(ctx) if name not in listed)
        for title, names in (*SECTIONS.items(), ("Others", others)):
            commands = [(name, self.get_command(ctx, name)) for name in names]
            rows = [
                (name.ljust(10), command.get_short_help_str(formatter.width - 16))
                for name, command in commands
                if command is not None and not command.hidden
            ]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)

    def invoke(self, ctx: Any) -> Any:
        """Run the command; every error that a person can cure ends without a traceback."""
        try:
            return super().invoke(ctx)
        except ShopquoteError as error:
            from shopquote.outputs.show import print_error

            print_error(error)
            raise typer.Exit(error.exit_code) from error
        except KeyboardInterrupt as stopped:
            raise typer.Exit(STOPPED_BY_PERSON) from stopped
        except BrokenPipeError as gone:
            raise typer.Exit(READER_WENT_AWAY) from gone
        except OSError as error:
            # A folder that cannot be written, a full disk, a file that went away.
            place = f" {error.filename}" if error.filename is not None else ""
            print(f"shopquote: Cannot use{place or ' a file'}: {error.strerror or error}.", file=sys.stderr)
            raise typer.Exit(3) from error


app = typer.Typer(
    cls=ShopGroup,
    no_args_is_help=True,
    rich_markup_mode=None,  # plain help: drawing it with rich would double the start-up time
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    help="Quotes, bar orders, floor sheets and margin for a small shop that bends and welds bar.",
)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"shopquote {__version__}")
        raise typer.Exit


@app.callback()
def root(
    db: Annotated[
        str | None,
        typer.Option(
            "--db",
            metavar="DATABASE",
            help="Database for any command: a file or a PostgreSQL URL (also after the command).",
        ),
    ] = None,
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and end."),
    ] = False,
) -> None:
    """Quotes, bar orders, floor sheets and margin for a small shop that bends and welds bar."""


for _name in MODULES:
    try:
        _module = importlib.import_module(f"shopquote.cli.{_name}")
    except ModuleNotFoundError as _missing:
        if _missing.name != f"shopquote.cli.{_name}":
            raise
    else:
        _module.register(app)


def main() -> None:
    """Entry point of the `shopquote` script."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without an é must not end a command
    stdout = sys.stdout
    try:
        try:
            app(prog_name="shopquote")
        finally:
            if sys.stdout is not stdout:
                raise BrokenPipeError  # the command line has put a silent stdout in its place
            stdout.flush()
    except BrokenPipeError:
        # The reader (head, less) has gone: no message at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stdout.fileno())
        sys.exit(READER_WENT_AWAY)


if __name__ == "__main__":
    main()
