"""Intermediate results of a call: local variables of the function that are annotated with a kind of quantity.

`depth: Length = penetration * thickness` in a formula is shown by `explain` as it was computed, so no formula is
kept a second time for it. The value is read when the function returns; only explaining a call pays for that.
"""

from __future__ import annotations

import ast
import inspect
import sys
import textwrap
from collections.abc import Sequence
from functools import cache
from typing import Any

from pressfuncs.edge.call import compute
from pressfuncs.quantities import Kind
from pressfuncs.registry import FunctionSpec

Step = tuple[str, Kind, float]
"""Name, kind and core value of an intermediate result."""


def compute_with_steps(spec: FunctionSpec, values: Sequence[Any]) -> tuple[Any, list[Step]]:
    """Return the result of the plain function and its intermediate results, in the order of the formula."""
    kinds = step_kinds(spec)
    if not kinds:
        return compute(spec, values), []
    code, found = spec.call.__code__, dict.fromkeys(kinds)

    def watch(frame: Any, event: str, _: object) -> None:
        if event == "return" and frame.f_code is code:
            found.update({name: frame.f_locals.get(name) for name in kinds})

    before = sys.getprofile()
    sys.setprofile(watch)
    try:
        result = compute(spec, values)
    finally:
        sys.setprofile(before)
    return result, [(name, kinds[name], value) for name, value in found.items() if value is not None]


@cache
def step_kinds(spec: FunctionSpec) -> dict[str, Kind]:
    """Return the annotated local variables of a function with their kinds; none where its source is missing."""
    try:
        source = textwrap.dedent(inspect.getsource(spec.call))
    except OSError:
        return {}
    known = vars(sys.modules[spec.call.__module__])
    found: dict[str, Kind] = {}
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.AnnAssign) and isinstance(node.annotation, ast.Name):
            marks = getattr(known.get(node.annotation.id), "__metadata__", ())
            for kind in (mark for mark in marks if isinstance(mark, Kind)):
                found[ast.unparse(node.target)] = kind
    return found
