"""Motion and leverage of a plain crank in line with the slide; the mechanical chapter checks the input.

`side` tells the two drives apart, and stands before the crank radius in every formula: 1 where crank and rod lie
in line at the bottom of the stroke (top drive), -1 where the rod is folded over the crank there (underdrive). The
folded crank is the other one seen from the top: its lever at a height is that of the other as far below the top.
"""

from __future__ import annotations

from pressfuncs.arrays import PI, acos, asin, cos, maximum, minimum, sin, sqrt, where

SIDES = {"top": 1.0, "under": -1.0}

HALVINGS = 60
"""Steps of a bisection: what is left of the interval is below the last digit of a float."""


def height(stroke: float, rod: float, crank_angle: float, side: float) -> float:
    """Return the slide's height above the bottom; written so that small angles lose no digits."""
    radius = stroke / 2
    half = sin(crank_angle / 2)
    across = radius * sin(crank_angle)
    return stroke * half * half + side * across * across / (rod + sqrt(rod * rod - across * across))


def angle(stroke: float, rod: float, height: float, side: float) -> float:
    """Return the crank angle from 0 to pi; from the half angle, exact near the bottom."""
    pin = rod + side * (stroke / 2 - height)
    sine_squared = height * (2 * rod - side * height) / (2 * stroke * pin)
    return 2 * asin(sqrt(minimum(sine_squared, 1.0)))


def lever(stroke: float, rod: float, height: float, side: float) -> float:
    """Return the slide travel per radian of the crank, ds/dtheta, at a height; 0 at bottom and top.

    The law of cosines in crank, rod and the distance from shaft to slide pin gives sine and cosine of the
    crank angle without computing the angle itself.
    """
    radius = stroke / 2
    left = stroke - height
    pin = rod + side * (radius - height)
    square = height * (2 * rod - side * height) * left * (2 * rod + side * left)
    return pin * sqrt(square) / (pin * pin + rod * rod - radius * radius)


def capacity(
    rated_force: float, rated_height: float, stroke: float, rod: float, height: float, side: float
) -> float:
    """Return the force that the rated torque gives at a height, or the rating where that is less.

    Towards the top ds/dtheta falls to 0, and a torque would give any force; no maker rates a press there. With a
    top drive the value at half of the stroke is kept; with an underdrive, whose ds/dtheta still grows there, that
    of the greatest ds/dtheta.
    """
    above = maximum(height, rated_height)
    kept = where(side > 0, stroke / 2, maximum(fastest_height(stroke, rod, side), rated_height))
    longest = maximum(lever(stroke, rod, above, side), lever(stroke, rod, minimum(above, kept), side))
    return rated_force * minimum(lever(stroke, rod, rated_height, side) / longest, 1.0)


def fastest_height(stroke: float, rod: float, side: float) -> float:
    """Return the height at which ds/dtheta is greatest: where the acceleration of the slide is 0.

    There y^3 - y^2 - y + (r / l)^2 = 0 holds for y = (r * sin(theta) / l)^2. All its roots are real, and the one
    between 0 and 1 is taken.
    """
    radius = stroke / 2
    ratio = radius / rod
    root = 1 / 3 + 4 / 3 * cos(acos((11 - 27 * ratio * ratio) / 16) / 3 - 2 * PI / 3)
    spread = maximum(root * (1 - root), 0.0)  # rounding may put the root just beside its interval
    cosine = sqrt(spread / (1 + spread))
    across = radius * sqrt(1 / (1 + spread))
    return radius - side * (radius * cosine - across * across / (rod + sqrt(rod * rod - across * across)))


def height_for_share(share: float, rated_height: float, stroke: float, rod: float, side: float) -> float:
    """Return the greatest height from which down the capacity is at least this share of the rating."""
    longest = lever(stroke, rod, rated_height, side) / share
    fastest = maximum(rated_height, fastest_height(stroke, rod, side))
    low, high = rated_height, fastest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        given = lever(stroke, rod, middle, side) <= longest
        low, high = where(given, middle, low), where(given, high, middle)
    return where(lever(stroke, rod, fastest, side) <= longest, stroke, low)
