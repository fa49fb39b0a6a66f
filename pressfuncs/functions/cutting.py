"""Cutting: force, energy, stripping and clearances of blanking, piercing and shearing."""

from __future__ import annotations

from pressfuncs.limits import positive
from pressfuncs.quantities import Force, Length, Stress
from pressfuncs.registry import function


@function(chapter="Cutting", source="groover", place="ch. 20, sheet metalworking, cutting forces")
def shearing_force(cut_length: Length, thickness: Length, shear_strength: Stress) -> Force:
    """Force to cut through flat sheet along the whole cut length at once, edges square.

    F = L * t * tau

    Arguments:
        cut_length: length of all edges cut in the same stroke, holes included
        thickness: sheet thickness, upper end of its tolerance
        shear_strength: shear strength of the sheet, not its tensile strength

    >>> shearing_force(cut_length=471.239, thickness=3.2, shear_strength=310)
    467469.1
    """
    positive(cut_length=cut_length, thickness=thickness, shear_strength=shear_strength)
    return cut_length * thickness * shear_strength
