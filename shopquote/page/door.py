"""Letting devices in: by the one-time word of this machine's address, or by a code shown at the office."""

from flask import Blueprint, abort, current_app, render_template, request
from werkzeug.wrappers import Response

from shopquote.page.guard import Guard

rooms = Blueprint("guard", __name__)
NAME_OF_THIS = "this machine"


def guard() -> Guard:
    """The guard of the running server."""
    found = current_app.extensions["guard"]
    assert isinstance(found, Guard)
    return found


@rooms.get("/in")
def enter() -> Response:
    """Let in this machine's browser by the one-time word of the address that `serve` opened."""
    who = request.remote_addr or ""
    # Checked before the word is compared, so that while an address must wait even a right guess is refused.
    if guard().tries.too_many(who):
        abort(429, "Too many tries from here: wait five minutes.")
    if not guard().codes.take_word(request.args.get("word", "")):
        guard().tries.note(who)
        abort(403, "This address was used already, or is of an earlier start: start shopquote serve again.")
    return guard().open_for("office", NAME_OF_THIS, "/")


@rooms.route("/code", methods=["GET", "POST"])
def code() -> Response | tuple[str, int] | str:
    """Let in another device by the six-digit code from the office, under the name it gives."""
    to = request.values.get("to", "")
    if request.method == "GET":
        return render_template("code.html", to=to, wrong="")
    who = request.remote_addr or ""
    if guard().tries.too_many(who):
        return render_template("code.html", to=to, wrong="Too many tries from here: wait five minutes."), 429
    # People type the six digits in groups, as they are read out.
    typed = "".join(request.form.get("code", "").split())
    role = guard().codes.take_code(typed)
    if role is None:
        guard().tries.note(who)
        wrong = "This is not the code, or its ten minutes are over. The counter shows a new one."
        return render_template("code.html", to=to, wrong=wrong), 403
    return guard().open_for(role, request.form.get("name", ""), to)
