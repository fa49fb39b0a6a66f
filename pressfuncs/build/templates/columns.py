"""Columns of a worksheet table: heading with its unit, formula, format, width; and formulas in short form.

In the short form `[@Bore]` is the cell of this row and `Presses[Bore]` a whole column, by name without unit;
`expanded` writes both the way a workbook file stores them, with the heading that carries the unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from pressfuncs.build.templates.systems import number_format, with_units
from pressfuncs.quantities import SYSTEMS, Kind

INPUT, LOOKED_UP, COMPUTED = "input", "looked up", "computed"

_THIS_ROW = re.compile(r"\[@([^\]]+)\]")
_COLUMN = re.compile(r"\b([A-Z]\w*)\[([^\[\]@#]+)\]")


@dataclass(frozen=True)
class Column:
    """One column of a table; without a formula it is an input.

    `kind` gives the unit in the heading, `unit` says it in words where a kind has none. `field` is the column
    of the data file that fills an input. `choices` is the list a cell is chosen from: words, or a range.
    With `between`, a number must be from the first to the second, or greater than the first if the second is None.
    """

    name: str
    group: str
    width: float
    number_format: str = "General"
    kind: Kind | None = None
    unit: str = ""
    formula: str = ""
    looked_up: bool = False
    field: str = ""
    choices: str = ""
    between: tuple[float, float | None] | None = None
    whole: bool = False
    note: str = ""
    wrapped: bool = False
    system: str = SYSTEMS[0]

    @property
    def heading(self) -> str:
        """The name with its unit, as the heading has it."""
        unit = self.unit or (self.kind.unit(self.system) if self.kind else "")
        return f"{self.name}, {unit}" if unit else self.name

    @property
    def marker(self) -> str:
        """The word over the heading that says whose the column is."""
        if not self.formula:
            return INPUT
        return LOOKED_UP if self.looked_up else COMPUTED


def in_system(columns: Sequence[Column], system: str) -> list[Column]:
    """Return metric columns as those of another variant: headings, formats and formulas."""
    return [
        replace(
            column,
            system=system,
            number_format=number_format(column.kind, column.number_format, system),
            formula=with_units("=" + column.formula, system)[1:] if column.formula else "",
        )
        for column in columns
    ]


def unless_blank(cells: Sequence[str], formula: str, otherwise: str = '""') -> str:
    """Return a formula that stays blank where one of the cells is: what is not known is not worked out.

    >>> unless_blank(["A1", "B1"], "A1*B1")
    'IF(OR(A1="",B1=""),"",A1*B1)'
    """
    tests = ",".join(f'{cell}=""' for cell in cells)
    return f"IF({tests if len(cells) == 1 else f'OR({tests})'},{otherwise},{formula})"


Tables = Mapping[str, Sequence[Column]]


def expanded(formula: str, table: str, tables: Tables) -> str:
    """Write a formula of the short form with full headings; KeyError for a column that no table has.

    >>> from pressfuncs.quantities import LENGTH
    >>> presses = [Column("Bore", "", 8, kind=LENGTH)]
    >>> expanded("[@Bore]*SUM(Presses[Bore])", "Presses", {"Presses": presses})
    'Presses[[#This Row],[Bore, mm]]*SUM(Presses[[Bore, mm]])'
    """
    headings = {name: {column.name: column.heading for column in columns} for name, columns in tables.items()}
    # Whole columns first: this-row references contain brackets of their own once they are expanded.
    full = _COLUMN.sub(lambda found: f"{found[1]}[[{headings[found[1]][found[2]]}]]", formula)
    return _THIS_ROW.sub(lambda found: f"{table}[[#This Row],[{headings[table][found[1]]}]]", full)
