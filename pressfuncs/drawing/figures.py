"""What the title block says, and how figures are written: forces and weights rounded up, margins down."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from pressfuncs.drawing.die import Die
from pressfuncs.quantities import FORCE, LENGTH, MASS, Kind

if TYPE_CHECKING:
    from pressfuncs.drawing.suitability import Suitability

NOT_GIVEN, NOT_KNOWN = "not given", "not known"
_NOISE = 1e-9  # of a figure: what floats add to it, not a reason to round on


def rounded_up(value: float, kind: Kind, system: str) -> str:
    """Write a force, a weight or a shortage, never less than it is.

    >>> rounded_up(100801.0, FORCE, "metric"), rounded_up(0.004, LENGTH, "metric")
    ('100.9 kN', '0.01 mm')
    """
    return _rounded(value, kind, system, math.ceil, 1 - _NOISE)


def rounded_down(value: float, kind: Kind, system: str) -> str:
    """Write a margin, never more than it is.

    >>> rounded_down(0.009, LENGTH, "metric"), rounded_down(10.0, LENGTH, "metric")
    ('0 mm', '10 mm')
    """
    return _rounded(value, kind, system, math.floor, 1 + _NOISE)


def _rounded(value: float, kind: Kind, system: str, towards: Callable[[float], int], noise: float) -> str:
    decimals = 1 if kind is not LENGTH else 2 if system == "metric" else 3
    step = 10.0**decimals
    shown = towards(value / kind.factor(system) * step * noise) / step + 0.0
    number = f"{shown:.10g}" if kind is LENGTH else f"{shown:.{decimals}f}"
    return f"{number} {kind.unit(system)}".rstrip()


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
    die: Die, of: Suitability, system: str, drawing: str, sheet: str, scale: str
) -> list[list[tuple[str, str, int]]]:
    """Return the title block from the top down: word above, figure, columns."""
    x, y = die.given("load_centre"), die.zero("load_centre_width")
    centre = NOT_GIVEN if x is None else f"{length(x, system)} / {length(y, system)}"
    thickness, mass = die.given("thickness"), die.figure("mass")
    strip = " ".join(filter(None, (die.text("material"), length(thickness, system) if thickness else "")))
    edges = f", worn edges +{100 * of.worn:.10g} %" if of.worn is not None else ", as stated"
    limit = NOT_KNOWN if of.load_limit is None else f"{100 * of.load_limit:.10g} % ({of.limit_of})"
    unit = {"metric": "mm", "inch": "inches"}[system]
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
            ("Weight of the die", NOT_GIVEN if mass is None else rounded_up(mass, MASS, system), 1),
            ("Sheet to work", strip or NOT_GIVEN, 1),
        ],
        [
            (f"Cutting force{edges if of.cutting else ''}", _force(of.cutting, system), 1),
            ("Stripping force on the slide", _force(of.stripping, system), 1),
            ("Ejection force", _force(of.ejection, system), 1),
            ("Force of the whole stroke", _force(of.whole, system), 1),
        ],
        [
            (f"Capacity required, load limit of the press {limit}", _force(of.capacity, system), 2),
            ("Drawn from", die.source or "-", 2),
        ],
        [
            (f"Scale, lengths in {unit}", scale, 1),
            ("Projection", "", 1),
            ("Sheet", sheet, 1),
            ("State", "planning drawing", 1),
        ],
    ]


def _force(value: float | None, system: str) -> str:
    return NOT_KNOWN if value is None else rounded_up(value, FORCE, system)
