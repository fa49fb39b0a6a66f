"""Rows of example figures of the invented shop, from the data files beside this module."""

from __future__ import annotations

import csv
from pathlib import Path

from pressfuncs.build.templates.systems import METRIC

Row = dict[str, str | float | None]

_FOLDER = Path(__file__).parent
_TEXTS = (
    "die",
    "part",
    "operation",
    "material",
    "stripper",
    "press",
    "drive",
    "frame",
    "shear_contour",
    "kind_wanted",
    "basis",
)


def read_rows(name: str, system: str) -> list[Row]:
    """Return the rows of a data file, numbers as numbers and blanks as None; ids and names stay texts."""
    path = _FOLDER / (f"{name}.csv" if system == METRIC else f"{name}.{system}.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return [{field: _value(field, text) for field, text in row.items()} for row in csv.DictReader(file)]


def _value(field: str, text: str) -> str | float | None:
    if not text:
        return None
    if field in _TEXTS:
        return text
    return float(text) if "." in text else int(text)
