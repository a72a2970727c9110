"""Links in place of commands: a service's hint names a command, the page links to what does the same.

Services word their hints for the command line. Here each command in a text becomes a link to the page that
does the same (its "door"); a command that no page covers stays as it is. Begin at `doors`.
"""

import re
from collections.abc import Callable, Iterator
from typing import Any

from flask import g, has_request_context, url_for
from markupsafe import Markup, escape

from shopquote.services.shop.shop_lists import LISTS

# A command ends at the end of its sentence.
_COMMAND = re.compile(
    r"shopquote (?P<first>[a-z-]+)(?P<rest>(?: (?:\"[^\"]*\"|[^\s.,;:)\"]+(?:[.:][^\s.,;:)\"]+)*))*)"
)
_NUMBER = re.compile(r"\b([A-Z])-\d+\b")
_BETWEEN_SENTENCES = re.compile(r"(?<=[.;])\s+")

Door = tuple[str, str]  # the address of the link, and its text


def _lists(first: str, rest: str) -> Door | None:
    return (url_for("shop.entries", name=first), f"Shop, {first}") if first in LISTS else None


def _of_number(kind: str, endpoint: str, key: str, words: str) -> Callable[[str, str], Door | None]:
    """A door to the page of the first number with this letter: J a job, O an order, R a piece."""

    def door(first: str, rest: str) -> Door | None:
        found = next((one for one in _NUMBER.finditer(rest) if one[1] == kind), None)
        values: dict[str, Any] = {key: found[0]} if found else {}
        return (url_for(endpoint, **values), words.format(found[0])) if found else None

    return door


def _room(endpoint: str, words: str, *, only: str = "") -> Callable[[str, str], Door | None]:
    """A door to one page, whatever the command's words; with `only`, just for these second words."""
    known = only.split()

    def door(first: str, rest: str) -> Door | None:
        said = rest.split()
        return (url_for(endpoint), words) if not known or (said and said[0] in known) else None

    return door


def _timer(first: str, rest: str) -> Door | None:
    """The door of `log --start` and `--stop`: the floor's timer; in the office, where minutes are typed."""
    runs = re.search(r"--(start|stop)\b", rest) and "--minutes" not in rest
    return (url_for("floor.work"), "Work, on the floor") if runs else None


def _standards(first: str, rest: str) -> Door | None:
    """The door of `review --accept`: the review over the same days."""
    days = dict(re.findall(r"--(month|since) ([\d-]+)", rest))
    taken = "--accept" in rest
    return (url_for("review.show", _anchor="standards", **days), "the suggested standards") if taken else None


_JOB = _of_number("J", "quote.show", "job", "the page of {}")
_JOBS = _room("office.jobs", "All jobs")
# The first door whose words match is taken, so special ones come first.
DOORS: dict[str, tuple[Callable[[str, str], Door | None], ...]] = {
    "order": (_of_number("O", "bars.order", "number", "the page of {}"), _room("bars.needs", "Bars")),
    "receive": (_of_number("O", "bars.order", "number", "the page of {}"), _room("bars.needs", "Bars")),
    "rack": (_of_number("R", "bars.piece", "code", "the page of {}"), _room("bars.rack", "the rack")),
    "log": (
        _timer,
        _of_number("J", "logged.show", "job", "what is logged on {}"),
    ),
    "close": (_of_number("J", "quote.close", "job", "the closing of {}"),),
    "job": (_JOB, _room("price.new", "New price", only="add"), _JOBS),
    "quote": (_JOB,),
    "quotes": (_JOB, _JOBS),
    "floor": (_JOB,),
    "review": (_standards, _room("review.show", "Review")),
    "setup": (
        _room("first.rates", "the rates that matter", only="--rates"),
        _room("shop.lists", "Shop", only="--drop-invented"),
        _room("details.details", "the shop's details"),
    ),
    "db": (_room("shop.lists", "Shop", only="backup restore"),),
}


# The label of the check box that confirms an unusual figure, on each form that has one.
SURE = "yes, I checked this"
# An option and its value, as messages of services write it.
_WITH_OPTION = re.compile(r": ?--[a-z-]+ [A-Z]+(?=[.;]|$)")
_OPTION = re.compile(r"(?<![\w-])--(?=[a-z])")


def without_options(text: str) -> str:
    """A message without names of options, for a user of a form; whole commands in it stay as they are."""
    text = text.replace("say so: --sure", f'tick "{SURE}"')
    return text if "shopquote " in text else _OPTION.sub("", _WITH_OPTION.sub("", text))


def outside_commands(text: str, change: Callable[[str], str]) -> str:
    """Apply `change` to a text except to the whole commands in it, which `doors` must still find."""
    told, at = [], 0
    for found in _COMMAND.finditer(text):
        told += [change(text[at : found.start()]), found[0]]
        at = found.end()
    return "".join([*told, change(text[at:])])


def door_of(first: str, rest: str) -> Door | None:
    """Address and words of the page that does what a command does; None if there is none."""
    for known in (*DOORS.get(first, ()), _lists):
        found = known(first, rest)
        if found is not None:
            return found
    return None


def doors(text: str) -> Markup:
    """A service's text as HTML, each command in it as a link to the page that does the same.

    For floor devices, which the office's pages refuse, whole sentences with such a command are left out.
    """
    if _floor():
        told = [one for one in _BETWEEN_SENTENCES.split(text) if not any(map(_is_office, _doors_in(one)))]
        text = re.sub(";$", ".", " ".join(told))
    said, at = Markup(""), 0
    for found, door in _doors_in(text):
        said += escape(text[at : found.start()]) + Markup('<a href="{}">{}</a>').format(*door)
        at = found.end()
    return said + escape(text[at:])


def _doors_in(text: str) -> Iterator[tuple[re.Match[str], Door]]:
    for found in _COMMAND.finditer(text):
        door = door_of(found["first"], found["rest"])
        if door is not None:
            yield found, door


def _is_office(found: tuple[re.Match[str], Door]) -> bool:
    return not found[1][0].startswith(url_for("floor.home"))


def doors_in_words(text: str) -> str:
    """Like `doors`, as plain text without links."""
    return doors(text).striptags() if "shopquote " in text else text


def _floor() -> bool:
    """Whether the request is from a floor device, which may not open the office's pages."""
    return has_request_context() and getattr(getattr(g, "device", None), "role", "office") != "office"
