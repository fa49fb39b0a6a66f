"""What a die asks for: cut, shear, groups, worn edges, forces of the stroke, height and energy."""

from __future__ import annotations

import math

import numpy as np
import pytest
import registers_made as made
from pairs_made import FORMS, Outcome, without
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.demand import die_demand


def test_shear_lowers_the_force_by_its_contour_begins_higher_and_saves_no_energy():
    """Cut 180 kN over 2 mm. With 4 mm of shear on a straight edge: half of it, 4 mm higher, the same energy."""
    die = without(DIE, "working_height")
    sheared = die | {"shear_height": 4.0, "shear_contour": "straight"}
    rows = [die, sheared, sheared | {"shear_contour": "round one way"}, die | {"shear_height": 4.0}]
    demand = die_demand(made.quick("die", rows))
    share = math.acos(1 - 2 * 0.5) / math.pi
    assert demand["cutting_force"] == pytest.approx([180e3, 90e3, 180e3 * share, 180e3])
    assert demand["stroke_force"] == pytest.approx([198e3, 108e3, 180e3 * share + 18e3, 198e3])
    assert demand["working_height"] == pytest.approx([3, 7, 7, 7])
    assert demand["energy"] == pytest.approx([180e3 * 2 + 18e3 * 3, *[180e3 * 2 + 18e3 * 7] * 3])
    assert Outcome(sheared, PRESS).capacity < Outcome(die, PRESS).capacity


def test_a_share_of_the_edge_that_is_given_goes_before_the_contour_and_only_with_shear():
    sheared = DIE | {"shear_height": 4.0, "shear_contour": "straight", "engaged_share": 0.7}
    demand = die_demand(made.quick("die", [sheared, sheared | {"shear_height": 0.0}]))
    assert demand["cutting_force"] == pytest.approx([126e3, 180e3])


def test_shear_of_a_contour_that_is_not_known_lowers_nothing_and_is_said():
    dies = made.quick("die", [DIE | {"shear_height": 4.0, "shear_contour": "wavy"}])
    assert die_demand(dies)["cutting_force"] == pytest.approx([180e3])
    assert "the shear lowers nothing" in dies.troubles[0].sentence


def test_shear_over_a_rectangle_needs_its_sides():
    sizes = {"sheared_length": 100.0, "sheared_width": 40.0}
    die = DIE | {"shear_height": 2 / 0.15, "shear_contour": "rectangle, one way"}
    demand = die_demand(made.quick("die", [die, die | sizes]))
    assert demand["cutting_force"] == pytest.approx([180e3, 180e3 * 0.25])


def test_groups_of_punches_lower_the_peak_only_as_far_as_they_do_not_cut_together():
    die = {name: value for name, value in DIE.items() if name != "working_height"} | {
        "thickness": 1.0,
        "cut_length": 1000.0,
        "penetration": 0.3,
        "stripping_share": 0.0,
    }
    groups = {"group_cut_lengths": (500.0, 500.0), "group_heights": (6.0, 0.0)}
    rows = [
        *(die, die | groups, die | groups | {"group_heights": (0.2, 0.0)}, die | groups | {"edge_allowance": 0.3}),
        die | {"group_forces": (200.0, 100.0), "group_heights": (0.0, 1.0), "cut_length": None},
    ]
    demand = die_demand(made.quick("die", rows))
    assert demand["cutting_force"] == pytest.approx([300e3, 150e3, 300e3, 195e3, 200e3])
    assert demand["working_height"] == pytest.approx([2, 8, 2.2, 8, 3])
    assert demand["energy"] == pytest.approx([90e3, 90e3, 90e3, 117e3, 90e3])


@pytest.mark.parametrize(
    ("groups", "words"),
    [
        ({"group_cut_lengths": (100.0, 100.0), "group_heights": (6.0, 0.0)}, "do not add up to the cut length"),
        ({"group_cut_lengths": (150.0, 150.0), "group_heights": (6.0,)}, "2 groups are given and 1 entry heights"),
        ({"group_forces": (20.0, 20.0), "group_heights": (6.0, 0.0)}, "are below the force of the whole cut"),
        ({"group_heights": (6.0, 0.0)}, "0 groups are given"),
    ],
)
def test_groups_that_contradict_the_cut_are_said_and_not_used(groups, words):
    dies = made.quick("die", [without(DIE, "working_height") | groups])
    demand = die_demand(dies)
    assert demand["cutting_force"] == pytest.approx([180e3])
    assert demand["working_height"] == pytest.approx([9.0])
    assert words in dies.troubles[0].sentence


def test_worn_edges_raise_a_cut_that_is_worked_out_and_none_that_is_stated():
    blank = without(DIE, "edge_allowance")
    demand = die_demand(made.quick("die", [blank, blank | {"cutting_force": 180.0}]))
    assert demand["cutting_force"] == pytest.approx([1.3 * 180e3, 180e3])
    assert demand["stroke_force"][0] == pytest.approx(1.3 * 198e3)


def test_a_stated_peak_below_that_of_square_edges_leaves_the_height_open():
    """Shear or stagger is at work, and nobody says how high: the force may begin far above the sheet."""
    die = without(DIE, "working_height") | {"cutting_force": 90.0}
    assert Outcome(die, PRESS).unchecked == {"force", "working_height", "energy"}
    unknown = {"force", "working_height", "energy", "off_centre"}  # what stripping goes by is not known either
    assert Outcome(without(die, "cut_length"), PRESS).unchecked == unknown
    assert Outcome(die | {"shear_height": 4.0}, PRESS).unchecked == set()
    assert Outcome(without(die, "cut_length") | {"shear_height": 0.0}, PRESS).unchecked == set()
    demand = die_demand(made.quick("die", [die | {"shear_height": 4.0}]))
    assert demand["energy"] == pytest.approx([180e3 * 2 + 18e3 * 7])  # of the whole cut


def test_a_stated_peak_with_shear_acts_over_the_shear_too():
    die = without(DIE, "working_height") | {"cutting_force": 200.0, "shear_height": 4.0}  # above square edges
    demand = die_demand(made.quick("die", [die, without(die, "cut_length")]))
    assert demand["energy"][0] == pytest.approx(200e3 * (2 + 4) + 20e3 * 7)
    assert math.isnan(demand["energy"][1])  # the force of square edges, that energy goes by, is not known


def test_a_working_height_below_what_the_edges_reach_is_not_believed():
    """2 mm of sheet and 1 mm of entry: the cut begins at 3 mm, whatever is stated."""
    rows = [DIE | {"working_height": height} for height in (3.5, 2.5, 1.9)]
    dies = made.quick("die", rows)
    height = die_demand(dies)["working_height"]
    assert height[:2] == pytest.approx([3.5, 3.0])
    assert math.isnan(height[2])
    assert "stated as 2.5 mm; thickness, punch entry, shear and stagger make it 3 mm" in dies.troubles[1].sentence
    assert "stated as 1.9 mm, and the cut alone acts from 2 mm down" in dies.troubles[0].sentence


def test_groups_and_shear_together_cut_together_as_far_as_both_reach():
    die = without(DIE, "working_height") | {"shear_height": 6.0, "shear_contour": "straight"}
    groups = {"group_cut_lengths": (150.0, 150.0), "group_heights": (6.0, 0.0)}
    demand = die_demand(made.quick("die", [die | groups, die | groups | {"group_heights": (8.0, 0.0)}]))
    assert demand["cutting_force"] == pytest.approx([180e3, 90e3])


def test_what_a_stated_force_has_above_its_parts_may_push_all_the_way():
    demand = die_demand(made.quick("die", [DIE | {"stroke_force": 298.0}]))
    assert demand["energy"] == pytest.approx([180e3 * 2 + 18e3 * 3 + 100e3 * 3])


def test_a_larger_stated_force_counts_whatever_its_basis():
    rows = [DIE | {"stroke_force": 400.0, "force_basis": word} for word in ("parts", "stated", "")]
    assert die_demand(made.quick("die", rows))["stroke_force"] == pytest.approx([400e3] * 3)


def test_push_through_counts_with_every_slug_in_the_land():
    die = without(DIE, "ejection_force") | {"ejection_share": 0.05}
    demand = die_demand(made.quick("die", [die | {"slugs": 4.0}, die | {"slugs": 0.0}, die]))
    assert demand["stroke_force"][:2] == pytest.approx([198e3 + 36e3, 198e3])
    assert math.isnan(demand["stroke_force"][2])


def test_a_fixed_stripper_does_not_load_the_slide_on_its_way_down():
    rows = [without(DIE, "stripping_share") | {"stripper": word} for word in ("fixed", "None", "spring", "rubber")]
    dies = made.quick("die", rows)
    force = die_demand(dies)["stroke_force"]
    assert force[:2] == pytest.approx([180e3, 180e3])
    assert np.isnan(force[2:]).all()
    assert [trouble.place for trouble in dies.troubles] == ['stripper "rubber"']


def test_a_draw_that_cannot_come_out_does_not_pass():
    """Formed from 60 mm down, the part is 60 mm high: it wants 120 mm of stroke and has 100."""
    die = FORMS | {"forming_force": 200.0, "working_height": 60.0, "part_height": 60.0, "lift": 0.0}
    for name in ("punch_entry", "stroke_needed", "thickness"):
        die = without(die, name)
    press = PRESS | {"stroke": 100.0, "rated_force": 4000.0}
    assert Outcome(die, press).failed >= {"opening", "stroke"}
    assert Outcome(die | {"thickness": 2.0}, press).margins["opening"] == pytest.approx(100 - 58 - 60)
    unknown = without(die, "working_height")
    assert Outcome(unknown, press).unchecked >= {"opening", "stroke", "working_height"}
    assert Outcome(unknown | {"part_height": 110.0}, press).failed == {"opening"}


def test_a_forming_die_passes_on_energy_only_if_the_whole_force_over_the_whole_height_does():
    die = FORMS | {"working_height": 8.0, "stroke_rate": 120.0}  # at most 180 kN * 8 mm = 1440 J
    assert Outcome(die, PRESS | {"energy": 1440.0}).margins["energy"] == pytest.approx(0.0, abs=1e-6)
    assert Outcome(die, PRESS | {"energy": 1440.0}).unchecked == set()
    assert Outcome(die, PRESS | {"energy": 1439.0}).unchecked == {"energy"}
    assert Outcome(die | {"energy": 1439.5}, PRESS | {"energy": 1439.0}).failed == {"energy"}
    assert "snap_through" not in Outcome(die, PRESS).applies


def test_a_cutting_die_with_a_pad_needs_more_energy_than_the_cut_alone():
    die = DIE | {"pad_force": 50.0, "stroke_rate": 120.0}  # at most 248 kN * 3 mm = 744 J; the cut alone 414 J
    assert Outcome(die, PRESS | {"energy": 500.0}).unchecked == {"energy"}
    assert Outcome(die, PRESS | {"energy": 744.0}).unchecked == set()


def test_a_forming_die_without_a_height_is_not_checked_on_a_mechanical_press():
    die = without(FORMS, "working_height")
    assert Outcome(die, PRESS).unchecked == {"force", "working_height", "energy"}
    assert Outcome(without(die, "kind_wanted"), HYDRAULIC).unchecked == {"working_height"}


@pytest.mark.parametrize("name", ["group_heights", "stripping_share", "ejection_force", "reverse_share"])
def test_a_forming_die_with_a_sign_of_a_cut_is_no_forming_die(name):
    die = FORMS | {"group_heights": (1.0, 0.0), name: DIE.get(name, (1.0, 0.0)) or 10.0}
    if name != "group_heights":
        die = without(die, "group_heights")
    assert Outcome(die, PRESS).unchecked >= {"force", "snap_through"}


def test_no_stripping_is_no_sign_of_a_cut_and_a_stroke_force_that_is_the_sum_of_its_parts_is_believed():
    assert Outcome(FORMS | {"stripping_force": 0.0}, PRESS).unchecked == Outcome(FORMS, PRESS).unchecked
    dies = made.quick("die", [FORMS | {"stroke_force": 180.0}])
    assert die_demand(dies)["stroke_force"] == pytest.approx([180e3])
    assert dies.troubles == []


def test_a_die_with_nothing_but_a_force_may_cut_and_snap_through():
    not_known = ("cut_length", "ejection_force")
    die = {name: value for name, value in FORMS.items() if not name.endswith("_force") and name not in not_known}
    assert Outcome(die | {"stroke_force": 150.0}, PRESS).unchecked == {"snap_through"}


def test_a_force_of_zero_is_no_force_and_beside_a_cut_length_it_is_a_contradiction():
    assert "snap_through" not in Outcome(FORMS | {"cutting_force": 0.0}, PRESS).applies
    assert Outcome(FORMS | {"cutting_force": 0.0}, PRESS).unchecked == Outcome(FORMS, PRESS).unchecked
    assert Outcome(without(FORMS, "cut_length") | {"cutting_force": 0.0}, PRESS).failed == set()
    dies = made.quick("die", [DIE | {"cutting_force": 0.0}])
    assert math.isnan(die_demand(dies)["stroke_force"][0])
    assert "cutting force of 0 and a cut length" in dies.troubles[0].sentence


def test_a_stroke_force_below_its_parts_counts_only_if_the_register_says_so():
    row = DIE | {"forming_force": 150.0, "stroke_force": 310.0}  # the parts come to 348 kN
    rows = [row, row | {"force_basis": "stated"}, row | {"force_basis": "parts"}, row | {"force_basis": "guess"}]
    dies = made.quick("die", [row | {"id": str(i)} for i, row in enumerate(rows)])
    assert die_demand(dies)["stroke_force"] == pytest.approx([348e3, 310e3, 348e3, 348e3])
    said = [trouble for trouble in dies.troubles if "stated as" in trouble.sentence]
    assert [(trouble.place, trouble.name) for trouble in said] == [("row 2", "0"), ("row 5", "3")]
    assert "stated as 310 kN, its parts come to 348 kN: the larger one counts" in said[0].sentence
    die_demand(dies)
    assert len(dies.troubles) == 3  # said once, and that a guess is no basis


@pytest.mark.parametrize("part", ["cutting_force", "forming_force", "pad_force"])
def test_a_stroke_force_below_one_of_its_parts_is_never_believed(part):
    dies = made.quick("die", [DIE | {"stroke_force": 20.0, part: 250.0, "force_basis": "stated"}])
    assert die_demand(dies)["stroke_force"] == pytest.approx([250e3])
    assert "stated as 20 kN, one part alone as 250 kN: the larger one counts" in dies.troubles[0].sentence


def test_a_stroke_force_below_the_parts_that_are_known_says_nothing_of_the_others():
    """Stated 100 kN, and 348 kN without the pads: with them it is more, and nobody knows how much."""
    row = without(DIE, "pad_force") | {"forming_force": 150.0, "stroke_force": 100.0}
    demand = die_demand(made.quick("die", [row, row | {"stroke_force": 400.0}]))
    assert math.isnan(demand["stroke_force"][0])
    assert demand["least_force"][0] == pytest.approx(348e3)
    assert demand["stroke_force"][1] == pytest.approx(400e3)
    assert "force" in Outcome(row, PRESS | {"rated_force": 4000.0}).unchecked


def test_the_parts_that_are_known_are_enough_to_fail():
    die = without(DIE, "pad_force")
    assert Outcome(die, PRESS).unchecked == {"force", "energy", "off_centre"}
    assert Outcome(die, PRESS | {"rated_force": 200.0}).failed == {"force"}
    assert Outcome(die | {"stroke_force": 100.0}, PRESS | {"rated_force": 200.0}).failed == {"force"}


def test_a_material_gives_the_upper_end_of_its_strength_and_a_stated_strength_goes_before():
    rows = [without(DIE, "shear_strength") | {"material": "Q235"}, DIE | {"material": "Q235"}]
    dies = made.quick("die", [*rows, without(DIE, "shear_strength") | {"material": "cheese"}])
    force = die_demand(dies)["cutting_force"]
    assert force[0] == pytest.approx(pf.shearing_force(300.0, 2.0, 380.0))
    assert force[1] == pytest.approx(180e3)
    assert math.isnan(force[2])
    assert [trouble.place for trouble in dies.troubles] == ['material "cheese"']
    known_force = without(DIE, "shear_strength") | {"material": "cheese", "cutting_force": 100.0}
    assert made.quick("die", [known_force]).troubles == []


def test_groups_of_one_row_that_cannot_be_used_say_nothing_of_the_next_row():
    """4 mm of sheet part when 2 mm are cut: groups 6 mm apart never cut together, groups 1.5 mm apart do."""
    die = without(DIE, "working_height") | {"thickness": 4.0, "cut_length": 200.0, "penetration": 0.5}
    good = die | {"group_cut_lengths": (100.0, 100.0), "group_heights": (6.0, 0.0)}
    unusable = [
        good | {"group_heights": (math.nan, 0.0)},
        without(good, "thickness"),
        good | {"group_heights": (6.0,)},
    ]
    rows = [die, *(row for one in unusable for row in (one, good)), good | {"group_heights": (1.5, 0.0)}]
    peaks = die_demand(made.quick("die", rows))["cutting_force"]
    assert peaks[[2, 4, 6]] == pytest.approx([120e3] * 3)
    assert peaks[[0, 1, 5, 7]] == pytest.approx([240e3] * 4)
    assert np.isnan(peaks[3])


def test_a_cut_shorter_than_a_millimetre_is_a_cut():
    die = DIE | {"cut_length": 0.5}
    dies = made.quick(
        "die", [die, without(die, "cut_length") | {"cutting_force": 1e-4}, die | {"cutting_force": 0.0}]
    )
    demand = die_demand(dies)
    assert demand["cuts"] == pytest.approx([1, 1, 1])
    assert demand["cutting_force"] == pytest.approx([300, 0.1, np.nan], nan_ok=True)
    assert "a cutting force of 0 and a cut length" in dies.troubles[0].sentence


def test_a_cutting_force_without_any_other_sign_is_a_cut():
    assert die_demand(made.quick("die", [{"id": "A", "cutting_force": 100.0}]))["cuts"] == pytest.approx([1])


def test_push_through_of_one_slug_counts_in_force_and_energy():
    die = without(DIE, "working_height")
    pushing = without(die, "ejection_force") | {"ejection_share": 0.05, "slugs": 1.0}
    demand = die_demand(made.quick("die", [die, pushing]))
    assert demand["ejection_force"][1] == pytest.approx(9e3)
    assert demand["energy"][1] - demand["energy"][0] == pytest.approx(9e3 * demand["working_height"][1])


def test_lift_adds_to_the_stroke_needed_and_shear_takes_from_the_entry():
    """The punch goes as far as the working height, less the sheet and less the shear."""
    die = without(DIE, "punch_entry") | {"working_height": 20.0, "shear_height": 4.0, "part_height": 30.0}
    demand = die_demand(made.quick("die", [die | {"lift": 0.0}, die | {"lift": 7.0}]))
    entry = 20.0 - DIE["thickness"] - 4.0
    assert demand["punch_entry"] == pytest.approx([entry, entry])
    assert demand["stroke_needed"] == pytest.approx([entry + 30, entry + 37])


def test_a_working_height_below_the_part_of_the_sheet_that_is_cut_and_the_shear_is_not_known():
    """4 mm of sheet, half of it cut, and 3 mm of shear: the cut acts over 5 mm at least."""
    die = DIE | {"thickness": 4.0, "penetration": 0.5, "shear_height": 3.0}
    heights = die_demand(made.quick("die", [die | {"working_height": h} for h in (4.9, 5.1)]))["working_height"]
    assert np.isnan(heights[0])
    assert heights[1] >= 7.0


def test_a_stated_force_that_stands_is_the_least_there_is():
    """Its parts do not act together, so their sum proves nothing against a press."""
    die = DIE | {"forming_force": 150.0, "stroke_force": 200.0}
    demand = die_demand(made.quick("die", [die | {"force_basis": "stated"}, die]))
    assert demand["least_force"][0] == pytest.approx(200e3)
    assert demand["least_force"][1] > 330e3


CUT_SIGNS = ("cut_length", "reverse_share", "stripping_share")
"""What says of DIE that it cuts."""


@pytest.mark.parametrize("nothing", [{"cut_length": 0.0}, {"cutting_force": 0.0}])
def test_a_die_that_cuts_nothing_has_a_cut_of_zero_and_keeps_its_working_height(nothing):
    """Its working height may lie below the sheet: a coining die acts over less than the thickness."""
    die = without(DIE, *CUT_SIGNS) | {"forming_force": 50.0} | nothing
    demand = die_demand(made.quick("die", [die | {"thickness": 4.0, "working_height": 3.0}]))
    figures = ("cuts", "cutting_force", "stripping_force", "stroke_force", "working_height")
    assert [demand[name][0] for name in figures] == pytest.approx([0, 0, 0, 50e3, 3])


def test_a_cut_length_that_was_not_read_is_not_taken_for_none():
    die = without(DIE, *CUT_SIGNS) | {"cutting_force": 0.0}
    assert die_demand(made.quick("die", [die]))["cuts"] == pytest.approx([0])
    assert np.isnan(die_demand(made.quick("die", [die | {"cut_length": None}], ["cut_length"]))["cuts"][0])


def test_stripping_may_take_as_much_as_the_cut():
    assert die_demand(made.quick("die", [DIE | {"stripping_share": 1.0}]))["stripping_force"] == pytest.approx(
        [180e3]
    )


def test_a_stated_force_below_its_parts_is_said_once():
    dies = made.quick("die", [DIE | {"stroke_force": 100.0}])
    die_demand(dies)
    assert ["its parts come to" in trouble.sentence for trouble in dies.troubles] == [True]
