"""What a drawing shows on paper, read from the marks that are really drawn: texts, and what crosses them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pressfuncs.drawing.canvas import Fill, Stroke
from pressfuncs.drawing.render import marks_of
from pressfuncs.drawing.sheets import Drawn

Box = tuple[float, float, float, float]
_ARROW_STEPS = 5  # an arrow head is a triangle or a quadrangle; every letter takes more
_TOUCH = 0.05  # mm


def text_boxes(marks: Sequence[Stroke | Fill]) -> list[Box]:
    """Return the box of every text, in mm on paper."""
    boxes = []
    for mark in marks:
        if isinstance(mark, Fill) and len(mark.steps) > _ARROW_STEPS:
            xs, ys = zip(*(point for _, points in mark.steps for point in points))
            boxes.append((min(xs), min(ys), max(xs), max(ys)))
    return boxes


def segments(marks: Sequence[Stroke | Fill]) -> Iterator[tuple[float, float, float, float]]:
    """Give every straight line and the chords of curves."""
    for mark in marks:
        if isinstance(mark, Stroke):
            here = (0.0, 0.0)
            for command, points in mark.steps:
                if points and command != "m":
                    yield (*here, *points[-1])
                here = points[-1] if points else here


def overlaps(drawn: Drawn) -> list[tuple[Box, Box]]:
    """Return texts that stand in one another, out of the frame, or are crossed by a line."""
    marks = marks_of(drawn)
    boxes = text_boxes(marks)
    found = []
    for number, box in enumerate(boxes):
        found += [(box, other) for other in boxes[number + 1 :] if _meet(box, other)]
        if box[0] < 0 or box[1] < 0 or box[2] > drawn.sheet.width or box[3] > drawn.sheet.height:
            found.append((box, (0.0, 0.0, drawn.sheet.width, drawn.sheet.height)))
    for line in segments(marks):
        left, right = sorted((line[0], line[2]))
        low, high = sorted((line[1], line[3]))
        for box in boxes:
            if _meet(box, (left, low, right, high)) and _crosses(line, box):
                found.append((box, line))
    return found


def _meet(one: Box, other: Box) -> bool:
    return (
        one[0] + _TOUCH < other[2]
        and other[0] + _TOUCH < one[2]
        and one[1] + _TOUCH < other[3]
        and other[1] + _TOUCH < one[3]
    )


def _crosses(line: tuple[float, float, float, float], box: Box) -> bool:
    """Say whether a line runs through the inside of a box: clip it by the four sides."""
    x1, y1, x2, y2 = line
    dx, dy = x2 - x1, y2 - y1
    start, end = 0.0, 1.0
    for step, room in (
        (-dx, x1 - box[0] - _TOUCH),
        (dx, box[2] - _TOUCH - x1),
        (-dy, y1 - box[1] - _TOUCH),
        (dy, box[3] - _TOUCH - y1),
    ):
        if step == 0:
            if room < 0:
                return False
        elif step < 0:
            start = max(start, room / step)
        else:
            end = min(end, room / step)
    return start < end
