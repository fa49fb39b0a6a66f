"""Every function, run on pint Quantities, equals its plain run and has the declared kind.

The inputs are those of the docstring example, so a new function is proved without listing it here. Run in core
units and again with every input converted to other units: a wrong kind or a stray 1000 cannot hide.
"""

from __future__ import annotations

import itertools
import math
import sys
from typing import Any

import examples
import pint
import pytest

from pressfuncs.errors import PressError
from pressfuncs.quantities import Constant, Kind, Wording
from pressfuncs.registry import FUNCTIONS, FunctionSpec

UNITS: Any = pint.UnitRegistry(auto_reduce_dimensions=True)


def quantity(value: float, kind: Kind, system: str = "core") -> Any:
    """Return a core value as a Quantity in the unit of `system`; a kind without unit stays a plain number."""
    if not kind.has_unit:
        return value
    return UNITS.Quantity(float(value), kind.pint_unit("core")).to(kind.pint_unit(system))


def quantities(spec: FunctionSpec, values: list[Any], system: str) -> list[Any]:
    """Return the arguments of a call with a Quantity for every number that has a unit."""
    made: list[Any] = []
    for argument, value in zip(spec.arguments, values, strict=True):
        if value is None or isinstance(value, str):
            made.append(value)
        elif argument.series:
            made.append([quantity(element, argument.kind, system) for element in value])
        else:
            made.append(quantity(value, argument.kind, system))
    return made


def put_quantities_in_place(monkeypatch: pytest.MonkeyPatch, system: str) -> None:
    """Replace every named constant and every default value of the library by a Quantity."""
    for name, module in list(sys.modules.items()):
        if name.startswith("pressfuncs."):
            for key, value in list(vars(module).items()):
                if isinstance(value, Constant):
                    monkeypatch.setattr(module, key, quantity(value, value.kind, system))
    for spec in FUNCTIONS.values():
        if spec.call.__defaults__ and not spec.variadic:
            optional = spec.arguments[-len(spec.call.__defaults__) :]
            defaults = tuple(
                d if d is None or isinstance(d, (str, tuple, list)) else quantity(d, a.kind, system)
                for a, d in zip(optional, spec.call.__defaults__, strict=True)
            )
            monkeypatch.setattr(spec.call, "__defaults__", defaults)


def choices_of(spec: FunctionSpec) -> list[list[Any]]:
    """Return the example's arguments once for every combination of choices."""
    options = [
        argument.choices or (value,)
        for argument, value in zip(spec.arguments, examples.arguments(spec), strict=True)
    ]
    return [list(values) for values in itertools.product(*options)]


def run(spec: FunctionSpec, values: list[Any]) -> Any:
    """Return the result of a call, or the error it raises."""
    try:
        return spec.call(*values)
    except PressError as error:
        return error


def assert_same(found: Any, plain: float, kind: Kind) -> None:
    """Compare a Quantity of the declared kind, or a plain number, with the plain run."""
    if kind.has_unit:
        assert UNITS.Quantity(found).check(UNITS.Quantity(1, kind.pint_unit("core")).dimensionality), (
            f"declared a {kind.name}, the formula gives {found!r}"
        )
        number = UNITS.Quantity(found).to(kind.pint_unit("core")).magnitude
    else:
        number = UNITS.Quantity(found).to("").magnitude
    assert float(number) == pytest.approx(plain, rel=1e-9, abs=0.0 if plain else 1e-9)


@pytest.mark.parametrize("system", ["core", "metric", "inch"])
@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_run_on_quantities_equals_the_plain_run(spec, system, monkeypatch):
    calls = choices_of(spec)
    plain_runs = [run(spec, values) for values in calls]
    assert not all(isinstance(plain, PressError) for plain in plain_runs)
    put_quantities_in_place(monkeypatch, system)
    for values, plain in zip(calls, plain_runs, strict=True):
        found = run(spec, quantities(spec, values, system))
        if isinstance(plain, PressError):
            assert type(found) is type(plain), f"{found!r} is not {plain!r}"
        elif isinstance(plain, Wording):
            assert found.rule == plain.rule
            for name, (number, kind) in plain.numbers.items():
                assert_same(found.numbers[name][0], number, kind)
        elif isinstance(plain, str):
            assert found == plain
        elif spec.columns is not None:
            assert len(found) == len(plain)
            for found_row, plain_row in zip(found, plain, strict=True):
                for cell, number, kind in zip(found_row, plain_row, spec.columns.kinds, strict=True):
                    if isinstance(number, str):
                        assert cell == number
                    else:
                        assert_same(cell, number, kind)
        elif spec.result_kind is not None:  # of any kind, so the number comes out as it went in
            assert getattr(found, "magnitude", found) == pytest.approx(plain, rel=1e-9)
        else:
            assert_same(found, plain, spec.result)


def test_the_proof_sees_a_wrong_kind_and_a_stray_factor():
    force = FUNCTIONS["shearing_force"]
    values = quantities(force, examples.arguments(force), "inch")
    plain = force.call(*examples.arguments(force))
    with pytest.raises(AssertionError):
        assert_same(force.call(*values) * values[1], plain, force.result)
    with pytest.raises(AssertionError):
        assert_same(force.call(*values) / 1000.0, plain, force.result)
    assert math.isclose(plain, 467469.088, rel_tol=1e-6)
