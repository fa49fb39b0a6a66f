"""What a press gives: drive and frame, rating, height, energy, rods, rates, and what contradicts itself."""

from __future__ import annotations

import math

import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from pairs_made import ANY_PRESS, Outcome, without
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs import functions as pf
from pressfuncs.batch.assignment.checks import names_of, pair_margins
from pressfuncs.batch.assignment.demand import die_demand
from pressfuncs.batch.assignment.supply import press_supply


def test_a_die_that_wants_more_than_the_rating_fails_whatever_else_is_missing():
    """No press gives more than its rating at any height: that is known without rated height, kind or stroke."""
    for names in (["rated_height"], ["stroke"], ["drive", "rated_height"], ["rod", "stroke"]):
        press = PRESS | {"rated_force": 200.0}
        for name in names:
            press = without(press, name)
        assert "force" in Outcome(DIE, press).failed, names


def test_a_die_that_is_too_large_one_way_fails_though_the_other_size_is_missing():
    assert Outcome(without(DIE, "die_length") | {"die_width": 460.0}, PRESS).failed == {"bed", "slide_face"}
    assert Outcome(DIE, without(PRESS, "bed_length") | {"bed_width": 290.0}).failed == {"bed"}


def test_a_die_taller_than_bed_to_slide_fails_though_the_bolster_is_not_given():
    outcome = Outcome(DIE | {"die_height": 341.0}, without(PRESS, "bolster"))
    assert outcome.failed == {"closed_height"}
    assert Outcome(DIE, PRESS | {"bolster": 400.0}).failed >= {"closed_height"}  # nothing is left over it


def test_the_die_space_is_measured_over_the_bolster():
    press = without(PRESS, "shut_height") | {"die_space": 270.0, "bolster": None}
    assert Outcome(DIE, press).unchecked == set()
    assert Outcome(DIE, press).margins["closed_height"] == pytest.approx(20.0)
    assert Outcome(DIE, press | {"bolster": 70.0}).margins["closed_height"] == pytest.approx(20.0)


def test_of_plate_and_bore_times_pressure_the_smaller_counts_and_too_much_pressure_is_said():
    by_bore = pf.hydraulic_capacity(160.0, 25.0, 1.0, 0.9)
    for plate, capacity in ((350.0, 350e3), (400.0, 400e3), (460.0, by_bore), (500.0, by_bore)):
        presses = made.quick("press", [HYDRAULIC | {"rated_force": plate}])
        pairs = pair_margins(die_demand(made.quick("die", [ANY_PRESS])), press_supply(presses))
        assert pairs.capacity[0, 0] == pytest.approx(capacity)
        said = [trouble.sentence for trouble in presses.troubles]
        assert len(said) == (plate < 440)
        assert all("never set the pressure above the plate" in sentence for sentence in said)


@pytest.mark.parametrize(
    ("kind", "height", "checked"),
    [
        ("knuckle joint", 3.0, True),
        ("knuckle joint", 4.0, True),
        ("knuckle joint", 4.1, False),
        ("link drive", 10.0, False),
        ("servo", 10.0, False),
        ("toggle press", 2.0, True),
        ("eccentric", 10.0, True),
        ("Straight-side, geared", 10.0, True),
    ],
)
def test_only_a_plain_crank_is_known_above_its_rated_height(kind, height, checked):
    outcome = Outcome(
        without(DIE, "kind_wanted") | {"working_height": height}, without(PRESS, "drive") | {"press_kind": kind}
    )
    assert ("force" in outcome.unchecked) != checked
    if checked and height <= 4.0:
        assert outcome.capacity == pytest.approx(400e3)


@pytest.mark.parametrize(
    "kind", ["screw", "hydraulic-mechanical", "mechanical with hydraulic clutch", "pneumatic", "?"]
)
def test_a_kind_that_is_not_clear_is_not_guessed(kind):
    """Read as hydraulic, a crank press would give its rating at any height."""
    for press in (PRESS, HYDRAULIC):
        presses = made.quick("press", [without(press, "drive") | {"press_kind": kind}])
        pairs = pair_margins(die_demand(made.quick("die", [DIE])), press_supply(presses))
        unchecked = {check.name for check in names_of(int(pairs.unchecked[0, 0]))}
        assert {"force", "kind"} <= unchecked
        assert "names no drive that is known, or two at once" in presses.troubles[0].sentence


def test_bore_and_rated_height_together_do_not_tell_a_kind():
    press = without(PRESS, "drive") | {"bore": 160.0, "pressure": 250.0}
    assert "force" in Outcome(without(DIE, "kind_wanted"), press).unchecked


def test_the_kind_of_press_is_right_or_wrong():
    assert Outcome(DIE, PRESS).margins["kind"] == 0.0
    assert Outcome(DIE, HYDRAULIC).margins["kind"] == -1.0


@pytest.mark.parametrize(
    ("frame", "limit"),
    [("straight side", 0.8), ("4-column", 0.8), ("C-frame", 0.6), ("", 0.6), ("gap frame", 0.6)],
)
def test_the_load_limit_goes_by_the_press_else_as_asked_else_by_its_frame(frame, limit):
    press = without(without(PRESS, "press_kind"), "load_limit") | {"frame": frame}
    supplies = [
        press_supply(made.quick("press", [press])),
        press_supply(made.quick("press", [press]), 0.7),
        press_supply(made.quick("press", [press | {"load_limit": 0.5}]), 0.7),
    ]
    assert [float(supply["load_limit"][0]) for supply in supplies] == [limit, 0.7, 0.5]


def test_frame_and_drive_are_two_things():
    """A C-frame with a cylinder is hydraulic, whether the words say so or only the bore does."""
    for words in ({"press_kind": "hydraulic C-frame"}, {"frame": "C-frame"}, {"press_kind": "C-frame"}):
        press = without(without(HYDRAULIC, "press_kind"), "load_limit") | words
        supply = press_supply(made.quick("press", [press]))
        assert Outcome(ANY_PRESS, press).unchecked == set()
        assert supply["load_limit"] == [0.6]
    neither = {name: value for name, value in PRESS.items() if name not in ("drive", "rated_height")}
    assert "force" in Outcome(without(DIE, "kind_wanted"), neither).unchecked


def test_an_underdrive_press_gives_less_above_its_rated_height_and_unsaid_counts_as_one():
    die = DIE | {"working_height": 20.0}
    top, under, unsaid = (
        Outcome(die, PRESS | {"drive": drive}).capacity for drive in ("top drive", "underdrive", "crank")
    )
    assert under == unsaid < top
    assert under == pytest.approx(pf.mechanical_capacity(400e3, 4.0, 80.0, 350.0, 20.0, "under"))


def test_a_servo_hydraulic_press_is_hydraulic():
    assert Outcome(ANY_PRESS, HYDRAULIC | {"press_kind": "servo hydraulic"}).unchecked == set()


def test_a_kind_wanted_that_is_not_understood_is_not_checked():
    assert Outcome(DIE | {"kind_wanted": "the big one"}, PRESS).unchecked == {"kind"}
    assert Outcome(DIE | {"kind_wanted": "gap frame"}, PRESS).unchecked == {"kind"}
    assert Outcome(DIE, without(HYDRAULIC, "press_kind")).failed == {"kind"}
    assert Outcome(DIE | {"kind_wanted": "crank"}, PRESS | {"drive": "servo"}).failed == set()


def test_a_flywheel_that_turns_more_slowly_holds_less_energy_by_the_square():
    press = PRESS | {"energy": 1656.0}  # the die takes 414 J and runs at 60 of 120 strokes: a quarter is left
    assert Outcome(DIE, press).margins["energy"] == pytest.approx(0.0, abs=1e-6)
    assert Outcome(DIE | {"stroke_rate": 59.0}, press).failed == {"energy"}
    assert Outcome(DIE | {"stroke_rate": 200.0}, press).margins["energy"] == pytest.approx((1656 - 414) * 1000)
    unsaid = without(press, "rate_low")  # it may have one speed: enough for a quarter is enough, else not checked
    assert Outcome(DIE, unsaid).unchecked == {"rate"}
    assert Outcome(DIE, unsaid | {"energy": 1600.0}).unchecked == {"rate", "energy"}
    assert Outcome(DIE, unsaid | {"energy": 400.0}).failed == {"energy"}


def test_a_die_that_stands_the_highest_rate_of_a_press_needs_no_lowest_one():
    assert Outcome(DIE | {"stroke_rate": 120.0}, without(PRESS, "rate_low")).unchecked == set()


def test_a_press_whose_lowest_rate_is_its_highest_has_one_speed():
    outcome = Outcome(DIE, PRESS | {"energy": 500.0, "rate_low": 120.0})
    assert outcome.failed == {"rate"}
    assert outcome.margins["energy"] == pytest.approx((500 - 414) * 1000)


def test_flywheel_energy_and_slow_down_give_the_energy_of_a_stroke():
    press = without(PRESS, "energy") | {"flywheel_energy": 10000.0, "slowdown": 0.2}
    outcome = Outcome(DIE | {"stroke_rate": 120.0}, press)
    assert outcome.margins["energy"] == pytest.approx(pf.usable_energy(1e7, 0.2) - 414e3)
    assert Outcome(DIE, without(press, "slowdown")).margins["energy"] < outcome.margins["energy"]


def test_spacers_help_a_short_die_and_an_unknown_number_of_them_is_not_checked():
    short = DIE | {"die_height": 180.0}  # 90 mm under the slide, 60 mm of adjustment
    assert Outcome(short, PRESS).margins["adjustment"] == pytest.approx(10.0)
    assert Outcome(short, PRESS | {"most_spacer": 29.0}).failed == {"adjustment"}
    assert Outcome(short, without(PRESS, "most_spacer")).unchecked == {"adjustment"}


def test_a_press_whose_plate_could_not_be_read_is_not_known_by_its_bore():
    presses = made.quick("press", [HYDRAULIC], ["rated_force"])
    pairs = pair_margins(die_demand(made.quick("die", [ANY_PRESS])), press_supply(presses))
    assert "force" in {check.name for check in names_of(int(pairs.unchecked[0, 0]))}


def test_a_check_that_the_shop_declares_is_left_out_and_fails_all_the_same():
    demand = die_demand(made.quick("die", [without(DIE, "shank_diameter"), DIE | {"shank_diameter": 50.0}]))
    pairs = pair_margins(demand, press_supply(made.quick("press", [PRESS])), ["shank"])
    assert pairs.unchecked[:, 0].tolist() == [0, 0]
    assert [check.name for check in names_of(int(pairs.failed[1, 0]))] == ["shank"]


def test_without_a_rod_the_lower_capacity_of_a_short_and_a_long_one_counts():
    die = DIE | {"working_height": 20.0}
    without_rod = Outcome(die, without(PRESS, "rod")).capacity
    by_rod = [
        Outcome(die, PRESS | {"rod": 80.0 * strokes}).capacity for strokes in (1, 2, 3, 5, 8, 13, 21, 34, 50)
    ]
    assert without_rod == min(by_rod)


@given(st.floats(1.0, 50.0), st.floats(0.01, 0.5), st.floats(0.0, 1.0))
def test_no_rod_between_the_short_and_the_long_one_gives_less(strokes, rated, height):
    for drive in ("top", "under"):
        given_rod = pf.mechanical_capacity(1.0, rated, 1.0, strokes, height, drive)
        ends = [pf.mechanical_capacity(1.0, rated, 1.0, rod, height, drive) for rod in (1.0, 50.0)]
        assert given_rod >= min(ends) * (1 - 1e-12)


def test_figures_of_a_press_that_are_impossible_together_are_said_and_not_checked():
    for figures, words in (
        ({"rated_height": 50.0}, "above half of the stroke"),
        ({"rod": 30.0}, "not longer than the crank radius"),
        ({"bolster": 340.0}, "leaves nothing of the shut height"),
    ):
        presses = made.quick("press", [PRESS | figures])
        pairs = pair_margins(die_demand(made.quick("die", [DIE])), press_supply(presses))
        assert pairs.failed[0, 0] | pairs.unchecked[0, 0] != 0
        (trouble,) = presses.troubles
        assert words in trouble.sentence
        assert (trouble.place, trouble.name) == ("row 2", "P1")


def test_a_press_without_a_rate_or_an_hourly_rate_or_a_setup_has_no_cost():
    assert Outcome(DIE, PRESS).cost > 0
    for name in ("rate_high", "hourly_rate", "setup"):
        assert math.isnan(Outcome(DIE, without(PRESS, name)).cost), name
    assert math.isnan(Outcome(without(DIE, "quantity"), PRESS).cost)
    assert Outcome(DIE | {"setup": 1.0}, without(PRESS, "setup")).cost > Outcome(DIE, PRESS).cost


def test_what_is_just_enough_without_an_unknown_figure_is_not_passed_for_it():
    """A die as long as the bed: with clamps of an unknown size it may not fit, without them it does."""
    die = DIE | {"die_length": 700.0, "upper_die_length": 400.0}
    assert Outcome(die, without(PRESS, "clamping_length")).unchecked == {"bed"}
    nearly = DIE | {"die_length": 699.5, "upper_die_length": 400.0}
    assert Outcome(nearly, without(PRESS, "clamping_length")).unchecked == {"bed"}


def test_clamps_known_one_way_are_enough_to_fail():
    die = DIE | {"die_length": 650.0, "upper_die_length": 400.0}
    press = without(PRESS, "clamping_width") | {"clamping_length": 24.0}
    assert Outcome(die, press).unchecked == {"bed"}
    assert Outcome(die, press | {"clamping_length": 26.0}).failed == {"bed"}


def test_known_parts_fail_against_the_capacity_at_the_height_and_not_only_the_rating():
    die = without(DIE, "pad_force") | {"working_height": 30.0}
    assert Outcome(DIE | {"working_height": 30.0}, PRESS).capacity * 0.8 < 198e3 < 400e3 * 0.8
    assert Outcome(die, PRESS).failed == {"force"}


def test_a_load_limit_that_could_not_be_read_is_not_known_and_at_most_all():
    dies = die_demand(made.quick("die", [DIE, DIE | {"stroke_force": 405.0, "id": "D2"}]))
    pairs = pair_margins(dies, press_supply(made.quick("press", [without(PRESS, "load_limit")], ["load_limit"])))
    assert [check.name for check in names_of(int(pairs.unchecked[0, 0]))] == ["force"]
    assert "force" in {check.name for check in names_of(int(pairs.failed[1, 0]))}


def test_a_die_without_a_shank_asks_for_none():
    outcome = Outcome(DIE | {"shank_diameter": 0.0}, without(PRESS, "shank_bore"))
    assert "shank" not in outcome.applies
    assert outcome.unchecked == set()


def test_of_a_drive_that_is_not_known_neither_bore_nor_plate_alone_is_the_capacity():
    """Rated height and bore exclude each other: 63 kN by its bore, 400 kN by its plate."""
    press = without(PRESS, "drive") | {"bore": 60.0, "pressure": 250.0}
    supply = press_supply(made.quick("press", [press, press | {"id": "P2", "bore": 300.0}]))
    assert supply["rated_force"] == pytest.approx([pf.hydraulic_capacity(60.0, 25.0, 1.0, 0.9), 400e3])
    unread = press_supply(made.quick("press", [without(press, "bore")], ["bore"]))
    assert unread["rating_known"] == [0.0]
    crank = press_supply(made.quick("press", [PRESS], ["pressure"]))
    assert (crank["rating_known"], crank["rated_force"]) == ([1.0], [400e3])
