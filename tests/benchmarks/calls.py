"""What one call costs beside the bare expression: run `python tests/benchmarks/calls.py`.

Prints microseconds of processor time and ratios: the plain function, the edge on bare numbers and on texts with
units, and the plain function on arrays. The least of several runs counts: other programs only ever add to a time.
Exits with 1 where an aim is missed.
"""

from __future__ import annotations

import math
import sys
import time
import timeit
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from pressfuncs import mechanical_capacity, relieved_shearing_force, shearing_force
from pressfuncs.edge import evaluate
from pressfuncs.registry import find

SCALAR_AIM, EDGE_AIM, TEXT_AIM, ARRAY_AIM = 2.0, 6.0, 12.0, 1.5
"""Microseconds over the bare expression for one call; times the bare expression for an array."""

ELEMENTS = 1_000_000
REPEATS = 15

SINGLE = SimpleNamespace(sqrt=math.sqrt, minimum=min, maximum=max)
"""What a formula on single numbers takes in place of numpy."""


def bare_force(m: Any, length: Any, thickness: Any, strength: Any) -> Any:
    """Compute shearing_force without any check."""
    return length * thickness * strength


def bare_relieved(m: Any, force: Any, thickness: Any, penetration: Any, relief: Any) -> Any:
    """Compute relieved_shearing_force without any check."""
    depth = penetration * thickness
    return force * (depth / m.maximum(relief, depth))


def bare_capacity(m: Any, rated_force: Any, rated_height: Any, stroke: Any, rod: Any, height: Any) -> Any:
    """Compute mechanical_capacity without any check."""
    radius = stroke / 2

    def lever(height: Any) -> Any:
        pin = radius + rod - height
        square = height * (2 * rod - height) * (stroke - height) * (2 * rod + stroke - height)
        return pin * m.sqrt(square) / (pin * pin + rod * rod - radius * radius)

    working = m.maximum(height, rated_height)
    share = lever(rated_height) / m.maximum(lever(working), lever(m.minimum(working, radius)))
    return rated_force * m.minimum(share, 1.0)


CASES: list[tuple[Callable[..., Any], Callable[..., Any], list[float], list[str]]] = [
    (shearing_force, bare_force, [471.239, 3.2, 310.0], ["471.239 mm", "0.125 in", "45 ksi"]),
    (relieved_shearing_force, bare_relieved, [37699.11, 3.0, 0.4, 2.0], ["37.7 kN", "3 mm", "40 %", "2 mm"]),
    (
        mechanical_capacity,
        bare_capacity,
        [1e6, 6.0, 100.0, 400.0, 25.4],
        ["1000 kN", "6 mm", "100 mm", "400 mm", "1 in"],
    ),
]
"""Function, bare expression, arguments in core units, the same as texts."""


def least(call: Callable[[], object], number: int) -> float:
    """Return the microseconds of one call, the least of several runs."""
    return min(timeit.repeat(call, timer=time.process_time, number=number, repeat=REPEATS)) / number * 1e6


def main() -> int:
    """Measure and print the table."""
    print("| function | call | us | bare, us | over bare, us | times bare | aim |")
    print("|---|---|---|---|---|---|---|")
    missed = False
    for function, bare, values, texts in CASES:
        name, spec = function.__name__, find(function.__name__)
        assert math.isclose(function(*values), bare(SINGLE, *values), rel_tol=1e-12)
        base = least(lambda f=bare, v=values: f(SINGLE, *v), 20_000)
        for call, run, aim in (
            ("plain", lambda f=function, v=values: f(*v), SCALAR_AIM),
            ("edge, numbers", lambda s=spec, v=values: evaluate(s, v), EDGE_AIM),
            ("edge, texts", lambda s=spec, t=texts: evaluate(s, t), TEXT_AIM),
        ):
            missed |= report([name, call], least(run, 10_000), base, f"{aim:g} us over bare", aim)
        arrays = [np.full(ELEMENTS, value) for value in values]
        base = least(lambda f=bare, a=arrays: f(np, *a), 3)
        spent = least(lambda f=function, a=arrays: f(*a), 3)
        missed |= report([name, f"{ELEMENTS:,} elements"], spent, base, f"{ARRAY_AIM:g} times bare", None)
    return int(missed)


def report(what: list[str], spent: float, base: float, aim: str, over: float | None) -> bool:
    """Print one row; return whether its aim is missed."""
    missed = spent / base > ARRAY_AIM if over is None else spent - base > over
    row = [*what, f"{spent:.2f}", f"{base:.2f}", f"{spent - base:.2f}", f"{spent / base:.2f}"]
    print("| " + " | ".join([*row, aim + (" MISSED" if missed else "")]) + " |", flush=True)
    return missed


if __name__ == "__main__":
    sys.exit(main())
