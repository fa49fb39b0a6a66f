"""Cutting: force, energy, stripping and ejection of blanking, piercing and shearing."""

from __future__ import annotations

from typing import Literal

from pressfuncs.functions._rounding import LENGTH_NOISE
from pressfuncs.limits import finite, not_negative, one_of, positive, require, share, whole, within
from pressfuncs.quantities import (
    STRESS,
    Constant,
    Count,
    Energy,
    Force,
    Forces,
    Length,
    Lengths,
    Ratio,
    Stress,
)
from pressfuncs.registry import function

EDGE_PRESSURE = Constant(24.131650526089266, STRESS)
"""Stripping force over the cut edge area, 3 500 psi."""

EnergyModel = Literal["full", "triangle", "factor"]


@function(chapter="Cutting", source="lecture_press_tools", place="cutting force")
def shear_strength_from_tensile(tensile_strength: Stress, ratio: Ratio = 0.9) -> Stress:
    """Shear strength of sheet estimated from its tensile strength, where no shear strength is known.

    tau = ratio * UTS

    Common ratios: 0.5 to 0.7 for aluminium, the soft tempers highest, 0.7 to 0.8 for cold-rolled steel, 0.9 for
    stainless steel. Take the upper end of the tensile strength when the result plans a force.

    Arguments:
        tensile_strength: tensile strength of the sheet (UTS), upper end of its range for a force
        ratio: shear strength divided by tensile strength; blank: 0.9, the upper end; 0.8 is usual for steel

    >>> shear_strength_from_tensile(tensile_strength=410, ratio=0.8)
    328.0
    """
    positive(tensile_strength=tensile_strength)
    share(ratio=ratio)
    return ratio * tensile_strength


@function(chapter="Cutting", source="groover", place="ch. 20, sheet metalworking, cutting forces")
def shearing_force(cut_length: Length, thickness: Length, shear_strength: Stress) -> Force:
    """Force to cut through flat sheet along the whole cut length at once, edges sharp and square.

    F = L * t * tau

    A press is chosen for worn edges: put the result through dull_edge_force.

    Arguments:
        cut_length: length of all edges cut in the same stroke, holes included
        thickness: sheet thickness, upper end of its tolerance
        shear_strength: shear strength of the sheet, not its tensile strength

    >>> shearing_force(cut_length=471.239, thickness=3.2, shear_strength=310)
    467469.1
    """
    positive(cut_length=cut_length, thickness=thickness, shear_strength=shear_strength)
    return cut_length * thickness * shear_strength


@function(chapter="Cutting", source="practice", place="15 to 30 % for worn edges in worked texts")
def dull_edge_force(force: Force, edge_allowance: Ratio = 0.3) -> Force:
    """Cutting force to plan with: worn edges take more than the sharp ones that the formula stands for.

    F * (1 + a)

    Worked texts add 15 to 30 % for worn edges, uneven sheet and a clearance that is not just right. Apply it once,
    to the cut: shearing_force does not hold it, and neither does a load limit, which is for the press.

    Arguments:
        force: cutting force of sharp edges
        edge_allowance: share added for worn edges; blank: 0.3, the upper end; 0 for freshly ground ones

    >>> dull_edge_force(force=467469.088)
    607709.8
    """
    positive(force=force)
    within(0.0, 1.0, edge_allowance=edge_allowance)
    return force * (1.0 + edge_allowance)


@function(chapter="Cutting", source="derived")
def staggered_peak_force(forces: Forces, entry_heights: Lengths, engagement: Length) -> Force:
    """Peak force of punches of different lengths: the largest sum of those that cut at the same moment.

    F = largest sum of forces whose entry heights lie less than e apart

    Each punch is taken to push with its full force from the touch of the sheet over the whole engagement. Punches
    whose entry heights differ by exactly the engagement do not cut together; anything closer counts as together.

    Arguments:
        forces: cutting force of each punch or group of punches, 0 or more
        entry_heights: height of the slide at which each punch meets the sheet; only differences matter
        engagement: travel over which a punch cuts: penetration times thickness, the whole thickness when unsure

    >>> staggered_peak_force(forces=[80000, 50000, 40000], entry_heights=[3, 1.5, 0], engagement=1.6)
    130000
    """
    not_negative(forces=forces)
    finite(entry_heights=entry_heights)
    positive(engagement=engagement)
    require(
        len(forces) == len(entry_heights) > 0,
        "{forces} forces and {heights} entry heights are given, as many of both are wanted and at least one",
        forces=(len(forces), None),
        heights=(len(entry_heights), None),
    )
    punches = sorted(zip(entry_heights, forces), key=lambda punch: punch[0])
    apart = engagement * (1.0 - LENGTH_NOISE)
    peak = 0.0 * punches[0][1]
    end = 0
    for start, (height, _) in enumerate(punches):
        if start and height == punches[start - 1][0]:
            continue  # the same window as that of the punch before
        while end < len(punches) and punches[end][0] - height < apart:
            end += 1
        peak = max(peak, sum(force for _, force in punches[start:end]))
    return peak


@function(chapter="Cutting", source="schuler", place="blanking and shearing, force and work")
def cutting_energy(
    force: Force,
    thickness: Length,
    penetration: Ratio = 1.0,
    model: EnergyModel = "full",
    factor: Ratio = 0.7,
) -> Energy:
    """Energy that one cut takes from the press.

    full: F * p * t; triangle: F * t / 2; factor: x * F * t

    Three conventions are in use: "full" holds the peak force until the sheet breaks through, "triangle" lets it
    fall evenly to nothing over the thickness, "factor" takes a share x of F * t, 0.4 for hard and thick sheet to
    0.7 for soft and thin. Shear relief and stagger do not save energy: give the force without them.

    Arguments:
        force: cutting force without relief and stagger
        thickness: sheet thickness
        penetration: for "full": share of the thickness at which the sheet breaks through; blank: all of it
        model: full (default), triangle or factor
        factor: for "factor": share of force times thickness; blank: 0.7, the upper end

    >>> cutting_energy(force=74250, thickness=1.5, penetration=0.25)
    27843.75
    """
    positive(force=force, thickness=thickness)
    share(penetration=penetration, factor=factor)
    one_of(("full", "triangle", "factor"), model=model)
    if model == "full":
        return force * penetration * thickness
    return force * thickness * (0.5 if model == "triangle" else factor)


@function(chapter="Cutting", source="practice")
def snap_through_force(force: Force, reverse_share: Ratio) -> Force:
    """Reverse load on the frame at the moment the sheet breaks through and the press springs back.

    R = share * F

    Compare it with snap_through_limit. It grows with force, hardness and speed; a measured share is best. Relief,
    stagger and dampers lower it.

    Arguments:
        force: peak cutting force of the stroke
        reverse_share: reverse load divided by the peak force, measured or estimated

    >>> snap_through_force(force=500000, reverse_share=0.2)
    100000.0
    """
    positive(force=force)
    share(reverse_share=reverse_share)
    return force * reverse_share


@function(chapter="Cutting", source="practice", place="about 10 % of the rating on ordinary frames, recalled")
def snap_through_limit(rated_force: Force, limit_share: Ratio = 0.1) -> Force:
    """Reverse load that a press frame may see at snap-through; the maker's own figure goes before it.

    R = share * rated force

    Arguments:
        rated_force: rated force of the press
        limit_share: share of the rating allowed in reverse, about 0.1 on ordinary frames

    >>> snap_through_limit(rated_force=1000000)
    100000.0
    """
    positive(rated_force=rated_force)
    share(limit_share=limit_share)
    return rated_force * limit_share


@function(chapter="Cutting", source="lecture_press_tools", place="stripping force, 10 to 20 %")
def stripping_force(force: Force, stripping_share: Ratio = 0.2) -> Force:
    """Force to pull the punches back out of the strip, as a share of the cutting force without relief.

    P = share * F

    Shares in use: 3 to 5 % where the punch is about ten times the thickness wide, 10 to 20 % where it is about
    twice the thickness or the clearance is tight.

    Arguments:
        force: cutting force without relief
        stripping_share: share of the cutting force; blank: 0.2, for small holes and tight clearance

    >>> stripping_force(force=100800, stripping_share=0.2)
    20160.0
    """
    positive(force=force)
    share(stripping_share=stripping_share)
    return force * stripping_share


@function(chapter="Cutting", source="eary_reed", place="stripping force, 3 500 psi on the cut edge")
def stripping_force_by_edge(cut_length: Length, thickness: Length, edge_pressure: Stress = EDGE_PRESSURE) -> Force:
    """Force to pull the punches back out of the strip, by the area of the cut edge.

    P = q * L * t

    Arguments:
        cut_length: length of all edges that grip a punch
        thickness: sheet thickness
        edge_pressure: stripping force over edge area; blank: 24.13 MPa (3500 psi)

    >>> stripping_force_by_edge(cut_length=100, thickness=2)
    4826.33
    """
    positive(cut_length=cut_length, thickness=thickness, edge_pressure=edge_pressure)
    return edge_pressure * cut_length * thickness


@function(chapter="Cutting", source="schuler", place="blanking and shearing, push-through force")
def ejection_force(force: Force, ejection_share: Ratio, slugs: Count) -> Force:
    """Force to push blanks or slugs through the die, on top of the cutting force.

    P = share * F * n

    Arguments:
        force: cutting force of these blanks or slugs without relief
        ejection_share: share of the cutting force to push one of them
        slugs: number stuck above each other in the land of the die, see slugs_in_die

    >>> ejection_force(force=50000, ejection_share=0.05, slugs=4)
    10000.0
    """
    positive(force=force)
    share(ejection_share=ejection_share)
    whole(slugs=slugs, least=0)
    return force * ejection_share * slugs


@function(chapter="Cutting", source="derived")
def stroke_force(
    cutting_force: Force,
    stripping_force: Force,
    ejection_force: Force,
    forming_force: Force,
    pad_force: Force,
) -> Force:
    """Force the press must give at the same moment: cutting and all that springs and pads hold against it.

    F = cutting + stripping + ejection + forming + pad

    A spring stripper and a pad load the slide on the way down; a fixed stripper does not. Give 0 for what the die
    has none of.

    Arguments:
        cutting_force: peak cutting force, after relief and stagger
        stripping_force: force of a spring stripper, 0 for a fixed one
        ejection_force: force to push blanks or slugs through the die, 0 for none
        forming_force: force of bending, drawing or coining at the same moment, 0 for none
        pad_force: force of pads, springs, cushion or blank holder, 0 for none

    >>> stroke_force(cutting_force=100800, stripping_force=20160, ejection_force=0, forming_force=0, pad_force=0)
    120960
    """
    not_negative(
        cutting_force=cutting_force,
        stripping_force=stripping_force,
        ejection_force=ejection_force,
        forming_force=forming_force,
        pad_force=pad_force,
    )
    return cutting_force + stripping_force + ejection_force + forming_force + pad_force
