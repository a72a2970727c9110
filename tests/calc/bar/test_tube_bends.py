"""Bends of hollow bar against public formulas, and when a mandrel or sand is asked for."""

import pytest

from shopquote.calc.bar.tube_bends import difficulty, tube_bend, wall_thinning

# Published examples of tube were searched for in public pages and papers' abstracts. Held below:
# thinning of a reference page, flattening of TEMA RCB-2.31 and of ships' piping (8 % from 5 D on two public
# pages), least radii of a mill's handbook. Found without figures that can be held: square tube of 6060, pure
# bending (Materials 14 (2021) 3814), thickness of elbows (Arch. Appl. Mech. 85 (2015) 629). Not found:
# springback of a tube over a former in degrees, EN 12952-5's line.


def test_the_outer_wall_thins_as_a_public_reference_says():
    # (Ro - CLR) / Ro: OD 42.4, CLR 66.2 gives 24.3 %.
    assert wall_thinning(66.2, 42.4) == pytest.approx(0.243, abs=5e-4)


def test_the_difficulty_of_a_public_formula():
    # (2 Kr + 0.2 Fw + B / 180) / Fd with Kr 2: 50 x 2 at R 100, 90 degrees, by hand (4 + 5 + 0.5) / 2.
    assert difficulty(-90, 50, 2, 100) == pytest.approx(4.75)


# TEMA RCB-2.31 by a tube maker's page: at most 10 % at 2 D; US criteria of ships' piping: 8 % from 5 D.
@pytest.mark.parametrize(("ratio", "most"), [(2, 0.10), (5, 0.08), (6, 0.08)])
def test_flattening_stays_within_what_piping_is_allowed(ratio, most):
    assert most / 3 <= tube_bend(90, 48.3, 3.2, ratio * 48.3).ovality <= most


# A tube mill's handbook of 2018, table 38: t = D / 20 R 2 D, D / 30 3 D, D / 50 4.5 D. A tool maker's page:
# at 1.5 D or less a mandrel is almost always needed, from a wall factor of 15 probably.
@pytest.mark.parametrize(("factor", "ratio"), [(8, 1.5), (20, 2), (30, 3), (50, 4.5)])
def test_an_empty_tube_bends_no_tighter_than_a_mill_bends_it(factor, ratio):
    bend = tube_bend(90, 40, 40 / factor, ratio * 40)
    assert bend.empty_mm / 40 == pytest.approx(ratio) and bend.wants(ratio * 40) != "mandrel"
    assert bend.wants(ratio * 40 - 0.1) == "mandrel"


@pytest.mark.parametrize(("factor", "sooner"), [(20, False), (21, True)])
def test_above_a_wall_factor_of_20_a_mandrel_is_wanted_sooner(factor, sooner):
    # A public glossary of the trade: above a wall factor of 20 a mandrel is needed in most instances.
    assert (tube_bend(90, 40, 40 / factor, 88).wants(88) == "mandrel") is sooner


@pytest.mark.parametrize(
    ("depth", "wall", "centre", "wants"),
    [(42.4, 2.6, 127.2, ""), (42.4, 2.6, 70, "mandrel"), (42.4, 2.6, 30, "outside"), (60.3, 1.0, 400, "")],
)
def test_a_thin_or_tight_tube_asks_for_more_than_an_empty_bend(depth, wall, centre, wants):
    assert tube_bend(90, depth, wall, centre).wants(centre) == wants


def test_the_thinner_the_wall_the_wider_the_least_radius():
    walls = (5, 3, 2, 1.5, 0.8)
    radii = [tube_bend(90, 42.4, wall, 100).empty_mm for wall in walls]
    assert radii == sorted(radii) and radii[0] < radii[-1]


def test_a_part_is_told_what_its_tube_suffers(work_out):
    tight = work_out("tube 42.4 x 2.6", "leg 300; bend 90 r 45; leg 300")
    message = next(problem.message for problem in tight.problems if problem.code == "flattens")
    assert "thins by 24 %" in message and "mandrel" in message
    wide = work_out("tube 42.4 x 2.6", "leg 300; bend 90 r 150; leg 300")
    assert "flattens" not in {problem.code for problem in wide.problems}


def test_saw_time_follows_the_metal_of_a_hollow_bar(work_out):
    # pi (D - t) t, not pi D2 / 4.
    assert work_out("tube 42.4 x 2.6", length="300").end_cut_area_mm2[0] == pytest.approx(325.1, abs=0.1)
