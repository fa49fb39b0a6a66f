"""Seconds that LibreOffice Calc takes for 10 000 of our functions, beside a Basic function of the same content.

Run it from the folder of the tests: `python benchmarks/calc_speed.py`. It starts its own office, in a folder
that goes away again.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from openpyxl import Workbook

sys.path.insert(0, str(Path(__file__).parent.parent))

from calc_office import Office, running_office

ROWS = 10_000
ROUNDS = 3

BASIC = """
Function BASIC_FORCE(cut_length, thickness, shear_strength)
    If cut_length <= 0 Or thickness <= 0 Or shear_strength <= 0 Then
        BASIC_FORCE = "refused"
    Else
        BASIC_FORCE = cut_length * thickness * shear_strength / 1000
    End If
End Function
"""

CASES = {
    "ordinary formula": "=A{row}*B{row}*C{row}/1000",
    "PF function": "=PF_SHEARING_FORCE(A{row},B{row},C{row})",
    "PF function, text with a unit": '=PF_SHEARING_FORCE(A{row},"3.2 mm",C{row})',
    "PF function, refused": "=PF_SHEARING_FORCE(A{row},-1,C{row})",
    "PF function, blank cell with a default": "=PF_STRIPPING_FORCE(A{row},D{row})",
    "Basic function": "=BASIC_FORCE(A{row},B{row},C{row})",
}


def book_with(formula: str, path: Path) -> Path:
    """Write a workbook with a column of the formula."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Dies")
    for row in range(1, ROWS + 1):
        sheet.append([100 + row / 10, 3.2, 310, None, formula.format(row=row)])
    book.save(path)
    return path


def seconds(office: Office, formula: str, folder: Path) -> float:
    """Return the shortest of some recalculations of the whole column."""
    basic = "BASIC_" in formula
    number = office.do("open_book", str(book_with("=0" if basic else formula, folder / "book.xlsx")))
    if basic:
        office.do("set_basic", number, BASIC)
        column = [[formula.format(row=row).replace(",", ";")] for row in range(1, ROWS + 1)]
        office.do("fill_block", number, f"E1:E{ROWS}", column)
    times = [office.do("recalculate", number) for _ in range(ROUNDS)]
    office.do("close_book", number)
    return min(times)


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name, running_office(Path(name)) as office:
        print(f"| {ROWS} rows of | seconds | microseconds each |\n|---|---|---|")
        for title, formula in CASES.items():
            taken = seconds(office, formula, Path(name))
            print(f"| {title} | {taken:.3f} | {taken / ROWS * 1e6:.0f} |", flush=True)


if __name__ == "__main__":
    main()
