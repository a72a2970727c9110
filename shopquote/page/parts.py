"""Parts worked out and drawn for the page; results and drawings are cached in memory."""

from typing import Any

from flask import g
from markupsafe import Markup

from shopquote.calc.bar.part_answer import PartAnswer, rolled_words
from shopquote.calc.drawing.model import Projection
from shopquote.calc.drawing.part import draw_part
from shopquote.calc.drawing.weld_places import placed_welds
from shopquote.calc.job import JobSpec, PartSpec
from shopquote.calc.units import Unit, show_angle, show_length, show_mark, show_mass
from shopquote.outputs.drawings.svg import svg
from shopquote.outputs.tables.part_tables import pull_angle
from shopquote.page.desk import Desk, desk
from shopquote.services.jobs.drawn import PROJECTION_OF
from shopquote.services.quotes.typed import MadeBefore, TypedPart
from shopquote.services.shop.shop_on_file import the_shop

MOST_DRAWINGS = 2_000


def made_before(held: Desk) -> MadeBefore:
    """The cache of parts worked out since the server started."""
    kept = held.held.setdefault("made", MadeBefore())
    assert isinstance(kept, MadeBefore)
    return kept


def seen(part: TypedPart, units: Unit, job: JobSpec | None) -> dict[str, Any]:
    """What the page shows of a part: its drawings and figures."""
    if part.part is None or part.answer is None:
        return {"drawing": "", "straight": "", "facts": "", "verdict": "", "problems": (), "good": False}
    drawing, straight = drawings(part.part, part.answer, units, job)
    answer = part.answer
    facts = f"{show_length(answer.cut, units)} · {show_mass(answer.mass_kg, units, '.2f')}"
    return {
        "drawing": drawing, "straight": straight, "facts": facts, "verdict": verdict(answer, units),
        "problems": [problem.message for problem in answer.problems], "good": not answer.problems,
    }  # fmt: skip


def drawings(part: PartSpec, answer: PartAnswer, units: Unit, job: JobSpec | None) -> tuple[Markup, Markup]:
    """The finished part and its straight bar as SVG, with the welds that the job places on it.

    Drawings are cached.
    """
    welds = () if job is None else placed_welds(job, part)
    projection = _projection()
    held = desk().held.setdefault("drawn", {})
    # Part of the key: marks change with the shop's datum and benders while the length stays the same.
    key = (part, units, answer, welds, projection)
    if key not in held:
        # Emptied as a whole: simpler than tracking age, and what is on the screen is drawn again at once.
        if len(held) > MOST_DRAWINGS:
            held.clear()
        drawn = draw_part(part, answer, units, projection=projection, welds=welds)
        words = part.shape or (part.length.text if part.length else "")
        # Safe to mark up: the SVG writer escapes every text.
        held[key] = (
            Markup(svg(drawn.finished, title=f"part {part.mark}: {words}")),
            Markup(
                svg(drawn.straight, title=f"straight bar of {part.mark}, {show_length(answer.cut, units)}")
            ),
        )
    found: tuple[Markup, Markup] = held[key]
    return found


def _projection() -> Projection:
    """Projection and weld symbols as on the shop's papers; looked up once in each request."""
    if "projection" not in g:
        with desk().database.reading() as session:
            g.projection = PROJECTION_OF[the_shop(session).paper]
    found: Projection = g.projection
    return found


def verdict(answer: PartAnswer, units: Unit) -> str:
    """One line: which bender, which former, how far to pull."""
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
