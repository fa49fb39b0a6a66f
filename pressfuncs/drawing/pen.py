"""Views become DXF: true-size blocks in mm or inches, with dimensions, labels and titles beside them.

The model is drawn in full size, the sheet around it is enlarged by the scale, so that whoever opens the file can
measure the die. Layers and blocks carry the names that people in the shop use.
"""

from __future__ import annotations

from collections.abc import Sequence

from ezdxf import units as dxf_units
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_document
from ezdxf.layouts.blocklayout import BlockLayout
from ezdxf.layouts.layout import Modelspace

from pressfuncs.drawing.arrange import Placed
from pressfuncs.drawing.outline import Point
from pressfuncs.drawing.paper import FONT, SLIM, Sheet
from pressfuncs.drawing.view import Arrow, Circle, Component, Dimension, Hatching, Kind, Line, Shape

LAYERS = (
    ("die holder", "thick"),
    ("die plate", "thick"),
    ("opening", "thick"),
    ("flange slots", "thick"),
    ("pillars", "thick"),
    ("bushes", "thick"),
    ("punch holder", "thick"),
    ("punch plate", "thick"),
    ("punch", "thick"),
    ("stripper", "thick"),
    ("shank", "thick"),
    ("strip", "thin"),
    ("load centre", "thin"),
    ("press", "thick"),
    ("centre lines", "thin"),
    ("hatching", "thin"),
    ("dimensions", "thin"),
    ("texts", "thin"),
    ("not given", "thin"),
    ("frame", "thick"),
    ("title block", "thin"),
)
"""Every layer of a drawing, and the width of its lines."""

LINE_TYPES: dict[Kind, tuple[str, str, tuple[float, ...]]] = {
    "hidden": ("hidden edge", "dashed", (12, -3)),
    "centre": ("centre line", "long dash, dot", (24, -3, 0.5, -3)),
    "phantom": ("adjacent part", "long dash, two dots", (24, -3, 0.5, -3, 0.5, -3)),
}
"""Kinds of line that are not continuous: name, description, dashes and gaps in widths of the line (ISO 128)."""
TEXT_STYLE, DIMENSION_STYLE = "shop text", "shop dimension"


class Pen:
    """Writes one drawing: `model` is how many drawing units a mm of the die is, `paper` a mm on paper."""

    def __init__(self, sheet: Sheet, scale: float, system: str) -> None:
        """Start an empty document with layers, kinds of line and styles."""
        self.sheet = sheet
        self.scale = scale
        self.system = system
        self.model = 1.0 if system == "metric" else 1.0 / 25.4
        self.paper = self.model / scale
        self.document: Drawing = new_document("R2010", setup=False)
        self.document.units = dxf_units.MM if system == "metric" else dxf_units.IN
        self.document.header["$MEASUREMENT"] = 1 if system == "metric" else 0
        self.document.header["$LTSCALE"] = self.paper
        self.document.header["$LUNITS"] = 2
        self.space: Modelspace = self.document.modelspace()
        self._set_up()

    def width(self, kind: Kind | None, layer: str = "") -> int:
        """Return a line width in the hundredths of a mm that DXF wants."""
        thick = kind == "edge" or (kind is None and dict(LAYERS)[layer] == "thick")
        return self.sheet.thick if thick else self.sheet.thin

    def _set_up(self) -> None:
        for layer, _ in LAYERS:
            self.document.layers.add(layer, color=7, lineweight=self.width(None, layer))
        for name, description, pattern in LINE_TYPES.values():
            dashes = [part * self.sheet.thin / 100 for part in pattern]
            total = sum(abs(dash) for dash in dashes)
            self.document.linetypes.add(name, [total, *dashes], description=description)
        self.document.styles.add(TEXT_STYLE, font=FONT).dxf.width = SLIM
        style = self.document.dimstyles.new(DIMENSION_STYLE)
        h = self.sheet.text
        for name, value in {
            "dimtxt": h,
            "dimasz": 0.9 * h,
            "dimexe": 0.5 * h,
            "dimexo": 0.3 * h,
            "dimgap": 0.25 * h,
            "dimscale": self.paper,
            "dimtad": 1,
            "dimtih": 0,
            "dimtoh": 0,
            "dimtmove": 2,
            "dimdec": 2 if self.system == "metric" else 3,
            "dimzin": 8,
            "dimdsep": ord("."),
            "dimtxsty": TEXT_STYLE,
            "dimlfac": 1.0,
            "dimlwd": self.width("thin"),
            "dimlwe": self.width("thin"),
        }.items():
            style.set_dxf_attrib(name, value)

    def text(
        self,
        target: BlockLayout | Modelspace,
        text: str,
        place: Point,
        height: float,
        layer: str = "texts",
        align: TextEntityAlignment = TextEntityAlignment.LEFT,
    ) -> None:
        """Write a text; place and height in the units of the target."""
        entity = target.add_text(
            text, height=height, dxfattribs={"layer": layer, "style": TEXT_STYLE, "width": SLIM}
        )
        entity.set_placement(place, align=align)

    def view(self, placed: Placed) -> None:
        """Draw a view at its place."""
        view = placed.view
        origin = (placed.x * self.paper, placed.y * self.paper)
        block = self.document.blocks.new(view.block)
        if view.drawn:
            for shape in view.shapes:
                self._shape(block, shape)
        else:
            self._note(block, placed)
        self.space.add_blockref(view.block, origin, dxfattribs={"layer": "0"})
        for dimension, span in zip(view.dimensions, placed.spots):
            self._dimension(placed, dimension, span)
        self._labels(placed)
        for line in placed.titles:
            place = ((placed.x + line.x) * self.paper, (placed.y + line.y) * self.paper)
            align = TextEntityAlignment.CENTER if line.centred else TextEntityAlignment.LEFT
            self.text(self.space, line.text, place, line.height * self.paper, "texts", align)

    def _note(self, block: BlockLayout, placed: Placed) -> None:
        """Draw what stands in the place of a view that cannot be drawn: a box that says why."""
        left, bottom, right, top = (edge * self.paper for edge in placed.box)
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        block.add_lwpolyline(corners, close=True, dxfattribs={"layer": "not given", "linetype": "hidden edge"})
        lines = ["not given:", *placed.view.lacking]
        if len(lines) > 4:
            lines[3:] = [f"and {len(lines) - 3} more"]
        h = 0.85 * placed.text * self.paper
        for number, line in enumerate(lines):
            y = top - (1.8 + 1.6 * number) * h
            self.text(block, line, (left + h, y), h, "not given")

    def _attributes(self, layer: str, kind: Kind) -> dict[str, object]:
        line_type = LINE_TYPES[kind][0] if kind in LINE_TYPES else "CONTINUOUS"
        return {"layer": layer, "linetype": line_type, "lineweight": self.width(kind)}

    def _shape(self, block: BlockLayout, shape: Shape) -> None:
        k = self.model
        if isinstance(shape, Line):
            points = [(x * k, y * k) for x, y in shape.points]
            attributes = self._attributes(shape.layer, shape.kind)
            if len(points) == 2:
                block.add_line(points[0], points[1], dxfattribs=attributes)
            else:
                block.add_lwpolyline(points, close=shape.closed, dxfattribs=attributes)
        elif isinstance(shape, Circle):
            self._circle(block, shape)
        elif isinstance(shape, Component):
            if shape.block not in self.document.blocks:
                inner = self.document.blocks.new(shape.block)
                for part in shape.shapes:
                    self._shape(inner, part)
            block.add_blockref(shape.block, (shape.x * k, shape.y * k), dxfattribs={"layer": "0"})
        elif isinstance(shape, Hatching):
            self._hatching(block, shape)
        else:
            self._arrow(block, shape)

    def _circle(self, block: BlockLayout, shape: Circle) -> None:
        k = self.model
        attributes = self._attributes(shape.layer, shape.kind)
        middle, radius = (shape.x * k, shape.y * k), shape.radius * k
        if shape.start is None or shape.end is None:
            block.add_circle(middle, radius, dxfattribs=attributes)
        else:
            block.add_arc(middle, radius, shape.start, shape.end, dxfattribs=attributes)

    def _hatching(self, block: BlockLayout, shape: Hatching) -> None:
        spacing = 0.7 * self.sheet.text * self.paper
        step = {45.0: (-0.7071, 0.7071), 135.0: (-0.7071, -0.7071)}[shape.angle]
        hatch = block.add_hatch(dxfattribs={"layer": "hatching", "lineweight": self.width("thin")})
        lines = [[shape.angle, (0.0, 0.0), (step[0] * spacing, step[1] * spacing), []]]
        hatch.set_pattern_fill("CUT FACE", definition=lines)
        hatch.paths.add_polyline_path([(x * self.model, y * self.model) for x, y in shape.points], is_closed=True)

    def _arrow(self, block: BlockLayout, shape: Arrow) -> None:
        """Draw the arrow of the feed: a shaft with a filled head, sized for paper."""
        h = self.sheet.text * self.paper
        x, y = shape.x * self.model, shape.y * self.model
        dx, dy = shape.dx * h, shape.dy * h
        attributes = {"layer": "strip", "lineweight": self.width("thin")}
        block.add_line((x - 2 * dx, y - 2 * dy), (x, y), dxfattribs=attributes)
        wide = 0.35
        block.add_solid(
            [(x - wide * dy, y + wide * dx), (x + wide * dy, y - wide * dx), (x + 1.2 * dx, y + 1.2 * dy)],
            dxfattribs=attributes,
        )

    def _dimension(self, placed: Placed, dimension: Dimension, span: tuple[float, float]) -> None:
        first, second = (
            ((placed.x + x * placed.scale) * self.paper, (placed.y + y * placed.scale) * self.paper)
            for x, y in (dimension.first, dimension.second)
        )
        left, bottom, right, top = placed.box
        edge = {"left": left, "right": right, "bottom": bottom, "top": top}[dimension.side]
        outward = -1.0 if dimension.side in ("left", "bottom") else 1.0
        line = edge + outward * placed.offset(dimension.level)
        base = ((placed.x + line) * self.paper, (placed.y + line) * self.paper)
        override = {"dimpost": f"{dimension.prefix}<>"} if dimension.prefix else {}
        written = self.space.add_linear_dim(
            base,
            first,
            second,
            location=self._text_place(placed, dimension, span, base),
            angle=90.0 if dimension.upright else 0.0,
            dimstyle=DIMENSION_STYLE,
            override=override,
            dxfattribs={"layer": "dimensions", "lineweight": self.width("thin")},
        )
        written.render()

    def _text_place(self, placed: Placed, dimension: Dimension, span: tuple[float, float], base: Point) -> Point:
        """Return the middle of a dimension's text; draw on the line under it where it stands beyond an end."""
        axis = 1 if dimension.upright else 0
        origin, across = (placed.x, placed.y)[axis], base[1 - axis]
        low, high = placed.ends(dimension)
        under = None
        if span[0] > high:
            under = high, span[1] + 0.2 * placed.text
        elif span[1] < low:
            under = span[0] - 0.2 * placed.text, low
        if under is not None:
            start, end = ((origin + place) * self.paper for place in under)
            ends = [(across, start), (across, end)] if dimension.upright else [(start, across), (end, across)]
            self.space.add_line(
                ends[0], ends[1], dxfattribs={"layer": "dimensions", "lineweight": self.width("thin")}
            )
        middle = (origin + (span[0] + span[1]) / 2) * self.paper
        above = 0.75 * placed.text * self.paper
        return (across - above, middle) if dimension.upright else (middle, across + above)

    def _labels(self, placed: Placed) -> None:
        h = placed.text
        attributes = {"layer": "texts", "lineweight": self.width("thin")}
        for text in placed.texts:
            layer = "not given" if "not given" in text.label.text else "texts"
            x, y = placed.x + text.x, placed.y + text.y
            self.text(self.space, text.label.text, (x * self.paper, y * self.paper), h * self.paper, layer)
            if text.label.at is None:
                continue
            u, v = (placed.x + text.label.at[0] * placed.scale, placed.y + text.label.at[1] * placed.scale)
            way = [(u, v), (x - 1.4 * h, y + 0.5 * h), (x - 0.4 * h, y + 0.5 * h)]
            self.space.add_lwpolyline([(a * self.paper, b * self.paper) for a, b in way], dxfattribs=attributes)
            dot = 0.15 * h * self.paper
            self.space.add_circle((u * self.paper, v * self.paper), dot, dxfattribs=attributes)


def frame_lines(block: BlockLayout, lines: Sequence[tuple[Point, Point]], layer: str, width: int) -> None:
    """Draw lines of the sheet."""
    for start, end in lines:
        block.add_line(start, end, dxfattribs={"layer": layer, "lineweight": width})
