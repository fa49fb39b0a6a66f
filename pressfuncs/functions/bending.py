"""Bending: force of V, wiping and U bends, flat lengths, die openings, radii and springback."""

from __future__ import annotations

from typing import Literal, Optional

from pressfuncs.arrays import PI, log, maximum, minimum, tan, where
from pressfuncs.limits import not_negative, one_of, positive, require, share, within
from pressfuncs.quantities import Angle, Force, Length, Lengths, Ratio, Stress
from pressfuncs.registry import function

CHAPTER = "Bending"
DIE_RULE = "die_opening {die_opening} is not wider than thickness {thickness}"
FIXED_V_FACTOR = 1.33
"""Factor of a V bend by the convention that does not look at the die."""
DIN_LEAST = 0.65
"""Smallest ratio of radius to thickness that the DIN 6935 formula is taken for."""

AngleConvention = Literal["bend", "included"]
BendKRule = Literal["two steps", "din"]
LegConvention = Literal["tangent", "outside"]


def _bend_angle(angle: float, measured: str) -> float:
    """Return the angle that the sheet is turned through."""
    one_of(("bend", "included"), measured=measured)
    return PI - angle if measured == "included" else angle


@function(chapter=CHAPTER, source="groover", place="ch. 20, bending operations, bending force")
def v_bending_force(
    width: Length,
    thickness: Length,
    tensile_strength: Stress,
    die_opening: Length,
    factor: Optional[Ratio] = None,
) -> Force:
    """Largest force of an air bend in a V die.

    F = K * UTS * w * t^2 / D

    Two conventions for K: a fixed 1.33, or 1 + 4 * t / D, which follows the die: 1.5 at 8 times the thickness,
    1.33 at 12 times, less for wider dies. Left blank, the larger of the two is taken. Bottoming and coining the
    bend take several times this force.

    Arguments:
        width: length of the bend line, all bends of the stroke together
        thickness: sheet thickness, upper end of its tolerance
        tensile_strength: tensile strength of the sheet
        die_opening: width of the V at its upper edges
        factor: K; blank: the larger of 1.33 and 1 + 4 * t / D, see v_bend_factor

    >>> v_bending_force(width=1000, thickness=2, tensile_strength=400, die_opening=16)
    150000.0
    """
    positive(width=width, thickness=thickness, tensile_strength=tensile_strength, die_opening=die_opening)
    require(die_opening > thickness, DIE_RULE, die_opening=die_opening, thickness=thickness)
    bend_factor: Ratio = (
        maximum(v_bend_factor(thickness, die_opening), FIXED_V_FACTOR) if factor is None else factor
    )
    positive(factor=bend_factor)
    return bend_factor * tensile_strength * width * thickness * thickness / die_opening


@function(chapter=CHAPTER, source="oehler", place="bending in V dies, force of the air bend")
def v_bend_factor(thickness: Length, die_opening: Length) -> Ratio:
    """Factor for v_bending_force that follows the width of the die, in place of a fixed 1.33.

    K = 1 + 4 * t / D

    Equal to 1.33 where the opening is 12 times the thickness; 1.5 at 8 times.

    Arguments:
        thickness: sheet thickness
        die_opening: width of the V at its upper edges

    >>> v_bend_factor(thickness=2, die_opening=16)
    1.5
    """
    positive(thickness=thickness, die_opening=die_opening)
    require(die_opening > thickness, DIE_RULE, die_opening=die_opening, thickness=thickness)
    return 1 + 4 * thickness / die_opening


@function(chapter=CHAPTER, source="groover", place="ch. 20, bending operations, bending force")
def wipe_bending_force(
    width: Length, thickness: Length, tensile_strength: Stress, die_opening: Length, factor: Ratio = 0.33
) -> Force:
    """Force to wipe one edge down over a die (edge bending), without the force of the hold-down pad.

    F = K * UTS * w * t^2 / D

    The pad must hold against this force as well: add its force to the load of the press.

    Arguments:
        width: length of the bend line
        thickness: sheet thickness, upper end of its tolerance
        tensile_strength: tensile strength of the sheet
        die_opening: lever of the wiping punch, see wipe_die_opening
        factor: K, 0.33 for one wiped edge

    >>> wipe_bending_force(width=1000, thickness=2, tensile_strength=400, die_opening=8)
    66000.0
    """
    positive(
        width=width,
        thickness=thickness,
        tensile_strength=tensile_strength,
        die_opening=die_opening,
        factor=factor,
    )
    require(die_opening > thickness, DIE_RULE, die_opening=die_opening, thickness=thickness)
    return factor * tensile_strength * width * thickness * thickness / die_opening


@function(chapter=CHAPTER, source="astme", place="bending dies, wiping and channel forming")
def wipe_die_opening(die_radius: Length, punch_radius: Length, clearance: Length) -> Length:
    """Opening between die and punch for wipe_bending_force and u_bending_force: both radii and the gap.

    D = R_die + R_punch + c

    Arguments:
        die_radius: radius of the edge that the sheet is bent over
        punch_radius: radius of the edge that wipes or draws the sheet down
        clearance: gap between the upright faces of punch and die, about the sheet thickness

    >>> wipe_die_opening(die_radius=3, punch_radius=3, clearance=2)
    8
    """
    not_negative(die_radius=die_radius, punch_radius=punch_radius)
    positive(clearance=clearance)
    return die_radius + punch_radius + clearance


@function(chapter=CHAPTER, source="astme", place="bending dies, channel forming")
def u_bending_force(
    width: Length,
    thickness: Length,
    tensile_strength: Stress,
    die_opening: Length,
    factor: Ratio,
    pad_force: Force,
) -> Force:
    """Force to bend both legs of a channel (U) in one stroke, with the force of the pad under it.

    F = K * UTS * w * t^2 / D + F_pad

    Two wiped edges at once. Setting the bottom flat at the end of the stroke takes more.

    Arguments:
        width: length of one bend line
        thickness: sheet thickness, upper end of its tolerance
        tensile_strength: tensile strength of the sheet
        die_opening: opening between punch and die on one side, see wipe_die_opening
        factor: K, 0.67 for both legs together
        pad_force: force of the spring or cushion pad that the punch pushes down; write 0 where there is none

    >>> u_bending_force(width=1000, thickness=2, tensile_strength=400, die_opening=8, factor=0.67, pad_force=40000)
    174000.0
    """
    positive(
        width=width,
        thickness=thickness,
        tensile_strength=tensile_strength,
        die_opening=die_opening,
        factor=factor,
    )
    not_negative(pad_force=pad_force)
    require(die_opening > thickness, DIE_RULE, die_opening=die_opening, thickness=thickness)
    return factor * tensile_strength * width * thickness * thickness / die_opening + pad_force


@function(chapter=CHAPTER, source="practice", place="opening as a multiple of the thickness")
def smallest_die_opening(thickness: Length, ratio: Ratio) -> Length:
    """Smallest opening of a V die for a sheet thickness by the common multiple.

    D = ratio * t

    Arguments:
        thickness: sheet thickness, upper end of its tolerance
        ratio: opening over thickness, 8 for soft sheet up to about 3 mm, 10 to 12 for thicker or harder sheet

    >>> smallest_die_opening(thickness=3, ratio=8)
    24
    """
    positive(thickness=thickness, ratio=ratio)
    require(
        ratio > 1, "ratio {ratio} is not greater than 1: the opening must be wider than the sheet", ratio=ratio
    )
    return ratio * thickness


@function(chapter=CHAPTER, source="practice", place="leg as a share of the die opening")
def smallest_leg(die_opening: Length, ratio: Ratio) -> Length:
    """Shortest leg that still lies on both edges of a V die until the bend is finished.

    leg = ratio * D

    Arguments:
        die_opening: width of the V at its upper edges
        ratio: leg over opening, about 0.7 for bends of 90 degrees, more for sharper bends

    >>> smallest_leg(die_opening=24, ratio=0.7)
    16.80000
    """
    positive(die_opening=die_opening, ratio=ratio)
    require(ratio >= 0.5, "ratio {ratio} is less than 0.5: the leg would slip into the die", ratio=ratio)
    return ratio * die_opening


@function(chapter=CHAPTER, source="practice", place="inside radius as a share of the die opening")
def air_bend_radius(die_opening: Length, ratio: Ratio = 0.16) -> Length:
    """Inside radius that an air bend takes by itself, given by the die opening and not by the punch.

    R = ratio * D

    Arguments:
        die_opening: width of the V at its upper edges
        ratio: radius over opening, about 0.16 for mild steel, 0.13 soft aluminium, 0.20 stainless steel

    >>> air_bend_radius(die_opening=16)
    2.56
    """
    positive(die_opening=die_opening)
    share(ratio=ratio)
    return ratio * die_opening


@function(chapter=CHAPTER, source="groover", place="ch. 20, bending operations; the other rule: DIN 6935")
def bend_k(radius: Length, thickness: Length, rule: BendKRule = "two steps") -> Ratio:
    """Place of the neutral line in a bend, as a share of the thickness from the inside, for bend_allowance.

    two steps: 0.33 where R < 2 * t, else 0.50; din: (0.65 + log10(R / t) / 2) / 2, at most 0.50

    Two conventions. "two steps" is the common handbook rule. "din" is the smooth curve of DIN 6935, halved here
    because that standard counts its k from half the thickness; it is taken from R = 0.65 t upwards. A trial
    bend in the material decides.

    Arguments:
        radius: inside radius of the bend
        thickness: sheet thickness
        rule: two steps (handbook, 0.33 or 0.50) or din (curve of DIN 6935)

    >>> bend_k(radius=2, thickness=2)
    0.33
    """
    positive(radius=radius, thickness=thickness)
    one_of(("two steps", "din"), rule=rule)
    ratio = radius / thickness
    if rule == "two steps":
        return where(ratio < 2, 0.33, 0.50)
    require(
        ratio >= DIN_LEAST,
        "radius {radius} is less than 0.65 of thickness {thickness}: the din rule does not reach so far,"
        " take two steps or a trial bend",
        radius=radius,
        thickness=thickness,
    )
    return minimum((0.65 + log(ratio) / log(10) / 2) / 2, 0.50)


@function(chapter=CHAPTER, source="groover", place="ch. 20, bending operations, bend allowance")
def bend_allowance(
    angle: Angle, radius: Length, thickness: Length, k_factor: Ratio, measured: AngleConvention = "bend"
) -> Length:
    """Length of the neutral line in a bend: what the flat blank needs between the two straight legs.

    BA = alpha * (R + k * t)

    Arguments:
        angle: angle of the bend, see measured
        radius: inside radius of the bend
        thickness: sheet thickness
        k_factor: place of the neutral line as a share of the thickness, see bend_k; 0.5 is the middle
        measured: bend (the angle the sheet is turned through, 0 when flat) or included (the angle between the
          legs, 180 degrees when flat); they agree at 90 degrees only

    >>> bend_allowance(angle=1, radius=100, thickness=2, k_factor=0.5)
    101.0
    """
    within(0.0, PI, angle=angle)
    not_negative(radius=radius)
    positive(thickness=thickness)
    share(k_factor=k_factor)
    return _bend_angle(angle, measured) * (radius + k_factor * thickness)


@function(chapter=CHAPTER, source="derived", place="tangent length of the outer radius")
def outside_setback(angle: Angle, radius: Length, thickness: Length, measured: AngleConvention = "bend") -> Length:
    """Distance from the end of a straight leg to the corner where the outer faces would meet.

    OSSB = (R + t) * tan(alpha / 2)

    Arguments:
        angle: angle of the bend, see measured; at most 170 degrees turned through
        radius: inside radius of the bend
        thickness: sheet thickness
        measured: bend (the angle the sheet is turned through) or included (the angle between the legs)

    >>> outside_setback(angle=1.5707963, radius=3, thickness=2)
    5.000000
    """
    within(0.0, PI, angle=angle)
    not_negative(radius=radius)
    positive(thickness=thickness)
    turned: Angle = _bend_angle(angle, measured)
    require(
        turned <= PI * 170 / 180,
        "angle {angle} folds the sheet too far: the outer faces meet nowhere near, use tangent lengths",
        angle=angle,
    )
    return (radius + thickness) * tan(turned / 2)


@function(chapter=CHAPTER, source="derived", place="twice the outside setback less the bend allowance")
def bend_deduction(
    angle: Angle, radius: Length, thickness: Length, k_factor: Ratio, measured: AngleConvention = "bend"
) -> Length:
    """Length to take off the sum of two outside leg lengths for the bend between them.

    BD = 2 * (R + t) * tan(alpha / 2) - alpha * (R + k * t)

    Arguments:
        angle: angle of the bend, see measured; at most 170 degrees turned through
        radius: inside radius of the bend
        thickness: sheet thickness
        k_factor: place of the neutral line as a share of the thickness, see bend_k
        measured: bend (the angle the sheet is turned through) or included (the angle between the legs)

    >>> bend_deduction(angle=1.5707963, radius=3, thickness=2, k_factor=0.33)
    4.250885
    """
    within(0.0, PI, angle=angle)
    not_negative(radius=radius)
    positive(thickness=thickness)
    share(k_factor=k_factor)
    turned: Angle = _bend_angle(angle, measured)
    require(
        turned <= PI * 170 / 180,
        "angle {angle} folds the sheet too far: the outer faces meet nowhere near, use tangent lengths",
        angle=angle,
    )
    return 2 * (radius + thickness) * tan(turned / 2) - turned * (radius + k_factor * thickness)


@function(chapter=CHAPTER, source="derived", place="sum of straight legs and bends")
def flat_length(legs: Lengths, bends: Lengths, measured: LegConvention = "tangent") -> Length:
    """Length of the flat blank of a bent part.

    tangent: sum of legs + sum of bends; outside: sum of legs - sum of bends

    One row for each leg, and beside it the bend that follows; write 0 beside the last leg. Two conventions:
    "tangent" takes the straight part of each leg and bend allowances, "outside" takes legs measured to the
    outer corners and bend deductions. Mixing them is a common mistake.

    Arguments:
        legs: length of each leg, straight part only (tangent) or to the outer corners (outside)
        bends: bend allowance (tangent) or bend deduction (outside) after each leg, 0 after the last
        measured: tangent (straight parts and bend allowances) or outside (outer sizes and bend deductions)

    >>> flat_length(legs=[40, 60, 40], bends=[5.75, 5.75, 0])
    151.5
    """
    positive(legs=legs)
    not_negative(bends=bends)
    one_of(("tangent", "outside"), measured=measured)
    straight, bent = sum(legs[1:], legs[0]), sum(bends[1:], bends[0])
    if measured == "tangent":
        return straight + bent
    require(
        bent < straight, "bends {bends} take away more than legs {legs} give in all", bends=bent, legs=straight
    )
    return straight - bent


@function(chapter=CHAPTER, source="kalpakjian", place="ch. 16, minimum bend radius")
def smallest_bend_radius(thickness: Length, reduction_of_area: Ratio) -> Length:
    """Smallest inside radius before the outside of the bend cracks, from the tensile test of the sheet.

    R = t * (0.5 / r - 1), not less than 0

    Rolling direction and burrs count as well: bend across the grain, burr side inside.

    Arguments:
        thickness: sheet thickness
        reduction_of_area: reduction of area at fracture in the tensile test, 50 % or more bends flat on itself

    >>> smallest_bend_radius(thickness=2, reduction_of_area=0.2)
    3.0
    """
    positive(thickness=thickness)
    share(reduction_of_area=reduction_of_area)
    return thickness * maximum(0.5 / reduction_of_area - 1, 0.0)


@function(chapter=CHAPTER, source="kalpakjian", place="ch. 16, springback")
def springback_radius(radius: Length, thickness: Length, yield_strength: Stress, modulus: Stress) -> Length:
    """Inside radius of a bend after it has sprung back from the tool.

    R_after = R / (4 * q^3 - 3 * q + 1), with q = R * Y / (E * t)

    For bends across a wide sheet without stretching or bottoming. Where q reaches 0.5 the sheet springs back
    flat.

    Arguments:
        radius: inside radius while the tool is closed
        thickness: sheet thickness
        yield_strength: yield strength of the sheet
        modulus: modulus of elasticity of the sheet, about 210 GPa for steel and 70 GPa for aluminium

    >>> springback_radius(radius=12.7, thickness=0.912, yield_strength=275.8, modulus=199948)
    13.47618
    """
    positive(radius=radius, thickness=thickness, yield_strength=yield_strength, modulus=modulus)
    strained = radius * yield_strength / (modulus * thickness)
    require(
        strained < 0.5,
        "radius {radius} only bends the sheet elastically: it springs back flat",
        radius=radius,
    )
    return radius / (4 * strained * strained * strained - 3 * strained + 1)
