"""Die strength: stress and buckling of punches, thickness of the die plate, bending of a shoe.

Planning figures: a broken punch is thrown out of the die. Keep guards closed at a tryout as well.
"""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import PI, maximum, minimum, sqrt, where
from pressfuncs.limits import not_negative, one_of, positive, require
from pressfuncs.quantities import (
    FORCE,
    LENGTH,
    STRESS,
    Area,
    Constant,
    Force,
    Length,
    SecondMoment,
    Stress,
)
from pressfuncs.registry import function

STEEL_MODULUS = Constant(210000.0, STRESS)
RULE_FORCE = Constant(9806.65, FORCE)
"""One metric ton of force, in which the rule for die plates is written."""
RULE_THICKNESS = Constant(10.0, LENGTH)
"""One centimetre, the plate that the rule gives for it."""

SHEAR_FORM = 1.2
"""Mean square of the shear stress over the square of its mean, in a rectangular section: 6 / 5."""
MODULUS_RATIO = 2.6
"""Modulus of elasticity over shear modulus, 2 * (1 + 0.3)."""

Ends = Literal["free", "pinned", "guided", "fixed"]
EFFECTIVE_LENGTH = {
    "free": 2.0,
    "pinned": 1.0,
    "guided": PI / 4.493409457909064,  # the first root of tan x = x
    "fixed": 0.5,
}
"""Effective length in buckling divided by free length, by the hold of the two ends."""

Load = Literal["centre", "spread"]


@function(chapter="Die strength", source="derived")
def punch_stress(force: Force, area: Area) -> Stress:
    """Compressive stress in a punch, or pressure of its head on the plate behind it.

    sigma = F / A

    Where the head presses harder on the shoe than soft steel bears, put a hardened plate behind it.

    Arguments:
        force: largest force on the punch
        area: smallest section of the punch; for the plate behind it, the area of its head

    >>> punch_stress(force=37699, area=78.54)
    480.0
    """
    positive(force=force, area=area)
    return force / area


@function(chapter="Die strength", source="derived")
def round_second_moment(diameter: Length) -> SecondMoment:
    """Second moment of area of a round section.

    I = pi / 64 * d^4

    Arguments:
        diameter: diameter of the section

    >>> round_second_moment(diameter=10)
    490.874
    """
    positive(diameter=diameter)
    return PI / 64.0 * diameter**4


@function(chapter="Die strength", source="derived")
def rectangle_second_moment(length: Length, width: Length) -> SecondMoment:
    """Least second moment of area of a rectangular section: bending the way it bends most easily.

    I = longer * shorter^3 / 12

    Arguments:
        length: one side of the section
        width: the other side

    >>> rectangle_second_moment(length=5, width=5)
    52.083
    """
    positive(length=length, width=width)
    return maximum(length, width) * minimum(length, width) ** 3 / 12.0


@function(chapter="Die strength", source="shigley", place="columns with central loading, Euler and J. B. Johnson")
def buckling_force(
    second_moment: SecondMoment,
    area: Area,
    free_length: Length,
    yield_strength: Stress,
    ends: Ends = "free",
    modulus: Stress = STEEL_MODULUS,
) -> Force:
    """Force at which a slender punch buckles: Euler for long punches, Johnson below the transition.

    e = pi^2 * E * I / (A * (K * l)^2); F = A * e up to e = Y / 2; above it F = A * Y * (1 - Y / (4 * e))

    Euler alone promises a short punch more than its material bears. K, effective by free length: free (held at
    the head only) 2, pinned (both ends may tilt) 1, guided (held at the head, led at the tip) 0.70, fixed
    (neither end may tilt) 0.5. This is the force of failure: allow a fraction of it.

    Arguments:
        second_moment: least second moment of area of the section
        area: area of the section
        free_length: length of the punch outside its holder; for stepped punches, of the thin part
        yield_strength: compressive yield strength of the punch
        ends: free (default, the most cautious), pinned, guided (by a stripper that fits) or fixed
        modulus: modulus of elasticity of the punch; blank: 210 GPa, steel

    >>> buckling_force(second_moment=52.0833, area=25, free_length=60, yield_strength=2400, ends="pinned")
    29985.8
    """
    positive(second_moment=second_moment, area=area, free_length=free_length, yield_strength=yield_strength)
    one_of(EFFECTIVE_LENGTH, ends=ends)
    positive(modulus=modulus)
    euler_stress: Stress = PI**2 * modulus * second_moment / (area * (EFFECTIVE_LENGTH[ends] * free_length) ** 2)
    johnson_stress: Stress = yield_strength * (1.0 - yield_strength / (4.0 * euler_stress))
    return area * where(euler_stress <= yield_strength / 2.0, euler_stress, johnson_stress)


@function(chapter="Die strength", source="shigley", place="columns with central loading, Euler and J. B. Johnson")
def round_punch_buckling_force(
    diameter: Length,
    free_length: Length,
    yield_strength: Stress,
    ends: Ends = "free",
    modulus: Stress = STEEL_MODULUS,
) -> Force:
    """Force at which a round punch buckles, see buckling_force.

    buckling_force with I = pi / 64 * d^4 and A = pi / 4 * d^2

    Arguments:
        diameter: diameter of the thinnest part of the punch
        free_length: length of that part outside its holder
        yield_strength: compressive yield strength of the punch
        ends: free (default, the most cautious), pinned, guided (by a stripper that fits) or fixed
        modulus: modulus of elasticity of the punch; blank: 210 GPa, steel

    >>> round_punch_buckling_force(diameter=3, free_length=40, yield_strength=2000, ends="guided")
    9395.2
    """
    second_moment: SecondMoment = round_second_moment(diameter)
    return buckling_force(second_moment, PI / 4.0 * diameter**2, free_length, yield_strength, ends, modulus)


@function(chapter="Die strength", source="shigley", place="columns with central loading, Euler and J. B. Johnson")
def rectangular_punch_buckling_force(
    length: Length,
    width: Length,
    free_length: Length,
    yield_strength: Stress,
    ends: Ends = "free",
    modulus: Stress = STEEL_MODULUS,
) -> Force:
    """Force at which a rectangular punch buckles over its thinner side, see buckling_force.

    buckling_force with I = longer * shorter^3 / 12 and A = length * width

    Arguments:
        length: one side of the section
        width: the other side
        free_length: length of the punch outside its holder
        yield_strength: compressive yield strength of the punch
        ends: free (default, the most cautious), pinned, guided (by a stripper that fits) or fixed
        modulus: modulus of elasticity of the punch; blank: 210 GPa, steel

    >>> rectangular_punch_buckling_force(length=20, width=2, free_length=50, yield_strength=2000)
    2763.5
    """
    second_moment: SecondMoment = rectangle_second_moment(length, width)
    return buckling_force(second_moment, length * width, free_length, yield_strength, ends, modulus)


@function(chapter="Die strength", source="shigley", place="columns with central loading, solved for the length")
def longest_free_length(
    force: Force,
    second_moment: SecondMoment,
    area: Area,
    yield_strength: Stress,
    ends: Ends = "free",
    modulus: Stress = STEEL_MODULUS,
) -> Length:
    """Longest free length at which a punch just does not buckle under a force: buckling_force the other way round.

    l = pi / K * sqrt(E * I / (A * e)); e = F / A up to Y / 2; above it e = Y^2 / (4 * (Y - F / A))

    Arguments:
        force: force on the punch, times the safety that is wanted; no safety is added here
        second_moment: least second moment of area of the section
        area: area of the section
        yield_strength: compressive yield strength of the punch
        ends: free (default, the most cautious), pinned, guided (by a stripper that fits) or fixed
        modulus: modulus of elasticity of the punch; blank: 210 GPa, steel

    >>> longest_free_length(force=29985.8, second_moment=52.0833, area=25, yield_strength=2400, ends="pinned")
    60.0
    """
    positive(force=force, second_moment=second_moment, area=area, yield_strength=yield_strength)
    one_of(EFFECTIVE_LENGTH, ends=ends)
    positive(modulus=modulus)
    stress: Stress = force / area
    require(
        stress < yield_strength,
        "force {force} brings {stress}, not below the yield strength {yield_strength}: no length is short enough",
        force=force,
        stress=(stress, STRESS),
        yield_strength=yield_strength,
    )
    euler = where(stress <= yield_strength / 2.0, stress, yield_strength**2 / (4.0 * (yield_strength - stress)))
    return PI / EFFECTIVE_LENGTH[ends] * sqrt(modulus * second_moment / (area * euler))


@function(
    chapter="Die strength", source="practice", place="die plate in centimetres: cube root of the metric tons"
)
def die_plate_thickness(force: Force, grinding_allowance: Length) -> Length:
    """Thickness of a hardened die plate that lies flat on its shoe, by the cube-root rule.

    h = 1 cm * (F / 1 metric ton)^(1/3) + grinding allowance

    A rule for ordinary sizes. A plate over a wide opening of the shoe bends: see shoe_stress.

    Arguments:
        force: cutting force on the plate
        grinding_allowance: what sharpening will take off over the life of the die; write 0 for a plate at its end

    >>> die_plate_thickness(force=264779.55, grinding_allowance=4)
    34.0
    """
    positive(force=force)
    not_negative(grinding_allowance=grinding_allowance)
    centimetres: float = (force / RULE_FORCE) ** (1.0 / 3.0)
    return RULE_THICKNESS * centimetres + grinding_allowance


@function(
    chapter="Die strength", source="timoshenko", place="beam on two supports, deflection by moment and shear"
)
def shoe_deflection(
    force: Force, span: Length, width: Length, thickness: Length, modulus: Stress, load: Load = "centre"
) -> Length:
    """Sag in the middle of a shoe or bolster that lies on two supports, such as parallels or a bed opening.

    centre: F * s^3 / (48 * E * I) + 0.3 * F * s / (G * A);
    spread: 5 * F * s^3 / (384 * E * I) + 0.15 * F * s / (G * A)

    I = w * h^3 / 12, A = w * h, G = E / 2.6 (Poisson's ratio 0.3; cast iron, with 0.26, sags a bit less). A shoe
    is a short, thick beam: shear adds 12 % where the span is 5 times the thickness, 78 % where it is twice. Below
    that the force goes straight into the supports, and the sum is only a guess.

    Arguments:
        force: force on the shoe between the supports
        span: clear distance between the supports
        width: width of the shoe along the supports, holes taken off
        thickness: thickness of the shoe
        modulus: modulus of elasticity of the shoe, 210 GPa for steel, about 100 GPa for grey cast iron, 70 GPa for
          aluminium
        load: centre (default: all force on the middle of the span) or spread (evenly over the span)

    >>> shoe_deflection(force=500000, span=300, width=400, thickness=60, modulus=210000)
    0.2092
    """
    positive(force=force, span=span, width=width, thickness=thickness, modulus=modulus)
    one_of(("centre", "spread"), load=load)
    by_moment = 1.0 / 48.0 if load == "centre" else 5.0 / 384.0
    by_shear = 1.0 / 4.0 if load == "centre" else 1.0 / 8.0
    bending: Length = by_moment * force * span**3 / (modulus * width * thickness**3 / 12.0)
    shear: Length = by_shear * SHEAR_FORM * force * span / (modulus / MODULUS_RATIO * width * thickness)
    return bending + shear


@function(chapter="Die strength", source="timoshenko", place="beam on two supports, largest bending stress")
def shoe_stress(force: Force, span: Length, width: Length, thickness: Length, load: Load = "centre") -> Stress:
    """Largest bending stress of a shoe or bolster that lies on two supports.

    centre: 1.5 * F * s / (w * h^2); spread: 0.75 * F * s / (w * h^2)

    Arguments:
        force: force on the shoe between the supports
        span: clear distance between the supports
        width: width of the shoe along the supports, holes taken off
        thickness: thickness of the shoe
        load: centre (default: all force on the middle of the span) or spread (evenly over the span)

    >>> shoe_stress(force=500000, span=300, width=400, thickness=60)
    156.25
    """
    positive(force=force, span=span, width=width, thickness=thickness)
    one_of(("centre", "spread"), load=load)
    share = 1.5 if load == "centre" else 0.75
    return share * force * span / (width * thickness**2)
