"""Frozen values behave as the standard library's, however they are made."""

import copy
import dataclasses
import pickle
import re
from dataclasses import FrozenInstanceError, InitVar, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, ClassVar, get_type_hints

import pytest

from shopquote.calc import frozen
from shopquote.calc.units import Measure


def bar(made: Any, **form: bool) -> Any:
    """A class with all that ours have: defaults, a factory, a field that is not compared, a check."""

    @made(frozen=True, **form)
    class Bar:
        """A bar."""

        known: ClassVar[int] = 7
        mark: str
        length: float
        holes: tuple[int, ...] = field(default_factory=tuple)
        note: str = field(default="", compare=False, repr=False)

        def __post_init__(self) -> None:
            if self.length < 0:
                raise ValueError("length")

    return Bar


@pytest.mark.parametrize("form", [{}, {"slots": True}])
def test_a_value_answers_as_one_of_the_standard_library(form: dict[str, bool]) -> None:
    theirs, ours = bar(dataclass, **form), bar(frozen.dataclass, **form)
    for words, more in ((("a", 2.5), {}), (("b",), {"length": 1, "note": "n"}), (("c", 0, (1, 2)), {})):
        expected, value = theirs(*words, **more), ours(*words, **more)
        assert repr(value) == repr(expected)
        assert hash(value) == hash(expected)
        assert value == ours(*words, **more | {"note": "other"})
        assert value != ours("z", 9) and value != expected
        assert dataclasses.astuple(value) == dataclasses.astuple(expected)
        assert copy.copy(value) == copy.deepcopy(value) == value
        assert repr(replace(value, length=4)) == repr(replace(expected, length=4))
    assert [one.name for one in fields(ours)] == [one.name for one in fields(theirs)]
    assert ours.__match_args__ == theirs.__match_args__
    assert get_type_hints(ours) == get_type_hints(theirs)
    with pytest.raises(TypeError, match="missing 1 required positional argument: 'length'"):
        ours("a")
    with pytest.raises(ValueError, match="length"):
        ours("a", -1)


@pytest.mark.parametrize("form", [{}, {"slots": True}])
def test_a_frozen_value_refuses_to_be_changed(form: dict[str, bool]) -> None:
    value = bar(frozen.dataclass, **form)("a", 2.5)
    with pytest.raises(FrozenInstanceError, match="cannot assign to field 'mark'"):
        value.mark = "b"
    with pytest.raises(FrozenInstanceError, match="cannot delete field 'mark'"):
        del value.mark


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        (int, {"init": False, "default": 0}),
        (int, {"kw_only": True}),
        (int, {"hash": False}),
        (int, {"compare": False, "hash": True}),
        (InitVar[int], {}),
        ("InitVar[int]", {}),
    ],
)
@pytest.mark.parametrize("form", [{}, {"slots": True}])
def test_what_it_does_not_know_is_refused_and_not_passed_over(
    typed: Any, asked: dict[str, Any], form: dict[str, bool]
) -> None:
    odd = type("Odd", (), {"__annotations__": {"odd": typed}, "odd": field(**asked), "__module__": __name__})
    with pytest.raises(TypeError, match=r"Odd\.odd: make this class with dataclasses\.dataclass"):
        frozen.dataclass(frozen=True, **form)(odd)


@pytest.mark.parametrize("made", [dataclass, frozen.dataclass])
def test_a_class_made_of_another_has_its_fields_and_check(made: Any) -> None:
    base = bar(made)

    @made(frozen=True)
    class Bent(base):  # type: ignore[misc, valid-type]
        turns: int = 1
        length: float = 9.0

    assert repr(Bent("a")).endswith("Bent(mark='a', length=9.0, holes=(), turns=1)")
    assert Bent("a", note="n") == Bent("a") != Bent("a", turns=2)
    assert Bent("a") != base("a", 9.0) == base("a", 9.0)
    with pytest.raises(ValueError, match="length"):
        Bent("a", -1)


def test_a_method_of_the_class_itself_stands() -> None:
    @frozen.dataclass(frozen=True)
    class Named:
        mark: str

        def __repr__(self) -> str:
            return self.mark

        def __eq__(self, other: object) -> bool:
            return True

    assert repr(Named("a")) == "a"
    assert Named("a") == Named("b")
    assert hash(Named("a")) == hash(Named("a"))


def test_a_value_is_pickled() -> None:
    typed = Measure.parse("5/8", "in")
    assert pickle.loads(pickle.dumps(typed)) == typed


# One is open to layers below calc; the other has a field that no value is made with.
BY_THE_STANDARD_LIBRARY = {"errors.py", "reading/job_fields.py"}


def test_frozen_classes_are_made_here() -> None:
    package = Path(frozen.__file__).parents[1]
    slow = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"^@dataclass\(.*frozen=True", text := path.read_text(encoding="utf-8"), re.MULTILINE)
        and "from shopquote.calc.frozen import dataclass\n" not in text
    }
    assert slow == BY_THE_STANDARD_LIBRARY, "import dataclass from shopquote.calc.frozen"


def test_a_class_without_words_has_its_name_and_one_with_words_keeps_them():
    @frozen.dataclass(frozen=True)
    class Plain:
        size: int

    @frozen.dataclass(frozen=True, slots=True)
    class Told:
        """A size."""

        size: int

    assert (Plain.__doc__, Told.__doc__) == ("Plain", "A size.")
