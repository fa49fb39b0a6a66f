"""Strip: bridges, pitch and width of a layout, what share of it becomes parts, and the masses that follow.

The mass to buy and to pay is the gross one: pitch times strip width, not the area of the blank.
"""

from __future__ import annotations

from typing import Literal

from pressfuncs.arrays import PI, absolute, clip, maximum, sqrt
from pressfuncs.functions._rounding import round_down, settle
from pressfuncs.limits import finite, loss, not_negative, one_of, positive, require, whole
from pressfuncs.quantities import LENGTH, Area, Constant, Count, Density, Length, Lengths, Mass, Ratio
from pressfuncs.registry import function

LEAST_BRIDGE = Constant(0.8, LENGTH)
LARGEST_STEPPED_BRIDGE = Constant(3.2, LENGTH)
BRIDGE_SHARE = 1.2
"""Bridge divided by thickness in the proportional rule."""

BridgeRule = Literal["proportional", "stepped"]


@function(chapter="Strip", source="practice", place="1.2 t; or t from 0.8 to 3.2 mm and no more or less beyond")
def bridge_width(thickness: Length, rule: BridgeRule = "proportional", least: Length = LEAST_BRIDGE) -> Length:
    """Width of the bridge of scrap between two parts, and between a part and the edge of the strip.

    proportional: 1.2 * t; stepped: t, at most 3.2 mm; never below the least

    Too narrow a bridge twists into the die and breaks its edges: take more for long straight sides, soft sheet,
    and strip that is turned round for a second pass.

    Arguments:
        thickness: sheet thickness
        rule: proportional (1.2 times the thickness, default) or stepped (the thickness itself, 3.2 mm at most)
        least: narrowest bridge that the strip still carries; blank: 0.8 mm

    >>> bridge_width(thickness=2)
    2.4
    """
    positive(thickness=thickness)
    one_of(("proportional", "stepped"), rule=rule)
    not_negative(least=least)
    if rule == "stepped":
        return maximum(clip(thickness, least, LARGEST_STEPPED_BRIDGE), least)
    return maximum(BRIDGE_SHARE * thickness, least)


@function(chapter="Strip", source="derived")
def feed_pitch(part_length: Length, bridge: Length) -> Length:
    """Advance of the strip at each stroke, for parts one behind the other.

    p = l + b

    Arguments:
        part_length: size of the part along the strip, as it lies in the layout
        bridge: bridge between one part and the next; 0 for parts that share a cut

    >>> feed_pitch(part_length=50, bridge=1.5)
    51.5
    """
    positive(part_length=part_length)
    not_negative(bridge=bridge)
    return part_length + bridge


@function(chapter="Strip", source="derived")
def strip_width(
    part_width: Length,
    edge_bridge: Length,
    rows: Count,
    row_bridge: Length,
    side_cut: Length,
) -> Length:
    """Width of the strip for straight rows of parts side by side.

    w = rows * part width + (rows - 1) * row bridge + 2 * edge bridge + side cut

    Arguments:
        part_width: size of the part across the strip, as it lies in the layout
        edge_bridge: bridge between the parts and each edge of the strip
        rows: parts side by side across the strip
        row_bridge: bridge between two rows; write 0 for a single row
        side_cut: what pitch punches cut off the edges, both edges together; write 0 where there are none

    >>> strip_width(part_width=50, edge_bridge=1.5, rows=1, row_bridge=0, side_cut=0)
    53.0
    """
    positive(part_width=part_width)
    not_negative(edge_bridge=edge_bridge)
    whole(rows=rows)
    not_negative(row_bridge=row_bridge, side_cut=side_cut)
    _check_row_bridge(rows, row_bridge)
    return rows * part_width + (rows - 1) * row_bridge + 2.0 * edge_bridge + side_cut


@function(chapter="Strip", source="derived")
def staggered_strip_width(
    diameter: Length, edge_bridge: Length, row_bridge: Length, rows: Count, side_cut: Length
) -> Length:
    """Width of the strip for rows of discs staggered by half a pitch, each disc in the gap of the next row.

    w = d + (rows - 1) * sqrt(3) / 2 * (d + row bridge) + 2 * edge bridge + side cut

    The bridge is the same between all neighbours, so the pitch is diameter plus row bridge.

    Arguments:
        diameter: diameter of the discs
        edge_bridge: bridge between the discs and each edge of the strip
        row_bridge: bridge between neighbours, in the row and across
        rows: rows across the strip
        side_cut: what pitch punches cut off the edges, both edges together; write 0 where there are none

    >>> staggered_strip_width(diameter=50, edge_bridge=1.5, row_bridge=1.5, rows=2, side_cut=0)
    97.60
    """
    positive(diameter=diameter)
    not_negative(edge_bridge=edge_bridge, row_bridge=row_bridge)
    whole(rows=rows)
    not_negative(side_cut=side_cut)
    return diameter + (rows - 1) * (sqrt(3.0) / 2.0) * (diameter + row_bridge) + 2.0 * edge_bridge + side_cut


@function(chapter="Strip", source="derived")
def strip_utilisation(part_area: Area, pitch: Length, width: Length, parts_per_pitch: Count = 1) -> Ratio:
    """Share of the strip that becomes parts.

    n * A / (p * w)

    Arguments:
        part_area: area of one blank, its holes taken off if they count as scrap
        pitch: advance of the strip at each stroke
        width: width of the strip
        parts_per_pitch: parts that one pitch yields

    >>> strip_utilisation(part_area=1963.495, pitch=51.5, width=53)
    0.7194
    """
    positive(part_area=part_area, pitch=pitch, width=width, parts_per_pitch=parts_per_pitch)
    result = parts_per_pitch * part_area / (pitch * width)
    require(
        result <= 1.0 + 1e-9,
        "{parts_per_pitch} parts of {part_area} are more than a pitch of {pitch} on {width} holds",
        parts_per_pitch=parts_per_pitch,
        part_area=part_area,
        pitch=pitch,
        width=width,
    )
    return result


@function(chapter="Strip", source="derived")
def strips_across(sheet_width: Length, width: Length, edge_trim: Length) -> Count:
    """Whole strips that a sheet or a wide coil yields side by side, rounded down.

    n = floor((W - 2 * trim) / w)

    Arguments:
        sheet_width: width of the sheet or coil before it is cut into strips
        width: width of one strip
        edge_trim: what is cut off each edge of the sheet; write 0 for nothing

    >>> strips_across(sheet_width=1250, width=97.6, edge_trim=5)
    12
    """
    positive(sheet_width=sheet_width, width=width)
    not_negative(edge_trim=edge_trim)
    usable = settle(sheet_width - 2.0 * edge_trim - width, sheet_width) + width
    require(
        usable >= width,
        "sheet of {sheet_width} is too narrow for one strip of {width} with {edge_trim} off each edge",
        sheet_width=sheet_width,
        width=width,
        edge_trim=edge_trim,
    )
    return round_down(usable / width)


@function(chapter="Strip", source="derived")
def parts_per_strip(
    strip_length: Length,
    pitch: Length,
    part_length: Length,
    end_bridge: Length,
    parts_per_pitch: Count = 1,
) -> Count:
    """Whole parts that a strip cut from sheet yields: the last part needs its length, not a whole pitch.

    n = (floor((L - 2 * end bridge - l) / p) + 1) * parts per pitch

    Arguments:
        strip_length: length of the strip
        pitch: advance of the strip at each stroke
        part_length: size of the part along the strip
        end_bridge: bridge at each end of the strip; write 0 for none
        parts_per_pitch: parts that one pitch yields

    >>> parts_per_strip(strip_length=2000, pitch=51.5, part_length=50, end_bridge=1.5)
    38
    """
    positive(strip_length=strip_length, pitch=pitch, part_length=part_length)
    not_negative(end_bridge=end_bridge)
    whole(parts_per_pitch=parts_per_pitch)
    usable = settle(strip_length - 2.0 * end_bridge - part_length, strip_length)
    require(
        usable >= 0.0,
        "strip of {strip_length} is too short for one part of {part_length} with {end_bridge} at each end",
        strip_length=strip_length,
        part_length=part_length,
        end_bridge=end_bridge,
    )
    return (round_down(usable / pitch) + 1) * parts_per_pitch


@function(chapter="Strip", source="derived")
def round_blank_area(diameter: Length, hole: Length = 0.0, holes: Count = 1) -> Area:
    """Area of a disc, with round holes taken off.

    A = pi / 4 * (d^2 - holes * h^2)

    Arguments:
        diameter: diameter of the blank
        hole: diameter of the holes in it
        holes: how many of them

    >>> round_blank_area(diameter=50)
    1963.495
    """
    positive(diameter=diameter)
    not_negative(hole=hole)
    whole(least=0, holes=holes)
    require(
        holes * hole**2 < diameter**2,
        "{holes} holes of {hole} leave nothing of a disc of {diameter}",
        holes=holes,
        hole=hole,
        diameter=diameter,
    )
    return PI / 4.0 * (diameter**2 - holes * hole**2)


@function(chapter="Strip", source="derived", place="sum of the cross products of neighbouring corners")
def outline_area(horizontal: Lengths, vertical: Lengths) -> Area:
    """Area inside a closed outline of straight sides, from its corners taken in order round the outline.

    A = |sum of (x1 * y2 - x2 * y1)| / 2

    Replace an arc by enough corners. The sides must not cross each other: this is not checked.

    Arguments:
        horizontal: horizontal place of each corner, from any origin
        vertical: vertical place of each corner

    >>> outline_area(horizontal=[0, 40, 40, 0], vertical=[0, 0, 25, 25])
    1000.0
    """
    corners = _corners(horizontal, vertical)
    area = absolute(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in corners)) / 2.0
    require(area > 0.0, "the corners of the outline lie on one line")
    return area


@function(chapter="Strip", source="derived")
def outline_length(horizontal: Lengths, vertical: Lengths) -> Length:
    """Length of a closed outline of straight sides, from its corners in order: the cut length of the blank.

    L = sum of sqrt((x2 - x1)^2 + (y2 - y1)^2)

    Arguments:
        horizontal: horizontal place of each corner, from any origin
        vertical: vertical place of each corner

    >>> outline_length(horizontal=[0, 40, 40, 0], vertical=[0, 0, 25, 25])
    130.0
    """
    corners = _corners(horizontal, vertical)
    return sum(sqrt((x2 - x1) ** 2 + (y2 - y1) ** 2) for (x1, y1), (x2, y2) in corners)


@function(chapter="Strip", source="derived")
def blank_mass(area: Area, thickness: Length, density: Density) -> Mass:
    """Net mass of one blank. It is not what is bought: see gross_mass.

    m = A * t * rho

    Arguments:
        area: area of the blank, holes taken off
        thickness: sheet thickness
        density: density of the sheet

    >>> blank_mass(area=1000, thickness=2, density=7.85e-9)
    1.57e-05
    """
    positive(area=area, thickness=thickness, density=density)
    return area * thickness * density


@function(chapter="Strip", source="derived")
def gross_mass(
    pitch: Length, width: Length, thickness: Length, density: Density, parts_per_pitch: Count = 1
) -> Mass:
    """Mass of strip used for one part, scrap included: what is bought and paid.

    m = p * w * t * rho / n

    Arguments:
        pitch: advance of the strip at each stroke
        width: width of the strip
        thickness: sheet thickness
        density: density of the sheet
        parts_per_pitch: parts that one pitch yields

    >>> gross_mass(pitch=51.5, width=53, thickness=2, density=7.85e-9)
    4.285e-05
    """
    positive(pitch=pitch, width=width, thickness=thickness, density=density, parts_per_pitch=parts_per_pitch)
    return pitch * width * thickness * density / parts_per_pitch


@function(chapter="Strip", source="derived")
def mass_to_order(quantity: Count, gross_mass: Mass, scrap_share: Ratio, end_share: Ratio) -> Mass:
    """Mass of strip to order for a number of good parts.

    M = quantity * m / ((1 - scrap) * (1 - ends))

    Arguments:
        quantity: good parts wanted
        gross_mass: mass of strip for one part, see gross_mass
        scrap_share: share of the parts that are not good; write 0 for none
        end_share: share of the strip lost at the ends of coils and in setting up; write 0 for none

    >>> mass_to_order(quantity=10000, gross_mass=4.2855e-05, scrap_share=0.02, end_share=0.01)
    0.4417
    """
    not_negative(quantity=quantity)
    positive(gross_mass=gross_mass)
    loss(scrap_share=scrap_share, end_share=end_share)
    return quantity * gross_mass / ((1.0 - scrap_share) * (1.0 - end_share))


def _check_row_bridge(rows: Count, row_bridge: Length) -> None:
    require(
        (rows == 1) | (row_bridge > 0.0),
        "{rows} rows with a row bridge of {row_bridge}: give the bridge between two rows",
        rows=rows,
        row_bridge=row_bridge,
    )


def _corners(horizontal: Lengths, vertical: Lengths) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return each corner of an outline with the next one, the last with the first."""
    finite(horizontal=horizontal, vertical=vertical)
    require(
        len(horizontal) == len(vertical) >= 3,
        "{horizontal} horizontal and {vertical} vertical places are given, as many of both are wanted, 3 or more",
        horizontal=(len(horizontal), None),
        vertical=(len(vertical), None),
    )
    corners = list(zip(horizontal, vertical))
    return list(zip(corners, [*corners[1:], corners[0]]))
