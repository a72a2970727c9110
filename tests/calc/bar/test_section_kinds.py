"""Every kind of bar answers everything that the program asks of a kind, each place by its name."""

import ast
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path

import pytest

from shopquote.calc.bar import section_kinds
from shopquote.calc.bar.end_words import End, parse_end
from shopquote.calc.bar.grades import at_thickness
from shopquote.calc.bar.holes import hole_depth_mm, hole_volume_mm3
from shopquote.calc.bar.moment import bend_section, lying, section_hull
from shopquote.calc.bar.neutral_axis import usual_rule
from shopquote.calc.bar.section_kind import SectionKind
from shopquote.calc.bar.section_kinds import KINDS
from shopquote.calc.bar.sections import SECTION_KINDS, Section, parse_section
from shopquote.calc.bar.sizes import Say
from shopquote.calc.bar.starting_grades import STARTING_GRADES
from shopquote.calc.job import HoleSpec
from shopquote.calc.units import Length, Measure
from shopquote.errors import CannotMakeError, InputError
from shopquote.outputs.quote_words import LANGUAGES, voice_of

README = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
STEEL = STARTING_GRADES["S275"]
# Sizes that any kind takes, larger than what follows them, by how many it has.
SIZES_OF = {"mesh": ("900", "50", "60", "4")}
SIZES = {1: ("40",), 2: ("40", "5"), 3: ("40", "30", "4"), 4: ("100", "50", "5", "8")}


def section_of(kind: SectionKind) -> Section:
    return Section(kind.word, tuple(map(Length.from_mm, SIZES_OF.get(kind.word, SIZES[kind.count]))))


def _moments(section: Section) -> None:
    for axis in ("easy", "hard"):
        for roll in (0.0, 25.0):
            bar = bend_section(section, axis, roll)  # type: ignore[arg-type]  # the two axes
            assert 1 < bar.plastic_mm3 / bar.elastic_mm3 < 3 and bar.inertia_mm4 > 0


def _hole(section: Section) -> None:
    depth = hole_depth_mm(section)
    volume = hole_volume_mm3(section, HoleSpec(Measure.parse("3", "mm"), 1), "Part", Say())
    assert 0 < depth <= max(section.sizes_mm)
    assert volume == pytest.approx(3.14159 / 4 * 9 * depth, rel=0.02)


def _lies(section: Section) -> None:
    assert section.form.lies and lying(section, "easy", 180.0)[2]
    assert all(radius >= 0 for _, _, radius in section_hull(section, "hard"))


def _words(section: Section) -> None:
    for language in LANGUAGES:
        said = voice_of(language, "EUR").bar(section.key)
        assert said == section.key or section.form.words[language] in said
        assert language == "en" or section.form.words[language]


def _work(section: Section) -> None:
    for work in ("bend", "twist", "taper", "end"):
        reason = section.cannot(work)  # type: ignore[arg-type]  # the four works
        assert reason == "" or len(reason) > 20


def _bought(section: Section) -> None:
    assert section.form.condition
    assert section.form.standard.startswith("EN ") or section.form.word == "half-round"


PLACES: dict[str, Callable[[Section], object]] = {
    "reader: name and sizes": lambda s: _same(parse_section(s.key, "mm"), s),
    "reader: what is wrong with sizes": lambda s: _true(s.form.fault(s.sizes_mm) == ""),
    "area": lambda s: _true(0 < s.area_mm2 <= s.depth_mm() * s.width_mm()),
    "perimeter": lambda s: _true(
        s.form.skin is not None or s.perimeter_mm > 2 * max(s.depth_mm(), s.width_mm())
    ),
    "moments in both axes": _moments,
    "thickness": lambda s: _true(at_thickness(STEEL, s.thickness_mm).yield_mpa > 0),
    "drill depth and hole volume": _hole,
    "how it lies in a bend": _lies,
    "neutral axis": lambda s: usual_rule(s, STEEL, "easy"),
    "what cannot be done": _work,
    "words of every language": _words,
    "standard and condition when bought": _bought,
    "README": lambda s: _true(f"`{s.form.typed}`" in README),
}


def _true(holds: bool) -> None:
    assert holds


def _same(one: Section, other: Section) -> None:
    assert one == other


def lacking(section: Section) -> list[str]:
    """The places that a kind does not answer, by name."""
    found = []
    for place, ask in PLACES.items():
        try:
            ask(section)
        except Exception:  # whatever breaks, the place is what is told
            found.append(place)
    return found


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("word", SECTION_KINDS)
def test_every_kind_answers_every_place(word: str, place: str) -> None:
    PLACES[place](section_of(KINDS[word]))


@pytest.mark.parametrize("answer", [one.name for one in fields(SectionKind) if one.name in (
    "outline", "thickness", "drill_depth", "fault", "lies", "cannot", "words", "condition", "typed",
)])  # fmt: skip
def test_a_kind_that_lacks_an_answer_fails_with_the_name_of_the_place(
    answer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = {
        "outline": "area", "thickness": "thickness", "drill_depth": "drill depth and hole volume",
        "fault": "reader: what is wrong with sizes", "lies": "how it lies in a bend",
        "cannot": "what cannot be done", "words": "words of every language",
        "condition": "standard and condition when bought", "typed": "reader: name and sizes",
    }[answer]  # fmt: skip
    broken = replace(
        KINDS["flat"], **{answer: {} if answer == "words" else "" if answer == "typed" else None}
    )
    section = section_of(KINDS["flat"])
    monkeypatch.setitem(section_kinds.KINDS, "flat", broken)
    bend_section.cache_clear()
    parse_section.cache_clear()
    assert expected in lacking(section)
    monkeypatch.undo()
    bend_section.cache_clear()
    parse_section.cache_clear()


WORKED_ENDS = (
    "thread M6 x 20", "turn 4 x 20", "chamfer 1", "round", "saddle 60.3", "tenon 4 x 12", "scarf", "fishtail",
    "flatten 40 to 2", "spread 30 to 45", "head 45 x 5", "point 40 to 3", "point 40 to 8 x 3",
)  # fmt: skip


@pytest.mark.parametrize("end", WORKED_ENDS)
@pytest.mark.parametrize("word", SECTION_KINDS)
def test_an_end_is_worked_or_refused_by_the_name_of_the_bar(word: str, end: str, work_out) -> None:
    bar = section_of(KINDS[word]).key
    try:
        answer = work_out(bar, length="450", ends=(parse_end(end, "mm"), End()))
    except CannotMakeError as error:
        told = error.message
        assert KINDS[word].word in told or "bar" in told, told
        return
    assert answer.mass_kg > 0
    assert not section_of(KINDS[word]).cannot("end") or end.startswith(("saddle", "flatten", "chamfer"))


def test_only_the_entries_know_kinds_by_their_words() -> None:
    package = Path(section_kinds.__file__).parents[2]
    found = [
        f"{path.relative_to(package)}:{node.lineno}"
        for path in package.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Compare) and ast.unparse(node.left).endswith("section.kind")
        and any(isinstance(one, ast.Constant) and one.value in KINDS for one in ast.walk(node))
    ]  # fmt: skip
    assert not found, "let the entry in section_kinds answer:\n" + "\n".join(found)


def test_what_does_not_know_a_kind_refuses_it_by_name() -> None:
    stranger = Section("zed", (Length.from_mm(40), Length.from_mm(5)))
    for ask in PLACES.values():
        with pytest.raises((InputError, AssertionError), match="zed"):
            ask(stranger)


def test_a_channel_is_refused_a_bend_with_its_reason_and_a_straight_piece_is_made(work_out) -> None:
    assert work_out("channel 100 x 50 x 5 x 8", length="450").mass_kg > 0
    with pytest.raises(CannotMakeError, match="word 2: a channel is for straight pieces only"):
        work_out("channel 100 x 50 x 5 x 8", "leg 300; bend 90 r 200; leg 300")


def test_a_half_round_cap_is_bent_with_its_flat_on_the_former(work_out) -> None:
    answer = work_out("half-round 40 x 10", "leg 300; bend 90 r 60; leg 300")
    assert "half-round-lies-flat" in {problem.code for problem in answer.problems}
    assert answer.bends[0].k == pytest.approx(parse_section("half-round 40 x 10", "mm").centroid_mm() / 10)
