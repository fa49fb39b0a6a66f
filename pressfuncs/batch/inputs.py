"""Changing one input of a workbook, every other byte kept: the number in a cell that holds a plain number."""

from __future__ import annotations

import re
from pathlib import Path

from pressfuncs.batch.book_reading import read_book
from pressfuncs.batch.package import Package
from pressfuncs.batch.refusals import Refused
from pressfuncs.batch.stored import encoded


def set_number(path: Path, sheet: str, cell: str, value: float) -> None:
    """Put a number in the place of the number that a cell holds; results that depend on it become stale.

    Arguments:
        path: the workbook, changed in place
        sheet: name of the sheet
        cell: address of a cell that holds a number and no formula
        value: the new number

    Raises:
        Refused: there is no such sheet, or the cell does not hold a plain number; the file is untouched.
    """
    with Package.open(path) as package:
        found = read_book(package).sheet(sheet)
        if found is None:
            raise Refused(f'has no sheet "{sheet}"; look for its name', path)
        part = package.read(found.part)
        pattern = rb'(<c r="%s"(?: s="[0-9]+")?(?: t="n")?><v>)[^<]*(</v></c>)' % re.escape(cell.upper()).encode()
        kind, content = encoded(value)
        if kind or content is None:
            raise Refused(f"{sheet}!{cell}: {value} is not a number that a cell can hold", path)
        new, count = re.subn(pattern, lambda match: match[1] + content + match[2], part)
        if count != 1:
            raise Refused(f"{sheet}!{cell} does not hold a plain number; change it in a spreadsheet program", path)
        package.save(path, {found.part: new})
