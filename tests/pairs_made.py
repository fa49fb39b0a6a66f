"""One pair of a die and a press judged, and rows to judge: shared by the tests of an assignment."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import registers_made as made
from hypothesis import strategies as st
from registers_made import DIE

from pressfuncs.batch.assignment.checks import Pairs, names_of, pair_margins
from pressfuncs.batch.assignment.demand import die_demand
from pressfuncs.batch.assignment.supply import press_supply
from pressfuncs.functions._checks import CHECKS

NAMES = [check.name for check in CHECKS]
ANY_PRESS = {name: value for name, value in DIE.items() if name != "kind_wanted"}
FORMS = {name: value for name, value in DIE.items() if name not in ("stripping_share", "reverse_share")} | {
    "cut_length": 0.0,
    "forming_force": 150.0,
    "pad_force": 30.0,
}
"""A die that only forms."""
_KEPT = {"cylinders", "press_efficiency", "efficiency", "parts_per_stroke", "rod", "load_limit"}


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


def without(row: Mapping[str, Any], *names: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in names}


def _possible(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row in which no cut begins lower than its edges reach."""
    if "punch_entry" in row:
        row["working_height"] = max(row["working_height"], row["thickness"] + row["punch_entry"])
    return row


def varied(base: Mapping[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Return rows like this one with every figure from half to twice of it."""
    fixed = {name: value for name, value in base.items() if isinstance(value, str) or name in _KEPT}
    free = {name: value for name, value in base.items() if name not in fixed}
    return st.fixed_dictionaries(
        {name: st.floats(0.5, 2.0).map(lambda factor, value=value: value * factor) for name, value in free.items()}
    ).map(lambda row: _possible(fixed | row))
