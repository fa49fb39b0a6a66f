"""Kinds of workbooks that recalculation must keep: how each is made, and what must be found in it afterwards."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from books import F, Made, Part, force, make

from pressfuncs.batch.recalc import Options

TYPES = "application/vnd.openxmlformats-officedocument"
SPREAD = f"{TYPES}.spreadsheetml"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MORE = "http://schemas.microsoft.com/office"
SHEET = "xl/worksheets/sheet1.xml"
X14 = f'xmlns:x14="{MORE}/spreadsheetml/2009/9/main"'
XM = f'xmlns:xm="{MORE}/excel/2006/main"'

BY_HAND = "part by part"

Maker = Callable[[Path], Path]


@dataclass(frozen=True)
class Kind:
    """A kind of workbook."""

    name: str
    how: str
    """what wrote it"""
    make: Maker
    """writes it at a path, and returns where it is"""
    holds: tuple[str, ...]
    """parts without which it would not be of this kind"""
    values: Mapping[str, Any]
    """what cells store afterwards, by "Sheet!A1" """
    suffix: str = ".xlsx"
    options: Options = field(default_factory=lambda: Options(second_engine=False))
    also: str = ""
    """what besides types and values of cells may differ in a sheet, as the page puts it"""
    undone: Callable[[bytes], bytes] = lambda part: part
    """takes what `also` names out of a sheet part"""
    openpyxl: bool = True
    """whether openpyxl can read it"""
    office: bool = False
    """whether LibreOffice is asked too"""
    refused: str = ""
    """how the refusal reads, of a kind that is not taken"""


KINDS: dict[str, Kind] = {}

CELLS = {"A1": 100.0, "B1": 2.0, "C1": 310.0, "D1": F("PF_SHEARING_FORCE(A1,B1,C1)", 1.0), "E1": F("D1*2", 2.0)}
"""The cells of a sheet whose two results are out of date."""

FRESH = {"Dies!D1": force(100, 2, 310), "Dies!E1": 2 * force(100, 2, 310)}
"""What they store when they are not."""


def kind(
    name: str, *holds: str, how: str = BY_HAND, values: Mapping[str, Any] = FRESH, **more: Any
) -> Callable[[Maker], Maker]:
    """Enter the function that makes a workbook of a kind among the kinds."""

    def enter(maker: Maker) -> Maker:
        assert name not in KINDS, name
        KINDS[name] = Kind(name, how, maker, holds, values, **more)
        return maker

    return enter


def register(path: Path, *parts: Part, cells: Mapping[str, Any] | None = None, **made: Any) -> Path:
    """Write a workbook of one sheet, Dies, with further parts."""
    return make(path, {"Dies": {**CELLS, **(cells or {})}}, Made(parts=parts, **made))


def ext(uri: str, content: str) -> str:
    """Return an extension: what older applications pass over."""
    return f'<ext uri="{{{uri}}}">{content}</ext>'


def listed(count: Sequence[str], name: str) -> str:
    """Return a list element with its count and its items."""
    return f'<{name} count="{len(count)}">{"".join(count)}</{name}>'
