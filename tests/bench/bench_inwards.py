"""Whether a quote holds what `order` then costs; run it by hand: python -m tests.bench.bench_inwards [JOBS]

Wish, under the rule "whole to the job": on 100 random jobs of one to four sections the quoted material, with
deliveries, is at least what the order costs, without an exception. The tests run the first 8 of them. And in
JOBS random markets takeoff, quote and order buy the same for the same money.
"""

import random
import sys
import tempfile
from pathlib import Path
from time import process_time

from shopquote.errors import CannotMakeError
from shopquote.services.shop.database import Database, open_database
from shopquote.services.shop.new_shop import set_up
from tests.services.quotes.test_inwards import (
    DAY,
    bought,
    change_market,
    of_three_doors,
    quoted_and_bought,
    random_job,
)


def main(jobs: int) -> int:
    """Quote and buy that many jobs; the number of those quoted below their order."""
    began, short, over = process_time(), [], []
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "shop.db")
        with open_database(path, create=True) as database:
            with database.session() as session:
                set_up(session, on=DAY)
            for seed in range(jobs):
                material, cost = quoted_and_bought(database, random_job(random.Random(seed)))
                if cost > material:
                    short.append((seed, material, cost))
                over.append(float(material / cost - 1) * 100)
            other = [seed for seed in range(jobs) if differ(database, seed)]
    for seed in other:
        print(f"MISSED: in market {seed} takeoff, quote and order do not buy the same")
    for seed, material, cost in short:
        print(f"MISSED: job {seed} is quoted {material}, its order costs {cost}")
    print(
        f"{jobs} jobs: {len(other)} bought otherwise by another door; {len(short)} below their order, "
        f"{min(over):.2f} to {max(over):.2f} % above it, "
        f"{process_time() - began:.0f} s of the processor"
    )
    return len(short) + len(other)


def differ(database: Database, seed: int) -> bool:
    """Whether the three doors buy otherwise in a random market; a size that nobody has is no difference."""
    rng = random.Random(seed)
    with database.trial() as session:
        change_market(session, rng)
        try:
            made = {repr(bought(plan)) for plan in of_three_doors(session, random_job(rng))}
        except CannotMakeError:
            return False
    return len(made) > 1


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]) if len(sys.argv) > 1 else 100) else 0)
