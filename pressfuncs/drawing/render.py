"""Drawings become files: DXF as it is, SVG, PDF and PNG as pictures of the DXF; always whole or not there."""

from __future__ import annotations

import io
import os
import random
from pathlib import Path

from ezdxf.addons.drawing.config import BackgroundPolicy, ColorPolicy, Configuration, LineweightPolicy
from ezdxf.addons.drawing.frontend import Frontend
from ezdxf.addons.drawing.properties import RenderContext

from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.saving import replace_file
from pressfuncs.drawing.canvas import Canvas, Fill, Stroke, pdf, png, svg
from pressfuncs.drawing.sheets import Drawn

FORMATS = (".dxf", ".svg", ".pdf", ".png")
DOTS_PER_INCH = 200
_CONFIGURATION = Configuration(
    background_policy=BackgroundPolicy.WHITE,
    color_policy=ColorPolicy.BLACK,
    lineweight_policy=LineweightPolicy.ABSOLUTE,
    max_flattening_distance=0.02,
)


def rendered(drawn: Drawn, suffix: str) -> bytes:
    """Return a drawing as the contents of a file.

    Arguments:
        drawn: the drawing
        suffix: one of FORMATS
    """
    if suffix == ".dxf":
        return _dxf(drawn)
    marks, sheet = marks_of(drawn), drawn.sheet
    if suffix in (".svg", ".pdf"):
        return (svg if suffix == ".svg" else pdf)(marks, sheet.width, sheet.height)
    return png(marks, sheet.width, sheet.height, DOTS_PER_INCH)


def write(drawn: Drawn, path: Path) -> None:
    """Write a drawing in the format that the name of the file says.

    Raises:
        Refused: another format is wanted, or the file cannot be written.
    """
    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        raise Refused(f"has no format that can be drawn; choose from {', '.join(FORMATS)}", path)
    save(path, rendered(drawn, suffix))


def save(path: Path, data: bytes) -> None:
    """Write a file through a temporary one beside it."""
    target = Path(os.path.realpath(path))
    replace_file(target, iter((data,)), os.stat(target if target.exists() else __file__))


def _dxf(drawn: Drawn) -> bytes:
    auditor = drawn.document.audit()
    if auditor.has_errors:
        raise AssertionError(f"drawing of die {drawn.die}: {auditor.errors[0].message}")
    text = io.StringIO()
    drawn.document.write(text)
    return text.getvalue().encode(drawn.document.output_encoding, "dxfreplace")


def _model_size(drawn: Drawn) -> tuple[float, float]:
    """Return the size of the sheet in units of the drawing."""
    unit = (1.0 if drawn.system == "metric" else 1.0 / 25.4) / drawn.scale
    return drawn.sheet.width * unit, drawn.sheet.height * unit


def marks_of(drawn: Drawn) -> list[Stroke | Fill]:
    """Return a drawing as marks in mm on paper."""
    canvas = Canvas(drawn.sheet.width / _model_size(drawn)[0])
    frontend = Frontend(RenderContext(drawn.document), canvas, config=_CONFIGURATION)
    state = random.getstate()
    random.seed(0)  # ezdxf shifts hatching by a random hair; the same drawing shall give the same file
    try:
        frontend.draw_layout(drawn.document.modelspace())
    finally:
        random.setstate(state)
    return canvas.marks
