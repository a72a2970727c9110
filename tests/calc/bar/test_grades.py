import pytest

from shopquote.calc.bar.grades import FAMILIES, STARTING_GRADES, find_grade
from shopquote.errors import InputError

# Yield and tensile MPa: EN 10025-2 table 7 (readle.co.uk), A36 (bbnsteelplate), 6061-T6 (Gere, ah-engr.com).
PRINTED = [
    ("S235", 235, 360),
    ("S275", 275, 410),
    ("S355", 355, 470),
    ("A36", 250, 400),
    ("6061-T6", 276, 310),
]


@pytest.mark.parametrize(("name", "fy", "fu"), PRINTED)
def test_strength_is_that_of_the_standard(name, fy, fu):
    grade = STARTING_GRADES[name]
    assert (grade.yield_mpa, grade.tensile_mpa) == (fy, fu)


def test_every_value_of_every_grade_names_its_source():
    for grade in STARTING_GRADES.values():
        fields = {"density_kg_m3", "yield_mpa", "tensile_mpa", "e_gpa", "elongation_pct", "min_radius_ratio"}
        if grade.reduction_of_area_pct is not None:
            fields.add("reduction_of_area_pct")
        assert set(grade.sources) == fields, grade.name
        assert all(grade.sources.values())
        assert grade.family in FAMILIES
        assert 0 < grade.yield_mpa <= grade.tensile_mpa


def test_a_grade_is_found_however_it_is_spaced():
    assert find_grade("6061 t6", STARTING_GRADES).name == "6061-T6"
    assert find_grade("s275", STARTING_GRADES).name == "S275"


def test_an_unknown_grade_is_answered_with_the_nearest():
    with pytest.raises(InputError, match="Did you mean 'S275'"):
        find_grade("S257", STARTING_GRADES)
