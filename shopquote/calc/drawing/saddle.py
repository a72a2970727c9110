"""Wrap-round templates of saddle cuts at 1:1: wrapped round the tube, the edge shows the cut.

Begin at `draw_saddles`.
"""

from collections.abc import Iterator
from math import pi

from shopquote.calc.bar.end_words import EndForm
from shopquote.calc.bar.part_answer import PartAnswer
from shopquote.calc.bar.saddles import saddle_cut
from shopquote.calc.bar.sizes import Say
from shopquote.calc.drawing.model import Drawing
from shopquote.calc.drawing.pencil import Pencil
from shopquote.calc.job import PartSpec
from shopquote.calc.units import Unit

# Paper behind the cut in mm: its straight back edge meets itself when it is wrapped square.
BEHIND_MM = 40.0
# Number of points of the edge, and of lines for setting out.
POINTS, LINES = 120, 12
_NAMED = {0: "crown", LINES // 4: "side", LINES // 2: "bottom", 3 * LINES // 4: "side", LINES: "crown"}


def draw_saddles(part: PartSpec, answer: PartAnswer, unit: Unit) -> Iterator[tuple[str, Drawing]]:
    """A template for each saddled end, with the end's name; equal ends share one."""
    ends: dict[EndForm, list[str]] = {}
    for which, end in zip(("start", "finish"), part.ends, strict=True):
        for form in end.forms:
            if form.word == "saddle":
                ends.setdefault(form, []).append(which)
    for form, names in ends.items():
        which = f"{names[0]} end" if len(names) == 1 else "both ends"
        yield which, _template(part, answer, form, which, Say(unit))


def _template(part: PartSpec, answer: PartAnswer, form: EndForm, which: str, say: Say) -> Drawing:
    outside = answer.section.sizes_mm[0]
    cut = saddle_cut(outside, form.mm(0), points=POINTS)
    around, longest = pi * outside, BEHIND_MM + cut.deeper_mm
    edge = [(around * step / POINTS, longest - cut.template_mm[step % POINTS]) for step in range(POINTS + 1)]
    pencil = Pencil(1.0)
    pencil.line(((0.0, 0.0), *edge, (around, 0.0)), "thick", closed=True)
    for line in range(1, LINES):
        x, top = edge[line * POINTS // LINES]
        pencil.line(((x, 0.0), (x, top)), "dashed" if line in _NAMED else "thin", "marks", ink=None)
    for line, name in _NAMED.items():
        inward = 2.5 if line == 0 else -2.5
        pencil.text(name, (around * line / LINES + inward, BEHIND_MM / 2), angle=pi / 2, size=2.5)
    # The text is below the outline that is cut out.
    length = sum(cut_of(end_form, outside) for end in part.ends for end_form in end.forms)
    whole = answer.developed.mm_float
    # On a bent tube the length between long points cannot be measured with a rule.
    bent = any(run.is_curve for run in answer.runs)
    apart = f"{say(whole)} along the bent tube" if bent else f"{say(whole)} apart"
    words = (
        f"{part.mark}, {which}: tube of {say(outside)} on one of {say(form.mm(0))}",
        f"long points {apart} at the sides, {say(whole - length)} at crown and bottom",
        "crown and bottom lie in line with the other tube, the long points across it",
        "cut round the heavy line, wrap with the crowns together, mark the edge",
    )
    for number, text in enumerate(words):
        pencil.text(text, (around / 2, -5.0 - 5.0 * number))
    return pencil.done()


def cut_of(form: EndForm, outside_mm: float) -> float:
    """Depth in mm of one end's saddle at the crown; 0 for other work."""
    return saddle_cut(outside_mm, form.mm(0)).deeper_mm if form.word == "saddle" else 0.0
