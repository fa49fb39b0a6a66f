"""Python callers give pint Quantities or texts with units, and get Quantities back."""

from __future__ import annotations

from typing import Any

import examples
import numpy as np
import pint
import pytest

import pressfuncs
from pressfuncs import with_units
from pressfuncs.errors import MissingValue, OutOfRange, WrongType, WrongUnit
from pressfuncs.quantities import Wording
from pressfuncs.registry import FUNCTIONS

UNITS: Any = pint.UnitRegistry()
Q = UNITS.Quantity

shearing = with_units(pressfuncs.shearing_force)


def test_quantities_in_any_unit_give_a_quantity_of_the_same_registry():
    force = shearing(Q(47.1239, "cm"), Q(0.125984251968504, "inch"), Q(310, "MPa"))
    assert isinstance(force, UNITS.Quantity)
    assert str(force.units) == "kilonewton"
    assert force.magnitude == pytest.approx(467.469088)


def test_arguments_may_be_named():
    force = shearing(thickness=Q(3.2, "mm"), cut_length=Q(471.239, "mm"), shear_strength="310 MPa")
    assert force.to("N").magnitude == pytest.approx(467469.088)


def test_result_is_in_the_units_asked_for():
    force = with_units(pressfuncs.shearing_force, "inch")("18.5527 in", "0.125984 in", "44961.7 psi")
    assert str(force.units) == "force_ton"
    assert force.to("kN").magnitude == pytest.approx(467.469, rel=1e-5)


@pytest.mark.parametrize("bare", [3.2, 3, np.float64(3.2), np.int64(3), [3.2]])
def test_bare_number_is_refused_where_a_unit_belongs(bare):
    with pytest.raises(WrongUnit, match='thickness needs a unit: give a Quantity, or a text such as "3'):
        shearing("471.239 mm", bare, "310 MPa")


def test_bare_numbers_in_a_series_are_refused():
    staggered = with_units(pressfuncs.staggered_peak_force)
    with pytest.raises(WrongUnit, match="forces needs a unit"):
        staggered(["80 kN", 50], ["3 mm", "1.5 mm"], "1.6 mm")


def test_series_of_quantities_and_texts():
    staggered = with_units(pressfuncs.staggered_peak_force)
    peak = staggered([Q(80, "kN"), "50 kN", Q(40000, "N")], ["3 mm", Q(1.5, "mm"), "0 mm"], "1.6 mm")
    assert peak.to("kN").magnitude == pytest.approx(130.0)
    assert staggered(Q([80, 50, 40], "kN"), Q([3, 1.5, 0], "mm"), "1.6 mm").to("kN") == peak


def test_arrays_of_quantities_go_through_in_one_call():
    forces = shearing(Q(np.array([100.0, 200.0]), "mm"), Q(2.0, "mm"), "310 MPa")
    assert forces.to("N").magnitude == pytest.approx([62000.0, 124000.0])
    assert shearing(Q(np.array([10.0, 20.0]), "cm"), Q(2.0, "mm"), "310 MPa").magnitude == pytest.approx([62, 124])
    with pytest.raises(WrongUnit, match="cut_length is in kilogram"):
        shearing(Q(np.array([100.0, 200.0]), "kg"), "2 mm", "310 MPa")
    with pytest.raises(OutOfRange):
        shearing(Q(np.array([100.0, -200.0]), "mm"), "2 mm", "310 MPa")


def test_arrays_are_refused_where_the_function_takes_single_values():
    curve = with_units(pressfuncs.capacity_curve)
    with pytest.raises(WrongType, match="capacity_curve takes single quantities, not arrays"):
        curve(Q(np.array([1.0, 2.0]), "MN"), "6 mm", "100 mm", "400 mm")


def test_table_comes_as_rows_of_quantities():
    rows = with_units(pressfuncs.capacity_curve, "inch")("1000 kN", "6 mm", "100 mm", "400 mm")
    assert all(str(height.units) == "inch" and str(force.units) == "force_ton" for height, force in rows)
    assert rows[-1][0].to("mm").magnitude == pytest.approx(100.0)
    assert rows[0][1].to("kN").magnitude == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("thickness", "error"), [(None, MissingValue), (True, WrongType), ("12,5", WrongType), ("5 kg", WrongUnit)]
)
def test_refusals_are_those_of_the_edge(thickness, error):
    with pytest.raises(error, match="thickness"):
        shearing("471 mm", thickness, "310 MPa")


def test_wrong_signature_is_a_type_error():
    with pytest.raises(TypeError, match="missing a required argument"):
        shearing("471 mm")


def test_function_keeps_its_name_and_documentation():
    assert shearing.__name__ == "shearing_force"
    assert shearing.__doc__ == pressfuncs.shearing_force.__doc__


def test_text_functions_take_quantities_too():
    assert with_units(pressfuncs.explain)("shearing_force", 471.239, 3.2, 310) == pressfuncs.explain(
        "shearing_force", 471.239, 3.2, 310
    )


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_every_function_takes_quantities(spec, system):
    def quantity(value: float, kind: Any) -> Any:
        return Q(float(value), kind.pint_unit("core")).to(kind.pint_unit("inch")) if kind.has_unit else value

    given = []
    for argument, value in zip(spec.arguments, examples.arguments(spec), strict=True):
        if value is None or isinstance(value, str):
            given.append(value)
        elif argument.series:
            given.append([quantity(element, argument.kind) for element in value] or None)
        else:
            given.append(quantity(value, argument.kind))
    plain = FUNCTIONS[spec.name].call(*examples.arguments(spec))
    found = with_units(spec.call, system)(*given)
    if isinstance(plain, Wording):
        assert found == plain.shown(system)
    elif isinstance(plain, str):
        assert found == plain
    elif spec.columns is not None:
        assert len(found) == len(plain)
    else:
        kind = spec.result_kind(*examples.arguments(spec)) if spec.result_kind else spec.result
        number = found
        if kind.has_unit:
            assert str(found.units) == str(UNITS.Unit(kind.pint_unit(system)))
            number = found.to(kind.pint_unit("core")).magnitude
        assert float(number) == pytest.approx(plain)
