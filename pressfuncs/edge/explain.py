"""What is said about a call: the worked line with its source, or the sentence that says why it fails."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pressfuncs.edge.call import read_call, result_kind, shown, split_units
from pressfuncs.edge.reading import PassedOn
from pressfuncs.edge.steps import compute_with_steps
from pressfuncs.errors import PressError
from pressfuncs.limits import refuse_choice
from pressfuncs.quantities import AnyKind, Text
from pressfuncs.registry import PREFIX, Argument, FunctionSpec, find, function


@function(chapter="Tables", source="derived")
def explain(name: Text, *values: AnyKind) -> Text:
    """The worked line of a function: formula, numbers with units, result and source; or why it fails.

    text of at most two lines

    Arguments:
        name: the function, with or without PF_
        values: its arguments in order, as in the function itself

    >>> print(explain("shearing_force", 471.239, 3.2, 310))
    F = L * t * tau, with cut length 471.239 mm, thickness 3.2 mm, shear strength 310 MPa: 467.469088 kN
    Source: Groover, Fundamentals of Modern Manufacturing, ch. 20, sheet metalworking, cutting forces (recalled)
    """
    try:
        spec = find(name)
    except KeyError:
        from pressfuncs.registry import FUNCTIONS  # only here: it loads the library, of which this is a part

        refuse_choice("name", name, [PREFIX + known.upper() for known in FUNCTIONS])
    return "\n".join(explanation(spec, values))


def explanation(spec: FunctionSpec, given: Sequence[object]) -> list[str]:
    """Return the worked line and the source line of one call; one line that says why, where it fails."""
    try:
        system, values = read_call(spec, given)
        result, steps = compute_with_steps(spec, values)
        answer = shown(spec, result, values, system)
        kind = result_kind(spec, values)
    except PassedOn as passed:
        return [f"{spec.sheet_name}: {passed.argument} is the error {passed.error.code}, passed on from its cell"]
    except PressError as error:
        return [_one_line(f"{spec.sheet_name}: {error.sentence(system_of(spec, given))}")]
    shown_arguments = [
        (a, v) for a, v in zip(spec.arguments, values) if not a.variadic and v is not None and v != ""
    ]
    inputs = ", ".join(f"{a.label} {_show_argument(a, v, system)}" for a, v in shown_arguments)
    if isinstance(answer, list):
        answer = f"{len(answer)} rows"
    elif not isinstance(answer, str):
        answer = kind.show(float(result), system)
    between = "".join(f"; {name.replace('_', ' ')} {kind.show(float(v), system)}" for name, kind, v in steps)
    work = f"{spec.docs.formula}, with {inputs}{between}: {answer}" if inputs else f"{spec.docs.formula}: {answer}"
    return [_one_line(work), _one_line(f"Source: {spec.citation_of(values)}")]


def _one_line(text: str) -> str:
    """Take out line breaks that a text from a cell brought in."""
    return " ".join(text.split())


def system_of(spec: FunctionSpec, given: Sequence[object]) -> str:
    """Return the unit system of a call for its error sentence; metric where that argument is the fault."""
    try:
        return split_units(spec, given)[0]
    except (PressError, PassedOn):
        return "metric"


def _show_argument(argument: Argument, value: Any, system: str) -> str:
    if argument.table:
        return f"of {len(value)} rows"
    if isinstance(value, list):
        return " + ".join(argument.kind.show(float(element), system) for element in value)
    return value if isinstance(value, str) else argument.kind.show(float(value), system)
