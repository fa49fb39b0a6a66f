"""Figures of a die that cannot all be right are refused before anything is drawn, with the figures."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from pressfuncs.drawing.die import CORNERS, Contradiction, Die, Pillar
from pressfuncs.drawing.outline import Outline, all_inside
from pressfuncs.quantities import LENGTH, Wording

TOLERANCE = 0.01
"""mm by which figures may differ: what a drawing can be measured to"""


def check(die: Die) -> list[Wording]:
    """Refuse a die whose figures contradict each other; return what a setter ought to know besides.

    Raises:
        Contradiction: with a sentence for each contradiction.
    """
    tests: tuple[Callable[[Die], Iterator[Wording]], ...] = (
        _words,
        _pillars,
        _outlines,
        _heights,
        _flanges,
        _strip,
    )
    found = [sentence for test in tests for sentence in test(die)]
    if found:
        raise Contradiction(die.id, found)
    return list(_cautions(die))


def _say(rule: str, **lengths: float) -> Wording:
    return Wording(rule, **{name: (round(value, 6) + 0.0, LENGTH) for name, value in lengths.items()})


def _words(die: Die) -> Iterator[Wording]:
    if die.text("feed_direction") and die.feed is None:
        yield Wording("feed direction is none of: to the right, to the left, to the back, to the front")
    if die.text("pillar_arrangement") and not die.arrangement:
        yield Wording("pillar arrangement is none of: " + ", ".join(CORNERS))
    if die.stripper not in ("", "spring", "fixed", "none"):
        yield Wording("stripper is none of: spring, fixed, none")
    for name, counts in (("pillars", (2, 4)), ("slots", (2, 4))):
        if (die.given(name) or counts[0]) not in counts:
            yield Wording(f"{name} must be 2 or 4, got {die.zero(name):.10g}")


def _pillars(die: Die) -> Iterator[Wording]:
    for i in range(1, 5):
        x, y = die.given(f"pillar_{i}_x"), die.given(f"pillar_{i}_y")
        if (x is None) != (y is None):
            there, lacking = ("left right", "front back") if y is None else ("front back", "left right")
            yield Wording(f"pillar {i} has a position {there} and none {lacking}")
    placed = any(f"pillar_{i}_x" in die.numbers for i in range(1, 5))
    if placed and ("pillar_spacing_length" in die.numbers or "pillar_spacing_width" in die.numbers):
        yield Wording("pillar positions are given twice: one by one, and by pillar spacing")
    count, stands = die.given("pillars"), len(die.pillars)
    if count is not None and stands and count != stands:
        yield Wording(f"{count:.10g} pillars are given and positions of {stands}")
    for pillar in die.pillars:
        for holder, names in (("die holder", ("die_length", "die_width")), *_UPPER):
            for half, size in zip((pillar.x, pillar.y), names):
                edge = die.given(size)
                bush = die.given("bush_diameter") if holder == "punch holder" else None
                radius = max(pillar.diameter or 0.0, bush or 0.0) / 2
                if edge is not None and abs(half) + radius > edge / 2 + TOLERANCE:
                    what = "bush of pillar" if bush and bush > (pillar.diameter or 0.0) else "pillar"
                    yield _say(
                        f"{what} {pillar.number} reaches {{reach}} from the middle, the {holder} only {{edge}}",
                        reach=abs(half) + radius,
                        edge=edge / 2,
                    )
    yield from _pillars_and_plates(die)
    bush, diameters = die.given("bush_diameter"), [p.diameter for p in die.pillars if p.diameter is not None]
    if bush is not None and diameters and bush <= max(diameters):
        yield _say(
            "the bush of {bush} is not larger than the pillar of {pillar}", bush=bush, pillar=max(diameters)
        )


_UPPER = (("punch holder", ("upper_die_length", "upper_die_width")),)


def _pillars_and_plates(die: Die) -> Iterator[Wording]:
    plate = _outline(die, "die_plate")
    for pillar in die.pillars:
        if plate is not None and pillar.diameter is not None:
            gap = _gap(pillar, plate) - pillar.diameter / 2
            if gap < -TOLERANCE:
                yield _say(f"pillar {pillar.number} reaches {{into}} into the die plate", into=-gap)
        for other in die.pillars[: pillar.number - 1]:
            apart = math.dist((pillar.x, pillar.y), (other.x, other.y))
            if other is not pillar and apart < ((pillar.diameter or 0.0) + (other.diameter or 0.0)) / 2:
                yield _say(f"pillars {other.number} and {pillar.number} stand only {{apart}} apart", apart=apart)


def _gap(pillar: Pillar, plate: Outline) -> float:
    """Return how far the middle of a pillar is from the box of a plate; 0 inside."""
    left, front, right, back = plate.box
    beside = max(left - pillar.x, 0.0, pillar.x - right)
    before = max(front - pillar.y, 0.0, pillar.y - back)
    return math.hypot(beside, before)


def _outline(die: Die, part: str) -> Outline | None:
    """Return an outline without listing it as missing."""
    listed = list(die.not_given)
    outline = die.outline(part)
    die.not_given[:] = listed
    return outline


def _outlines(die: Die) -> Iterator[Wording]:
    for part in ("punch", "opening"):
        if f"{part}_diameter" in die.numbers and (f"{part}_length" in die.numbers or part in die.outlines):
            yield Wording(f"the {part} is given twice: by its diameter, and by a length or an outline")
    punch, opening, plate = (_outline(die, part) for part in ("punch", "opening", "die_plate"))
    if punch is not None and opening is not None:
        for what, inner, outer in (("long", punch.length, opening.length), ("wide", punch.width, opening.width)):
            if inner > outer + TOLERANCE:
                rule = f"the punch is {{punch}} {what}, the opening only {{opening}}"
                yield _say(rule, punch=inner, opening=outer)
        if punch.length <= opening.length and punch.width <= opening.width and not all_inside(punch, opening):
            yield Wording("the outline of the punch runs out of the outline of the opening")
    holders = {"die holder": ("die_length", "die_width"), "punch holder": ("upper_die_length", "upper_die_width")}
    pairs = (
        ("opening", opening, "die plate", plate),
        ("die plate", plate, "die holder", None),
        ("punch", punch, "punch holder", None),
        ("punch plate", _outline(die, "punch_plate"), "punch holder", None),
        (
            "stripper",
            _outline(die, "stripper"),
            "punch holder" if die.stripper == "spring" else "die holder",
            None,
        ),
    )
    for name, inner_outline, around, outer_outline in pairs:
        if inner_outline is None or (around not in holders and outer_outline is None):
            continue
        for axis, what in ((0, "left to right"), (1, "front to back")):
            if outer_outline is not None:
                low, high = outer_outline.box[axis], outer_outline.box[axis + 2]
            else:
                size = die.given(holders[around][axis])
                if size is None:
                    continue
                low, high = -size / 2, size / 2
            box = inner_outline.box
            over = max(low - box[axis], box[axis + 2] - high)
            if over > TOLERANCE:
                yield _say(
                    f"the {name} of {{inner}} {what} stands {{over}} over the {around} of {{outer}}",
                    inner=box[axis + 2] - box[axis],
                    over=over,
                    outer=high - low,
                )


def _heights(die: Die) -> Iterator[Wording]:
    closed = die.given("die_height")
    parts = {
        "die holder": die.zero("die_holder_thickness"),
        "die plate": die.zero("die_plate_thickness"),
        "strip": die.zero("thickness") if die.stripper == "spring" else die.zero("strip_channel"),
        "stripper": die.zero("stripper_thickness") if die.stripper in ("spring", "fixed") else 0.0,
        "punch plate": die.zero("punch_plate_thickness"),
        "punch holder": die.zero("punch_holder_thickness"),
    }
    total = sum(parts.values())
    if closed is not None and total > closed + TOLERANCE:
        named = " + ".join(f"{name} {{{name.replace(' ', '_')}}}" for name, value in parts.items() if value)
        yield _say(
            f"closed height {{closed}} is below the sum of the plates {{total}} ({named})",
            closed=closed,
            total=total,
            **{name.replace(" ", "_"): value for name, value in parts.items() if value},
        )
        return
    yield from _punch_heights(die)
    pillar = die.given("pillar_length")
    if closed is not None and pillar is not None and pillar > closed + TOLERANCE:
        yield _say("pillars of {pillar} stand above the closed die of {closed}", pillar=pillar, closed=closed)
    names = ("bush_height", "die_holder_thickness", "punch_holder_thickness")
    bush, lower, upper = (die.given(name) for name in names)
    if closed is not None and bush is not None and lower is not None and upper is not None:
        room = closed - lower - upper
        if bush > room + TOLERANCE:
            rule = "bushes stand {bush} below the punch holder, with {room} between the closed holders"
            yield _say(rule, bush=bush, room=room)


def _punch_heights(die: Die) -> Iterator[Wording]:
    entry, stated = die.punch_entry, die.given("punch_entry")
    if entry is None:
        return
    if stated is not None and abs(entry - stated) > TOLERANCE:
        yield _say(
            "punch entry is stated as {stated}; the heights of plates, punch and closed die make it {entry}",
            stated=stated,
            entry=entry,
        )
    thickness, plate, stroke = die.given("thickness"), die.given("die_plate_thickness"), die.given("stroke")
    if entry < -(thickness or 0.0) - TOLERANCE:
        yield _say("the closed die leaves {gap} between punch and die plate: the punch does not reach", gap=-entry)
    if plate is not None and entry > plate + TOLERANCE:
        yield _say("the punch enters by {entry}, the die plate is only {plate} thick", entry=entry, plate=plate)
    if stroke is not None and entry >= stroke:
        yield _say("the punch enters by {entry}, the stroke is only {stroke}", entry=entry, stroke=stroke)
    height, upper = die.punch_height, die.given("punch_plate_thickness")
    if height is not None and upper is not None and upper > height + TOLERANCE:
        yield _say(
            "the punch plate of {plate} is thicker than the punch of {punch} is high", plate=upper, punch=height
        )
    if height is not None and height <= 0:
        yield _say("the heights leave {height} for the punch", height=height)


def _flanges(die: Die) -> Iterator[Wording]:
    length, width = die.given("die_length"), die.given("die_width")
    plate, depth, slot = _outline(die, "die_plate"), die.given("slot_depth"), die.given("slot_width")
    if length is not None and depth is not None:
        flange = length / 2 - (max(abs(plate.box[0]), abs(plate.box[2])) if plate is not None else 0.0)
        if depth > flange + TOLERANCE:
            yield _say("flange slots are {depth} deep, the flange only {flange}", depth=depth, flange=flange)
    spacing = die.zero("slot_spacing") if die.given("slots") == 4 else 0.0
    if width is not None and slot is not None and spacing + slot > width + TOLERANCE:
        yield _say(
            "flange slots reach over {over}, the die holder is {width} wide", over=spacing + slot, width=width
        )
    shank, upper = die.shank, die.given("upper_die_width")
    if shank is not None and upper is not None and abs(die.zero("shank_y")) + shank / 2 > upper / 2 + TOLERANCE:
        yield _say("the shank of {shank} stands over the punch holder of {upper}", shank=shank, upper=upper)


def _strip(die: Die) -> Iterator[Wording]:
    feed, width = die.feed, die.given("strip_width")
    if feed is None or width is None:
        return
    across = 1 if feed[1][0] else 0
    for pillar in die.pillars:
        middle = die.zero("punch_y" if across else "punch_x")
        place = (pillar.x, pillar.y)[across] - middle
        gap = abs(place) - width / 2 - (pillar.diameter or 0.0) / 2
        if gap < -TOLERANCE:
            yield _say(f"the strip of {{width}} runs {{into}} into pillar {pillar.number}", width=width, into=-gap)


def _cautions(die: Die) -> Iterator[Wording]:
    names = ("pillar_length", "die_height", "punch_holder_thickness", "bush_height", "stroke")
    values = [die.given(name) for name in names]
    if all(value is not None for value in values):
        pillar, closed, upper, bush, stroke = (value for value in values if value is not None)
        inside = pillar - (closed - upper - bush + stroke)
        if inside <= 0:
            yield _say("pillars leave the bushes by {gap} at the top of the stroke", gap=-inside)
    pillars = {(p.x, p.y, p.diameter) for p in die.pillars}
    if pillars and pillars == {(-x, -y, diameter) for x, y, diameter in pillars}:
        yield Wording("pillars stand alike from both sides: the upper half can be put on the wrong way round")
