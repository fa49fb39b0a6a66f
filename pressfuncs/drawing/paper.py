"""Sheets (ISO 5457), scales (ISO 5455), line widths and text heights: all in mm on paper."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from ezdxf.fonts import fonts

SCALES = (10.0, 5.0, 2.0, 1.0, 1 / 2, 1 / 5, 1 / 10, 1 / 20, 1 / 50, 1 / 100)
"""The series of ISO 5455, largest first."""
FONT = "DejaVuSans.ttf"
SLIM = 0.85
"""width factor of all text"""
BINDING, BORDER = 20.0, 10.0
"""mm from the edge of the sheet to the frame: at the left, and elsewhere"""


@dataclass(frozen=True)
class Sheet:
    """A size of paper with what suits it: text stays readable when an A3 sheet is printed on A4."""

    name: str
    width: float
    height: float
    text: float
    """height of dimensions, labels and titles"""
    thick: int
    """width of thick lines in hundredths of a mm, as DXF keeps it"""
    thin: int
    """width of thin lines: about half of it, as ISO 128 wants"""
    small: float
    """height of the words in the title block and the notes"""
    row: float
    """height of a row of the title block"""

    @property
    def portrait(self) -> bool:
        """Say whether it stands upright."""
        return self.height > self.width

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """Return left, bottom, right and top of the frame."""
        return BINDING, BORDER, self.width - BORDER, self.height - BORDER


A4 = Sheet("A4", 297.0, 210.0, 2.5, 35, 18, 2.0, 7.5)
A4_UPRIGHT = Sheet("A4", 210.0, 297.0, 2.5, 35, 18, 2.0, 7.5)
A3 = Sheet("A3", 420.0, 297.0, 3.5, 50, 25, 2.5, 9.0)


def scale_text(scale: float) -> str:
    """Write a scale.

    >>> scale_text(0.2), scale_text(2.0)
    ('1:5', '2:1')
    """
    return f"{scale:.0f}:1" if scale >= 1 else f"1:{1 / scale:.0f}"


@cache
def _font() -> fonts.AbstractFont:
    if not fonts.font_manager.has_font(FONT):
        import matplotlib  # carries this font everywhere

        fonts.font_manager.build([str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")])
    return fonts.make_font(FONT, 1.0, SLIM)


@cache
def text_width(text: str, height: float) -> float:
    """Return how wide a text is on paper."""
    return _font().text_width(text) * height


def wrapped(text: str, height: float, width: float) -> list[str]:
    """Break a text into lines that are no wider than `width`."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if text_width(longer, height) <= width or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
