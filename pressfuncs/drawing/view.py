"""What a view is made of: shapes in mm of the die, and dimensions and labels beside them.

Nothing here knows paper: `arrange` chooses scale and place, `pen` writes the entities.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from pressfuncs.drawing.outline import Outline, Point

Kind = Literal["edge", "thin", "hidden", "centre", "phantom"]
"""ISO 128: visible edge (thick), thin line, hidden edge (dashed), centre line (long dash dot), adjacent part
(long dash double dot)."""
Side = Literal["left", "right", "bottom", "top"]


@dataclass(frozen=True)
class Line:
    """A line of straight pieces on a layer."""

    points: tuple[Point, ...]
    layer: str
    kind: Kind = "edge"
    closed: bool = False


@dataclass(frozen=True)
class Circle:
    """A circle, or a part of one from `start` to `end` in degrees against the clock."""

    x: float
    y: float
    radius: float
    layer: str
    kind: Kind = "edge"
    start: float | None = None
    end: float | None = None


@dataclass(frozen=True)
class Component:
    """A block of its own inside a view: a pillar, a bush, a shank, a load centre."""

    block: str
    x: float
    y: float
    shapes: tuple[Shape, ...]
    """shapes about the middle of the block"""


@dataclass(frozen=True)
class Hatching:
    """A cut face."""

    points: tuple[Point, ...]
    angle: float


@dataclass(frozen=True)
class Arrow:
    """The direction of feed."""

    x: float
    y: float
    dx: int
    dy: int


Shape = Line | Circle | Component | Hatching | Arrow


@dataclass(frozen=True)
class Dimension:
    """A linear dimension beside a view; `level` 1 is nearest, `away` is where a text goes that does not fit."""

    side: Side
    level: int
    first: Point
    second: Point
    prefix: str = ""
    away: Literal["first", "second"] = "second"
    name: str = ""
    """figure of the register that it measures"""

    @property
    def upright(self) -> bool:
        """Say whether a height is measured."""
        return self.side in ("left", "right")

    @property
    def size(self) -> float:
        """Return what is measured, in mm."""
        axis = 1 if self.upright else 0
        return abs(self.second[axis] - self.first[axis])


@dataclass(frozen=True)
class Label:
    """A text in the column at the right of a view, with a leader to what it names."""

    text: str
    at: Point | None = None


@dataclass
class View:
    """A view, or what stands in its place when too little of it is given."""

    block: str
    title: str
    system: str = "metric"
    box: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    shapes: list[Shape] = field(default_factory=list)
    dimensions: list[Dimension] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    subtitle: str = ""
    remarks: list[str] = field(default_factory=list)
    """paragraphs under the title"""
    table: list[str] = field(default_factory=list)
    """short lines under the remarks, in columns"""
    lacking: list[str] = field(default_factory=list)
    """figures without which it cannot be drawn"""

    @property
    def drawn(self) -> bool:
        """Say whether there is anything but a note to draw."""
        return not self.lacking

    def rectangle(self, x1: float, y1: float, x2: float, y2: float, layer: str, kind: Kind = "edge") -> None:
        """Draw a rectangle."""
        self.shapes.append(Line(((x1, y1), (x2, y1), (x2, y2), (x1, y2)), layer, kind, closed=True))

    def line(self, points: Iterable[Point], layer: str, kind: Kind = "edge") -> None:
        """Draw a line."""
        self.shapes.append(Line(tuple(points), layer, kind))

    def cross(self, x: float, y: float, reach: float) -> None:
        """Draw the centre lines of something round."""
        self.line(((x - reach, y), (x + reach, y)), "centre lines", "centre")
        self.line(((x, y - reach), (x, y + reach)), "centre lines", "centre")

    def outline(self, outline: Outline, layer: str, kind: Kind = "edge") -> None:
        """Draw a closed outline."""
        if outline.radius is not None:
            self.shapes.append(Circle(*outline.middle, outline.radius, layer, kind))
        else:
            self.shapes.append(Line(outline.points, layer, kind, closed=True))

    def measure(
        self,
        side: Side,
        first: Point,
        second: Point,
        name: str,
        prefix: str = "",
        away: Literal["first", "second"] = "second",
        level: int | None = None,
    ) -> None:
        """Add a dimension outside those that are there, or on a level that is free there."""
        if level is None:
            level = 1 + max((d.level for d in self.dimensions if d.side == side), default=0)
        self.dimensions.append(Dimension(side, level, first, second, prefix, away, name))

    def label(self, text: str, at: Point | None = None) -> None:
        """Add a text beside the view, with a leader to a place in it."""
        self.labels.append(Label(text, at))

    def show(self, value: float) -> str:
        """Write a length as it stands in a drawing."""
        return shown(value, self.system)


def shown(value: float, system: str) -> str:
    """Write a length as it stands in a drawing: no unit, as many decimals as it needs and no more than make sense.

    >>> shown(12.7, "metric"), shown(12.7, "inch"), shown(240.0, "metric")
    ('12.7', '0.5', '240')
    """
    number = f"{value:.2f}" if system == "metric" else f"{value / 25.4:.3f}"
    return re.sub(r"\.?0+$", "", number) if "." in number else number
