"""Front view, side view and section: heights of the die, closed, and open at the top of the stroke."""

from __future__ import annotations

from pressfuncs.drawing.die import Die
from pressfuncs.drawing.outline import Outline, without
from pressfuncs.drawing.plans import NOT_GIVEN
from pressfuncs.drawing.solids import (
    Box,
    Heights,
    Solid,
    clipped,
    draw_edges,
    from_the_front,
    from_the_left,
    from_the_right,
    heights,
    raised,
    solids,
)
from pressfuncs.drawing.view import Hatching, View

_HEIGHTS = ("die_holder_thickness", "punch_holder_thickness", "die_height")
_IN_FRONT = float("-inf")
_ANGLES = {"die holder": 45.0, "die plate": 135.0, "punch holder": 135.0, "punch plate": 45.0, "stripper": 45.0}
"""Hatching of cut parts; neighbours differ. Punch, shank and pillars are not hatched when cut lengthwise."""


def front_view(die: Die, system: str) -> View:
    """Return the closed die seen from the front."""
    view = View("FRONT VIEW", "Front view, closed", system)
    at = _wanted(die, view, "die_length", "upper_die_length")
    if at is None:
        return view
    boxes = [from_the_front(solid) for solid in solids(die, at)]
    _finish(view, boxes)
    a, b = die.zero("die_length") / 2, die.zero("upper_die_length") / 2
    view.measure("left", (-a, 0.0), (-a, at.holder), "die_holder_thickness", away="first", level=1)
    view.measure("left", (-b, at.ceiling), (-b, at.closed), "punch_holder_thickness", level=1)
    view.measure("left", (-a, 0.0), (-b, at.closed), "die_height", level=2)
    shank = die.shank
    tall = die.figure("shank_length") if shank is not None else None
    if shank is not None and tall is not None:
        x, top = die.zero("shank_x"), at.closed + tall
        view.measure("top", (x - shank / 2, top), (x + shank / 2, top), "shank_diameter", "Ø")
        view.measure("right", (b, at.closed), (x + shank / 2, top), "shank_length", away="first")
    elif shank is not None:
        view.label(f"shank length: {NOT_GIVEN}")
    _axis(view, die.zero("shank_x"))
    return view


def side_view(die: Die, system: str, projection: str) -> View:
    """Return the closed die seen from the left (first angle) or from the right (third angle)."""
    seen, projected = ("left", from_the_left) if projection == "first" else ("right", from_the_right)
    view = View("SIDE VIEW", f"Side view from the {seen}, closed", system)
    at = _wanted(die, view, "die_width", "upper_die_width")
    if at is None:
        return view
    boxes = [projected(solid) for solid in solids(die, at)]
    _finish(view, boxes)
    _axis(view, die.zero("shank_y") * (-1 if seen == "left" else 1))
    if not die.pillars:
        return view
    for name, word, layer in (
        ("pillar_length", "pillars {} long", "pillars"),
        ("bush_height", "bushes {} down", "bushes"),
    ):
        size, box = die.figure(name), max((b for b in boxes if b.layer == layer), key=lambda b: b.u2, default=None)
        if size is None:
            view.label(f"{name.replace('_', ' ')}: {NOT_GIVEN}")
        elif box is None:
            view.label(word.format(view.show(size)))
        else:
            z = (at.holder + at.ceiling) / 2 if layer == "pillars" else at.ceiling - size / 2
            view.label(word.format(view.show(size)), (box.u2, min(z, box.z2)))
    return view


def section(die: Die, system: str) -> View:
    """Return the section through the punch: left half at the top of the stroke, right half closed."""
    view = View("SECTION", "Section through the punch", system)
    at = _wanted(die, view, "die_length", "upper_die_length", "stroke")
    if at is None:
        return view
    stroke = die.zero("stroke")
    view.subtitle = "left half: top of the stroke, right half: closed"
    plane = die.zero("punch_y")
    boxes: list[Box] = []
    for solid in solids(die, at):
        for box in _cut(die, solid, plane):
            boxes += _halves(box, solid, stroke - _hanging(at, solid))
    _finish(view, boxes)
    for box in boxes:
        if box.near == _IN_FRONT and box.layer in _ANGLES:
            corners = ((box.u1, box.z1), (box.u2, box.z1), (box.u2, box.z2), (box.u1, box.z2))
            view.shapes.append(Hatching(corners, _ANGLES[box.layer]))
    a, b = die.zero("die_length") / 2, die.zero("upper_die_length") / 2
    view.measure("left", (-a, 0.0), (-b, at.closed + stroke), "open height")
    view.measure("left", (-b, at.closed), (-b, at.closed + stroke), "stroke")
    _label_parts(view, die, at, boxes)
    _axis(view, 0.0)
    return view


def _wanted(die: Die, view: View, *names: str) -> Heights | None:
    """Return the heights, or note in the view what it cannot be drawn without."""
    view.lacking = die.lacking(*names, *_HEIGHTS)
    return None if view.lacking else heights(die)


def _finish(view: View, boxes: list[Box]) -> None:
    draw_edges(view, boxes)
    view.box = (
        min(box.u1 for box in boxes),
        min(box.z1 for box in boxes),
        max(box.u2 for box in boxes),
        max(box.z2 for box in boxes),
    )


def _axis(view: View, u: float) -> None:
    reach = 0.03 * (view.box[3] - view.box[1])
    view.line(((u, view.box[1] - reach), (u, view.box[3] + reach)), "centre lines", "centre")


def _cut(die: Die, solid: Solid, plane: float) -> list[Box]:
    """Return a part as the cut shows it: cut through, behind the cut, or not at all (before it)."""
    box = from_the_front(solid)
    if solid.y2 <= plane:
        return []
    if solid.y1 >= plane or solid.layer in ("pillars", "bushes", "shank"):
        return [box]
    spans = [(box.u1, box.u2)]
    if solid.layer == "die plate":
        spans = without(_across(die, "die_plate", plane), _across(die, "opening", plane))
    elif solid.layer == "punch":
        spans = _across(die, "punch", plane)
    elif solid.layer in ("stripper", "punch plate"):
        spans = without(spans, _across(die, "punch", plane))
    return [Box(box.layer, u1, u2, box.z1, box.z2, _IN_FRONT) for u1, u2 in spans]


def _across(die: Die, part: str, plane: float) -> list[tuple[float, float]]:
    outline: Outline | None = die.outline(part)
    return [] if outline is None else outline.across(plane)


def _hanging(at: Heights, solid: Solid) -> float:
    """Return how far a spring stripper comes down on the open upper half: level with the punch face."""
    if solid.layer != "stripper" or not solid.upper or at.punch_face is None:
        return 0.0
    return solid.z1 - at.punch_face


def _halves(box: Box, solid: Solid, stroke: float) -> list[Box]:
    """Return a part of the upper half twice, raised at the left and closed at the right; others as they are."""
    if not solid.upper:
        return [box]
    left, right = clipped(box, _IN_FRONT, 0.0), clipped(box, 0.0, float("inf"))
    return ([raised(left, stroke)] if left else []) + ([right] if right else [])


def _label_parts(view: View, die: Die, at: Heights, boxes: list[Box]) -> None:
    """Name the parts of the closed half with their heights, from their right ends."""
    sizes = {
        "punch holder": die.given("punch_holder_thickness"),
        "punch plate": die.given("punch_plate_thickness"),
        "punch": die.punch_height,
        "stripper": die.given("stripper_thickness"),
        "die plate": die.given("die_plate_thickness"),
        "die holder": die.given("die_holder_thickness"),
    }
    for layer, size in sizes.items():
        closed = [box for box in boxes if box.layer == layer and box.u2 > 0 and box.z2 <= at.closed]
        if size is not None and closed:
            box = max(closed, key=lambda box: box.u2)
            words = {
                "punch": f"punch {view.show(size)} high",
                "stripper": f"{die.stripper} stripper {view.show(size)}",
            }
            u = box.u2 if layer != "punch" else max(box.u1, 0.0) + 0.7 * (box.u2 - max(box.u1, 0.0))
            z = (box.z1 + box.z2) / 2 if layer != "punch" else box.z1 + 0.1 * (box.z2 - box.z1)
            view.label(words.get(layer, f"{layer} {view.show(size)}"), (u, z))
        elif layer == "stripper" and die.stripper == "none":
            view.label("no stripper")
        elif layer != "punch plate" or size is not None:
            view.label(f"{layer}: {NOT_GIVEN}")
    entry = die.punch_entry
    if entry is not None and at.die_face is not None:
        view.label(f"punch enters {view.show(entry)}" if entry >= 0 else f"punch stops {view.show(-entry)} above")
    elif entry is None:
        die.miss("punch entry")
        view.label(f"punch entry: {NOT_GIVEN}")
