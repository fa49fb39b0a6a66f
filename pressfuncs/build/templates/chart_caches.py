"""Stored results inside charts, so that a viewer that computes nothing draws them too."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any
from xml.sax.saxutils import escape

import openpyxl
from openpyxl.utils.cell import range_boundaries

CHART = re.compile(r"xl/charts/chart\d+\.xml")
_REFERENCE = re.compile(r"<(num|str)Ref><f>([^<]+)</f></\1Ref>")


def fill_chart(xml: str, values: dict[str, Any]) -> str:
    """Return the text of a chart part with the values of the cells that it refers to.

    Arguments:
        xml: the chart part, without stored values
        values: sheet name -> sheet with stored results
    """
    return _REFERENCE.sub(lambda found: _stored(found[1], found[2], values), xml)


def sheets_with_results(workbook: bytes) -> dict[str, Any]:
    """Return the sheets of a workbook file by name, with results in place of formulas."""
    book = openpyxl.load_workbook(io.BytesIO(workbook), data_only=True)
    return {sheet.title: sheet for sheet in book.worksheets}


def _stored(kind: str, reference: str, values: dict[str, Any]) -> str:
    cells = list(_cells(reference.replace("&apos;", "'"), values))
    points = "".join(
        f'<pt idx="{number}"><v>{escape(_text(value))}</v></pt>'
        for number, value in enumerate(cells)
        if _belongs(kind, value)
    )
    form = "<formatCode>General</formatCode>" if kind == "num" else ""
    cache = f'<{kind}Cache>{form}<ptCount val="{len(cells)}"></ptCount>{points}</{kind}Cache>'
    return f"<{kind}Ref><f>{reference}</f>{cache}</{kind}Ref>"


def _belongs(kind: str, value: Any) -> bool:
    """Whether a value may be stored: of numbers, only numbers, or the app takes the file for damaged."""
    return isinstance(value, (int, float)) if kind == "num" else value is not None


def _cells(reference: str, values: dict[str, Any]) -> Iterator[Any]:
    name, _, area = reference.rpartition("!")
    first_column, first_row, last_column, last_row = range_boundaries(area.replace("$", ""))
    for row in values[name.strip("'")].iter_rows(first_row, last_row, first_column, last_column):
        yield from (cell.value for cell in row)


def _text(value: Any) -> str:
    return repr(value) if isinstance(value, float) else str(value)
