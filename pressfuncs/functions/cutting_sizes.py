"""Cutting: lengths of cut edges, clearance between punch and die, and the sizes of both."""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import PI, minimum
from pressfuncs.functions._rounding import round_up
from pressfuncs.limits import not_negative, one_of, positive, require, share, whole
from pressfuncs.quantities import Count, Length, Ratio, Stress
from pressfuncs.registry import function

Sized = Literal["blank", "hole"]
Quoted = Literal["side", "total"]


@function(chapter="Cutting", source="derived")
def round_cut_length(diameter: Length, openings: Count = 1) -> Length:
    """Length of cut edge of round holes or blanks.

    L = pi * d * n

    Arguments:
        diameter: diameter of the hole or blank
        openings: how many of them are cut in the same stroke

    >>> round_cut_length(diameter=150)
    471.239
    """
    positive(diameter=diameter)
    whole(openings=openings)
    return PI * diameter * openings


@function(chapter="Cutting", source="derived")
def rectangle_cut_length(
    length: Length, width: Length, corner_radius: Length = 0.0, openings: Count = 1
) -> Length:
    """Length of cut edge of rectangular holes or blanks with sharp or rounded corners; a slot has full radii.

    L = (2 * (l + w) - (8 - 2 * pi) * r) * n

    Arguments:
        length: length over all
        width: width over all
        corner_radius: radius of the four corners, at most half the shorter side (then it is a slot)
        openings: how many of them are cut in the same stroke

    >>> rectangle_cut_length(length=40, width=10, corner_radius=5)
    91.4159
    """
    positive(length=length, width=width)
    not_negative(corner_radius=corner_radius)
    whole(openings=openings)
    require(
        2.0 * corner_radius <= minimum(length, width),
        "corner radius {corner_radius} is more than half the shorter side of {length} x {width}",
        corner_radius=corner_radius,
        length=length,
        width=width,
    )
    return (2.0 * (length + width) - (8.0 - 2.0 * PI) * corner_radius) * openings


@function(chapter="Cutting", source="groover", place="ch. 20, clearance in blanking and punching")
def clearance_per_side(thickness: Length, clearance_share: Ratio, quoted: Quoted = "side") -> Length:
    """Clearance between punch and die on each side of the punch.

    side: c = a * t; total: c = a * t / 2

    Two conventions are in use: die makers often quote the share per side, punch makers the total over both sides
    (the difference of the two sizes). Take the one for the other and the gap is double or half.

    Arguments:
        thickness: sheet thickness
        clearance_share: clearance divided by thickness, 0.06 for 6 %
        quoted: what the share is: side (per side, default) or total (over both sides)

    >>> clearance_per_side(thickness=3.2, clearance_share=0.075)
    0.24
    """
    positive(thickness=thickness)
    share(clearance_share=clearance_share)
    one_of(("side", "total"), quoted=quoted)
    return clearance_share * thickness * (0.5 if quoted == "total" else 1.0)


@function(chapter="Cutting", source="groover", place="ch. 20, punch and die sizes")
def punch_size(size: Length, clearance: Length, sized: Sized, wear_allowance: Length = 0.0) -> Length:
    """Size of the punch (diameter, length or width) for a blank or for a hole.

    blank: size - wear - 2 * c; hole: size + wear

    The die gives a blank its size, the punch gives a hole its size; the clearance goes on the other tool.

    Arguments:
        size: size of the part
        clearance: clearance on each side, not the total, see clearance_per_side
        sized: what keeps the size: blank (the piece that falls through) or hole (the piece that stays)
        wear_allowance: how far the tool that gives the size starts off it, against wear: die under, punch over

    >>> punch_size(size=25, clearance=0.06, sized="blank", wear_allowance=0.05)
    24.83
    """
    _check_sizes(size, clearance, sized, wear_allowance)
    if sized == "hole":
        return size + wear_allowance
    require(
        2.0 * clearance + wear_allowance < size,
        "two clearances of {clearance} and the wear allowance leave no punch for a blank of {size}",
        clearance=clearance,
        size=size,
    )
    return size - wear_allowance - 2.0 * clearance


@function(chapter="Cutting", source="groover", place="ch. 20, punch and die sizes")
def die_opening(size: Length, clearance: Length, sized: Sized, wear_allowance: Length = 0.0) -> Length:
    """Size of the die opening (diameter, length or width) for a blank or for a hole.

    blank: size - wear; hole: size + wear + 2 * c

    Arguments:
        size: size of the part
        clearance: clearance on each side, not the total, see clearance_per_side
        sized: what keeps the size: blank (the piece that falls through) or hole (the piece that stays)
        wear_allowance: how far the tool that gives the size starts off it, against wear: die under, punch over

    >>> die_opening(size=24, clearance=0.2, sized="hole")
    24.4
    """
    _check_sizes(size, clearance, sized, wear_allowance)
    if sized == "hole":
        return size + wear_allowance + 2.0 * clearance
    require(
        wear_allowance < size,
        "the wear allowance {wear_allowance} leaves no die for a blank of {size}",
        wear_allowance=wear_allowance,
        size=size,
    )
    return size - wear_allowance


def _check_sizes(size: Length, clearance: Length, sized: Sized, wear_allowance: Length) -> None:
    positive(size=size)
    not_negative(clearance=clearance)
    one_of(("blank", "hole"), sized=sized)
    not_negative(wear_allowance=wear_allowance)


@function(chapter="Cutting", source="derived", place="cutting force equal to the punch's own strength")
def smallest_hole(thickness: Length, shear_strength: Stress, punch_strength: Stress) -> Length:
    """Smallest round hole that a punch can pierce before it is crushed; buckling is another check.

    d = 4 * tau * t / sigma

    Arguments:
        thickness: sheet thickness, upper end of its tolerance
        shear_strength: shear strength of the sheet, upper end of its range
        punch_strength: compressive stress the punch may take, lower end

    >>> smallest_hole(thickness=10, shear_strength=350, punch_strength=800)
    17.5
    """
    positive(thickness=thickness, shear_strength=shear_strength, punch_strength=punch_strength)
    return 4.0 * shear_strength * thickness / punch_strength


@function(chapter="Cutting", source="derived")
def slugs_in_die(land: Length, thickness: Length) -> Count:
    """Number of slugs or blanks stuck above each other in the straight land of a die, rounded up.

    n = ceil(land / t)

    Arguments:
        land: height of the straight part of the die opening
        thickness: sheet thickness, lower end of its tolerance

    >>> slugs_in_die(land=5, thickness=1.2)
    5
    """
    not_negative(land=land)
    positive(thickness=thickness)
    return round_up(land / thickness)
