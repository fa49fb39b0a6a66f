"""Mechanical presses: slide motion of the plain crank, capacity over the stroke."""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import PI
from pressfuncs.functions import _crank as crank
from pressfuncs.limits import not_negative, one_of, positive, require, whole, within
from pressfuncs.quantities import (
    Angle,
    CapacityRows,
    Count,
    Force,
    Length,
    Speed,
    Stress,
    StrokeRate,
    Torque,
)
from pressfuncs.registry import function

CHAPTER = "Mechanical"
TURN = 2 * PI
MOST_POINTS = 1000
ROD_RULE = "rod {rod} is not longer than the crank radius, half of the stroke {stroke}"
HEIGHT_RULE = "height {height} is above the top of the stroke {stroke}"
RATED_RULE = "rated_height {rated_height} is above half of the stroke {stroke}: no press is rated so high"

Drive = Literal["top", "under"]
"""Where the crank is: above the slide and pushing it, or under the bed and pulling it down."""


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def slide_height(stroke: Length, rod: Length, crank_angle: Angle, drive: Drive = "top") -> Length:
    """Height of the slide above the bottom of its stroke at a crank angle.

    h = r * (1 - cos(theta)) +- (l - sqrt(l^2 - r^2 * sin(theta)^2)), with r = stroke / 2; + top, - under

    For a plain crank or eccentric in line with the slide. Presses with knuckles, links or a servo drive move
    otherwise: take the maker's curve. Nearly all crank presses are driven from the top. In an underdrive press the
    crank turns below the bed, and rods through bed or columns pull the slide down: big drawing presses, and fast
    presses whose whole upper frame moves. There the slide comes down the last part of the stroke more slowly.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        crank_angle: angle of the crank from where the slide is at the bottom of its stroke; negative before the
          bottom gives the same height
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down)

    >>> slide_height(stroke=100, rod=400, crank_angle=0.4674889357)
    6.000000
    """
    positive(stroke=stroke, rod=rod)
    within(-TURN, TURN, crank_angle=crank_angle)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    return crank.height(stroke, rod, crank_angle, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def crank_angle_at(stroke: Length, rod: Length, height: Length, drive: Drive = "top") -> Angle:
    """Crank angle, counted from the bottom of the stroke, at which the slide has a height above the bottom.

    cos(theta) = 1 - h * (2 * l -+ h) / (2 * r * (l +- (r - h))), with r = stroke / 2; upper sign top, lower under

    The slide passes each height twice: this many degrees before the bottom and as many after it.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        height: height of the slide above the bottom of its stroke, 0 to stroke
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down)

    >>> crank_angle_at(stroke=100, rod=400, height=6)
    0.4674889
    """
    positive(stroke=stroke, rod=rod)
    not_negative(height=height)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return crank.angle(stroke, rod, height, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def slide_speed(stroke: Length, rod: Length, rate: StrokeRate, height: Length, drive: Drive = "top") -> Speed:
    """Speed of the slide at a height above the bottom, crank turning evenly.

    v = 2 * pi * rate * ds/dtheta

    ds/dtheta is the slide travel per radian of the crank. To be compared with the speed that a drawing
    lubricant or a punch allows where the die meets the part. Where the drive is not known take the higher speed:
    top in the lower half of the stroke.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        rate: strokes in a time while the crank turns without a stop, not the parts made in it
        height: height of the slide above the bottom of its stroke, 0 to stroke
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down)

    >>> slide_speed(stroke=100, rod=400, rate=1, height=25.4)
    282.9756
    """
    positive(stroke=stroke, rod=rod, rate=rate)
    not_negative(height=height)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return TURN * rate * crank.lever(stroke, rod, height, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="exact kinematics of crank and connecting rod")
def fastest_height(stroke: Length, rod: Length, drive: Drive = "top") -> Length:
    """Height above the bottom at which the slide of a crank press moves fastest.

    h where d2s/dtheta2 = 0

    Below half of the stroke with a top drive, and as far above it with an underdrive.

    Arguments:
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down)

    >>> fastest_height(stroke=600, rod=1000)
    262.6845
    """
    positive(stroke=stroke, rod=rod)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    return crank.fastest_height(stroke, rod, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def rated_torque(
    rated_force: Force, rated_height: Length, stroke: Length, rod: Length, drive: Drive = "top"
) -> Torque:
    """Torque at the crankshaft that gives the rated force at the rated height above the bottom.

    T = F_rated * ds/dtheta at the rated height

    Friction is left out. Clutch, shaft and gears were designed for this torque; more of it breaks them, however
    small the force looks. Where the drive is not known, under gives the smaller torque.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down)

    >>> rated_torque(rated_force=1000000, rated_height=6, stroke=100, rod=400)
    25050633.5
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    return rated_force * crank.lever(stroke, rod, rated_height, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def mechanical_capacity(
    rated_force: Force, rated_height: Length, stroke: Length, rod: Length, height: Length, drive: Drive = "top"
) -> Force:
    """Force that a crank press gives at a height above the bottom: its rating near the bottom, less above.

    F = F_rated * (ds/dtheta at the rated height) / (ds/dtheta at the height), never above F_rated

    The rating holds from the rated height down to the bottom, where the frame limits the force. Above it the
    torque of the crankshaft limits the force. Above half of the stroke the value at half of the stroke is kept:
    torque alone would allow more again towards the top, but presses are not rated there. For a plain crank or
    eccentric; verify on the maker's capacity curve. The energy of the flywheel is a separate limit.

    In an underdrive press (crank below the bed, rods pull the slide down) the rod is folded over the crank at the
    bottom: at half of the stroke the same torque gives a tenth less where the rod is four strokes long, and a
    fifth less where it is two. The force falls up to the greatest ds/dtheta, above half of the stroke, and is kept
    there.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        height: height above the bottom at which the die meets the part, 0 to stroke
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down); not
          known: under, the lower force

    >>> mechanical_capacity(rated_force=1000000, rated_height=6, stroke=100, rod=400, height=12.7)
    717820.4
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    not_negative(height=height)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    require(height <= stroke, HEIGHT_RULE, height=height, stroke=stroke)
    return crank.capacity(rated_force, rated_height, stroke, rod, height, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def height_for_force(
    rated_force: Force, rated_height: Length, stroke: Length, rod: Length, force: Force, drive: Drive = "top"
) -> Length:
    """Greatest height at which a crank press still gives a force: where the die may meet the part at the earliest.

    h where mechanical_capacity falls to F; the whole stroke where it never falls so low

    For a plain crank or eccentric; verify on the maker's capacity curve.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        force: force that the die takes, at most the rated force
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down); not
          known: under, the lower one

    >>> height_for_force(rated_force=1000000, rated_height=6, stroke=100, rod=400, force=717820.41)
    12.70000
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod, force=force)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    require(
        force <= rated_force,
        "force {force} is more than rated_force {rated_force}: the press gives it at no height",
        force=force,
        rated_force=rated_force,
    )
    return crank.height_for_share(force / rated_force, rated_height, stroke, rod, crank.SIDES[drive])


@function(chapter=CHAPTER, source="derived", place="force times slide travel = torque times angle")
def capacity_curve(
    rated_force: Force,
    rated_height: Length,
    stroke: Length,
    rod: Length,
    points: Count = 25.0,
    drive: Drive = "top",
) -> CapacityRows:
    """Capacity of a crank press over its stroke, as rows of height above the bottom and force, for a chart.

    rows of mechanical_capacity from the bottom to the top of the stroke

    The first row is the bottom, the second the rated height, the last the top of the stroke; the rows between
    are equal steps of the crank angle. A figure for planning, not the maker's curve.

    Arguments:
        rated_force: rated capacity on the machine's plate
        rated_height: height above the bottom from which down the rating holds, on the plate or in the manual
        stroke: full stroke of the slide, twice the crank radius
        rod: length of the connecting rod between the centres of crank pin and slide pin
        points: number of rows, 3 to 1000
        drive: top (default: crank above the slide) or under (crank below the bed that pulls the slide down); not
          known: under, the lower one

    >>> rows = capacity_curve(rated_force=1000000, rated_height=6, stroke=100, rod=400, points=6)
    >>> [round(force / 1000, 1) for height, force in rows]
    [1000.0, 1000.0, 524.6, 498.1, 498.1, 498.1]
    """
    positive(rated_force=rated_force, rated_height=rated_height, stroke=stroke, rod=rod)
    whole(3, points=points)
    within(3, MOST_POINTS, points=points)
    one_of(crank.SIDES, drive=drive)
    require(rod > stroke / 2, ROD_RULE, rod=rod, stroke=stroke)
    require(rated_height <= stroke / 2, RATED_RULE, rated_height=rated_height, stroke=stroke)
    side = crank.SIDES[drive]
    start = crank.angle(stroke, rod, rated_height, side)
    steps = int(points) - 2
    angles = [start + (PI - start) * step / steps for step in range(1, steps)]
    heights = [0 * stroke, rated_height, *(crank.height(stroke, rod, angle, side) for angle in angles), stroke]
    return [(height, crank.capacity(rated_force, rated_height, stroke, rod, height, side)) for height in heights]


@function(chapter=CHAPTER, source="practice", place="shear strength of the shaft times the area of its bearings")
def crankshaft_capacity(shear_strength: Stress, bearing_diameter: Length, bearings: Count) -> Force:
    """Very rough capacity of a press without a plate: the crankshaft sheared through at its bearings.

    F = n * pi / 4 * d^2 * tau

    A first guess for an unknown old machine and nothing more: it has no safety in it unless the strength given
    is an allowable one, and it knows neither the frame nor the torque. Never load a press by this figure.

    Arguments:
        shear_strength: shear strength of the shaft; an allowable shear stress gives an allowable force
        bearing_diameter: diameter of the crankshaft at the bearings beside the throw
        bearings: number of bearings that share the force: 2 beside a throw, 1 of an overhung crank

    >>> crankshaft_capacity(shear_strength=60, bearing_diameter=100, bearings=2)
    942477.8
    """
    positive(shear_strength=shear_strength, bearing_diameter=bearing_diameter)
    whole(1, bearings=bearings)
    return bearings * PI / 4 * bearing_diameter * bearing_diameter * shear_strength
