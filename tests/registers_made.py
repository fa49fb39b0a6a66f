"""Registers made for tests: rows of a complete die and a complete press that fit, and ways to write them."""

from __future__ import annotations

import csv
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl

from pressfuncs.batch.assignment import fields
from pressfuncs.batch.assignment.registers import Register, read_register
from pressfuncs.quantities import TEXT, Kind

DIE: dict[str, Any] = {
    "id": "D1",
    "thickness": 2.0,
    "cut_length": 300.0,
    "shear_strength": 300.0,
    "edge_allowance": 0.0,
    "reverse_share": 0.05,
    "stripping_share": 0.1,
    "ejection_force": 0.0,
    "forming_force": 0.0,
    "pad_force": 0.0,
    "working_height": 3.0,
    "die_height": 250.0,
    "die_length": 400.0,
    "die_width": 300.0,
    "load_centre": 10.0,
    "part_height": 5.0,
    "lift": 3.0,
    "punch_entry": 1.0,
    "stroke_needed": 40.0,
    "mass": 120.0,
    "upper_mass": 50.0,
    "shank_diameter": 40.0,
    "stroke_rate": 60.0,
    "parts_per_stroke": 2.0,
    "efficiency": 0.8,
    "quantity": 5000.0,
    "kind_wanted": "mechanical",
}
"""A die by field, in metric units; it takes 198 kN at 3 mm and 360 J + 54 J."""

PRESS: dict[str, Any] = {
    "id": "P1",
    "press_kind": "gap frame",
    "drive": "crank, top drive",
    "load_limit": 0.8,
    "rated_force": 400.0,
    "rated_height": 4.0,
    "stroke": 80.0,
    "rod": 350.0,
    "energy": 2000.0,
    "shut_height": 340.0,
    "adjustment": 60.0,
    "bolster": 70.0,
    "most_spacer": 40.0,
    "bed_length": 700.0,
    "bed_width": 450.0,
    "clamping_length": 0.0,
    "clamping_width": 0.0,
    "slide_length": 450.0,
    "slide_width": 350.0,
    "overhang": 10.0,
    "shank_bore": 40.0,
    "allowed_moment": 9000.0,
    "snap_through": 40.0,
    "rate_low": 40.0,
    "rate_high": 120.0,
    "mass_limit": 500.0,
    "upper_mass_limit": 150.0,
    "hourly_rate": 40.0,
    "setup": 0.5,
}
"""A press on which that die passes every check."""

HYDRAULIC: dict[str, Any] = {
    name: value
    for name, value in PRESS.items()
    if name not in ("rated_force", "rated_height", "rod", "energy", "drive")
} | {
    "id": "H1",
    "press_kind": "hydraulic",
    "bore": 160.0,
    "pressure": 250.0,
    "cylinders": 1.0,
    "press_efficiency": 0.9,
}


def kind_of(register: str, name: str) -> Kind:
    """Return the kind of a field."""
    return fields.fields(register)[name].kind


def heading(register: str, name: str, system: str = "metric") -> str:
    """Return a heading of a field, with its unit."""
    unit = kind_of(register, name).unit(system)
    known = fields.known_headings(register)[name]
    text = known[0] if name in fields.ambiguous_headings(register) else name.replace("_", " ")
    return f"{text} [{unit}]" if unit else text


def in_system(register: str, name: str, value: Any, system: str) -> Any:
    """Return a metric figure in another system's unit."""
    kind = kind_of(register, name)
    if value is None or kind is TEXT or isinstance(value, str):
        return value
    return value * kind.factor("metric") / kind.factor(system)


def table(register: str, rows: Sequence[Mapping[str, Any]], system: str = "metric") -> list[list[Any]]:
    """Return the rows of a register with its headings on top; figures are given in metric units."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    body = [[in_system(register, name, row.get(name), system) for name in names] for row in rows]
    return [[heading(register, name, system) for name in names], *body]


def write_csv(path: Path, cells: Sequence[Sequence[Any]], delimiter: str = ",", encoding: str = "utf-8") -> Path:
    """Write a CSV file; None is a blank."""
    with path.open("w", newline="", encoding=encoding) as file:
        csv.writer(file, delimiter=delimiter).writerows(
            [
                ["" if cell is None else repr(cell) if isinstance(cell, float) else cell for cell in r]
                for r in cells
            ]
        )
    return path


def write_xlsx(path: Path, cells: Sequence[Sequence[Any]], sheet: str = "Register", above: int = 0) -> Path:
    """Write a workbook of one sheet."""
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = sheet
    for _ in range(above):
        page.append(["Press shop, hall A"])
    for row in cells:
        page.append(list(row))
    book.save(path)
    return path


def register(path: Path, kind: str, rows: Sequence[Mapping[str, Any]], system: str = "metric") -> Register:
    """Write rows into a CSV file and read them."""
    return read_register(write_csv(path, table(kind, rows, system)), kind)


def quick(kind: str, rows: Sequence[Mapping[str, Any]], unread: Collection[str] = ()) -> Register:
    """Return a register of rows in metric units without a file in between; `unread` are fields not read."""
    names = dict.fromkeys(name for row in rows for name in row)
    numbers, texts, series = {}, {}, {}
    for name in names:
        quantity = kind_of(kind, name)
        values = [row.get(name) for row in rows]
        if fields.fields(kind)[name].series:
            factor = quantity.factor("metric")
            series[name] = [tuple(figure * factor for figure in value or ()) for value in values]
        elif quantity is TEXT:
            texts[name] = [str(value or "") for value in values]
        else:
            factor = quantity.factor("metric")
            numbers[name] = np.array(
                [np.nan if value is None else value * factor for value in values], dtype=float
            )
    ids = texts.get("id") or [f"{kind}{i}" for i in range(len(rows))]
    masks = {name: np.ones(len(rows), bool) for name in unread}
    rows_of = list(range(2, len(rows) + 2))
    return Register(kind, "made", ids, rows_of, numbers, texts, series, masks, headings={n: n for n in names})
