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
from pairs_made import ANY_PRESS, NAMES, Outcome, varied, without
from registers_made import DIE, HYDRAULIC, PRESS

from pressfuncs import functions as pf
from pressfuncs import units
from pressfuncs.batch.assignment.checks import names_of, pair_margins
from pressfuncs.batch.assignment.demand import DIE_COLUMNS, die_demand
from pressfuncs.batch.assignment.figures import known
from pressfuncs.batch.assignment.registers import read_register
from pressfuncs.batch.assignment.supply import PRESS_COLUMNS, press_supply
from pressfuncs.functions._checks import CHECKS


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


# Properties


@given(varied(ANY_PRESS), st.one_of(varied(PRESS), varied(HYDRAULIC)), st.floats(1.0, 3.0))
def test_a_stronger_press_never_has_less_margin_on_force(die, press, factor):
    name = "pressure" if "bore" in press else "rated_force"
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
