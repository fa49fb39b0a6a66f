"""The sheet around the views: frame and zones of ISO 5457, projection symbol, title block, notes."""

from __future__ import annotations

from collections.abc import Sequence

from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.blocklayout import BlockLayout

from pressfuncs.drawing.arrange import TITLE_WIDTH, notes_height, title_height
from pressfuncs.drawing.paper import Sheet, text_width, wrapped
from pressfuncs.drawing.pen import Pen, frame_lines

Cell = tuple[str, str, int]
"""word above, figure, and over how many of the four columns it runs"""
PROJECTION_CELL = "Projection"
_ZONE = 50.0
_ZONE_STRIP = 5.0
_FRAME_WIDTH = 70
_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, which read as figures


def draw_sheet(pen: Pen, rows: Sequence[Sequence[Cell]], notes: Sequence[str], projection: str) -> None:
    """Draw everything around the views.

    Arguments:
        pen: the drawing
        rows: the title block from the top down
        notes: paragraphs beside or above the title block
        projection: "first" or "third" angle
    """
    frame = pen.document.blocks.new("SHEET FRAME")
    _frame(frame, pen.sheet)
    symbol = pen.document.blocks.new("PROJECTION SYMBOL")
    _symbol(symbol, pen, projection)
    title = pen.document.blocks.new("TITLE BLOCK")
    _title(title, pen, rows)
    written = pen.document.blocks.new("NOTES")
    _notes(written, pen, notes)
    for name in ("SHEET FRAME", "TITLE BLOCK", "NOTES"):
        attributes = {"layer": "0", "xscale": pen.paper, "yscale": pen.paper, "zscale": pen.paper}
        pen.space.add_blockref(name, (0.0, 0.0), dxfattribs=attributes)


def _frame(block: BlockLayout, sheet: Sheet) -> None:
    left, bottom, right, top = sheet.frame
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    block.add_lwpolyline(corners, close=True, dxfattribs={"layer": "frame", "lineweight": _FRAME_WIDTH})
    edge = [(0.0, 0.0), (sheet.width, 0.0), (sheet.width, sheet.height), (0.0, sheet.height)]
    block.add_lwpolyline(edge, close=True, dxfattribs={"layer": "frame", "lineweight": 13})
    across, up = sheet.width / 2, sheet.height / 2
    centring = [
        ((across, 0.0), (across, bottom)),  # the title block or the notes begin there
        ((across, sheet.height), (across, top - 5)),
        ((0.0, up), (left + 5, up)),
        ((sheet.width, up), (right - 5, up)),
    ]
    frame_lines(block, centring, "frame", _FRAME_WIDTH)
    _zones(block, sheet)


def _zones(block: BlockLayout, sheet: Sheet) -> None:
    """Draw the zones by which a place in the drawing is named; on A4 at the top and at the right only."""
    left, bottom, right, top = sheet.frame
    small = sheet.name == "A4"
    for along, (low, high), others in (
        ("across", (left, right), ((top,) if small else (bottom, top))),
        ("up", (bottom, top), ((right,) if small else (left, right))),
    ):
        middle = (sheet.width if along == "across" else sheet.height) / 2
        marks = [middle + _ZONE * i for i in range(-9, 10) if low < middle + _ZONE * i < high]
        bounds = [low, *marks, high]
        names = [str(i + 1) for i in range(len(bounds) - 1)]
        if along == "up":
            names = list(reversed(_LETTERS[: len(names)]))
        for at in others:
            outward = -1.0 if at in (left, bottom) else 1.0
            lines = []
            for mark in marks:
                ends = (at, at + outward * _ZONE_STRIP)
                lines.append(tuple((mark, end) if along == "across" else (end, mark) for end in ends))
            frame_lines(block, lines, "frame", 35)  # type: ignore[arg-type]
            for name, start, end in zip(names, bounds, bounds[1:]):
                if end - start > 8:
                    # beside the middle of the zone, where a centring mark may run
                    place = ((start + end) / 2, at + outward * _ZONE_STRIP / 2)
                    block.add_text(
                        name, height=2.5, dxfattribs={"layer": "frame", "style": "shop text", "width": 0.85}
                    ).set_placement(
                        place if along == "across" else place[::-1], align=TextEntityAlignment.MIDDLE_CENTER
                    )


def _symbol(block: BlockLayout, pen: Pen, projection: str) -> None:
    """Draw the frustum of a cone in its two views; the small end is always at the left."""
    attributes = {"layer": "title block", "lineweight": pen.width("thin")}
    cone, rings = (-2.6, 3.2) if projection == "first" else (2.6, -3.2)
    block.add_lwpolyline(
        [(cone - 2.2, -0.9), (cone + 2.2, -1.8), (cone + 2.2, 1.8), (cone - 2.2, 0.9)],
        close=True,
        dxfattribs=attributes,
    )
    for radius in (0.9, 1.8):
        block.add_circle((rings, 0.0), radius, dxfattribs=attributes)
    lines = [((-5.8, 0.0), (5.8, 0.0)), ((rings, -2.2), (rings, 2.2))]
    frame_lines(block, lines, "title block", pen.width("thin"))


def _title(block: BlockLayout, pen: Pen, rows: Sequence[Sequence[Cell]]) -> None:
    sheet = pen.sheet
    right, bottom = sheet.frame[2], sheet.frame[1]
    left, top = right - TITLE_WIDTH, bottom + title_height(sheet)
    column = TITLE_WIDTH / 4
    thick, thin = pen.width("edge"), pen.width("thin")
    frame_lines(block, [((left, bottom), (left, top)), ((left, top), (right, top))], "title block", thick)
    for number, row in enumerate(rows):
        y = top - sheet.row * (number + 1)
        if number + 1 < len(rows):
            frame_lines(block, [((left, y), (right, y))], "title block", thin)
        x = left
        for word, figure, columns in row:
            room = columns * column - 2.0
            _write(block, pen, word, (x + 1.0, y + 0.66 * sheet.row), 0.8 * sheet.small, room)
            if word == PROJECTION_CELL:
                place = (x + column / 2, y + 0.42 * sheet.row)
                block.add_blockref("PROJECTION SYMBOL", place, dxfattribs={"layer": "0"})
            else:
                _write(block, pen, figure, (x + 1.0, y + 0.18 * sheet.row), 1.2 * sheet.small, room)
            x += columns * column
            if x < right - 1.0:
                frame_lines(block, [((x, y), (x, y + sheet.row))], "title block", thin)


def _write(
    block: BlockLayout, pen: Pen, text: str, place: tuple[float, float], height: float, room: float
) -> None:
    """Write a text smaller where it is too long, and cut it off where that does not help."""
    for smaller in (height, 0.85 * height, 0.7 * height):
        if text_width(text, smaller) <= room:
            pen.text(block, text, place, smaller, "title block")
            return
    while text and text_width(text + "…", 0.7 * height) > room:
        text = text[:-1]
    pen.text(block, text + "…", place, 0.7 * height, "title block")


def _notes(block: BlockLayout, pen: Pen, notes: Sequence[str]) -> None:
    """Write the notes in the room beside the title block, or above it on an upright sheet."""
    sheet = pen.sheet
    left, bottom, right, _ = sheet.frame
    top = bottom + title_height(sheet) + notes_height(sheet)
    low = bottom + (title_height(sheet) if sheet.portrait else 0.0)
    if not sheet.portrait:
        right -= TITLE_WIDTH
    pitch = 1.6 * sheet.small
    lines: list[str] = []
    for note in notes:
        lines += wrapped(note, sheet.small, right - left - 6.0)
    most = int((top - low - 2.0) / pitch)
    if len(lines) > most:
        lines[most - 1 :] = ["... and more, see the report"]
    for number, line in enumerate(lines):
        place = (left + 3.0, top - 2.0 - pitch * (number + 0.75))
        pen.text(block, line, place, sheet.small, "texts")
