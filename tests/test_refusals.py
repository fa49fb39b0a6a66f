"""Which numbers the functions refuse: below 0, 0 itself, shares above 1, and what is not finite.

The tables below list the exceptions, kept by hand on purpose: a limit that is dropped from a function, or a new
argument without one, fails here.
"""

from __future__ import annotations

import math
from typing import Any

import examples
import pytest

from pressfuncs.errors import OutOfRange, PressError
from pressfuncs.quantities import RATIO, TEXT
from pressfuncs.registry import FunctionSpec

SIGNED = {
    *("load_centre", "slide_centre", "positions", "moments", "entry_heights", "horizontal", "vertical"),
    *("crank_angle", "value", "xs", "ys", "direction"),
}
"""Arguments that may be less than 0: places on either side of a line, angles, the number to convert."""

VERDICTS = {"press_verdict"}
"""Functions of margins, which may have any sign."""

MAY_BE_ZERO = {
    *SIGNED,
    *("angle", "approach_distance", "available_energy", "bends", "better_part_cost", "bridge", "clamping_length"),
    *("clamping_width", "corner_radius", "cost_each", "cost_per_setup", "cutting_force", "die_radius", "dwell"),
    *("edge_allowance", "edge_bridge", "edge_trim", "ejection_force", "end_bridge", "end_loss", "end_share"),
    *("fixed_cost", "forces", "forming_force", "good_parts", "grinding_allowance", "holder_force", "hole"),
    "holes",
    *("hourly_rate", "labour_rate", "land", "least", "lift", "margin", "material", "operators", "other"),
    *("pad_force", "part_height", "preload", "press", "press_rate", "press_value", "punch_entry", "punch_radius"),
    *("relief", "row_bridge", "scrap_price", "scrap_share", "setup", "sharpenings", "side_cut"),
    *("slide_lowered", "slugs", "spacer", "stops", "stripping_force", "time_per_stop", "tool_cost", "tooling"),
    *("upkeep", "valve_time", "variable_cost", "wear_allowance", "yearly_costs"),
}
"""Arguments that may be 0 in every function."""

MAY_BE_ZERO_IN = {
    "adjustment": {
        *("adjustment_margin", "adjustment_needed", "closed_height_fit", "shut_height_adjustment_up"),
        "spacer_needed",
    },
    "bolster": {
        *("adjustment_margin", "adjustment_needed", "closed_height_fit", "closed_height_margin"),
        *("opening_at_top", "spacer_needed"),
    },
    "clearance": {"die_opening", "punch_size"},
    "compression": {"spring_force"},
    "cost": {"quote_price"},
    "energy": {"energy_margin"},
    "energy_taken": {"slowdown_for", "speed_after"},
    "force": {"force_margin", "off_centre_margin", "off_centre_moment", "required_capacity", "utilisation"},
    "grind": {"height_after_regrind"},
    "height": {"crank_angle_at", "mechanical_capacity", "slide_speed"},
    "inner_diameter": {"gyration_radius"},
    "length": {"relief_for_force", "relieved_shearing_force"},
    "net_mass": {"material_cost"},
    "part_cost": {"changeover_quantity"},
    "price": {"material_cost"},
    "quantity": {"coils_needed", "mass_to_order", "run_time", "sharpening_cost", "strokes_needed"},
    "radius": {"bend_allowance", "bend_deduction", "outside_setback"},
    "rod": {"cylinder_flow", "cylinder_speed", "piston_area"},
    "time_taken": {"working_days"},
    "width": {"relief_for_force", "relieved_shearing_force"},
    "travel": {"gas_spring_force", "spring_travel_margin"},
}
"""Argument -> the functions in which it may be 0, where it may not in others."""

NOT_WITH_THE_EXAMPLE = {
    *(("adjustment_needed", "adjustment"), ("adjustment_needed", "bolster"), ("material_cost", "net_mass")),
    ("changeover_quantity", "part_cost"),
}
"""Where a 0 does not fit with the other numbers of the example, though it may come with others."""

RATIOS_ABOVE_ONE = {
    *(("draw_clearance", "ratio"), ("flywheel_speed", "gear_ratio"), ("gas_spring_force", "rise")),
    *(("smallest_die_opening", "ratio"), ("smallest_leg", "ratio"), ("u_bending_force", "factor")),
    *(("v_bending_force", "factor"), ("wipe_bending_force", "factor")),
}

NUMBERS = [
    (spec, place)
    for spec in examples.COMPUTING
    for place, argument in enumerate(spec.arguments)
    if argument.kind is not TEXT
]

every_number = pytest.mark.parametrize(
    ("spec", "place"), NUMBERS, ids=[f"{spec.name}-{spec.arguments[place].name}" for spec, place in NUMBERS]
)


def refused(spec: FunctionSpec, place: int, value: float) -> PressError | None:
    """Return the error of the example's call with one argument changed, the first number of a series."""
    arguments: list[Any] = examples.arguments(spec)
    arguments[place] = [value, *arguments[place][1:]] if spec.arguments[place].series else value
    try:
        spec.call(*arguments)
    except PressError as error:
        return error
    return None


def names_it(error: PressError | None, name: str) -> bool:
    """Whether the error is about this argument."""
    return error is not None and error.argument.split(" ")[0] == name


def may_be_zero(spec: FunctionSpec, name: str) -> bool:
    """Whether the tables above allow a 0."""
    return name in MAY_BE_ZERO or spec.name in {*MAY_BE_ZERO_IN.get(name, ()), *VERDICTS & {spec.name}}


@every_number
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_finite_number_is_refused_by_name(spec, place, value):
    error = refused(spec, place, value)
    assert type(error) is OutOfRange
    assert names_it(error, spec.arguments[place].name)


@every_number
def test_a_number_below_zero_is_refused_by_name(spec, place):
    name = spec.arguments[place].name
    if name in SIGNED or spec.name in VERDICTS:
        assert refused(spec, place, -0.5) is None
    else:
        error = refused(spec, place, -0.5)
        assert type(error) is OutOfRange
        assert names_it(error, name)


@every_number
def test_zero_is_refused_by_name_where_it_makes_no_sense(spec, place):
    name = spec.arguments[place].name
    assert may_be_zero(spec, name) or names_it(refused(spec, place, 0.0), name)


@every_number
def test_a_share_above_one_is_refused_by_name(spec, place):
    argument = spec.arguments[place]
    if argument.kind is RATIO and (spec.name, argument.name) not in RATIOS_ABOVE_ONE:
        assert names_it(refused(spec, place, 1.0 + 1e-9), argument.name)


def test_exceptions_are_in_use():
    """An exception that no function needs any more would hide a dropped limit."""
    accepted = {(s.name, s.arguments[i].name) for s, i in NUMBERS if refused(s, i, 0.0) is None}
    assert {name for _, name in accepted} >= MAY_BE_ZERO
    excepted = {(function, name) for name, functions in MAY_BE_ZERO_IN.items() for function in functions}
    assert excepted - accepted == NOT_WITH_THE_EXAMPLE
    known = {(spec.name, spec.arguments[place].name) for spec, place in NUMBERS}
    for one in RATIOS_ABOVE_ONE:
        assert one in known
