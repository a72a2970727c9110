"""The server behind `shopquote serve`: addresses, threads, the browser. Begin at `run`."""

import logging
import socket
import threading
import webbrowser
from contextlib import suppress
from typing import Any
from urllib.request import HTTPCookieProcessor, Request, build_opener

from waitress.server import create_server

from shopquote.errors import InputError
from shopquote.page.app import MOST_UPLOAD_BYTES, create_app
from shopquote.page.guard import Guard
from shopquote.services.shop.database import Database, open_database
from shopquote.services.shop.shop_on_file import is_set_up, the_shop

HOME = "127.0.0.1"
# Enough for a small office and a floor of phones; a request that waits for the database holds a thread.
THREADS = 8
READ_SECONDS = 60  # seconds until a silent connection is closed
# A browser keeps up to six open; a shop of ten people with phones and tablets stays far below.
MOST_CONNECTIONS = 200
# Documentation addresses (RFC 5737): nothing is sent; the system only tells which interface it would use.
NOWHERE = ("192.0.2.1", 9)


def run(
    url: str | None,
    *,
    port: int,
    lan: bool,
    proxy_name: str | None,
    browser: bool,
    try_only: bool = False,
    new: bool = False,
) -> None:
    """Serve the page until it is stopped.

    Args:
        url: the database as typed with --db.
        port: to listen on; 0 takes a free one.
        lan: listen on the network too.
        proxy_name: the name by which a proxy on this machine serves the page over HTTPS.
        browser: open the page here.
        try_only: ask for the first page and end.
        new: make the database where there is none; its first page asks for the shop's details.

    Raises:
        DatabaseError: it cannot be used. InputError: the port is taken.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(message)s")
    # waitress warns of every request that waits for a thread, which is usual on a busy floor.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    listener = _listen("0.0.0.0" if lan else HOME, port)
    port = listener.getsockname()[1]
    ours = own_addresses() if lan else ()
    with open_database(url, create=new) as database:
        app = create_app(
            database,
            hosts=hosts_of(port, ours, proxy_name),
            url=url,
            addresses=(f"https://{proxy_name}/",)
            if proxy_name
            else tuple(f"http://{one}:{port}/" for one in ours),
        )
        trusted = (
            {
                "trusted_proxy": HOME,
                "trusted_proxy_count": 1,
                "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
            }
            if proxy_name
            else {}
        )
        server = create_server(
            app, sockets=[listener], threads=THREADS, channel_timeout=READ_SECONDS, ident=None,
            connection_limit=MOST_CONNECTIONS, max_request_body_size=MOST_UPLOAD_BYTES,
            clear_untrusted_proxy_headers=True, **trusted,
        )  # fmt: skip
        guard: Guard = app.extensions["guard"]
        address = f"http://{HOME}:{port}/in?word={guard.codes.word}"
        print(
            f"The page is open at {address}\nThe address counts once. Stop the page with Ctrl and C.",
            flush=True,
        )
        if lan:
            shown = ", ".join(f"http://{one}:{port}/" for one in ours) or "none was found"
            print(f"Other devices: {shown} with a code from Shop, Devices.", flush=True)
            if ours and not _page_address(database):
                print(
                    f"So that printed codes open here: shopquote house set page_address http://{ours[0]}:{port}",
                    flush=True,
                )
        if try_only:
            threading.Thread(target=run_until_closed, args=(server,), daemon=True).start()
            _ask(address)
            print("The first page answers.")
            # A thread that has answered still wakes the loop by a pipe: it must end before the pipe closes.
            server.task_dispatcher.shutdown()
            server.close()
            return
        if browser:
            webbrowser.open(address)
        # On Ctrl-C waitress ends by itself and just returns.
        with suppress(KeyboardInterrupt):
            server.run()
        print("\nStopped.")


def _page_address(database: Database) -> str:
    """The house rule page_address; empty if it is not set or there is no shop."""
    with database.reading() as session:
        return the_shop(session).page_address if is_set_up(session) else ""


def run_until_closed(server: Any) -> None:
    """Serve until another thread closes the server, whose loop then fails on closed sockets, as expected."""
    with suppress(OSError, ValueError):
        server.run()


def hosts_of(port: int, ours: tuple[str, ...], proxy_name: str | None) -> frozenset[str]:
    """Accepted values of the Host header: addresses and the machine's name with the port, or the proxy's."""
    names = {HOME, "localhost", *ours}
    if ours:
        # Phones find the machine by its mDNS name, which ends in ".local".
        names |= {
            socket.gethostname().lower(),
            f"{socket.gethostname().lower().removesuffix('.local')}.local",
        }
    hosts = {f"{name}:{port}" for name in names}
    # Browsers leave the default port out of the Host header.
    if port == 80:
        hosts |= names
    return frozenset(hosts | ({proxy_name.lower()} if proxy_name else set()))


def own_addresses() -> tuple[str, ...]:
    """The IPv4 addresses of this machine on its networks."""
    found: set[str] = set()
    with suppress(OSError):  # the host name does not resolve; the probe below remains
        found.update(socket.gethostbyname_ex(socket.gethostname())[2])
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe,
        suppress(OSError),
    ):  # no network at all, so no address
        # Connecting a UDP socket sends nothing; it only selects the interface.
        probe.connect(NOWHERE)
        found.add(probe.getsockname()[0])
    return tuple(sorted(one for one in found if not one.startswith("127.")))


def _listen(host: str, port: int) -> socket.socket:
    try:
        # So that the port can be reused right after a stop, while old connections are in TIME_WAIT.
        return socket.create_server((host, port), backlog=128)
    except OSError as error:
        raise InputError(
            f"Port {port} cannot be used: {error.strerror or error}.",
            hint="Name another, or 0 for any that is free: shopquote serve --port 0",
        ) from error


def _ask(address: str) -> None:
    """Request the first page as a browser would."""
    opener = build_opener(HTTPCookieProcessor())
    with opener.open(Request(address, headers={"Accept": "text/html"}), timeout=30) as answer:
        if b"/code" in answer.url.encode():
            raise InputError("The page asks this computer for a code to let it in.")
