"""A drawing as lines and filled shapes on paper, and from there as an SVG, a PDF page or a PNG.

ezdxf's drawing add-on turns every entity into solid lines and filled paths; `Canvas` collects them in mm on paper.
"""

from __future__ import annotations

import io
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, cast

from ezdxf.addons.drawing.backend import Backend, BkPath2d, BkPoints2d, ImageData
from ezdxf.addons.drawing.properties import BackendProperties
from ezdxf.addons.drawing.type_hints import Color
from ezdxf.math import Vec2
from ezdxf.path.commands import Curve3To, Curve4To, MoveTo

Point = tuple[float, float]
Step = tuple[str, tuple[Point, ...]]
"""A command of PDF with its points: m move, l line, c curve, h close."""

_POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class Stroke:
    """Lines of one width in mm."""

    steps: tuple[Step, ...]
    width: float


@dataclass(frozen=True)
class Fill:
    """Filled shapes; what is wound round against the other way is a hole."""

    steps: tuple[Step, ...]


class Canvas(Backend):
    """Collects what is drawn; `scale` turns units of the drawing into mm on paper."""

    def __init__(self, scale: float) -> None:
        """Start empty."""
        super().__init__()
        self.scale = scale
        self.marks: list[Stroke | Fill] = []

    def _at(self, point: Vec2) -> Point:
        return point.x * self.scale, point.y * self.scale

    def _stroke(self, steps: Iterable[Step], properties: BackendProperties) -> None:
        self.marks.append(Stroke(tuple(steps), properties.lineweight))

    def _path(self, path: BkPath2d) -> list[Step]:
        steps: list[Step] = [("m", (self._at(path.start),))]
        here = path.start
        for command in path.commands():
            if isinstance(command, Curve3To):
                ends = here.lerp(command.ctrl, 2 / 3), command.end.lerp(command.ctrl, 2 / 3), command.end
                steps.append(("c", tuple(map(self._at, ends))))
            elif isinstance(command, Curve4To):
                steps.append(("c", tuple(map(self._at, (command.ctrl1, command.ctrl2, command.end)))))
            else:
                steps.append(("m" if isinstance(command, MoveTo) else "l", (self._at(command.end),)))
            here = command.end
        return steps

    def set_background(self, color: Color) -> None:
        """Paper is white."""

    def draw_point(self, pos: Vec2, properties: BackendProperties) -> None:
        """Draw a dot: a line without length, with round ends."""
        self.draw_line(pos, pos, properties)

    def draw_line(self, start: Vec2, end: Vec2, properties: BackendProperties) -> None:
        """Draw a line."""
        self._stroke([("m", (self._at(start),)), ("l", (self._at(end),))], properties)

    def draw_solid_lines(self, lines: Iterable[tuple[Vec2, Vec2]], properties: BackendProperties) -> None:
        """Draw many lines."""
        steps: list[Step] = []
        for start, end in lines:
            steps += [("m", (self._at(start),)), ("l", (self._at(end),))]
        if steps:
            self._stroke(steps, properties)

    def draw_path(self, path: BkPath2d, properties: BackendProperties) -> None:
        """Draw a line of straight and curved pieces."""
        self._stroke(self._path(path), properties)

    def draw_filled_paths(self, paths: Iterable[BkPath2d], properties: BackendProperties) -> None:
        """Fill paths, such as the letters of a text."""
        steps: list[Step] = []
        for path in paths:
            steps += [*self._path(path), ("h", ())]
        if steps:
            self.marks.append(Fill(tuple(steps)))

    def draw_filled_polygon(self, points: BkPoints2d, properties: BackendProperties) -> None:
        """Fill a polygon, such as an arrow head."""
        corners = [self._at(point) for point in points.vertices()]
        if corners:
            steps: list[Step] = [("m", (corners[0],)), *(("l", (corner,)) for corner in corners[1:]), ("h", ())]
            self.marks.append(Fill(tuple(steps)))

    def draw_image(self, image_data: ImageData, properties: BackendProperties) -> None:
        """Refuse: our drawings hold no images."""
        raise TypeError("a drawing of a die holds no images")

    def clear(self) -> None:
        """Forget everything."""
        self.marks.clear()


def pdf(marks: Sequence[Stroke | Fill], width: float, height: float) -> bytes:
    """Return one page of PDF; sizes in mm."""
    k = _POINTS_PER_MM
    lines = [f"{k:.6f} 0 0 {k:.6f} 0 0 cm 0 G 0 g 1 J 1 j"]
    for mark in marks:
        path = " ".join(
            " ".join([*(f"{x:.3f} {y:.3f}" for x, y in points), command]) for command, points in mark.steps
        )
        lines.append(f"{mark.width:.3f} w {path} S" if isinstance(mark, Stroke) else f"{path} f")
    content = zlib.compress("\n".join(lines).encode("ascii"), 6)
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 {width * k:.3f} {height * k:.3f}] "
        "/Resources << >> /Contents 4 0 R >>".encode("ascii"),
        b"<< /Length %d /Filter /FlateDecode >>\nstream\n%s\nendstream" % (len(content), content),
    ]
    written = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, 1):
        places.append(len(written))
        written += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    end = len(written)
    written += b"xref\n0 %d\n0000000000 65535 f \n%s" % (len(objects) + 1, table)
    written += b"trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (len(objects) + 1, end)
    return bytes(written)


def svg(marks: Sequence[Stroke | Fill], width: float, height: float) -> bytes:
    """Return a picture that can be enlarged without loss; sizes in mm."""
    drawn = []
    for mark in marks:
        path = "".join(
            {"m": "M", "l": "L", "c": "C", "h": "Z"}[command]
            + " ".join(f"{x:.3f} {height - y:.3f}" for x, y in points)
            for command, points in mark.steps
        )
        look = f'class="line" stroke-width="{mark.width:.3f}"' if isinstance(mark, Stroke) else 'class="fill"'
        drawn.append(f'<path {look} d="{path}"/>')
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">\n'
        "<style>.line{fill:none;stroke:#000;stroke-linecap:round;stroke-linejoin:round}</style>\n"
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>\n'
    )
    return ('<?xml version="1.0" encoding="UTF-8"?>\n' + head + "\n".join(drawn) + "\n</svg>\n").encode("utf-8")


def png(marks: Sequence[Stroke | Fill], width: float, height: float, dots_per_inch: int) -> bytes:
    """Return a picture in shades of grey; sizes in mm."""
    import numpy as np
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.path import Path
    from matplotlib.transforms import Affine2D
    from PIL import Image

    codes = {"m": [Path.MOVETO], "l": [Path.LINETO], "c": [Path.CURVE4] * 3, "h": [Path.CLOSEPOLY]}
    k = dots_per_inch / 25.4
    size = round(width * k), round(height * k)
    renderer: Any = cast(Any, RendererAgg)(*size, dots_per_inch)
    scaling = Affine2D().scale(k)
    for mark in marks:
        points = [point for command, corners in mark.steps for point in corners or ((0.0, 0.0),)]
        path = Path(np.array(points), [code for command, _ in mark.steps for code in codes[command]])
        pen = renderer.new_gc()
        pen.set_foreground("black")
        pen.set_capstyle("round")
        if isinstance(mark, Stroke):
            pen.set_linewidth(mark.width * _POINTS_PER_MM)
            renderer.draw_path(pen, path, scaling, None)
        else:
            pen.set_linewidth(0.0)
            renderer.draw_path(pen, path, scaling, (0.0, 0.0, 0.0))
        pen.restore()
    drawn = Image.frombuffer("RGBA", size, renderer.buffer_rgba(), "raw", "RGBA", 0, 1)
    picture = Image.new("L", size, 255)
    picture.paste(0, mask=drawn.getchannel("A"))
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return buffer.getvalue()
