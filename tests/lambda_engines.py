"""Two engines that know LAMBDA names, to evaluate a workbook that holds them: ironcalc and formulon."""

from __future__ import annotations

import functools
import io
import re
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import formulon
import ironcalc
from openpyxl import Workbook
from openpyxl.workbook.defined_name import DefinedName

from pressfuncs.build import lambda_names
from pressfuncs.errors import ERROR_CODES, CellError


class Sheet:
    """A workbook in the making: `place` puts values into cells and says where, `ask` adds a formula."""

    def __init__(self) -> None:
        """Start with the names and no cell."""
        self.book = Workbook()
        self.values = self.book.active
        self.values.title = "Sheet"
        self.answers = self.book.create_sheet("Answers")
        self._used = self._row = 0

    def place(self, value: Any) -> str:
        """Put a value or rows of values into cells and return their address."""
        rows = value if isinstance(value, list) else [[value]]
        top = self._used + 1
        self._used += len(rows)
        for i, row in enumerate(rows, start=top):
            for j, cell in enumerate(row, start=1):
                at = self.values.cell(i, j)
                if isinstance(cell, CellError):
                    at.value, at.data_type = cell.code, "e"
                else:
                    at.value = cell
        first, last = f"A{top}", self.values.cell(self._used, len(rows[0])).coordinate
        return f"Sheet!{first}" if first == last else f"Sheet!{first}:{last}"

    def ask(self, formula: str) -> int:
        """Add a formula and return its row."""
        self._row += 1
        self.answers.cell(self._row, 1).value = f"={formula}"
        return self._row

    def call(self, name: str, arguments: list[Any]) -> int:
        """Add the call of a function on values in cells; arguments left out at the end are left out."""
        while arguments and arguments[-1] is None:
            arguments = arguments[:-1]
        return self.ask(f"{name}({','.join('' if a is None else self.place(a) for a in arguments)})")

    def saved(self, names: dict[str, str]) -> bytes:
        """Return the workbook as a file."""
        for name, formula in names.items():
            self.book.defined_names[name] = DefinedName(name, attr_text=formula)
        stream = io.BytesIO()
        self.book.save(stream)
        return stream.getvalue()

    def by_ironcalc(self) -> list[Any]:
        """Return every answer by ironcalc, which reads the names as they stand in the file."""
        names = {name: made.in_file for name, made in lambda_names.names().items()}
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "book.xlsx"
            path.write_bytes(self.saved(names))
            model = ironcalc.load_from_xlsx(str(path), "en", "UTC")
        model.evaluate()
        found = [model.get_cell_value(1, row, 1) for row in range(1, self._row + 1)]
        return [CellError(value) if value in ERROR_CODES else value for value in found]

    def by_formulon(self) -> list[Any]:
        """Return every answer by formulon, which knows an optional parameter by its brackets only."""
        with formulon.Workbook.load(self.saved(formulon_names())) as book:
            book.recalc()
            found = [book.get_value(1, row, 0) for row in range(self._row)]
        return [
            CellError(formulon.error_display_name(value.error_code))
            if value.kind.name == "ERROR"
            else value.to_python()
            for value in found
        ]


@functools.cache
def formulon_names() -> dict[str, str]:
    """Return the names with the mark of optional parameters written as brackets."""
    return {name: in_brackets(made.in_file) for name, made in lambda_names.names().items()}


def in_brackets(text: str) -> str:
    """Return formulas with the mark of optional parameters written as brackets."""
    return re.sub(r"_xlop\.(\w+)", r"[_xlpm.\1]", text)


def for_formulon(path: Path) -> bytes:
    """Return a workbook file with the names as formulon reads them."""
    stream = io.BytesIO()
    with zipfile.ZipFile(path) as book, zipfile.ZipFile(stream, "w") as copy:
        for name in book.namelist():
            data = book.read(name)
            copy.writestr(name, in_brackets(data.decode()) if name == "xl/workbook.xml" else data)
    return stream.getvalue()
