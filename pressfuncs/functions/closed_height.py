"""Closed height: whether the die goes in, what the slide adjustment and spacers must do, and what room is left.

Everywhere here the press shut height is measured from the bed to the slide, with the stroke down and the
adjustment up: the most room there is at the bottom of the stroke. Bolster and spacers take their height off
it, and so does the slide adjustment when it is let down. What takes room must be given: a blank would make the
press look taller. A die exactly as high as the room left fits.
"""

from __future__ import annotations

from pressfuncs.arrays import maximum, minimum
from pressfuncs.functions._rounding import round_down, settle
from pressfuncs.limits import not_negative, positive, require, whole
from pressfuncs.quantities import LENGTH, Count, Length, Text, Wording
from pressfuncs.registry import function

SHUT_HEIGHTS = "shut heights of press and die"


@function(chapter="Closed height", source="practice", place=SHUT_HEIGHTS)
def closed_height_margin(die_height: Length, press_shut_height: Length, bolster: Length, spacer: Length) -> Length:
    """Height left over the closed die in the press; 0 fits exactly, less than 0 and the die is too tall.

    margin = H - bolster - spacer - h

    What is left is taken up by letting the slide down with its adjustment, see adjustment_margin.

    Arguments:
        die_height: shut height of the die, top of the punch holder to bottom of the die holder, die closed
        press_shut_height: bed to slide, stroke down, adjustment up
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster
        spacer: thickness of parallels and spacers under and over the die; write 0 for none

    >>> closed_height_margin(die_height=240, press_shut_height=330, bolster=80, spacer=0)
    10
    """
    _check_heights(die_height, press_shut_height, bolster, spacer)
    return _margin(die_height, press_shut_height, bolster, spacer)


@function(chapter="Closed height", source="practice", place=SHUT_HEIGHTS)
def adjustment_needed(
    die_height: Length, press_shut_height: Length, adjustment: Length, bolster: Length, spacer: Length
) -> Length:
    """How far the slide must be let down from its highest setting until the die closes; refused if it cannot.

    a = H - bolster - spacer - h, from 0 to the adjustment

    Set it from above, little by little, with the energy off and the die clean.

    Arguments:
        die_height: shut height of the die, die closed
        press_shut_height: bed to slide, stroke down, adjustment up
        adjustment: how far the slide adjustment goes down
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster
        spacer: thickness of parallels and spacers under and over the die; write 0 for none

    >>> adjustment_needed(die_height=240, press_shut_height=330, adjustment=60, bolster=80, spacer=0)
    10
    """
    _check_heights(die_height, press_shut_height, bolster, spacer)
    not_negative(adjustment=adjustment)
    margin: Length = _margin(die_height, press_shut_height, bolster, spacer)
    require(margin >= 0, "the die is too tall by {excess}", excess=(-margin, LENGTH))
    gap = settle(margin - adjustment, press_shut_height)
    require(gap <= 0, "the die is too short by {gap}: put in a spacer of at least that", gap=(gap, LENGTH))
    return minimum(margin, adjustment)


@function(chapter="Closed height", source="practice", place=SHUT_HEIGHTS)
def adjustment_margin(
    die_height: Length, press_shut_height: Length, adjustment: Length, bolster: Length, spacer: Length
) -> Length:
    """Slide adjustment left when the slide is let down on the die; less than 0 and the die is too short.

    margin = adjustment - (H - bolster - spacer - h)

    Says nothing about a die that is too tall: that is closed_height_margin.

    Arguments:
        die_height: shut height of the die, die closed
        press_shut_height: bed to slide, stroke down, adjustment up
        adjustment: how far the slide adjustment goes down
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster
        spacer: thickness of parallels and spacers under and over the die; write 0 for none

    >>> adjustment_margin(die_height=240, press_shut_height=330, adjustment=60, bolster=80, spacer=0)
    50
    """
    _check_heights(die_height, press_shut_height, bolster, spacer)
    not_negative(adjustment=adjustment)
    return settle(adjustment - _margin(die_height, press_shut_height, bolster, spacer), press_shut_height)


@function(chapter="Closed height", source="practice", place=SHUT_HEIGHTS)
def spacer_needed(die_height: Length, press_shut_height: Length, adjustment: Length, bolster: Length) -> Length:
    """Least spacer with which the die closes: 0 if none is needed, less than 0 if height must come out instead.

    maximum(m - adjustment, 0) + minimum(m, 0), with m = H - bolster - h

    A die too short asks for at least this much spacer, and takes up to m. A die too tall gives a negative
    number: a bolster thinner by that much, or another press.

    Arguments:
        die_height: shut height of the die, die closed
        press_shut_height: bed to slide, stroke down, adjustment up
        adjustment: how far the slide adjustment goes down
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster

    >>> spacer_needed(die_height=160, press_shut_height=330, adjustment=60, bolster=80)
    30.0
    """
    _check_heights(die_height, press_shut_height, bolster, 0.0 * die_height)
    not_negative(adjustment=adjustment)
    margin: Length = _margin(die_height, press_shut_height, bolster, 0.0 * die_height)
    return maximum(settle(margin - adjustment, press_shut_height), 0.0) + minimum(margin, 0.0)


@function(chapter="Closed height", source="practice", place=SHUT_HEIGHTS)
def closed_height_fit(
    die_height: Length, press_shut_height: Length, adjustment: Length, bolster: Length, spacer: Length
) -> Text:
    """Whether the closed die goes into the press: fits, too tall by so much, or too short and the spacer it needs.

    "fits" where 0 <= H - bolster - spacer - h <= adjustment

    Arguments:
        die_height: shut height of the die, die closed
        press_shut_height: bed to slide, stroke down, adjustment up
        adjustment: how far the slide adjustment goes down
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster
        spacer: thickness of parallels and spacers already under and over the die; write 0 for none

    >>> closed_height_fit(die_height=160, press_shut_height=330, adjustment=60, bolster=80, spacer=0)
    'too short by 30 mm: needs 30 mm to 90 mm of spacer'
    """
    _check_heights(die_height, press_shut_height, bolster, spacer)
    not_negative(adjustment=adjustment)
    margin: Length = _margin(die_height, press_shut_height, bolster, spacer)
    gap = settle(margin - adjustment, press_shut_height)
    if margin < 0:
        if spacer + margin >= 0:
            return Wording("too tall by {excess}: the spacer is {excess} too thick", excess=(-margin, LENGTH))
        return Wording("too tall by {excess}", excess=(-margin, LENGTH))
    if gap > 0:
        more = "more spacer" if spacer > 0 else "of spacer"
        return Wording(
            f"too short by {{gap}}: needs {{gap}} to {{most}} {more}", gap=(gap, LENGTH), most=(margin, LENGTH)
        )
    return "fits"


@function(chapter="Closed height", source="derived")
def shut_height_adjustment_up(shut_height_adjustment_down: Length, adjustment: Length) -> Length:
    """Press shut height with the adjustment up, from a plate that states it with the adjustment down.

    H = height with adjustment down + adjustment

    Both conventions are found on plates. All functions here want the larger one, with the adjustment up.

    Arguments:
        shut_height_adjustment_down: bed to slide, stroke down, adjustment down
        adjustment: how far the slide adjustment goes

    >>> shut_height_adjustment_up(shut_height_adjustment_down=270, adjustment=60)
    330
    """
    positive(shut_height_adjustment_down=shut_height_adjustment_down)
    not_negative(adjustment=adjustment)
    return shut_height_adjustment_down + adjustment


@function(chapter="Closed height", source="derived")
def opening_at_top(
    press_shut_height: Length,
    stroke: Length,
    bolster: Length,
    spacer: Length,
    slide_lowered: Length,
) -> Length:
    """Height between bolster and slide with the slide at the top of its stroke.

    opening = H + stroke - bolster - spacer - slide lowered

    Arguments:
        press_shut_height: bed to slide, stroke down, adjustment up
        stroke: stroke of the slide
        bolster: thickness of the bolster plate on the bed; write 0 if the shut height is given above the bolster
        spacer: thickness of parallels and spacers; write 0 for none
        slide_lowered: how far the slide is let down by its adjustment, see adjustment_needed; all of it is the
          safe figure

    >>> opening_at_top(press_shut_height=330, stroke=100, bolster=80, spacer=0, slide_lowered=10)
    340
    """
    positive(press_shut_height=press_shut_height, stroke=stroke)
    not_negative(bolster=bolster, spacer=spacer, slide_lowered=slide_lowered)
    require(
        bolster + spacer + slide_lowered <= press_shut_height,
        "bolster, spacer and adjustment leave nothing of the shut height {press_shut_height}",
        press_shut_height=press_shut_height,
    )
    return press_shut_height + stroke - bolster - spacer - slide_lowered


@function(chapter="Closed height", source="derived")
def tool_opening(stroke: Length, punch_entry: Length) -> Length:
    """Free height between punch and die face with the slide at the top of its stroke.

    opening = stroke - e

    Arguments:
        stroke: stroke of the slide
        punch_entry: how far the punch stands below the die face with the die closed; write 0 for not at all

    >>> tool_opening(stroke=100, punch_entry=3)
    97
    """
    positive(stroke=stroke)
    not_negative(punch_entry=punch_entry)
    require(
        punch_entry <= stroke,
        "the punch enters by {punch_entry}, more than the stroke of {stroke}: it never leaves the die",
        punch_entry=punch_entry,
        stroke=stroke,
    )
    return stroke - punch_entry


@function(chapter="Closed height", source="derived")
def part_clearance_margin(opening: Length, part_height: Length, lift: Length) -> Length:
    """Height left over the part on its way out of the open die; less than 0 and it does not come out.

    margin = opening - part height - lift

    It says whether the part passes, not whether a hand may reach in: no hand belongs between the dies.

    Arguments:
        opening: free height between upper and lower die at the top of the stroke, see tool_opening
        part_height: height of the part as it leaves
        lift: how far it is lifted before it moves: out of the die, over pins and rails; write 0 for not at all

    >>> part_clearance_margin(opening=97, part_height=40, lift=45)
    12
    """
    positive(opening=opening)
    not_negative(part_height=part_height, lift=lift)
    return settle(opening - part_height - lift, opening)


@function(chapter="Closed height", source="derived")
def height_after_regrind(die_height: Length, grind: Length, sharpenings: Count) -> Length:
    """Shut height of the die after some sharpenings, if nothing is put under the ground parts.

    h - g * n

    Arguments:
        die_height: shut height of the die now
        grind: height lost in one sharpening, punch and die together
        sharpenings: how many

    >>> height_after_regrind(die_height=240, grind=0.3, sharpenings=20)
    234.0
    """
    positive(die_height=die_height)
    not_negative(grind=grind)
    whole(sharpenings=sharpenings, least=0)
    require(
        grind * sharpenings < die_height,
        "{sharpenings} sharpenings of {grind} leave nothing of a die of {die_height}",
        sharpenings=sharpenings,
        grind=grind,
        die_height=die_height,
    )
    return die_height - grind * sharpenings


@function(chapter="Closed height", source="derived")
def sharpenings_left(die_height: Length, lowest_die_height: Length, grind: Length) -> Count:
    """How many sharpenings a die can take before it is lower than allowed, rounded down.

    n = floor((h - lowest) / g)

    Arguments:
        die_height: shut height of the die now
        lowest_die_height: least height: by its cutting inserts, or by what the press still closes on
        grind: height lost in one sharpening, punch and die together

    >>> sharpenings_left(die_height=240, lowest_die_height=234, grind=0.3)
    20
    """
    positive(die_height=die_height, lowest_die_height=lowest_die_height, grind=grind)
    require(
        lowest_die_height <= die_height,
        "the die of {die_height} is already below {lowest_die_height}",
        die_height=die_height,
        lowest_die_height=lowest_die_height,
    )
    return round_down((die_height - lowest_die_height) / grind)


def _check_heights(die_height: Length, press_shut_height: Length, bolster: Length, spacer: Length) -> None:
    positive(die_height=die_height, press_shut_height=press_shut_height)
    not_negative(bolster=bolster, spacer=spacer)
    require(
        bolster < press_shut_height,
        "the bolster of {bolster} leaves nothing of the shut height {press_shut_height}",
        bolster=bolster,
        press_shut_height=press_shut_height,
    )


def _margin(die_height: Length, press_shut_height: Length, bolster: Length, spacer: Length) -> Length:
    return settle(press_shut_height - bolster - spacer - die_height, press_shut_height)
