"""Closed outlines of punch, opening and die plate: from lengths and widths, or from a layer of a DXF file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ezdxf.document import Drawing
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.path import make_path

from pressfuncs.batch.refusals import Refused

Point = tuple[float, float]

GAP = 0.01
"""mm between the ends of two lines that still meet"""
_SAGITTA = 0.002  # mm between a curve and the chords it is drawn with: well inside what can be measured
_INSUNITS = {1: 25.4, 4: 1.0, 5: 10.0, 6: 1000.0}  # $INSUNITS of DXF: inch, mm, cm, m
_CURVES = "LINE ARC CIRCLE ELLIPSE SPLINE LWPOLYLINE POLYLINE"


@dataclass(frozen=True)
class Outline:
    """A closed outline in mm, seen from above; `radius` is given where it is a circle."""

    points: tuple[Point, ...]
    radius: float | None = None

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Return left, front, right and back."""
        xs, ys = zip(*self.points)
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def length(self) -> float:
        """Return the size left to right."""
        return self.box[2] - self.box[0]

    @property
    def width(self) -> float:
        """Return the size front to back."""
        return self.box[3] - self.box[1]

    @property
    def middle(self) -> Point:
        """Return the middle of the box around it."""
        left, front, right, back = self.box
        return (left + right) / 2, (front + back) / 2

    def turned_over(self) -> Outline:
        """Return the outline as it lies when its half is turned over about a hinge at the side."""
        return Outline(tuple((-x, y) for x, y in self.points), self.radius)

    def across(self, y: float) -> list[tuple[float, float]]:
        """Return from where to where a cut at `y`, left to right, runs inside."""
        crossings = []
        for (x1, y1), (x2, y2) in zip(self.points, (*self.points[1:], self.points[0])):
            if (y1 <= y) != (y2 <= y):
                crossings.append(x1 + (x2 - x1) * (y - y1) / (y2 - y1))
        crossings.sort()
        return list(zip(crossings[::2], crossings[1::2]))

    def holds(self, point: Point) -> bool:
        """Say whether a point lies inside or on the edge."""
        x, y = point
        edges = zip(self.points, (*self.points[1:], self.points[0]))
        if any(_distance(point, a, b) <= GAP for a, b in edges):
            return True
        return any(left <= x <= right for left, right in self.across(y))


def rectangle(length: float, width: float, x: float = 0.0, y: float = 0.0) -> Outline:
    """Return a rectangle about a middle."""
    a, b = length / 2, width / 2
    return Outline(((x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b)))


def circle(diameter: float, x: float = 0.0, y: float = 0.0) -> Outline:
    """Return a circle about a middle; its points lie on it, close enough for cuts and comparisons."""
    radius = diameter / 2
    count = 4 * max(8, math.ceil(math.pi / 4 / math.acos(max(0.0, 1 - _SAGITTA / max(radius, 1.0)))))
    turns = (2 * math.pi * i / count for i in range(count))
    return Outline(tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns), radius)


def read_outline(path: Path, layer: str, mm_per_unit: float) -> Outline:
    """Read the one closed outline of a layer; its origin is the middle of the die holder.

    Arguments:
        path: a DXF file
        layer: name of the layer; letter case does not matter
        mm_per_unit: what a unit is where the file does not say it

    Raises:
        Refused: no DXF file, no such layer, or its lines do not close to one outline.
    """
    document = _opened(path)
    unit = _INSUNITS.get(document.units, mm_per_unit)
    found = [
        entity
        for entity in document.modelspace().query(_CURVES)
        if entity.dxf.layer.casefold() == layer.casefold()
    ]
    if not found:
        layers = sorted({entity.dxf.layer for entity in document.modelspace().query(_CURVES)})
        raise Refused(f'has no lines on a layer "{layer}"; its layers are {", ".join(layers) or "empty"}', path)
    if len(found) == 1 and found[0].dxftype() == "CIRCLE":
        centre = found[0].dxf.center
        return circle(2 * found[0].dxf.radius * unit, centre.x * unit, centre.y * unit)
    return Outline(tuple(_chained([_points(entity, unit) for entity in found], path, layer)))


def _opened(path: Path) -> Drawing:
    try:
        return readfile(path)
    except OSError as error:
        raise Refused(f"cannot be read ({error.strerror or 'it is no DXF file'})", path) from error
    except (DXFError, UnicodeError) as error:
        raise Refused(f"is no sound DXF file ({error}); save it anew as DXF", path) from error


def _points(entity: DXFEntity, unit: float) -> list[Point]:
    flat = list(make_path(entity).flattening(_SAGITTA / unit))
    return [(point.x * unit, point.y * unit) for point in flat]


def _chained(pieces: list[list[Point]], path: Path, layer: str) -> list[Point]:
    """Return the pieces joined end to end; the last point, which is the first again, is left out."""
    chain = pieces.pop(0)
    while pieces:
        number, reverse, gap = min(
            (
                (i, backwards, math.dist(chain[-1], piece[-1 if backwards else 0]))
                for i, piece in enumerate(pieces)
                for backwards in (False, True)
            ),
            key=lambda candidate: candidate[2],
        )
        _require_met(gap, chain[-1], path, layer)
        piece = pieces.pop(number)
        chain += (piece[::-1] if reverse else piece)[1:]
    _require_met(math.dist(chain[0], chain[-1]), chain[-1], path, layer)
    chain.pop()
    if len(chain) < 3:
        raise Refused(f'layer "{layer}" holds no outline that encloses anything', path)
    return chain


def _require_met(gap: float, at: Point, path: Path, layer: str) -> None:
    if gap > GAP:
        raise Refused(
            f'the outline on layer "{layer}" is not one closed line: there is a gap of {gap:.4g} mm at '
            f"x {at[0]:.4g} mm, y {at[1]:.4g} mm; close it, one outline a layer",
            path,
        )


def _distance(point: Point, a: Point, b: Point) -> float:
    """Return how far a point is from the line between two others."""
    along = math.dist(a, b) ** 2
    share = 0.0 if along == 0 else ((point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1])) / along
    share = min(1.0, max(0.0, share))
    return math.dist(point, (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))


def all_inside(inner: Outline, outer: Outline) -> bool:
    """Say whether every corner of one outline lies inside another."""
    return all(outer.holds(point) for point in inner.points)


def without(intervals: Iterable[tuple[float, float]], cuts: Sequence[tuple[float, float]]) -> list[Point]:
    """Return what is left of intervals when others are taken out of them.

    >>> without([(0, 10)], [(2, 3), (8, 12)])
    [(0, 2), (3, 8)]
    """
    left = list(intervals)
    for start, end in cuts:
        pieces = []
        for a, b in left:
            pieces += [(low, high) for low, high in ((a, min(b, start)), (max(a, end), b)) if high > low]
        left = pieces
    return left
