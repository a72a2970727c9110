"""The floor: what a code opens, and today's entries. No price is ever shown here."""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from flask import Blueprint, current_app, flash, jsonify, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from shopquote.calc.bar.holes import drilled
from shopquote.calc.bar.part_answer import shown_pulls
from shopquote.calc.units import Length, show_angle, show_length, show_mark
from shopquote.errors import CannotMakeError, InputError, NotFoundError, ShopquoteError
from shopquote.outputs.looks import Setting
from shopquote.outputs.papers.part_paper import saw_length
from shopquote.outputs.papers.typeset import font_file
from shopquote.outputs.tables.floor_tables import making_note, small_bends
from shopquote.page.desk import desk
from shopquote.page.hints import doors_in_words, without_options
from shopquote.page.parts import drawings, made_before
from shopquote.page.pictures import sawn_bar
from shopquote.reading.kinds.documents import scanned_code
from shopquote.reading.kinds.words import name_key
from shopquote.services.buying.takeoff import units_of_jobs
from shopquote.services.floor.bend_list import bend_list
from shopquote.services.floor.entries import (
    SPOILT_REASONS,
    Sent,
    enter,
    entries_of,
    people,
    photo_of,
    started_mark,
)
from shopquote.services.floor.entry_corrections import can_be_mended, mend_entry, take_back_entry
from shopquote.services.floor.floor import making_of, planned_minutes, sheet_cautions
from shopquote.services.floor.floor_sheet import FloorBend
from shopquote.services.floor.time_log import running_timers
from shopquote.services.jobs.job_list import newest_jobs
from shopquote.services.jobs.job_states import STATES_ENDED, STATES_TO_MAKE
from shopquote.services.jobs.jobs import LoadedJob, load_job
from shopquote.services.rack.rack_on_file import find_piece, list_pieces
from shopquote.services.shop.shop_on_file import bending_shop, saw_settings, shop_unit

rooms = Blueprint("floor", __name__, url_prefix="/f")
PERSON = "shopquote_person"
# As long as a phone stays let in, so that the name is typed once each time.
PERSON_SECONDS = 90 * 24 * 3600
# As many as anybody scrolls through; any other sheet opens by its code.
MOST_JOBS = 40
FONT_WEIGHTS = ("Medium", "Bold")  # those of the drawings
USUAL_OPERATIONS = ("sawing", "bending", "welding")


@rooms.app_template_global()
def new_key() -> str:
    """A random key for one entry, by which it counts once even if sent twice."""
    return secrets.token_urlsafe(16)


def person_here() -> str:
    """Name of the person who uses this device, from its cookie; empty if none was picked."""
    return request.cookies.get(PERSON, "")[:60]


@rooms.get("/")
def home() -> str:
    """Ask who is working; then show the jobs on the floor and a field for a code."""
    with desk().database.reading() as session:
        known = people(session)
        jobs, _ = newest_jobs(session, MOST_JOBS, states=STATES_TO_MAKE)
    return render_template("floor/home.html", person=person_here(), people=known, jobs=jobs[::-1])


@rooms.post("/who")
def who() -> Response:
    """Store who works with this device, in a cookie."""
    answer = redirect(url_for("floor.home"), 303)
    name = " ".join(request.form.get("person", "").split())[:60]
    answer.set_cookie(
        PERSON, name, max_age=PERSON_SECONDS if name else 0, httponly=True, samesite="Strict",
        secure=request.is_secure, path="/",
    )  # fmt: skip
    return answer


@rooms.get("/open")
def open_code() -> Response:
    """Redirect a typed or scanned code to its job, part or bar."""
    code = "".join(scanned_code(request.args.get("code", "")).split())
    job, slash, mark = code.partition("/")
    if slash and mark:
        return redirect(url_for("floor.sheet", code=job, mark=mark))
    # Anything else is tried as a job number, whose error message says which forms there are.
    bar = code.upper().startswith("R")
    return redirect(url_for("floor.bar" if bar else "floor.job", code=code or "-"))


@rooms.get("/job/<code>")
def job(code: str) -> str:
    """Show a job: its parts, bars and steps."""
    with desk().database.reading() as session:
        loaded = load_job(session, code)
        pieces = list_pieces(session, states=("promised",), job_number=loaded.job.number)
        answers, _ = _answers(session, loaded)
        return render_template(
            "floor/job.html", loaded=loaded, pieces=pieces, making=making_of(loaded.spec),
            operations=_operations(session, loaded), cautions=sheet_cautions(loaded.spec, answers),
        )  # fmt: skip


@rooms.get("/job/<code>/<mark>")
def sheet(code: str, mark: str) -> str:
    """Show a part: drawing, marks, how far to pull, steps, and the operations that can be started."""
    with desk().database.reading() as session:
        loaded = load_job(session, code)
        spec = loaded.spec
        part = next((one for one in spec.parts if name_key(one.mark) == name_key(mark)), None)
        if part is None:
            raise NotFoundError(f"{loaded.job.number} has no part {mark[:40]!r}.")
        answers, refused = _answers(session, loaded)
        # The job's other parts can still be made, so only this sheet shows the problem.
        if part.mark not in answers:
            raise refused[part.mark]
        answer = answers[part.mark]
        drawing, straight = drawings(part, answer, spec.units, spec)
        # The list is made for the whole job: keep this part's bends; notes of welds name other parts.
        alone = replace(spec, parts=(part,), welds=())
        bends = bend_list(alone, {part.mark: answer}) if answer.bends else ()
        lines, ways = _bend_lines([bend for one in bends for bend in one.bends], Setting(unit=spec.units))
        return render_template(
            "floor/sheet.html", job=loaded.job.number, part=part, quantity=spec.quantity(part),
            drawing=drawing, straight=straight, cut=saw_length(answer.cut, spec.units),
            bends=lines, ways=ways,
            told=[*filter(None, [part.hold_words]), *answer.floor_notes],
            problems=[
                problem.message
                for problem in answer.problems
                if problem.message not in answer.floor_notes
            ],
            holes=drilled(part.holes),
            making=making_of(spec), cautions=sheet_cautions(spec, {part.mark: answer}),
            operations=_operations(session, loaded),
            ended=loaded.job.state if loaded.job.state in STATES_ENDED else "",
        )  # fmt: skip


@rooms.get("/font/<weight>")
def font(weight: str) -> Response:
    """The typeface of the drawings, so that texts are as wide as the drawing was laid out for."""
    if weight not in FONT_WEIGHTS:
        raise NotFoundError("There is no such lettering.")
    answer = current_app.response_class(font_file(f"FiraSansCondensed-{weight}.ttf"), mimetype="font/ttf")
    # It never changes; without this the guard's no-store header would have it sent again each time.
    answer.headers["Cache-Control"] = "private, max-age=604800"
    return answer


def _bend_lines(
    bends: Sequence[FloorBend], setting: Setting
) -> tuple[list[tuple[str, list[tuple[str, str, str]], str]], list[str]]:
    """Each bend as a line with its own notes, and the notes that several bends share, once each."""
    said: dict[str, list[int]] = {}
    for bend in bends:
        for words in dict.fromkeys(making_note(bend).split("; ")):
            said.setdefault(words, []).append(bend.number)
    own: dict[int, list[str]] = {}
    alike: dict[tuple[int, ...], list[str]] = {}
    for words, numbers in said.items():
        held = own.setdefault(numbers[0], []) if len(numbers) == 1 else alike.setdefault(tuple(numbers), [])
        held.append(words)
    lines = [(*_bend_words(bend, setting), "; ".join(own.get(bend.number, []))) for bend in bends]
    heads = {
        numbers: "Each bend" if len(numbers) == len(bends) else f"Bend {', '.join(map(str, numbers))}"
        for numbers in alike
    }
    return lines, [f"{heads[numbers]}: {'; '.join(words)}" for numbers, words in alike.items()]


def _bend_words(bend: FloorBend, setting: Setting) -> tuple[str, list[tuple[str, str, str]]]:
    """A bend as a line to be read at arm's length, and its small bends, if any."""
    before = f"{bend.before}; " if bend.before else ""
    former = f" · former r {show_mark(bend.former, setting.unit)}" if bend.former is not None else ""
    mark = f" · mark {show_mark(bend.mark, setting.unit)}" if bend.hits < 2 else ""
    if bend.hot:
        pull = f"hot, to {show_angle(abs(bend.angle))}"
    elif bend.unmade:
        pull = f"to {show_angle(abs(bend.angle))}"
    elif bend.rolled:
        pull = bend.rolled
    elif not bend.pulled_alike:
        pull = f"{bend.hits} small bends, each by its own pull"
    elif bend.pulls:
        pull = f"pull each of {bend.hits} to {shown_pulls(bend.pulls)[0]}°"
    else:
        pull = f"pull to {show_angle(abs(bend.over_bend_to))}"
    small = small_bends(bend, setting) if bend.hits > 1 and not bend.unmade else []
    return f"{bend.number}: {before}{pull}{mark}{former}", small


def _answers(session: Any, loaded: LoadedJob) -> tuple[dict[str, Any], dict[str, ShopquoteError]]:
    # From today's benders, not those of the quote: a sheet must not name a bender that was sold since.
    shop, made = bending_shop(session, loaded.job.number), made_before(desk())
    found, refused = {}, {}
    for part in loaded.spec.parts:
        answer = made.answer(part, loaded.spec.units, shop, loaded.spec.is_galvanised)
        if isinstance(answer, ShopquoteError):
            refused[part.mark] = answer
        else:
            found[part.mark] = answer
    return found, refused


def _operations(session: Any, loaded: LoadedJob) -> list[str]:
    """Operations of the job's quote in the order of making; the usual ones if it was not quoted."""
    return [name for name, _ in planned_minutes(session, loaded.job)] or list(USUAL_OPERATIONS)


@rooms.get("/bar/<code>")
def bar(code: str) -> str:
    """Show a bar or offcut: what is to be sawn from it, and a form for what is left."""
    with desk().database.reading() as session:
        piece = find_piece(session, code)
        unit = shop_unit(session)
        written = units_of_jobs(session, [share.job.number for share in piece.shares])
        loads = [
            {"count": count, "mark": mark, "job": share.job.number, "mm": Length(nm).mm_float * count,
             "length": show_length(Length(nm), written[share.job.number])}
            for share in piece.shares
            for mark, nm, count in share.pieces
        ]  # fmt: skip
        saw = saw_settings(session)
        kerfs = saw.kerf.mm_float * sum(load["count"] for load in loads) + saw.trim.mm_float
        left = max(piece.length.mm_float - sum(load["mm"] for load in loads) - kerfs, 0.0)
        parts = [(f"{load['count']} x {load['mark']}", load["mm"], "") for load in loads]
        back = show_length(Length.from_mm(int(left)), unit).rsplit(" ", 1)[0] if loads and left >= 1 else ""
        return render_template(
            "floor/bar.html", piece=piece, loads=loads, unit=unit, back=back,
            job=piece.promised_job.number if piece.promised_job is not None else "",
            picture=sawn_bar([*parts, ("left", left, "back")], f"bar {piece.code}", 60) if loads else "",
        )  # fmt: skip


@rooms.get("/work")
def work() -> str:
    """Show this person's running timer, with a button to stop it."""
    held = desk()
    person = person_here()
    with held.database.reading() as session:
        running = running_timers(session, person=person) if person else ()
        timer = running[0] if running else None
        mark = quantity = ""
        seconds = 0
        if timer is not None and timer.started_at is not None:
            mark = started_mark(session, timer)
            seconds = int((held.now() - timer.started_at).total_seconds())
            spec = load_job(session, timer.job.number).spec
            quantity = next((str(spec.quantity(part)) for part in spec.parts if part.mark == mark), "")
        return render_template(
            "floor/work.html", timer=timer, person=person, mark=mark, quantity=quantity,
            seconds=max(seconds, 0), reasons=SPOILT_REASONS,
        )  # fmt: skip


@rooms.post("/entry")
def entry() -> Response | tuple[Response, int]:
    """Store one entry, sent as JSON by our script or as a plain form. The JSON answer names its key."""
    # The script queues entries while there is no network, and sends them as JSON later.
    typed = request.get_json(silent=True) if request.is_json else None
    if isinstance(typed, dict):
        sent = _sent_of(typed)
        try:
            return jsonify(key=sent.key, answer=_enter(sent))
        except (InputError, NotFoundError, CannotMakeError) as error:
            told = doors_in_words(without_options(" ".join(filter(None, (error.message, error.hint)))))
            return jsonify(key=sent.key, error=told), 422
    form = request.form
    told = _enter(
        _sent_of({**form, "fields": dict(form), "job": form.get("job") or form.get("job-typed", "")})
    )
    flash(told)
    return redirect(_on_the_floor(form.get("to", "")), 303)


@rooms.post("/photo")
def photo() -> Response:
    """Store a photo of a problem, re-encoded so that nothing but a picture is kept."""
    given = request.files.get("photo")
    sent = _sent_of({**request.form, "fields": {}}, photo=given.read() if given is not None else b"")
    flash(_enter(sent))
    return redirect(_on_the_floor(request.form.get("to", "")), 303)


# The address comes from the form: redirect only to the floor's own pages.
def _on_the_floor(to: str) -> str:
    return to if to.startswith("/f/") and "\\" not in to else url_for("floor.today")


def _sent_of(typed: Mapping[str, Any], photo: bytes | None = None) -> Sent:
    """An entry from untrusted JSON or a form; a value that is not text counts as missing."""

    def text(name: str) -> str:
        value = typed.get(name)
        return value if isinstance(value, str) else ""

    fields = typed.get("fields")
    held = fields if isinstance(fields, dict) else {}
    held = {str(key): value for key, value in held.items() if isinstance(value, str)}
    try:
        # The time by the phone's clock, else the time of arrival. The service checks that it is plausible.
        at = datetime.fromisoformat(text("at").replace("Z", "+00:00")) if text("at") else None
    except ValueError:
        at = None
    kept = {
        key: value for key, value in held.items() if key not in ("token", "key", "to", "kind", "at", "fields")
    }
    return Sent(text("key"), text("kind"), person_here(), text("job"), text("mark"), at, kept, photo)


def _enter(sent: Sent) -> str:
    held = desk()
    with held.writing() as session:
        return enter(session, sent, at=held.now()).answer


@rooms.get("/today")
def today() -> str:
    """List this person's entries of today, which can be corrected until midnight."""
    held = desk()
    # Midnight in the shop's time zone, not in UTC.
    start = held.now().astimezone().replace(hour=0, minute=0, second=0, microsecond=0)
    with held.database.reading() as session:
        found = entries_of(session, person_here(), since=start) if person_here() else ()
        return render_template(
            "floor/today.html", entries=found, person=person_here(), reasons=SPOILT_REASONS,
            can_be_mended=can_be_mended,
        )  # fmt: skip


@rooms.post("/mend")
def mend() -> Response:
    """Correct or take back an entry of one's own, of today."""
    held = desk()
    with held.writing() as session:
        key = request.form.get("key", "")
        if request.form.get("do") == "back":
            take_back_entry(session, key, person_here(), at=held.now())
        else:
            mend_entry(session, key, person_here(), request.form, at=held.now())
    return redirect(url_for("floor.today"), 303)


@rooms.get("/picture/<key>")
def picture(key: str) -> Response:
    """Send a stored photo."""
    with desk().database.reading() as session:
        content = photo_of(session, key)
    return current_app.response_class(content, mimetype="image/jpeg")
