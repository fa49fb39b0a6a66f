"""No default flatters unsaid: each has a decision, and what takes room, material, time or money has none."""

from __future__ import annotations

import pytest

from pressfuncs.build import defaults_page
from pressfuncs.registry import FUNCTIONS, find

EVERY = list(defaults_page.defaults())

MUST_BE_GIVEN = {
    *("bolster", "spacer", "slide_lowered", "punch_entry", "lift", "clamping_length", "clamping_width"),
    *("holder_force", "grinding_allowance", "allowed_share", "dwell", "valve_time", "feed_window", "bearings"),
    *("scrap_share", "end_share", "end_loss", "end_bridge", "edge_trim", "side_cut", "row_bridge", "rows"),
    *("setup", "stops", "time_per_stop", "parts_per_stroke", "labour_rate", "operators", "upkeep", "tooling"),
    *("other", "rod"),
}
"""Arguments whose blank would make the press look larger, or a need or a cost smaller, in every function."""

MUST_BE_GIVEN_IN = {
    *(("coil_length", "fill"), ("coil_outer_diameter", "fill"), ("parts_per_coil", "parts_per_pitch")),
    *(("cylinder_speed", "cylinders"), ("cylinder_flow", "cylinders"), ("regenerative_speed", "cylinders")),
    *(("u_bending_force", "pad_force"), ("shoe_deflection", "modulus"), ("spring_force", "springs")),
    *(("smallest_die_opening", "ratio"), ("smallest_leg", "ratio"), ("drawing_energy", "factor")),
}


@pytest.mark.parametrize(("spec", "argument"), EVERY, ids=[f"{s.name}-{a.name}" for s, a in EVERY])
def test_every_default_has_a_decision(spec, argument):
    side, reason = defaults_page.decision(spec, argument)
    assert side in defaults_page.SIDES
    assert reason[0] != reason[0].upper() or not reason[0].isalpha()
    assert not reason.endswith(".")


def test_every_decision_is_of_a_default():
    everywhere, own = defaults_page.decisions()
    written = {("", key) for key in everywhere} | {(name, key) for name, table in own.items() for key in table}
    assert written - {defaults_page.place(spec, argument) for spec, argument in EVERY} == set()
    assert set(own) <= {spec.name for spec, _ in EVERY}
    assert all(own.values())


def test_a_default_without_a_decision_is_named():
    spec = find("motor_power")
    argument = spec.arguments[0]
    with pytest.raises(LookupError, match="motor_power: nothing is decided for the default of energy_per_stroke"):
        defaults_page.decision(spec, argument)


def test_what_would_flatter_when_blank_must_be_given():
    assert MUST_BE_GIVEN & {argument.name for _, argument in EVERY} == set()
    assert MUST_BE_GIVEN_IN & {(spec.name, argument.name) for spec, argument in EVERY} == set()
    assert MUST_BE_GIVEN <= {argument.name for spec in FUNCTIONS.values() for argument in spec.arguments}


def test_the_page_holds_every_default_once():
    page = defaults_page.render()
    for spec, argument in EVERY:
        assert page.count(f"| `{spec.name}` | `{argument.name}` |") == 1
