"""Shear ground on punch or die: how far it lowers the peak of the cut, by the contour that is cut."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from typing import Literal, get_args

from pressfuncs.arrays import PI, acos, atan, cos, maximum, minimum, sin, tan, where
from pressfuncs.functions._rounding import LENGTH_NOISE
from pressfuncs.limits import finite, not_negative, one_of, positive, require, share
from pressfuncs.quantities import Angle, Force, Length, Lengths, Ratio
from pressfuncs.registry import function

ShearContour = Literal["any", "straight", "round one way", "round roof", "rectangle one way", "rectangle roof"]
CONTOURS = get_args(ShearContour)
ReliefModel = Literal["ratio", "smooth"]
MODELS = get_args(ReliefModel)
NEARLY = 0.999
"""Share of the relief up to which the ends of a rectangle do not cut together; a little is left for certainty."""
SIDES_RULE = "a rectangle needs its sides along and across the shear, got {length} and {width}"
SMOOTH_RULE = 'the model "smooth" is for a straight edge only'


@function(chapter="Cutting", source="practice", place="press-tool text books; contours derived")
def relieved_shearing_force(
    force: Force,
    thickness: Length,
    penetration: Ratio,
    relief: Length,
    contour: ShearContour = "any",
    length: Length = 0.0,
    width: Length = 0.0,
    model: ReliefModel = "ratio",
) -> Force:
    """Peak cutting force with shear ground on punch or die, so that the cut runs along the contour.

    F * largest share of the contour in a band of height p * t; straight: F * p * t / s; never above F

    With k = p * t / s below 1, the share is k for a straight edge; acos(1 - 2 k) / pi for a round one sheared one
    way; 2 acos(1 - k) / pi for a round roof, which rises from the middle to both sides; (w + 2 l k) / (2 l + 2 w)
    for a rectangle one way and (w + l k) / (l + w) for its roof, since the sides across the shear cut at once.
    "any" lowers nothing: the contour is not known. Shear lowers the peak, not the energy.

    Two conventions are in use for a straight edge. "ratio" takes the force as the part of the edge that cuts at
    one moment; "smooth", F * p * t / (p * t + s), is an approach that gives less force at any shear.

    Arguments:
        force: cutting force without shear
        thickness: sheet thickness
        penetration: share of the thickness at which the sheet breaks through, upper end when unsure
        relief: how high the shear rises over the contour, of a roof from its middle to its side
        contour: any (default), straight, round one way, round roof, rectangle one way, rectangle roof
        length: rectangle: side along which the shear rises
        width: rectangle: side across the shear
        model: ratio (default) or smooth, for a straight edge only

    >>> relieved_shearing_force(force=37699.11, thickness=3, penetration=0.4, relief=2, contour="straight")
    22619.47
    """
    positive(force=force, thickness=thickness)
    share(penetration=penetration)
    not_negative(relief=relief)
    _check(contour, length, width, model)
    depth: Length = penetration * thickness
    if model == "smooth":
        return force * (depth / (depth + relief))
    within = minimum(depth / maximum(relief, depth), 1.0)
    return force * where(within < 1.0, _share_cut(contour, within, length, width), 1.0)


@function(chapter="Cutting", source="derived")
def relief_for_force(
    force: Force,
    thickness: Length,
    penetration: Ratio,
    target_force: Force,
    contour: ShearContour = "any",
    length: Length = 0.0,
    width: Length = 0.0,
    model: ReliefModel = "ratio",
) -> Length:
    """Height of shear that brings the cutting force down to a target; 0 if it is there without shear.

    s at which relieved_shearing_force is the target; straight: s = p * t * F / P

    No shear brings a rectangle below the share of its sides across the shear, and none helps where the contour is
    not known: both are refused.

    Arguments:
        force: cutting force without shear
        thickness: sheet thickness
        penetration: share of the thickness at which the sheet breaks through, upper end when unsure
        target_force: force the press may be loaded with (its capacity times the load limit)
        contour: any (default), straight, round one way, round roof, rectangle one way, rectangle roof
        length: rectangle: side along which the shear rises
        width: rectangle: side across the shear
        model: ratio (default, the larger shear) or smooth, for a straight edge only

    >>> relief_for_force(force=967610, thickness=5.6, penetration=0.4, target_force=294200, contour="round roof")
    20.018179
    """
    positive(force=force, thickness=thickness)
    share(penetration=penetration)
    positive(target_force=target_force)
    _check(contour, length, width, model)
    depth: Length = penetration * thickness
    if model == "smooth":
        return depth * maximum(force / target_force - 1.0, 0.0)
    wanted = minimum(target_force / force, 1.0)
    least = _least_share(contour, length, width)
    require(
        (wanted >= 1.0) | (wanted > least),
        "no shear brings this contour to {target_force}: sides across the shear, or all of it, cut at once",
        target_force=target_force,
    )
    return where(wanted < 1.0, depth / _within_for(contour, wanted, length, width), 0.0 * depth)


def _check(contour: str, length: Length, width: Length, model: str) -> None:
    one_of(CONTOURS, contour=contour)
    not_negative(length=length, width=width)
    require(
        contour not in ("rectangle one way", "rectangle roof") or (length > 0) & (width > 0),
        SIDES_RULE,
        length=length,
        width=width,
    )
    one_of(MODELS, model=model)
    require(model == "ratio" or contour == "straight", SMOOTH_RULE)


def _share_cut(contour: str, within: Ratio, length: Length, width: Length) -> Ratio:
    """Return the share of the contour in a band that is this share of the shear high."""
    if contour == "straight":
        return within
    if contour == "round one way":
        return acos(1.0 - 2.0 * within) / PI
    if contour == "round roof":
        return 2.0 * acos(1.0 - within) / PI
    if contour == "rectangle one way":
        return (width + 2.0 * length * within) / (2.0 * (length + width))
    if contour == "rectangle roof":
        return (width + length * within) / (length + width)
    return 1.0 + 0.0 * within


def _least_share(contour: str, length: Length, width: Length) -> Ratio:
    """Return the share of the contour that is cut at once however high the shear is."""
    if contour == "any":
        return 1.0
    if contour == "rectangle one way":
        return width / (2.0 * (length + width))
    if contour == "rectangle roof":
        return width / (length + width)
    return 0.0


def _within_for(contour: str, wanted: Ratio, length: Length, width: Length) -> Ratio:
    """Return the height of the band, as a share of the shear, that holds the wanted share of the contour."""
    if contour == "round one way":
        return 0.5 * (1.0 - cos(PI * wanted))
    if contour == "round roof":
        return 1.0 - cos(PI * wanted / 2.0)
    if contour == "rectangle one way":
        return minimum((2.0 * wanted * (length + width) - width) / (2.0 * length), NEARLY)
    if contour == "rectangle roof":
        return (wanted * (length + width) - width) / length
    return wanted


@function(chapter="Cutting", source="derived")
def relief_over_cut(relief: Length, blade_length: Length, cut_length: Length) -> Length:
    """Part of a blade's shear relief that lies over the cut: a short cut on a long blade sees only its share.

    s = S * minimum(L / B, 1)

    Arguments:
        relief: rise of the blade over its whole length
        blade_length: length of the blade over which it rises
        cut_length: length of the sheet under the blade

    >>> relief_over_cut(relief=20, blade_length=400, cut_length=200)
    10.0
    """
    not_negative(relief=relief)
    positive(blade_length=blade_length, cut_length=cut_length)
    return relief * minimum(cut_length / blade_length, 1.0)


@function(chapter="Cutting", source="derived")
def relief_angle(relief: Length, length: Length) -> Angle:
    """Angle of shear relief that rises evenly over a length of the edge.

    alpha = atan(s / l)

    Arguments:
        relief: height of the relief
        length: length over which it rises, such as the diameter of a punch sheared one way

    >>> relief_angle(relief=7.367, length=100)
    0.07354
    """
    not_negative(relief=relief)
    positive(length=length)
    return atan(relief / length)


@function(chapter="Cutting", source="derived")
def relief_from_angle(angle: Angle, length: Length) -> Length:
    """Height of shear relief ground at an angle over a length of the edge.

    s = l * tan(alpha)

    Arguments:
        angle: angle of the relief to the sheet, below 90 deg (1.57 rad)
        length: length over which it rises, such as the diameter of a punch sheared one way

    >>> relief_from_angle(angle=0.07354, length=100)
    7.367
    """
    not_negative(angle=angle)
    require(angle < PI / 2, "the relief angle {angle} is not below 90 deg", angle=angle)
    positive(length=length)
    return length * tan(angle)


@function(chapter="Cutting", source="derived")
def engaged_share(xs: Lengths, ys: Lengths, relief: Length, engagement: Length, direction: Angle = 0.0) -> Ratio:
    """Largest share of a closed outline that cuts at the same moment when shear rises over it in one direction.

    largest length of the outline whose height lies in a band of e, divided by the whole length

    Times the force of square edges it is the peak of the cut, for any contour; see relieved_shearing_force for the
    common ones. The outline runs straight from corner to corner and from the last to the first: give a curve many
    corners.

    Arguments:
        xs: left to right place of each corner, 3 or more
        ys: front to back place of each corner, as many
        relief: how high the shear rises from one side of the outline to the other
        engagement: travel over which the edge cuts: penetration times thickness, the whole thickness when unsure
        direction: direction in which the shear rises: 0 to the right, 90 deg (1.5708 rad) to the back

    >>> engaged_share(xs=[0, 100, 100, 0], ys=[0, 0, 40, 40], relief=20, engagement=3)
    0.25
    """
    finite(xs=xs, ys=ys)
    not_negative(relief=relief)
    positive(engagement=engagement)
    finite(direction=direction)
    require(
        len(xs) == len(ys) > 2,
        "{xs} and {ys} places are given, as many of both are wanted and at least 3",
        xs=(len(xs), None),
        ys=(len(ys), None),
    )
    along, across = cos(direction), sin(direction)
    places = [x * along + y * across for x, y in zip(xs, ys)]
    sides = [
        ((x - xs[i - 1]) * (x - xs[i - 1]) + (y - ys[i - 1]) * (y - ys[i - 1])) ** 0.5
        for i, (x, y) in enumerate(zip(xs, ys))
    ]
    whole: Length = sum(sides)
    lowest = min(places)
    require(whole > 0, "the corners of the outline all lie at one place")
    across_all = max(places) - lowest
    if relief <= engagement or across_all == 0:
        return 1.0
    band = across_all * (engagement / relief) * (1.0 + LENGTH_NOISE)
    up_to = _summed(places, sides)
    starts = [start for place in sorted(set(places)) for start in (place, place - band)]
    most: Length = max([up_to(start + band, True) - up_to(start, False) for start in starts])
    return most / whole


def _summed(places: Lengths, sides: Lengths) -> Callable[[Length, bool], Length]:
    """Return the length of all sides up to a place: with, or without, the sides that lie at the place itself."""
    nothing = 0.0 * sides[0]
    flat = LENGTH_NOISE * (max(places) - min(places))  # a side no steeper than that lies across the shear
    at: dict[Length, Length] = {place: nothing for place in places}
    slope: dict[Length, Ratio] = dict.fromkeys(places, 0.0)
    for i, (place, side) in enumerate(zip(places, sides)):
        first, last = min(places[i - 1], place), max(places[i - 1], place)
        if last - first > flat:
            slope[first] += side / (last - first)
            slope[last] -= side / (last - first)
        else:
            at[place] += side
    knots = sorted(at)
    below, above, slopes = [nothing], [at[knots[0]]], [slope[knots[0]]]
    for i in range(1, len(knots)):
        below.append(above[-1] + slopes[-1] * (knots[i] - knots[i - 1]))
        above.append(below[-1] + at[knots[i]])
        slopes.append(slopes[-1] + slope[knots[i]])

    def up_to(place: Length, with_it: bool) -> Length:
        i = bisect_right(knots, place) - 1
        if i < 0:
            return nothing
        if knots[i] == place and not with_it:
            return below[i]
        return above[i] + slopes[i] * (place - knots[i])

    return up_to
