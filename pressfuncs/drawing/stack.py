"""The second drawing: the closed die in its press, to scale, with the margins written in."""

from __future__ import annotations

from pressfuncs.drawing.die import Die
from pressfuncs.drawing.figures import rounded_down
from pressfuncs.drawing.solids import draw_edges, from_the_front, heights, raised, solids
from pressfuncs.drawing.view import View
from pressfuncs.errors import PressError
from pressfuncs.functions.closed_height import (
    adjustment_margin,
    adjustment_needed,
    closed_height_fit,
    closed_height_margin,
    opening_at_top,
)
from pressfuncs.functions.die_space import bed_margin, shank_margin, slide_face_margin
from pressfuncs.quantities import Wording

NEEDED = ("die_height", "die_length", "press_shut_height", "press_adjustment", "press_bolster")
_THICK = 0.16  # of the shut height: how much of bed and slide is shown


def in_the_press(die: Die, system: str) -> View:
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
    view.subtitle = f"the die is {fit.shown(system)}" if isinstance(fit, Wording) else f"the die {fit}"
    foot = bolster + spacer
    margin = closed_height_margin(die_height, shut, bolster, spacer)
    left_over = adjustment_margin(die_height, shut, adjustment, bolster, spacer)
    lowered = min(max(margin, 0.0), adjustment)
    face = shut - lowered
    stroke = die.figure("stroke")
    half_bed, half_slide = _halves(die, view)
    _press(view, shut, bolster, foot, face, stroke, half_bed, half_slide)
    at = "closed" if fit == "fits" else "stroke down, adjustment " + ("up" if margin < 0 else "down")
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
    _margins(view, die, margin, left_over)
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


def _margins(view: View, die: Die, margin: float, left_over: float) -> None:
    """Write the margins: what is below 0 does not fit."""
    system = view.system

    def say(word: str, value: float) -> None:
        view.label(f"{word} {rounded_down(value, system)}" + (": does not fit" if value < 0 else ""))

    say("closed-height margin", margin)
    say("adjustment left", left_over)
    shut, adjustment, bolster = (die.zero(name) for name in NEEDED[2:])
    spacer, stroke = die.zero("spacer"), die.given("stroke")
    if stroke is not None and margin >= 0 and left_over >= 0:
        lowered = adjustment_needed(die.zero("die_height"), shut, adjustment, bolster, spacer)
        say("let the slide down by", lowered)
        say("opening at the top", opening_at_top(shut, stroke, bolster, spacer, lowered))
    sizes = [die.given(name) for name in ("bed_length", "bed_width", "die_length", "die_width")]
    if all(size is not None for size in sizes):
        say("bed margin, no clamps", bed_margin(*(size for size in (*sizes, 0.0, 0.0) if size is not None)))
    sizes = [die.given(name) for name in ("slide_length", "slide_width", "upper_die_length", "upper_die_width")]
    if all(size is not None for size in sizes):
        say(
            "slide margin, no clamps",
            slide_face_margin(*(size for size in (*sizes, 0.0, 0.0) if size is not None)),
        )
    bore, shank = die.given("shank_bore"), die.given("shank_diameter")
    if bore is not None and shank is not None:
        say("play of the shank", shank_margin(bore, shank))
