"""The doors of `fuzz_doors` that need a shop: every command and every form of the page, in one process.

A shop in which everything has happened once is made anew after some hundred inputs, by copying one file.
"""

import contextlib
import os
import random
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import typer
from typer.testing import CliRunner

from shopquote.cli.app import app
from shopquote.page.app import create_app
from shopquote.records.engine import copy_sqlite
from shopquote.services.shop.database import open_database
from shopquote.services.shop.new_shop import set_up
from tests.page.conftest import HOST, Browser
from tests.services.safe.planted_shop import make_busy_shop

# A command and what is done, or a form and what is posted: its words, and the doing of it.
Door = Callable[[], tuple[str, Callable[[], object]]]
ANEW_AFTER = 300
REFUSALS = (0, 2, 3, 4, 5)
NEVER = ("serve", "demo")  # the one does not end, the other takes the time of a thousand
RUNNER = CliRunner()
SAMPLES = Path(__file__).parents[2] / "sample_jobs"
_PLAIN = """
J-0001 J-0002 J-0003 J-0004 J-9999 1 2 O-0001 O-0002 Q-0001 R-0001 R-0002 A 95 1:30 12.5 S275 6000 Wyn
bending welding won lost accepted name price today 2026-03-09 2026-03-10 --json -1 0 5 yes no name=x
bending=30 A=2 1=3 250:2 6000:11.40 2,4 margin=20 x.csv x.xlsx x.toml x.zip x.pdf
"""
_FILES = ("fire_grate.toml", "logged/fire_grate.toml", "lists/cut_list.csv", "lists/price_list.csv")
WORDS = [
    *_PLAIN.split(), *(f"given/{name}" for name in _FILES),
    "", "round 12", "flat 40 x 8", "Dovecote Bakery", "leg 300; bend 90 r 24; leg 600",
]  # fmt: skip
_PRICE = (
    "job-0-title=Hooks&job-0-customer=Dovecote Bakery&job-0-sets=3&part-0-mark=A&part-0-per_set=2&"
    "part-0-bar=flat 40 x 6&part-0-grade=S275&part-0-shape=leg 250; bend 90 r 36; leg 300"
)


@contextmanager
def shop_doors(folder: Path, chance: random.Random, spoil: Callable[[str], str]) -> Iterator[dict[str, Door]]:
    """The doors by name, over a shop in `folder`, where whatever a command writes goes too."""
    made = folder / "made.db"
    with open_database(str(made), create=True) as database, database.session() as session:
        set_up(session, on=date(2026, 3, 2))
    copy_sqlite(made, folder / "plain.db")
    (folder / "busy").mkdir()
    busy = make_busy_shop(folder / "plain.db", folder / "busy")
    work = folder / "work"
    work.mkdir()
    before, home = Path.cwd(), os.environ.get("XDG_DATA_HOME")
    os.environ |= {"SHOPQUOTE_DB": str(work / "shop.db"), "XDG_DATA_HOME": str(folder / "data")}
    os.chdir(work)
    shop = _Shop(busy, work, chance, spoil)
    try:
        yield {"command": shop.command, "cut list": shop.cut, "form": shop.form, "live price": shop.price}
    finally:
        shop.close()
        os.chdir(before)
        os.environ.pop("SHOPQUOTE_DB")
        os.environ.pop("XDG_DATA_HOME") if home is None else os.environ.update(XDG_DATA_HOME=home)


class _Shop:
    """The shop as it is in this moment, and what is said to it next."""

    def __init__(self, busy: Path, work: Path, chance: random.Random, spoil: Callable[[str], str]) -> None:
        self.busy, self.work, self.chance, self.spoil = busy, work, chance, spoil
        self.commands = [
            (words, command)
            for words, command in _leaves(typer.main.get_command(app), ())
            if words and words[0] not in NEVER
        ]
        self.names = _field_names()
        self.used = 0
        self.database: Any = None
        self.anew()

    def close(self) -> None:
        """Let go of the database."""
        if self.database is not None:
            self.database.close()

    def anew(self) -> None:
        """Put the shop back as it was."""
        self.close()
        for path in self.work.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        shutil.copy(self.busy, self.work / "shop.db")
        shutil.copytree(SAMPLES, self.work / "given")  # a command may write over what it is given
        self.database = open_database(str(self.work / "shop.db"))
        page = create_app(self.database, hosts=frozenset({HOST}))
        self.browsers = [Browser(page).let_in(role) for role in ("office", "floor")]
        self.forms = [rule for rule in page.url_map.iter_rules() if rule.methods and "POST" in rule.methods]

    def _turn(self) -> None:
        self.used += 1
        if self.used % ANEW_AFTER == 0:
            self.anew()

    def _word(self) -> str:
        word = self.chance.choice(WORDS)
        return self.spoil(word) if self.chance.random() < 0.3 else word

    def command(self) -> tuple[str, Callable[[], object]]:
        """A command with words for some of its arguments and options, a third of them spoilt."""
        self._turn()
        words, command = self.chance.choice(self.commands)
        told = list(words)
        for parameter in command.params:
            option = parameter.param_type_name == "option"
            if parameter.name in ("help", "db") or self.chance.random() < (0.7 if option else 0.1):
                continue
            if option:
                told.append(self.chance.choice(parameter.opts))
            if not getattr(parameter, "is_flag", False):
                more = self.chance.randint(1, 2) if parameter.nargs == -1 else max(parameter.nargs, 1)
                told += [self._word() for _ in range(more)]
        told = [word.replace("\x00", "") for word in told]
        return repr(told), partial(self._run, told)

    def cut(self) -> tuple[str, Callable[[], object]]:
        """A cut list with spoilt options."""
        options = self.chance.choice(
            ["--stock 6000:11.40 --kerf 2 --keep 300:50 --rack 3000:2:4", "--stock 3m --trim 5"]
        )
        words = [word.replace("\x00", "") for word in self.spoil(options).split(" ")]
        told = ["cut", "given/lists/cut_list.csv", *words]
        return repr(told), partial(self._run, told)

    def _run(self, words: list[str]) -> None:
        done = RUNNER.invoke(app, words)
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        wrong = done.exit_code not in REFUSALS
        # Checks and copies of a shop may find a fault; a command that was given a path may name no database.
        if wrong and not (done.exit_code == 6 and words[0] in ("db", "setup")):
            raise AssertionError(f"exit code {done.exit_code}: {done.output[-300:]}")

    def price(self) -> tuple[str, Callable[[], object]]:
        """The new price of the page, its fields spoilt one and all."""
        text = self.spoil(_PRICE)
        fields = dict(field.partition("=")[::2] for field in text.split("&"))
        return text, partial(self._post, self.browsers[0], "/price/live", fields)

    def form(self) -> tuple[str, Callable[[], object]]:
        """Any form of the page, with names of fields that its own page has, or another's."""
        self._turn()
        rule = self.chance.choice(self.forms)
        address = re.sub(r"<[^>]*>", lambda _: self._word().replace("/", "-") or "x", rule.rule)
        browser = self.browsers[1 if rule.rule.startswith("/f") else 0]
        fields = {name: self._word() for name in self._fields() if self.chance.random() < 0.7}
        return f"{address} {fields}", partial(self._post, browser, address, fields)

    def _fields(self) -> list[str]:
        """Some of the names that fields of forms have anywhere on the page."""
        return self.chance.sample(self.names, 12)

    def _post(self, browser: Browser, address: str, fields: dict[str, str]) -> None:
        answer = browser.post(address, fields)
        if answer.status_code >= 500:
            raise AssertionError(f"status {answer.status_code}: {answer.text[:300]}")


def _field_names() -> list[str]:
    """Names of fields, as the templates of the page write them and its rooms ask for them."""
    held = Path(create_app.__code__.co_filename).parent
    texts = [
        path.read_text(encoding="utf-8") for ending in ("html", "py") for path in held.rglob(f"*.{ending}")
    ]
    pattern = r'name="([\w-]+)"|(?:form|args)[.\w]*[\[(]"([\w-]+)"'
    found = {one or other for text in texts for one, other in re.findall(pattern, text)}
    return sorted(found - {"token"})


def _leaves(command: Any, words: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command that can be typed, with its words."""
    children = getattr(command, "commands", {})
    if not children or getattr(command, "invoke_without_command", False):
        yield words, command
    for name in children:
        with contextlib.suppress(KeyError):
            yield from _leaves(children[name], (*words, name))
