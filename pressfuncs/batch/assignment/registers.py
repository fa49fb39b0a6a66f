"""Reading a register: a sheet, a table or a CSV file becomes one column table in core units."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pressfuncs.batch.assignment.fields import read_heading
from pressfuncs.batch.assignment.heads import find_head
from pressfuncs.batch.assignment.reading import Reader
from pressfuncs.batch.assignment.register import UNREAD, Floats, Register, Trouble, noun
from pressfuncs.batch.assignment.rows import field_range, out_of_range
from pressfuncs.batch.assignment.sources import read_grids
from pressfuncs.batch.refusals import Refused

__all__ = [
    "UNREAD",
    "Floats",
    "Register",
    "Trouble",
    "field_range",
    "noun",
    "out_of_range",
    "read_register",
]


def read_register(
    path: Path,
    kind: str,
    sheet: str | None = None,
    system: str = "metric",
    own: Mapping[str, str] | None = None,
    decimal: str | None = None,
) -> Register:
    """Read a register.

    Arguments:
        path: .xlsx, .xlsm, .ods or .csv
        kind: "die" or "press"
        sheet: name of a sheet or table; else the one with the most headings that are known
        system: units of bare numbers under headings without a unit
        own: further headings (see `fields.read_own_headings`)
        decimal: "comma" or "point", if the file does not show how its decimals are written

    Raises:
        Refused: the file cannot be read, or holds no register of this kind.
    """
    grids = read_grids(path)
    if sheet is not None:
        grids = [grid for grid in grids if grid.name.casefold() == sheet.casefold()]
        if not grids:
            raise Refused(f'holds no sheet or table "{sheet}"', path)
    found = find_head(grids, kind, lambda text: read_heading(text, kind, system, own or {}))
    if found is None:
        what = noun(kind)
        raise Refused(f'holds no {what} register: no row of headings with "{what}" and at least one figure', path)
    grid, head = found
    register = Register(kind, f"{path.name}: {grid.name}" if grid.name else path.name, system=system)
    return Reader(register, grid, head, decimal).read()
