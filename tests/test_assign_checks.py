"""Every check of every pair: against the plain functions, on the boundary, with a figure missing, at any scale."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
import registers_made as made
from hypothesis import given
from hypothesis import strategies as st
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs import functions as pf
from pressfuncs import units
from pressfuncs.batch.assignment.checks import Pairs, names_of, pair_margins
from pressfuncs.batch.assignment.demand import DIE_COLUMNS, die_demand
from pressfuncs.batch.assignment.figures import known
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.batch.assignment.supply import PRESS_COLUMNS, press_supply
from pressfuncs.functions._checks import CHECKS

NAMES = [check.name for check in CHECKS]
ANY_PRESS = {name: value for name, value in DIE.items() if name != "kind_wanted"}
FORMS = {name: value for name, value in DIE.items() if name not in ("stripping_share", "reverse_share")} | {
    "cut_length": 0.0,
    "forming_force": 150.0,
    "pad_force": 30.0,
}
"""A die that only forms."""


def pairs_of(die: Mapping[str, Any], press: Mapping[str, Any]) -> Pairs:
    return pair_margins(die_demand(made.quick("die", [die])), press_supply(made.quick("press", [press])))


class Outcome:
    """One pair."""

    def __init__(self, die: Mapping[str, Any], press: Mapping[str, Any]) -> None:
        pairs = pairs_of(die, press)
        self.failed = {check.name for check in names_of(int(pairs.failed[0, 0]))}
        self.unchecked = {check.name for check in names_of(int(pairs.unchecked[0, 0]))}
        self.applies = {name for name, applies in zip(NAMES, pairs.applies[:, 0, 0]) if applies}
        self.margins = {name: float(margin) for name, margin in zip(NAMES, pairs.margins[:, 0, 0])}
        self.cost, self.capacity = float(pairs.cost[0, 0]), float(pairs.capacity[0, 0])


def test_a_complete_die_passes_every_check_of_a_press_made_for_it():
    outcome = Outcome(DIE, PRESS)
    assert (outcome.failed, outcome.unchecked) == (set(), set())
    assert outcome.applies == set(NAMES)
    hydraulic = Outcome(ANY_PRESS, HYDRAULIC)
    assert (hydraulic.failed, hydraulic.unchecked) == (set(), set())
    assert set(NAMES) - hydraulic.applies == {"energy", "kind"}


def test_the_columns_are_those_that_are_announced():
    assert tuple(die_demand(made.quick("die", [DIE]))) == DIE_COLUMNS
    assert tuple(press_supply(made.quick("press", [PRESS]))) == PRESS_COLUMNS


# Against the plain functions, one pair after the other


def by_hand(die: dict[str, float], press: dict[str, float]) -> dict[str, float]:
    """Compute all margins of one pair of complete rows with the plain functions, in core units."""
    cut = pf.shearing_force(die["cut_length"], die["thickness"], die["shear_strength"])
    stripping = pf.stripping_force(cut, die["stripping_share"])
    force = pf.stroke_force(cut, stripping, 0.0, die["forming_force"], die["pad_force"])
    height = die["working_height"]
    if "bore" in press:
        cylinders = press["cylinders"], press["press_efficiency"]
        rated = pf.hydraulic_capacity(press["bore"], press["pressure"], *cylinders)
        capacity = rated
    else:
        rated = press["rated_force"]
        motion = press["rated_height"], press["stroke"], press["rod"]
        capacity = pf.mechanical_capacity(rated, *motion, height) if height <= press["stroke"] else math.nan
    rate = min(die["stroke_rate"], press["rate_high"])
    slower = rate / press["rate_high"] if press["rate_low"] < press["rate_high"] else 1.0
    bolster = press["bolster"]
    opening = pf.tool_opening(press["stroke"], die["punch_entry"])
    margins = {
        "force": pf.force_margin(force, capacity if capacity == capacity else rated, press["load_limit"]),
        "working_height": press["stroke"] - height,
        "snap_through": press["snap_through"] - pf.snap_through_force(cut, die["reverse_share"]),
        "closed_height": pf.closed_height_margin(die["die_height"], press["shut_height"], bolster, 0),
        "adjustment": pf.adjustment_margin(
            die["die_height"], press["shut_height"], press["adjustment"] + press["most_spacer"], bolster, 0
        ),
        "opening": pf.part_clearance_margin(opening, die["part_height"], die["lift"]),
        "stroke": press["stroke"]
        - max(die["stroke_needed"], die["punch_entry"] + die["part_height"] + die["lift"]),
        "bed": pf.bed_margin(press["bed_length"], press["bed_width"], die["die_length"], die["die_width"], 0, 0),
        "slide_face": pf.slide_face_margin(
            press["slide_length"] + 2 * press["overhang"],
            press["slide_width"] + 2 * press["overhang"],
            die["die_length"],
            die["die_width"],
            0,
            0,
        ),
        "off_centre": pf.off_centre_margin(force, die["load_centre"], press["allowed_moment"]),
        "mass": press["mass_limit"] - die["mass"],
        "upper_mass": press["upper_mass_limit"] - die["upper_mass"],
        "shank": pf.shank_margin(press["shank_bore"], die["shank_diameter"]),
        "rate": die["stroke_rate"] - press["rate_low"],
    }
    if "bore" not in press:
        energy = pf.cutting_energy(cut, die["thickness"]) + stripping * height
        margins["energy"] = pf.energy_margin(energy, press["energy"] * slower * slower)
    part_rate = pf.stroke_rate_throughput(rate, die["parts_per_stroke"], die["efficiency"], 0)
    setup = pf.setup_cost(press["setup"], press["hourly_rate"], die["quantity"])
    margins["cost"] = pf.piece_cost(0.0, pf.press_cost(part_rate, press["hourly_rate"], 0, 1), setup, 0, 0, 0)
    return margins


def varied(base: Mapping[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Return rows like this one with every figure from half to twice of it."""
    fixed = {name: value for name, value in base.items() if isinstance(value, str) or name in _KEPT}
    free = {name: value for name, value in base.items() if name not in fixed}
    return st.fixed_dictionaries(
        {name: st.floats(0.5, 2.0).map(lambda factor, value=value: value * factor) for name, value in free.items()}
    ).map(lambda row: fixed | row)


_KEPT = {"cylinders", "press_efficiency", "efficiency", "parts_per_stroke", "rod", "load_limit"}
LIMITS = st.sampled_from((0.5, 0.7, 0.8, 1.0))


def core(kind: str, row: Mapping[str, Any]) -> dict[str, float]:
    return {
        name: value * made.kind_of(kind, name).factor("metric")
        for name, value in row.items()
        if not isinstance(value, str)
    }


@given(
    st.lists(varied(ANY_PRESS), min_size=1, max_size=3),
    st.lists(st.one_of(varied(PRESS), varied(HYDRAULIC)), min_size=1, max_size=3),
    LIMITS,
)
def test_every_margin_of_every_pair_is_what_the_plain_functions_give(dies, presses, load_limit):
    presses = [press | {"load_limit": load_limit} for press in presses]
    for die in dies:  # no cut begins lower than its edges reach
        die["working_height"] = max(die["working_height"], die["thickness"] + die["punch_entry"])
    pairs = pair_margins(die_demand(made.quick("die", dies)), press_supply(made.quick("press", presses)))
    for i, die in enumerate(dies):
        for j, press in enumerate(presses):
            want = by_hand(core("die", die), core("press", press))
            assert pairs.cost[i, j] == pytest.approx(want.pop("cost"), rel=1e-12)
            for name, margin in want.items():
                assert pairs.margins[NAMES.index(name), i, j] == pytest.approx(margin, rel=1e-9, abs=1e-6), name
            failing = {name for name, margin in want.items() if margin < 0}
            assert {check.name for check in names_of(int(pairs.failed[i, j]))} == failing
            assert pairs.unchecked[i, j] == 0


# On the boundary


@pytest.mark.parametrize(
    ("check", "die", "press"),
    [
        ("force", {"stroke_force": 320.0, "working_height": 4.0}, {"rated_force": 400.0, "rated_height": 4.0}),
        ("force", {"stroke_force": 0.8 * 0.7 * 3 * 150}, {"rated_force": 0.7 * 3 * 150, "rated_height": 4.0}),
        ("working_height", {"working_height": 80.0}, {"stroke": 80.0}),
        ("energy", {"energy": 0.3, "stroke_rate": 120.0}, {"energy": 0.1 + 0.2}),
        ("snap_through", {"cutting_force": 300.0, "reverse_share": 0.1}, {"snap_through": 30.0}),
        ("closed_height", {"die_height": 270.0}, {"shut_height": 340.0, "bolster": 70.0}),
        ("closed_height", {"die_height": 0.3}, {"shut_height": 0.6, "bolster": 0.1 + 0.2, "adjustment": 60.0}),
        ("adjustment", {"die_height": 170.0}, {"shut_height": 340.0, "adjustment": 60.0, "most_spacer": 40.0}),
        ("opening", {"part_height": 72.0, "lift": 7.0, "punch_entry": 1.0}, {"stroke": 80.0}),
        ("stroke", {"stroke_needed": 80.1}, {"stroke": 80.1}),
        ("bed", {"die_length": 700.0, "die_width": 450.0}, {}),
        ("slide_face", {"die_length": 470.0, "die_width": 370.0}, {}),
        ("off_centre", {"stroke_force": 300.0, "load_centre": -30.0}, {"allowed_moment": 9000.0}),
        ("mass", {"mass": 500.0}, {}),
        ("upper_mass", {"upper_mass": 150.0}, {}),
        ("shank", {"shank_diameter": 40.0}, {"shank_bore": 40.0}),
        ("rate", {"stroke_rate": 40.0}, {"rate_low": 40.0}),
    ],
)
def test_exactly_enough_passes_and_a_thousandth_less_fails(check, die, press):
    die, press = DIE | die, PRESS | press
    assert Outcome(die, press).margins[check] == pytest.approx(0.0, abs=1e-9)
    assert check not in Outcome(die, press).failed
    given_by = {
        "force": "rated_force",
        "working_height": "stroke",
        "closed_height": "shut_height",
        "adjustment": "most_spacer",
        "opening": "stroke",
        "bed": "bed_width",
        "slide_face": "slide_width",
        "off_centre": "allowed_moment",
        "mass": "mass_limit",
        "upper_mass": "upper_mass_limit",
        "shank": "shank_bore",
    }.get(check, check)
    worse = press | ({"rate_low": 40.1} if check == "rate" else {given_by: press[given_by] * 0.999})
    assert check in Outcome(die, worse).failed


@pytest.mark.parametrize("height", [4.7, 9.85, 12.6, 17.3])
def test_a_die_of_inches_fits_a_press_of_millimetres_exactly(tmp_path, height):
    die = made.write_csv(tmp_path / "d.csv", [["Die", "Die height [in]", "t [in]"], ["D", height, 0.1]])
    press = [
        ["Press", "Shut height [mm]", "Bolster [in]", "Adjustment"],
        ["P", height * 25.4 + 2.5 * 25.4, 2.5, 0.0],
    ]
    registers = read_register(die, "die"), read_register(made.write_csv(tmp_path / "p.csv", press), "press")
    pairs = pair_margins(die_demand(registers[0]), press_supply(registers[1]))
    for name in ("closed_height", "adjustment"):
        assert pairs.margins[NAMES.index(name), 0, 0] == 0.0


# A figure missing


UNCHECKED_DIE = {
    "thickness": {"force", "energy", "snap_through", "off_centre"},
    "cut_length": {"force", "energy", "snap_through", "off_centre"},
    "shear_strength": {"force", "energy", "snap_through", "off_centre"},
    "stripping_share": {"force", "energy", "off_centre"},
    "ejection_force": {"force", "energy", "off_centre"},
    "forming_force": {"force", "energy", "off_centre"},
    "pad_force": {"force", "energy", "off_centre"},
    "reverse_share": {"snap_through"},
    "die_height": {"closed_height", "adjustment"},
    "die_length": {"bed", "slide_face"},
    "die_width": {"bed", "slide_face"},
    "load_centre": {"off_centre"},
    "part_height": {"opening", "stroke"},
    "lift": {"opening", "stroke"},
    "shank_diameter": {"shank"},
    "mass": {"mass"},
    "upper_mass": {"upper_mass"},
    "stroke_rate": {"rate"},
}
MEANS_SOMETHING = {
    *("edge_allowance", "working_height", "punch_entry", "stroke_needed"),
    *("parts_per_stroke", "efficiency", "quantity", "kind_wanted"),
}
"""Fields of a die whose blank is documented: worked out, on the safe side, or only the cost is not known."""

UNCHECKED_PRESS = {
    "press_kind": set(),  # the drive says that it is mechanical
    "drive": set(),  # so does the rated height
    "load_limit": set(),  # then it goes by the frame
    "rated_force": {"force"},
    "rated_height": {"force"},
    "stroke": {"force", "working_height", "opening", "stroke"},
    "clamping_length": {"bed"},
    "clamping_width": {"bed"},
    "rate_low": {"rate"},
    "energy": {"energy"},
    "rate_high": {"energy"},  # how much of its speed the flywheel has is not known
    "shut_height": {"closed_height", "adjustment"},
    "adjustment": {"adjustment"},
    "bolster": {"closed_height", "adjustment"},
    "bed_length": {"bed"},
    "bed_width": {"bed"},
    "slide_length": {"slide_face"},
    "slide_width": {"slide_face"},
    "shank_bore": {"shank"},
    "allowed_moment": {"off_centre"},
    "mass_limit": {"mass"},
    "upper_mass_limit": {"upper_mass"},
}
MEANS_SOMETHING_PRESS = {
    *("rod", "most_spacer", "overhang", "snap_through", "hourly_rate", "setup"),
}


def without(row: Mapping[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != name}


def test_the_lists_of_blanks_name_every_field_of_a_row():
    assert set(DIE) - {"id"} == set(UNCHECKED_DIE) | MEANS_SOMETHING
    assert set(PRESS) - {"id"} == set(UNCHECKED_PRESS) | MEANS_SOMETHING_PRESS


@pytest.mark.parametrize(("name", "unchecked"), UNCHECKED_DIE.items())
def test_a_blank_of_a_die_leaves_its_checks_open(name, unchecked):
    outcome = Outcome(without(DIE, name), PRESS)
    assert outcome.unchecked == unchecked
    assert outcome.failed == set()
    assert all(math.isnan(outcome.margins[check]) for check in unchecked)


@pytest.mark.parametrize("name", sorted(MEANS_SOMETHING))
def test_a_blank_of_a_die_that_means_something(name):
    assert Outcome(without(DIE, name), PRESS).unchecked == set()


@pytest.mark.parametrize(("name", "unchecked"), UNCHECKED_PRESS.items())
def test_a_blank_of_a_press_leaves_its_checks_open(name, unchecked):
    outcome = Outcome(DIE, without(PRESS, name))
    assert outcome.unchecked == unchecked
    assert outcome.failed == set()


@pytest.mark.parametrize("name", sorted(MEANS_SOMETHING_PRESS))
def test_a_blank_of_a_press_that_means_something(name):
    assert Outcome(DIE, without(PRESS, name)).unchecked == set()


@pytest.mark.parametrize("name", ["bore", "pressure"])
def test_a_hydraulic_press_without_bore_or_pressure_is_not_checked_on_force(name):
    outcome = Outcome(ANY_PRESS, without(HYDRAULIC, name))
    assert outcome.unchecked == {"force"}
    assert Outcome(ANY_PRESS, without(HYDRAULIC, name) | {"rated_force": 400.0}).unchecked == set()


FAILING = {
    "force": ({}, {"rated_force": 200.0}),
    "working_height": ({"working_height": 90.0}, {}),
    "energy": ({}, {"energy": 500.0}),
    "snap_through": ({"reverse_share": 0.5}, {}),
    "closed_height": ({"die_height": 275.0}, {}),
    "adjustment": ({"die_height": 150.0}, {}),
    "opening": ({"part_height": 90.0}, {}),
    "stroke": ({"stroke_needed": 90.0}, {}),
    "bed": ({}, {"bed_width": 250.0}),
    "slide_face": ({}, {"slide_length": 350.0}),
    "off_centre": ({"load_centre": -90.0}, {}),
    "mass": ({"mass": 600.0}, {}),
    "upper_mass": ({"upper_mass": 200.0}, {}),
    "shank": ({"shank_diameter": 50.0}, {}),
    "rate": ({"stroke_rate": 30.0}, {}),
    "kind": ({"kind_wanted": "hydraulic"}, {}),
}
"""Check -> what to change for it to fail."""

NO_LONGER_ASKED = {
    ("stroke_needed", "stroke"),  # what punch entry, part and lift ask for is left
    ("kind_wanted", "kind"),
    ("working_height", "working_height"),  # worked out from the thickness instead
    ("stroke_rate", "energy"),  # the die runs at the press's rate, at which the flywheel is full
}
"""(field, check): what a blank field takes away with it, as documented."""


@pytest.mark.parametrize("check", NAMES)
def test_blanking_any_field_never_makes_a_failing_pair_suitable(check):
    changed_die, changed_press = FAILING[check]
    die, press = DIE | changed_die, PRESS | changed_press
    assert Outcome(die, press).failed >= {check}
    for name in set(die) - {"id"}:
        outcome = Outcome(without(die, name), press)
        assert check in outcome.failed | outcome.unchecked or (name, check) in NO_LONGER_ASKED, name
    for name in set(press) - {"id"}:
        outcome = Outcome(die, without(press, name))
        assert check in outcome.failed | outcome.unchecked or (name, check) in NO_LONGER_ASKED, name


@given(varied(ANY_PRESS), st.one_of(varied(PRESS), varied(HYDRAULIC)), st.data())
def test_without_some_figures_no_check_that_failed_passes(die, press, data):
    blanks = data.draw(st.sets(st.sampled_from(sorted(set(die) - {"id"})), max_size=4))
    blanks_press = data.draw(st.sets(st.sampled_from(sorted(set(press) - {"id", "press_efficiency"})), max_size=4))
    full = Outcome(die, press)
    fewer = Outcome(
        {n: v for n, v in die.items() if n not in blanks},
        {n: v for n, v in press.items() if n not in blanks_press},
    )
    documented = {check for name, check in NO_LONGER_ASKED if name in blanks | blanks_press}
    documented |= {"opening", "stroke"} if "punch_entry" in blanks else set()
    documented |= {"force", "energy"} if "working_height" in blanks else set()
    documented |= {"snap_through"} if "snap_through" in blanks_press else set()
    assert full.failed - documented <= fewer.failed | fewer.unchecked


def test_a_blank_piston_efficiency_leaves_a_tenth_to_friction():
    assert Outcome(ANY_PRESS, without(HYDRAULIC, "press_efficiency")).capacity == pytest.approx(
        pf.hydraulic_capacity(160.0, 25.0, 1.0, 0.9)
    )


def test_clamps_take_room_off_the_bed_and_a_die_too_large_without_them_fails():
    assert Outcome(DIE, PRESS | {"clamping_width": 76.0}).failed == {"bed"}
    assert Outcome(DIE, PRESS | {"clamping_length": 150.0, "clamping_width": 75.0}).failed == set()
    assert Outcome(DIE | {"die_width": 460.0}, without(PRESS, "clamping_width")).failed == {"bed", "slide_face"}


@pytest.mark.parametrize("name", sorted({*DIE, "overhang"} - {"id", "quantity", "parts_per_stroke", "efficiency"}))
def test_no_default_stands_for_a_figure_that_could_not_be_read(name):
    """Whatever the field: a column that is there and was not read leaves the checks open that go by it."""
    die = without(DIE, name)
    if name == "overhang":
        presses, dies = made.quick("press", [without(PRESS, name)], [name]), made.quick("die", [DIE])
    else:
        presses, dies = made.quick("press", [PRESS]), made.quick("die", [die], [name])
    assert pair_margins(die_demand(dies), press_supply(presses)).unchecked[0, 0] != 0


# What a press shop knows


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


# Properties


@given(varied(ANY_PRESS), st.one_of(varied(PRESS), varied(HYDRAULIC)), st.floats(1.0, 3.0))
def test_a_stronger_press_never_has_less_margin_on_force(die, press, factor):
    name, die = "pressure" if "bore" in press else "rated_force", without(die, "working_height")
    weak, strong = Outcome(die, press), Outcome(die, press | {name: press[name] * factor})
    assert strong.margins["force"] >= weak.margins["force"] * (1 - 1e-12) - 1e-6
    assert not ("force" in strong.failed and "force" not in weak.failed)


@given(varied(ANY_PRESS), st.one_of(varied(PRESS), varied(HYDRAULIC)), st.floats(1.0, 3.0))
def test_a_thicker_sheet_never_needs_less(die, press, factor):
    die = without(die, "working_height")
    thin, thick = Outcome(die, press), Outcome(die | {"thickness": die["thickness"] * factor}, press)
    for name in ("force", "energy", "snap_through", "off_centre", "working_height"):
        assert not thick.margins[name] > thin.margins[name] + 1e-6, name
    assert thin.failed <= thick.failed


@given(varied(ANY_PRESS), st.one_of(varied(PRESS), varied(HYDRAULIC)), st.floats(0.1, 1.0), st.floats(0.1, 1.0))
def test_a_higher_load_limit_never_turns_a_press_down(die, press, one, other):
    low, high = (Outcome(die, press | {"load_limit": limit}) for limit in sorted((one, other)))
    assert high.failed <= low.failed
    assert high.margins["force"] >= low.margins["force"]


@given(st.lists(varied(DIE), min_size=1, max_size=3), st.lists(varied(HYDRAULIC), min_size=1, max_size=3))
def test_the_same_shop_in_inches_gives_the_same_margins(tmp_path_factory, dies, presses):
    folder = tmp_path_factory.mktemp("units")
    found = []
    for system in ("metric", "inch"):
        registers = []
        for kind, rows in (("die", dies), ("press", presses)):
            named = [row | {"id": str(i)} for i, row in enumerate(rows)]
            path = made.write_csv(folder / f"{kind}.csv", made.table(kind, named, system))
            registers.append(read_register(path, kind, system=system))
            assert registers[-1].troubles == []
        found.append(pair_margins(die_demand(registers[0]), press_supply(registers[1])))
    metric, inch = found
    assert np.array_equal(metric.failed, inch.failed)
    assert np.array_equal(metric.unchecked, inch.unchecked)
    assert np.allclose(metric.margins, inch.margins, rtol=1e-9, atol=1e-6, equal_nan=True)
    assert np.allclose(metric.cost, inch.cost, rtol=1e-12)


@given(
    st.lists(varied(DIE), min_size=2, max_size=5),
    st.lists(st.one_of(varied(PRESS), varied(HYDRAULIC)), min_size=2, max_size=5),
    st.randoms(use_true_random=False),
)
def test_the_order_of_rows_changes_nothing(dies, presses, random):
    first = pair_margins(die_demand(made.quick("die", dies)), press_supply(made.quick("press", presses)))
    rows, columns = list(range(len(dies))), list(range(len(presses)))
    random.shuffle(rows)
    random.shuffle(columns)
    turned = pair_margins(
        die_demand(made.quick("die", [dies[i] for i in rows])),
        press_supply(made.quick("press", [presses[j] for j in columns])),
    )
    assert np.array_equal(first.margins[:, rows][:, :, columns], turned.margins, equal_nan=True)
    assert np.array_equal(first.cost[rows][:, columns], turned.cost, equal_nan=True)


def test_known_sets_aside_what_is_missing_or_refused():
    column = np.array([[1.0, np.nan, -1.0, 4.0]])
    row = np.array([[2.0], [np.inf]])
    found = known(pf.shearing_force, column, row, np.float64(10))
    assert np.array_equal(found, [[20.0, np.nan, np.nan, 80.0], [np.nan] * 4], equal_nan=True)
    assert np.isnan(known(pf.shearing_force, np.array([np.nan]), row[:1, 0], np.float64(1))).all()
    assert known(pf.shearing_force, np.zeros(0), np.zeros(0), np.zeros(0)).shape == (0,)


def test_every_check_says_what_it_is_in_a_known_unit():
    for check in CHECKS:
        assert check.label
        assert check.kind.dimension in units.table() or not check.kind.has_unit
    assert len(CHECKS) <= 32  # one bit each
