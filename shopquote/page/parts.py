"""Parts worked out and drawn for the page; what was worked out or drawn once is kept in memory."""

from typing import Any

from flask import g
from markupsafe import Markup

from shopquote.calc.bar.part_answer import PartAnswer, rolled_words
from shopquote.calc.drawing.model import Projection
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.weld_places import placed_welds
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import KG_PER_LB, Unit, show_angle, show_length, show_mark
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.tables.part_tables import pull_angle
from shopquote.page.desk import Desk, desk
from shopquote.services.jobs.drawn import PROJECTION_OF
from shopquote.services.quotes.typed import MadeBefore, TypedPart
from shopquote.services.shop.shop_on_file import the_shop

MOST_DRAWINGS = 2_000


def made_before(held: Desk) -> MadeBefore:
    """Parts worked out since the server started."""
    kept = held.held.setdefault("made", MadeBefore())
    assert isinstance(kept, MadeBefore)
    return kept


def seen(part: TypedPart, units: Unit, job: JobSpec | None) -> dict[str, Any]:
    """A part's drawings and what is said of it."""
    if part.part is None or part.answer is None:
        return {"drawing": "", "straight": "", "facts": "", "verdict": "", "problems": (), "good": False}
    drawing, straight = drawings(part.part, part.answer, units, job)
    answer = part.answer
    facts = f"{show_length(answer.cut, units)} · {_mass(answer.mass_kg, units)}"
    return {
        "drawing": drawing, "straight": straight, "facts": facts, "verdict": verdict(answer, units),
        "problems": [problem.message for problem in answer.problems], "good": not answer.problems,
    }  # fmt: skip


def drawings(part: PartSpec, answer: PartAnswer, units: Unit, job: JobSpec | None) -> tuple[Markup, Markup]:
    """The finished part and its straight bar as SVG, with the welds that the job places on it.

    What the pencil drew once is kept.
    """
    welds = () if job is None else placed_welds(job, part)
    projection = _projection()
    held = desk().held.setdefault("drawn", {})
    # Marks stand on it, and they change with the shop's datum and benders while the length stays.
    key = (part, units, answer, welds, projection)
    if key not in held:
        # Emptied rather than aged: what is on the screen is drawn again at once, and no order is kept.
        if len(held) > MOST_DRAWINGS:
            held.clear()
        drawn = draw_part(part, answer, units, projection=projection, welds=welds)
        words = part.shape or (part.length.text if part.length else "")
        # Our own drawing: every text in it was escaped by its writer.
        held[key] = (
            Markup(svg(drawn.finished, title=f"part {part.mark}: {words}")),
            Markup(
                svg(drawn.straight, title=f"straight bar of {part.mark}, {show_length(answer.cut, units)}")
            ),
        )
    found: tuple[Markup, Markup] = held[key]
    return found


def _projection() -> Projection:
    """Views and weld symbols as on the shop's papers; asked once a request."""
    if "projection" not in g:
        with desk().database.reading() as session:
            g.projection = PROJECTION_OF[the_shop(session).paper]
    found: Projection = g.projection
    return found


def _mass(kg: float, units: Unit) -> str:
    return f"{kg:.2f} kg" if units == "mm" else f"{kg / float(KG_PER_LB):.2f} lb"


def verdict(answer: PartAnswer, units: Unit) -> str:
    """Who bends it, round what, and how far to pull, in a line."""
    if not answer.bends:
        return "straight: sawn to length" if not answer.twists else "twisted"
    told = []
    for bend in answer.bends:
        if bend.unmade:
            told.append(("no bender on file makes it: ", show_angle(abs(bend.angle))))
            continue
        by = bend.bender or ("rolls" if bend.how == "rolls" else "by hand")
        if rolled := rolled_words(bend, units):
            told.append((f"{by}: ", rolled))
            continue
        former = (
            f", former r {show_mark(bend.former_radius, units)}" if bend.former_radius is not None else ""
        )
        told.append((f"{by}{former}: {'' if bend.hot else 'pull to '}", pull_angle(bend)))
    ways = list(dict.fromkeys(way for way, _ in told))
    return "; ".join(f"{way}{', '.join(to for of, to in told if of == way)}" for way in ways)
