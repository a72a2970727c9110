"""Access control: hosts, cookies, form tokens, codes and limits on guessing. A shop's network has strangers.

Begin at `Guard.before`, which every request passes, and `Guard.after`, which every response passes.
"""

import hashlib
import hmac
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from threading import Lock
from urllib.parse import urlsplit

from flask import Flask, Response, abort, g, redirect, request, url_for

from shopquote.calc.numbers import is_obeyed
from shopquote.page.desk import desk
from shopquote.services.shop.devices import device_of, let_in, needs_noting, note_seen

COOKIE = "shopquote_device"
MOST_TRIES, TRY_SECONDS = 5, 300.0  # wrong codes from one address before it must wait
MOST_TRIES_OF_ALL = 30  # from all addresses together in that time; a code has a million values
# Bounded, so that guesses from ever new addresses cannot fill the memory.
MOST_ADDRESSES = 10_000
# Long enough to walk from the office to the far end of the shop and type the code.
CODE_SECONDS = 600.0

# Nothing loaded from elsewhere, no inline script or style, no framing by other sites.
POLICY = "; ".join(
    (
        "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self'", "connect-src 'self'",
        "font-src 'self'", "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'",
    )
)  # fmt: skip
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=()",
    "Cache-Control": "no-store",
}
FREE = frozenset({"static", "guard.enter", "guard.code"})  # endpoints that need no cookie


@dataclass
class Tries:
    """Wrong guesses by address, the oldest forgotten; `clock` gives monotonic seconds."""

    clock: Callable[[], float] = time.monotonic
    _seen: OrderedDict[str, list[float]] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)

    def too_many(self, address: str) -> bool:
        """Whether this address, or all addresses together, must wait."""
        with self._lock:
            since = self.clock() - TRY_SECONDS
            recent = {who: sum(at > since for at in times) for who, times in self._seen.items()}
            return recent.get(address, 0) >= MOST_TRIES or sum(recent.values()) >= MOST_TRIES_OF_ALL

    def note(self, address: str) -> None:
        """Record a wrong guess."""
        with self._lock:
            since = self.clock() - TRY_SECONDS
            kept = [at for at in self._seen.pop(address, []) if at > since]
            self._seen[address] = [*kept, self.clock()]
            while len(self._seen) > MOST_ADDRESSES:
                self._seen.popitem(last=False)


@dataclass
class Codes:
    """The one-time word of the address that `serve` opens, and the office's codes; each is good once."""

    clock: Callable[[], float] = time.monotonic
    word: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    _codes: dict[str, tuple[str, float]] = field(default_factory=dict)
    _lock: Lock = field(default_factory=Lock)

    def new_code(self, role: str) -> str:
        """Six digits that let one device in as office or floor for ten minutes; an older code ends."""
        with self._lock:
            self._forget()
            for other in [code for code, (of, _) in self._codes.items() if of == role]:
                del self._codes[other]
            code = f"{secrets.randbelow(1_000_000):06d}"
            while code in self._codes:
                code = f"{secrets.randbelow(1_000_000):06d}"
            self._codes[code] = (role, self.clock() + CODE_SECONDS)
            return code

    def take_code(self, code: str) -> str | None:
        """Use up a code and return its role; None if there is no such code."""
        with self._lock:
            self._forget()
            for known in self._codes:
                if hmac.compare_digest(known.encode(), code.encode()):
                    return self._codes.pop(known)[0]
            return None

    def take_word(self, word: str) -> bool:
        """Whether this is the one-time word; a match uses it up."""
        with self._lock:
            if not self.word or not hmac.compare_digest(self.word.encode(), word.encode()):
                return False
            self.word = ""
            return True

    def _forget(self) -> None:
        now = self.clock()
        for code in [code for code, (_, until) in self._codes.items() if until <= now]:
            del self._codes[code]


class Guard:
    """Checks each request: the host is ours, the device was let in, a form came from our own page."""

    def __init__(self, hosts: frozenset[str]) -> None:
        self.hosts, self.tries, self.codes = hosts, Tries(), Codes()

    def before(self) -> Response | None:
        """Refuse a request that is not from a known device; sets `g.device`."""
        if request.host.lower() not in self.hosts:
            abort(
                421, "This name is not one of this machine's: open the address that shopquote serve prints."
            )
        if request.method not in ("GET", "HEAD", "POST"):
            abort(405)
        g.device = None
        word = request.cookies.get(COOKIE, "")
        if word and request.endpoint != "static":
            g.device = self._known(word)
        if request.method == "POST":
            self._check_origin()
        free = request.endpoint in FREE
        if g.device is None and not free:
            return _to_the_code()
        if not free and g.device.role == "floor" and not (request.endpoint or "").startswith("floor."):
            return _to_the_floor()
        # Only now: the body of a stranger's request is never parsed.
        if any(map(is_obeyed, _texts_sent())):
            abort(400, "What was sent holds a control character; take it out and send it again.")
        if request.method == "POST" and not free:
            _check_token()
        return None

    def _known(self, word: str):  # type: ignore[no-untyped-def]
        held = desk()
        with held.database.reading() as session:
            device = device_of(session, word, at=held.now())
        if device is not None and needs_noting(device, held.now()):
            with held.writing() as session:
                note_seen(session, device.id, at=held.now())
        return device

    def _check_origin(self) -> None:
        """Refuse a form from another origin: browsers send the origin, and a foreign page cannot fake it."""
        origin = request.headers.get("Origin")
        if origin is None and (referrer := request.headers.get("Referer")):
            parts = urlsplit(referrer)
            origin = f"{parts.scheme}://{parts.netloc}"
        if origin is None or urlsplit(origin).netloc.lower() not in self.hosts:
            abort(403, "This form comes from another page.")
        if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
            abort(403, "This form comes from another page.")

    def after(self, answer: Response) -> Response:
        """Set the security headers that every response has."""
        for name, value in HEADERS.items():
            answer.headers.setdefault(name, value)
        if request.endpoint == "static" and answer.status_code == 200:
            answer.headers["Cache-Control"] = "private, max-age=0, must-revalidate"
        return answer

    def open_for(self, role: str, name: str, to: str) -> Response:
        """Let this browser in and redirect it. The cookie is same-site and not readable by scripts."""
        held = desk()
        with held.writing() as session:
            word = let_in(session, name, role, at=held.now())
        answer = redirect(
            to if _is_ours(to) else url_for("floor.home" if role == "floor" else "office.start")
        )
        assert isinstance(answer, Response)
        answer.set_cookie(COOKIE, word, httponly=True, samesite="Strict", secure=request.is_secure, path="/")
        return answer


def _texts_sent() -> Iterator[str]:
    """Every text in a request: of its address, its form, and JSON at any depth."""
    for values in (request.args, request.form):
        for _name, text in values.items(multi=True):
            yield text.replace("\r\n", "\n")
    if request.is_json:
        yield from _texts_in(request.get_json(silent=True))


def _texts_in(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value.replace("\r\n", "\n")
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts_in(item)
    elif isinstance(value, list):
        for item in value:
            yield from _texts_in(item)


def _to_the_floor() -> Response:
    """Redirect a floor device from the bare address to the floor's first page; refuse any other page."""
    if request.endpoint != "office.start":
        abort(403, "This device is let in for the floor; prices and lists are the office's.")
    answer = redirect(url_for("floor.home"))
    assert isinstance(answer, Response)
    return answer


def _to_the_code() -> Response:
    """Redirect an unknown device that asks for a page to the code form; refuse anything else."""
    if request.method != "GET" or not request.accept_mimetypes.accept_html:
        abort(401, "This device is not let in, or its time is over.")
    answer = redirect(url_for("guard.code", to=request.full_path.rstrip("?")))
    assert isinstance(answer, Response)
    return answer


def _check_token() -> None:
    """Refuse a form without this device's token, which no other site can read."""
    sent = request.headers.get("X-Form-Token") or request.form.get("token") or ""
    if not hmac.compare_digest(sent.encode(), form_token().encode()):
        abort(
            403, "This form is not from this page, or from before the last time it was opened: load it again."
        )


def form_token() -> str:
    """The token in every form of this device, derived from its cookie, which no other site can read."""
    word = request.cookies.get(COOKIE, "")
    return hmac.new(word.encode(), b"form", hashlib.sha256).hexdigest() if word else ""


def _is_ours(to: str) -> bool:
    """Whether this is a path of our own, not another site's address (`//site`) in disguise."""
    return (
        to.startswith("/") and not to.startswith(("//", "/\\")) and "\\" not in to and not urlsplit(to).netloc
    )


def add_guard(app: Flask, guard: Guard) -> None:
    """Run the guard before every request and after every response of the application."""
    app.before_request(guard.before)
    app.after_request(guard.after)
    app.extensions["guard"] = guard
