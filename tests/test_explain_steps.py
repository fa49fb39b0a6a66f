"""Intermediate results in the worked line: read from the function as it computes, with the right kind."""

from __future__ import annotations

import inspect
import sys

import examples
import pytest
from test_unit_proof import UNITS, put_quantities_in_place, quantities

from pressfuncs import explain
from pressfuncs.edge.steps import compute_with_steps, step_kinds
from pressfuncs.errors import Impossible
from pressfuncs.quantities import LENGTH
from pressfuncs.registry import find

WITH_STEPS = [spec for spec in examples.COMPUTING if step_kinds(spec)]


def test_several_functions_show_intermediate_results():
    assert len(WITH_STEPS) >= 10


def test_worked_line_shows_the_intermediate_result_in_the_units_asked_for():
    assert "; depth 1.2 mm: 22.62 kN\n" in explain("relieved_shearing_force", 37.7, 3, 0.4, 2, "straight")
    assert "; depth 0.05 in: " in explain(
        "relieved_shearing_force", 4, 0.125, 0.4, 0.1, "straight", 0, 0, "ratio", "inch"
    )
    assert "; total force 30 kN: 66.66666667 mm\n" in explain("load_centre", [10, 20], [0, 100])


@pytest.mark.parametrize("spec", WITH_STEPS, ids=examples.name_of)
def test_steps_are_of_the_kind_they_are_annotated_with(spec, monkeypatch):
    values = examples.arguments(spec)
    result, steps = compute_with_steps(spec, values)
    assert result == spec.call(*values)
    assert steps
    put_quantities_in_place(monkeypatch, "inch")
    for (name, kind, plain), (other, _, found) in zip(
        steps, compute_with_steps(spec, quantities(spec, values, "inch"))[1], strict=True
    ):
        assert name == other
        core = UNITS.Quantity(found).to(kind.pint_unit("core")).magnitude
        assert core == pytest.approx(plain, rel=1e-9, abs=1e-9)


def test_a_refusal_leaves_no_watch_behind():
    before = sys.getprofile()
    with pytest.raises(Impossible):
        compute_with_steps(find("load_centre"), [[0.0], [1.0]])
    assert sys.getprofile() is before


def test_where_the_source_is_not_at_hand_the_result_comes_without_steps(monkeypatch):
    def no_source(_: object) -> str:
        raise OSError("source code not available")

    spec = find("relieved_shearing_force")
    assert step_kinds(spec) == {"depth": LENGTH}
    step_kinds.cache_clear()
    monkeypatch.setattr(inspect, "getsource", no_source)
    assert compute_with_steps(spec, examples.arguments(spec)) == (spec.call(*examples.arguments(spec)), [])
    step_kinds.cache_clear()


def test_a_text_that_is_left_out_is_not_among_the_arguments():
    assert ", with force 1 kN: partly checked" in explain("press_verdict", 1.0)
    assert ", with force 1 kN, declared Shank: partly" in explain("press_verdict", 1.0, *[None] * 15, "Shank")
