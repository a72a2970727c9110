import importlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

import shopquote.cli
from shopquote import __version__, errors
from shopquote.cli.app import COMMANDS, ShopGroup, app
from shopquote.cli.options import DbOption

run = CliRunner().invoke
HOOKS = Path(__file__).parents[2] / "sample_jobs" / "coat_hooks.toml"


def app_that_raises(error: BaseException) -> typer.Typer:
    failing = typer.Typer(cls=ShopGroup, rich_markup_mode=None, pretty_exceptions_enable=False)

    @failing.command()
    def fail() -> None:
        raise error

    @failing.command()
    def other() -> None: ...

    return failing


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (errors.InputError("Sets are 0.", hint="Write 1 or more."), 3),
        (errors.NotFoundError("Job J-0009 is not on file."), 4),
        (errors.CannotMakeError("Radius too tight."), 5),
        (errors.DatabaseError("Locked."), 6),
        (PermissionError(13, "Permission denied", "/out/quote.xlsx"), 3),
        (KeyboardInterrupt(), 130),
        (BrokenPipeError(32, "Broken pipe"), 141),
    ],
)
def test_each_kind_of_error_has_its_exit_code_and_one_message_on_stderr(error, code):
    result = run(app_that_raises(error), ["fail"])
    assert result.exit_code == code
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    if isinstance(error, errors.ShopquoteError):
        assert result.stderr == f"shopquote: {error}\n"
    elif isinstance(error, PermissionError):
        assert result.stderr == "shopquote: Cannot use /out/quote.xlsx: Permission denied.\n"
    else:
        assert result.stderr == ""


def test_a_fault_of_the_program_itself_is_not_hidden():
    result = run(app_that_raises(ZeroDivisionError("a fault")), ["fail"])
    assert result.exit_code == 1
    assert isinstance(result.exception, ZeroDivisionError)


def test_the_version_is_told():
    result = run(app, ["--version"])
    assert (result.exit_code, result.stdout) == (0, f"shopquote {__version__}\n")


def test_words_of_the_command_line_that_are_wrong_end_with_2():
    result = run(app, ["jbo"])
    assert result.exit_code == 2
    assert "Did you mean 'job'?" in result.stderr
    assert run(app, ["job", "list", "--jsn"]).exit_code == 2
    assert run(app, ["job", "show"]).exit_code == 2


def test_every_module_s_commands_stand_in_the_help_and_no_others():
    modules = {module for module, _line in COMMANDS.values()}
    registered = {}
    for module in modules:
        holder = typer.Typer()
        holder.callback()(lambda: None)
        importlib.import_module(f"shopquote.cli.{module}").register(holder)
        registered |= dict.fromkeys(typer.main.get_command(holder).commands, module)
    assert registered == {name: module for name, (module, _line) in COMMANDS.items()}
    files = {
        path.stem
        for path in Path(shopquote.cli.__path__[0]).glob("*.py")
        if "def register(" in path.read_text()
    }
    assert files == modules


def test_the_help_lists_every_command_on_a_line_of_its_own():
    lines = run(app, ["--help"]).stdout.splitlines()
    for name, (_module, line) in COMMANDS.items():
        assert any(shown.split() == [name, *line.split()] for shown in lines), name
    assert max(map(len, lines)) <= 80


def test_the_day_of_a_price_list_is_not_told_as_that_of_an_order():
    told = " ".join(run(app, ["order", "prices", "--help"]).stdout.split())
    assert "Day from which the prices count" in told and "Day of the order" not in told


def every_command(group: typer.core.TyperGroup, words: tuple[str, ...] = ()):
    for name, command in group.commands.items():
        if isinstance(command, typer.core.TyperGroup):
            yield from every_command(command, (*words, name))
        else:
            yield (*words, name), command


def test_every_command_and_every_option_has_a_help_line():
    commands = typer.main.get_command(app)
    for words, command in every_command(commands):
        assert command.help, words
        for option in command.params:
            if option.name not in ("help", "install_completion", "show_completion"):
                assert getattr(option, "help", None), (words, option.name)
        assert run(app, [*words, "--help"]).exit_code == 0


def test_the_database_may_be_named_before_the_command_or_after_it(tmp_path):
    named = typer.Typer(cls=ShopGroup, rich_markup_mode=None)

    @named.callback()
    def root(db: str | None = typer.Option(None, "--db")) -> None: ...

    @named.command()
    def where(db: DbOption = None) -> None:
        print(db)

    group = typer.Typer()
    group.command("deep")(where)
    named.add_typer(group, name="group")
    for words in (["--db", "a", "where"], ["where", "--db", "a"], ["--db", "b", "where", "--db", "a"]):
        assert run(named, words).stdout == "a\n"
    assert run(named, ["--db", "a", "group", "deep"]).stdout == "a\n"
    assert run(named, ["where"]).stdout == "None\n"


def start(*words: str, **options) -> subprocess.Popen:
    environment = os.environ | {"PYTHONPATH": str(Path.cwd()), "PYTHONIOENCODING": "ascii"}
    return subprocess.Popen(
        [sys.executable, "-c", "from shopquote.cli.app import main; main()", *words],
        env=environment,
        **options,
    )


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    with start("--help", stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.close()
        said = process.stderr.read()
    assert said == b""
    assert process.returncode in (0, 141)


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_a_stop_by_the_person_ends_quietly(tmp_path):
    fifo = tmp_path / "slow.toml"
    code = (
        "import signal, time, shopquote.services.jobs.check as jobs\n"
        # A shell that runs tests in the background has its children ignore the signal.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "jobs.check_jobs = lambda *_: (print('ready', flush=True), time.sleep(30))\n"
        "from shopquote.cli.app import main; main()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, "check", str(fifo)], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout.readline() == b"ready\n"
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        said = process.stderr.read()
    assert (process.returncode, said) == (130, b"")


def test_a_terminal_without_an_accent_still_shows_the_message(tmp_path):
    with start("check", str(tmp_path / "träger.toml"), stderr=subprocess.PIPE) as process:
        said = process.stderr.read()
    assert process.returncode == 3
    assert b"tr?ger.toml: there is no such file" in said


def test_the_help_loads_nothing_heavy():
    code = (
        "import sys; from shopquote.cli.app import app\n"
        "import typer; dict(typer.main.get_command(app).commands)\n"
        "heavy = {'rich', 'sqlalchemy', 'openpyxl', 'numpy', 'highspy', 'alembic', 'PIL', 'babel'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_a_list_of_jobs_has_no_class_prepared_a_what_if_no_solver_and_a_quote_no_log(shop, tmp_path):
    path = shop.url.database
    code = (
        "import sys; from shopquote.cli.app import app\n"
        "from sqlalchemy import event; from sqlalchemy.orm import Mapper\n"
        "event.listen(Mapper, 'before_configured', lambda: print('classes prepared'))\n"
        "app(sys.argv[1:], standalone_mode=False)\n"
        "print('numpy' in sys.modules, 'shopquote.records.logs' in sys.modules)"
    )

    def said(*words):
        argv = [sys.executable, "-c", code, *words, "--db", path]
        return subprocess.run(argv, capture_output=True, text=True, check=True).stdout

    said("job", "add", str(HOOKS))
    assert said("quote", "1", "--out", str(tmp_path)).endswith("True False\n")
    assert said("quote", "1", "--what-if", "margin=45").endswith("False False\n")
    assert "classes prepared" in said("job", "show", "1")
    listed = said("job", "list")
    assert "Coat hooks" in listed and "classes prepared" not in listed


def test_what_writes_loads_the_checks_of_all_records_once_a_day_at_most(shop):
    path = Path(shop.url.database)
    path.touch()
    code = (
        "import sys; from shopquote.cli.app import app\n"
        f"app(['customers', 'set', 'Weir Farm', '--db', {str(path)!r}], standalone_mode=False)\n"
        "heavy = {'shopquote.services.safe.checks', 'shopquote.records.quotes', 'numpy', 'alembic'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.endswith("[]\n")
    assert not path.with_name(f"{path.stem}.backups").exists()
