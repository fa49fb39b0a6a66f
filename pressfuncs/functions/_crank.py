"""Motion and leverage of a plain crank in line with the slide; the mechanical chapter checks the input."""

from __future__ import annotations

from pressfuncs.arrays import PI, asin, cos, maximum, minimum, sin, sqrt, where

HALVINGS = 60
"""Steps of a bisection: what is left of the interval is below the last digit of a float."""


def height(stroke: float, rod: float, crank_angle: float) -> float:
    """Return the slide's height above the bottom; written so that small angles lose no digits."""
    radius = stroke / 2
    half = sin(crank_angle / 2)
    across = radius * sin(crank_angle)
    return stroke * half * half + across * across / (rod + sqrt(rod * rod - across * across))


def angle(stroke: float, rod: float, height: float) -> float:
    """Return the crank angle from 0 to pi; from the half angle, exact near the bottom."""
    pin = stroke / 2 + rod - height
    sine_squared = height * (2 * rod - height) / (2 * stroke * pin)
    return 2 * asin(sqrt(minimum(sine_squared, 1.0)))


def lever(stroke: float, rod: float, height: float) -> float:
    """Return the slide travel per radian of the crank, ds/dtheta, at a height; 0 at bottom and top.

    The law of cosines in crank, rod and the distance from shaft to slide pin gives sine and cosine of the
    crank angle without computing the angle itself.
    """
    radius = stroke / 2
    pin = radius + rod - height
    square = height * (2 * rod - height) * (stroke - height) * (2 * rod + stroke - height)
    return pin * sqrt(square) / (pin * pin + rod * rod - radius * radius)


def working_lever(stroke: float, rod: float, height: float) -> float:
    """Return ds/dtheta at a height, and above half of the stroke not less than it is there.

    Towards the top ds/dtheta falls to 0, and a torque would give any force; no maker rates a press there.
    """
    return maximum(lever(stroke, rod, height), lever(stroke, rod, minimum(height, stroke / 2)))


def capacity(rated_force: float, rated_height: float, stroke: float, rod: float, height: float) -> float:
    """Return the force that the rated torque gives at a height, or the rating where that is less."""
    share = lever(stroke, rod, rated_height) / working_lever(stroke, rod, maximum(height, rated_height))
    return rated_force * minimum(share, 1.0)


def fastest_height(stroke: float, rod: float) -> float:
    """Return the height at which ds/dtheta is greatest: where the acceleration of the slide changes its sign."""
    radius = stroke / 2
    low, high = 0.0, PI
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        sine, cosine = radius * sin(middle), radius * cos(middle)
        along = sqrt(rod * rod - sine * sine)
        acceleration = cosine + (cosine * cosine - sine * sine) / along + (sine * cosine / along) ** 2 / along
        rising = acceleration > 0
        low, high = where(rising, middle, low), where(rising, high, middle)
    return height(stroke, rod, low)


def height_for_share(share: float, rated_height: float, stroke: float, rod: float) -> float:
    """Return the greatest height from which down the capacity is at least this share of the rating."""
    longest = lever(stroke, rod, rated_height) / share
    fastest = maximum(rated_height, fastest_height(stroke, rod))
    low, high = rated_height, fastest
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        given = lever(stroke, rod, middle) <= longest
        low, high = where(given, middle, low), where(given, high, middle)
    return where(lever(stroke, rod, fastest) <= longest, stroke, low)
