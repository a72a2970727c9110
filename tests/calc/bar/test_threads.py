"""Threads and their drills against public charts of ISO 261/262, ASME B1.1 and ISO 228-1."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.calc.bar.threads import all_threads, find_thread, thread_of_size, threads_drilled
from shopquote.calc.units import Length
from shopquote.errors import InputError

# Two public tap drill charts that agree, mm.
METRIC = [
    ("M3", "2.5"), ("M5", "4.2"), ("M6", "5"), ("M8", "6.8"), ("M10", "8.5"), ("M12", "10.2"), ("M16", "14"),
    ("M20", "17.5"), ("M24", "21"), ("M8 x 1", "7"), ("M10 x 1.25", "8.8"), ("M16x1.5", "14.5"),
    ("G 1/8", "8.8"), ("G 1/2", "19"), ("G 3/4", "24.5"), ("G 1", "30.75"),
]  # fmt: skip
# Two public charts for 75 % of thread, inches. 9/16-12 and #10-24 also stand on a jig maker's chart (31/64,
# #25 0.1495), and with 7/8-9 (49/64) in the tap table of a public machining program.
UNIFIED = [
    ("9/16-12", "31/64"), ("7/8-9", "49/64"), ("#10-24", "0.1495"), ("#10-32", "0.1590"),
    ("1/4-20", "0.2010"), ("1/4-28 UNF", "0.2130"), ("5/16-18 UNC", "0.2570"), ("3/8 UNC", "5/16"),
    ("1/2-13", "27/64"),
    ("3/4-10", "21/32"), ("1-8 UNC", "7/8"), ("#4-40", "0.0890"), ("no 6-32", "0.1065"),
]  # fmt: skip


@pytest.mark.parametrize("typed, drill", METRIC)
def test_metric_and_pipe_drills_are_the_charts(typed: str, drill: str) -> None:
    assert find_thread(typed).drill == Length.from_mm(drill)


@pytest.mark.parametrize("typed, drill", UNIFIED)
def test_unified_drills_are_the_charts(typed: str, drill: str) -> None:
    assert find_thread(typed).drill == Length.from_inches(drill)


@pytest.mark.parametrize(
    ("size", "inches"), [("#0", "0.060"), ("#10", "0.190"), ("#12", "0.216"), ("1-1/8", "1.125")]
)
def test_unified_diameters_follow_asme_b1_1(size: str, inches: str) -> None:
    found = {thread.dia for name, thread in all_threads().items() if name.rpartition("-")[0] == size}
    assert found == {Length.from_inches(inches)}


def test_every_drill_leaves_a_usual_depth_of_thread() -> None:
    """Charts aim at 75 %; 64 to 90 holds every one of them and catches a digit out of place."""
    for thread in all_threads().values():
        cut = thread.dia.mm_float - thread.drill.mm_float
        # 1.299: two heights of a full external thread over its pitch, which tap drill charts call 100 %.
        assert 64 < 100 * cut / (1.299 * thread.pitch_mm) < 90, thread.name


@given(st.sampled_from(sorted(all_threads())), st.booleans())
def test_a_thread_is_found_by_its_name_however_typed(name: str, tight: bool) -> None:
    typed = name.replace(" ", "") if tight and "G" not in name else name
    assert find_thread(typed.lower()).name == name


@pytest.mark.parametrize(
    "drill, names",
    [("6.8", ["M8"]), ("7.3", []), ("8.5", ["M10"]), ("19.5", ["M22", "7/8-9 UNC"]), ("8", []), ("9.6", [])],
)
def test_a_drill_names_the_threads_that_it_serves(drill: str, names: list[str]) -> None:
    found = [thread.name for thread in threads_drilled(Length.from_mm(drill))]
    assert all(name in found for name in names) and bool(found) == bool(names)


def test_a_size_given_for_a_drill_is_recognised() -> None:
    thread = thread_of_size(Length.from_mm(8))
    assert thread is not None and thread.name == "M8"
    assert thread_of_size(Length.from_mm("7.3")) is None


@pytest.mark.parametrize(
    "typed, meant",
    [("M9", "M"), ("1/4", "1/4-20 UNC"), ("M8 x 2", "M"), ("", "such as"), ("x" * 99, "such as")],
)
def test_an_unknown_thread_is_refused_with_what_is_expected(typed: str, meant: str) -> None:
    with pytest.raises(InputError, match="not a thread") as refused:
        find_thread(typed)
    assert meant in refused.value.message


def test_a_left_hand_thread_has_the_sizes_of_its_twin_and_a_name_of_its_own() -> None:
    # ISO 965-1 writes LH behind the thread.
    right = find_thread("M12")
    for typed in ("M12 LH", "m12-LH", "M12 left hand", "M12lh"):
        left = find_thread(typed)
        assert (left.name, left.dia, left.pitch_mm, left.drill) == ("M12 LH", right.dia, 1.75, right.drill)
    assert find_thread("1/2-13 UNC LH").name == "1/2-13 UNC LH"
    assert find_thread(find_thread("M16 x 1.5 LH").name).name == "M16 x 1.5 LH"
    with pytest.raises(InputError, match="M13"):
        find_thread("M13 LH")
    for twice in ("M12 LH LH", "M12lhlh", "M12 LH left hand"):
        with pytest.raises(InputError, match="is not a thread that is known"):
            find_thread(twice)
