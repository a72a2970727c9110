"""Notes on a shape: what the radii of its scrolls are measured to, and the bar that its twists take."""

from collections.abc import Iterator, Sequence
from math import hypot, radians, sqrt

from shopquote.calc.bar.develop import Run
from shopquote.calc.bar.moment import bend_section
from shopquote.calc.bar.sections import Section
from shopquote.calc.bar.shape_words import Scroll, Volute, Word
from shopquote.calc.bar.sizes import Say


def spiral_words(word: Word, run: Run, say: Say) -> str:
    """A scroll as typed, the face to which its radii are measured, and its centre-line radii, in words.

    "" for other words.
    """
    if not isinstance(word, Scroll | Volute):
        return ""
    typed = f"{run.kind}, R {word.start.text} to {word.finish.text} {word.of}, {abs(word.turns):g} turns"
    if word.of == "centre":
        return typed
    return f"{typed} (to the centre line {say(run.centre_mm)} to {say(run.centre_end_mm)})"


def shape_told(
    words: Sequence[Word], runs: Sequence[Run], section: Section, say: Say, loss_pct: float
) -> tuple[str, ...]:
    """A line for each scroll and each twist, in the order of the shape."""
    return tuple(_lines(words, runs, section, say, loss_pct))


def _lines(
    words: Sequence[Word], runs: Sequence[Run], section: Section, say: Say, loss_pct: float
) -> Iterator[str]:
    for run in runs:
        if run.kind == "twist":
            yield _twist_words(run, section, say, loss_pct)
        elif run.word and (told := spiral_words(words[run.word - 1], run, say)):
            yield told


def twist_theory_mm(run: Run, section: Section) -> float:
    """Bar in mm that a twist takes beyond its length, if every fibre kept its length along its helix.

    From the mean square of the helices: sqrt(L^2 + t^2 I_p / A) - L. Derived; an upper limit, since metal
    that flows need not shorten.
    """
    polar = sum(bend_section(section, axis).inertia_mm4 for axis in ("easy", "hard"))
    radius = sqrt(polar / section.area_mm2)
    return hypot(run.true_mm, radians(run.angle) * radius) - run.true_mm


def _twist_words(run: Run, section: Section, say: Say, loss_pct: float) -> str:
    turns = abs(run.angle) / 360
    own = f"the shop's own measure adds {loss_pct:g} %" if loss_pct else "none is added"
    return (
        f"twist of {turns:g} turn{'' if turns == 1 else 's'} over {say(run.true_mm)}: {own} (house rule "
        "twist_loss_pct); textbooks add none, "
        f"theory at most {say(twist_theory_mm(run, section))} (fibres that keep their length)"
    )
