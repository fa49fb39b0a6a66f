"""The die as boxes in space, and what of their edges is seen from one side.

An edge is visible where no box lies in front of it. Hidden edges of pillars, bushes and punch are dashed, those of
plates are left out, as drawings of dies do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pressfuncs.drawing.die import Die
from pressfuncs.drawing.outline import without
from pressfuncs.drawing.view import Kind, View

DASHED = ("pillars", "bushes", "punch")
"""Layers whose hidden edges are drawn."""


@dataclass(frozen=True)
class Solid:
    """A part of the closed die: x to the right, y to the back, z up from the lower face of the die holder."""

    layer: str
    x1: float
    x2: float
    y1: float
    y2: float
    z1: float
    z2: float
    upper: bool = False
    """it goes up with the slide"""


@dataclass(frozen=True)
class Box:
    """A part as it is seen from one side: `u` across, `z` up, `near` how far its nearest face is."""

    layer: str
    u1: float
    u2: float
    z1: float
    z2: float
    near: float
    ends: tuple[bool, bool] = (True, True)
    """whether it has an edge at the left and at the right, or goes on there"""


@dataclass(frozen=True)
class Heights:
    """Heights above the lower face of the die holder, die closed; None where figures lack."""

    holder: float
    """top of the die holder"""
    ceiling: float
    """lower face of the punch holder"""
    closed: float
    die_face: float | None
    punch_face: float | None


def heights(die: Die) -> Heights | None:
    """Return the heights; None if closed height or a holder's thickness is not given."""
    lower, upper = die.given("die_holder_thickness"), die.given("punch_holder_thickness")
    closed = die.given("die_height")
    if lower is None or upper is None or closed is None:
        return None
    plate, punch = die.given("die_plate_thickness"), die.punch_height
    return Heights(
        lower,
        closed - upper,
        closed,
        None if plate is None else lower + plate,
        None if punch is None else closed - upper - punch,
    )


def solids(die: Die, at: Heights) -> list[Solid]:
    """Return the parts whose figures are given; what lacks is listed as not given."""
    found = []
    for layer, names, z1, z2, upper in (
        ("die holder", ("die_length", "die_width"), 0.0, at.holder, False),
        ("punch holder", ("upper_die_length", "upper_die_width"), at.ceiling, at.closed, True),
    ):
        length, width = die.zero(names[0]), die.zero(names[1])
        found.append(Solid(layer, -length / 2, length / 2, -width / 2, width / 2, z1, z2, upper))
    plate = die.outline("die_plate")
    if die.figure("die_plate_thickness") is not None and plate is not None and at.die_face is not None:
        found.append(_standing("die plate", plate.box, at.holder, at.die_face))
    found += _upper_parts(die, at) + _stripper(die, at) + _pillars(die, at)
    shank, tall = die.shank, die.given("shank_length")
    if shank is not None and tall is not None:
        x, y, r = die.zero("shank_x"), die.zero("shank_y"), shank / 2
        found.append(Solid("shank", x - r, x + r, y - r, y + r, at.closed, at.closed + tall, upper=True))
    return found


def _standing(
    layer: str, box: tuple[float, float, float, float], z1: float, z2: float, upper: bool = False
) -> Solid:
    left, front, right, back = box
    return Solid(layer, left, right, front, back, z1, z2, upper)


def _upper_parts(die: Die, at: Heights) -> list[Solid]:
    found = []
    punch = die.outline("punch")
    if punch is not None and at.punch_face is None:
        die.figure("punch_height")
    elif punch is not None and at.punch_face is not None:
        found.append(_standing("punch", punch.box, at.punch_face, at.ceiling, upper=True))
    thick = die.given("punch_plate_thickness")
    plate = die.outline("punch_plate") if thick is not None else None
    if plate is not None and thick is not None:
        found.append(_standing("punch plate", plate.box, at.ceiling - thick, at.ceiling, upper=True))
    return found


def _stripper(die: Die, at: Heights) -> list[Solid]:
    """Return the stripper: a spring one presses on the strip when closed, a fixed one stands over the channel."""
    kind = die.stripper
    if not kind:
        die.miss("stripper")
    if kind not in ("spring", "fixed"):
        return []
    thick, outline = die.figure("stripper_thickness"), die.outline("stripper")
    below = die.figure("thickness" if kind == "spring" else "strip_channel")
    if thick is None or outline is None or below is None or at.die_face is None:
        return []
    z1 = at.die_face + below
    return [_standing("stripper", outline.box, z1, z1 + thick, upper=kind == "spring")]


def _pillars(die: Die, at: Heights) -> list[Solid]:
    """Return pillars and bushes; without its length a pillar is drawn up to the punch holder only."""
    found = []
    length, bush, down = die.given("pillar_length"), die.given("bush_diameter"), die.given("bush_height")
    for pillar in die.pillars:
        if pillar.diameter is None:
            continue
        r = pillar.diameter / 2
        top = at.ceiling if length is None else length
        found.append(Solid("pillars", pillar.x - r, pillar.x + r, pillar.y - r, pillar.y + r, 0.0, top))
        if bush is not None and down is not None:
            r = bush / 2
            low = at.ceiling - down
            found.append(
                Solid("bushes", pillar.x - r, pillar.x + r, pillar.y - r, pillar.y + r, low, at.closed, upper=True)
            )
    return found


def from_the_front(solid: Solid) -> Box:
    """Return a part as it is seen from the front."""
    return Box(solid.layer, solid.x1, solid.x2, solid.z1, solid.z2, solid.y1)


def from_the_left(solid: Solid) -> Box:
    """Return a part as it is seen from the left: its back is at the left."""
    return Box(solid.layer, -solid.y2, -solid.y1, solid.z1, solid.z2, solid.x1)


def from_the_right(solid: Solid) -> Box:
    """Return a part as it is seen from the right: its front is at the left."""
    return Box(solid.layer, solid.y1, solid.y2, solid.z1, solid.z2, -solid.x2)


def clipped(box: Box, left: float, right: float) -> Box | None:
    """Return what of a box lies between two places across, without an edge where it is clipped."""
    if box.u2 <= left or box.u1 >= right:
        return None
    ends = (box.ends[0] and box.u1 >= left, box.ends[1] and box.u2 <= right)
    return replace(box, u1=max(box.u1, left), u2=min(box.u2, right), ends=ends)


def raised(box: Box, by: float) -> Box:
    """Return a box higher up."""
    return replace(box, z1=box.z1 + by, z2=box.z2 + by)


def draw_edges(view: View, boxes: Sequence[Box]) -> None:
    """Draw the visible edges of all boxes, and the hidden ones that are wanted, each line once."""
    drawn: set[tuple[str, bool, float, float, float]] = set()
    for box in boxes:
        hiding = [other for other in boxes if other is not box and other.near < box.near - 1e-9]
        edges = [(False, box.z1, box.u1, box.u2), (False, box.z2, box.u1, box.u2)]
        edges += [(True, u, box.z1, box.z2) for u, there in zip((box.u1, box.u2), box.ends) if there]
        for upright, at, low, high in edges:
            covers = sorted(_covers(hiding, upright, at))
            _draw(view, box.layer, "edge", upright, at, without([(low, high)], covers), drawn)
            if box.layer in DASHED:
                hidden = without([(low, high)], without([(low, high)], covers))
                _draw(view, box.layer, "hidden", upright, at, hidden, drawn)


def _covers(hiding: Sequence[Box], upright: bool, at: float) -> list[tuple[float, float]]:
    """Return which spans along an edge lie behind other boxes."""
    if upright:
        return [(box.z1, box.z2) for box in hiding if box.u1 + 1e-9 < at < box.u2 - 1e-9]
    return [(box.u1, box.u2) for box in hiding if box.z1 + 1e-9 < at < box.z2 - 1e-9]


def _draw(
    view: View,
    layer: str,
    kind: Kind,
    upright: bool,
    at: float,
    spans: Sequence[tuple[float, float]],
    drawn: set[tuple[str, bool, float, float, float]],
) -> None:
    for low, high in spans:
        key = (kind, upright, round(at, 6), round(low, 6), round(high, 6))
        if high - low > 1e-6 and key not in drawn:
            drawn.add(key)
            view.line(((at, low), (at, high)) if upright else ((low, at), (high, at)), layer, kind)
