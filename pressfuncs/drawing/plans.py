"""The two plans: the die plan seen into the opening, and the upper half turned over beside it.

The upper half is drawn as it lies when the die is opened like a book, about a hinge at its side: what was at the
right is at the left. So each pillar and its bush lie at the same distance from the hinge.
"""

from __future__ import annotations

from collections.abc import Sequence

from pressfuncs.drawing.die import Die, Pillar
from pressfuncs.drawing.outline import Outline
from pressfuncs.drawing.view import Arrow, Circle, Component, Line, Shape, View

NOT_GIVEN = "not given"
_BEYOND = 1.3  # centre lines run that much out of a circle
_STRIP_BEYOND = 0.06  # the strip runs that share of the die's length out of the plan


def die_plan(die: Die, system: str) -> View:
    """Return the lower half from above, upper half taken off."""
    view = View("DIE PLAN", "Die plan, upper half off", system)
    length, width = die.figure("die_length"), die.figure("die_width")
    if length is None or width is None:
        view.lacking = die.lacking("die_length", "die_width")
        return view
    a, b = length / 2, width / 2
    view.box = (-a, -b, a, b)
    _die_holder(view, die, a, b)
    _middle_lines(view, a, b)
    plate = die.outline("die_plate")
    if plate is not None:
        view.outline(plate, "die plate")
        left, front, right, back = plate.box
        view.measure("bottom", (left, front), (right, front), "die_plate_length")
        view.measure("left", (left, front), (left, back), "die_plate_width")
    else:
        view.label(f"die plate: {NOT_GIVEN}")
    _pillars_from_above(view, die)
    _opening(view, die)
    if die.stripper == "fixed" and (stripper := die.outline("stripper")) is not None:
        view.outline(stripper, "stripper", "hidden")
        view.label("stripper, fixed (dashed)", (stripper.box[2], stripper.box[3]))
    _strip(view, die)
    _load_centre(view, die)
    view.measure("bottom", (-a, -b), (a, -b), "die_length")
    view.measure("left", (-a, -b), (-a, b), "die_width")
    return view


def upper_plan(die: Die, system: str) -> View:
    """Return the upper half seen from below, turned over about a hinge at its side."""
    view = View("UPPER HALF TURNED OVER", "Upper half, turned over", system)
    view.subtitle = "seen from below, hinged at the side"
    length, width = die.figure("upper_die_length"), die.figure("upper_die_width")
    if length is None or width is None:
        view.lacking = die.lacking("upper_die_length", "upper_die_width")
        return view
    a, b = length / 2, width / 2
    view.box = (-a, -b, a, b)
    view.rectangle(-a, -b, a, b, "punch holder")
    _middle_lines(view, a, b)
    pillars = [Pillar(p.number, -p.x, p.y, p.diameter) for p in die.pillars]
    _bushes(view, die, pillars)
    plates = [("punch_plate", "punch plate")] + [("stripper", "stripper")] * (die.stripper == "spring")
    for part, layer in plates:
        if part == "stripper" or f"{part}_thickness" in die.numbers:
            plate = die.outline(part)
            if plate is not None:
                view.outline(plate.turned_over(), layer)
                share = 0.85 if part == "punch_plate" else 0.15
                front, back = plate.box[1], plate.box[3]
                view.label(f"{layer} {_size(plate, view)}", (-plate.box[0], front + share * (back - front)))
            else:
                view.label(f"{layer}: {NOT_GIVEN}")
    _punch(view, die)
    _shank_behind(view, die)
    _pillar_spacings(view, pillars)
    view.measure("bottom", (-a, -b), (a, -b), "upper_die_length")
    view.measure("left", (-a, -b), (-a, b), "upper_die_width")
    return view


def _die_holder(view: View, die: Die, a: float, b: float) -> None:
    """Draw the die holder with its flange slots: open to the side, round at the inner end."""
    count, slot, depth = die.given("slots"), die.given("slot_width"), die.given("slot_depth")
    needed = ["slot_width", "slot_depth", *(["slot_spacing"] if count == 4 else [])]
    if count and die.lacking(*needed):
        view.label(f"flange slots: {NOT_GIVEN}")
        count = None
    if not count or slot is None or depth is None:
        view.rectangle(-a, -b, a, b, "die holder")
        return
    r = slot / 2
    spacing = die.zero("slot_spacing") if count == 4 else 0.0
    middles = [-spacing / 2, spacing / 2] if count == 4 else [0.0]
    edges = [-b, *(edge for y in middles for edge in (y - r, y + r)), b]
    view.line(((-a, -b), (a, -b)), "die holder")
    view.line(((-a, b), (a, b)), "die holder")
    for side in (-1, 1):
        for low, high in zip(edges[::2], edges[1::2]):
            view.line(((side * a, low), (side * a, high)), "die holder")
        for y in middles:
            inner = side * (a - depth + r)
            turn = (90.0, 270.0) if side > 0 else (270.0, 90.0)
            flanks = [Line(((0.0, z), (side * (depth - r), z)), "flange slots") for z in (-r, r)]
            end = Circle(0.0, 0.0, r, "flange slots", "edge", *turn)
            view.shapes.append(
                Component("FLANGE SLOT RIGHT" if side > 0 else "FLANGE SLOT LEFT", inner, y, (end, *flanks))
            )
            view.line(((inner - side * 1.6 * r, y), (side * a, y)), "centre lines", "centre")
    apart = f", {view.show(spacing)} apart" if count == 4 else ""
    view.label(f"slots {view.show(slot)} x {view.show(depth)}{apart}", (a - depth / 2, middles[0] - r))


def _middle_lines(view: View, a: float, b: float) -> None:
    view.line(((-a * 1.03, 0.0), (a * 1.03, 0.0)), "centre lines", "centre")
    view.line(((0.0, -b * 1.03), (0.0, b * 1.03)), "centre lines", "centre")


def _opening(view: View, die: Die) -> None:
    opening = die.outline("opening")
    if opening is None:
        view.label(f"opening: {NOT_GIVEN}")
        return
    view.outline(opening, "opening")
    _cross_of(view, opening)
    view.label(f"opening {_size(opening, view)}", (opening.box[2], opening.middle[1]))


def _punch(view: View, die: Die) -> None:
    punch = die.outline("punch")
    if punch is None:
        view.label(f"punch: {NOT_GIVEN}")
        return
    punch = punch.turned_over()
    view.outline(punch, "punch")
    _cross_of(view, punch)
    view.label(f"punch {_size(punch, view)}", (punch.box[2], punch.middle[1]))


def _cross_of(view: View, outline: Outline) -> None:
    """Draw centre lines of what is not in the middle, where the middle lines do not serve."""
    x, y = outline.middle
    if x or y:
        view.cross(x, y, 0.6 * max(outline.length, outline.width))


def _size(outline: Outline, view: View) -> str:
    if outline.radius is not None:
        return "Ø" + view.show(2 * outline.radius)
    return f"{view.show(outline.length)} x {view.show(outline.width)}"


def _pillars_from_above(view: View, die: Die) -> None:
    pillars = die.pillars
    if not pillars:
        die.miss("pillar positions")
        view.label(f"pillars: {NOT_GIVEN}")
        return
    for pillar in pillars:
        if pillar.diameter is None:
            die.miss("pillar diameter")
            continue
        circle = Circle(0.0, 0.0, pillar.diameter / 2, "pillars")
        view.shapes.append(Component(f"PILLAR {view.show(pillar.diameter)}", pillar.x, pillar.y, (circle,)))
        view.cross(pillar.x, pillar.y, pillar.diameter / 2 * _BEYOND)
    _label_round(view, pillars, "pillar", [p.diameter for p in pillars])
    _pillar_spacings(view, pillars)
    one_by_one = "pillar_spacing_length" not in die.numbers
    for pillar in pillars if one_by_one else pillars[:3][-1:] * bool(die.zero("pillar_offset")):
        word = f"pillar {pillar.number}" if one_by_one else "offset pillar"
        view.label(f"{word} at {view.show(pillar.x)} / {view.show(pillar.y)}", (pillar.x, pillar.y))


def _bushes(view: View, die: Die, pillars: Sequence[Pillar]) -> None:
    bush = die.figure("bush_diameter") if pillars else None
    if pillars and bush is None:
        view.label(f"bushes: {NOT_GIVEN}")
    for pillar in pillars:
        rings: list[Shape] = []
        if bush is not None:
            rings.append(Circle(0.0, 0.0, bush / 2, "bushes"))
        if pillar.diameter is not None:
            rings.append(Circle(0.0, 0.0, pillar.diameter / 2, "bushes"))
        if rings:
            bore = view.show(pillar.diameter) if pillar.diameter is not None else NOT_GIVEN
            view.shapes.append(Component(f"BUSH {bore}", pillar.x, pillar.y, tuple(rings)))
            view.cross(pillar.x, pillar.y, max(bush or 0.0, pillar.diameter or 0.0) / 2 * _BEYOND)
    if bush is not None:
        _label_round(view, pillars, "bush", [bush] * len(pillars))


def _label_round(view: View, pillars: Sequence[Pillar], word: str, diameters: Sequence[float | None]) -> None:
    """Label pillars or bushes by their diameters; one at the right carries the leader."""
    for diameter in sorted({d for d in diameters if d is not None}, reverse=True):
        of_size = [pillar for pillar, d in zip(pillars, diameters) if d == diameter]
        far = max(of_size, key=lambda pillar: (round(pillar.x * 0.5), -pillar.y))
        many = {"pillar": "pillars", "bush": "bushes"}[word]
        count = f"{len(of_size)} {many} " if len(of_size) > 1 else f"{word} "
        view.label(f"{count}Ø{view.show(diameter)}", (far.x + diameter / 2, far.y))
    if None in diameters:
        view.label(f"pillar diameter: {NOT_GIVEN}")


def _pillar_spacings(view: View, pillars: Sequence[Pillar]) -> None:
    """Measure the pairs of pillars: front and left ones, and back and right ones where they differ."""
    if len(pillars) < 2:
        return
    by_depth = sorted(pillars, key=lambda pillar: (pillar.y, pillar.x))
    by_side = sorted(pillars, key=lambda pillar: (pillar.x, pillar.y))
    half = len(pillars) // 2 if len(pillars) > 2 else 2
    front, back = by_depth[:half], by_depth[-half:]
    left, right = by_side[:half], by_side[-half:]
    _pair(view, "bottom", front, 0)
    if abs(_spread(front, 0) - _spread(back, 0)) > 1e-9:
        _pair(view, "top", back, 0)
    _pair(view, "left", left, 1)
    if abs(_spread(left, 1) - _spread(right, 1)) > 1e-9:
        _pair(view, "left", right, 1)


def _spread(pillars: Sequence[Pillar], axis: int) -> float:
    places = [(pillar.x, pillar.y)[axis] for pillar in pillars]
    return max(places) - min(places)


def _pair(view: View, side: str, pillars: Sequence[Pillar], axis: int) -> None:
    ends = sorted(((pillar.x, pillar.y) for pillar in pillars), key=lambda place: place[axis])
    if ends[-1][axis] - ends[0][axis] > 1e-9:
        name = ("pillar spacing length", "pillar spacing width")[axis]
        view.measure(side, ends[0], ends[-1], name)  # type: ignore[arg-type]


def _shank_behind(view: View, die: Die) -> None:
    """Draw the shank, which the punch holder hides in this view."""
    diameter = die.shank
    if diameter is not None:
        circle = Circle(0.0, 0.0, diameter / 2, "shank", "hidden")
        x, y = -die.zero("shank_x"), die.zero("shank_y")
        view.shapes.append(Component("SHANK BEHIND", x, y, (circle,)))
        r = diameter / 2 * 0.7071
        view.label(f"shank Ø{view.show(diameter)} behind", (x + r, y - r))


def _strip(view: View, die: Die) -> None:
    width, feed = die.figure("strip_width"), die.feed
    if feed is None:
        die.miss("feed direction")
    if width is None or feed is None:
        view.label(f"strip: {NOT_GIVEN}" if width is None else f"feed direction: {NOT_GIVEN}")
        return
    name, (dx, dy) = feed
    a, b = view.box[2], view.box[3]
    beyond = _STRIP_BEYOND * max(a, b) * 2
    middle = die.zero("punch_y") if dx else die.zero("punch_x")
    for edge in (middle - width / 2, middle + width / 2):
        if dx:
            view.line(((-a - beyond, edge), (a + beyond, edge)), "strip", "phantom")
        else:
            view.line(((edge, -b - beyond), (edge, b + beyond)), "strip", "phantom")
    corner = (a * 0.92, middle - width / 2) if dx else (middle + width / 2, -b * 0.85)
    view.label(f"strip {view.show(width)}, {name}", corner)
    reach = (a if dx else b) * 0.86
    offset = width * 0.3
    if dx:
        view.shapes.append(Arrow(-dx * reach, middle + offset, dx, dy))
    else:
        view.shapes.append(Arrow(middle + offset, -dy * reach, dx, dy))


def _load_centre(view: View, die: Die) -> None:
    x = die.figure("load_centre")
    if x is None:
        return
    y = die.zero("load_centre_width")
    r = 0.02 * (view.box[2] - view.box[0])
    mark: tuple[Shape, ...] = (
        Circle(0.0, 0.0, r, "load centre", "thin"),
        Line(((-r, -r), (r, r)), "load centre", "thin"),
        Line(((-r, r), (r, -r)), "load centre", "thin"),
    )
    view.shapes.append(Component("LOAD CENTRE", x, y, mark))
    view.label(f"load centre {view.show(x)} / {view.show(y)}", (x + r, y - r))
