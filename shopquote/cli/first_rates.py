"""The questions of `shopquote setup` about the rates that matter, with their effect on a sample price."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from shopquote.services.shop.clock import now

if TYPE_CHECKING:
    from shopquote.services.quotes.first_rates import FirstRate, SamplePrice
    from shopquote.services.shop.database import Database

TakeList = Callable[["Database", str, Path], None]


class Walk:
    """Asks the questions one after the other; each answer is stored as soon as it is typed."""

    def __init__(self, database: "Database", take_list: TakeList) -> None:

        self.database, self.take_list, self.at = database, take_list, now()
        self.sample = self._sample()
        self.typed: dict[FirstRate, str] = {}

    def go(self) -> None:
        """Ask every question. Ctrl-C or the end of input stops; answers given so far are kept."""
        from shopquote.services.quotes.first_rates import FIRST_RATES, SAMPLE

        invented = self.sample.invented
        told = " Its bars and benders are invented until yours are on file." if invented else ""
        typer.echo(f"The sample, {SAMPLE}.toml, costs {self.sample.net} before tax now.{told}")
        typer.echo("Enter keeps the value in brackets.")
        try:
            for number, rate in enumerate(FIRST_RATES, 1):
                self._ask(f"{number:2}. {rate.question}", rate)
        except typer.Abort:
            typer.echo("\nThe rest stays as it is; to go on later: shopquote setup --rates")

    def _ask(self, question: str, rate: "FirstRate") -> None:
        """Ask until the answer is valid, then print its effect on the sample's price."""
        from shopquote.errors import ShopquoteError
        from shopquote.outputs.tables.show import print_error

        while True:
            now, ask = self._on_file(rate), question
            if now is None:
                return
            typed = str(typer.prompt(ask, default=now, show_default=bool(now), err=True)).strip()
            try:
                if self._store(rate, typed, now):
                    self._tell(rate)
                return
            except ShopquoteError as error:
                print_error(error)

    def _on_file(self, rate: "FirstRate") -> str | None:
        """The value on file, which Enter keeps; None if the question does not apply to this shop."""
        from shopquote.services.quotes import first_rates as first
        from shopquote.services.shop.new_shop import benders_to_start_from

        if rate in first.USUAL_PARTS:
            return first.USUAL_PARTS[rate] if self.typed.get(first.WAGE) else None
        with self.database.reading() as session:
            if rate is first.BENDER:
                names = benders_to_start_from(session)
                return names[0] if names else None
            if rate.of:
                return first.answer_on_file(session, rate, self.at.date())
        return ""

    def _store(self, rate: "FirstRate", typed: str, now: str) -> bool:
        """Store the answer, and return whether it can have changed the price."""
        from shopquote.services.quotes import first_rates as first
        from shopquote.services.shop.new_shop import store_bender

        self.typed[rate] = typed
        on = self.at.date()
        if rate is first.PRICE_LIST:
            return bool(typed) and self._take_list(typed)
        # Enter stores nothing: an entry dated today would claim that somebody set the value.
        if typed == now and (rate.of or rate in (first.WAGE, *first.USUAL_PARTS)):
            return False
        with self.database.session() as session:
            if rate in (first.WAGE, *first.USUAL_PARTS):
                # Questions still to come count with their usual value: each answer shows its own effect.
                on_costs, in_jobs = (self.typed.get(part, usual) for part, usual in first.USUAL_PARTS.items())
                hourly = first.store_wage(session, self.typed[first.WAGE], on_costs, in_jobs, on)
                typer.echo(f"    an hour of any work at {hourly}")
            elif rate is first.BENDER:
                store_bender(session, typed)
            else:
                first.store_answer(session, rate, typed, on)
        return True

    def _take_list(self, typed: str) -> bool:
        from shopquote.errors import InputError

        file = Path(typed).expanduser()
        if not file.is_file():
            raise InputError(f"{typed!r}: expected the name of a file that is there, or nothing.")
        self.take_list(self.database, typer.prompt("    Name of that supplier", err=True).strip(), file)
        return True

    def _tell(self, rate: "FirstRate") -> None:
        """Print the sample's price after the last answer, with tax if the answer was about tax."""
        from shopquote.services.quotes.first_rates import TAX

        was, self.sample = self.sample, self._sample()
        with_tax = rate is TAX
        before, price = (one.total if with_tax else one.net for one in (was, self.sample))
        what = "the sample with tax" if with_tax else "the sample"
        moved = f" ({price - before:+})" if price != before else ", the same"
        typer.echo(f"    {what}: {before} -> {price}{moved}")

    def _sample(self) -> "SamplePrice":
        from shopquote.services.quotes.first_rates import priced_sample

        # Pricing the sample stores its job for a moment; the rollback removes it.
        with self.database.trial() as session:
            return priced_sample(session, self.at)
