"""Where the views go: the largest scale with which all of them fit, and the place of each on the sheet."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from pressfuncs.batch.refusals import Refused
from pressfuncs.drawing.paper import SCALES, Sheet, text_width, wrapped
from pressfuncs.drawing.view import Dimension, Label, Side, View, shown

Span = tuple[float, float]

TITLE_WIDTH = 180.0
TITLE_ROWS = 6
FIRST_LEVEL, NEXT_LEVEL = 3.0, 2.4
"""text heights from the view to the first dimension line, and on to the next"""
_GAP = 2.0  # text heights between views
_LEAST_TEXT = 60.0  # text heights: a paragraph under a view is no narrower, however narrow the view
_NOTE = 22.0, 8.0  # text heights: width and height of the note in the place of a view that cannot be drawn


@dataclass(frozen=True)
class Text:
    """A text placed beside its view: lower left corner of its box, in mm on paper from the view's origin."""

    label: Label
    x: float
    y: float


@dataclass(frozen=True)
class Written:
    """A line of text under a view, in mm on paper from the view's origin: where it begins, or its middle."""

    text: str
    height: float
    x: float
    y: float
    centred: bool = False


@dataclass
class Placed:
    """A view at a scale on a sheet; distances are mm on paper from the view's origin."""

    view: View
    scale: float
    sheet: Sheet
    x: float = 0.0
    y: float = 0.0

    @property
    def text(self) -> float:
        """Return the height of its texts."""
        return self.sheet.text

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Return the view itself: left, bottom, right, top."""
        if not self.view.drawn:
            width, height = _NOTE[0] * self.text, _NOTE[1] * self.text
            return -width / 2, 0.0, width / 2, height
        left, bottom, right, top = (edge * self.scale for edge in self.view.box)
        return left, bottom, right, top

    def offset(self, level: int) -> float:
        """Return how far outside the view a dimension line of a level lies; 0 for level 0."""
        return (FIRST_LEVEL + NEXT_LEVEL * (level - 1)) * self.text if level else 0.0

    def levels(self, side: Side) -> int:
        """Return how many dimension lines lie on a side."""
        return max((dimension.level for dimension in self.view.dimensions if dimension.side == side), default=0)

    def text_of(self, dimension: Dimension) -> str:
        """Return what the dimension will say."""
        return dimension.prefix + shown(dimension.size, self.view.system)

    @cached_property
    def spots(self) -> list[Span]:
        """Return from where to where along its line each dimension's text stands, in the order of the dimensions.

        It stands in the middle if it can, else beside it, else beyond an end: where neither an extension line of
        a dimension farther out, nor another dimension on the same line, runs through it.
        """
        found: list[Span] = []
        for number, dimension in enumerate(self.view.dimensions):
            others = [other for other in self.view.dimensions if other.side == dimension.side]
            lines = [end for other in others if other.level > dimension.level for end in self.ends(other)]
            taken = [self.ends(o) for o in others if o.level == dimension.level and o is not dimension]
            taken += [
                span
                for span, other in zip(found, self.view.dimensions[:number])
                if (other.side, other.level) == (dimension.side, dimension.level)
            ]
            taken += [(line, line) for line in lines]
            room = 0.3 * self.text
            found.append(
                next(
                    (low, high)
                    for low, high in self._candidates(dimension)
                    if all(high + room <= start or end <= low - room for start, end in taken)
                )
            )
        return found

    def ends(self, dimension: Dimension) -> Span:
        """Return from where to where along its line a dimension measures."""
        axis = 1 if dimension.upright else 0
        low, high = sorted((dimension.first[axis] * self.scale, dimension.second[axis] * self.scale))
        return low, high

    def _candidates(self, dimension: Dimension) -> Iterator[Span]:
        """Give places for a text, the best first, ever farther out at the end."""
        low, high = self.ends(dimension)
        h = self.text
        half = text_width(self.text_of(dimension), h) / 2
        middle, slack = (low + high) / 2, (high - low) / 2 - half - 0.4 * h
        step = 0.25 * h
        for number in range(int(slack / step) + 1 if slack >= 0 else 0):
            for shift in (number * step, -number * step):
                yield middle + shift - half, middle + shift + half
        for number in itertools.count():
            start = 2.2 * h + number * step
            places = [(high + start, high + start + 2 * half), (low - start - 2 * half, low - start)]
            yield from places if dimension.away == "second" else reversed(places)

    @cached_property
    def label_column(self) -> float:
        """Return where the texts of the labels begin."""
        right = self.box[2] + self.offset(self.levels("right"))
        right = max([right, *(span[1] for d, span in self._texts_along if not d.upright)])
        return right + 3.0 * self.text

    @property
    def _texts_along(self) -> list[tuple[Dimension, Span]]:
        return list(zip(self.view.dimensions, self.spots))

    @cached_property
    def texts(self) -> list[Text]:
        """Return the labels in their column, each as near to the height of what it names as the others let it."""
        pitch = 1.7 * self.text
        bottom = self.box[1]
        wanted = [
            (label.at[1] * self.scale if label.at else bottom, label.at is None, -number, label)
            for number, label in enumerate(self.view.labels)
        ]
        wanted.sort(key=lambda entry: (entry[1], -entry[0], -entry[2]))
        floor = bottom - self.offset(self.levels("bottom"))
        places: list[float] = []
        for height, *_ in wanted:
            places.append(min(height, places[-1] - pitch) if places else height)
        for i in range(len(places) - 1, -1, -1):
            least = floor if i == len(places) - 1 else places[i + 1] + pitch
            places[i] = max(places[i], least)
        return [Text(entry[3], self.label_column, y) for entry, y in zip(wanted, places)]

    @cached_property
    def titles(self) -> list[Written]:
        """Return what stands under the view: the title, in the middle; with remarks and a table, at the left."""
        h, view = self.text, self.view
        y = self._lowest - 2.2 * h
        if not (view.drawn and (view.remarks or view.table)):
            middle = (self.box[0] + self.box[2]) / 2
            found = [Written(view.title, h, middle, y, centred=True)]
            if view.subtitle and view.drawn:
                found.append(Written(view.subtitle, 0.8 * h, middle, y - 1.5 * h, centred=True))
            return found
        left, right, _ = self._sides
        room, small = max(right - left, _LEAST_TEXT * h), 0.8 * h
        found = [Written(view.title, h, left, y)]
        for remark in view.remarks:
            for line in wrapped(remark, h, room):
                y -= 1.6 * h
                found.append(Written(line, h, left, y))
        y -= 0.6 * h
        columns = 2 if max(text_width(line, small) for line in ["", *view.table]) < room / 2 - small else 1
        rows = -(-len(view.table) // columns)
        for number, line in enumerate(view.table):
            column, row = divmod(number, rows)
            found.append(Written(line, small, left + column * room / 2, y - 1.6 * small * (row + 1)))
        return found

    @cached_property
    def _lowest(self) -> float:
        lowest = self.box[1] - self.offset(self.levels("bottom"))
        return min(
            [lowest, *(text.y for text in self.texts), *(span[0] for d, span in self._texts_along if d.upright)]
        )

    @cached_property
    def _sides(self) -> tuple[float, float, float]:
        """Return left, right and top of all but what stands under the view."""
        h = self.text
        left = self.box[0] - self.offset(self.levels("left")) - 1.5 * h * bool(self.levels("left"))
        right = self.box[2] + self.offset(self.levels("right")) + 0.5 * h
        top = self.box[3] + self.offset(self.levels("top")) + 2.0 * h
        for dimension, (low, high) in self._texts_along:
            if dimension.upright:
                top = max(top, high + h)
            else:
                left, right = min(left, low - h), max(right, high + h)
        for text in self.texts:
            right = max(right, text.x + text_width(text.label.text, h))
            top = max(top, text.y + 1.5 * h)
        return left, right, top

    @cached_property
    def extent(self) -> tuple[float, float, float, float]:
        """Return all that the view takes with its dimensions, labels and title: left, bottom, right, top."""
        left, right, top = self._sides
        for line in self.titles:
            width = text_width(line.text, line.height)
            start = line.x - width / 2 if line.centred else line.x
            left, right = min(left, start), max(right, start + width)
        bottom = min(line.y for line in self.titles)
        return left, bottom - 0.5 * self.text, right, top


@dataclass
class Arrangement:
    """Views on a sheet at a scale."""

    sheet: Sheet
    scale: float
    views: list[Placed]


def title_height(sheet: Sheet) -> float:
    """Return the height of the title block."""
    return sheet.row * TITLE_ROWS


def notes_height(sheet: Sheet) -> float:
    """Return the height of the notes, where they stand above the title block and not beside it."""
    return 14 * 1.6 * sheet.small if sheet.portrait else 0.0


def arrange(rows: Sequence[Sequence[View]], sheets: Sequence[Sheet]) -> Arrangement:
    """Put rows of views on the sheet on which they come out largest; the earlier one if two do it alike.

    The first views of all rows stand above each other, as one is projected from the other.

    Arguments:
        rows: views from left to right, rows from the top down
        sheets: sheets that may be taken

    Raises:
        Refused: they fit no sheet at any scale.
    """
    for scale in SCALES:
        for sheet in sheets:
            placed = [[Placed(view, scale, sheet) for view in row] for row in rows]
            if _place(placed, sheet):
                return Arrangement(sheet, scale, [view for row in placed for view in row])
    raise Refused("the die does not fit the sheet at any scale down to 1:100; look at its figures")


def _place(rows: list[list[Placed]], sheet: Sheet) -> bool:
    """Place all views if they fit; room that is left is shared out between them."""
    left, bottom, right, top = sheet.frame
    bottom += title_height(sheet) + notes_height(sheet)
    gap = _GAP * sheet.text
    first_left = max(-row[0].extent[0] for row in rows)
    widths = [
        first_left + row[0].extent[2] + sum(view.extent[2] - view.extent[0] for view in row[1:]) for row in rows
    ]
    heights = [max(view.extent[3] for view in row) - min(view.extent[1] for view in row) for row in rows]
    room = right - left - 2 * gap
    if any(width + gap * (len(row) - 1) > room for width, row in zip(widths, rows)):
        return False
    spare = top - bottom - sum(heights) - gap * (len(rows) + 1)
    if spare < 0:
        return False
    between = spare / (len(rows) + 1)
    alone = max(len(row) for row in rows) == 1
    margin = min((room - width - gap * (len(row) - 1)) / (len(row) + 1) for width, row in zip(widths, rows))
    y = top - gap
    for row, width, height in zip(rows, widths, heights):
        y -= between
        base = y - max(view.extent[3] for view in row)
        share = gap + (room - margin - width - gap * (len(row) - 1)) / len(row)
        x = left + gap + ((room - width) / 2 if alone else margin) + first_left
        row[0].x, row[0].y = x, base
        x += row[0].extent[2]
        for view in row[1:]:
            view.x, view.y = x + share - view.extent[0], base
            x = view.x + view.extent[2]
        y -= height + gap
    return True
