from shopquote.errors import Fault, InputError, nearest_word


def test_a_mistake_says_file_table_row_key_found_expected_and_the_nearest_word():
    fault = Fault("hooks.toml", "part", "A", "dims", "'outsid'", "one of outside, inside", "outside")
    assert str(fault) == (
        "hooks.toml: part A, dims: found 'outsid', expected one of outside, inside; did you mean 'outside'?"
    )
    assert str(Fault("hooks.toml", "", "", "", "nothing", "a job")) == (
        "hooks.toml: found nothing, expected a job"
    )
    assert str(Fault("a.toml", "part", "B", "bar", "", "", message="Bar is wrong.")) == (
        "a.toml: part B, bar: Bar is wrong."
    )


def test_all_mistakes_are_one_error_with_a_line_each():
    faults = [Fault("a.toml", "job", "", key, "0", "1") for key in ("sets", "breaks")]
    error = InputError.from_faults(faults)
    assert error.faults == tuple(faults)
    assert str(error).splitlines() == [
        "2 mistakes; nothing was stored.",
        "  a.toml: job, sets: found 0, expected 1",
        "  a.toml: job, breaks: found 0, expected 1",
    ]
    assert str(InputError.from_faults(faults[:1], after="")).startswith("1 mistake:\n")
    assert str(InputError.from_faults(faults, cut_short=True)).startswith("2 mistakes and more; nothing")


def test_a_mistake_of_two_lines_keeps_its_place():
    fault = Fault("a.toml", "part", "A", "shape", "", "", message="word 2 is wrong\nword 3 is wrong")
    assert str(InputError.from_faults([fault])).splitlines()[1:] == [
        "  a.toml: part A, shape: word 2 is wrong",
        "    word 3 is wrong",
    ]


def test_the_nearest_word_is_that_of_a_slip_and_no_other():
    assert nearest_word("OUTSID", ["outside", "inside"]) == "outside"
    assert nearest_word("S257", ["S235", "S275"]) == "S275"
    assert nearest_word("granite", ["outside", "inside"]) is None
    assert nearest_word("x" * 10_000_000, ["outside"]) is None
