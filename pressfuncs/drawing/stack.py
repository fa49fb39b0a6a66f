"""The second drawing: the closed die in its press, to scale, with the margins written in."""

from __future__ import annotations

from pressfuncs.drawing.die import Die
from pressfuncs.drawing.figures import rounded_down
from pressfuncs.drawing.solids import draw_edges, from_the_front, heights, raised, solids
from pressfuncs.drawing.suitability import Suitability
from pressfuncs.drawing.view import View
from pressfuncs.errors import PressError
from pressfuncs.functions.closed_height import (
    adjustment_needed,
    closed_height_fit,
    closed_height_margin,
    opening_at_top,
)
from pressfuncs.quantities import LENGTH, Wording

NEEDED = ("die_height", "die_length", "press_shut_height", "press_adjustment", "press_bolster")
_THICK = 0.16  # of the shut height: how much of bed and slide is shown


def in_the_press(die: Die, system: str, of: Suitability) -> View:
    """Return the closed die between bed and slide from the front, the slide also at the top of its stroke."""
    view = View("DIE IN THE PRESS", "Closed height in the press, from the front", system)
    view.lacking = die.lacking(*NEEDED)
    if view.lacking:
        return view
    shut, adjustment, bolster = (die.zero(name) for name in NEEDED[2:])
    spacer, die_height = die.zero("spacer"), die.zero("die_height")
    try:
        fit = closed_height_fit(die_height, shut, adjustment, bolster, spacer)
    except PressError as error:
        view.lacking = [error.sentence(system)]
        return view
    closes = not isinstance(fit, Wording)
    view.remarks = [of.verdict.shown(system)]
    if isinstance(fit, Wording):  # the verdict may reckon with spacers that are not drawn
        view.remarks.append(f"closed height, as drawn: {fit.shown(system)}")
    view.table = of.lines(system)
    foot = bolster + spacer
    margin = closed_height_margin(die_height, shut, bolster, spacer)
    lowered = min(max(margin, 0.0), adjustment)
    face = shut - lowered
    stroke = die.figure("stroke")
    half_bed, half_slide = _halves(die, view)
    _press(view, shut, bolster, foot, face, stroke, half_bed, half_slide)
    at = "closed" if closes else "stroke down, adjustment " + ("up" if margin < 0 else "down")
    view.label(f"slide, {at}", (half_slide * 0.9, face + _THICK * shut / 3))
    _die(view, die, foot)
    _bore(view, die, face)
    top = face + (stroke or 0.0) + _THICK * shut
    side = max(half_bed, half_slide)
    view.box = (-side, -_THICK * shut, side, top)
    half = die.zero("die_length") / 2
    view.measure("left", (-half, foot), (-half, foot + die_height), "die_height")
    if bolster:
        view.measure("left", (-half_bed, 0.0), (-half_bed, bolster), "press_bolster", away="first", level=1)
    if spacer:
        view.measure("left", (-half, bolster), (-half, foot), "spacer", away="first")
    view.measure("left", (-half_bed, 0.0), (-half_slide, shut), "press_shut_height")
    if adjustment:
        view.measure("left", (-half_slide, shut - adjustment), (-half_slide, shut), "press_adjustment")
    if stroke is not None:
        view.measure("left", (-half_slide, face), (-half_slide, face + stroke), "stroke")
    if closes and stroke is not None:
        lowered = adjustment_needed(die_height, shut, adjustment, bolster, spacer)
        opening = opening_at_top(shut, stroke, bolster, spacer, lowered)
        view.label(f"let the slide down by {rounded_down(lowered, LENGTH, system)}")
        view.label(f"opening at the top {rounded_down(opening, LENGTH, system)}")
    view.line(((0.0, view.box[1]), (0.0, view.box[3])), "centre lines", "centre")
    return view


def _halves(die: Die, view: View) -> tuple[float, float]:
    """Return half the length of bed and slide; where it is not given, they are drawn a bit longer than the die."""
    halves = []
    for name, layer in (("bed_length", "bed"), ("slide_length", "slide")):
        size = die.figure(name)
        if size is None:
            view.label(f"{layer} length: not given")
        halves.append((size or 1.2 * max(die.zero("die_length"), die.zero("upper_die_length"))) / 2)
    return halves[0], halves[1]


def _press(
    view: View,
    shut: float,
    bolster: float,
    foot: float,
    face: float,
    stroke: float | None,
    half_bed: float,
    half_slide: float,
) -> None:
    thick = _THICK * shut
    view.line(((-half_bed, -thick), (-half_bed, 0.0), (half_bed, 0.0), (half_bed, -thick)), "press")
    view.label("bed", (half_bed * 0.9, -thick / 2))
    if bolster:
        view.rectangle(-half_bed * 0.96, 0.0, half_bed * 0.96, bolster, "press")
        view.label("bolster", (half_bed * 0.9, bolster / 2))
    if foot > bolster:
        for side in (-1, 1):
            inner, outer = sorted((side * half_slide * 0.35, side * half_slide * 0.6))
            view.rectangle(inner, bolster, outer, foot, "press")
    top = face + thick
    view.line(((-half_slide, top), (-half_slide, face), (half_slide, face), (half_slide, top)), "press")
    if stroke is not None:
        high = face + stroke
        corners = (
            (-half_slide, high + thick),
            (-half_slide, high),
            (half_slide, high),
            (half_slide, high + thick),
        )
        view.line(corners, "press", "phantom")
        view.label("slide, top of the stroke", (half_slide * 0.9, high))


def _die(view: View, die: Die, foot: float) -> None:
    """Draw the closed die: its parts if their heights are given, else the room it takes."""
    at = heights(die)
    half, tall = die.zero("die_length") / 2, die.zero("die_height")
    if at is None or "upper_die_length" not in die.numbers:
        view.rectangle(-half, foot, half, foot + tall, "die holder")
        return
    boxes = [raised(from_the_front(solid), foot) for solid in solids(die, at)]
    draw_edges(view, [box for box in boxes if box.layer != "shank"])
    for box in boxes:
        if box.layer == "shank":  # in its bore
            view.rectangle(box.u1, box.z1, box.u2, box.z2, "shank", "hidden")
    view.label("die, closed", (half, foot + 0.1 * tall))


def _bore(view: View, die: Die, face: float) -> None:
    bore, tall = die.given("shank_bore"), die.given("shank_length")
    if bore is not None:
        depth = (tall or bore) * 1.1
        x = die.zero("shank_x")
        view.rectangle(x - bore / 2, face, x + bore / 2, face + depth, "press", "hidden")
