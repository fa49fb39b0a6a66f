"""Closed height: room beside the die, on the bed, on the slide face and in the shank bore."""

from __future__ import annotations

from pressfuncs.arrays import minimum
from pressfuncs.functions._rounding import settle
from pressfuncs.limits import not_negative, positive
from pressfuncs.quantities import Length
from pressfuncs.registry import function


@function(chapter="Closed height", source="derived")
def bed_margin(
    bed_length: Length,
    bed_width: Length,
    die_length: Length,
    die_width: Length,
    clamping_length: Length,
    clamping_width: Length,
) -> Length:
    """Smaller of the two margins of the die on bed or bolster, clamping room deducted; less than 0: does not fit.

    minimum(L - l - 2 * c, W - w - 2 * d)

    Length runs left to right and width front to back, for bed and die alike. The die is not turned.

    Arguments:
        bed_length: usable length of bed or bolster, left to right
        bed_width: usable width of bed or bolster, front to back
        die_length: length of the lower die, left to right
        die_width: width of the lower die, front to back
        clamping_length: room for clamps at each end, left and right; write 0 where none sit there
        clamping_width: room for clamps at each side, front and back; write 0 where none sit there

    >>> bed_margin(bed_length=900, bed_width=600, die_length=700, die_width=480,
    ...            clamping_length=0, clamping_width=50)
    20.0
    """
    positive(bed_length=bed_length, bed_width=bed_width, die_length=die_length, die_width=die_width)
    not_negative(clamping_length=clamping_length, clamping_width=clamping_width)
    return _smaller_margin(bed_length, bed_width, die_length, die_width, clamping_length, clamping_width)


@function(chapter="Closed height", source="derived")
def slide_face_margin(
    slide_length: Length,
    slide_width: Length,
    upper_die_length: Length,
    upper_die_width: Length,
    clamping_length: Length,
    clamping_width: Length,
) -> Length:
    """Smaller of the two margins of the upper die on the slide face, clamps deducted; less than 0: does not fit.

    minimum(L - l - 2 * c, W - w - 2 * d)

    Length runs left to right and width front to back. A die held by its shank alone may hang over a small slide:
    that is a matter of stiffness, not of this margin.

    Arguments:
        slide_length: usable length of the slide face, left to right
        slide_width: usable width of the slide face, front to back
        upper_die_length: length of the upper die, left to right
        upper_die_width: width of the upper die, front to back
        clamping_length: room for clamps at each end, left and right; write 0 where none sit there
        clamping_width: room for clamps at each side, front and back; write 0 where none sit there

    >>> slide_face_margin(slide_length=600, slide_width=450, upper_die_length=620, upper_die_width=400,
    ...                   clamping_length=0, clamping_width=0)
    -20.0
    """
    positive(
        slide_length=slide_length,
        slide_width=slide_width,
        upper_die_length=upper_die_length,
        upper_die_width=upper_die_width,
    )
    not_negative(clamping_length=clamping_length, clamping_width=clamping_width)
    return _smaller_margin(
        slide_length, slide_width, upper_die_length, upper_die_width, clamping_length, clamping_width
    )


@function(chapter="Closed height", source="derived")
def shank_margin(bore_diameter: Length, shank_diameter: Length) -> Length:
    """Play between the shank bore of the slide and the shank of the die; less than 0 and the shank does not go in.

    margin = D - d

    A large margin wants a split bush: a shank clamped with play can drop the upper die.

    Arguments:
        bore_diameter: diameter of the shank bore in the slide
        shank_diameter: diameter of the shank

    >>> shank_margin(bore_diameter=50, shank_diameter=40)
    10
    """
    positive(bore_diameter=bore_diameter, shank_diameter=shank_diameter)
    return settle(bore_diameter - shank_diameter, bore_diameter)


def _smaller_margin(
    length: Length, width: Length, die_length: Length, die_width: Length, end_room: Length, side_room: Length
) -> Length:
    return minimum(
        settle(length - die_length - 2.0 * end_room, length), settle(width - die_width - 2.0 * side_room, width)
    )
