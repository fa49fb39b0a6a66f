"""What the title block says: given figures, and those that the library works out from them.

Forces and weights are rounded up, margins down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pressfuncs.drawing.die import Die
from pressfuncs.errors import PressError
from pressfuncs.functions.cutting import shearing_force, stripping_force, stroke_force
from pressfuncs.functions.decision import required_capacity
from pressfuncs.functions.reference import material
from pressfuncs.quantities import FORCE, LENGTH, MASS, Kind

NOT_GIVEN = "not given"
LOAD_LIMIT = 0.8
_NOISE = 1e-9  # of a figure: what floats add to it, not a reason to round on


@dataclass(frozen=True)
class Forces:
    """Forces of the stroke in N; None where the register holds too little for one."""

    cutting: float | None
    stripping: float | None
    whole: float | None
    capacity: float | None
    """that the press must have"""
    load_limit: float


def forces(die: Die) -> Forces:
    """Return the forces that the register states, or that follow from what it states."""
    cutting = die.given("cutting_force")
    if cutting is None:
        cutting = _cutting_force(die)
    stripping = die.given("stripping_force")
    share = die.given("stripping_share")
    if stripping is None and cutting and share is not None:
        stripping = stripping_force(cutting, share)
    whole = die.given("stroke_force")
    if whole is None:
        whole = _whole_force(die, cutting, stripping)
    limit = die.numbers.get("load_limit", LOAD_LIMIT)
    capacity = None if whole is None else required_capacity(whole, limit)
    wanted = {"cutting force": cutting, "force of the stroke": whole}
    if die.stripper not in ("fixed", "none"):
        wanted["stripping force"] = stripping
    for name, figure in wanted.items():
        if figure is None:
            die.miss(name)
    return Forces(cutting, stripping, whole, capacity, limit)


def _whole_force(die: Die, cutting: float | None, stripping: float | None) -> float | None:
    """Return all that acts at once: a fixed stripper does not load the slide, a spring one does."""
    if cutting is None or (stripping is None and die.stripper not in ("fixed", "none")):
        return None
    springs = 0.0 if die.stripper in ("fixed", "none") or stripping is None else stripping
    return stroke_force(cutting, springs, 0.0, die.zero("forming_force"), die.zero("pad_force"))


def _cutting_force(die: Die) -> float | None:
    length, thickness = die.given("cut_length"), die.given("thickness")
    strength = die.given("shear_strength")
    if strength is None and die.text("material"):
        try:
            strength = material(die.text("material"), "shear_strength")
        except PressError:  # not in the table: the strength is not given
            return None
    if length is None or thickness is None or strength is None:
        return None
    return shearing_force(length, thickness, strength)


def _stripping(die: Die, of: Forces, system: str) -> str:
    if of.stripping is None and die.stripper in ("fixed", "none"):
        return "no spring stripper"
    return rounded_up(of.stripping, FORCE, system)


def rounded_up(value: float | None, kind: Kind, system: str, decimals: int = 1) -> str:
    """Write a force or a weight, never less than it is.

    >>> rounded_up(100801.0, FORCE, "metric")
    '100.9 kN'
    """
    if value is None:
        return NOT_GIVEN
    shown = value / kind.factor(system)
    step: float = 10.0**decimals
    return f"{math.ceil(shown * step * (1 - _NOISE)) / step:.{decimals}f} {kind.unit(system)}"


def rounded_down(value: float, system: str) -> str:
    """Write a margin, never more than it is.

    >>> rounded_down(-0.004, "metric"), rounded_down(10.0, "metric")
    ('-0.01 mm', '10 mm')
    """
    step = 100.0 if system == "metric" else 1000.0
    shown = math.floor(value / LENGTH.factor(system) * step + 1e-6) / step
    return f"{shown + 0.0:.10g} {LENGTH.unit(system)}"


def length(value: float | None, system: str) -> str:
    """Write a length with its unit, to a hundredth of a mm or a ten-thousandth of an inch.

    >>> length(12.7, "inch"), length(154.0, "inch"), length(154.0, "metric")
    ('0.5 in', '6.063 in', '154 mm')
    """
    if value is None:
        return NOT_GIVEN
    decimals = 2 if system == "metric" else 4
    return f"{round(value / LENGTH.factor(system), decimals) + 0.0:.10g} {LENGTH.unit(system)}"


def title_rows(
    die: Die, of: Forces, system: str, drawing: str, sheet: str, scale: str
) -> list[list[tuple[str, str, int]]]:
    """Return the title block from the top down: word above, figure, columns."""
    x, y = die.given("load_centre"), die.zero("load_centre_width")
    centre = NOT_GIVEN if x is None else f"{length(x, system)} / {length(y, system)}"
    thickness = die.given("thickness")
    strip = " ".join(filter(None, (die.text("material"), length(thickness, system) if thickness else "")))
    limit = f"{100 * of.load_limit:.10g} %"
    return [
        [
            ("Die", die.id, 1),
            ("Part", die.text("part") or NOT_GIVEN, 2),
            ("Revision", die.text("revision") or "-", 1),
        ],
        [("Drawing", drawing, 2), ("Press", die.text("press") or NOT_GIVEN, 1), ("Load centre, x / y", centre, 1)],
        [
            ("Closed height of the die", length(die.figure("die_height"), system), 1),
            ("Stroke", length(die.given("stroke"), system), 1),
            ("Weight of the die", rounded_up(die.figure("mass"), MASS, system), 1),
            ("Sheet to work", strip or NOT_GIVEN, 1),
        ],
        [
            ("Cutting force", rounded_up(of.cutting, FORCE, system), 1),
            ("Stripping force", _stripping(die, of, system), 1),
            ("Force of the stroke", rounded_up(of.whole, FORCE, system), 1),
            (f"Capacity required, load limit {limit}", rounded_up(of.capacity, FORCE, system), 1),
        ],
        [
            ("Drawn from", die.source or "-", 2),
            ("Lengths in", LENGTH.unit(system), 1),
            ("Sheet", sheet, 1),
        ],
        [("Scale", scale, 1), ("Projection", "", 1), ("State", "planning drawing", 2)],
    ]
