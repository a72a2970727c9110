"""Mistakes of TOML syntax: each with its line and its cure, all in one run."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopquote.errors import InputError
from shopquote.reading.toml_files import parse_toml


def faults_of(text: str) -> list[tuple[str, str]]:
    with pytest.raises(InputError) as told:
        parse_toml(text, "hooks.toml")
    return [(fault.table, fault.expected) for fault in told.value.faults]


# What a mended line must be: the cure is itself TOML.
@pytest.mark.parametrize(
    ("line", "cure"),
    [
        ("grade = S275", 'text in quotes: grade = "S275"'),
        ("length = 7' 6\"", r'text in quotes: length = "7' + r"' 6\"" + '"'),
        ("length = 5/8 # half and a bit", 'text in quotes: length = "5/8"'),
        ("customer: Ada Marsh", '= in place of the colon: customer = "Ada Marsh"'),
        ("kerf = 2,5", "a number without a comma: kerf = 2.5"),
        ("sets = 1,250", "a number without a comma: sets = 1.250 or 1250"),
        ("due = 1.3.2027", "a day as year, month, day: due = 2027-03-01"),
        ('use = "general', 'the closing quote: use = "general"'),
        (
            'bar = "flat 1/2" x 1/4""',
            r'\" for an inch mark or quote inside quotes: bar = "flat 1/2\" x 1/4\""',
        ),
        (r'logo = "C:\dir"', r'no backslash but \\ or \": logo = "C:\\dir"'),
        ("one_heat = True", "true or false in small letters: one_heat = true"),
        ("sets =", "a value behind sets ="),
        ("[[part]", "a heading with its brackets closed: [[part]]"),
        ("mark = \u201cA\u201d", 'straight quotes: " in place of \u201c and \u201d'),
        ("just words", "a line such as key = value, or # before a remark"),
    ],
)
def test_a_slip_is_told_with_its_line_and_cure(line, cure):
    told = faults_of(f"format = 1\n{line}\nlast = 1\n")
    assert told == [("line 2", cure)]
    mended = cure.partition(": ")[2]
    if "=" in mended and " or " not in mended:
        tomllib.loads(mended)


def test_all_slips_of_a_file_are_told_at_once():
    text = 'format = 1\n[job]\ntitle = Hooks\nsets = 4\nuse = "general\n\n[[part]\nmark = A\nmark = "B"\n'
    text += "grade = S275\n"
    assert [place for place, _ in faults_of(text)] == ["line 3", "line 5", "line 7", "line 8", "line 10"]


def test_a_key_that_stands_twice_is_told():
    assert faults_of("a = 1\na = 2\n") == [("line 2", "the key a once in its table")]


def test_what_cannot_be_mended_line_by_line_is_told_once():
    assert len(faults_of("a = [1,\n2,\nb = 3\n")) == 1


@given(st.text(alphabet="ab1 =\"'[]{}#,.:\n\\", max_size=80))
def test_any_text_is_toml_or_told_with_lines(text):
    try:
        found = parse_toml(text, "x.toml")
    except InputError as error:
        assert error.faults
        with pytest.raises(tomllib.TOMLDecodeError):
            tomllib.loads(text)
    else:
        assert found == tomllib.loads(text)
