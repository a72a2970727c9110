"""Instructions for the ends of a part, with the stock that they take. Begin at `end_told`."""

from collections.abc import Iterator

from shopquote.calc.bar.develop import Development
from shopquote.calc.bar.end_metal import EndForging, WorkedEnd
from shopquote.calc.bar.end_words import EndForm
from shopquote.calc.bar.end_work import FORGED, VOLUME_KEPT, forged_width_mm, work_by_form
from shopquote.calc.bar.saddles import saddle_cut
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import SAME_MM, Say
from shopquote.calc.job import PartSpec

# A wrap-round template has an ordinate at every 30 degrees. Half of them are given; the rest is the mirror
# image.
TEMPLATE_POINTS = 12


def end_told(
    part: PartSpec, section: Section, development: Development, say: Say, forge_loss_pct: float = 0.0
) -> tuple[str, ...]:
    """A line for each forged end, with the bar that it takes, and for each end fitted to a tube."""
    lines = []
    for which, end in zip(("start", "finish"), part.ends, strict=True):
        works, forgings = work_by_form(section, end, "End", say, forge_loss_pct)
        forged = sum(worked.forged_mm for form, worked in works if form.word in VOLUME_KEPT)
        rest = iter(forgings)
        for form, worked in works:
            forging = next(rest) if form.word in VOLUME_KEPT and not section.form.presses else None
            if words := _told(section, form, worked, forging, forged * forge_loss_pct / 100, say):
                lines.append(f"{which} end, {form}: {words}")
    # Work that reaches into a curve changed the sawn length but no run, hence this difference.
    if abs(sum(run.flat_mm for run in development.runs) - development.flat_mm) > SAME_MM:
        lines.append("work the ends before bending: the marks are measured along the worked bar")
    return tuple(lines)


def _told(
    section: Section, form: EndForm, worked: WorkedEnd, forging: EndForging | None, burnt: float, say: Say
) -> str:
    """The instruction for one form; `burnt`: length in mm of bar that is lost as scale."""
    if form.word == "saddle":
        return _template(section, form, say)
    if form.word not in FORGED:
        return ""
    if section.form.presses:
        return f"press it flat; it comes {say(forged_width_mm(section, form))} wide"
    if form.word == "scarf":
        return f"upset and scarf it; {say(worked.stock_mm)} more bar is cut for it"
    if form.word == "fishtail":
        return "split it and spread both tails"
    if forging is not None and forging.again:
        return f"forge {say(forging.taken_mm)} of that into {say(forging.made_mm)}"
    if forging is not None:
        return f"forge {say(forging.taken_mm + burnt)} of bar into {say(forging.made_mm)}"
    told = f"forge {say(worked.reach_mm + worked.stock_mm)} of bar into {say(worked.reach_mm)}"
    if form.word in ("flatten", "spread"):
        other = "wide" if form.word == "flatten" else "thick"
        return f"{told}; it comes {say(forged_width_mm(section, form))} {other} where all metal goes sideways"
    return told


def _template(section: Section, form: EndForm, say: Say) -> str:
    outside = section.sizes_mm[0]
    cut = saddle_cut(outside, form.mm(0), points=TEMPLATE_POINTS)
    half = cut.template_mm[: TEMPLATE_POINTS // 2 + 1]
    back = ", ".join(_each(half, say))
    step = 360 // TEMPLATE_POINTS
    return (
        f"longest at its sides, {say(cut.deeper_mm)} shorter at crown and bottom; wrap-round template, from "
        f"crown to bottom every {step}° round the outside: back {back}; the other half alike"
    )


def _each(back_mm: tuple[float, ...], say: Say) -> Iterator[str]:
    return (say(back) if back > 1e-9 else "0" for back in back_mm)
