"""Load centre: where the force of all stations acts, and what it does to a press when that is off its middle."""

from __future__ import annotations

from pressfuncs.arrays import absolute
from pressfuncs.functions._rounding import settle
from pressfuncs.limits import finite, not_negative, positive, require
from pressfuncs.quantities import Force, Forces, Length, Lengths, Torque
from pressfuncs.registry import function


@function(chapter="Load centre", source="derived", place="sum of moments over sum of forces")
def load_centre(forces: Forces, positions: Lengths) -> Length:
    """Position of the resultant of all forces of a stroke, in one direction; the other direction is another call.

    x = sum(F * x) / sum(F)

    The centre of the die is not the centre of its load. Moments are divided by forces, never forces by moments.

    Arguments:
        forces: force of each station, cutting, forming and springs alike, 0 or more
        positions: where each acts, from any one line, to one side positive and to the other negative

    >>> load_centre(forces=[120000, 60000, 20000], positions=[-150, 0, 200])
    -70.0
    """
    not_negative(forces=forces)
    finite(positions=positions)
    require(
        len(forces) == len(positions) > 0,
        "{forces} forces and {positions} positions are given, as many of both are wanted and at least one",
        forces=(len(forces), None),
        positions=(len(positions), None),
    )
    total_force: Force = sum(forces)
    require(total_force > 0, "the forces are all 0, so there is no load centre")
    return sum(force * position for force, position in zip(forces, positions)) / total_force


@function(chapter="Load centre", source="derived", place="sum of moments over sum of forces")
def load_centre_from_moments(moments: Torque, total_force: Force) -> Length:
    """Position of the load centre from the sum of moments and the sum of forces.

    x = sum(M) / sum(F)

    Arguments:
        moments: sum of force times position, with its sign
        total_force: sum of the forces

    >>> load_centre_from_moments(moments=-14000000, total_force=200000)
    -70.0
    """
    finite(moments=moments)
    positive(total_force=total_force)
    return moments / total_force


@function(chapter="Load centre", source="derived")
def off_centre_moment(force: Force, load_centre: Length, slide_centre: Length = 0.0) -> Torque:
    """Tilting moment on slide and guides from a load that does not act under the middle of the slide.

    M = F * |x - x0|

    Arguments:
        force: whole force at that moment
        load_centre: where it acts, see the function load_centre
        slide_centre: middle of the slide, measured from the same line

    >>> off_centre_moment(force=200000, load_centre=-70)
    14000000.0
    """
    not_negative(force=force)
    finite(load_centre=load_centre, slide_centre=slide_centre)
    return force * absolute(load_centre - slide_centre)


@function(chapter="Load centre", source="derived")
def off_centre_margin(
    force: Force, load_centre: Length, allowed_moment: Torque, slide_centre: Length = 0.0
) -> Torque:
    """Tilting moment still allowed by the press's maker; less than 0 and the load is too far off the middle.

    margin = allowed - F * |x - x0|

    Arguments:
        force: whole force at that moment
        load_centre: where it acts, see the function load_centre
        allowed_moment: off-centre moment the maker allows in this direction
        slide_centre: middle of the slide, measured from the same line

    >>> off_centre_margin(force=200000, load_centre=-70, allowed_moment=20000000)
    6000000.0
    """
    not_negative(force=force)
    finite(load_centre=load_centre)
    positive(allowed_moment=allowed_moment)
    finite(slide_centre=slide_centre)
    return settle(allowed_moment - force * absolute(load_centre - slide_centre), allowed_moment)


@function(chapter="Load centre", source="derived")
def die_shift(load_centre: Length, slide_centre: Length = 0.0) -> Length:
    """How far to move the die, with its sign, so that its load centre comes under the middle of the slide.

    shift = x0 - x

    Arguments:
        load_centre: where the force acts, see the function load_centre
        slide_centre: middle of the slide, measured from the same line

    >>> die_shift(load_centre=-70)
    70.0
    """
    finite(load_centre=load_centre, slide_centre=slide_centre)
    return slide_centre - load_centre
