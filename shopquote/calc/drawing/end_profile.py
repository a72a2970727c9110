"""Side view of a worked end: a point, a head, a turned neck, a chamfer. Begin at `end_profile`.

Millimetres of the part. Forms without a defined side view (a flattened round bar, a fishtail, a scarf) are
drawn with the bar's outline and described in words.
"""

from itertools import pairwise
from math import cos, pi, sin

from shopquote.calc.bar.end_words import End, EndForm
from shopquote.calc.bar.end_work import EDGES, forged_width_mm, round_before
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.sizes import SAME_MM
from shopquote.calc.bar.threads import find_thread

# Points (distance from the tip, half height) in mm, from the tip inwards.
Profile = list[tuple[float, float]]
ROUND_STEPS = 8
# Share of a flattened end's length that is flat; the rest is the transition to the bar.
RUN_OUT = 0.8


def end_profile(section: Section, depth_mm: float, end: End) -> Profile:
    """The profile of one end, up to the bar's own face; empty where the bar is only sawn.

    >>> from shopquote.calc.bar.end_words import parse_end
    >>> from shopquote.calc.bar.sections import parse_section
    >>> end_profile(parse_section("round 16", "mm"), 16, parse_end("turn 12 x 30 + chamfer 1", "mm"))
    [(0.0, 5.0), (1.0, 6.0), (30.0, 6.0), (30.0, 8.0)]
    """
    profile: Profile = []
    # Edges last, for a chamfer is cut on whatever size the other work leaves.
    for form in sorted(end.forms, key=lambda form: form.word in EDGES):
        half = profile[0][1] if profile else depth_mm / 2
        if form.word == "chamfer":
            size = min(form.mm(0), half)
            profile = [(0.0, half - size), (size, half), *(profile[1:])]
        elif form.word == "round" and _is_seen_round(section, depth_mm):
            profile = [*_nose(half), *profile[1:]]
        elif profile and form.word in ("turn", "tenon", "head"):
            profile = _stepped(profile, form)
        elif not profile:
            profile = _formed(section, depth_mm, form)
    return profile


def _stepped(profile: Profile, form: EndForm) -> Profile:
    """A profile after one more operation: within its length the new size, unless it was smaller."""
    half, length = form.mm(0) / 2, form.mm(1)
    shoulder = next(
        (
            low + (high - low) * (length - x) / (after - x)
            for (x, low), (after, high) in pairwise(profile)
            if x <= length < after
        ),
        profile[-1][1],
    )
    left = [(0.0, half), (length, half)]
    if form.word == "turn":
        left = [
            (x, min(was, half)) for x, was in [*(at for at in profile if at[0] <= length), (length, shoulder)]
        ]
    return [*left, (length, shoulder), *(at for at in profile if at[0] > length)]


def thread_lines(end: End, depth_mm: float) -> tuple[float, float] | None:
    """Half height and length in mm of a thread's root lines, thin lines inside its outline (ISO 6410-1)."""
    for form in end.forms:
        if form.word == "thread":
            # Depth of an external thread by ISO 68-1: 17/24 of its triangle's height, 0.866 of the pitch.
            deep = 0.6134 * find_thread(form.thread).pitch_mm
            return max(0.0, threaded_mm(end, depth_mm) / 2 - deep), form.mm(0)
    return None


def threaded_mm(end: End, depth_mm: float) -> float:
    """Diameter in mm on which a thread is cut: of the end if it was made round, else of the bar."""
    thread = next((form for form in end.forms if form.word == "thread"), None)
    return (round_before(end, thread) if thread else 0.0) or depth_mm


def _formed(section: Section, depth_mm: float, form: EndForm) -> Profile:
    half = depth_mm / 2
    if form.word in ("turn", "tenon", "head"):
        return [(0.0, form.mm(0) / 2), (form.mm(1), form.mm(0) / 2), (form.mm(1), half)]
    if form.word == "point":
        return [(0.0, _tip(section, depth_mm, form) / 2), (form.mm(0), half)]
    if form.word in ("flatten", "spread") and section.form.rectangular and _is_flat(section):
        seen = sorted((form.mm(1), forged_width_mm(section, form)))[_on_edge(section, depth_mm)]
        return [(0.0, seen / 2), (form.mm(0) * RUN_OUT, seen / 2), (form.mm(0), half)]
    return []


def _tip(section: Section, depth_mm: float, form: EndForm) -> float:
    if len(form.sizes) == 2:
        return form.mm(1) / min(section.sizes_mm) * depth_mm
    return form.mm(1) if _on_edge(section, depth_mm) else form.mm(2)


def _is_seen_round(section: Section, depth_mm: float) -> bool:
    """Whether a rounded end is seen as round: on a flat only where its width is seen."""
    if section.form.rectangular and _is_flat(section):
        return _on_edge(section, depth_mm)
    return section.form.is_round


def _is_flat(section: Section) -> bool:
    return max(section.sizes_mm) > min(section.sizes_mm) + SAME_MM


def _on_edge(section: Section, depth_mm: float) -> bool:
    """Whether the wide side of a bar is seen, so that `depth_mm` is its larger size."""
    return depth_mm > min(section.sizes_mm) + SAME_MM


def _nose(half: float) -> Profile:
    """The profile of a semicircle from its tip."""
    angles = (pi / 2 * step / ROUND_STEPS for step in range(ROUND_STEPS + 1))
    return [(half * (1 - cos(angle)), half * sin(angle)) for angle in angles]
