"""The `shopquote` command: its commands by the work they do, its errors and its exit codes.

Each module of `shopquote.cli` adds its own commands through `register(app)`. It is
imported when one of them is called, and imports services and outputs only inside a
command's body: the help needs none of them and is quick.
"""

import importlib
import os
import sys
from collections.abc import Iterator, MutableMapping, Sequence
from pathlib import Path
from typing import Annotated, Any, TextIO, cast

import typer
from typer.core import TyperGroup

from shopquote import STOPPED_BY_PERSON, __version__
from shopquote.calc.numbers import is_obeyed
from shopquote.cli.list_lines import LIST_LINES
from shopquote.cli.streams import ShowingStream
from shopquote.errors import ShopquoteError

# Section of the help -> command -> its module, and its line in the help.
SECTIONS: dict[str, dict[str, tuple[str, str]]] = {
    "To begin": {
        "demo": ("demo", "The main job on six sample jobs, in a database of its own."),
        "setup": ("setup", "Create or upgrade the database; the shop's own details."),
    },
    "Without a database": {
        "check": ("check", "Report every mistake in job files and workbooks."),
        "part": ("part", "Developed length, bend marks, over-bend, force of each part."),
        "draw": ("draw", "Dimensioned drawings of each part, also at full size."),
        "shape": ("shape", "Read a line of a DXF drawing as words of a shape."),
        "price": ("price", "Price job files while the customer waits; store nothing."),
        "cut": ("cut", "Plan the cheapest cutting of a plain list."),
        "proof": ("proof", "Check the proof of a cut plan, without a solver."),
    },
    "Jobs and quotes": {
        "job": ("job", "Jobs on file: add, list, show, revise, status, history, remove."),
        "takeoff": ("takeoff", "Materials and cut plan of one job, or of several together."),
        "quote": ("quote", "Price a job, store the revision, write the workbooks."),
        "quotes": ("quotes", "Quotes on file: list, accepted, declined, compare."),
    },
    "Buying": {
        "order": ("order", "Order bar for jobs, one order for each supplier."),
        "receive": ("receive", "Bars arrive: lengths, heats, certificates, charges."),
        "rack": ("rack", "Bars and offcuts in the shop: list, add, use, scrap."),
    },
    "Floor and review": {
        "floor": ("floor", "Traveller with drawings, and a workbook to fill in."),
        "log": ("log", "Minutes, bars, bought items and bills of a job."),
        "close": ("log", "Fix the figures of a finished job, or open it again."),
        "deliver": ("deliver", "Record a delivery of a job and write its delivery note."),
        "review": ("review", "What finished jobs earned, and what to change."),
        "bookkeeping": ("bookkeeping", "Quotes won, invoices, payments, bills of a period, as CSV."),
    },
    "Delivery dates": {"load": ("load", "Hours of open jobs week by week, and the day to promise.")},
    "The page": {"serve": ("serve", "Serve the page: office in a browser here, floor on phones.")},
    "The shop's own lists": {name: ("lists", line) for name, line in LIST_LINES.items()},
    "Database": {"db": ("db", "Upgrade, back up, restore, check, export the database.")},
}

COMMANDS = {name: found for commands in SECTIONS.values() for name, found in commands.items()}

READER_WENT_AWAY = 141  # as a shell reports a program that SIGPIPE ended: 128 + 13


def _keep_a_copy(database: Any) -> None:
    # At the first change alone: what only reads makes no copy, and does not wait for this import.
    from shopquote.services.safe.daily import copy_the_day_before

    copy_the_day_before(database)


class ShopGroup(TyperGroup):
    """A group of commands that turns a `ShopquoteError` into one message on stderr and its exit code."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command; an error that the user can put right ends without a traceback."""
        try:
            return super().invoke(ctx)
        except ShopquoteError as error:
            from shopquote.outputs.tables.show import print_error

            print_error(error)
            raise typer.Exit(error.exit_code) from error
        except KeyboardInterrupt as stopped:
            # No traceback: a person who stops a search knows why it ended.
            raise typer.Exit(STOPPED_BY_PERSON) from stopped
        except BrokenPipeError as gone:
            raise typer.Exit(READER_WENT_AWAY) from gone
        except OSError as error:
            # A folder that cannot be written, a full disk, a file that went away.
            place = f" {error.filename}" if error.filename is not None else ""
            print(f"shopquote: Cannot use{place or ' a file'}: {error.strerror or error}.", file=sys.stderr)
            # 3 as for any file that cannot be used: no fault of the program.
            raise typer.Exit(3) from error


class CommandsWhenCalled(MutableMapping[str, Any]):
    """The commands by name; the module of a command is imported on its first look-up."""

    def __init__(self) -> None:
        self._built: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._built:
            module, _line = COMMANDS[name]
            holder = typer.Typer(rich_markup_mode=None)
            holder.callback()(lambda: None)  # makes it a group, however few commands it has
            importlib.import_module(f"shopquote.cli.{module}").register(holder)
            found = typer.main.get_command(holder)
            assert isinstance(found, TyperGroup)
            self._built.update(found.commands)
        return self._built[name]

    def __setitem__(self, name: str, command: Any) -> None:
        self._built[name] = command

    def __delitem__(self, name: str) -> None:
        del self._built[name]

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


class RootGroup(ShopGroup):
    """The root: all commands by section, none of them imported before it is called."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands = CommandsWhenCalled()

    def main(self, args: Sequence[str] | None = None, *given: Any, **named: Any) -> Any:
        """Run a command, and record its words in the history of what it changes."""
        from shopquote.services.shop.doing import at_the_command_line

        with at_the_command_line(sys.argv[1:] if args is None else args, before=_keep_a_copy):
            return super().main(args, *given, **named)

    def list_commands(self, ctx: Any) -> list[str]:
        """The names of the commands in the order of the work."""
        return list(self.commands)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the list of commands for the help, by section."""
        # One width for all sections, so that the help lines stand in one column.
        width = max(map(len, COMMANDS))
        for title, commands in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name.ljust(width), line) for name, (_, line) in commands.items()])


app = typer.Typer(
    cls=RootGroup,
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


def main() -> None:
    """Entry point of the `shopquote` script."""
    try:
        _run()
    except KeyboardInterrupt:
        sys.exit(STOPPED_BY_PERSON)
    except Exception as fault:
        from shopquote.cli.faults import tell_fault

        sys.exit(tell_fault(fault))


def _run() -> None:
    # No command multiplies large matrices of fractions: numpy need not start a thread for each core.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A shell may have closed either of them; what is printed is then dropped.
    sys.stdout = sys.stdout or _nowhere()
    sys.stderr = sys.stderr or _nowhere()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without an é must not end a command
    sys.stdout, sys.stderr = (cast(TextIO, ShowingStream(stream)) for stream in (sys.stdout, sys.stderr))
    _refuse_what_is_no_text(sys.argv[1:])
    stdout = sys.stdout
    try:
        try:
            app(prog_name="shopquote")
        finally:
            if sys.stdout is not stdout:
                raise BrokenPipeError  # click has replaced stdout by a silent one
            stdout.flush()
    except BrokenPipeError:
        # The reader (head, less) has gone: no message at exit either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stdout.fileno())
        sys.exit(READER_WENT_AWAY)


def _nowhere() -> TextIO:
    return Path(os.devnull).open("w", encoding="utf-8")


def _refuse_what_is_no_text(words: list[str]) -> None:
    for place, word in enumerate(words, 1):
        try:
            # A terminal in another encoding passes lone surrogates, which no database takes.
            word.encode()
        except UnicodeEncodeError:
            print(f"shopquote: word {place} of the command is not text in UTF-8: {word}", file=sys.stderr)
            sys.exit(2)
        # It would go on file as a name or note, and from there onto every terminal and sheet.
        if is_obeyed(word):
            print(
                f"shopquote: word {place} of the command holds a control character: {word[:60]}",
                file=sys.stderr,
            )
            sys.exit(2)


if __name__ == "__main__":
    main()
